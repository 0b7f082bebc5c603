"""Funnel limits: how far a group of n may lie from the rate of all by chance alone.

Limits at 95 % and 99.8 % about the common rate, drawn against n. Exact for counts: the binomial
quantile, interpolated so that the funnel is smooth (D. J. Spiegelhalter, Statistics in Medicine 24
(2005) 1185, appendix, from memory). Where groups differ more than chance explains, normal limits
widened by the root of the spread factor, in his words allowing for over-dispersion: otherwise
nearly every large group lies outside, and that says nothing of any one of them.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import accumulate

from coretrack.figures.discrete import at_least, binomial
from coretrack.figures.intervals import check_counts, check_level, normal_quantile

WARNING, ALARM = 0.95, 0.998
"""The two funnels: between them a group is worth a look, beyond the outer one it stands out."""

EXACT_LIMITS = "binomial, interpolated"
WIDENED_LIMITS = "normal, widened for spread"

INSIDE, WORTH_A_LOOK, STANDS_OUT = "inside", "worth a look", "stands out"

MOST_EXACT = 5_000
"""Above this many cores the normal limits are as good and much faster."""


@dataclass(frozen=True)
class FunnelLimits:
    """Limits of a rate 0..1 for groups of `n`: `low`/`high` at 95 %, `far_*` at 99.8 %."""

    n: int
    low: float
    high: float
    far_low: float
    far_high: float


@dataclass(frozen=True)
class Placed:
    """Where a group lies: "inside", "worth a look" or "stands out", and on which `side`."""

    limits: FunnelLimits
    verdict: str
    side: str


@dataclass(frozen=True)
class Funnel:
    """The common rate and its funnel; `centre` `None` with `why` while nothing is counted.

    `curve` has the limits at growing n, for drawing; `widening` the spread factor in them.
    """

    centre: float | None
    method: str
    widening: float
    curve: tuple[FunnelLimits, ...]
    why: str | None = None


def funnel_limits(centre: float, n: int, widening: float = 1.0) -> FunnelLimits:
    """Return both pairs of limits for groups of `n` about the rate `centre`.

    ValueError for n below 1, a rate outside 0..1 or a widening below 1.
    """
    if n < 1 or not 0 <= centre <= 1 or widening < 1:
        raise ValueError(f"no funnel at n {n}, rate {centre}, widening {widening}")
    if centre in (0, 1):
        return FunnelLimits(n, centre, centre, centre, centre)
    if widening > 1 or n > MOST_EXACT:
        low, high = _normal(centre, n, widening, WARNING)
        far_low, far_high = _normal(centre, n, widening, ALARM)
    else:
        reached = list(accumulate(binomial(n, centre)))
        low, high = _exact(reached, n, WARNING)
        far_low, far_high = _exact(reached, n, ALARM)
    # The interpolated limits of a tiny group may fall on the wrong side of the common rate.
    return FunnelLimits(
        n, min(low, centre), max(high, centre), min(far_low, centre), max(far_high, centre)
    )


def funnel(groups: Sequence[tuple[int, int]], widening: float = 1.0, points: int = 40) -> Funnel:
    """Return the funnel of groups (count, n) about their common rate, with a curve for drawing."""
    for count, n in groups:
        check_counts(count, n)
    total, largest = sum(n for _, n in groups), max((n for _, n in groups), default=0)
    method = WIDENED_LIMITS if widening > 1 else EXACT_LIMITS
    if total == 0:
        return Funnel(None, method, widening, (), "nothing is decided in any group yet")
    centre = sum(count for count, _ in groups) / total
    steps = sorted({max(1, round(largest * step / points)) for step in range(1, points + 1)})
    curve = tuple(funnel_limits(centre, n, widening) for n in steps)
    return Funnel(centre, method, widening, curve)


def place(count: int, n: int, centre: float, widening: float = 1.0) -> Placed:
    """Return where a group of n > 0 lies.

    The drawn limits are interpolated and would put a group of two out for being all good. So the
    verdict of an exact funnel is by the chance of a result at least that far off on its side; of a
    widened one by the limits, and a rate on a limit is still within it.
    """
    check_counts(count, n)
    limits = funnel_limits(centre, n, widening)
    rate = count / n
    side = "above" if rate > centre else "below" if rate < centre else "on"
    if limits.low == limits.high:
        return Placed(limits, INSIDE, side)
    if widening > 1 or n > MOST_EXACT:
        far = not limits.far_low <= rate <= limits.far_high
        near = not limits.low <= rate <= limits.high
    else:
        chances = binomial(n, centre)
        tail = min(math.fsum(chances[: count + 1]), at_least(chances, count))
        far, near = (tail < (1 - level) / 2 for level in (ALARM, WARNING))
    return Placed(limits, STANDS_OUT if far else WORTH_A_LOOK if near else INSIDE, side)


def _normal(centre: float, n: int, widening: float, level: float) -> tuple[float, float]:
    check_level(level)
    half = normal_quantile((1 + level) / 2) * math.sqrt(widening * centre * (1 - centre) / n)
    return max(0.0, centre - half), min(1.0, centre + half)


def _exact(reached: Sequence[float], n: int, level: float) -> tuple[float, float]:
    tail = (1 - level) / 2
    return _smooth(reached, n, tail), _smooth(reached, n, 1 - tail)


def _smooth(reached: Sequence[float], n: int, chance: float) -> float:
    """Return the binomial quantile less how far its step overshoots `chance`, as a share of n."""
    r = next((count for count, share in enumerate(reached) if share >= chance), n)
    before = reached[r - 1] if r > 0 else 0.0
    step = reached[r] - before
    beyond = (reached[r] - chance) / step if step > 0 else 0.0
    return min(1.0, max(0.0, (r - beyond) / n))
