"""Ratio of two totals over lots, such as all money over all good bodies, and how sure it is.

R = sum y / sum x; se(R) = sqrt( sum (y - R x)^2 / (n - 1) / n * (1 - n/N) ) / mean x, the last
factor only when the n lots are drawn from N. Source: S. L. Lohr, Sampling: Design and Analysis,
ratio estimation. The interval takes Student's t with n - 1 degrees of freedom.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction

from coretrack.figures.intervals import Interval, check_level

Number = int | float | Fraction | Decimal

METHOD = "ratio over lots"


@dataclass(frozen=True)
class RatioEstimate:
    """The ratio, exact, and its standard error; `None` with `why` where there is none.

    `effective` is (sum x)^2 / sum x^2: how many equal lots would weigh the same. Where one lot
    carries most of the total it is near 1, and the standard error is too small.
    """

    ratio: Fraction | None
    standard_error: float | None
    lots: int
    effective: float | None = None
    why: str | None = None


def ratio_estimate(
    tops: Sequence[Number], bottoms: Sequence[Number], population: int | None = None
) -> RatioEstimate:
    """Return sum(tops) / sum(bottoms) with its standard error.

    `population` is the number of lots from which these were drawn, when that is known.
    ValueError when the lists differ in length, a bottom is negative, or there are more lots than
    `population`.
    """
    if len(tops) != len(bottoms):
        raise ValueError(f"{len(tops)} tops and {len(bottoms)} bottoms: each lot needs both")
    y = [Fraction(top) for top in tops]
    x = [Fraction(bottom) for bottom in bottoms]
    if any(value < 0 for value in x):
        raise ValueError("the number of good bodies of a lot cannot be negative")
    lots = len(x)
    if population is not None and population < lots:
        raise ValueError(f"{lots} lots cannot be drawn from {population}")
    whole = sum(x)
    if whole == 0:
        return RatioEstimate(None, None, lots, why="the total to divide by is zero")
    ratio = sum(y) / whole
    effective = float(whole * whole / sum(value * value for value in x))
    if lots < 2:
        return RatioEstimate(ratio, None, lots, effective, "one lot cannot show how lots differ")
    residual = sum((top - ratio * bottom) ** 2 for top, bottom in zip(y, x, strict=True))
    error = ratio_error(residual / (lots - 1), whole / lots, lots, population)
    return RatioEstimate(ratio, error, lots, effective)


def ratio_error(
    residual_variance: Number, mean_bottom: Number, lots: int, population: int | None = None
) -> float:
    """Return the standard error from the variance of y - R x, the mean of x and the lot count."""
    variance = Fraction(residual_variance) / lots
    if population is not None:
        variance *= 1 - Fraction(lots, population)
    return math.sqrt(variance) / abs(float(mean_bottom))


def t_quantile(degrees: int, probability: float) -> float:
    """Return the quantile of Student's t with `degrees` degrees of freedom."""
    from scipy import special  # a slow import that most commands never need

    return float(special.stdtrit(degrees, probability))


def ratio_interval(estimate: RatioEstimate, level: float = 0.95) -> Interval:
    """Return ratio ± t se; both bounds `None`, with the reason, when there is no standard error."""
    check_level(level)
    if estimate.ratio is None or estimate.standard_error is None:
        return Interval(None, None, METHOD, level, estimate.why)
    half = t_quantile(estimate.lots - 1, (1 + level) / 2) * estimate.standard_error
    middle = float(estimate.ratio)
    return Interval(middle - half, middle + half, METHOD, level)
