"""Two shares side by side: did a yield or a return rate change, and by how much?

The difference later - earlier with R. G. Newcombe's interval from two Wilson intervals (Statistics
in Medicine 17 (1998) 873, method 10), which never leaves -1..1 and holds for few cores and for
none or all good. Whether chance alone explains it: the z test with the pooled share, or R. A.
Fisher's exact test where a cell of the two-by-two table would be expected under 5.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from coretrack.figures.intervals import (
    WILSON,
    Interval,
    check_counts,
    check_level,
    normal_quantile,
    wilson_bounds,
)
from coretrack.figures.plain_words import counted, percent
from coretrack.figures.rate_tests import DIFFERENT, change_z

NEWCOMBE = "Newcombe, from two Wilson intervals"
POOLED_Z = "z, pooled share"
FISHER = "Fisher, exact"
HIGHER, LOWER = "higher", "lower"
"""One-sided: is the second share higher, or lower, than the first?"""

LEAST_EXPECTED = 5
"""Under this many expected in a cell the normal test is not used (common rule of thumb)."""


@dataclass(frozen=True)
class ShareOf:
    """`count` of `n` with its Wilson interval; `rate` is `None` when there is nothing to count."""

    name: str
    count: int
    n: int
    rate: float | None
    interval: Interval


@dataclass(frozen=True)
class RateChange:
    """The second share less the first, -1..1, with its interval; `None` with `why` if unknown.

    `p_value` is the chance of a difference at least this large if the two were alike (two-sided),
    `test` how it was found, `z` the standard errors between them (second less first). `odds_ratio`
    is the second's odds over the first's, `None` where one of them is 0 or without end. `clear`:
    the interval leaves out 0. `sentence` says it plainly.
    """

    first: ShareOf
    second: ShareOf
    change: float | None
    interval: Interval
    p_value: float | None
    test: str
    z: float | None
    odds_ratio: float | None
    sentence: str
    why: str | None = None
    widening: float = 1.0

    @property
    def clear(self) -> bool:
        """Whether the interval of the change lies wholly on one side of 0."""
        low, high = self.interval.low, self.interval.high
        return low is not None and high is not None and (low > 0 or high < 0)


def compare_rates(
    first: tuple[int, int],
    second: tuple[int, int],
    names: tuple[str, str] = ("before", "after"),
    noun: str = "core",
    level: float = 0.95,
    widening: float = 1.0,
) -> RateChange:
    """Return how the second (count, n) differs from the first.

    `widening` is how many times lots differ more than chance (`Dispersion.widening`): both counts
    are divided by it before any interval or test, and the exact test is then left out. With
    nothing counted on a side: no change, and `why` says which. ValueError for impossible counts.
    """
    check_level(level)
    if widening < 1:
        raise ValueError(f"a widening is 1 or more, not {widening}")
    for count, n in (first, second):
        check_counts(count, n)
    z = normal_quantile((1 + level) / 2)
    sides = tuple(
        _share(name, count, n, z, level, widening)
        for name, (count, n) in zip(names, (first, second), strict=True)
    )
    missing = [side.name for side in sides if side.rate is None]
    if missing:
        why = f"no {noun} {' and none '.join(missing)}: there is nothing to compare"
        nothing = Interval(None, None, NEWCOMBE, level, why)
        return RateChange(
            sides[0], sides[1], None, nothing, None, FISHER, None, None, why, why, widening
        )
    change, interval = _newcombe(sides[0], sides[1], level)
    p_value, test, apart = _test(first, second, widening)
    return RateChange(
        first=sides[0],
        second=sides[1],
        change=change,
        interval=interval,
        p_value=p_value,
        test=test,
        z=apart,
        odds_ratio=odds_ratio(second, first),
        sentence=_sentence(sides[0], sides[1], interval, noun),
        widening=widening,
    )


def odds_ratio(first: tuple[int, int], second: tuple[int, int]) -> float | None:
    """Return the odds of the first (count, n) over the second's; `None` when one has no end."""
    top = first[0] * (second[1] - second[0])
    bottom = (first[1] - first[0]) * second[0]
    return None if bottom == 0 or top == 0 else top / bottom


