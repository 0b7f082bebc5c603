"""The values of an imported table, cell by cell: codes, numbers, money, days, moments.

A column is read in one way from top to bottom: one decimal mark, one order of day and month. What
cannot be read raises `RowProblem` naming the column, the value and what would be right.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, field
from datetime import date, datetime, timedelta
from decimal import Decimal
from typing import Any, TypeVar
from zoneinfo import ZoneInfo

from coretrack.errors import InvalidInput
from coretrack.figures.amounts import parse_amount
from coretrack.figures.columns import (
    REJECT_HEADINGS,
    Column,
    ColumnMap,
    code_text,
    count,
    fold_heading,
    match_columns,
    number,
    percent,
    quantity,
    reading_text,
    split_unit,
    yes,
)
from coretrack.figures.dates import AmbiguousDates, column_dates, column_times
from coretrack.figures.money import Money, from_decimal
from coretrack.figures.numbers import (
    AmbiguousNumber,
    NotANumber,
    column_decimal_mark,
    parse_number,
)
from coretrack.figures.part_numbers import clean_number
from coretrack.figures.table import TEXT, Cell, Row, Table

Found = TypeVar("Found", date, datetime)

_MOMENT = re.compile(r"\d{4}-\d\d-\d\d[T ]\d\d:\d\d.*(?:Z|[+-]\d\d:?\d\d)")

A_YEAR = timedelta(days=366)
"""A date this far ahead is a slip of the pen, or of the clock."""

LARGEST_COUNT = 1_000_000
"""A larger count in a shop's file is a slip, or a code in the wrong column."""


LARGEST_AMOUNT = 10_000_000
"""An amount in a number cell from here on is a slip, or a code in the wrong column."""


class RowProblem(Exception):
    """A cell that cannot be used: `column` is its heading, `value` what stands in it."""

    def __init__(self, column: str, value: str, why: str) -> None:
        super().__init__(why)
        self.column = column
        self.value = value


