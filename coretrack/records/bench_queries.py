"""What the bench's first page asks: cores that wait, counted by state and family, oldest first."""

# mypy: disable-error-code="has-type, misc, index, arg-type"
# peewee's stubs type every select as model rows, also after .tuples() and .dicts().

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from peewee import fn

from coretrack.figures.lifecycle import CoreFacts
from coretrack.records.bench_tables import SecondLookRow, WashRow
from coretrack.records.kinds import KINDS
from coretrack.records.shelf_queries import UNDER_WAY
from coretrack.records.tables import CoreRow
from coretrack.records.unseen import unseen


@dataclass(frozen=True)
class FamilyWaiting:
    """So many cores of a family in one state; `oldest` is the ISO day the first of them came in."""

    state: str
    family: str
    count: int
    oldest: str


def waiting_by_family(states: Sequence[str]) -> list[FamilyWaiting]:
    """Return how many cores of each family are in these states, those that wait longest first."""
    rows = (
        CoreRow.select(
            CoreRow.state, CoreRow.family, fn.COUNT(CoreRow.id), fn.MIN(CoreRow.received_on)
        )
        .where(CoreRow.state.in_(list(states)), CoreRow.tag.not_in(list(unseen())))
        .group_by(CoreRow.state, CoreRow.family)
        .tuples()
    )
    found = [FamilyWaiting(state, family, int(count), day) for state, family, count, day in rows]
    return sorted(found, key=lambda row: (row.oldest, row.family))


def oldest_in(state: str, limit: int) -> list[CoreFacts]:
    """Return the cores in a state that came in first, those that wait longest first."""
    rows = (
        CoreRow.select()
        .where(CoreRow.state == state, CoreRow.tag.not_in(list(unseen())))
        .order_by(CoreRow.received_on, CoreRow.id)
        .limit(limit)
    )
    return [KINDS["core"].from_row(row) for row in rows]


def count_in(state: str) -> int:
    """Return how many cores are in a state."""
    mine = (CoreRow.state == state) & CoreRow.tag.not_in(list(unseen()))
    return int(CoreRow.select().where(mine).count())


def washes_open() -> int:
    """Return how many wash baskets are in use."""
    return int(WashRow.select().where(WashRow.status.in_(UNDER_WAY)).count())


def looks_wanted(name: str) -> int:
    """Return how many second looks are wanted of somebody who did not make the first one."""
    rows = SecondLookRow.select().where(
        SecondLookRow.status == "wanted", SecondLookRow.first_inspector != name
    )
    return int(rows.count())