def fisher_p_value(first: tuple[int, int], second: tuple[int, int], side: str = DIFFERENT) -> float:
    """Return Fisher's exact p value that two (count, n) share one rate.

    `side` is "different" (all tables no likelier than this one), "higher" or "lower" (the second's
    rate against the first's). Margins fixed; 1 when nothing can differ. Source: R. A. Fisher, The
    Design of Experiments (1935). ValueError for impossible counts or another side.
    """
    for count, n in (first, second):
        check_counts(count, n)
    total = first[0] + second[0]
    least, most = max(0, total - first[1]), min(total, second[1])
    weights = [
        math.exp(
            _log_choose(second[1], count)
            + _log_choose(first[1], total - count)
            - _log_choose(first[1] + second[1], total)
        )
        for count in range(least, most + 1)
    ]
    here = second[0] - least
    if side == HIGHER:
        return min(1.0, math.fsum(weights[here:]))
    if side == LOWER:
        return min(1.0, math.fsum(weights[: here + 1]))
    if side != DIFFERENT:
        raise ValueError(f"side is '{HIGHER}', '{LOWER}' or '{DIFFERENT}', not '{side}'")
    # Tables that tie with the observed one may differ from it in the last digits.
    bound = weights[here] * (1 + 1e-7)
    return min(1.0, math.fsum(weight for weight in weights if weight <= bound))


def _share(name: str, count: int, n: int, z: float, level: float, widening: float) -> ShareOf:
    if n == 0:
        return ShareOf(name, 0, 0, None, Interval(None, None, WILSON, level, f"none {name}"))
    low, high = wilson_bounds(count / widening, n / widening, z)
    return ShareOf(
        name,
        count,
        n,
        count / n,
        Interval(min(low, count / n), max(high, count / n), WILSON, level),
    )


def _newcombe(first: ShareOf, second: ShareOf, level: float) -> tuple[float, Interval]:
    """Return the change and its interval; each end takes the side of each share that makes it."""
    p1, p2 = first.rate or 0.0, second.rate or 0.0
    low1, high1 = first.interval.low or 0.0, first.interval.high or 0.0
    low2, high2 = second.interval.low or 0.0, second.interval.high or 0.0
    change = p2 - p1
    low = change - math.hypot(p2 - low2, high1 - p1)
    high = change + math.hypot(high2 - p2, p1 - low1)
    return change, Interval(max(-1.0, low), min(1.0, high), NEWCOMBE, level)


def _test(
    first: tuple[int, int], second: tuple[int, int], widening: float
) -> tuple[float | None, str, float | None]:
    """Return the p value, the test's name and z; all alike differs by nothing, so p is 1."""
    apart = change_z(*second, *first)
    if apart is not None:
        apart /= math.sqrt(widening)
    total, cores = first[0] + second[0], first[1] + second[1]
    expected = min(first[1], second[1]) * min(total, cores - total) / cores
    if widening == 1 and expected < LEAST_EXPECTED:
        return fisher_p_value(first, second), FISHER, apart
    if apart is None:
        return 1.0, POOLED_Z, None
    return math.erfc(abs(apart) / math.sqrt(2)), POOLED_Z, apart


def _sentence(first: ShareOf, second: ShareOf, interval: Interval, noun: str) -> str:
    p1, p2 = first.rate or 0.0, second.rate or 0.0
    low, high = interval.low or 0.0, interval.high or 0.0
    was = f"{percent(p1)} {first.name} ({counted(first.n, noun)})"
    now = f"{percent(p2)} {second.name} ({counted(second.n, noun)})"
    span = f"{points(low)} to {points(high)} points"
    if low <= 0 <= high:
        return f"{was}, {now}: from {span}, so chance alone can explain it"
    word = "up" if p2 > p1 else "down"
    return f"{was}, {now}: {word}, from {span}, more than chance explains"


def points(share: float) -> str:
    """Return a difference of shares in points with its sign: "+4.2", "−0.3", "0.0"."""
    tenths = round(share * 1000)
    sign = "+" if tenths > 0 else "−" if tenths < 0 else ""
    return f"{sign}{abs(tenths) / 10:.1f}"


def _log_choose(n: int, k: int) -> float:
    return math.lgamma(n + 1) - math.lgamma(k + 1) - math.lgamma(n - k + 1)