@dataclass
class Values:
    """A table with its columns found.

    `order` ("day first", "month first") and `decimal_mark` (".", ",") are what a person said
    about the file, None where it must tell itself. `zone` is the shop's, for times without an
    offset. `measures` keeps unknown columns that name a unit as stated measurements. `today` is
    the shop's day, where dates ahead of it matter; `ahead` collects the rows that have one.
    """

    table: Table
    columns: ColumnMap
    order: str | None
    decimal_mark: str | None
    zone: ZoneInfo
    measures: bool
    mentions: bool
    today: date | None = None
    ahead: set[int] = field(default_factory=set)
    _wanted: dict[str, Column] = field(default_factory=dict)
    _days: dict[str, dict[int, date | str]] = field(default_factory=dict)
    _moments: dict[str, dict[int, datetime | str]] = field(default_factory=dict)
    _marks: dict[str, str | None] = field(default_factory=dict)

    @classmethod
    def of(
        cls,
        table: Table,
        wanted: Sequence[Column],
        *,
        order: str | None = None,
        decimal_mark: str | None = None,
        zone: str = "UTC",
        measures: bool = False,
        mentions: bool = True,
        one_of: Sequence[str] = (),
    ) -> Values:
        """Find the `wanted` columns; InvalidInput when one is missing, doubled or contradictory.

        At least one of the columns `one_of` must be there. With `mentions` false, columns nobody
        asked for are somebody else's business.
        """
        try:
            found = match_columns(table.headings, wanted, one_of)
            values = cls(table, found, order, decimal_mark, ZoneInfo(zone), measures, mentions)
            for column in wanted:
                if found.has(column.key):
                    values._wanted[column.key] = column
                    values._prepare(column)
        except InvalidInput as error:
            message = f"{table.name}: {error.message}{_which_sheet(table)}"
            raise InvalidInput(message, error.fields) from None
        return values

    def problem(self, row: Row) -> RowProblem | None:
        """Return what is wrong with a damaged cell of a wanted column, None when all are whole.

        A formula without a value or an error value is no empty cell, whatever the column holds.
        """
        for key in self._wanted:
            for cell in self.columns.cells(row, key):
                if cell.problem:
                    return RowProblem(self.table.headings[cell.column - 1], cell.text, cell.problem)
        return None

    def has(self, key: str) -> bool:
        """Return whether the file has the column."""
        return self.columns.has(key)

    def heading(self, key: str) -> str:
        """Return the column's heading as the file writes it, or its key when there is none."""
        return self.columns.heading(key) if self.has(key) else key

    def text(self, row: Row, key: str) -> str:
        """Return what stands in the cell, "" when there is no such column."""
        cell = self.columns.cell(row, key)
        return "" if cell is None else cell.text

    def raw(self, row: Row, key: str) -> str:
        """Return a reading's text as typed; RowProblem for cells no gauge fills."""
        cell = self.columns.cell(row, key)
        if cell is None:
            return ""
        with self._blaming(key, cell):
            return reading_text(cell)

    def code(self, row: Row, key: str, required: bool = True) -> str:
        """Return a part number, serial or other code exactly as typed, fit to be stored."""
        cell = self.columns.cell(row, key)
        if cell is None or cell.is_empty:
            self._refuse_missing(key, required)
            return ""
        with self._blaming(key, cell):
            return clean_number(code_text(cell), self.heading(key))

    def number(self, row: Row, key: str, required: bool = True) -> Decimal | None:
        """Return a number in its column's unit, None for an empty cell that need not be filled."""
        cell = self.columns.cell(row, key)
        if cell is None or cell.is_empty:
            self._refuse_missing(key, required)
            return None
        with self._blaming(key, cell):
            mark, unit = self._marks.get(key), self._wanted[key].unit
            if not unit:
                return number(cell, decimal_mark=mark)
            heading_unit = self.columns.unit(key)
            return quantity(cell, unit, heading_unit=heading_unit, decimal_mark=mark)

    def count(self, row: Row, key: str, required: bool = True) -> int | None:
        """Return a whole number of zero or more."""
        cell = self.columns.cell(row, key)
        if cell is None or cell.is_empty:
            self._refuse_missing(key, required)
            return None
        with self._blaming(key, cell):
            found = count(cell)
        if found is not None and found > LARGEST_COUNT:
            raise RowProblem(
                self.heading(key),
                cell.text,
                f"looks like a code, not a count up to {LARGEST_COUNT}",
            )
        return found

    def share(self, row: Row, key: str, required: bool = True) -> Decimal | None:
        """Return a percentage as a share (5 % is 0.05); a bare number is asked back."""
        cell = self.columns.cell(row, key)
        if cell is None or cell.is_empty:
            self._refuse_missing(key, required)
            return None
        with self._blaming(key, cell):
            return percent(cell, decimal_mark=self.decimal_mark)

    def money(self, row: Row, key: str, required: bool = True) -> Money | None:
        """Return an amount in ten-thousandths of the currency unit."""
        cell = self.columns.cell(row, key)
        if cell is None or cell.is_empty:
            self._refuse_missing(key, required)
            return None
        with self._blaming(key, cell):
            if cell.kind == TEXT:
                return parse_amount(
                    cell.text, decimal_mark=self._marks.get(key), allow_negative=True
                )
            found = number(cell)
            if found is not None and abs(found) >= LARGEST_AMOUNT:
                raise ValueError(f"this is no amount a shop deals in (under {LARGEST_AMOUNT:,})")
            return None if found is None else from_decimal(found)

    def yes(self, row: Row, key: str) -> bool:
        """Return whether the cell says yes; an empty cell or missing column says no."""
        cell = self.columns.cell(row, key)
        if cell is None:
            return False
        with self._blaming(key, cell):
            return yes(cell)

    def day(self, row: Row, key: str, required: bool = True) -> Any:
        """Return a day (date), None for an empty cell that need not be filled."""
        return self._dated(row, key, required, self._days)

    def moment(self, row: Row, key: str, required: bool = True) -> Any:
        """Return an aware UTC moment, None for an empty cell that need not be filled."""
        return self._dated(row, key, required, self._moments)

    def unknown_headings(self) -> tuple[str, ...]:
        """Return the headings that no wanted column has."""
        return self.columns.unknown

    def cell(self, row: Row, heading: str) -> Cell:
        """Return the cell under a heading that nobody asked for."""
        return row.cells[self.table.headings.index(heading)]

    def words(self, row: Row) -> dict[str, str]:
        """Return what a row says in one spelling, so that a file saved anew says the same.

        Known columns go by their keys; the columns that a rejects file adds do not count.
        """
        keys = {places[0]: key for key, places in self.columns.places.items()}
        said: dict[str, str] = {}
        for place, heading in enumerate(self.table.headings):
            cell = row.cells[place]
            if cell.is_empty or not fold_heading(heading):
                continue
            if place not in keys:
                if heading.casefold() not in REJECT_HEADINGS:
                    said[f"'{fold_heading(heading)}'"] = _plain_word(cell)
                continue
            word = self._word(row, keys[place], cell)
            unit = self.columns.unit(keys[place])
            column = self._wanted[keys[place]]
            measured = unit if column.kind != "money" and not column.unit else None
            if word:
                said[keys[place]] = f"{word} {measured}" if measured else word
        return said

    def _word(self, row: Row, key: str, cell: Cell) -> str:
        """Return the cell in the one spelling its kind has; as it stands if it cannot be read."""
        try:
            match self._wanted[key].kind:
                case "code":
                    return self.code(row, key)
                case "number":
                    return f"{(self.number(row, key) or Decimal(0)).normalize():f}"
                case "count" | "money" as kind:
                    found = self.count(row, key) if kind == "count" else self.money(row, key)
                    return str(found)
                case "yes":
                    return "yes" if self.yes(row, key) else ""
                case "date":
                    return str(self.day(row, key).isoformat())
                case "time":
                    return str(self.moment(row, key).isoformat())
        except RowProblem:
            return cell.text
        return _plain_word(cell)

    def notes(self) -> list[str]:
        """Return what to say about the file's columns before anything is stored."""
        unknown = self.columns.unknown if self.mentions else ()
        kept = [h for h in unknown if self.measures and split_unit(h)[1]]
        unused = [h for h in unknown if h not in kept]
        notes = []
        if kept:
            notes.append(f"kept as stated by the sender, not used for grading: {', '.join(kept)}")
        if unused:
            notes.append(f"columns not used: {', '.join(unused)}")
        return notes

    def _prepare(self, column: Column) -> None:
        cells = [self.columns.cell(row, column.key) for row in self.table.rows]
        shown: list[Any] = [None if c is None or c.problem else c.value for c in cells]
        try:
            if column.kind == "date":
                days = column_dates([self._shop_day(cell) for cell in shown], order=self.order)
                self._days[column.key] = self._by_row(days.dates, days.problems)
            elif column.kind == "time":
                times = column_times(shown, self.zone, order=self.order)
                self._moments[column.key] = self._by_row(times.times, times.problems)
            elif column.kind in ("money", "number", "count"):
                texts = [c.text for c in cells if c is not None and c.kind == TEXT]
                # A mass or minutes has no thousands: there every lone mark is a decimal mark.
                self._marks[column.key] = self.decimal_mark or column_decimal_mark(
                    texts, allow_thousands=column.kind != "number"
                )
        except AmbiguousDates as error:
            raise InvalidInput(
                f"Column '{self.heading(column.key)}': {error}. "
                "Say how it is meant: --dates day-first or --dates month-first.",
                {"dates": "day first or month first"},
            ) from None
        except AmbiguousNumber as error:
            raise InvalidInput(
                f"Column '{self.heading(column.key)}': {error}.", {"decimal": "one mark throughout"}
            ) from None

    def _shop_day(self, value: Any) -> Any:
        """Return the shop's day of a moment written with its offset; anything else as it is."""
        if not isinstance(value, str) or not _MOMENT.fullmatch(value.strip()):
            return value
        try:
            return datetime.fromisoformat(value.strip()).astimezone(self.zone).date()
        except ValueError:
            return value

    def _by_row(
        self, found: Sequence[Found | None], problems: dict[int, str]
    ) -> dict[int, Found | str]:
        by_row: dict[int, Found | str] = {}
        for place, row in enumerate(self.table.rows):
            value = found[place]
            if place in problems:
                by_row[row.number] = problems[place]
            elif value is not None:
                by_row[row.number] = value
        return by_row

    def _refuse_far_future(self, row: Row, key: str, value: date | datetime) -> None:
        """Refuse a date over a year ahead; one that is merely ahead is said in the notes."""
        if self.today is None:
            return
        day = value.astimezone(self.zone).date() if isinstance(value, datetime) else value
        if day > self.today + A_YEAR:
            raise RowProblem(
                self.heading(key),
                self.text(row, key),
                f"this lies over a year ahead of today ({self.today.isoformat()}); "
                "check the date, or this computer's clock",
            )
        if day > self.today:
            self.ahead.add(row.number)

    def _dated(self, row: Row, key: str, required: bool, found: dict[str, dict[int, Any]]) -> Any:
        cell = self.columns.cell(row, key)
        value = cell.problem if cell and cell.problem else found.get(key, {}).get(row.number)
        if isinstance(value, str):
            raise RowProblem(self.heading(key), self.text(row, key), value)
        if value is None:
            self._refuse_missing(key, required)
        else:
            self._refuse_far_future(row, key, value)
        return value

    def _refuse_missing(self, key: str, required: bool) -> None:
        if required:
            raise RowProblem(self.heading(key), "", "nothing is written here and it is needed")

    @contextmanager
    def _blaming(self, key: str, cell: Cell) -> Iterator[None]:
        """Turn what is wrong with a cell into a RowProblem of its column."""
        try:
            yield
        except ValueError as error:
            raise RowProblem(self.heading(key), cell.text, str(error)) from None


def _which_sheet(table: Table) -> str:
    """Return which sheet of a workbook was read and what else there is, empty for a lone one."""
    if not table.other_sheets:
        return ""
    others = ", ".join(f"'{name}'" for name in table.other_sheets)
    return f" Sheet '{table.sheet}' was read; the file also holds {others} (--sheet)."


def _plain_word(cell: Cell) -> str:
    """Return a cell's number without the zeros a spreadsheet drops, or its words, blanks closed."""
    try:
        return f"{parse_number(cell.text, comma_is_decimal=True).normalize():f}"
    except NotANumber:
        return " ".join(cell.text.split())
