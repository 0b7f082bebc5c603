"""Sizes that a sender states in a manifest: kept beside the core, never used to grade it."""

from __future__ import annotations

from decimal import Decimal
from typing import Any

from coretrack.figures.columns import CellProblem, reading_text, split_unit
from coretrack.figures.limits import plain_text, to_micro
from coretrack.figures.readings import Reading, read_reading
from coretrack.figures.table import Row
from coretrack.figures.table_values import RowProblem, Values
from coretrack.figures.units import convert, dimension_of


def stated_sizes(values: Values, row: Row) -> list[dict[str, Any]]:
    """Return what a row states as measured: columns nobody asked for whose heading names a unit.

    Each has its `name`, the text as `typed`, its `value` in the heading's `unit`, and lengths the
    same in `millimetres`. RowProblem names a cell that is no reading.
    """
    found = []
    for heading in values.columns.unknown if values.measures else ():
        name, unit = split_unit(heading)
        cell = values.cell(row, heading)
        if unit is None or cell.is_empty:
            continue
        try:
            text = reading_text(cell)
        except CellProblem as problem:
            raise RowProblem(heading, cell.text, str(problem)) from None
        answer = read_reading(text, unit=unit, decimal_mark=values.decimal_mark)
        if not isinstance(answer, Reading):
            raise RowProblem(heading, cell.text, answer.text)
        found.append(_said(name, cell.text, answer))
    return found


def _said(name: str, typed: str, reading: Reading) -> dict[str, Any]:
    size = plain_text(reading.value)
    said: dict[str, Any] = {"name": name, "typed": typed, "value": size, "unit": reading.unit}
    if dimension_of(reading.unit) == dimension_of("mm"):
        said["millimetres"] = plain_text(to_micro(convert(Decimal(size), reading.unit, "mm")))
    return said
