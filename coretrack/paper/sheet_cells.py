"""Turns one stored workbook cell (type, style, raw text) into a Cell, damage named."""

from __future__ import annotations

import re
from dataclasses import dataclass
from datetime import date, datetime, time, timedelta
from decimal import Decimal

from openpyxl.utils.datetime import WINDOWS_EPOCH, from_excel

from coretrack.figures.table import (
    BOOL,
    DATE,
    ERROR,
    NO_VALUE,
    NUMBER,
    PERCENT,
    Cell,
    CellValue,
    column_letters,
)
from coretrack.paper.reading_limits import empty_cell, text_cell
from coretrack.paper.workbook_parts import PLAIN, NumberLook, Workbook, unescaped

DIGITS_KEPT = 15
"""A spreadsheet keeps 15 significant digits of a number (from memory: its cells are doubles)."""

_NUMBER = re.compile(r"[+-]?(?:\d+\.?\d*|\.\d+)(?:[eE][+-]?\d+)?")


@dataclass(slots=True)
class StoredCell:
    """A cell as the sheet's XML holds it; not frozen, since a million are made (twice as fast)."""

    row: int
    column: int
    kind: str
    style: int
    has_formula: bool
    value: str
    inline: str

    @property
    def place(self) -> str:
        return f"{column_letters(self.column)}{self.row}"


def read_cell(stored: StoredCell, workbook: Workbook) -> Cell:
    """Return the typed cell; a formula counts by the value it had when the file was saved."""
    if stored.kind == "inlineStr":
        return text_cell(unescaped(stored.inline), stored.row, stored.column)
    if stored.kind == "str":
        return text_cell(unescaped(stored.value), stored.row, stored.column)
    raw = stored.value.strip()
    if not raw:
        if stored.has_formula:
            return _spoiled(
                stored,
                NO_VALUE,
                "",
                f"cell {stored.place} holds a formula without a value; open the file in the "
                "spreadsheet program, save it again, or put the value itself there",
            )
        return empty_cell(stored.row, stored.column)
    if stored.kind == "s":
        return _shared_text(stored, raw, workbook)
    if stored.kind == "e":
        problem = f"cell {stored.place} holds the error {raw}; put the value itself there"
        return _spoiled(stored, ERROR, raw, problem)
    if stored.kind == "b":
        yes = raw in {"1", "true"}
        return _cell(stored, "TRUE" if yes else "FALSE", BOOL, yes)
    if stored.kind == "d":
        return _iso_date(stored, raw)
    return _number(stored, raw, workbook)


def _cell(stored: StoredCell, text: str, kind: str, value: CellValue, shown_as: str = "") -> Cell:
    return Cell(text, kind, value, stored.row, stored.column, shown_as=shown_as)


def _spoiled(stored: StoredCell, kind: str, text: str, problem: str) -> Cell:
    # The value is a text that no parser takes, so that nobody mistakes the cell for an empty one.
    value = text or "a formula without a value"
    return Cell(text, kind, value, stored.row, stored.column, problem=problem)


def _shared_text(stored: StoredCell, raw: str, workbook: Workbook) -> Cell:
    if not raw.isdigit() or int(raw) >= len(workbook.texts):
        raise workbook.package.damaged(f"cell {stored.place}")
    return text_cell(workbook.texts[int(raw)], stored.row, stored.column)


def _number(stored: StoredCell, raw: str, workbook: Workbook) -> Cell:
    if not _NUMBER.fullmatch(raw):
        raise workbook.package.damaged(f"cell {stored.place}")
    number = float(raw)
    looks = workbook.looks
    look = looks[stored.style] if 0 <= stored.style < len(looks) else PLAIN
    if look.kind in {"date", "duration"}:
        return _date(stored, number, look, workbook.epoch)
    if abs(number) >= 10**DIGITS_KEPT:
        return _spoiled(
            stored,
            NUMBER,
            raw,
            f"cell {stored.place} is damaged: more than {DIGITS_KEPT} digits in a number cell "
            f"({raw}), so the last digits are lost; mark the column as text and enter it again",
        )
    if raw.isdigit():
        value = Decimal(int(raw))
        text = str(value)
    else:
        value = sheet_decimal(number)
        text = plain_text(value)
    if look.kind == "percent":
        return _cell(stored, f"{plain_text(value * 100)}%", PERCENT, value)
    if look.zeros and value == value.to_integral_value() and value >= 0:
        text = text.zfill(look.zeros)
    return _cell(stored, text, NUMBER, value, look.kind)


def sheet_decimal(number: float) -> Decimal:
    """Return the number as the sheet shows it, 15 significant digits: 9.002000000000001 is 9.002.

    Whole numbers stay whole, and there is no negative zero.
    """
    value = Decimal(format(number, f".{DIGITS_KEPT}g"))
    return Decimal(0) if value == 0 else value


def plain_text(value: Decimal) -> str:
    """Return `value` without an exponent, without ".0" and without trailing zeros."""
    text = format(value, "f")
    if "." in text:
        text = text.rstrip("0").rstrip(".")
    return "0" if text in {"-0", ""} else text


def _date(stored: StoredCell, number: float, look: NumberLook, epoch: datetime) -> Cell:
    try:
        if look.kind == "date" and (number < 0 or (epoch == WINDOWS_EPOCH and 60 <= number < 61)):
            raise ValueError("before the first day, or the 29th of February 1900")
        moment = from_excel(number, epoch, timedelta=look.kind == "duration")
    except (ValueError, OverflowError):
        problem = (
            f"cell {stored.place} is shown as a date, but {plain_text(sheet_decimal(number))} is "
            "no date; enter it again"
        )
        return _spoiled(stored, DATE, plain_text(sheet_decimal(number)), problem)
    return _date_cell(stored, moment)


def _iso_date(stored: StoredCell, raw: str) -> Cell:
    try:
        moment = datetime.fromisoformat(raw)
    except ValueError:
        return _spoiled(stored, DATE, raw, f"cell {stored.place} holds {raw}, which is no date")
    return _date_cell(stored, moment)


def _date_cell(stored: StoredCell, moment: datetime | time | timedelta) -> Cell:
    value: date | datetime | time | timedelta = moment
    if isinstance(moment, datetime):
        if moment.microsecond:
            moment = (moment + timedelta(microseconds=500_000)).replace(microsecond=0)
        value = moment.date() if moment.time() == time(0) else moment
        text = value.isoformat(" ") if isinstance(value, datetime) else value.isoformat()
    elif isinstance(moment, time):
        text = moment.isoformat()
    else:
        text = str(moment)
    return _cell(stored, text, DATE, value)
