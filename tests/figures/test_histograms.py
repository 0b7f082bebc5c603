"""Histograms: every reading in one bar, no bar across a limit."""

from __future__ import annotations

from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st

from coretrack.figures.histograms import histogram
from coretrack.figures.limits import Limits

sizes = st.integers(-(10**5), 10**5)


@st.composite
def some_limits(draw: st.DrawFn) -> Limits:
    lower, upper = draw(st.none() | sizes), draw(st.none() | sizes)
    if lower is not None and upper is not None and lower > upper:
        lower, upper = upper, lower
    return Limits(lower, upper)


@given(
    st.lists(sizes, min_size=1, max_size=80), some_limits(), st.integers(1, 500), st.integers(1, 30)
)
def test_every_reading_is_in_one_bar_and_no_bar_lies_across_a_limit(
    values: list[int], limits: Limits, resolution: int, wanted: int
) -> None:
    found = histogram(values, limits, resolution, wanted)
    for bar in found.bars:
        assert bar.count == sum(bar.low <= value <= bar.high for value in values)
        assert limits.contains(bar.low) == limits.contains(bar.high) == (bar.place == "inside")
    for left, right in pairwise(found.bars):
        assert right.low == left.high + 1
    assert sum(bar.count for bar in found.bars) == len(values)
    assert found.inside == sum(limits.contains(value) for value in values)
    assert found.below + found.inside + found.above == len(values)
    assert len(found.bars) <= wanted + 4


@given(st.lists(sizes, min_size=1, max_size=40), st.integers(-(10**7), 10**7))
def test_moving_readings_and_limits_together_moves_the_bars(values: list[int], shift: int) -> None:
    here = histogram(values, Limits(-5000, 7000), 100)
    moved = histogram([v + shift for v in values], Limits(shift - 5000, shift + 7000), 100)
    assert [bar.count for bar in moved.bars] == [bar.count for bar in here.bars]
    assert [bar.low - shift for bar in moved.bars] == [bar.low for bar in here.bars]


def test_readings_on_the_limits_are_inside() -> None:
    found = histogram([10, 20, 9, 21], Limits(10, 20), bars=5)
    assert (found.below, found.inside, found.above) == (1, 2, 1)


def test_bars_hold_equally_many_steps_of_the_gauge_where_the_tolerance_allows() -> None:
    found = histogram([9_000_000, 9_011_000], Limits(9_000_000, 9_011_000), 1000, bars=5)
    assert [(bar.low, bar.high) for bar in found.bars] == [
        (9_000_000, 9_002_999),
        (9_003_000, 9_005_999),
        (9_006_000, 9_008_999),
        (9_009_000, 9_011_000),
    ]


def test_empty_bars_up_to_the_limits_are_there() -> None:
    found = histogram([500], Limits(0, 999), bars=10)
    assert len(found.bars) == 10
    assert sum(bar.count > 0 for bar in found.bars) == 1


def test_one_reading_without_limits_is_one_bar() -> None:
    found = histogram([7], Limits(None, None))
    assert [(bar.low, bar.count, bar.place) for bar in found.bars] == [(7, 1, "inside")]


def test_no_reading_gives_no_bars_and_a_reason() -> None:
    found = histogram([], Limits(0, 9))
    assert found.bars == ()
    assert found.why == "no reading yet"


@pytest.mark.parametrize(("resolution", "bars"), [(0, 5), (1, 0)])
def test_bars_without_width_are_refused(resolution: int, bars: int) -> None:
    with pytest.raises(ValueError, match="1 or more"):
        histogram([1], Limits(0, 9), resolution, bars)
