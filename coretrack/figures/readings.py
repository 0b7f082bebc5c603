"""The one reader of a gauge's or a hand-typed reading.

A reading is stored only when it can mean one thing. It comes back as a `Reading` (use it), a
`Question` (it does not fit what is plausible; ask, naming what it may be) or a `Refusal` (it is no
reading, for example a barcode that landed in the field). The comma is a decimal mark here; only
where three decimals are unusual (`1,600 psi`, `1,000` pieces) it could part thousands and is asked.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction

from coretrack.figures.limits import Limits, decimal_places, describe_limits, plain_text, to_micro
from coretrack.figures.numbers import NotANumber, clean_text, half_up, parse_number, quoted
from coretrack.figures.plausibility import Suggestion, better_readings, plausible_band, sense
from coretrack.figures.stray_codes import why_a_code
from coretrack.figures.units import (
    NotConvertible,
    UnknownUnit,
    canonical_unit,
    comma_is_decimal,
    convert,
    dimension_of,
    split_quantity,
    unit_after_number,
)

__all__ = [
    "Question",
    "Reading",
    "Refusal",
    "Suggestion",
    "read_reading",
    "show_reading",
    "split_readings",
]


@dataclass(frozen=True)
class Reading:
    """A reading that can be stored: `value` in millionths of `unit` (the check's unit).

    `given_unit` is the unit that was typed or sent, otherwise the check's own. `exact` is false
    when the value was finer than a millionth of the unit and has been rounded half-up.
    """

    as_typed: str
    value: int
    unit: str
    given_unit: str
    exact: bool = True


@dataclass(frozen=True)
class Question:
    """A reading to ask back: outside what is plausible, and perhaps one of the `suggestions`.

    `value` (millionths of `unit`) is what was typed, for somebody who insists on it; None when it
    is out of any sense and nobody may.
    """

    as_typed: str
    text: str
    suggestions: tuple[Suggestion, ...] = ()
    value: int | None = None
    unit: str = ""
    given_unit: str = ""


@dataclass(frozen=True)
class Refusal:
    """Something that is no reading; `text` says why and what would be right."""

    as_typed: str
    text: str


class _NoReading(ValueError):
    """Why the text is no reading."""


_FRAME = re.compile(r"(?a)F{4}(?P<sign>[08])(?P<digits>\d{6})(?P<places>\d)(?P<unit>[01])")
_FRAME_UNITS = {"0": "mm", "1": "in"}
_NO_VALUE = re.compile(
    r"[-+.<>*#\s]*(?:HELP|O\.?L\.?|OVE?R?(?:LOAD|FLOW|RANGE)?|OV[LFR]|O?FL|UN?D(?:ER)?(?:FLOW|RANGE)?"
    r"|UFL|ERR(?:OR)?[\s:-]*[0-9]*|E[\s-]?[0-9]{1,3}|HI(?:GH)?|LOW?|(?:LOW?\s?)?BATT?(?:ERY)?"
    r"|N/?A|NAN|INF(?:INITY)?|∞)[-.!*\s]*",
    re.IGNORECASE,
)
"""What gauges send or show in place of a value: overload, underrange, error, empty battery."""
_ALL_DASHES = re.compile(r"[-_*=#.\s]*[-_*=#]{2}[-_*=#.\s]*|[<>]+")
_BEYOND = re.compile(r"[<>≤≥]+=?\s*[+-]?[\d.,].*", re.DOTALL)
_DIAMETER = re.compile(r"[ØøΦφ⌀∅]\s*")
_FRACTION = re.compile(
    r"(?a)(?P<sign>[+-]?)\s*(?:(?P<whole>\d+)[ -]\s*)?"
    r"(?P<top>\d+)\s*/\s*(?P<bottom>\d+)\s*(?P<unit>\D*)"
)


def read_reading(
    text: str,
    *,
    unit: str,
    resolution: int | None = None,
    nominal: int | None = None,
    plausible: Limits | None = None,
    decimal_mark: str | None = None,
) -> Reading | Question | Refusal:
    """Return what `text` says as a reading of a check in `unit`.

    `resolution`, `nominal` and `plausible` are in millionths of `unit`. Without `plausible` a band
    is derived from `nominal` (see `plausibility.plausible_band`); temperatures default to the
    reference 20 °C. With no band at all only values out of any sense, such as lengths over 5 m,
    are refused. Units other than the check's are converted exactly; what is finer than a millionth
    of the check's unit is rounded half-up to it, and `exact` says so. `decimal_mark` refuses the
    other mark when a whole file has one. Raises UnknownUnit only for a wrong `unit` of the check.
    """
    own = canonical_unit(unit)
    try:
        value, given = _exact_value(text, own, decimal_mark)
    except _NoReading as error:
        return Refusal(text, str(error))
    except (NotANumber, UnknownUnit, NotConvertible) as error:
        return Refusal(text, f"This is no reading: {error}.")
    micro = to_micro(value)
    if own == "count" and value.denominator != 1:
        return Refusal(text, f"A count is a whole number, not {show_reading(micro)}.")
    band = plausible or plausible_band(own, nominal)
    if band is not None and not band.contains(micro):
        return _ask(text, value, own, given, band, nominal, resolution)
    nonsense = sense(value, own)
    if nonsense:
        return Refusal(text, f"{quoted(text)} is out of any sense: {nonsense}.")
    return Reading(text, micro, own, given, exact=to_micro(value) == value * 1_000_000)


def show_reading(value: int, resolution: int | None = None, decimals: int | None = None) -> str:
    """Return millionths as text with `decimals` places, or those of `resolution` (millionths).

    Without either every place that is needed is shown. Rounded half-up; never a negative zero.
    """
    if decimals is None and resolution is None:
        return plain_text(value)
    places = decimal_places(resolution or 0) if decimals is None else max(0, min(decimals, 6))
    step = 10 ** (6 - places)
    return plain_text(half_up(Fraction(value, step)) * step, places)


def split_readings(text: str, *, unit: str) -> tuple[str, ...]:
    """Return the single readings of a spreadsheet cell that parts them by "/" or ";".

    A fraction of an inch such as `3/8 in` stays whole: a lone slash between whole numbers is one
    where the check's unit or the text names inches.
    """
    plain = clean_text(text)
    fraction = _FRACTION.fullmatch(plain)
    if fraction and _is_inch(fraction["unit"].strip() or unit):
        return (plain,)
    return tuple(part.strip() for part in re.split(r"[/;]", plain) if part.strip())


def _exact_value(text: str, own: str, decimal_mark: str | None) -> tuple[Fraction, str]:
    """Return the value in the check's unit and the unit that was given, or raise."""
    plain = clean_text(text)
    if not plain:
        raise _NoReading("Nothing is typed here; type the reading, such as 9.012.")
    if _NO_VALUE.fullmatch(plain) or _ALL_DASHES.fullmatch(plain):
        raise _NoReading(
            f"The gauge sent {quoted(plain)} and no value: it is overloaded, out of its range or "
            "in trouble. Zero it and measure again."
        )
    if _BEYOND.fullmatch(plain):
        raise _NoReading(
            f"{quoted(plain)} says that the size lies beyond a limit, not what it is. Measure "
            "again with a gauge that reaches it."
        )
    if re.match(r"F{3}", plain, re.IGNORECASE):
        value, given = _frame(text, plain)
        return convert(value, given, own), given
    code = why_a_code(text)
    if code:
        raise _NoReading(f"{code}, not a reading. Scan codes into the scan box.")
    joined = _one_field(text, plain)
    if dimension_of(own) == "length":
        joined = _DIAMETER.sub("", joined, count=1) if _DIAMETER.match(joined) else joined
    if fraction := _FRACTION.fullmatch(joined):
        return _fraction(text, fraction, own)
    number, unit = split_quantity(joined)
    given = unit_after_number(unit, joined) if unit else own
    value = parse_number(
        number, decimal_mark=decimal_mark, comma_is_decimal=comma_is_decimal(given)
    )
    return convert(value, given, own), given


def _one_field(text: str, plain: str) -> str:
    """Return value and unit of one reading; a gauge may send the unit as a field of its own."""
    fields = [part.strip() for part in re.split(r"[\t\r\n;]+|,\s*(?![\d\s])", plain)]
    fields = [part for part in fields if part]
    values = [part for part in fields if re.search(r"\d", part)]
    words = re.findall(r"[\d.,]*\d[\d.,]*", plain)
    decimals = [word for word in words if re.search(r"[.,]\d", word)]
    if len(fields) > 2 or len(values) > 1 or len(decimals) > 1:
        raise _NoReading(f"{quoted(text)} holds more than one reading; send one for each field.")
    return " ".join(fields)


def _frame(text: str, plain: str) -> tuple[Decimal, str]:
    """Return value and unit of a gauge's frame: FFFF, sign, six digits, decimal place, unit."""
    found = _FRAME.fullmatch(plain.upper())
    if found is None or int(found["places"]) > 5:
        raise _NoReading(
            f"{quoted(text)} is a damaged frame of a gauge (FFFF, sign 0 or 8, six digits, decimal "
            "place, unit 0 or 1). Send the reading again."
        )
    value = Decimal(int(found["digits"])).scaleb(-int(found["places"]))
    return -value if found["sign"] == "8" and value else value, _FRAME_UNITS[found["unit"]]


def _is_inch(unit: str) -> bool:
    try:
        return canonical_unit(unit) == "in"
    except UnknownUnit:
        return False


def _fraction(text: str, found: re.Match[str], own: str) -> tuple[Fraction, str]:
    """Return a fraction of an inch; others are refused, and so are those that never end."""
    unit = found["unit"].strip()
    given = canonical_unit(unit) if unit else own
    if given != "in":
        raise _NoReading(f"{quoted(text)} is a fraction, which is read for inches only; use 0.5.")
    bottom = int(found["bottom"])
    rest = bottom
    for prime in (2, 5):
        while rest and rest % prime == 0:
            rest //= prime
    if rest != 1:
        raise _NoReading(f"{quoted(text)} has no exact decimal; type the reading in decimals.")
    value = int(found["whole"] or 0) + Fraction(int(found["top"]), bottom)
    return convert(-value if found["sign"] == "-" else value, given, own), given


def _ask(
    text: str,
    value: Fraction,
    own: str,
    given: str,
    band: Limits,
    nominal: int | None,
    resolution: int | None,
) -> Question | Refusal:
    """Return the question for a value outside `band`, a refusal when it makes no sense at all."""
    nonsense = sense(value, own)
    suggestions = better_readings(value, own, band, nominal, resolution, sure=bool(nonsense))
    if nonsense and not suggestions:
        return Refusal(text, f"{quoted(text)} is out of any sense: {nonsense}.")
    shown = f"{plain_text(to_micro(value))} {own}"
    if given != own:
        shown = f"{quoted(text)} = {shown}, which"
    message = (
        f"{shown} is outside what is plausible here ({describe_limits(band, own, resolution)})."
    )
    if suggestions:
        message += " Did you mean " + ", or ".join(each.text for each in suggestions) + "?"
    else:
        message += " Measure again, or confirm it."
    return Question(text, message, suggestions, None if nonsense else to_micro(value), own, given)


def too_fine(reading: Reading, resolution: int | None) -> bool:
    """Return whether a reading says more than a check's gauge can: two decimals more, or further.

    `resolution` in millionths of the check's unit. A gauge that types "6.0042" does not read whole
    micrometres: the reading belongs to another check. One decimal more may be read between two
    marks; what was converted from another unit is never round.
    """
    if not resolution or reading.given_unit != reading.unit:
        return False
    between_marks: int = 10 ** max(0, 5 - decimal_places(resolution))
    return reading.value % between_marks != 0
