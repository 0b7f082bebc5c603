"""This week against the thirteen before it: what is usual, and does this week stand out?

Counts and money of a week: mean ± 2.66 times the mean moving range of the earlier weeks, the chart
of individuals (NIST/SEMATECH e-Handbook 6.3.2.2). Shares: this week's cores against those of the
earlier weeks together, widened when weeks differ more than chance. Two figures with intervals of
their own: the difference, its bounds put together from both (G. Y. Zou and A. Donner, Statistics in
Medicine 27 (2008) 1693).
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction
from itertools import pairwise

from coretrack.figures.control_charts import MOVING_RANGE_TO_SIGMA
from coretrack.figures.dispersion import Batch, dispersion_test
from coretrack.figures.intervals import Interval
from coretrack.figures.plain_words import counted
from coretrack.figures.two_rates import RateChange, compare_rates

WEEKS = 13
"""A quarter of a year: long enough to show what is usual, short enough to be of today."""

LEAST_WEEKS = 5
"""With fewer earlier weeks nobody knows what is usual (our own habit)."""

METHOD = "difference of two figures"


@dataclass(frozen=True)
class WeekChange:
    """A week's amount against earlier weeks; `None` with `why` while there are too few of these.

    `usual` is the earlier weeks' mean, `low` and `high` what a week usually stays within, `change`
    this week less the mean. `unusual` says whether this week lies outside.
    """

    value: int
    weeks: int
    usual: Fraction | None
    change: Fraction | None
    low: Fraction | None
    high: Fraction | None
    unusual: bool | None
    sentence: str
    why: str | None = None


def week_change(value: int, earlier: Sequence[int], money: bool = False) -> WeekChange:
    """Return how this week's `value` stands against `earlier` weeks, oldest first.

    Only the latest thirteen count. A count never goes below zero, and its limits lie no nearer than
    chance alone makes it scatter (three times the root of the mean); `money` has neither.
    """
    weeks = list(earlier)[-WEEKS:]
    usual = Fraction(sum(weeks), len(weeks)) if weeks else None
    change = None if usual is None else value - usual
    if usual is None or len(weeks) < LEAST_WEEKS:
        before = counted(len(weeks), "earlier week") if weeks else "no earlier week"
        why = f"{before} to compare with, and it takes {LEAST_WEEKS}"
        return WeekChange(value, len(weeks), usual, change, None, None, None, why, why)
    low, high = individual_limits(weeks)
    if not money:
        chance = 3 * Fraction(math.sqrt(max(usual, Fraction(1, len(weeks)))))
        low, high = max(Fraction(0), min(low, usual - chance)), max(high, usual + chance)
    unusual = not low <= value <= high
    span = f"the {len(weeks)} weeks before"
    if not unusual:
        told = f"within what is usual in {span}"
    else:
        side = "more" if value > high else "less"
        told = f"{side} than is usual in {span}: look why"
    return WeekChange(value, len(weeks), usual, change, low, high, unusual, told)


def individual_limits(values: Sequence[int | Fraction]) -> tuple[Fraction, Fraction]:
    """Return mean ± 3 (mean moving range / 1.128); ValueError for fewer than two values."""
    if len(values) < 2:
        raise ValueError("it takes two values to see how they move")
    exact = [Fraction(value) for value in values]
    mean = sum(exact, Fraction(0)) / len(exact)
    moves = [abs(later - earlier) for earlier, later in pairwise(exact)]
    reach = 3 * sum(moves, Fraction(0)) / len(moves) / Fraction(str(MOVING_RANGE_TO_SIGMA))
    return mean - reach, mean + reach


def share_change(
    now: tuple[int, int], earlier: Sequence[tuple[int, int]], noun: str = "core"
) -> RateChange:
    """Return how this week's (count, n) differs from the latest thirteen of `earlier` together."""
    weeks = list(earlier)[-WEEKS:]
    before = (sum(count for count, _ in weeks), sum(n for _, n in weeks))
    batches = [Batch(str(place), n, count) for place, (count, n) in enumerate(weeks)]
    widening = dispersion_test(batches).widening
    names = (f"in {counted(len(weeks), 'week')} before", "this week")
    return compare_rates(before, now, names, noun, widening=widening)


@dataclass(frozen=True)
class FigureChange:
    """A figure against an earlier one, both with bounds: `change` is the later less the earlier.

    `clear`: zero lies outside the bounds. All `None`, with `why`, while one of the two is unknown;
    `clear` also where a bound is.
    """

    change: int | float | Fraction | None
    interval: Interval
    clear: bool | None
    why: str | None = None


def figure_change(
    before: int | float | Fraction | None,
    before_interval: Interval,
    now: int | float | Fraction | None,
    now_interval: Interval,
) -> FigureChange:
    """Return now - before with its bounds; the two must not share cores."""
    level = now_interval.level
    if before is None or now is None:
        side = "before" if before is None else "now"
        given = before_interval if before is None else now_interval
        why = f"no figure {side}" + (f": {given.why}" if given.why else "")
        return FigureChange(None, Interval(None, None, METHOD, level, why), None, why)
    change = now - before
    ends = (before_interval.low, before_interval.high, now_interval.low, now_interval.high)
    if None in ends:
        why = before_interval.why or now_interval.why or "one of the two has no interval"
        return FigureChange(change, Interval(None, None, METHOD, level, why), None, why)
    low_before, high_before, low_now, high_now = (float(end) for end in ends if end is not None)
    low = float(change) - math.hypot(float(now) - low_now, high_before - float(before))
    high = float(change) + math.hypot(high_now - float(now), float(before) - low_before)
    return FigureChange(change, Interval(low, high, METHOD, level), not low <= 0 <= high)
