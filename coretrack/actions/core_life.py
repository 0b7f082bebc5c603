"""One core's whole life: where it is, what became of it and why, its history in words.

What a core cost the shop is told to the owner alone; the credit it earned stands there for all.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from zoneinfo import ZoneInfo

from coretrack.actions.bench_hand import hand_of, state_at_bench
from coretrack.actions.core_past import CorePast, core_past
from coretrack.actions.cores_here import arithmetic_of
from coretrack.errors import InvalidInput, NotFound
from coretrack.figures.core_facts import OUTCOMES
from coretrack.figures.core_story import (
    STREAMS,
    StateShown,
    event_sentence,
    notes_told,
    outcome_of,
    state_shown,
    why_no_serial,
)
from coretrack.figures.lifecycle import GONE, CoreFacts
from coretrack.figures.money import Money
from coretrack.figures.part_numbers import match_key
from coretrack.figures.scans import read_scan
from coretrack.figures.tags import show_tag
from coretrack.figures.trade_objects import Family, Line, Place, Shop, Source
from coretrack.figures.wording import SAFETY
from coretrack.records import core_queries, photos, queries
from coretrack.records.database import connection
from coretrack.records.happenings import Happened, history
from coretrack.records.photos import StoredPhoto
from coretrack.records.times import from_text
from coretrack.records.unseen import seen
from coretrack.records.writer import writing

MOST_FOUND = 50


@dataclass(frozen=True)
class CoreRow:
    """A core in a list: `state` in words with its shape."""

    tag: str
    serial: str
    number: str
    family: str
    received_on: str
    lot: str
    state: StateShown


@dataclass(frozen=True)
class Found:
    """What a search found; `only` is the tag when the text names exactly one core.

    `more` says that the list was cut off.
    """

    text: str
    rows: tuple[CoreRow, ...]
    only: str = ""
    more: bool = False


@dataclass(frozen=True)
class Told:
    """One event of a core's history: `when` by the shop's clock, `why` the reason given."""

    when: str
    by: str
    station: str
    sentence: str
    why: str


@dataclass(frozen=True)
class CoreView:
    """Everything the page of a core shows. Text that is not known is empty.

    `arithmetic` are the lines of the credit, `credit` what they come to; None when the dock gave
    none. `no_photo` says why there is none of a refused core, `note` what was noted of it,
    `refusal` what it was refused for, `no_serial` why it has none though one was told.
    `to_settle`: a clerk has to say what becomes of it. `lives` are the other times the same serial
    was here, oldest first. `past` is what bench, wash and rework did with it.
    """

    tag: str
    state: StateShown
    stream: str
    family: str
    family_name: str
    core_group: str
    number: str
    serial: str
    received_on: str
    lot: str
    source: str
    source_name: str
    source_lost: bool
    line: str
    invoice: str
    acceptance: str
    faults: tuple[str, ...]
    arithmetic: tuple[tuple[str, Money], ...]
    credit: Money | None
    credit_note: str
    hold_until: str
    place: str
    place_name: str
    metal_tag: int
    labels: int
    photos: tuple[StoredPhoto, ...]
    no_photo: str
    note: str
    refusal: str
    no_serial: str
    grade: str
    operations: tuple[str, ...]
    past: CorePast
    lives: tuple[CoreRow, ...]
    history: tuple[Told, ...]
    places: tuple[Place, ...]
    gone: bool
    to_settle: bool
    safety: str


def cores_found(text: str) -> Found:
    """Return the cores that a tag, serial, number or paper names; the newest ones for nothing.

    Any text may be asked for. Capitals, and blanks and dashes in a number, do not count.
    """
    wanted = text.strip()
    with connection():
        if not wanted:
            return Found("", _rows(core_queries.newest_cores(MOST_FOUND)))
        scanned = read_scan(text).tag
        if scanned and queries.core(scanned) is not None:
            return Found(wanted, (), only=scanned)
        by_serial = queries.cores_with_serial(wanted)
        found = {core.tag: core for core in (*by_serial, *_otherwise(wanted))}
    exact = [core for core in by_serial if core.serial == wanted]
    only = exact[0].tag if len(exact) == 1 and len(found) == 1 else ""
    cores = list(found.values())
    return Found(wanted, _rows(cores[:MOST_FOUND]), only, more=len(cores) > MOST_FOUND)


def _otherwise(wanted: str) -> Iterable[CoreFacts]:
    """Return the cores that a part of a tag, a number, a paper or part of a text names."""
    digits = wanted.replace(" ", "")
    if digits.isascii() and digits.isdigit() and len(digits) >= 4:
        yield from queries.cores_tagged(queries.tags_holding(digits, MOST_FOUND)).values()
    for number in queries.numbers([match_key(wanted)] if match_key(wanted) else []).values():
        yield from core_queries.cores_holding(number.shown, MOST_FOUND + 1)
    for paper in queries.papers(wanted):
        yield from queries.cores_of_lot(paper)[: MOST_FOUND + 1]
    yield from core_queries.cores_holding(wanted, MOST_FOUND + 1)


@dataclass(frozen=True)
class _Read:
    """What is stored of a core and around it; `names` are those of places and faults by code."""

    core: CoreFacts
    happened: Sequence[Happened]
    line: Line | None
    family: Family | None
    source: Source | None
    shop: Shop
    places: Sequence[Place]
    names: Mapping[str, str]
    taken: Sequence[StoredPhoto]
    lives: Sequence[CoreFacts]


def core_view(tag: str, *, costs: bool = False) -> CoreView:
    """Return what is known of a core; `costs` asks for what it cost, line by line.

    NotFound says how to look for one.
    """
    with connection():
        scanned = read_scan(tag).tag
        core = queries.core(scanned) if scanned else None
        if core is None:
            raise NotFound(
                f"There is no core with tag '{tag}'. Look for it by its serial, number or paper."
            )
        return _view(_read(core), costs=costs)


def _read(core: CoreFacts) -> _Read:
    line = core_queries.line(core.line) if core.line else None
    places = core_queries.places()
    same_serial = queries.cores_with_serials([core.serial]).get(core.serial, [])
    return _Read(
        core=core,
        happened=history("core", core.tag),
        line=line,
        family={each.key: each for each in queries.families()}.get(core.family),
        source={each.key: each for each in queries.sources()}.get(core.source),
        shop=queries.shop() or Shop("shop"),
        places=places,
        names=_fault_names(core, line) | {place.key: place.name for place in places},
        taken=photos.photos_of("core", core.tag),
        lives=[each for each in same_serial if each.tag != core.tag],
    )


def _view(read: _Read, *, costs: bool) -> CoreView:
    core, names = read.core, read.names
    judged = _judged(read.happened) if core.acceptance else None
    came = read.happened[0].detail if read.happened else {}
    clock = _clock(ZoneInfo(read.shop.time_zone))
    return CoreView(
        tag=core.tag,
        state=state_at_bench(core, hand_of(core.tag)),
        stream=STREAMS.get(core.stream, core.stream),
        family=core.family,
        family_name=read.family.name if read.family else "",
        core_group=core.core_group,
        number=core.number,
        serial=core.serial,
        received_on=core.received_on,
        lot=core.lot,
        source=core.source,
        source_name=read.source.name if read.source else "",
        source_lost=core.source_lost,
        line=core.line,
        invoice=read.line.invoice if read.line else str(came.get("invoice", "")),
        acceptance=OUTCOMES.get(outcome_of(core), outcome_of(core)),
        faults=tuple(names.get(code, code) for code in core.faults),
        arithmetic=arithmetic_of(judged or {}),
        credit=core.credit if core.acceptance in ("accept", "part credit") else None,
        credit_note=core.credit_note,
        hold_until=core.hold_until,
        place=core.place,
        place_name=_where(core, names),
        metal_tag=core.metal_tag,
        labels=core.labels,
        photos=tuple(read.taken),
        no_photo=str((judged or {}).get("no_photo") or came.get("no_photo") or ""),
        note=notes_told(came, judged or {}),
        refusal=_refused_for(read) if outcome_of(core) == "refuse" else "",
        no_serial=why_no_serial(came),
        grade=core.grade,
        operations=core.operations,
        past=core_past(core, read.happened, names, clock, costs=costs),
        lives=_rows(read.lives),
        history=tuple(_told(each, names, clock) for each in read.happened),
        places=tuple(read.places),
        gone=core.state in GONE,
        to_settle=core.state in ("hold", "excess", "comeback", "unknown"),
        safety=SAFETY if core.grade else "",
    )


def _where(core: CoreFacts, names: Mapping[str, str]) -> str:
    """Return where a core is now: its slot in the wash, or its bin."""
    if core.basket:
        return f"{names.get(core.basket, show_tag(core.basket))}, slot {core.slot}"
    return names.get(core.place, core.place)


def put_core(tag: str, place: str, *, by: str, station: str, now: datetime, key: str) -> str:
    """Put a core into a bin, basket or rack and return its name; an empty `place` takes it out.

    `place` is the code on the card. NotFound when there is no such place; NotAllowed when the core
    is no longer in the house. The same `key` again puts nothing and answers the same.
    """
    with writing(by, now, station) as writer:
        if key and (answer := writer.answers([key]).get(key)) is not None:
            return answer
        core: CoreFacts = writer.get("core", tag)
        known: Place | None = writer.find("place", place) if place else None
        if place and known is None:
            raise NotFound(
                f"There is no bin, basket or rack with the code '{show_tag(place)}'; make its "
                "card first.",
                {"place": "choose one of the list"},
            )
        if core.place == place:
            if not place:
                raise InvalidInput(f"Core {show_tag(tag)} lies in no bin.", {"place": "choose one"})
        else:
            writer.event("core", tag, "put", {"place": place})
        name = known.name if known else ""
        if key:
            writer.remember(key, name)
        return name


def _rows(cores: Iterable[CoreFacts]) -> tuple[CoreRow, ...]:
    return tuple(
        CoreRow(
            core.tag,
            core.serial,
            core.number,
            core.family,
            core.received_on,
            core.lot,
            state_shown(core),
        )
        for core in seen(cores)
    )


def _clock(zone: ZoneInfo) -> Callable[[str], str]:
    """Return what turns a stored moment into the shop's day and time."""
    return lambda text: f"{from_text(text).astimezone(zone):%Y-%m-%d %H:%M}"


def _told(event: Happened, names: Mapping[str, str], clock: Callable[[str], str]) -> Told:
    sentence = event_sentence(event.event, event.detail, names)
    return Told(clock(event.at), event.by, event.station, sentence, event.why)


def _judged(happened: Sequence[Happened]) -> Mapping[str, object] | None:
    """Return what the dock said last, None when that was taken back."""
    for event in reversed(happened):
        if event.event == "unjudged":
            return None
        if event.event == "accepted":
            return event.detail
    return None


def _refused_for(read: _Read) -> str:
    """Return why the core was refused, as the customer is told."""
    told = [event.why for event in read.happened if event.event in ("accepted", "held")]
    return told[-1] if told else ""


def _fault_names(core: CoreFacts, line: Line | None) -> dict[str, str]:
    """Return the names of a core's faults by the criteria it was judged by."""
    if line is None or not core.faults:
        return {}
    criteria = core_queries.criteria(line.family, line.criteria_version)
    return {fault["code"]: fault["name"] for fault in criteria.faults} if criteria else {}
