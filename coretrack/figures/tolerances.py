"""Reads limits the way drawings and manuals write them.

The limits themselves live in `limits`, the check of printed pairs in `printed_pairs`; both are
offered here too, so that callers need one place only.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction

from coretrack.figures import iso286
from coretrack.figures.limits import (
    MICRO,
    Limits,
    decimal_places,
    describe_limits,
    from_micro,
    plain_text,
    to_micro,
)
from coretrack.figures.numbers import NotANumber, clean_text, parse_number, quoted
from coretrack.figures.printed_pairs import NotAPair, PairDifference, pair_disagrees
from coretrack.figures.units import (
    NotConvertible,
    UnknownUnit,
    canonical_unit,
    comma_is_decimal,
    convert,
    convert_difference,
    dimension_of,
    split_quantity,
    unit_after_number,
)

__all__ = [
    "MICRO",
    "Limits",
    "LimitsReading",
    "NotAPair",
    "NotLimits",
    "PairDifference",
    "decimal_places",
    "describe_limits",
    "from_micro",
    "pair_disagrees",
    "plain_text",
    "read_limits",
    "to_micro",
    "understand_limits",
]


class NotLimits(ValueError):
    """The text gives no clear limits; `str()` says what would be right."""


@dataclass(frozen=True)
class LimitsReading:
    """Limits as they were understood: `understood` says it in words, `nominal` in millionths."""

    as_typed: str
    limits: Limits
    unit: str
    nominal: int | None
    understood: str


_SIZE = r"(?:\d+(?:[.,]\d+)*|[.,]\d+)"
_UNIT = r"(?:[^\d\s.,+\-±/][^\d+\-±/]*?)"
# A bare 0 is a deviation only where it stands alone, never as the last digit of a size.
_DEVIATION = rf"(?:[+-]{_SIZE}|(?<![\d.,])0(?:[.,]0+)?)"
_NOMINAL = rf"(?:(?P<nominal>-?{_SIZE})\s*(?P<nominal_unit>{_UNIT})?\s*)?"
_TRAILING = rf"\s*(?P<unit>{_UNIT})?"
_ONE_SIDED = re.compile(
    r"(?P<sign>>=|=>|≥|<=|=<|≤|>|<|at least|at most|minimum|maximum|min\.?|max\.?)"
    r"\s*(?P<rest>\S.*)",
    re.IGNORECASE | re.DOTALL,
)
_ONE_SIDED_AFTER = re.compile(
    rf"(?P<rest>-?{_SIZE}(?:\s*{_UNIT})?)\s+(?P<sign>minimum|maximum|min\.?|max\.?)", re.IGNORECASE
)
_LOWER_SIGNS = {">=", "=>", "≥", "at least", "minimum", "min", "min."}
_EVEN = re.compile(rf"{_NOMINAL}±\s*(?P<even>{_SIZE}){_TRAILING}")
_PAIR = re.compile(
    rf"{_NOMINAL}(?P<first>{_DEVIATION})(?:\s*/\s*|\s+|(?=[+-]))(?P<second>{_DEVIATION}){_TRAILING}"
)
_CLASS = re.compile(
    rf"(?:(?P<nominal>{_SIZE})\s*(?:(?P<nominal_unit>{_UNIT})\s+)?)?"
    r"(?P<tolerance_class>[A-Za-z]{1,2}\d{1,2})(?P<mate>\s*/.*)?"
)
_RANGE = re.compile(
    rf"(?P<low>[+-]?{_SIZE})\s*(?P<low_unit>{_UNIT})?(?:\s*\.\.\s*|\s*-\s*)"
    rf"(?P<high>[+-]?{_SIZE}){_TRAILING}"
)
_DOTS = re.compile(r"(?:\s*(?:\.{2,3}|…)\s*|\s+to\s+)(?=[+\-\d])", re.IGNORECASE)
_PLUS_MINUS = re.compile(r"\+\s*/?\s*-(?=\s*[\d.,])")
_DIAMETER = re.compile(r"(?:[ØøΦφ⌀∅]|dia\.?(?=[\s\d]))\s*", re.IGNORECASE)
# Deviations are often given in a smaller unit than the nominal size, so a lone one is not clear.
_DEVIATION_UNITS = {"µm", "nm", "thou", "µin"}
_LONGEST = 80
_HOW = "write them like 10 +5/-1, 200 ±0.02, 6.000..6.009, >= 55, <= 0.30 or 17 H7"


def read_limits(text: str, *, unit: str, nominal: int | None = None) -> Limits:
    """Return the limits that `text` writes, in millionths of `unit`. Raises NotLimits."""
    return understand_limits(text, unit=unit, nominal=nominal).limits


def understand_limits(text: str, *, unit: str, nominal: int | None = None) -> LimitsReading:
    """Return the limits that `text` writes and how they were understood.

    `unit` is the check's unit; `nominal` (millionths) serves texts without a nominal size, such as
    `±0.02` or `H7`. Read are: nominal with deviations, upper one first (`10 +5/-1`, `9 +0.03
    +0.01`, `200±0.02`), two ends (`6.000..6.009`, `5.050-5.052 in`), one side (`>= 55`, `max
    0.3`) and ISO 286 classes (`17 H7`). A unit at the end counts for the whole text; where it is
    one in which deviations are usually given (µm, thou) and the nominal size has none, the text is
    refused. Other units are converted exactly, then rounded half-up to the millionth. A comma is
    a decimal mark for lengths. Raises NotLimits with what would be right.
    """
    plain = _PLUS_MINUS.sub("±", _DOTS.sub("..", clean_text(text)))
    diameter = _DIAMETER.match(plain)
    plain = plain[diameter.end() :] if diameter else plain
    if not plain:
        raise NotLimits(f"no limits are written here; {_HOW}")
    if len(plain) > _LONGEST:
        raise NotLimits(f"{quoted(text)} is too long for limits; {_HOW}")
    try:
        reader = _Reader(text, canonical_unit(unit), nominal)
        return reader.read(plain)
    except (NotANumber, UnknownUnit, NotConvertible) as error:
        raise NotLimits(f"the limits {quoted(text)} cannot be read: {error}") from error


class _Reader:
    """Reads one cleaned limits text into the check's unit."""

    def __init__(self, as_typed: str, unit: str, nominal: int | None) -> None:
        self.as_typed = as_typed
        self.unit = unit
        self.nominal = nominal

    def read(self, plain: str) -> LimitsReading:
        one = _ONE_SIDED.fullmatch(plain) or _ONE_SIDED_AFTER.fullmatch(plain)
        if one:
            return self._one_sided(one, before=plain.startswith(one["sign"]))
        if even := _EVEN.fullmatch(plain):
            size, unit = self._nominal(even)
            step = self._difference(even["even"], unit)
            return self._around(size, step, -step)
        if pair := _PAIR.fullmatch(plain):
            return self._pair(pair)
        if named := _CLASS.fullmatch(plain):
            return self._from_class(named)
        if ends := _RANGE.fullmatch(plain):
            return self._range(ends)
        raise NotLimits(f"the limits {quoted(self.as_typed)} are not understood; {_HOW}")

    def _one_sided(self, found: re.Match[str], *, before: bool) -> LimitsReading:
        sign = found["sign"].lower()
        if sign in {">", "<"}:
            raise NotLimits(
                f"limits are inclusive here; write {sign}= instead of {sign} "
                f"in {quoted(self.as_typed)}"
            )
        number, unit = split_quantity(found["rest"])
        if not before and sign == "min" and dimension_of(self.unit) == "time" and unit is None:
            raise NotLimits(
                f"{quoted(self.as_typed)} could be minutes or a minimum; write >= {number} with "
                "its unit"
            )
        value = self._absolute(number, unit_after_number(unit, found["rest"]) if unit else None)
        limits = Limits(value, None) if sign in _LOWER_SIGNS else Limits(None, value)
        return self._done(limits, None)

    def _pair(self, found: re.Match[str]) -> LimitsReading:
        second_signed = found["second"][0] in "+-"
        if found["first"][0] not in "+-" and not second_signed:
            raise NotLimits(f"the limits {quoted(self.as_typed)} lack a sign; {_HOW}")
        size, unit = self._nominal(found)
        return self._around(
            size, self._difference(found["first"], unit), self._difference(found["second"], unit)
        )

    def _from_class(self, found: re.Match[str]) -> LimitsReading:
        if found["mate"]:
            raise NotLimits(
                f"{quoted(self.as_typed)} is a fit of two parts; give the class of this part only"
            )
        if dimension_of(self.unit) != "length":
            raise NotLimits(f"a tolerance class needs a length, and this check is in {self.unit}")
        if found["nominal"] is None:
            size = convert(from_micro(self._given_nominal()), self.unit, "mm")
        else:
            own_unit = found["nominal_unit"] or self.unit
            size = convert(self._number(found["nominal"], own_unit), own_unit, "mm")
        try:
            allowed = iso286.deviations(size, found["tolerance_class"])
        except (iso286.UnknownClass, iso286.OutsideSizes) as error:
            raise NotLimits(f"{quoted(self.as_typed)}: {error}") from error
        upper, lower = (
            convert_difference(Fraction(value or 0, MICRO), "mm", self.unit)
            for value in (allowed.upper, allowed.lower)
        )
        return self._around(convert(size, "mm", self.unit), upper, lower)

    def _range(self, found: re.Match[str]) -> LimitsReading:
        between = found.string[found.end("low") : found.start("high")]
        if re.fullmatch(r"\s+-", between):
            raise NotLimits(
                f"{quoted(self.as_typed)} could be two ends or a size with one deviation; write "
                f"{found['low']}..{found['high']} or {found['low']} 0/-{found['high']}"
            )
        high_unit = found["unit"]
        low = self._absolute(found["low"], found["low_unit"] or high_unit)
        high = self._absolute(found["high"], high_unit or found["low_unit"])
        if low > high:
            raise NotLimits(
                f"in {quoted(self.as_typed)} the lower limit lies above the upper one; write the "
                "smaller number first"
            )
        return self._done(Limits(low, high), None)

    def _nominal(self, found: re.Match[str]) -> tuple[Fraction, str]:
        """Return the nominal size in the check's unit, and the unit of the deviations."""
        trailing = canonical_unit(found["unit"]) if found["unit"] else None
        if found["nominal"] is None:
            return Fraction(self._given_nominal(), MICRO), trailing or self.unit
        own = canonical_unit(found["nominal_unit"]) if found["nominal_unit"] else None
        if own is None and trailing in _DEVIATION_UNITS and trailing != self.unit:
            raise NotLimits(
                f"in {quoted(self.as_typed)} it is not clear whether {found['nominal']} is in "
                f"{trailing} too; write its unit, such as {found['nominal']} {self.unit}"
            )
        own = own or trailing or self.unit
        return convert(self._number(found["nominal"], own), own, self.unit), trailing or own

    def _given_nominal(self) -> int:
        if self.nominal is None:
            raise NotLimits(
                f"{quoted(self.as_typed)} needs a nominal size before it, such as 17 "
                f"{self.as_typed.strip()[:12]}"
            )
        return self.nominal

    def _number(self, text: str, unit: str) -> Decimal:
        """Return the number, which may be finer than a millionth only in a foreign unit."""
        number = parse_number(text, comma_is_decimal=comma_is_decimal(unit))
        if canonical_unit(unit) == self.unit and number != number.quantize(Decimal("0.000001")):
            raise NotANumber(f"{text} is finer than a millionth of {self.unit}")
        return number

    def _absolute(self, number: str, unit: str | None) -> int:
        """Return a limit in millionths of the check's unit."""
        own = unit or self.unit
        return to_micro(convert(self._number(number, own), own, self.unit))

    def _difference(self, number: str, unit: str) -> Fraction:
        return convert_difference(self._number(number, unit), unit, self.unit)

    def _around(self, nominal: Fraction, upper: Fraction, lower: Fraction) -> LimitsReading:
        if lower > upper:
            raise NotLimits(
                f"in {quoted(self.as_typed)} the lower limit lies above the upper one; write the "
                "upper deviation first, such as 10 +5/-1"
            )
        limits = Limits(to_micro(nominal + lower), to_micro(nominal + upper))
        return self._done(limits, to_micro(nominal))

    def _done(self, limits: Limits, nominal: int | None) -> LimitsReading:
        understood = describe_limits(limits, self.unit)
        if nominal is not None:
            understood = f"{from_micro(nominal):f} {self.unit} nominal: {understood}"
        return LimitsReading(self.as_typed, limits, self.unit, nominal, understood)
