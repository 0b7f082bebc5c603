"""Does a dimension fit its limits: Cp, Cpk from the spread within groups, Pp, Ppk from all of it.

Cp = (U - L)/6σ, Cpu = (U - m)/3σ, Cpl = (m - L)/3σ, Cpk the smaller. Pp and Ppk are the same with
the standard deviation of all readings. σ within groups: their pooled standard deviation over
c4(degrees + 1); groups of one reading each, in time order: mean moving range / 1.128. All of it
takes the readings for normal; the histogram shows whether they are.

Intervals: Cp(√(chi²/df)) ; Cpk ± z Cpk √(1/(9 n Cpk²) + 1/(2 df)), A. F. Bissell, Applied
Statistics 39 (1990) 331. df are those of the standard deviation that was used.

Sources: D. C. Montgomery, Introduction to Statistical Quality Control; NIST/SEMATECH e-Handbook
6.1.6. Readings are millionths of the unit; sums are exact, spreads floats.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction
from itertools import pairwise

from coretrack.figures.control_charts import MOVING_RANGE_TO_SIGMA
from coretrack.figures.intervals import Interval, check_level, normal_quantile
from coretrack.figures.limits import Limits, plain_text
from coretrack.figures.spreads import c4, mean_of, squares_about_mean

CHI_SQUARE = "chi-square"
BISSELL = "Bissell"
WITHIN, OVERALL = "within groups", "all readings"

FEW_READINGS = 30
"""Under this many readings the notes say that the figures may still move a lot."""

NO_READING = "no reading yet"
NO_LIMITS = "the check has no limits"
NO_WIDTH = "a one-sided limit has no width to hold the spread against"
NOT_PUBLISHED = "for a spread from moving ranges there is no published interval"


@dataclass(frozen=True)
class Index:
    """A capability figure and its interval; `None`, with `why`, where there is none."""

    value: float | None
    interval: Interval
    why: str | None = None


@dataclass(frozen=True)
class Indices:
    """Cp, Cpl, Cpu and Cpk (or Pp, Ppl, Ppu, Ppk) from one standard deviation.

    `sd` is in millionths of the unit, `degrees` its degrees of freedom, 0 where there is no number.
    """

    basis: str
    sd: float | None
    degrees: int
    both_limits: Index
    lower: Index
    upper: Index
    nearest: Index


@dataclass(frozen=True)
class Capability:
    """A dimension against its limits; `within` holds Cp and Cpk, `overall` Pp and Ppk.

    `mean` is exact, in millionths of the unit, and `None`, with `why`, without readings. `outside`
    counts readings beyond a limit (a reading on a limit is inside).
    """

    readings: int
    mean: Fraction | None
    within: Indices
    overall: Indices
    outside: int = 0
    notes: tuple[str, ...] = ()
    why: str | None = None


def capability(groups: Sequence[Sequence[int]], limits: Limits, level: float = 0.95) -> Capability:
    """Return how readings fit `limits`; each group was made or measured under one condition.

    Groups may differ in size. One group alone: within and overall are the same spread. Nothing to
    work from (no reading, one reading, no limits, no spread): each figure is `None` with its why.
    """
    check_level(level)
    filled = [group for group in groups if group]
    values = [value for group in filled for value in group]
    count = len(values)
    mean = mean_of(values) if values else None
    why = NO_READING if mean is None else None
    if why is None and limits.lower is None and limits.upper is None:
        why = NO_LIMITS
    within_sd, within_degrees, within_why = _within(filled)
    overall_sd, overall_degrees, overall_why = _overall(values)
    notes: tuple[str, ...] = ()
    if 1 < count < FEW_READINGS:
        notes = (f"only {count} readings: the figures may still move a lot",)
    return Capability(
        count,
        mean,
        _indices(WITHIN, mean, within_sd, within_degrees, count, limits, level, why or within_why),
        _indices(
            OVERALL, mean, overall_sd, overall_degrees, count, limits, level, why or overall_why
        ),
        sum(not limits.contains(value) for value in values),
        notes,
        why,
    )


def pooled_sd(groups: Sequence[Sequence[int]]) -> tuple[float, int]:
    """Return the pooled standard deviation within groups over c4(degrees + 1), and its degrees.

    L. Scrucca, R News 4/1 (2004) 11, uses this one. ValueError without two readings in a group.
    """
    degrees = sum(len(group) - 1 for group in groups if group)
    if degrees < 1:
        raise ValueError("no group has two readings, so there is no spread within a group")
    squares = sum((squares_about_mean(group) for group in groups if group), Fraction(0))
    return math.sqrt(squares / degrees) / c4(degrees + 1), degrees


def cp_interval(cp: float, degrees: int, level: float = 0.95) -> Interval:
    """Return the interval of Cp or Pp from a standard deviation with `degrees` of freedom."""
    check_level(level)
    from scipy import special  # a slow import that most commands never need

    tail = (1 - level) / 2
    low, high = (
        cp * math.sqrt(float(special.chdtri(degrees, 1 - chance)) / degrees)
        for chance in (tail, 1 - tail)
    )
    return Interval(low, high, CHI_SQUARE, level)


def cpk_interval(cpk: float, count: int, degrees: int, level: float = 0.95) -> Interval:
    """Return Bissell's interval of Cpk (or Cpl, Cpu, Ppk) from `count` readings, two-sided."""
    check_level(level)
    half = normal_quantile((1 + level) / 2) * math.sqrt(1 / (9 * count) + cpk**2 / (2 * degrees))
    return Interval(cpk - half, cpk + half, BISSELL, level)


