"""A share that follows a number: logistic regression of counts on one value.

log(p / (1 - p)) = a + b x by maximum likelihood (Newton's steps, which are the reweighted least
squares of generalized linear models). Groups that differ more than chance get wider intervals: the
variance is multiplied by Pearson's X² over its degrees of freedom where that exceeds 1, and
Student's t takes the place of the normal quantile. Sources: A. J. Dobson, An Introduction to
Generalized Linear Models; P. McCullagh and J. A. Nelder, Generalized Linear Models (both from
memory).
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from coretrack.figures.intervals import Interval, check_counts, check_level, normal_quantile
from coretrack.figures.ratios import t_quantile

LOGISTIC = "logistic"
LOGISTIC_WIDENED = "logistic, widened for spread"

MOST_STEPS = 60
ONE_VALUE = "all are at one and the same value: nothing can be said of how the share follows it"
SEPARATED = (
    "below some value none and above it all (or the other way round): how steep the change is"
    " cannot be told"
)
ALL_OR_NONE = "the share is none, or all, everywhere: no slope can be worked out"


@dataclass(frozen=True)
class CountAt:
    """`count` of `size` at the value `x`."""

    x: float
    size: int
    count: int


@dataclass(frozen=True)
class LogisticFit:
    """log odds = intercept + slope (x - middle); the errors carry `widening` times the variance.

    `middle` is the mean of x, so that the two errors hardly depend on each other. `dispersion` is
    Pearson's X² over `degrees`, `None` without degrees. `None` with `why` where nothing can be fit.
    """

    intercept: float | None
    slope: float | None
    middle: float
    intercept_error: float | None
    slope_error: float | None
    covariance: float | None
    deviance: float | None
    dispersion: float | None
    degrees: int
    widening: float = 1.0
    why: str | None = None

    @property
    def method(self) -> str:
        """The name that stands beside an interval from this fit."""
        return LOGISTIC_WIDENED if self.widening > 1 else LOGISTIC

    def quantile(self, level: float) -> float:
        """Return the quantile for a two-sided interval: t where the spread was estimated."""
        check_level(level)
        if self.widening > 1:
            return t_quantile(self.degrees, (1 + level) / 2)
        return normal_quantile((1 + level) / 2)


@dataclass(frozen=True)
class FittedShare:
    """The fitted share at `x`, 0..1, with its interval; `None` with `why` where there is no fit."""

    x: float
    share: float | None
    interval: Interval
    why: str | None = None


def logistic_fit(points: Sequence[CountAt]) -> LogisticFit:
    """Fit the share to x. Groups of size 0 do not count.

    The errors are those of chance alone; `widened` adds the spread between groups. Fewer than two
    values of x, no or all counts, or a share that jumps from none to all: `why`.
    """
    used = [point for point in points if point.size > 0]
    for point in points:
        check_counts(point.count, point.size)
    total = sum(point.size for point in used)
    middle = sum(point.x * point.size for point in used) / total if total else 0.0
    why = _why_not(used)
    if why is not None:
        return _nothing(middle, why)
    share = sum(point.count for point in used) / total
    spread = math.sqrt(sum(point.size * (point.x - middle) ** 2 for point in used) / total)
    # In units of the spread the steps are well behaved whatever x is measured in.
    scaled = [((point.x - middle) / spread, point.size, point.count) for point in used]
    a, b = math.log(share / (1 - share)), 0.0
    for _ in range(MOST_STEPS):
        (g0, g1), (h00, h01, h11) = _slopes(scaled, a, b)
        inside = h00 * h11 - h01 * h01
        if inside <= 1e-12 * h00 * h11 or not math.isfinite(inside) or abs(b) > 50:
            return _nothing(middle, SEPARATED)
        step_a, step_b = (h11 * g0 - h01 * g1) / inside, (h00 * g1 - h01 * g0) / inside
        a, b = _damped(scaled, a, b, step_a, step_b)
        if abs(step_a) + abs(step_b) < 1e-10:
            break
    return _finished(scaled, a, b, middle, spread)


def share_at(fit: LogisticFit, x: float, level: float = 0.95) -> FittedShare:
    """Return the fitted share at `x` with its interval, which never leaves 0..1."""
    if fit.intercept is None or fit.slope is None or fit.covariance is None:
        return FittedShare(x, None, Interval(None, None, LOGISTIC, level, fit.why), fit.why)
    away = x - fit.middle
    odds = fit.intercept + fit.slope * away
    variance = (
        (fit.intercept_error or 0.0) ** 2
        + 2 * away * fit.covariance
        + (away * (fit.slope_error or 0.0)) ** 2
    )
    half = fit.quantile(level) * math.sqrt(max(0.0, variance))
    bounds = Interval(_share(odds - half), _share(odds + half), fit.method, level)
    return FittedShare(x, _share(odds), bounds)


def slope_interval(fit: LogisticFit, level: float = 0.95) -> Interval:
    """Return the interval of the slope, in log odds per unit of x."""
    if fit.slope is None or fit.slope_error is None:
        return Interval(None, None, LOGISTIC, level, fit.why)
    half = fit.quantile(level) * fit.slope_error
    return Interval(fit.slope - half, fit.slope + half, fit.method, level)


def _why_not(used: Sequence[CountAt]) -> str | None:
    """Return why no slope can be fitted, or nothing when it can."""
    if len({point.x for point in used}) < 2:
        return ONE_VALUE
    if all(point.count == 0 for point in used) or all(p.count == p.size for p in used):
        return ALL_OR_NONE
    some = [point.x for point in used if point.count > 0]
    others = [point.x for point in used if point.count < point.size]
    if max(some) <= min(others) or max(others) <= min(some):
        return SEPARATED
    return None


def _slopes(
    scaled: Sequence[tuple[float, int, int]], a: float, b: float
) -> tuple[tuple[float, float], tuple[float, float, float]]:
    """Return the slopes of the log-likelihood and the information (negative second slopes)."""
    g0 = g1 = h00 = h01 = h11 = 0.0
    for x, size, count in scaled:
        share = _share(a + b * x)
        rest, weight = count - size * share, size * share * (1 - share)
        g0, g1 = g0 + rest, g1 + rest * x
        h00, h01, h11 = h00 + weight, h01 + weight * x, h11 + weight * x * x
    return (g0, g1), (h00, h01, h11)


def _damped(
    scaled: Sequence[tuple[float, int, int]], a: float, b: float, step_a: float, step_b: float
) -> tuple[float, float]:
    """Return (a, b) after the step, halved until it does not make the likelihood worse."""
    here = _likelihood(scaled, a, b)
    for _ in range(30):
        if _likelihood(scaled, a + step_a, b + step_b) >= here - 1e-12 * abs(here):
            break
        step_a, step_b = step_a / 2, step_b / 2
    return a + step_a, b + step_b


def _likelihood(scaled: Sequence[tuple[float, int, int]], a: float, b: float) -> float:
    """Return the log-likelihood; log(1 + e^o) is written so that it cannot overflow."""
    total = 0.0
    for x, size, count in scaled:
        odds = a + b * x
        total += count * odds - size * (max(0.0, odds) + math.log1p(math.exp(-abs(odds))))
    return total


def _finished(
    scaled: Sequence[tuple[float, int, int]], a: float, b: float, middle: float, spread: float
) -> LogisticFit:
    _, (h00, h01, h11) = _slopes(scaled, a, b)
    inside = h00 * h11 - h01 * h01
    chi = deviance = 0.0
    for x, size, count in scaled:
        share = _share(a + b * x)
        chi += (count - size * share) ** 2 / (size * share * (1 - share))
        deviance += 2 * (_term(count, size * share) + _term(size - count, size * (1 - share)))
    degrees = len(scaled) - 2
    dispersion = chi / degrees if degrees > 0 else None
    return LogisticFit(
        intercept=a,
        slope=b / spread,
        middle=middle,
        intercept_error=math.sqrt(h11 / inside),
        slope_error=math.sqrt(h00 / inside) / spread,
        covariance=-h01 / inside / spread,
        deviance=deviance,
        dispersion=dispersion,
        degrees=degrees,
    )


def widened(fit: LogisticFit) -> LogisticFit:
    """Return `fit` with its errors widened where the groups differ more than the fit explains."""
    if fit.dispersion is None or fit.dispersion <= 1 or fit.widening > 1 or fit.covariance is None:
        return fit
    root = math.sqrt(fit.dispersion)
    return LogisticFit(
        fit.intercept,
        fit.slope,
        fit.middle,
        (fit.intercept_error or 0.0) * root,
        (fit.slope_error or 0.0) * root,
        fit.covariance * fit.dispersion,
        fit.deviance,
        fit.dispersion,
        fit.degrees,
        fit.dispersion,
    )


def _nothing(middle: float, why: str) -> LogisticFit:
    return LogisticFit(None, None, middle, None, None, None, None, None, 0, why=why)


def _term(seen: float, expected: float) -> float:
    return seen * math.log(seen / expected) if seen > 0 else 0.0


def _share(odds: float) -> float:
    if odds >= 0:
        return 1 / (1 + math.exp(-odds))
    raised = math.exp(odds)
    return raised / (1 + raised)
