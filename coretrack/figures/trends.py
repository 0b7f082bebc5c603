"""Is a figure going up or down over the weeks, since when it was looked at, and how sure is that?

A share (yield, return rate) is fitted by logistic regression on the week, with the spread between
weeks in the interval; any other figure (money, days) by a straight line through its weeks, least
squares. The line's interval takes Student's t; source: NIST/SEMATECH e-Handbook 4.1.4.1 and the
textbooks. The change is what the fit says from the first week to the last, not last less first.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from fractions import Fraction

from coretrack.figures.intervals import Interval, check_level
from coretrack.figures.logistic import (
    CountAt,
    FittedShare,
    LogisticFit,
    logistic_fit,
    share_at,
    slope_interval,
    widened,
)
from coretrack.figures.plain_words import counted, percent
from coretrack.figures.ratios import t_quantile

LEAST_WEEKS = 5
"""With fewer weeks that hold something no trend is given: how weeks differ could not be seen."""

LINE = "straight line"

NO_SPREAD = "the points lie exactly on a line: how they spread was not seen"

RISING, FALLING, STEADY, UNKNOWN = "rising", "falling", "no clear change", "unknown"


@dataclass(frozen=True)
class WeekShare:
    """`count` of `size` in week number `week` (any whole numbers in time order)."""

    week: int
    size: int
    count: int


@dataclass(frozen=True)
class ShareTrend:
    """The fitted share at the first and last week, and the change between them, 0..1.

    `per_week` is the slope in log odds; `direction` is "rising" or "falling" once its interval
    leaves out 0, "no clear change" otherwise and "unknown" with `why`. `curve` has the fitted
    share of every week, for drawing. `spread_factor` is how many times the variance was widened.
    """

    direction: str
    weeks: int
    first: FittedShare | None
    last: FittedShare | None
    change: float | None
    change_interval: Interval
    per_week: Interval
    curve: tuple[FittedShare, ...]
    spread_factor: float
    sentence: str
    why: str | None = None


@dataclass(frozen=True)
class LineFit:
    """value = intercept + slope x; `slope` exact where x and y were. `None` with `why` if unknown.

    `residual_sd` is the spread of one value about the line, `degrees` its degrees of freedom.
    """

    slope: float | None
    intercept: float | None
    slope_error: float | None
    intercept_error: float | None
    residual_sd: float | None
    degrees: int
    slope_interval: Interval
    direction: str
    why: str | None = None


def week_of(day: date) -> int:
    """Return the number of the week (Monday to Sunday) that `day` lies in, counted from year 1."""
    return (day.toordinal() - 1) // 7


def share_trend(weeks: Sequence[WeekShare], noun: str = "yield", level: float = 0.95) -> ShareTrend:
    """Return whether a share rises or falls over the weeks; weeks of size 0 do not count.

    `noun` is what the sentence calls the share. Fewer than 5 weeks with something in them, or a
    share of none or all everywhere: no trend, and `why`.
    """
    check_level(level)
    used = [week for week in weeks if week.size > 0]
    if len(used) < LEAST_WEEKS:
        why = (
            f"only {counted(len(used), 'week')} with anything decided; a trend takes {LEAST_WEEKS}"
        )
        return _no_trend(len(used), level, why)
    fit = widened(logistic_fit([CountAt(week.week, week.size, week.count) for week in used]))
    if fit.why is not None:
        return _no_trend(len(used), level, fit.why)
    start, end = min(week.week for week in used), max(week.week for week in used)
    first, last = share_at(fit, start, level), share_at(fit, end, level)
    slope = slope_interval(fit, level)
    change, bounds = _change(fit, first, last, level)
    direction = _direction(slope)
    return ShareTrend(
        direction=direction,
        weeks=len(used),
        first=first,
        last=last,
        change=change,
        change_interval=bounds,
        per_week=slope,
        curve=tuple(share_at(fit, week, level) for week in range(start, end + 1)),
        spread_factor=fit.widening,
        sentence=_sentence(noun, direction, first, last, end - start + 1),
    )


def line_fit(
    points: Sequence[tuple[int | float | Fraction, int | float | Fraction]], level: float = 0.95
) -> LineFit:
    """Return the straight line through (x, y) by least squares, worked out exactly.

    Fewer than three points, or all at one x: `why`. Points exactly on a line show no spread: the
    line stands without an interval, and `slope_interval.why` says so.
    """
    check_level(level)
    pairs = [(Fraction(x), Fraction(y)) for x, y in points]
    count = len(pairs)
    if count < 3:
        return _no_line(level, f"{counted(count, 'point')}; a line with an interval takes 3")
    mean_x = sum(x for x, _ in pairs) / count
    mean_y = sum(y for _, y in pairs) / count
    square = sum((x - mean_x) ** 2 for x, _ in pairs)
    if square == 0:
        return _no_line(level, "all points are of one and the same time")
    slope = sum((x - mean_x) * (y - mean_y) for x, y in pairs) / square
    intercept = mean_y - slope * mean_x
    degrees = count - 2
    left = sum((y - intercept - slope * x) ** 2 for x, y in pairs) / degrees
    error = math.sqrt(left / square)
    if left == 0:
        bounds = Interval(None, None, LINE, level, NO_SPREAD)
        direction = RISING if slope > 0 else FALLING if slope < 0 else STEADY
    else:
        half = t_quantile(degrees, (1 + level) / 2) * error
        bounds = Interval(float(slope) - half, float(slope) + half, LINE, level)
        direction = _direction(bounds)
    return LineFit(
        slope=float(slope),
        intercept=float(intercept),
        slope_error=error,
        intercept_error=math.sqrt(left * (Fraction(1, count) + mean_x * mean_x / square)),
        residual_sd=math.sqrt(left),
        degrees=degrees,
        slope_interval=bounds,
        direction=direction,
    )


def _change(
    fit: LogisticFit, first: FittedShare, last: FittedShare, level: float
) -> tuple[float, Interval]:
    """Return last less first and its interval by the delta method on (intercept, slope)."""
    p0, p1 = first.share or 0.0, last.share or 0.0
    w0, w1 = p0 * (1 - p0), p1 * (1 - p1)
    by_intercept = w1 - w0
    by_slope = w1 * (last.x - fit.middle) - w0 * (first.x - fit.middle)
    variance = (
        (by_intercept * (fit.intercept_error or 0.0)) ** 2
        + 2 * by_intercept * by_slope * (fit.covariance or 0.0)
        + (by_slope * (fit.slope_error or 0.0)) ** 2
    )
    half = fit.quantile(level) * math.sqrt(max(0.0, variance))
    change = p1 - p0
    bounds = Interval(max(-1.0, change - half), min(1.0, change + half), fit.method, level)
    return change, bounds


def _direction(slope: Interval) -> str:
    if slope.low is None or slope.high is None:
        return UNKNOWN
    if slope.low > 0:
        return RISING
    return FALLING if slope.high < 0 else STEADY


def _sentence(noun: str, direction: str, first: FittedShare, last: FittedShare, weeks: int) -> str:
    was, now = percent(first.share or 0.0), percent(last.share or 0.0)
    if direction == STEADY:
        return f"{noun}: no clear change over {counted(weeks, 'week')}"
    return f"{noun}: {direction} over {counted(weeks, 'week')}, from {was} to {now} by the fit"


def _no_trend(weeks: int, level: float, why: str) -> ShareTrend:
    nothing = Interval(None, None, "logistic", level, why)
    return ShareTrend(UNKNOWN, weeks, None, None, None, nothing, nothing, (), 1.0, why, why)


def _no_line(level: float, why: str) -> LineFit:
    nothing = Interval(None, None, LINE, level, why)
    return LineFit(None, None, None, None, None, 0, nothing, UNKNOWN, why)
