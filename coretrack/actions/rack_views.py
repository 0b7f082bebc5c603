"""What the rack pages show: the racks at work, and one rack with its cores and exceptions."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime

from coretrack.actions.bench_views import CRACK_CAUTION
from coretrack.actions.desk_day import desk_day
from coretrack.actions.process_stamps import StampBook
from coretrack.actions.rack_runs import Rack, crack_checks, rack_of, racks_at_work
from coretrack.figures.part_numbers import trim
from coretrack.figures.plans import Check
from coretrack.figures.wording import SAFETY
from coretrack.records import queries, shelf_queries
from coretrack.records.database import snapshot
from coretrack.records.drafts import Draft
from coretrack.records.writer import Writer


@dataclass(frozen=True)
class RackLine:
    """A rack at work in the list of all."""

    code: str
    family: str
    check: str
    place: str
    count: int
    counted: bool
    by: str
    at: str


@dataclass(frozen=True)
class Choice:
    """A crack check that a rack can be begun for; `stamps` what its day's checks lack."""

    family: str
    name: str
    check: str
    check_name: str
    method: str
    stamps: tuple[str, ...]


@dataclass(frozen=True)
class RacksView:
    """The page of all racks."""

    at_work: tuple[RackLine, ...]
    choices: tuple[Choice, ...]
    caution: str = CRACK_CAUTION
    safety: str = SAFETY


@dataclass(frozen=True)
class RackCore:
    """One core in a rack: its place in the order scanned, and what would be stored of it."""

    number: int
    tag: str
    part: str
    serial: str
    result: str
    detail: str
    chosen: bool


@dataclass(frozen=True)
class RackView:
    """One rack. `stage`: loading, counting, marking. `newest` is the core that came in last."""

    code: str
    family: str
    family_name: str
    check: str
    check_name: str
    method: str
    place: str
    stage: str
    cores: tuple[RackCore, ...]
    counted: int
    none: int
    indications: int
    unsure: int
    asked: bool
    undo: str
    stamps: tuple[str, ...]
    seen: str
    caution: str = CRACK_CAUTION
    safety: str = SAFETY

    @property
    def exceptions(self) -> tuple[RackCore, ...]:
        """The cores that are no plain "no indication"."""
        return tuple(core for core in self.cores if core.result != "none")


def racks_view(person: str, station: str, now: datetime) -> RacksView:
    """Return the racks at work, and the crack checks one can be begun for."""
    with snapshot():
        writer = Writer(person, now, station)
        book = StampBook(writer, station)
        families = {family.key: family.name for family in queries.families()}
        checks = {code: crack_checks(writer, code) for code in families}
        day = desk_day(now)
        names = {place.key: place.name for place in shelf_queries.places_of("rack")}
        lines = []
        for rack, draft in racks_at_work():
            check = _check_of(checks.get(rack.family, ()), rack)
            at = draft.at.astimezone(day.zone)
            lines.append(_line(rack, draft, check, names, f"{at:%H:%M}"))
        choices = tuple(
            Choice(code, name, each.code, each.name, each.method, book.stamps(each.method, now))
            for code, name in families.items()
            for each in checks[code]
        )
    return RacksView(tuple(lines), choices)


def _line(
    rack: Rack, draft: Draft, check: Check | None, names: dict[str, str], at: str
) -> RackLine:
    return RackLine(
        rack.code,
        rack.family,
        check.name if check else rack.check,
        names.get(rack.place, ""),
        len(rack.tags),
        rack.confirmed,
        draft.person,
        at,
    )


def rack_view(code: str, person: str, station: str, now: datetime) -> RackView:
    """Return one rack as a person sees it; NotFound when it is stored or never was."""
    with snapshot():
        rack = rack_of(code)
        writer = Writer(person, now, station)
        family = writer.get("family", rack.family)
        check = _check_of(crack_checks(writer, rack.family), rack)
        method = check.method if check else ""
        stamps = StampBook(writer, station).stamps(method, now)
        facts = queries.cores_tagged(rack.tags)
        place = shelf_queries.place(rack.place) if rack.place else None
    cores = tuple(
        RackCore(
            number,
            tag,
            facts[tag].number if tag in facts else "",
            trim(facts[tag].serial) if tag in facts else "",
            rack.result_of(tag),
            str(rack.exceptions.get(tag, {}).get("detail", "")),
            tag == rack.chosen,
        )
        for number, tag in enumerate(rack.tags, start=1)
    )
    none, indications, unsure = rack.numbers()
    mine = [tag for tag in rack.tags if rack.put_by.get(tag) == person]
    return RackView(
        code=rack.code,
        family=rack.family,
        family_name=family.name,
        check=rack.check,
        check_name=check.name if check else rack.check,
        method=method,
        place=place.name if place else "",
        stage="marking" if rack.confirmed else "counting" if rack.counting else "loading",
        cores=cores,
        counted=rack.counted if rack.confirmed else 0,
        none=none,
        indications=indications,
        unsure=unsure,
        asked=rack.asked == rack.step > 0,
        undo=mine[-1] if mine and not rack.confirmed else "",
        stamps=stamps,
        seen=rack.seen,
    )


def _check_of(checks: tuple[Check, ...], rack: Rack) -> Check | None:
    return next((check for check in checks if check.code == rack.check), None)