def _indices(
    basis: str,
    mean: Fraction | None,
    sd: float | None,
    degrees: int,
    count: int,
    limits: Limits,
    level: float,
    why: str | None,
) -> Indices:
    """Return the four figures from one standard deviation; all without value when `why` is set."""
    nothing = Index(None, Interval(None, None, BISSELL, level, why), why)
    if why is not None or mean is None or sd is None:
        return Indices(basis, sd, degrees, nothing, nothing, nothing, nothing)

    def one(distance: Fraction, widths: int) -> Index:
        value = float(distance) / (widths * sd)
        if degrees == 0:
            return Index(value, Interval(None, None, BISSELL, level, NOT_PUBLISHED))
        if widths == 6:
            return Index(value, cp_interval(value, degrees, level))
        return Index(value, cpk_interval(value, count, degrees, level))

    def none(text: str) -> Index:
        return Index(None, Interval(None, None, BISSELL, level, text), text)

    lower = none("there is no lower limit")
    upper = none("there is no upper limit")
    both = none(NO_WIDTH)
    if limits.lower is not None:
        lower = one(mean - limits.lower, 3)
    if limits.upper is not None:
        upper = one(limits.upper - mean, 3)
    if limits.lower is not None and limits.upper is not None:
        both = one(Fraction(limits.upper - limits.lower), 6)
    sides = [side for side in (lower, upper) if side.value is not None]
    nearest = min(sides, key=lambda side: side.value or 0.0)
    return Indices(basis, sd, degrees, both, lower, upper, nearest)


def _within(groups: Sequence[Sequence[int]]) -> tuple[float | None, int, str | None]:
    """Return the spread within groups, its degrees and why there is none."""
    values = [value for group in groups for value in group]
    why = _why_no_spread(values)
    if why is not None:
        return None, 0, why
    if all(len(group) == 1 for group in groups):
        ranges = [abs(later - earlier) for earlier, later in pairwise(values)]
        return sum(ranges) / len(ranges) / MOVING_RANGE_TO_SIGMA, 0, None
    sd, degrees = pooled_sd(groups)
    if sd == 0:
        return None, degrees, "the readings within each group are alike; only the groups differ"
    return sd, degrees, None


def _overall(values: Sequence[int]) -> tuple[float | None, int, str | None]:
    """Return the standard deviation of all readings, its degrees and why there is none."""
    why = _why_no_spread(values)
    if why is not None:
        return None, 0, why
    degrees = len(values) - 1
    return math.sqrt(squares_about_mean(values) / degrees), degrees, None


def _why_no_spread(values: Sequence[int]) -> str | None:
    if not values:
        return NO_READING
    if len(values) == 1:
        return "one reading has no spread; measure two or more"
    if min(values) == max(values):
        return (
            f"all {len(values)} readings are {plain_text(values[0])}: no spread was seen, so the"
            " gauge may show too few digits"
        )
    return None
