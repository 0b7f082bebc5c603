"""A clerk at the receiving station of the made-up shop, for tests: one call a thing done."""

from __future__ import annotations

import hashlib
from collections.abc import Iterator
from dataclasses import dataclass, field
from datetime import UTC, datetime, timedelta
from itertools import count
from typing import Any

from core_yard import Yard

from coretrack.actions import core_in_hand, deliveries, station_scans
from coretrack.actions.delivery_views import (
    CoreChange,
    CoreInHand,
    DeliveryView,
    NewDelivery,
    Proposal,
    Stored,
    Undone,
)
from coretrack.figures.scan_replies import ScanReply, Spot
from coretrack.figures.tags import make_shop_code
from coretrack.records import photos
from coretrack.records.database import connection, transaction
from coretrack.records.times import to_text

TODAY = datetime(2026, 5, 20, 15, tzinfo=UTC)
"""A Wednesday morning in the yard's time zone, inside the window of its sales of May."""


@dataclass
class Clerk:
    """Somebody at a station; every act comes a minute after the one before."""

    by: str = "Ilse Thornby"
    station: str = "dock 1"
    start: datetime = TODAY
    _ticks: Iterator[int] = field(default_factory=count)

    @property
    def now(self) -> datetime:
        return self.start + timedelta(minutes=next(self._ticks))

    @property
    def who(self) -> dict[str, Any]:
        return {"by": self.by, "station": self.station, "now": self.now}

    def open(self, customer: str = "ANSL", pieces: object = 6, **told: str) -> str:
        new = NewDelivery(customer=customer, pieces=str(pieces), **told)
        return deliveries.start_delivery(new, **self.who)

    def take(self, delivery: str, number: str = "GP-1040", **told: Any) -> Proposal:
        """Take a core into the hand; `told` as in CoreChange."""
        self.tell(delivery, number=number, **told)
        return self.proposal(delivery)

    def tell(self, delivery: str, **told: Any) -> None:
        core_in_hand.change(delivery, CoreChange(**told), **self.who)

    def proposal(self, delivery: str) -> Proposal:
        found = core_in_hand.proposal(delivery, by=self.by, now=self.now)
        assert found is not None
        return found

    def store(self, delivery: str, seen: str | None = None, key: str = "") -> Stored:
        shown = self.proposal(delivery).fingerprint if seen is None else seen
        return core_in_hand.store(delivery, seen=shown, key=key, **self.who)

    def receive(self, delivery: str, number: str = "GP-1040", **told: Any) -> Stored:
        """Take a core into the hand and store it as proposed."""
        self.take(delivery, number, **told)
        return self.store(delivery)

    def undo(self, delivery: str, key: str = "", **told: Any) -> Undone:
        return core_in_hand.undo_last(delivery, key=key, **told, **self.who)

    def view(self, delivery: str) -> DeliveryView:
        return deliveries.delivery_view(delivery, self.by, now=self.now)

    def photograph(self, delivery: str, what: str = "fault") -> None:
        """Put a photo on the core in hand, as the phone does."""
        key = f"core/{delivery}/{self.by}"
        content = f"{key} {self.now}".encode()
        with connection(), transaction():
            photos.keep(
                "draft",
                key,
                content,
                sha256=hashlib.sha256(content).hexdigest(),
                what=what,
                at=to_text(self.now),
                by=self.by,
                size=(640, 480),
            )

    def scan(
        self, text: str, delivery: str = "", *, key: str = "", at: int = 0, seen: str | None = None
    ) -> ScanReply:
        """Scan at the delivery's page, with the proposal that stands there before the eyes."""
        page = "delivery" if delivery else "home"
        if seen is None:
            found = core_in_hand.proposal(delivery, by=self.by, now=self.now) if delivery else None
            seen = found.fingerprint if found else ""
        spot = Spot(page, delivery, seen, at)
        return station_scans.scan(text, spot, key=key, **self.who)


def credited_agree(yard: Yard) -> None:
    """Assert that every line counts exactly the cores that were credited on it."""
    from coretrack.records.tables import CoreRow

    with connection():
        cores = list(CoreRow.select().where(CoreRow.acceptance.in_(("accept", "part credit"))))
    for line in yard.lines():
        mine = [core for core in cores if core.line == line.key]
        assert line.credited == len(mine)
        assert line.credited_money == sum(core.credit for core in mine)


def held_of(clerk: Clerk, delivery: str) -> CoreInHand:
    """Return the core in the clerk's hand, which there must be."""
    held = clerk.view(delivery).in_hand
    assert held is not None
    return held


def choose(clerk: Clerk, reply: ScanReply, words: str, delivery: str = "") -> ScanReply:
    """Choose the only offer whose text holds these words."""
    (found,) = [offer for offer in reply.offers if words in offer.text]
    return clerk.scan(found.scan, delivery)


def order(name: str) -> str:
    """Return the code of an order, as printed on the bench sheet."""
    return make_shop_code("order", name)
