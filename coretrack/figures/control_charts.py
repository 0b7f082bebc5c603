"""Control charts of a share (scrap rate, yield) over lots: p chart and Laney's p'.

p chart: centre ± 3 sqrt(centre (1 - centre) / n), limits clipped to 0..1, a new limit for every
lot size. p' multiplies the distance by sigma_z = mean moving range of z / 1.128, for lots that
differ more than chance explains. Sources: D. C. Montgomery, Introduction to Statistical Quality
Control; D. B. Laney, Quality Engineering 14 (2002) 531.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

from coretrack.figures.dispersion import Batch, Dispersion, dispersion_test
from coretrack.figures.intervals import NOTHING_DECIDED, check_counts

MOVING_RANGE_TO_SIGMA = 1.128
"""Mean range of two normal values over their standard deviation, as control charts print it."""


@dataclass(frozen=True)
class Sample:
    """`count` of `size` cores of one lot or week; samples are in time order."""

    name: str
    size: int
    count: int


@dataclass(frozen=True)
class Point:
    """One point of the chart with its own limits; `left_out` points do not move the centre."""

    name: str
    size: int
    rate: float
    lower: float
    upper: float
    beyond: bool
    left_out: bool = False


@dataclass(frozen=True)
class ShareChart:
    """A whole chart; `centre` is `None`, with `why`, when nothing was counted."""

    method: str
    centre: float | None
    points: tuple[Point, ...]
    sigma_z: float | None = None
    why: str | None = None

    @property
    def beyond(self) -> tuple[Point, ...]:
        return tuple(point for point in self.points if point.beyond)


@dataclass(frozen=True)
class ChosenChart:
    """A chart, the test that chose between p and p′, and the reason in words."""

    chart: ShareChart
    dispersion: Dispersion
    reason: str


def p_chart(
    samples: Sequence[Sample],
    left_out: Sequence[str] = (),
    lumpy: bool = False,
    sigmas: float = 3,
) -> ShareChart:
    """Return the chart of count / size; samples of size 0 have no rate and no point.

    `left_out` names samples with a known cause: they are drawn, but the centre is worked out
    without them. `lumpy` asks for p' limits; with fewer than two samples they are plain p limits.
    A point on a limit is inside.
    """
    for sample in samples:
        check_counts(sample.count, sample.size)
    shown = [sample for sample in samples if sample.size > 0]
    counted = [sample for sample in shown if sample.name not in left_out]
    total = sum(sample.size for sample in counted)
    method = "p′" if lumpy else "p"
    if total == 0:
        return ShareChart(method, None, (), why=NOTHING_DECIDED)
    centre = sum(sample.count for sample in counted) / total
    sigma_z = _sigma_z(counted, centre) if lumpy else None
    stretch = sigmas * (1.0 if sigma_z is None else sigma_z)
    points = []
    for sample in shown:
        half = stretch * math.sqrt(centre * (1 - centre) / sample.size)
        lower, upper = max(0.0, centre - half), min(1.0, centre + half)
        rate = sample.count / sample.size
        out = not lower <= rate <= upper
        aside = sample.name in left_out
        points.append(Point(sample.name, sample.size, rate, lower, upper, out, aside))
    return ShareChart(method if sigma_z is not None else "p", centre, tuple(points), sigma_z)


def chosen_chart(samples: Sequence[Sample], left_out: Sequence[str] = ()) -> ChosenChart:
    """Return the p′ chart where the samples differ more than chance explains, else the p chart.

    The test is that of `dispersion_test`, over the samples that count. `reason` says which chart
    and why; with nothing to test it is the p chart.
    """
    counted = [
        Batch(sample.name, sample.size, sample.count)
        for sample in samples
        if sample.name not in left_out
    ]
    found = dispersion_test(counted)
    chart = p_chart(samples, left_out, lumpy=found.lumpy)
    if chart.why is not None:
        return ChosenChart(chart, found, chart.why)
    if chart.sigma_z is not None:
        reason = (
            "p′ chart: the samples differ more than chance explains, so that plain limits would"
            f" cry wolf; these are {chart.sigma_z:.1f} times as wide"
        )
    elif found.p_value is None:
        reason = f"p chart: {found.why}"
    else:
        reason = "p chart: the samples differ no more than chance explains"
    return ChosenChart(chart, found, reason)


def _sigma_z(samples: Sequence[Sample], centre: float) -> float | None:
    if len(samples) < 2 or centre in (0, 1):
        return None
    z = [
        (sample.count / sample.size - centre) / math.sqrt(centre * (1 - centre) / sample.size)
        for sample in samples
    ]
    ranges = [abs(later - earlier) for earlier, later in pairwise(z)]
    return sum(ranges) / len(ranges) / MOVING_RANGE_TO_SIGMA
