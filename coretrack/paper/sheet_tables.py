"""Reads one sheet of an .xlsx workbook row by row; the sheet's own idea of its size is not asked.

The XML is read as a stream with our own handlers, since the row's hidden mark, the digits as they
were stored and formulas without a value are all needed in one pass and in bounded memory.
"""

from __future__ import annotations

import re
from dataclasses import dataclass

from coretrack.errors import InvalidInput
from coretrack.figures.table import Cell, Row, column_letters
from coretrack.paper.merged_cells import with_covered_cells
from coretrack.paper.reading_limits import (
    LONGEST_TEXT,
    MOST_COLUMNS,
    Allowance,
    empty_cell,
    some,
)
from coretrack.paper.sheet_cells import StoredCell, read_cell
from coretrack.paper.workbook_parts import SheetEntry, Workbook, open_workbook

_LETTERS = re.compile(r"[A-Za-z]{1,3}")
_MOST_TRIED = 20


@dataclass(frozen=True)
class SheetTable:
    """What a sheet held, before the headings are checked."""

    headings: tuple[str, ...]
    rows: tuple[Row, ...]
    notes: tuple[str, ...]
    heading_row: int
    sheet: str
    other_sheets: tuple[str, ...]


def read_sheet(name: str, content: bytes, sheet: str | None = None) -> SheetTable:
    """Read `sheet`, or the first visible sheet that holds anything; InvalidInput if there is none.

    Notes say which sheet of several was read, hidden columns, merged cells and values that stand
    under no heading.
    """
    workbook = open_workbook(name, content)
    if sheet is not None:
        chosen = _named_sheet(name, workbook, sheet)
        reading = _SheetReading(name, workbook, chosen)
        reading.run()
    else:
        chosen, reading = _first_filled_sheet(name, workbook)
    if not reading.headings:
        raise InvalidInput(f"{name}: the sheet '{chosen.name}' is empty; nothing to read there.")
    others = tuple(entry.name for entry in workbook.sheets if entry is not chosen)
    return SheetTable(
        reading.headings,
        tuple(reading.rows),
        tuple(_sheet_notes(workbook, chosen) + reading.notes()),
        reading.heading_row,
        chosen.name,
        others,
    )


def _named_sheet(name: str, workbook: Workbook, sheet: str) -> SheetEntry:
    wanted = sheet.strip().casefold()
    for entry in workbook.sheets:
        if entry.name.strip().casefold() == wanted:
            return entry
    names = ", ".join(f"'{entry.name}'" for entry in workbook.sheets)
    raise InvalidInput(f"{name} has no sheet '{sheet}'; it has {names}.")


def _first_filled_sheet(name: str, workbook: Workbook) -> tuple[SheetEntry, _SheetReading]:
    visible = [entry for entry in workbook.sheets if not entry.hidden] or list(workbook.sheets)
    for entry in visible[:_MOST_TRIED]:
        reading = _SheetReading(name, workbook, entry)
        reading.run()
        if reading.headings:
            return entry, reading
    names = ", ".join(f"'{entry.name}'" for entry in visible)
    raise InvalidInput(f"{name}: nothing stands on its visible sheets ({names}).")


def _sheet_notes(workbook: Workbook, chosen: SheetEntry) -> list[str]:
    others = [
        f"'{entry.name}' (hidden)" if entry.hidden else f"'{entry.name}'"
        for entry in workbook.sheets
        if entry is not chosen
    ]
    if not others:
        return []
    hidden = " (a hidden sheet)" if chosen.hidden else ""
    return [f"sheet '{chosen.name}'{hidden} is read; not read: {', '.join(others)}"]


