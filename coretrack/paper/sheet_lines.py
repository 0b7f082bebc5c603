"""One sheet of a workbook that leaves: its cells, and rows that are built column by column."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal

from coretrack.figures.money import Money, to_decimal
from coretrack.figures.table import column_letters
from coretrack.paper.cells import Formula, Value

MONEY = "#,##0.00"
WHOLE = "#,##0"
RATE = "0.0%"

Cells = Sequence[Value | None]


@dataclass(frozen=True)
class Sheet:
    """One sheet: headings, rows, and by column the widths (characters) and number formats.

    `note` is put on the workbook's sheet "Notes".
    """

    title: str
    headings: tuple[str, ...]
    rows: Sequence[Cells]
    widths: tuple[float | None, ...] = ()
    note: str = ""
    formats: tuple[str | None, ...] = ()


def money_cell(amount: Money | None) -> Decimal | None:
    """Return money for a cell: exact, shown with two places by the format `MONEY`."""
    return None if amount is None else to_decimal(amount)


def rate_cell(rate: float | None) -> Decimal | None:
    """Return a rate 0..1 for a cell, `None` while it is unknown.

    With 15 digits, the most that a cell's number holds: with more it would be written as text.
    """
    return None if rate is None else Decimal(format(float(rate), ".15g"))


class SheetLines:
    """Builds the rows of a sheet column by column and knows every column's letters."""

    def __init__(self, columns: Sequence[tuple[str, str | None]]) -> None:
        self.headings = tuple(heading for heading, _ in columns)
        self.formats = tuple(number_format for _, number_format in columns)
        self.rows: list[Cells] = []

    def place(self, heading: str) -> str:
        """Return the cell under `heading` in the row that is written next."""
        return f"{column_letters(self.headings.index(heading) + 1)}{len(self.rows) + 2}"

    def formula(self, value: Decimal | int | None, pattern: str, **headings: str) -> Formula | None:
        """Return the formula `pattern` over cells of this row, None while its value is unknown."""
        if value is None:
            return None
        cells = {name: self.place(heading) for name, heading in headings.items()}
        return Formula(pattern.format(**cells), value)

    def total(self, heading: str, values: Sequence[Decimal | int]) -> Formula:
        """Return the sum of the column so far."""
        letters = column_letters(self.headings.index(heading) + 1)
        return Formula(f"=SUM({letters}2:{letters}{len(self.rows) + 1})", sum(values))

    def sheet(self, title: str, note: str) -> Sheet:
        """Return the finished sheet."""
        return Sheet(title, self.headings, self.rows, note=note, formats=self.formats)
