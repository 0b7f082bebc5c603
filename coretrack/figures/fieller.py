"""Limits of a ratio of two uncertain means without pretending that the lower one is certain.

All theta are kept with (u - theta v)^2 <= q^2 (s_u - 2 theta s_uv + theta^2 s_v): a quadratic in
theta. It is a second way to reckon the interval of the cost per good body, and tells when the first
one, the ratio's standard error, is too sure of itself because few good bodies carry it.
Source: E. C. Fieller, J. R. Stat. Soc. B 16 (1954) 175.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction

from coretrack.figures.dispersion import Batch
from coretrack.figures.intervals import Interval, check_level
from coretrack.figures.money import shown, whole
from coretrack.figures.ratios import Number, t_quantile

METHOD = "Fieller over lots"

NEAR_ZERO = 1.0
"""From g = 1 on the lower mean could be zero, and the ratio has no limits."""

FAR_APART = 0.25
"""Ends that differ by more than this share of the shown interval's width are pointed out."""


@dataclass(frozen=True)
class FiellerLimits:
    """Both limits of the ratio, or none with `why`.

    `g` is (q s_v / v)^2, how uncertain the lower mean is: below 0.05 the plain standard error does
    as well; from 1 on the ratio has no limits.
    """

    low: float | None
    high: float | None
    g: float
    why: str | None = None


def fieller_limits(
    top: float,
    bottom: float,
    top_variance: float,
    bottom_variance: float,
    covariance: float,
    quantile: float,
) -> FiellerLimits:
    """Return the limits of top / bottom from the variances of the two means.

    `quantile` is the normal or Student's t one. ValueError for a negative variance, and where the
    lower mean and its variance are both zero.
    """
    if top_variance < 0 or bottom_variance < 0:
        raise ValueError("a variance is zero or more")
    if bottom == 0 and bottom_variance == 0:
        raise ValueError("nothing can be divided by zero bodies")
    square = quantile * quantile
    a = bottom * bottom - square * bottom_variance
    b = top * bottom - square * covariance
    c = top * top - square * top_variance
    g = math.inf if bottom == 0 else square * bottom_variance / (bottom * bottom)
    if g >= NEAR_ZERO:
        why = "so few lots gave good bodies that none at all cannot be ruled out: no limits"
        return FiellerLimits(None, None, g, why)
    # Rounding may leave a ratio that is the same in every lot a hair below zero.
    root = math.sqrt(max(0.0, b * b - a * c))
    return FiellerLimits((b - root) / a, (b + root) / a, g)


def fieller_interval(
    tops: Sequence[Number], bottoms: Sequence[Number], level: float = 0.95
) -> Interval:
    """Return the limits of sum(tops) / sum(bottoms) over lots, Student's t with lots - 1 degrees.

    No bounds, with `why`, from fewer than two lots, with nothing to divide by, or where the lower
    total is too uncertain. ValueError when the lists differ in length.
    """
    check_level(level)
    if len(tops) != len(bottoms):
        raise ValueError(f"{len(tops)} tops and {len(bottoms)} bottoms: each lot needs both")
    lots = len(tops)
    if lots < 2:
        return Interval(None, None, METHOD, level, "one lot cannot show how lots differ")
    y, x = [Fraction(top) for top in tops], [Fraction(bottom) for bottom in bottoms]
    top, bottom = sum(y) / lots, sum(x) / lots
    if not any(x):
        return Interval(None, None, METHOD, level, "the total to divide by is zero")
    size = lots * (lots - 1)
    found = fieller_limits(
        float(top),
        float(bottom),
        float(sum((value - top) ** 2 for value in y) / size),
        float(sum((value - bottom) ** 2 for value in x) / size),
        float(sum((b - bottom) * (a - top) for a, b in zip(y, x, strict=True)) / size),
        t_quantile(lots - 1, (1 + level) / 2),
    )
    return Interval(found.low, found.high, METHOD, level, found.why)


@dataclass(frozen=True)
class CrossCheck:
    """The cost per good body reckoned a second way; `interval` in ten-thousandths, whole counts.

    `agrees` says whether both ends lie near those shown, `None` while one of the two is unknown.
    """

    interval: Interval
    agrees: bool | None
    sentence: str


def cost_cross_check(batches: Sequence[Batch], used: Interval) -> CrossCheck:
    """Hold the cost interval that is shown (`used`, ten-thousandths) against Fieller's over lots.

    Only batches with decided cores count. It changes nothing: it says whether the shown one can be
    trusted.
    """
    lots = [batch for batch in batches if batch.decided > 0]
    found = fieller_interval([lot.cost for lot in lots], [lot.good for lot in lots], used.level)
    if found.low is None or found.high is None:
        return CrossCheck(found, None, f"no second reckoning: {found.why}")
    ends = whole(Fraction(found.low)), whole(Fraction(found.high))
    interval = Interval(*ends, METHOD, used.level)
    told = f"reckoned a second way (Fieller) it lies between {shown(ends[0])} and {shown(ends[1])}"
    if used.low is None or used.high is None:
        return CrossCheck(interval, None, told)
    room = FAR_APART * (used.high - used.low)
    agrees = abs(used.low - ends[0]) <= room and abs(used.high - ends[1]) <= room
    after = "; the two agree" if agrees else "; the two differ: take the wider one"
    return CrossCheck(interval, agrees, told + after)
