"""Confidence intervals for a share: good bodies over decided cores.

Wilson is plain Python; the exact and the Jeffreys limits take SciPy's inverse incomplete beta
function, imported only when asked for. Bounds never leave 0..1, always hold the observed share,
and are exactly 0 or 1 where the method says so. With nothing decided there is no interval: both
bounds are `None` and `why` says so.

Sources: E. B. Wilson, J. Am. Stat. Assoc. 22 (1927) 209; C. J. Clopper and E. S. Pearson,
Biometrika 26 (1934) 404; A. Agresti and B. A. Coull, Am. Statistician 52 (1998) 119;
L. D. Brown, T. T. Cai and A. DasGupta, Statistical Science 16 (2001) 101 (Jeffreys, with its ends
set to 0 and 1).
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass
from statistics import NormalDist

NOTHING_DECIDED = "no decided core yet"

WILSON = "Wilson"
EXACT = "Clopper-Pearson"
AGRESTI_COULL = "Agresti-Coull"
JEFFREYS = "Jeffreys"

AT_LEAST = "at least"
AT_MOST = "at most"


@dataclass(frozen=True)
class Interval:
    """Bounds at `level` (two-sided), `None` with a reason in `why` when there is no figure yet."""

    low: float | None
    high: float | None
    method: str
    level: float = 0.95
    why: str | None = None


def normal_quantile(probability: float) -> float:
    """Return z with P(Z <= z) = `probability` for a standard normal Z."""
    return NormalDist().inv_cdf(probability)


def check_level(level: float) -> None:
    """Raise ValueError unless `level` is a confidence between 0 and 1, such as 0.95."""
    if not 0 < level < 1:
        raise ValueError(f"a confidence level lies between 0 and 1, such as 0.95; {level} does not")


def check_counts(good: int, n: int) -> None:
    """Raise ValueError unless 0 <= good <= n."""
    if not 0 <= good <= n:
        raise ValueError(f"{good} good of {n} decided cannot be: good lies between 0 and decided")


def wilson_bounds(good: float, n: float, z: float) -> tuple[float, float]:
    """Return the score limits for `good` of `n` (n > 0, fractions allowed) at normal quantile z."""
    share = good / n
    centre = (good + z * z / 2) / (n + z * z)
    half = z * math.sqrt(good * (n - good) / n + z * z / 4) / (n + z * z)
    low = 0.0 if good <= 0 else _between(centre - half, 0.0, share)
    high = 1.0 if good >= n else _between(centre + half, share, 1.0)
    return low, high


def wilson(good: int, n: int, level: float = 0.95) -> Interval:
    """Return the Wilson score interval, the one shown by default beside every rate."""
    return _two_sided(good, n, level, WILSON, _wilson_tail)


def clopper_pearson(good: int, n: int, level: float = 0.95) -> Interval:
    """Return the exact interval: it never covers less than `level`, and is wider for that."""
    return _two_sided(good, n, level, EXACT, _exact_tail)


def agresti_coull(good: int, n: int, level: float = 0.95) -> Interval:
    """Return the adjusted Wald interval, clipped to 0..1."""
    return _two_sided(good, n, level, AGRESTI_COULL, _agresti_coull_tail)


def jeffreys(good: int, n: int, level: float = 0.95) -> Interval:
    """Return the equal-tailed interval of Beta(good + 1/2, n - good + 1/2)."""
    return _two_sided(good, n, level, JEFFREYS, _jeffreys_tail)


METHODS: dict[str, Callable[[int, int, float], Interval]] = {
    WILSON: wilson,
    EXACT: clopper_pearson,
    AGRESTI_COULL: agresti_coull,
    JEFFREYS: jeffreys,
}
"""The two-sided methods by the name that is shown beside the interval."""


def one_sided(
    good: int, n: int, level: float = 0.95, side: str = AT_LEAST, method: str = WILSON
) -> Interval:
    """Return a one-sided bound that holds with confidence `level`; the other end is 0 or 1.

    `side` is "at least" (a lower limit) or "at most" (an upper limit), `method` one of `METHODS`.
    ValueError for anything else.
    """
    if side not in (AT_LEAST, AT_MOST):
        raise ValueError(f"side is '{AT_LEAST}' or '{AT_MOST}', not '{side}'")
    tail = _TAILS.get(method)
    if tail is None:
        raise ValueError(f"there is no interval method '{method}'; use one of {', '.join(METHODS)}")
    check_level(level)
    check_counts(good, n)
    name = f"{method}, {side}"
    if n == 0:
        return Interval(None, None, name, level, NOTHING_DECIDED)
    low, high = tail(good, n, 1 - level)
    if side == AT_LEAST:
        return Interval(low, 1.0, name, level)
    return Interval(0.0, high, name, level)


def _two_sided(
    good: int,
    n: int,
    level: float,
    method: str,
    tail: Callable[[int, int, float], tuple[float, float]],
) -> Interval:
    check_level(level)
    check_counts(good, n)
    if n == 0:
        return Interval(None, None, method, level, NOTHING_DECIDED)
    low, high = tail(good, n, (1 - level) / 2)
    return Interval(low, high, method, level)


def _wilson_tail(good: int, n: int, tail: float) -> tuple[float, float]:
    # A one-sided limit at less than 50 % would turn the interval inside out; hold it at the share.
    return wilson_bounds(good, n, max(0.0, -normal_quantile(tail)))


def _exact_tail(good: int, n: int, tail: float) -> tuple[float, float]:
    from scipy import special  # a slow import that most commands never need

    share = good / n
    low, high = 0.0, 1.0
    if good > 0:
        low = _between(float(special.betaincinv(good, n - good + 1, tail)), 0.0, share)
    if good < n:
        high = _between(float(special.betaincinv(good + 1, n - good, 1 - tail)), share, 1.0)
    return low, high


def _agresti_coull_tail(good: int, n: int, tail: float) -> tuple[float, float]:
    z = max(0.0, -normal_quantile(tail))
    size = n + z * z
    centre = (good + z * z / 2) / size
    half = z * math.sqrt(centre * (1 - centre) / size)
    share = good / n
    return _between(centre - half, 0.0, share), _between(centre + half, share, 1.0)


def _jeffreys_tail(good: int, n: int, tail: float) -> tuple[float, float]:
    from scipy import special  # a slow import that most commands never need

    share = good / n
    a, b = good + 0.5, n - good + 0.5
    low, high = 0.0, 1.0
    if good > 0:
        low = _between(float(special.betaincinv(a, b, tail)), 0.0, share)
    if good < n:
        high = _between(float(special.betaincinv(a, b, 1 - tail)), share, 1.0)
    return low, high


def _between(value: float, least: float, most: float) -> float:
    return min(max(value, least), most)


_TAILS: dict[str, Callable[[int, int, float], tuple[float, float]]] = {
    WILSON: _wilson_tail,
    EXACT: _exact_tail,
    AGRESTI_COULL: _agresti_coull_tail,
    JEFFREYS: _jeffreys_tail,
}
