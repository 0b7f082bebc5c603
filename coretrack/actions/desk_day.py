"""What every list of the receiving desk starts from: the shop, its day, who is called what."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date, datetime, time, timedelta
from zoneinfo import ZoneInfo

from coretrack.actions.acting import Changed
from coretrack.errors import Conflict, NotFound
from coretrack.figures.dates import shop_day
from coretrack.figures.trade_objects import Shop, Source
from coretrack.records import queries
from coretrack.records.times import from_text, to_text
from coretrack.records.writer import Writer


@dataclass(frozen=True)
class Desk:
    """The shop, its clock, and its sources by code."""

    shop: Shop
    zone: ZoneInfo
    sources: Mapping[str, Source]

    def name(self, code: str) -> str:
        """Return what a source is called, its code where it has no name."""
        source = self.sources.get(code)
        return source.name if source and source.name else code

    def moment(self, text: str) -> datetime:
        """Return a stored moment on the shop's own clock."""
        return from_text(text).astimezone(self.zone)

    def day_of(self, text: str) -> date:
        """Return the shop's day of a stored moment."""
        return shop_day(from_text(text), self.zone)

    def bounds(self, day: date) -> tuple[str, str]:
        """Return the stored moments at which a day of the shop begins and the next one does."""
        starts = [datetime.combine(d, time(), self.zone) for d in (day, day + timedelta(days=1))]
        return to_text(starts[0]), to_text(starts[1])


@dataclass(frozen=True)
class DeskDay(Desk):
    """The desk on `today`, the day by the shop's own calendar."""

    today: date


def the_desk() -> Desk:
    """Return the desk, inside the caller's connection; NotFound without a shop."""
    shop = queries.shop()
    if shop is None:
        raise NotFound("There is no shop yet; run 'coretrack setup' first.")
    return Desk(shop, ZoneInfo(shop.time_zone), {s.key: s for s in queries.sources()})


def desk_day(now: datetime) -> DeskDay:
    """Return the desk on the shop's day of `now`, inside the caller's connection."""
    here = the_desk()
    return DeskDay(here.shop, here.zone, here.sources, shop_day(now, here.zone))


def days_since(day: str, today: date) -> int:
    """Return how many days an ISO day lies back, 0 for one that is yet to come."""
    return max(0, (today - date.fromisoformat(day)).days) if day else 0


def expect_seen(writer: Writer, kind: str, key: str, version: int) -> None:
    """Raise Changed when the object is no longer at the version that the page showed."""
    try:
        writer.expect(kind, key, version)
    except Conflict as error:
        raise Changed(error.message) from error
