"""Whole distributions of how many of n cores are good, by the ratio of neighbouring chances.

Each list holds the chances of 0, 1 … n good. Starting from the middle and multiplying up and down
needs no special function, cannot overflow and keeps about 13 digits.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from itertools import accumulate


def binomial(n: int, share: float) -> list[float]:
    """Return the chances of 0 … n good when each core is good with probability `share`."""
    if not 0 <= share <= 1:
        raise ValueError(f"a yield lies between 0 and 1; {share} does not")
    if share in (0, 1):
        certain = n if share == 1 else 0
        return [1.0 if k == certain else 0.0 for k in range(n + 1)]
    odds = share / (1 - share)
    return _from_ratios(n, round(n * share), lambda k: (n - k) / (k + 1) * odds)


def beta_binomial(n: int, a: float, b: float) -> list[float]:
    """Return the chances of 0 … n good when the lot's yield itself is drawn from Beta(a, b)."""
    if not (a > 0 and b > 0 and math.isfinite(a) and math.isfinite(b)):
        raise ValueError(f"a and b are finite and above 0; {a} and {b} are not")
    start = round(n * a / (a + b))
    return _from_ratios(n, start, lambda k: (n - k) * (a + k) / ((k + 1) * (b + n - k - 1)))


def quantile(chances: list[float], probability: float) -> int:
    """Return the smallest count that is not exceeded with at least `probability`."""
    for count, reached in enumerate(accumulate(chances)):
        if reached >= probability:
            return count
    return len(chances) - 1


def at_least(chances: list[float], count: int) -> float:
    """Return the chance of `count` or more."""
    return math.fsum(chances[max(0, count) :])


def _from_ratios(n: int, start: int, ratio: Callable[[int], float]) -> list[float]:
    """Return chances proportional to a walk from `start`; ratio(k) = chance(k + 1) / chance(k)."""
    weights = [0.0] * (n + 1)
    weights[start] = 1.0
    for k in range(start, n):
        weights[k + 1] = weights[k] * ratio(k)
    for k in range(start - 1, -1, -1):
        weights[k] = weights[k + 1] / ratio(k)
    whole = math.fsum(weights)
    return [weight / whole for weight in weights]
