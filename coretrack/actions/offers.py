"""What a reply offers, as texts that mean one thing exactly and that no scanner sends by accident.

Such a text is `=verb:argument`. It counts only when the last reply to the same desk offered it;
from anywhere else it is refused.

verbs: number, unknown, serial, both (number and serial, as JSON), line, kind (core or comeback),
illegible, "no serial", "not serial" (what was taken for one is none), next (store, then take this
number), instead (put back, then take this number), drop (put back), keep, undo, judge, text (as if
it had been scanned), and to open a page core, open (a delivery), start (a delivery, by its paper),
about (a number) and lot.
"""

from __future__ import annotations

import json
from collections.abc import Iterable

from coretrack.figures.history import canonical
from coretrack.figures.scan_replies import Offer
from coretrack.figures.scan_text import Candidate, printable
from coretrack.figures.tags import show_tag

MARK = "="
MOST_OFFERS = 8
"""More cannot be read at arm's length."""


def offer(text: str, verb: str, argument: str = "") -> Offer:
    """Return an offer that is shown as `text` and means `verb` with its argument."""
    return Offer(printable(text), f"{MARK}{verb}:{argument}")


def both(text: str, number: str, serial: str) -> Offer:
    """Return the offer to take a number and a serial at once."""
    return offer(text, "both", canonical([number, serial]))


def taken_apart(scan: str) -> tuple[str, str]:
    """Return verb and argument of an offered text."""
    verb, _, argument = scan.removeprefix(MARK).partition(":")
    return verb, argument


def both_of(argument: str) -> tuple[str, str]:
    """Return number and serial of the offer that `both` made."""
    number, serial = json.loads(argument)
    return number, serial


def candidates_offered(candidates: Iterable[Candidate], number_verb: str) -> tuple[Offer, ...]:
    """Return what a scan may mean as offers; a number is taken by `number_verb`."""
    offers = []
    for candidate in candidates:
        text = f"{candidate.text}: {candidate.why}"
        if candidate.kind == "tag":
            offers.append(
                offer(f"{show_tag(candidate.text)}: {candidate.why}", "core", candidate.text)
            )
        elif candidate.kind == "number":
            offers.append(offer(text, number_verb, candidate.text))
        else:
            offers.append(offer(text, "text", candidate.text))
    return tuple(offers[:MOST_OFFERS])
