"""What the bench's first page shows: cores that somebody began, and cores that wait."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime

from coretrack.actions.bench_hand import BenchHand, hands_begun
from coretrack.actions.desk_day import DeskDay, days_since, desk_day
from coretrack.figures.core_story import StateShown, state_shown
from coretrack.figures.lifecycle import CoreFacts
from coretrack.records import list_queries, queries
from coretrack.records.database import snapshot
from coretrack.records.drafts import Draft

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
class Waiting:
    """Cores in one state that wait for the bench; `cores` are (tag, family, number, days here)."""

    state: StateShown
    count: int
    cores: tuple[tuple[str, str, str, int], ...]


@dataclass(frozen=True)
class BenchHome:
    """The bench's first page: what is begun, and what waits."""

    begun: tuple[Begun, ...]
    waiting: tuple[Waiting, ...]


def bench_home(now: datetime) -> BenchHome:
    """Return what is begun and what waits for the bench."""
    with snapshot():
        day = desk_day(now)
        begun = tuple(_begun(hand, draft, day) for hand, draft in hands_begun() if hand.begun)
        counts = list_queries.cores_per_state(BENCH_STATES)
        waiting = tuple(
            _waiting(state, counts[state], day) for state in BENCH_STATES if counts.get(state)
        )
    return BenchHome(begun, waiting)


def _begun(hand: BenchHand, draft: Draft, day: DeskDay) -> Begun:
    core = queries.core(hand.tag) or CoreFacts(hand.tag)
    at = draft.at.astimezone(day.zone)
    return Begun(hand.tag, hand.people(), f"{at:%H:%M}", len(hand.entries), state_shown(core))


def _waiting(state: str, count: int, day: DeskDay) -> Waiting:
    cores = list_queries.cores_in([state])[:MOST_LISTED]
    return Waiting(
        state_shown(CoreFacts("", state=state)),
        count,
        tuple(
            (core.tag, core.family, core.number, days_since(core.received_on, day.today))
            for core in cores
        ),
    )
