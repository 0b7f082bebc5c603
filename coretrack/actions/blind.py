"""What keeps a second look blind: whoever may make it sees nothing of the first one until then.

One rule for all pages and scans: a core whose drawn second look is wanted is not opened anywhere
but at the second looks, and stands in no list. The first inspector and the owner see it as ever;
the owner, who sees every verdict, therefore makes no blind look.
"""

from __future__ import annotations

import re
from collections.abc import Iterable

from coretrack.actions.offers import MARK
from coretrack.actions.scanning import meaning_of
from coretrack.figures.scan_replies import ScanReply, Spot
from coretrack.figures.scans import read_scan
from coretrack.figures.tags import show_tag
from coretrack.records.database import connection
from coretrack.records.unseen import look_as, unseen

__all__ = ["hidden_in", "look_as", "not_yet", "unseen"]

READING_PAGES = ("bench", "study")
"""Where a text may be a reading: there only a tag names a core."""

_DIGITS = re.compile(r"\d(?:[\d -]*\d)?")
_SHORTEST_TAG = 8


def hidden_in(texts: Iterable[str]) -> str:
    """Return the first core named in these texts that whoever looks may not see, "" for none."""
    runs = [re.sub(r"\D", "", run) for text in texts for run in _DIGITS.findall(text)]
    named = [run for run in runs if len(run) >= _SHORTEST_TAG]
    if not named:
        return ""
    with connection():
        hidden = unseen()
    return next((tag for tag in sorted(hidden) if any(tag in run for run in named)), "")


def wanted_words(tag: str) -> str:
    """Return why a core is not shown."""
    return (
        f"A blind second look is wanted on core {show_tag(tag)}. Until it is made, nothing of the "
        "first one is shown."
    )


def not_yet(text: str, spot: Spot) -> ScanReply | None:
    """Return the answer to a scan of a core that whoever scans may not see yet, else None."""
    if spot.page == "second" or not unseen():
        return None
    tag = _named(text, spot)
    if not tag:
        return None
    return ScanReply("ask", "SECOND LOOK", wanted_words(tag), target="second", code=tag)


def _named(text: str, spot: Spot) -> str:
    if text.startswith(MARK):
        return hidden_in([text])
    found = read_scan(text).tag or ""
    if not found and not (spot.page in READING_PAGES and spot.code):
        found = meaning_of(text).tag or ""
    if found in unseen():
        return found
    return spot.code if spot.code in unseen() and not found else ""
