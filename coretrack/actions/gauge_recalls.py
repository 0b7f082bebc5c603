"""Recalling a gauge: every core measured with it since its last good check."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime
from itertools import groupby
from zoneinfo import ZoneInfo

from coretrack.actions.gauges import known_gauge
from coretrack.actions.station_labels import MOST_LABELS
from coretrack.errors import InvalidInput
from coretrack.figures.core_story import StateShown, state_shown
from coretrack.figures.dates import day_bounds
from coretrack.figures.lifecycle import GONE, CoreFacts
from coretrack.figures.plain_words import are, counted
from coretrack.figures.tags import show_tag
from coretrack.figures.trade_objects import Gauge
from coretrack.paper.cells import to_csv
from coretrack.records import core_queries, gauge_queries, queries
from coretrack.records.database import connection
from coretrack.records.gauge_queries import Measured
from coretrack.records.times import from_text, to_text

_URGENCY = {"built": 0, "good": 1, "scrapped": 3, **dict.fromkeys(GONE, 4)}
"""What is pulled first: a body that may be in service, then those that could be picked next."""


@dataclass(frozen=True)
class ReadingRecalled:
    """One reading of a recalled core, by the shop's clock."""

    check: str
    typed: str
    overdue: bool
    at: datetime


@dataclass(frozen=True)
class CoreRecalled:
    """One core to be pulled: what it is, where it lies, what the gauge read on it."""

    tag: str
    family: str
    number: str
    state: StateShown
    where: str
    readings: tuple[ReadingRecalled, ...]


@dataclass(frozen=True)
class Recall:
    """The list. `since` is the day it begins with, "" from the first reading; `why` says it.

    `to_pull` are the tags whose labels can be printed, in batches of one print run. `unseen` cores
    are left out, since whoever asks may have to make their second look blind.
    """

    gauge: Gauge
    since: str
    why: str
    overdue_only: bool
    cores: tuple[CoreRecalled, ...]
    readings: int
    to_pull: tuple[tuple[str, ...], ...]
    unseen: int = 0


def recall(code: str, since: str = "", *, overdue_only: bool = False) -> Recall:
    """Return every core measured with a gauge since its last good check, or since a day told.

    The day itself counts whole: nobody knows at which hour the gauge went wrong. A gauge without a
    good check on record is recalled from its first reading. `overdue_only` leaves readings that
    were taken in time out. NotFound without the gauge, InvalidInput for what is no day.
    """
    with connection():
        gauge = known_gauge(code)
        day, why = _since(gauge, since, overdue_only)
        shop = queries.shop()
        zone = ZoneInfo(shop.time_zone if shop else "UTC")
        start = to_text(day_bounds(day, zone)[0]) if day else ""
        wanted = gauge.key.casefold()
        names = [name for name in gauge_queries.names_read_with() if name.casefold() == wanted]
        measured = gauge_queries.measured_with(names, start, overdue_only)
        unseen = gauge_queries.measured_unseen(names, start, overdue_only)
        facts = queries.cores_tagged(list({one.tag for one in measured}))
        places = {place.key: place.name or place.key for place in core_queries.places()}
    cores = []
    ordered = sorted(measured, key=lambda one: one.tag)
    for tag, group in groupby(ordered, key=lambda one: one.tag):
        if tag in facts:
            cores.append(_recalled(facts[tag], list(group), places, zone))
    cores.sort(key=lambda core: (_URGENCY.get(facts[core.tag].state, 2), core.tag))
    tags = [core.tag for core in cores if facts[core.tag].state not in GONE]
    batches = tuple(
        tuple(tags[first : first + MOST_LABELS]) for first in range(0, len(tags), MOST_LABELS)
    )
    return Recall(
        gauge,
        day.isoformat() if day else "",
        why,
        overdue_only,
        tuple(cores),
        len(measured),
        batches,
        unseen,
    )


def recall_csv(found: Recall) -> bytes:
    """Return the list as a CSV file, one reading a row."""
    headings = ["tag", "family", "number", "state", "where", "check", "reading", "at", "overdue"]
    rows = []
    for core in found.cores:
        start = [show_tag(core.tag), core.family, core.number, core.state.words, core.where]
        rows += [
            [*start, one.check, one.typed, f"{one.at:%Y-%m-%d %H:%M}", "yes" if one.overdue else ""]
            for one in core.readings
        ]
    return to_csv(headings, rows)


def _since(gauge: Gauge, since: str, overdue_only: bool) -> tuple[date | None, str]:
    if since.strip():
        try:
            return date.fromisoformat(since.strip()), "the day asked for"
        except ValueError:
            raise InvalidInput(
                f"'{since.strip()[:20]}' is no day; write it like 2026-05-01.",
                {"since": "write the day like 2026-05-01"},
            ) from None
    if overdue_only:
        return None, "readings taken while its check was overdue"
    if gauge.checked_on:
        return date.fromisoformat(gauge.checked_on), "its last good check, that day included"
    return None, "no good check is on record, so every reading counts"


def _recalled(
    core: CoreFacts, measured: list[Measured], places: dict[str, str], zone: ZoneInfo
) -> CoreRecalled:
    where = places.get(core.place, core.place)
    if core.basket:
        where = f"{places.get(core.basket, show_tag(core.basket))}, slot {core.slot}"
    return CoreRecalled(
        core.tag,
        core.family,
        core.number,
        state_shown(core),
        where,
        tuple(
            ReadingRecalled(
                one.check, one.typed, one.overdue, from_text(one.read_at).astimezone(zone)
            )
            for one in measured
        ),
    )


def recall_sentence(found: Recall) -> str:
    """Return what the list holds in one sentence."""
    pulled = sum(len(batch) for batch in found.to_pull)
    gone = len(found.cores) - pulled
    said = f"{counted(len(found.cores), 'core')} with {counted(found.readings, 'reading')}"
    since = f" since {found.since}" if found.since else ""
    left = f"; {gone} of them no longer in the house" if gone else ""
    told = f"{said}{since} ({found.why}){left}."
    if not found.unseen:
        return told
    return f"{told} {are(found.unseen, 'core')} not listed for you before a second look."
