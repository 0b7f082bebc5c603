"""The one reader of text into exact decimal numbers, for every field and every file.

Nothing is guessed: text that could mean two numbers raises `AmbiguousNumber`, text that means none
raises `NotANumber`; both messages say what would be right. An exponent (`1e3`) is always refused:
a person hardly ever types one, and part numbers such as `1E10` look just like it. Spreadsheet
number cells do not pass through text; `number_from_cell` takes them as they are.
"""

from __future__ import annotations

import math
import re
from collections.abc import Iterable
from datetime import date, time
from decimal import Decimal
from fractions import Fraction

from coretrack.figures.invisible import BLANKS, INVISIBLE

MOST_DIGITS = 20
"""Longer digit strings are codes, not numbers."""

_INVISIBLE = dict.fromkeys(map(ord, INVISIBLE))
_SPACES = dict.fromkeys(map(ord, BLANKS), " ")
_FULL_WIDTH = {0xFF10 + digit: str(digit) for digit in range(10)} | {
    0xFF0E: ".",
    0xFF0C: ",",
    0xFF0B: "+",
}
# An em dash stays out: alone in a cell it means "nothing", and nobody types it as a minus.
_MINUS = dict.fromkeys([0x2212, 0xFF0D, 0xFE63, 0x2010, 0x2011, 0x2012, 0x2013], "-")
_APOSTROPHE = {0x2019: "'", 0x02BC: "'"}
_PLAIN = _INVISIBLE | _SPACES | _FULL_WIDTH | _MINUS
_MARK_NAMES = {".": "point", ",": "comma", " ": "space", "'": "apostrophe"}
_NUMBER_START = re.compile(r"[+-]?\s*(\d[\d.,' ]*\d|[.,]?\d+)")


class NotANumber(ValueError):
    """The text is no number; `str()` says what would be right."""


class AmbiguousNumber(NotANumber):
    """The text could be two different numbers; `str()` names both."""


def clean_text(text: str) -> str:
    """Return `text` without invisible signs and outer blanks, with plain blanks, digits and minus.

    Superscript digits stay as they are, so that they are refused later and never become digits.
    """
    return text.translate(_PLAIN).strip()


def quoted(text: str) -> str:
    """Return `text` in quotation marks for a message, shortened, control signs made visible."""
    shown = "".join(sign if sign.isprintable() else "·" for sign in text)
    return f"'{shown[:40]}…'" if len(shown) > 40 else f"'{shown}'"


def parse_number(
    text: str,
    *,
    decimal_mark: str | None = None,
    allow_thousands: bool = False,
    comma_is_decimal: bool = False,
) -> Decimal:
    """Return the number that `text` writes, exactly, with its trailing zeros.

    `decimal_mark` ("." or ",") is the mark of the whole column when it is known.
    `allow_thousands` admits groups of three parted by point, comma, blank or apostrophe (money,
    counts). `comma_is_decimal` says that a lone comma is a decimal mark even before three digits
    (readings). Without these hints `1,5` is 1.5 and `1,234` is ambiguous; with `allow_thousands`
    and no mark `1.234` is ambiguous too. Raises NotANumber or AmbiguousNumber.
    """
    if decimal_mark not in (None, ".", ","):
        raise ValueError("decimal_mark is '.', ',' or None")
    sign, body = _split_sign(text)
    decimal, thousands = _roles(text, body, decimal_mark, allow_thousands, comma_is_decimal)
    whole, _, fraction = body.partition(decimal) if decimal else (body, "", "")
    if thousands:
        whole = _ungrouped(text, whole, thousands, allow_thousands, decimal_mark)
    if decimal and not fraction:
        raise NotANumber(f"{quoted(text)} ends in a {_MARK_NAMES[decimal]}; a digit is missing")
    if not (whole + fraction).isdigit():
        raise NotANumber(f"{quoted(text)} is not a number; write it like 12.5 or 12,5")
    number = Decimal(f"{whole or '0'}.{fraction}" if fraction else whole)
    return -number if sign == "-" and number != 0 else number


