"""Fields of a form read one by one, so that every wrong one is named and nothing typed is lost."""

from __future__ import annotations

from collections.abc import Callable
from decimal import Decimal
from fractions import Fraction
from typing import TypeVar

from coretrack.errors import CoretrackError, InvalidInput
from coretrack.figures.money import whole
from coretrack.figures.numbers import AmbiguousNumber, NotANumber, parse_number
from coretrack.figures.plain_words import counted
from coretrack.figures.stray_codes import why_a_code
from coretrack.figures.table_values import RowProblem
from coretrack.figures.units import UnknownUnit, convert, split_quantity

Value = TypeVar("Value")

HEAVIEST_LOT_KG = 100_000
"""A lot that weighs more is a slip, or was given in grams."""

MOST_COUNTED = 100_000
"""Pieces of one lot; more is a slip."""


class Fields:
    """Collects what is wrong with each field of a form."""

    def __init__(self) -> None:
        self.problems: dict[str, str] = {}

    def read(self, name: str, reader: Callable[[], Value], otherwise: Value) -> Value:
        """Return what `reader` makes of the field; what it raises is noted, `otherwise` stands."""
        try:
            return reader()
        except CoretrackError as error:
            self.problems[name] = error.message
        except (RowProblem, ValueError) as error:
            text = str(error)
            self.problems[name] = f"{text[:1].upper()}{text[1:].rstrip('.')}."
        return otherwise

    def settle(self) -> None:
        """Raise InvalidInput with every problem, if there is one."""
        if self.problems:
            raise InvalidInput(" ".join(self.problems.values()), self.problems)


def lot_grams(text: str, what: str) -> int:
    """Return the grams of a weigh ticket's figure, which is in kilograms without a unit.

    What could be a thousand times as much ("1,250") is asked back.
    """
    code = why_a_code(text)
    if code:
        raise InvalidInput(f"The {what}: {code}; type the kilograms, such as 1250.")
    number, unit = split_quantity(text)
    try:
        value = parse_number(number, allow_thousands=True)
        grams = whole(Fraction(convert(Decimal(value), unit or "kg", "g")))
    except (NotANumber, UnknownUnit, ValueError) as error:
        raise InvalidInput(f"The {what}: {error}.") from None
    if not 0 <= grams <= HEAVIEST_LOT_KG * 1000:
        raise InvalidInput(
            f"The {what} '{text}' cannot be right; it lies between 0 and {HEAVIEST_LOT_KG:,} kg."
        )
    return grams


def whole_count(text: str, what: str, most: int = MOST_COUNTED) -> int:
    """Return a whole number of pieces from 0 to `most`."""
    try:
        number = parse_number(text, allow_thousands=True)
    except AmbiguousNumber as error:
        raise InvalidInput(f"The {what}: {error}.") from None
    except NotANumber:
        raise InvalidInput(f"The {what} '{text}' is no whole number; write it like 12.") from None
    if number != number.to_integral_value() or not 0 <= number <= most:
        raise InvalidInput(
            f"The {what} '{text}' cannot be right; a whole number up to {counted(most, 'piece')} "
            "belongs here."
        )
    return int(number)
