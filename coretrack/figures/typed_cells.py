"""Takes a cell as what its column wants: code, number, percentage, count, yes or no.

A spreadsheet may have turned what was typed into something else (3-1 into a date, a long serial
into a rounded number). Each reader refuses such a cell and says how to put it right.
"""

from __future__ import annotations

import re
import unicodedata
from decimal import Decimal

from coretrack.figures.numbers import NotANumber, parse_number, quoted
from coretrack.figures.table import BOOL, DATE, NUMBER, PERCENT, TEXT, Cell
from coretrack.figures.units import convert, split_quantity, unit_after_number

AS_TEXT = "mark the column as text and type it again"

_YES = frozenset({"yes", "y", "x", "true", "1", "✓", "✔"})
_NO = frozenset({"", "no", "n", "false", "0", "-", "–"})


_MONTHS = "jan|feb|mar|mrz|mär|apr|may|mai|jun|jul|aug|sep|oct|okt|nov|dec|dez"
_MANGLED = re.compile(
    rf"\d[.,]\d+E\+\d{{1,3}}|\d{{1,2}}[-. ]{{1,2}}(?:{_MONTHS})\.?|(?:{_MONTHS})\.?[- ]\d{{2}}",
    re.IGNORECASE,
)
"""What spreadsheets leave of long digits and of codes like 3-1 when they save text. A bare 1E10
stays: it is a part number as often as not."""


class CellProblem(ValueError):
    """A cell that cannot be used; `str()` names the cell and what would be right."""

    def __init__(self, cell: Cell, message: str) -> None:
        super().__init__(message)
        self.cell = cell
        self.value = cell.text


def code_text(cell: Cell) -> str:
    """Return a part number, serial or other code exactly as typed, "" for an empty cell.

    A number cell counts when it is a whole number shown plainly (3.0 is 3). Raises CellProblem
    for dates, percentages, fractions, powers of ten, decimals and damaged numbers.
    """
    _refuse_problem(cell)
    where = f"cell {cell.coordinate}"
    if cell.kind == DATE:
        raise CellProblem(
            cell,
            f"{where} holds a date ({cell.text}), not a code; the spreadsheet turned what was "
            f"typed into a date: {AS_TEXT}",
        )
    if cell.kind in {PERCENT, BOOL}:
        what = "a percentage" if cell.kind == PERCENT else "a truth value"
        raise CellProblem(cell, f"{where} holds {what} ({cell.text}), not a code; {AS_TEXT}")
    if cell.kind == NUMBER:
        if cell.shown_as:
            what = "a fraction" if cell.shown_as == "fraction" else "a power of ten"
            raise CellProblem(
                cell,
                f"{where} holds the number {cell.text} shown as {what}, so the code that was typed "
                f"is lost; {AS_TEXT}",
            )
        if not cell.text.isdigit():
            raise CellProblem(
                cell,
                f"{where} holds the number {cell.text}; a code in a number cell loses zeros at its "
                f"ends: {AS_TEXT}",
            )
        return cell.text
    if _MANGLED.fullmatch(cell.text):
        raise CellProblem(
            cell,
            f"{where} holds {cell.text}, which looks like a code that a spreadsheet turned into a "
            f"number or a date before the file was saved; {AS_TEXT}",
        )
    return "".join(" " if unicodedata.category(sign) == "Zs" else sign for sign in cell.text)


def number(
    cell: Cell, *, decimal_mark: str | None = None, allow_thousands: bool = False
) -> Decimal | None:
    """Return a number cell's value, or the number a text writes; None for an empty cell.

    Raises CellProblem for dates, percentages, truth values and text that is no number; the
    column's `decimal_mark` settles text that could be two numbers.
    """
    _refuse_problem(cell)
    if cell.is_empty:
        return None
    where = f"cell {cell.coordinate}"
    if cell.kind == DATE:
        raise CellProblem(
            cell,
            f"{where} holds a date ({cell.text}) where a number belongs; the spreadsheet turned "
            f"what was typed into a date: {AS_TEXT}",
        )
    if cell.kind == PERCENT:
        raise CellProblem(cell, f"{where} holds {cell.text}; a plain number belongs here, no %")
    if cell.kind == BOOL:
        raise CellProblem(cell, f"{where} holds {cell.text}; a number belongs here")
    if isinstance(cell.value, Decimal):
        return cell.value
    try:
        return parse_number(cell.text, decimal_mark=decimal_mark, allow_thousands=allow_thousands)
    except NotANumber as error:
        raise CellProblem(cell, f"{where}: {error}") from error


