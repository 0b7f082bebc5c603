"""Exact means and squares, and the factors that turn small samples' ranges into a spread.

d2 and d3 are the mean and the standard deviation of the range of n standard normal values, c4 the
mean of their standard deviation. Printed in ASTM's Manual on Presentation of Data and Control Chart
Analysis (from memory); the figures here were integrated from the normal distribution.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from fractions import Fraction

_D2 = (
    1.12838, 1.69257, 2.05875, 2.32593, 2.53441, 2.70436, 2.84720, 2.97003, 3.07751, 3.17287,
    3.25846, 3.33598, 3.40676, 3.47183, 3.53198, 3.58788, 3.64006, 3.68896, 3.73495, 3.77834,
    3.81938, 3.85832, 3.89535, 3.93063,
)  # fmt: skip
_D3 = (
    0.8525, 0.8884, 0.8798, 0.8641, 0.8480, 0.8332, 0.8198, 0.8078, 0.7971, 0.7873,
    0.7785, 0.7704, 0.7630, 0.7562, 0.7499, 0.7441, 0.7386, 0.7335, 0.7287, 0.7242,
    0.7199, 0.7159, 0.7121, 0.7084,
)  # fmt: skip

MOST_IN_A_RANGE = len(_D2) + 1
"""A range of more values than this wastes what lies between; no factor is given for it."""


def mean_of(values: Sequence[int | Fraction]) -> Fraction:
    """Return the exact mean of one or more values."""
    return Fraction(sum(values)) / len(values)


def squares_about_mean(values: Sequence[int | Fraction]) -> Fraction:
    """Return the exact sum of squared distances from the mean of one or more values."""
    # Exact numbers lose nothing in this form, and whole ones stay whole until the end.
    total = Fraction(sum(values))
    return sum(value * value for value in values) - total * total / len(values)


def d2(size: int) -> float:
    """Return the mean range of `size` (2 to 25) standard normal values; ValueError otherwise."""
    return _of(_D2, size)


def d3(size: int) -> float:
    """Return the standard deviation of the range of `size` (2 to 25) standard normal values."""
    return _of(_D3, size)


def d2_of_one_range(size: int) -> float:
    """Return √(d2² + d3²), which a single range is divided by so that its square is unbiased."""
    return math.hypot(d2(size), d3(size))


def upper_range_factor(size: int) -> float:
    """Return D4 = 1 + 3 d3/d2: ranges above D4 times their mean have a cause."""
    return 1 + 3 * d3(size) / d2(size)


def c4(size: int) -> float:
    """Return the mean of the standard deviation of `size` standard normal values (2 or more)."""
    if size < 2:
        raise ValueError(f"{size} readings have no standard deviation; it takes two")
    half = math.lgamma(size / 2) - math.lgamma((size - 1) / 2)
    return math.sqrt(2 / (size - 1)) * math.exp(half)


def _of(table: tuple[float, ...], size: int) -> float:
    if not 2 <= size <= MOST_IN_A_RANGE:
        raise ValueError(f"a range is taken of 2 to {MOST_IN_A_RANGE} values, not of {size}")
    return table[size - 2]
