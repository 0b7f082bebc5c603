"""What the bench's first page shows: what is begun, what waits by family, what is overdue."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime

from coretrack.actions.bench_hand import hands_begun, state_at_bench
from coretrack.actions.desk_day import DeskDay, days_since, desk_day
from coretrack.actions.look_views import looks_waiting
from coretrack.actions.process_checks import missing_today
from coretrack.errors import NotFound
from coretrack.figures.core_story import StateShown, state_shown
from coretrack.figures.gauge_register import gauge_standing
from coretrack.figures.lifecycle import CoreFacts
from coretrack.records import bench_queries, queries
from coretrack.records.database import snapshot
from coretrack.records.unseen import unseen

BENCH_STATES = ("reinspect", "undecided", "open", "comeback", "waiting")
"""States of cores that wait for the bench, the most urgent first."""

MOST_LISTED = 10
"""Cores of one family in one state on the bench's first page; the number of all is told."""

ON_A_PAGE = 50
"""Cores on one page of the list of a family in a state."""


CoreLine = tuple[str, str, str, int]
"""A core in a list: tag, family, number, days here."""


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
    """Cores in one state (`code`) that wait for the bench, by family, the longest waiting first.

    `cores` are the oldest of every family as (tag, family, number, days here).
    """

    code: str
    state: StateShown
    count: int
    families: tuple[FamilyRow, ...]
    cores: tuple[CoreLine, ...]


@dataclass(frozen=True)
class WaitingList:
    """One page of the cores of a family in a state; `first` of them stand on pages before it."""

    code: str
    family: str
    state: StateShown
    count: int
    first: int
    cores: tuple[CoreLine, ...]

    @property
    def before(self) -> int | None:
        """Where the page before begins, None on the first one."""
        return max(0, self.first - ON_A_PAGE) if self.first else None

    @property
    def after(self) -> int | None:
        """Where the next page begins, None on the last one."""
        following = self.first + len(self.cores)
        return following if self.cores and following < self.count else None


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
            looks=looks_waiting(person),
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
        begun.append(
            Begun(hand.tag, hand.people(), last, len(hand.entries), state_at_bench(core, hand))
        )
    return tuple(begun)


def _waiting(day: DeskDay) -> tuple[Waiting, ...]:
    rows = bench_queries.waiting_by_family(BENCH_STATES)
    oldest = bench_queries.oldest_of_each(BENCH_STATES, MOST_LISTED)
    groups = []
    for state in BENCH_STATES:
        mine = [row for row in rows if row.state == state]
        if not mine:
            continue
        families = tuple(
            FamilyRow(row.family, row.count, days_since(row.oldest, day.today)) for row in mine
        )
        # In the order of the families' rows, so that a large family does not hide the others.
        cores = tuple(
            _line(core, day)
            for row in mine
            for core in oldest
            if (core.state, core.family) == (state, row.family)
        )
        shown = state_shown(CoreFacts("", state=state))
        groups.append(Waiting(state, shown, sum(row.count for row in mine), families, cores))
    return tuple(groups)


def waiting_list(state: str, family: str, first: int, now: datetime) -> WaitingList:
    """Return the cores of a family in a state from the `first` on, the longest waiting first.

    NotFound for a state in which nothing waits for the bench.
    """
    if state not in BENCH_STATES:
        raise NotFound(f"Nothing waits for the bench as '{state[:20]}'.")
    with snapshot():
        day = desk_day(now)
        rows = bench_queries.waiting_by_family([state])
        count = sum(row.count for row in rows if row.family == family)
        cores = bench_queries.oldest_in(state, family, first, ON_A_PAGE)
        shown = state_shown(CoreFacts("", state=state))
        lines = tuple(_line(core, day) for core in cores)
        return WaitingList(state, family, shown, count, first, lines)


def _line(core: CoreFacts, day: DeskDay) -> CoreLine:
    return (core.tag, core.family, core.number, days_since(core.received_on, day.today))


def _overdue(day: DeskDay) -> tuple[str, ...]:
    told = []
    for gauge in queries.gauges():
        standing = gauge_standing(gauge, day.today)
        if standing.overdue and not gauge.out_of_use:
            told.append(f"{gauge.key} {gauge.name}".strip() + f", {standing.words}")
    return tuple(told)
