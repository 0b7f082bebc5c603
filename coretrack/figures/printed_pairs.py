"""Checks printed pairs of values such as "1.278 in (32.38 mm)", which are often misprinted."""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction

from coretrack.figures.limits import from_micro, to_micro
from coretrack.figures.numbers import NotANumber, clean_text, parse_number, quoted
from coretrack.figures.units import (
    NotConvertible,
    UnknownUnit,
    convert,
    convert_difference,
    split_quantity,
    unit_after_number,
)


class NotAPair(ValueError):
    """The two texts cannot be compared; `str()` says why."""


@dataclass(frozen=True)
class PairDifference:
    """A printed pair that disagrees.

    `converted` is the first value in `unit` (the second one's), `difference` how far the second
    value is from it (printed minus converted); both rounded half-up to the millionth.
    """

    first: str
    second: str
    converted: Decimal
    difference: Decimal
    unit: str
    text: str


def pair_disagrees(first: str, second: str) -> PairDifference | None:
    """Return how far a printed pair such as `1.278 in` and `32.38 mm` disagrees, None if it agrees.

    Each value may be off by half of its last printed digit. Raises NotAPair.
    """
    try:
        (value, unit), (other, other_unit) = _printed(first), _printed(second)
        converted = convert(value, unit, other_unit)
        slack = convert_difference(_half_digit(value), unit, other_unit) + _half_digit(other)
    except (NotANumber, UnknownUnit, NotConvertible) as error:
        message = f"{quoted(first)} and {quoted(second)} cannot be compared: {error}"
        raise NotAPair(message) from error
    gap = Fraction(other) - converted
    if abs(gap) <= slack:
        return None
    right = from_micro(to_micro(converted))
    text = (
        f"{clean_text(first)} is {right:f} {other_unit}, not {clean_text(second)}; "
        "one of the two is misprinted"
    )
    return PairDifference(first, second, right, from_micro(to_micro(gap)), other_unit, text)


def _printed(text: str) -> tuple[Decimal, str]:
    number, unit = split_quantity(text)
    if unit is None:
        raise UnknownUnit(f"{quoted(text)} has no unit; write it like 1.278 in")
    return parse_number(number), unit_after_number(unit, text)


def _half_digit(value: Decimal) -> Fraction:
    """Return half of the last printed digit's place."""
    return Fraction(10) ** int(value.as_tuple().exponent) / 2