def number_from_cell(
    value: object, *, decimal_mark: str | None = None, allow_thousands: bool = False
) -> Decimal:
    """Return the number of a spreadsheet cell: a number as it stands, a text by `parse_number`.

    Raises NotANumber for dates (spreadsheets turn 3-1 and 1/2 into dates), truth values, empty
    cells and numbers that are not finite.
    """
    if isinstance(value, str):
        return parse_number(value, decimal_mark=decimal_mark, allow_thousands=allow_thousands)
    if isinstance(value, date | time):
        raise NotANumber(
            f"the cell holds a date ({value.isoformat()}), not a number; "
            "mark the column as text and type the number again"
        )
    if value is None or isinstance(value, bool) or not isinstance(value, int | float | Decimal):
        raise NotANumber("the cell holds no number")
    if not math.isfinite(value):
        raise NotANumber("the cell holds no finite number")
    # repr gives the shortest decimal that the stored number stands for: 0.1 is 0.1, not 0.1000…05.
    return Decimal(repr(value)) if isinstance(value, float) else Decimal(value)


def parse_share(text: str, *, decimal_mark: str | None = None) -> Decimal:
    """Return a percentage text such as `5 %` as a share (0.05).

    Without a percent sign 5 and 0.05 could both be meant, so AmbiguousNumber is raised.
    """
    plain = clean_text(text)
    if plain.endswith(("%", "％")):
        number = parse_number(plain[:-1], decimal_mark=decimal_mark, comma_is_decimal=True)
        return number.scaleb(-2)
    number = parse_number(plain, decimal_mark=decimal_mark, comma_is_decimal=True)
    raise AmbiguousNumber(
        f"{quoted(text)} has no percent sign; write {number:f} % or {number.scaleb(2):f} %"
    )


def column_decimal_mark(texts: Iterable[str], *, allow_thousands: bool = True) -> str | None:
    """Return the decimal mark of a whole column from its unambiguous members, None when none tells.

    A unit after a number is skipped. When thousands cannot occur (`allow_thousands` False) any lone
    mark tells. Members that contradict each other raise AmbiguousNumber naming one of each.
    """
    seen: dict[str, str] = {}
    for text in texts:
        found = _NUMBER_START.match(clean_text(text).translate(_APOSTROPHE))
        mark = _telling_mark(found.group(1), allow_thousands) if found else None
        if mark:
            seen.setdefault(mark, text)
    if len(seen) == 2:
        raise AmbiguousNumber(
            f"the column mixes decimal marks: {quoted(seen['.'])} has a decimal point, "
            f"{quoted(seen[','])} a decimal comma; use one of them throughout"
        )
    return next(iter(seen), None)


def half_up(value: Fraction | Decimal | int) -> int:
    """Return `value` rounded to a whole number; halves go away from zero."""
    exact = Fraction(value)
    whole = int(abs(exact) + Fraction(1, 2))
    return -whole if exact < 0 else whole


def _split_sign(text: str) -> tuple[str, str]:
    """Return sign and unsigned body, or raise for anything that is not digits and marks."""
    plain = clean_text(text).translate(_APOSTROPHE)
    sign = plain[0] if plain[:1] in {"+", "-"} else ""
    body = plain[len(sign) :].lstrip(" ")
    if not plain:
        raise NotANumber("nothing is written here; a number such as 12.5 is wanted")
    if not body:
        raise NotANumber(f"{quoted(text)} is only a sign; a number such as -12.5 is wanted")
    wrong = next((mark for mark in body if mark not in "0123456789.,' "), "")
    if wrong:
        raise NotANumber(_why_refused(text, body, wrong))
    if sum(mark.isdigit() for mark in body) > MOST_DIGITS:
        raise NotANumber(f"{quoted(text)} has too many digits for a number; it looks like a code")
    return sign, body


def _why_refused(text: str, body: str, wrong: str) -> str:
    """Return the reason why the sign `wrong` cannot stand in a number."""
    shown = quoted(text)
    if wrong in "+-":
        return f"{shown} has a second sign or a sign inside; write it like -12.5"
    if wrong == "_":
        return f"{shown} has an underscore; write the digits without it"
    if re.fullmatch(r"[\d.,]+[eE][+-]?\d+", body):
        return f"{shown} has an exponent; write the number in full, such as 1000"
    if re.match(r"0[xXbBoO]", body):
        return f"{shown} is a programmer's number; write it in ordinary digits"
    if wrong in "()":
        return f"{shown} has brackets; write a negative number like -5.00"
    if wrong.isdigit():
        return f"{shown} has the sign {quoted(wrong)}; only the digits 0 to 9 are read"
    return f"{shown} is not a number because of {quoted(wrong)}; write it like 12.5 or 12,5"


