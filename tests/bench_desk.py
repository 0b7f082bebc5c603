"""An inspector at the bench of the made-up yard, for tests: one call a thing typed or scanned."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field
from datetime import UTC, datetime, timedelta
from itertools import count

from core_yard import Yard

from coretrack.actions import station_scans
from coretrack.actions.bench_views import BenchView, bench_view
from coretrack.figures.scan_replies import ScanReply, Spot
from coretrack.figures.tags import make_shop_code
from coretrack.records.bench_tables import ReadingRow
from coretrack.records.database import connection

TODAY = datetime(2026, 5, 21, 14, tzinfo=UTC)
"""A morning in the yard's time zone, the day after its cores came in."""

GOOD_BODY = ("24.010", "24.012", "24.011", "3.0", "go", "none", "A")
"""What is typed at a gear pump body that is good in every check, in the plan's order."""


def order(name: str) -> str:
    """Return the code of a scanned order."""
    return make_shop_code("order", name)


@dataclass
class Inspector:
    """Somebody at a station of the bench; every act comes two seconds after the one before.

    `seen` is what their page showed last; it moves on with every answer, as the page's does.
    """

    by: str = "Bela Quirke"
    station: str = "bench 1"
    start: datetime = TODAY
    tag: str = ""
    seen: str = ""
    _ticks: Iterator[int] = field(default_factory=count)

    @property
    def now(self) -> datetime:
        return self.start + timedelta(seconds=2 * next(self._ticks))

    def at(self, tag: str) -> Inspector:
        """Open a core's page."""
        self.tag = tag
        self.look()
        return self

    def look(self) -> BenchView:
        """Look at the page: what it shows is seen from now on."""
        view = self.view()
        self.seen = view.seen
        return view

    def view(self) -> BenchView:
        return bench_view(self.tag, self.by, self.station, self.now)

    def send(self, text: str, key: str = "", seen: str | None = None) -> ScanReply:
        """Type a text without looking at what it does to the page."""
        spot = Spot("bench", self.tag, self.seen if seen is None else seen)
        return station_scans.scan(
            text, spot, by=self.by, station=self.station, now=self.now, key=key
        )

    def type(self, *texts: str) -> ScanReply:
        """Type texts one after the other, looking at each answer; return the last one."""
        for text in texts:
            reply = self.send(text)
            if reply.target == "bench" and not reply.offers:
                self.tag = reply.code
            if self.tag:
                self.look()
        return reply

    def order(self, name: str) -> ScanReply:
        return self.type(order(name))

    def choose(self, reply: ScanReply, words: str) -> ScanReply:
        """Choose the one offer that holds these words."""
        (chosen,) = [offer for offer in reply.offers if words in offer.text]
        return self.type(chosen.scan)


def bodies(yard: Yard, number: int, family_number: str = "GP-1040") -> list[str]:
    """Buy so many bodies and return their tags."""
    serials = [f"B{place + 1}" for place in range(number)]
    assert not yard.buy(*serials, number=family_number).rejected
    return [yard.core(serial).tag for serial in serials]


def stored_readings(tag: str) -> list[tuple[str, int, str, int | None, str]]:
    """Return (check, place, typed, value, result) of a core's stored readings, in order."""
    with connection():
        rows = ReadingRow.select().where(ReadingRow.tag == tag).order_by(ReadingRow.id)
        return [(row.check_code, row.place, row.typed, row.value, row.result) for row in rows]
