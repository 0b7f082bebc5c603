"""Counts and shares as a person reads them: "1 core", "2 cores", "41.9 %"."""

from __future__ import annotations

import math
from decimal import ROUND_CEILING, ROUND_FLOOR, ROUND_HALF_UP, Decimal
from fractions import Fraction

_TENTH_OF_PERCENT = Decimal("0.001")


def counted(number: int, noun: str) -> str:
    """Return "1 core", "2 cores", "3 families": the count and its noun, which is given singular."""
    return f"{number:,} {noun if number == 1 else plural(noun)}"


def plural(noun: str) -> str:
    """Return the plural of a noun of the shop, as "cores", "families", "deliveries"."""
    if noun.endswith("y") and noun[-2:-1] not in "aeiou":
        return f"{noun[:-1]}ies"
    return f"{noun}s"


def are(number: int, noun: str) -> str:
    """Return "1 core is" or "2 cores are"."""
    return f"{counted(number, noun)} {'is' if number == 1 else 'are'}"


def have(number: int, noun: str) -> str:
    """Return "1 core has" or "2 cores have"."""
    return f"{counted(number, noun)} {'has' if number == 1 else 'have'}"


def percent(value: float | Fraction, under: Fraction = Fraction(1)) -> str:
    """Return a share 0..1 as percent with one decimal, rounded half-up.

    A share below `under` never reads as `under` or more, and only a true nothing reads "0.0 %".
    ValueError when it is not finite.
    """
    if isinstance(value, Fraction):
        exact = Decimal(value.numerator) / Decimal(value.denominator)
    elif math.isfinite(value):
        # By way of its text: 0.996 is a hair less than 0.996 as a binary float.
        exact = Decimal(str(value))
    else:
        raise ValueError(f"{value} is not a share")
    tenth = exact.quantize(_TENTH_OF_PERCENT, ROUND_HALF_UP)
    for limit in (under, Fraction(1)):
        if Fraction(exact) < limit <= Fraction(tenth):
            tenth = exact.quantize(_TENTH_OF_PERCENT, ROUND_FLOOR)
    if tenth == 0 and exact > 0:
        tenth = exact.quantize(_TENTH_OF_PERCENT, ROUND_CEILING)
    return f"{tenth * 100:.1f} %"