def quantity(
    cell: Cell, unit: str, *, heading_unit: str | None = None, decimal_mark: str | None = None
) -> Decimal | None:
    """Return a measured number in `unit`, None for an empty cell; else CellProblem.

    A text may name its own unit (`3 lb`); otherwise that of the heading counts, then `unit`. The
    conversion is exact to 28 digits.
    """
    number_text, own = split_quantity(cell.text) if cell.kind == TEXT else (cell.text, None)
    try:
        told = unit_after_number(own, cell.text) if own else heading_unit or unit
        if own:
            found = parse_number(number_text, decimal_mark=decimal_mark)
        else:
            bare = number(cell, decimal_mark=decimal_mark)
            if bare is None or told == unit:
                return bare
            found = bare
        exact = convert(found, told, unit)
    except CellProblem:
        raise
    except ValueError as error:
        raise CellProblem(cell, f"cell {cell.coordinate}: {error}") from error
    return Decimal(exact.numerator) / exact.denominator


def count(cell: Cell) -> int | None:
    """Return a whole number of zero or more, None for an empty cell; else CellProblem."""
    found = number(cell, allow_thousands=True)
    if found is None:
        return None
    if found < 0 or found != found.to_integral_value():
        raise CellProblem(
            cell, f"cell {cell.coordinate} holds {cell.text}; a whole number such as 3 belongs here"
        )
    return int(found)


def percent(cell: Cell, *, decimal_mark: str | None = None) -> Decimal | None:
    """Return a percentage as a share (5 % is 0.05), None for an empty cell.

    Only a percent sign or a percent format tells what is meant: a bare 5 could be 5 % or 500 %, a
    bare 0.05 could be 5 % or 0.05 %, so CellProblem asks for the sign. Zero is zero either way.
    """
    _refuse_problem(cell)
    if cell.is_empty:
        return None
    if cell.kind == PERCENT and isinstance(cell.value, Decimal):
        return cell.value
    text = cell.text
    if text.endswith(("%", "％")):
        try:
            found = parse_number(
                text[:-1].strip(), decimal_mark=decimal_mark, comma_is_decimal=True
            )
        except NotANumber as error:
            raise CellProblem(cell, f"cell {cell.coordinate}: {error}") from error
        return found / 100
    bare = number(cell, decimal_mark=decimal_mark)
    if bare == 0:
        return bare
    raise CellProblem(
        cell,
        f"cell {cell.coordinate} holds {text} without a percent sign: write {text}% if {text} % is "
        f"meant, or {_plain((bare or Decimal(0)) * 100)}% if it is a share",
    )


def yes(cell: Cell) -> bool:
    """Return whether the cell says yes (yes, y, x, true, 1); empty and no are False."""
    _refuse_problem(cell)
    word = cell.text.casefold()
    if word in _YES:
        return True
    if word in _NO:
        return False
    raise CellProblem(
        cell, f"cell {cell.coordinate} holds {quoted(cell.text)}; write yes or leave it empty"
    )


def reading_text(cell: Cell) -> str:
    """Return a reading as typed, to be read with its check's unit; "" for an empty cell.

    A number cell gives its plain digits (1/2 shown as a fraction is 0.5). Raises CellProblem for
    dates and percentages, which no gauge reads.
    """
    _refuse_problem(cell)
    if cell.kind in {DATE, PERCENT, BOOL}:
        number(cell)
    if cell.kind == NUMBER and isinstance(cell.value, Decimal):
        return _plain(cell.value)
    return cell.text


def _refuse_problem(cell: Cell) -> None:
    if cell.problem:
        raise CellProblem(cell, cell.problem)


def _plain(value: Decimal) -> str:
    text = format(value, "f")
    return (text.rstrip("0").rstrip(".") if "." in text else text) or "0"
