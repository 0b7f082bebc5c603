"""Money as an integer count of ten-thousandths of the currency unit.

Rounding for display is half-up to the cent, here and nowhere else.
"""

from __future__ import annotations

from collections.abc import Sequence
from decimal import ROUND_HALF_UP, Decimal
from fractions import Fraction

UNIT = 10_000
CENT = 100

Money = int
"""An amount in ten-thousandths of the currency unit."""


def from_decimal(amount: Decimal) -> Money:
    """Return `amount` (currency units) exactly.

    ValueError when it is finer than 1/10 000, not a number, or 10^13 and more.
    """
    if not amount.is_finite():
        raise ValueError(f"{amount} is not an amount of money")
    if amount != 0 and amount.adjusted() >= 13:
        raise ValueError(f"{amount} is too large for an amount of money")
    exponent = amount.as_tuple().exponent
    if isinstance(exponent, int) and exponent < -64:
        raise ValueError(f"{amount} is finer than a ten-thousandth of the currency unit")
    scaled = Fraction(amount) * UNIT
    if scaled.denominator != 1:
        raise ValueError(f"{amount} is finer than a ten-thousandth of the currency unit")
    return int(scaled)


def to_decimal(amount: Money) -> Decimal:
    """Return `amount` in currency units, exactly."""
    return Decimal(amount) / UNIT


def nearest(amount: Fraction | Decimal | float) -> Money:
    """Return currency units rounded half-up to the nearest ten-thousandth."""
    return whole(Fraction(amount) * UNIT)


def whole(exact: Fraction | int) -> Money:
    """Return an exact count of ten-thousandths rounded half-up (away from zero) to a whole one."""
    half = Fraction(1, 2)
    return int(exact + half) if exact >= 0 else -int(half - exact)


def to_cents(amount: Money) -> Decimal:
    """Return `amount` rounded half-up (away from zero) to two places, never a negative zero."""
    cents = to_decimal(amount).quantize(Decimal("0.01"), ROUND_HALF_UP)
    return abs(cents) if cents == 0 else cents


def shown(amount: Money | None) -> str:
    """Return `amount` for a person: two places, thousands apart; a dash when it is unknown."""
    return "–" if amount is None else f"{to_cents(amount):,.2f}"


def plain(amount: Money | None) -> str | None:
    """Return `amount` as a decimal string for JSON (`None` when unknown)."""
    return None if amount is None else format(to_cents(amount), "f")


def allocate(total: int, weights: Sequence[int | Fraction], quantum: int = 1) -> list[int]:
    """Split `total` in proportion to `weights`; the parts add up to `total` exactly.

    Largest remainder, ties to the earlier part. Parts are whole multiples of `quantum` when
    `total` is one; otherwise they are split to the single count. ValueError when the weights
    are negative or add up to nothing.
    """
    shares = [Fraction(weight) for weight in weights]
    if not shares or any(share < 0 for share in shares) or sum(shares) == 0:
        raise ValueError("weights must be zero or more and add up to more than zero")
    if total < 0:
        return [-part for part in allocate(-total, weights, quantum)]
    step = quantum if total % quantum == 0 else 1
    steps = total // step
    weight = sum(shares, Fraction(0))
    exact = [steps * share / weight for share in shares]
    parts = [int(value) for value in exact]
    order = sorted(range(len(parts)), key=lambda i: (parts[i] - exact[i], i))
    for i in order[: steps - sum(parts)]:
        parts[i] += 1
    return [part * step for part in parts]