def _could_be_group(body: str, mark: str) -> bool:
    """Return whether `body` with its single `mark` could be a thousand and more."""
    head, _, tail = body.partition(mark)
    return 1 <= len(head) <= 3 and head[0] != "0" and len(tail) == 3


def _roles(
    text: str, body: str, decimal_mark: str | None, allow_thousands: bool, comma_is_decimal: bool
) -> tuple[str, str]:
    """Return which mark is decimal and which parts the thousands ("" for none)."""
    groupers = [mark for mark in " '" if mark in body]
    marks = [mark for mark in ".," if mark in body]
    decimal = ""
    if len(marks) == 2:
        decimal = max(marks, key=body.rindex)
        if decimal_mark and decimal != decimal_mark:
            raise NotANumber(
                f"{quoted(text)} does not fit a column with a decimal {_MARK_NAMES[decimal_mark]}"
            )
    elif marks and body.count(marks[0]) == 1:
        mark = marks[0]
        if decimal_mark:
            decimal = mark if mark == decimal_mark else ""
        elif (
            groupers
            or (comma_is_decimal and (mark == "," or not allow_thousands))
            or not _could_be_group(body, mark)
            or (mark == "." and not allow_thousands)
        ):
            decimal = mark
        else:
            plain = body.replace(mark, "")
            raise AmbiguousNumber(
                f"{quoted(text)} could be {plain} or {body.replace(mark, '.')}; "
                f"write {plain} for the first or {body.replace(mark, '.')}0 for the second"
            )
    others = [mark for mark in marks if mark != decimal] + groupers
    if len(others) > 1 or (decimal and body.count(decimal) > 1):
        raise NotANumber(f"{quoted(text)} mixes its marks; write it like 1234.50")
    return decimal, others[0] if others else ""


def _ungrouped(
    text: str, whole: str, thousands: str, allow_thousands: bool, decimal_mark: str | None
) -> str:
    """Return the digits of a whole part whose groups of three are real, or raise."""
    name = _MARK_NAMES[thousands]
    groups = whole.split(thousands)
    real = (
        len(groups) > 1
        and 1 <= len(groups[0]) <= 3
        and not groups[0].startswith("0")
        and all(len(group) == 3 for group in groups[1:])
    )
    if real and allow_thousands:
        return "".join(groups)
    if decimal_mark and thousands in ".,":
        mark = _MARK_NAMES[decimal_mark]
        raise NotANumber(f"{quoted(text)} has {_a(name)}, but the decimal mark here is a {mark}")
    if real:
        raise NotANumber(
            f"{quoted(text)} has {_a(name)} between thousands; write the digits together"
        )
    if allow_thousands and whole.strip(thousands):
        raise NotANumber(
            f"{quoted(text)} is not a number: its {name} does not part groups of three"
        )
    raise NotANumber(f"{quoted(text)} is not a number; write it like 12.5 or 12,5")


def _a(name: str) -> str:
    return f"an {name}" if name == "apostrophe" else f"a {name}"


def _telling_mark(body: str, allow_thousands: bool) -> str | None:
    """Return the decimal mark that `body` proves, None when it proves none."""
    marks = [mark for mark in ".," if mark in body]
    if len(marks) == 2:
        last = max(marks, key=body.rindex)
        return last if body.count(last) == 1 else None
    if not marks:
        return None
    mark = marks[0]
    if body.count(mark) > 1:
        groups = body.split(mark)
        real = 1 <= len(groups[0]) <= 3 and all(len(group) == 3 for group in groups[1:])
        return {".": ",", ",": "."}[mark] if real else None
    grouped = " " in body or "'" in body
    return mark if grouped or not allow_thousands or not _could_be_group(body, mark) else None
