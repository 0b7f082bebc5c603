"""What the bench's first page shows: what is begun, what waits by family, what is overdue."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime

from coretrack.actions.bench_hand import hands_begun
from coretrack.actions.desk_day import DeskDay, days_since, desk_day
from coretrack.actions.process_checks import missing_today
from coretrack.figures.core_story import StateShown, state_shown
from coretrack.figures.gauge_register import gauge_standing
from coretrack.figures.lifecycle import CoreFacts
from coretrack.records import bench_queries, queries
from coretrack.records.database import snapshot
from coretrack.records.unseen import unseen

BENCH_STATES = ("reinspect", "undecided", "open", "comeback", "waiting")
"""States of cores that wait for the bench, the most urgent first."""

MOST_LISTED = 40
"""Cores of one state on the bench's first page; the number of all is told."""


@dataclass(frozen=True)
class Begun:
    """A core somebody began: who, when last, how many entries."""

    tag: str
    people: tuple[str, ...]
    at: str
    entries: int
    state: StateShown


@dataclass(frozen=True)
class FamilyRow:
    """So many cores of a family; the first of them is here for `days` days."""

    family: str
    count: int
    days: int


@dataclass(frozen=True)
class Waiting:
    """Cores in one state that wait for the bench, by family, the longest waiting first.

    `cores` are the oldest of them as (tag, family, number, days here).
    """

    state: StateShown
    count: int
    families: tuple[FamilyRow, ...]
    cores: tuple[tuple[str, str, str, int], ...]


@dataclass(frozen=True)
class BenchHome:
    """The bench's first page: what is begun, what waits, and how much lies at the places round it.

    `overdue` are gauges whose check is past its day, `process` lamps and baths whose check of the
    day is missing or not good, each in a few words.
    """

    begun: tuple[Begun, ...]
    waiting: tuple[Waiting, ...]
    rework: int
    washes: int
    looks: int
    shelf: int
    overdue: tuple[str, ...]
    process: tuple[str, ...] = ()


def bench_home(now: datetime, person: str) -> BenchHome:
    """Return what is begun, what waits for the bench, and what else waits for this person."""
    with snapshot():
        day = desk_day(now)
        return BenchHome(
            begun=_begun(day),
            waiting=_waiting(day),
            rework=bench_queries.count_in("rework"),
            washes=bench_queries.washes_open(),
            looks=bench_queries.looks_wanted(person),
            shelf=bench_queries.count_in("good"),
            overdue=_overdue(day),
            process=missing_today(now),
        )


def _begun(day: DeskDay) -> tuple[Begun, ...]:
    hands = [(hand, draft) for hand, draft in hands_begun() if hand.begun]
    cores = queries.cores_tagged(hand.tag for hand, _ in hands)
    hidden = unseen()
    begun = []
    for hand, draft in hands:
        core = cores.get(hand.tag)
        if core is None or core.tag in hidden:
            continue
        at = draft.at.astimezone(day.zone)
        last = f"{at:%H:%M}" if at.date() == day.today else f"{at:%Y-%m-%d %H:%M}"
        begun.append(Begun(hand.tag, hand.people(), last, len(hand.entries), state_shown(core)))
    return tuple(begun)


def _waiting(day: DeskDay) -> tuple[Waiting, ...]:
    rows = bench_queries.waiting_by_family(BENCH_STATES)
    groups = []
    for state in BENCH_STATES:
        mine = [row for row in rows if row.state == state]
        if not mine:
            continue
        families = tuple(
            FamilyRow(row.family, row.count, days_since(row.oldest, day.today)) for row in mine
        )
        cores = tuple(
            (core.tag, core.family, core.number, days_since(core.received_on, day.today))
            for core in bench_queries.oldest_in(state, MOST_LISTED)
        )
        shown = state_shown(CoreFacts("", state=state))
        groups.append(Waiting(shown, sum(row.count for row in mine), families, cores))
    return tuple(groups)


def _overdue(day: DeskDay) -> tuple[str, ...]:
    told = []
    for gauge in queries.gauges():
        standing = gauge_standing(gauge, day.today)
        if standing.overdue and not gauge.out_of_use:
            told.append(f"{gauge.key} {gauge.name}".strip() + f", {standing.words}")
    return tuple(told)
