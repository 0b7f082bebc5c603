"""What the gauges' pages ask: one gauge, what it measured since a moment, its studies."""

# mypy: disable-error-code="has-type, misc, index, arg-type"
# peewee's stubs type every select as model rows, also after .tuples() and .dicts().

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from coretrack.figures.bench_objects import GaugeStudy
from coretrack.figures.trade_objects import Gauge
from coretrack.records.bench_tables import GaugeStudyRow, ReadingRow
from coretrack.records.kinds import KINDS
from coretrack.records.statements import rows_with
from coretrack.records.unseen import unseen


@dataclass(frozen=True)
class Measured:
    """One reading as a gauge's list shows it; `read_at` is UTC text."""

    tag: str
    check: str
    typed: str
    overdue: bool
    read_at: str


def gauge(code: str) -> Gauge | None:
    """Return the gauge with exactly this code, or None."""
    rows = rows_with(KINDS["gauge"].table, "key", code)
    return KINDS["gauge"].from_row(rows[0]) if rows else None


def names_read_with() -> list[str]:
    """Return every gauge that a reading names, as it was written there."""
    rows = ReadingRow.select(ReadingRow.gauge).distinct().where(ReadingRow.gauge != "")
    return sorted(row.gauge for row in rows)


def measured_with(names: Sequence[str], since: str, overdue_only: bool = False) -> list[Measured]:
    """Return what gauges written like this read from a moment on (UTC text, "" from the first)."""
    if not names:
        return []
    query = _read_with(names, since, overdue_only).where(ReadingRow.tag.not_in(list(unseen())))
    return [
        Measured(row.tag, row.check_code, row.typed, row.gauge_overdue, row.read_at)
        for row in query.order_by(ReadingRow.read_at, ReadingRow.id)
    ]


def measured_unseen(names: Sequence[str], since: str = "", overdue_only: bool = False) -> int:
    """Return how many cores `measured_with` leaves out, since their second look is to be blind."""
    hidden = unseen()
    if not names or not hidden:
        return 0
    query = _read_with(names, since, overdue_only).where(ReadingRow.tag.in_(list(hidden)))
    return len({row.tag for row in query})


def _read_with(names: Sequence[str], since: str, overdue_only: bool) -> Any:
    query = ReadingRow.select().where(ReadingRow.gauge.in_(list(names)))
    if since:
        query = query.where(ReadingRow.read_at >= since)
    if overdue_only:
        query = query.where(ReadingRow.gauge_overdue == True)  # noqa: E712 - SQL, not Python
    return query


def study(key: str) -> GaugeStudy | None:
    """Return one study, or None."""
    rows = rows_with(GaugeStudyRow, "key", key)
    return KINDS["gauge study"].from_row(rows[0]) if rows else None


def studies_of(gauge_code: str) -> list[GaugeStudy]:
    """Return a gauge's studies, newest first."""
    rows = (
        GaugeStudyRow.select()
        .where(GaugeStudyRow.gauge == gauge_code)
        .order_by(GaugeStudyRow.id.desc())
    )
    return [KINDS["gauge study"].from_row(row) for row in rows]


def open_studies() -> list[GaugeStudy]:
    """Return the studies that are still being measured, oldest first."""
    rows = GaugeStudyRow.select().where(GaugeStudyRow.status == "open").order_by(GaugeStudyRow.id)
    return [KINDS["gauge study"].from_row(row) for row in rows]
