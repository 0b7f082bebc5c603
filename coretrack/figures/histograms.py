"""Readings sorted into bars, none of which lies across a limit.

A bar is a closed range of whole millionths, so that a reading is in exactly one bar and a reading
on a limit is in a bar inside it. Bars start at the limits; the last one inside may be narrower.
The number of bars follows √n, between 5 and 20 (common practice, no source).
"""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass

from coretrack.figures.limits import Limits

BELOW, INSIDE, ABOVE = "below", "inside", "above"

NO_READING = "no reading yet"


@dataclass(frozen=True)
class Bar:
    """`count` readings from `low` to `high`, both included, in millionths of the unit.

    `place` is below, inside or above the limits.
    """

    low: int
    high: int
    count: int
    place: str


@dataclass(frozen=True)
class Histogram:
    """Bars without a gap, in order, from the lowest to the highest of readings and limits."""

    bars: tuple[Bar, ...]
    below: int = 0
    inside: int = 0
    above: int = 0
    why: str | None = None


def histogram(
    values: Sequence[int], limits: Limits, resolution: int = 1, bars: int | None = None
) -> Histogram:
    """Return the readings in bars a whole number of `resolution` steps (millionths) wide.

    `bars` is about how many are wanted. No reading: `why`. ValueError when `resolution` or `bars`
    is below 1.
    """
    if resolution < 1 or (bars is not None and bars < 1):
        raise ValueError("a resolution and a number of bars are 1 or more")
    if not values:
        return Histogram((), why=NO_READING)
    ends = [end for end in (limits.lower, limits.upper) if end is not None]
    first, last = min(*values, *ends, values[0]), max(*values, *ends, values[0])
    wanted = bars or min(20, max(5, math.isqrt(len(values))))
    width = _width(first, last, limits, resolution, wanted)
    ranges = []
    at = first
    while at <= last:
        found = _range_of(at, limits, first, width)
        ranges.append(found)
        at = found[1] + 1
    starts = Counter(_range_of(value, limits, first, width)[0] for value in values)
    found_bars = tuple(
        Bar(low, high, starts[low], _place(low, high, limits)) for low, high in ranges
    )
    places = Counter({BELOW: 0, INSIDE: 0, ABOVE: 0})
    for bar in found_bars:
        places[bar.place] += bar.count
    return Histogram(found_bars, places[BELOW], places[INSIDE], places[ABOVE])


def _width(first: int, last: int, limits: Limits, step: int, wanted: int) -> int:
    """Return the bar's width; one that parts the tolerance evenly is taken where it is near."""
    steps = max(1, -(-(last - first + 1) // (step * wanted)))
    if limits.lower is not None and limits.upper is not None:
        sizes = (limits.upper - limits.lower) // step + 1
        steps = next((even for even in range(steps, 2 * steps) if sizes % even == 0), steps)
    return steps * step


def _range_of(value: int, limits: Limits, first: int, width: int) -> tuple[int, int]:
    """Return the closed range of the bar that holds `value`."""
    lower, upper = limits.lower, limits.upper
    if lower is None and upper is None:
        lower = first
    if lower is None or (upper is not None and value > upper):
        assert upper is not None
        low = upper + 1 + (value - upper - 1) // width * width
        return low, low + width - 1
    low = lower + (value - lower) // width * width
    high = low + width - 1
    if upper is not None:
        high = min(high, upper)
    return low, high


def _place(low: int, high: int, limits: Limits) -> str:
    if limits.lower is not None and high < limits.lower:
        return BELOW
    return ABOVE if limits.upper is not None and low > limits.upper else INSIDE
