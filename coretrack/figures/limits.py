"""Limits of a check as exact, inclusive counts of millionths, and how they are shown."""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction

from coretrack.figures.numbers import half_up

MICRO = 1_000_000
"""Readings and limits are integer counts of 1/1 000 000 of the check's unit."""


@dataclass(frozen=True)
class Limits:
    """A closed interval in millionths of the check's unit; `None` means open on that side."""

    lower: int | None
    upper: int | None

    def __post_init__(self) -> None:
        if self.lower is not None and self.upper is not None and self.lower > self.upper:
            raise ValueError("the lower limit lies above the upper limit")

    def contains(self, value: int) -> bool:
        """Return whether `value` is inside; a value equal to a limit is inside."""
        return (self.lower is None or value >= self.lower) and (
            self.upper is None or value <= self.upper
        )


def to_micro(value: Decimal | Fraction | int) -> int:
    """Return `value` in millionths, rounded half-up where it is finer."""
    return half_up(Fraction(value) * MICRO)


def from_micro(value: int) -> Decimal:
    """Return a count of millionths as an exact decimal without needless zeros."""
    return Decimal(plain_text(value))


def plain_text(value: int, least_places: int = 0) -> str:
    """Return a count of millionths as exact text with at least `least_places` decimals."""
    whole, rest = divmod(abs(value), MICRO)
    digits = f"{rest:06d}".rstrip("0").ljust(least_places, "0")
    sign = "-" if value < 0 else ""
    return f"{sign}{whole}.{digits}" if digits else f"{sign}{whole}"


def decimal_places(value: int) -> int:
    """Return how many decimals show a count of millionths exactly (0 to 6)."""
    return len(f"{abs(value) % MICRO:06d}".rstrip("0"))


def describe_limits(limits: Limits, unit: str, resolution: int | None = None) -> str:
    """Return the limits in words; at least the decimals of `resolution` (millionths) are shown.

    A limit is never rounded: one that is finer than the resolution shows all its decimals.
    """
    ends = [end for end in (limits.lower, limits.upper) if end is not None]
    if not ends:
        return "no limits"
    places = max(decimal_places(part) for part in [*ends, resolution or 0])
    shown = [plain_text(end, places) for end in ends]
    if limits.upper is None:
        return f"at least {shown[0]} {unit}"
    if limits.lower is None:
        return f"at most {shown[0]} {unit}"
    return f"{shown[0]} to {shown[1]} {unit}"
