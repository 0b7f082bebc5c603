"""A table as it was read from a file: headings, rows and cells as plain values."""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import date, datetime, time, timedelta
from decimal import Decimal

TEXT = "text"
NUMBER = "number"
DATE = "date"
PERCENT = "percent"
ERROR = "error"
EMPTY = "empty"
BOOL = "bool"
NO_VALUE = "formula-without-value"
COVERED = "covered-by-a-merge"

CellValue = str | Decimal | date | datetime | time | timedelta | bool | None


def column_letters(column: int) -> str:
    """Return the letters over column `column` (1 is A, 27 is AA)."""
    letters = ""
    while column > 0:
        column, rest = divmod(column - 1, 26)
        letters = chr(ord("A") + rest) + letters
    return letters


@dataclass(frozen=True, slots=True)
class Cell:
    """One cell: `text` as a person sees it with the blanks at both ends taken off, and its value.

    `value` is the text as it stood for text cells, a Decimal for numbers, the share (5 % is 0.05)
    for percent cells, a date, datetime, time or timedelta for date cells. `problem` says why the
    cell cannot be used; its value then is a text that is no number and no date. `shown_as` is
    "fraction" or "scientific" when the sheet dresses the number so. `row` and `column` count
    from 1.
    """

    text: str
    kind: str
    value: CellValue
    row: int
    column: int
    problem: str | None = None
    shown_as: str = ""

    @property
    def coordinate(self) -> str:
        """The cell's name in a spreadsheet, such as B3."""
        return f"{column_letters(self.column)}{self.row}"

    @property
    def is_empty(self) -> bool:
        """Whether nothing stands in the cell."""
        return self.kind == EMPTY


@dataclass(frozen=True, slots=True)
class Row:
    """One row: `number` as a spreadsheet counts it, its cells, and why it cannot be used at all."""

    number: int
    cells: tuple[Cell, ...]
    hidden: bool = False
    problem: str | None = None


@dataclass(frozen=True)
class Table:
    """A file's table. `notes` are sentences to be said aloud before anything is stored.

    `hidden_rows` counts the rows a filter hid; they are in `rows` (marked) unless the reader was
    told to leave them out. `kind` is "xlsx" or "csv"; `encoding` is a CSV file's, `sheet` a
    workbook's.
    """

    name: str
    headings: tuple[str, ...]
    rows: tuple[Row, ...]
    kind: str
    encoding: str | None = None
    notes: tuple[str, ...] = ()
    hidden_rows: int = 0
    hidden_rows_decided: bool = False
    sheet: str | None = None
    heading_row: int = 1
    other_sheets: tuple[str, ...] = field(default=())

    @property
    def asks_about_hidden_rows(self) -> bool:
        """Whether a person must still say if the hidden rows are meant."""
        return self.hidden_rows > 0 and not self.hidden_rows_decided
