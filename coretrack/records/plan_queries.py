"""What the plan editor asks: versions, who stored them, what uses them, first inspections."""

# mypy: disable-error-code="has-type, misc, index, arg-type"
# peewee's stubs type every select as model rows, also after .tuples() and .dicts().

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Any

from peewee import chunked, fn

from coretrack.figures.trade_objects import Criteria, Number, PlanVersion
from coretrack.records.bench_tables import ReadingRow
from coretrack.records.kinds import KINDS
from coretrack.records.tables import (
    CoreRow,
    CriteriaRow,
    EventRow,
    LineRow,
    NumberRow,
    PlanRow,
)

_CHUNK = 400


@dataclass(frozen=True)
class Stored:
    """Who stored a version and when; `at` is UTC text."""

    at: str
    by: str


@dataclass(frozen=True)
class FirstReading:
    """One reading of a core's first inspection; `value` in millionths, `read_at` UTC text."""

    tag: str
    check: str
    value: int | None
    result: str
    read_at: str


def numbers_of(family: str) -> list[Number]:
    """Return a family's numbers by core group and number."""
    rows = NumberRow.select().where(NumberRow.family == family)
    numbers = [KINDS["number"].from_row(row) for row in rows]
    return sorted(numbers, key=lambda number: (number.core_group, number.key))


def plan_versions(family: str) -> list[PlanVersion]:
    """Return all versions of a family's plan, oldest first."""
    rows = PlanRow.select().where(PlanRow.family == family).order_by(PlanRow.number)
    return [KINDS["plan"].from_row(row) for row in rows]


def criteria_versions(family: str) -> list[Criteria]:
    """Return all versions of a family's criteria for acceptance, oldest first."""
    rows = CriteriaRow.select().where(CriteriaRow.family == family).order_by(CriteriaRow.number)
    return [KINDS["criteria"].from_row(row) for row in rows]


def stored_by(kind: str, keys: Iterable[str]) -> dict[str, Stored]:
    """Return who stored each of these objects first, and when."""
    rows = EventRow.select().where(
        EventRow.object_kind == kind, EventRow.object_key.in_(list(keys)), EventRow.sequence == 1
    )
    return {row.object_key: Stored(row.at, row.by) for row in rows}


def cores_by_plan() -> dict[tuple[str, int], int]:
    """Return how many cores were inspected under each plan, by family and version."""
    rows = (
        CoreRow.select(CoreRow.family, CoreRow.plan_version, fn.COUNT(CoreRow.id))
        .where(CoreRow.plan_version > 0)
        .group_by(CoreRow.family, CoreRow.plan_version)
        .tuples()
    )
    return {(family, int(version)): int(count) for family, version, count in rows}


def lines_by_criteria() -> dict[tuple[str, int], int]:
    """Return how many core lines were sold under each version of criteria, by family, version."""
    rows = (
        LineRow.select(LineRow.family, LineRow.criteria_version, fn.COUNT(LineRow.id))
        .group_by(LineRow.family, LineRow.criteria_version)
        .tuples()
    )
    return {(family, int(version)): int(count) for family, version, count in rows}


def first_readings(family: str, cores: int) -> list[FirstReading]:
    """Return the readings of the first inspection of a family's newest `cores` inspected cores."""
    newest = (
        CoreRow.select(CoreRow.tag)
        .where(CoreRow.family == family, CoreRow.inspections > 0)
        .order_by(CoreRow.id.desc())
        .limit(cores)
    )
    found: list[FirstReading] = []
    for tags in chunked([row.tag for row in newest], _CHUNK):
        rows: Any = (
            ReadingRow.select()
            .where(ReadingRow.tag.in_(list(tags)), ReadingRow.inspection == 1)
            .order_by(ReadingRow.id)
        )
        found += [
            FirstReading(row.tag, row.check_code, row.value, row.result, row.read_at)
            for row in rows
        ]
    return found
