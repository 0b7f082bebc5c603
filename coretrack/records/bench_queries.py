"""What the bench's first page asks: cores that wait, counted by state and family, oldest first."""

# mypy: disable-error-code="has-type, misc, index, arg-type"
# peewee's stubs type every select as model rows, also after .tuples() and .dicts().

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from peewee import fn

from coretrack.figures.lifecycle import CoreFacts
from coretrack.records.bench_tables import WashRow
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


def oldest_of_each(states: Sequence[str], limit: int) -> list[CoreFacts]:
    """Return the cores of each family in each state that came in first, at most `limit` of each."""
    place = fn.ROW_NUMBER().over(
        partition_by=[CoreRow.state, CoreRow.family], order_by=[CoreRow.received_on, CoreRow.id]
    )
    ranked = (
        CoreRow.select(CoreRow.id.alias("core"), place.alias("place"))
        .where(CoreRow.state.in_(list(states)), CoreRow.tag.not_in(list(unseen())))
        .alias("ranked")
    )
    rows = (
        CoreRow.select()
        .join(ranked, on=(ranked.c.core == CoreRow.id))
        .where(ranked.c.place <= limit)
        .order_by(CoreRow.received_on, CoreRow.id)
    )
    return [KINDS["core"].from_row(row) for row in rows]


def oldest_in(state: str, family: str, first: int, limit: int) -> list[CoreFacts]:
    """Return cores of a family in a state, those that wait longest first, from the `first` on."""
    rows = (
        CoreRow.select()
        .where(
            CoreRow.state == state,
            CoreRow.family == family,
            CoreRow.tag.not_in(list(unseen())),
        )
        .order_by(CoreRow.received_on, CoreRow.id)
        .offset(first)
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