class _SheetReading:
    """Collects one sheet's rows while expat walks through its part."""

    def __init__(self, name: str, workbook: Workbook, entry: SheetEntry) -> None:
        self._name = name
        self._workbook = workbook
        self._entry = entry
        self._allowance = Allowance(name)
        self.headings: tuple[str, ...] = ()
        self.heading_row = 0
        self.rows: list[Row] = []
        self._hidden_columns: list[tuple[int, int]] = []
        self._merged: list[str] = []
        self._strays: list[str] = []
        self._in_data = False
        self._row = 0
        self._row_hidden = False
        self._cells: dict[int, Cell] = {}
        self._column = 0
        self._columns: dict[str, int] = {}
        self._attributes: dict[str, str] = {}
        self._has_formula = False
        self._phonetic = False
        self._target: list[str] | None = None
        self._value: list[str] = []
        self._inline: list[str] = []

    def run(self) -> None:
        """Read the whole part."""
        self._workbook.package.parse(self._entry.part, self._start, self._end, self._text)
        self.rows = list(with_covered_cells(self._name, self.rows, self._merged))

    def _start(self, element: str, attributes: dict[str, str]) -> None:
        if self._in_data:
            self._start_in_data(element, attributes)
        elif element == "sheetData":
            self._in_data = True
        elif element == "col":
            if attributes.get("hidden") in {"1", "true"} or _is_nothing(attributes.get("width")):
                first, last = attributes.get("min", ""), attributes.get("max", "")
                if first.isdigit() and last.isdigit():
                    self._hidden_columns.append((int(first), int(last)))
        elif element == "mergeCell":
            self._merged.append(attributes.get("ref", ""))

    def _start_in_data(self, element: str, attributes: dict[str, str]) -> None:
        if element == "c":
            self._attributes = attributes
            self._column = self._column_of(attributes.get("r"))
            self._has_formula = False
            self._value.clear()
            self._inline.clear()
        elif element == "v":
            self._target = self._value
        elif element == "t":
            self._target = None if self._phonetic else self._inline
        elif element == "f":
            self._has_formula = True
        elif element == "rPh":
            self._phonetic = True
        elif element == "row":
            number = attributes.get("r", "")
            self._row = int(number) if number.isdigit() else self._row + 1
            self._row_hidden = attributes.get("hidden") in {"1", "true"} or _is_nothing(
                attributes.get("ht")
            )
            self._column = 0
            self._cells = {}

    def _column_of(self, place: str | None) -> int:
        if not place:
            return self._column + 1
        letters = place.rstrip("0123456789")
        column = self._columns.get(letters)
        if column is None:
            if not _LETTERS.fullmatch(letters):
                raise self._workbook.package.damaged(f"cell {place}")
            column = 0
            for letter in letters.upper():
                column = column * 26 + ord(letter) - ord("A") + 1
            self._columns[letters] = column
        return column

    def _text(self, data: str) -> None:
        if self._target is not None:
            self._target.append(data)

    def _end(self, element: str) -> None:
        if not self._in_data:
            return
        if element in {"v", "t"}:
            self._target = None
        elif element == "c":
            self._finish_cell()
        elif element == "row":
            self._finish_row()
        elif element == "rPh":
            self._phonetic = False
        elif element == "sheetData":
            self._in_data = False

    def _finish_cell(self) -> None:
        style = self._attributes.get("s", "0")
        stored = StoredCell(
            self._row,
            self._column,
            self._attributes.get("t", "n"),
            int(style) if style.isdigit() else 0,
            self._has_formula,
            "".join(self._value),
            "".join(self._inline),
        )
        cell = read_cell(stored, self._workbook)
        if len(cell.text) > LONGEST_TEXT:
            raise InvalidInput(
                f"{self._name}: cell {cell.coordinate} holds {len(cell.text):,} characters; at "
                f"most {LONGEST_TEXT:,} are read. Shorten it, or take the column out."
            )
        if not cell.is_empty:
            self._allowance.check_width(self._column)
            self._cells[self._column] = cell

    def _finish_row(self) -> None:
        if not self._cells:
            return
        if not self.headings:
            width = max(self._cells)
            self.headings = tuple(
                " ".join(self._cells[column].text.split()) if column in self._cells else ""
                for column in range(1, width + 1)
            )
            self.heading_row = self._row
            return
        width = len(self.headings)
        cells = tuple(
            self._cells.get(column) or empty_cell(self._row, column)
            for column in range(1, width + 1)
        )
        self._strays.extend(
            cell.coordinate
            for column, cell in self._cells.items()
            if column > width or not self.headings[column - 1]
        )
        if any(not cell.is_empty for cell in cells):
            self._allowance.take(width)
            self.rows.append(Row(self._row, cells, hidden=self._row_hidden))

    def notes(self) -> list[str]:
        """Return what a person should know about this sheet."""
        notes: list[str] = []
        hidden = [
            column_letters(column)
            for first, last in self._hidden_columns
            for column in range(first, min(last, MOST_COLUMNS) + 1)
            if column <= len(self.headings)
        ]
        if hidden:
            notes.append(f"hidden columns are read too: {some(hidden)}")
        if self._merged:
            notes.append(
                f"merged cells hold their value only in the first cell: {some(self._merged)}"
            )
        if self._strays:
            notes.append(f"values without a heading are not read: {some(self._strays)}")
        return notes


def _is_nothing(size: str | None) -> bool:
    """A row or column dragged to no height is hidden as well."""
    return size is not None and re.fullmatch(r"0+(?:\.0*)?", size) is not None
