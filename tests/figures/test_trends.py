"""Trends over weeks: lines against SciPy, shares through the logistic fit, nothing from nothing."""

from __future__ import annotations

import random
import sys
from datetime import date, timedelta

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import stats

from coretrack.figures.trends import (
    FALLING,
    NO_SPREAD,
    RISING,
    STEADY,
    UNKNOWN,
    WeekShare,
    line_fit,
    share_trend,
    week_of,
)


def _weeks(shares: list[float], size: int, seed: int = 1) -> list[WeekShare]:
    rng = random.Random(seed)
    return [
        WeekShare(week, size, sum(rng.random() < share for _ in range(size)))
        for week, share in enumerate(shares, start=30)
    ]


def test_a_family_that_drifts_down_is_found_falling() -> None:
    found = share_trend(_weeks([0.75 - 0.02 * week for week in range(13)], 40))
    assert found.direction == FALLING
    assert found.change is not None
    assert -0.4 < found.change < -0.1
    assert found.change_interval.low is not None
    assert found.change_interval.high is not None
    assert found.change_interval.low < found.change < found.change_interval.high < 0
    assert len(found.curve) == 13
    assert found.sentence.startswith("yield: falling over 13 weeks, from ")


def test_a_family_that_rises_is_found_rising() -> None:
    assert share_trend(_weeks([0.5 + 0.03 * week for week in range(13)], 40)).direction == RISING


def test_a_steady_family_shows_no_clear_change() -> None:
    found = share_trend(_weeks([0.7] * 13, 30, seed=6))
    assert found.direction == STEADY
    assert found.sentence == "yield: no clear change over 13 weeks"


def test_weeks_that_differ_wildly_hide_a_small_slope() -> None:
    counts = (20, 36, 14, 33, 12, 34, 10, 30)
    lumpy = share_trend([WeekShare(week, 40, count) for week, count in enumerate(counts)])
    assert lumpy.spread_factor > 3
    assert lumpy.direction == STEADY


@pytest.mark.parametrize(
    "weeks", [[], [WeekShare(1, 20, 9)], [WeekShare(n, 0, 0) for n in range(9)]]
)
def test_too_few_weeks_give_no_trend_and_a_reason(weeks: list[WeekShare]) -> None:
    found = share_trend(weeks)
    assert found.direction == UNKNOWN
    assert found.first is None
    assert found.change is None
    assert found.why is not None
    assert found.why.endswith("a trend takes 5")


@pytest.mark.parametrize("count", [0, 12])
def test_all_good_or_none_good_gives_no_slope(count: int) -> None:
    found = share_trend([WeekShare(week, 12, count) for week in range(8)])
    assert found.direction == UNKNOWN
    assert found.why is not None


def test_false_trends_in_steady_weeks_are_rare(capsys: pytest.CaptureFixture[str]) -> None:
    runs = 400
    false = sum(
        share_trend(_weeks([0.7] * 13, 30, seed)).direction != STEADY for seed in range(runs)
    )
    with capsys.disabled():
        sys.stdout.write(f"\nsteady weeks called a trend: {false / runs:.3f} for 0.05\n")
    assert false / runs <= 0.08


def test_weeks_run_from_monday_to_sunday() -> None:
    monday = date(2026, 11, 23)
    week = week_of(monday)
    assert {week_of(monday + timedelta(days=n)) for n in range(7)} == {week}
    assert week_of(monday + timedelta(days=7)) == week + 1
    assert week_of(monday - timedelta(days=1)) == week - 1


@settings(deadline=None, max_examples=60)
@given(
    st.lists(
        st.tuples(st.integers(0, 20), st.integers(0, 30)).flatmap(
            lambda at: st.integers(0, at[1]).map(lambda k: WeekShare(at[0], at[1], k))
        ),
        max_size=20,
    )
)
def test_whatever_the_weeks_hold_no_figure_is_nan(weeks: list[WeekShare]) -> None:
    found = share_trend(weeks)
    assert (found.why is None) == (found.change is not None)
    for point in found.curve:
        assert point.interval.low is not None
        assert point.interval.high is not None
        assert point.share is not None
        assert 0 <= point.interval.low <= point.share <= point.interval.high <= 1


@settings(deadline=None, max_examples=50)
@given(
    st.lists(st.tuples(st.integers(0, 60), st.integers(-10_000, 10_000)), min_size=4, max_size=30)
)
def test_lines_are_those_of_the_reference(points: list[tuple[int, int]]) -> None:
    fit = line_fit(points)
    if len({x for x, _ in points}) < 2:
        assert fit.why == "all points are of one and the same time"
        return
    if fit.residual_sd == 0:
        assert fit.slope_interval.why == NO_SPREAD
        return
    reference = stats.linregress([x for x, _ in points], [y for _, y in points])
    assert fit.slope == pytest.approx(reference.slope, rel=1e-9, abs=1e-9)
    assert fit.intercept == pytest.approx(reference.intercept, rel=1e-9, abs=1e-6)
    assert fit.slope_error == pytest.approx(reference.stderr, rel=1e-6, abs=1e-4)


def test_a_line_needs_three_points() -> None:
    assert line_fit([(1, 5), (2, 6)]).slope is None
    assert line_fit([(1, 5), (2, 6)]).why == "2 points; a line with an interval takes 3"
    assert line_fit([(week, 10 + 2 * week + (-1) ** week) for week in range(8)]).direction == RISING
    flat = line_fit([(1, 5), (2, 5), (3, 5)])
    assert flat.direction == STEADY
    assert flat.slope_interval.low is None
    assert line_fit([(1, 5), (2, 4), (3, 3)]).direction == FALLING
