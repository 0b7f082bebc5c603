"""What a person types in a field: a line of words, a code, a reason, a mass."""

from __future__ import annotations

from decimal import Decimal
from fractions import Fraction
from typing import Any

from coretrack.errors import InvalidInput
from coretrack.figures.money import whole
from coretrack.figures.numbers import NotANumber, parse_number
from coretrack.figures.part_numbers import BadNumber, clean_number, trim
from coretrack.figures.scan_text import printable
from coretrack.figures.units import UnknownUnit, convert, split_quantity

LONGEST_NOTE = 500
LONGEST_REASON = 300
HEAVIEST_KG = 2000
"""A heavier core is a slip, or the mass of a whole pallet."""


def plain_words(told: Any, what: str, longest: int = LONGEST_NOTE) -> str:
    """Return a text on one line without control signs; InvalidInput when it is too long."""
    text = " ".join(printable(str(told)).split())
    if len(text) > longest:
        raise InvalidInput(
            f"The {what.replace('_', ' ')} has {len(text)} signs; {longest} is the most.",
            {what: f"at most {longest} signs"},
        )
    return text


def typed_reason(text: str, needed: str = "") -> str:
    """Return a typed reason on one line; InvalidInput says `needed` when there is none."""
    reason = plain_words(text, "reason", LONGEST_REASON)
    if needed and not reason:
        raise InvalidInput(needed, {"reason": "a reason in a few words"})
    return reason


def clean_code(text: str, what: str) -> str:
    """Return a number, serial or invoice as typed, fit to be stored; empty stays empty."""
    if not trim(text):
        return ""
    try:
        return clean_number(text, what)
    except BadNumber as error:
        raise InvalidInput(str(error), {what: str(error)}) from None


def grams(mass: str) -> int:
    """Return a mass as typed ("1.25", "1.25 kg", "1250 g") in grams; without a unit kilograms."""
    number, unit = split_quantity(mass)
    wanted = f"a core's mass lies between 1 gram and {HEAVIEST_KG} kilograms, such as 1.25 kg"
    try:
        value = parse_number(number, comma_is_decimal=True)
        weight = whole(Fraction(convert(Decimal(value), unit or "kg", "g")))
    except (NotANumber, UnknownUnit, ValueError) as error:
        raise InvalidInput(f"The mass '{mass}': {error}.", {"mass": wanted}) from None
    if not 1 <= weight <= HEAVIEST_KG * 1000:
        raise InvalidInput(f"The mass '{mass}' cannot be right: {wanted}.", {"mass": wanted})
    return weight


def kilograms(mass_g: int) -> str:
    """Return grams as kilograms for a person: 1250 is "1.25 kg"."""
    return f"{(Decimal(mass_g) / 1000).normalize():f} kg"
