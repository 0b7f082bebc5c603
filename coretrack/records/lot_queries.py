"""What the pages of purchased lots ask the tables, answered with plain values."""

# mypy: disable-error-code="index"
# peewee's stubs type every select as model rows, also after .tuples().

from __future__ import annotations

from peewee import fn

from coretrack.figures.trade_objects import Lot
from coretrack.records.kinds import KINDS
from coretrack.records.tables import CoreRow, LotRow

SORTING = "sorting"
"""The status of a purchased lot that was begun and is not taken in yet."""


def open_purchases() -> list[Lot]:
    """Return the purchased lots that are being sorted, the oldest first."""
    rows = (
        LotRow.select()
        .where(LotRow.kind == "purchase", LotRow.status == SORTING)
        .order_by(LotRow.received_on, LotRow.id)
    )
    return [KINDS["lot"].from_row(row) for row in rows]


def last_purchases(limit: int) -> list[Lot]:
    """Return the purchased lots that are no longer being sorted, the newest first."""
    rows = (
        LotRow.select()
        .where(LotRow.kind == "purchase", LotRow.status != SORTING)
        .order_by(LotRow.received_on.desc(), LotRow.id.desc())
        .limit(limit)
    )
    return [KINDS["lot"].from_row(row) for row in rows]


def pieces_by_number(lot: str) -> list[tuple[str, str, int, int, int]]:
    """Return a lot's cores by family and number: both names, cores, their price and freight."""
    rows = (
        CoreRow.select(
            CoreRow.family,
            CoreRow.number,
            fn.COUNT(CoreRow.id),
            fn.SUM(CoreRow.price),
            fn.SUM(CoreRow.freight),
        )
        .where(CoreRow.lot == lot)
        .group_by(CoreRow.family, CoreRow.number)
        .order_by(fn.MIN(CoreRow.id))
        .tuples()
    )
    return [(row[0], row[1], int(row[2]), int(row[3]), int(row[4])) for row in rows]
