"""Do the readings of a gauge, or of a check in a family, wander off? An EWMA of lot or day means.

z = λ x + (1 - λ) z, started at the usual mean; limits mean ± L σ √(λ/(2 - λ) (1 - (1 - λ)^2i)).
With λ 0.2 and L 2.962 a steady gauge gives a false alarm once in 500 points (J. M. Lucas and
M. S. Saccucci, Technometrics 32 (1990) 1). Chosen for readings because it sees slow wear of a
gauge sooner than single points do and hardly minds readings that are not quite normal. σ is the
spread from point to point in the time before: mean moving range / 1.128, so that lots' own
differences are in it. A wandering gauge moves all families measured with it, a wandering family all
gauges; set side by side they tell which of the two it is.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction
from itertools import pairwise

from coretrack.figures.control_charts import MOVING_RANGE_TO_SIGMA
from coretrack.figures.limits import plain_text
from coretrack.figures.plain_words import counted
from coretrack.figures.spreads import mean_of

WEIGHT = 0.2
WIDTH = 2.962
LEAST_BASE = 10
"""Fewer points before than this do not show how points usually spread (the shop's own habit)."""


@dataclass(frozen=True)
class ReadingPoint:
    """The mean of one lot's or day's readings, in millionths of the unit (may be a fraction)."""

    name: str
    value: int | Fraction


@dataclass(frozen=True)
class WeightedPoint:
    """A point, its weighted mean and the limits there; all in millionths of the unit."""

    name: str
    value: float
    weighted: float
    lower: float
    upper: float
    beyond: bool


@dataclass(frozen=True)
class ReadingDrift:
    """Whether the weighted mean left its limits, at which point, which way, and since when.

    `centre` and `sigma` are of the time before, millionths. `since` is the first point after the
    weighted mean was last on the other side of the centre. `alarm` `None` with `why` if unknown.
    """

    centre: float | None
    sigma: float | None
    points: tuple[WeightedPoint, ...]
    alarm: bool | None
    alarm_at: str | None
    since: str | None
    side: str | None
    sentence: str
    why: str | None = None


def reading_drift(
    before: Sequence[ReadingPoint],
    after: Sequence[ReadingPoint],
    weight: float = WEIGHT,
    width: float = WIDTH,
    noun: str = "readings",
) -> ReadingDrift:
    """Return whether the points `after` wander off what they were `before`, in time order.

    Fewer than 10 points before, none after, or points before that are all alike (a gauge that shows
    too few digits): no verdict, and `why`.
    """
    why = None
    if len(before) < LEAST_BASE:
        why = f"only {counted(len(before), 'point')} before; the usual spread takes {LEAST_BASE}"
    elif not after:
        why = "no point since"
    elif len({point.value for point in before}) == 1:
        why = (
            f"all points before are {plain_text(round(before[0].value))}: no spread was seen, so"
            " the gauge may show too few digits"
        )
    if why is not None:
        return ReadingDrift(None, None, (), None, None, None, None, why, why)
    values = [point.value for point in before]
    centre = float(mean_of(values))
    ranges = [abs(Fraction(later) - earlier) for earlier, later in pairwise(values)]
    sigma = float(mean_of(ranges)) / MOVING_RANGE_TO_SIGMA
    return judged(after, centre, sigma, weight, width, noun)


def judged(
    points: Sequence[ReadingPoint],
    centre: float,
    sigma: float,
    weight: float = WEIGHT,
    width: float = WIDTH,
    noun: str = "readings",
) -> ReadingDrift:
    """Return the same against a known centre and spread. ValueError unless 0 < weight <= 1."""
    if not 0 < weight <= 1 or sigma <= 0:
        raise ValueError(f"no chart for weight {weight} and spread {sigma}")
    z, turn = centre, 0
    weighted: list[WeightedPoint] = []
    alarm: tuple[int, int] | None = None
    for number, point in enumerate(points):
        before, z = z, weight * float(point.value) + (1 - weight) * z
        if (before - centre) * (z - centre) < 0:
            turn = number
        reach = weight / (2 - weight) * (1 - (1 - weight) ** (2 * (number + 1)))
        half = width * sigma * math.sqrt(reach)
        beyond = abs(z - centre) > half
        weighted.append(
            WeightedPoint(point.name, float(point.value), z, centre - half, centre + half, beyond)
        )
        if beyond and alarm is None:
            alarm = number, turn
    if alarm is None:
        sentence = f"{noun}: no drift in {counted(len(points), 'point')}"
        return ReadingDrift(centre, sigma, tuple(weighted), False, None, None, None, sentence)
    at, turned = alarm
    side = "up" if weighted[at].weighted > centre else "down"
    sentence = (
        f"{noun}: drifting {side}, alarm at {points[at].name}, from about {points[turned].name} on."
        " Check the gauge against a master before blaming the bodies"
    )
    return ReadingDrift(
        centre,
        sigma,
        tuple(weighted),
        True,
        points[at].name,
        points[turned].name,
        side,
        sentence,
    )
