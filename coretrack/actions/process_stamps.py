"""Which checks of the day's lamps and baths stand behind a crack result; what is missing stamps it.

A station may be told at which place its crack checks are made; then only that place's checks
count. Without it one good check of the kind, at any place, is wanted, and none that is not good.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date, datetime
from zoneinfo import ZoneInfo

from coretrack.actions import drafts
from coretrack.figures.bench_objects import ProcessCheck, ProcessRule
from coretrack.figures.dates import shop_day
from coretrack.figures.process_rules import KINDS, rule_of, stamps_for
from coretrack.records import happenings, objects
from coretrack.records.times import from_text
from coretrack.records.writer import Writer

LOOKED_THROUGH = 400
"""So many of the newest inspections are looked through for stamped results."""


def rules_now() -> dict[str, ProcessRule]:
    """Return the rule in force of each kind of process check. Call with a connection."""
    return {kind: rule_of(kind, objects.one("process rule", kind)) for kind in KINDS}


def checks_of(day: date) -> list[ProcessCheck]:
    """Return the process checks of a day. Call with a connection."""
    return objects.every("process check", {"day": day.isoformat()})


def place_key(station: str) -> str:
    """Return the key of the draft that holds where a station's crack checks are made."""
    return f"crack place/{station}"


def place_of(station: str) -> str:
    """Return where a station's crack checks are made, "" when nobody said."""
    return str((drafts.read_draft(place_key(station)) or {}).get("place", "")) if station else ""


@dataclass(frozen=True)
class StampedDay:
    """A day whose crack results carry stamps: the stamps, and the tags of the bodies."""

    day: str
    stamps: tuple[str, ...]
    tags: tuple[str, ...]


def stamped_days(zone: str) -> tuple[StampedDay, ...]:
    """Return the days with stamped results among the newest inspections, newest first.

    A check kept afterwards takes no stamp away. Call with a connection.
    """
    stamps: dict[date, dict[str, None]] = defaultdict(dict)
    tags: dict[date, dict[str, None]] = defaultdict(dict)
    for event in happenings.newest_of("core", "inspected", LOOKED_THROUGH):
        for reading in event.detail["readings"]:
            if reading.get("stamps"):
                day = shop_day(from_text(reading["at"]), zone)
                stamps[day] |= dict.fromkeys(reading["stamps"])
                tags[day][event.key] = None
    return tuple(
        StampedDay(day.isoformat(), tuple(stamps[day]), tuple(tags[day]))
        for day in sorted(stamps, reverse=True)
    )


class StampBook:
    """The stamps of crack results, each day looked up once; made for one transaction."""

    def __init__(self, writer: Writer, station: str = "") -> None:
        self._writer = writer
        self._station = station
        self._zone: ZoneInfo | None = None
        self._rules: Mapping[str, ProcessRule] = {}
        self._place = ""
        self._results: dict[date, dict[str, list[str]]] = {}

    def stamps(self, method: str, at: datetime) -> tuple[str, ...]:
        """Return what has to be said beside a result found by `method` at a moment."""
        if not method:
            return ()
        if self._zone is None:
            self._zone = ZoneInfo(self._writer.get("shop", "shop").time_zone)
            self._rules = rules_now()
            self._place = place_of(self._station)
        if not any(method in rule.methods for rule in self._rules.values()):
            return ()
        day = shop_day(at, self._zone)
        if day not in self._results:
            self._results[day] = self._of(day)
        return stamps_for(method, self._rules, self._results[day])

    def _of(self, day: date) -> dict[str, list[str]]:
        found: dict[str, list[str]] = defaultdict(list)
        for check in checks_of(day):
            if not self._place or check.place == self._place:
                found[check.kind].append(check.result)
        return found
