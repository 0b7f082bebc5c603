"""Questions about single cores, their history, and the codes printed on cards."""

# mypy: disable-error-code="has-type, misc, index, arg-type"
# peewee's stubs type every select as model rows, also after .tuples() and .dicts().

from __future__ import annotations

import json
from dataclasses import dataclass
from functools import reduce
from operator import or_
from typing import Any

from peewee import Expression, Field, fn

from coretrack.figures.lifecycle import CoreFacts
from coretrack.figures.trade_objects import Criteria, LabelStock, Line, Place, Reason
from coretrack.records.kinds import KINDS
from coretrack.records.statements import rows_with
from coretrack.records.tables import (
    CoreRow,
    CriteriaRow,
    EventRow,
    LabelStockRow,
    LineRow,
    OnceRow,
    PlaceRow,
    ReasonRow,
)


@dataclass(frozen=True)
class Happened:
    """One event of an object as it was told; `at` is UTC text."""

    event: str
    at: str
    by: str
    station: str
    why: str
    detail: dict[str, Any]


def history(kind: str, key: str) -> list[Happened]:
    """Return everything that happened to an object, oldest first."""
    rows = (
        EventRow.select()
        .where(EventRow.object_kind == kind, EventRow.object_key == key)
        .order_by(EventRow.sequence)
    )
    return [_happened(row) for row in rows]


def _happened(row: Any) -> Happened:
    body = json.loads(row.body)
    return Happened(
        row.event, row.at, row.by, body.get("station", ""), body.get("why", ""), body["detail"]
    )


def answer_given(key: str) -> str | None:
    """Return the answer given to the form or scan with this key, or None."""
    row = OnceRow.get_or_none(OnceRow.key == key)
    return row.answer if row else None


def reasons() -> list[Reason]:
    """Return the faults that have a number, by it."""
    return [KINDS["reason"].from_row(row) for row in ReasonRow.select().order_by(ReasonRow.number)]


def line(key: str) -> Line | None:
    """Return one core line, or None."""
    rows = rows_with(LineRow, "key", key)
    return KINDS["line"].from_row(rows[0]) if rows else None


def criteria(family: str, number: int) -> Criteria | None:
    """Return one version of a family's acceptance faults, or None."""
    rows = rows_with(CriteriaRow, "key", f"{family}/{number}")
    return KINDS["criteria"].from_row(rows[0]) if rows else None


def places() -> list[Place]:
    """Return all bins, baskets and racks, by kind and number."""
    rows = PlaceRow.select().order_by(PlaceRow.kind, PlaceRow.number)
    return [KINDS["place"].from_row(row) for row in rows]


def label_stock(name: str) -> LabelStock | None:
    """Return what is known of a stock of labels in use, or None."""
    row = LabelStockRow.get_or_none(LabelStockRow.key == name)
    return KINDS["label stock"].from_row(row) if row else None


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
