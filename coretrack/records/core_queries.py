"""Questions about single cores, and the codes printed on cards."""

# mypy: disable-error-code="has-type, misc, index, arg-type"
# peewee's stubs type every select as model rows, also after .tuples() and .dicts().

from __future__ import annotations

from functools import reduce
from operator import or_

from peewee import Expression, Field, fn

from coretrack.figures.lifecycle import CoreFacts
from coretrack.figures.trade_objects import Criteria, LabelStock, Line, Place, Reason
from coretrack.records.kinds import KINDS
from coretrack.records.objects import every, one
from coretrack.records.station_tables import OnceRow
from coretrack.records.tables import (
    CoreRow,
)


def answer_given(key: str) -> str | None:
    """Return the answer given to the form or scan with this key, or None."""
    row = OnceRow.get_or_none(OnceRow.key == key)
    return row.answer if row else None


def reasons() -> list[Reason]:
    """Return the faults that have a number, by it."""
    return sorted(every("reason"), key=lambda reason: reason.number)


def line(key: str) -> Line | None:
    """Return one core line, or None."""
    return one("line", key)


def criteria(family: str, number: int) -> Criteria | None:
    """Return one version of a family's acceptance faults, or None."""
    return one("criteria", f"{family}/{number}")


def places() -> list[Place]:
    """Return all bins, baskets and racks, by kind and number."""
    return sorted(every("place"), key=lambda place: (place.kind, place.number))


def label_stock(name: str) -> LabelStock | None:
    """Return what is known of a stock of labels in use, or None."""
    return one("label stock", name)


def newest_cores(limit: int) -> list[CoreFacts]:
    """Return the cores received last, newest first."""
    rows = CoreRow.select().order_by(CoreRow.id.desc()).limit(limit)
    return [KINDS["core"].from_row(row) for row in rows]


def cores_holding(text: str, limit: int) -> list[CoreFacts]:
    """Return cores whose serial, number, line or lot holds `text`, newest first.

    Capitals do not count for A to Z; `text` may not be empty.
    """
    rows = (
        CoreRow.select()
        .where(reduce(or_, (_holds(column, text) for column in _SEARCHED)))
        .order_by(CoreRow.id.desc())
        .limit(limit)
    )
    return [KINDS["core"].from_row(row) for row in rows]


_SEARCHED = (CoreRow.serial, CoreRow.number, CoreRow.line, CoreRow.lot)


def _holds(column: Field, text: str) -> Expression:
    # Not by LIKE: serials hold % and _ as they are. SQLite lowers A to Z only.
    return (fn.REPLACE(column, text, "") != column) | (
        fn.REPLACE(fn.LOWER(column), text.lower(), "") != fn.LOWER(column)
    )
