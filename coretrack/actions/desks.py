"""A desk: one person at one station. What it heard last, what it was offered, its last results."""

from __future__ import annotations

import hashlib
from dataclasses import asdict, dataclass, field
from datetime import datetime
from typing import Any

from coretrack.actions import drafts
from coretrack.actions.offers import MARK
from coretrack.figures.scan_replies import ScanReply, Shown, Spot
from coretrack.figures.tags import is_own_code
from coretrack.records.writer import Writer

REPEAT_MS = 1000
"""A code that comes again within this time was read twice; it acts once."""

BOUNCE_MS = 300
"""A reading may well be the same a second later; only what comes within this time is one key."""

KEPT_RESULTS = 5
_KEPT_SCANS = 8

READING_PAGES = ("bench", "second", "study")
"""Where gauges type: two readings of one feature are often the same to the last digit."""


def desk_key(person: str, station: str) -> str:
    """Return the key of a desk's draft."""
    return f"desk/{person}/{station}"


@dataclass
class Desk:
    """What is remembered of a desk. `heard` are the scans that acted last, by digest and clock."""

    last: list[dict[str, str]] = field(default_factory=list)
    heard: list[dict[str, Any]] = field(default_factory=list)
    offered: list[str] = field(default_factory=list)

    def is_repeat(self, text: str, spot: Spot, now: datetime) -> bool:
        """Return whether the very scan acted at this page less than REPEAT_MS ago.

        Only the newest scan counts: the same number again after a yes is the next core of a set.
        """
        told = _heard(text, spot, now)
        within = REPEAT_MS
        if spot.page in READING_PAGES and text.strip() and not is_own_code(text.strip()):
            within = BOUNCE_MS
        return any(
            {**scan, "ms": 0} == {**told, "ms": 0} and abs(scan["ms"] - told["ms"]) <= within
            for scan in self.heard[:1]
        )

    def may(self, text: str) -> bool:
        """Return whether a text is a plain scan, or an offer that was made to this desk."""
        return not text.startswith(MARK) or text in self.offered

    def note(self, text: str, spot: Spot, now: datetime, reply: ScanReply, clock: str) -> None:
        """Remember a scan that acted and what was answered; `clock` is the shop's HH:MM:SS."""
        self.heard = [_heard(text, spot, now), *self.heard][:_KEPT_SCANS]
        self.offered = [offer.scan for offer in reply.offers]
        shown = Shown(reply.tone, reply.word, reply.line, clock)
        self.last = [asdict(shown), *self.last][:KEPT_RESULTS]


def _heard(text: str, spot: Spot, now: datetime) -> dict[str, Any]:
    """Return a scan as remembered; times of two different clocks are never compared."""
    digest = hashlib.sha256(text.encode("utf-8", "replace")).hexdigest()[:16]
    own = bool(spot.at)
    ms = spot.at if own else int(now.timestamp() * 1000)
    return {"text": digest, "page": spot.page, "code": spot.code, "own": own, "ms": ms}


def desk_of(person: str, station: str) -> Desk:
    """Return a desk as it was left. Call with a connection."""
    body = drafts.read_draft(desk_key(person, station))
    return Desk(**body) if body else Desk()


def keep_desk(writer: Writer, desk: Desk) -> None:
    """Keep the desk of the writer's person and station."""
    drafts.keep_draft(writer, desk_key(writer.by, writer.station), asdict(desk))
