"""Marks the cells that a merged area covers: only its first cell holds the value.

Whether the value is meant for every covered row, nobody can know; such a cell is neither empty nor
filled, so a row that needs it is refused.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from dataclasses import replace

from coretrack.errors import InvalidInput
from coretrack.figures.table import COVERED, Cell, Row, column_letters
from coretrack.paper.reading_limits import MOST_CELLS, MOST_COLUMNS

_AREA = re.compile(r"(?a)\$?([A-Z]{1,3})\$?(\d{1,7}):\$?([A-Z]{1,3})\$?(\d{1,7})")
_LETTERS_VALUE = {chr(ord("A") + place): place + 1 for place in range(26)}


def with_covered_cells(name: str, rows: Sequence[Row], areas: Sequence[str]) -> tuple[Row, ...]:
    """Return `rows` with the empty cells that one of the merged `areas` covers marked so.

    `areas` are written like `B2:B5`; what is written otherwise is passed over. InvalidInput when
    the areas are so many and large that no honest sheet holds them.
    """
    if not areas or not rows:
        return tuple(rows)
    by_number = {row.number: place for place, row in enumerate(rows)}
    marked: dict[int, dict[int, Cell]] = {}
    steps = 0
    for area in areas:
        found = _AREA.fullmatch(area.upper())
        if found is None:
            continue
        left, right = _column(found[1]), min(_column(found[3]), MOST_COLUMNS)
        top = int(found[2])
        for number in _numbers(top, int(found[4]), by_number):
            steps += max(right - left + 1, 1)
            if steps > MOST_CELLS:
                raise InvalidInput(f"{name} has too many merged cells; take the merges apart.")
            place = by_number[number]
            for column in range(left, right + 1):
                first = (number, column) == (top, left)
                if not first and column <= len(rows[place].cells):
                    cell = rows[place].cells[column - 1]
                    if cell.is_empty:
                        marked.setdefault(place, {})[column] = _covered(cell, found)
    return tuple(
        _with_cells(row, marked[place]) if place in marked else row
        for place, row in enumerate(rows)
    )


def _column(letters: str) -> int:
    column = 0
    for letter in letters:
        column = column * 26 + _LETTERS_VALUE[letter]
    return column


def _numbers(first: int, last: int, by_number: dict[int, int]) -> Iterator[int]:
    """Yield the rows from `first` to `last` that exist, whichever way is shorter."""
    if last - first < len(by_number):
        yield from (number for number in range(first, last + 1) if number in by_number)
    else:
        yield from (number for number in by_number if first <= number <= last)


def _covered(cell: Cell, area: re.Match[str]) -> Cell:
    where = f"{column_letters(cell.column)}{cell.row}"
    problem = (
        f"cell {where} lies in the merged area {area.group()}, whose value stands in "
        f"{area[1]}{area[2]} only; take the merge apart and fill in every row"
    )
    return Cell("", COVERED, "a covered cell", cell.row, cell.column, problem=problem)


def _with_cells(row: Row, cells: dict[int, Cell]) -> Row:
    return replace(
        row,
        cells=tuple(cells.get(column, cell) for column, cell in enumerate(row.cells, start=1)),
    )
