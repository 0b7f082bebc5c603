"""Funnel limits: SciPy's binomial, smoothness, and how often chance alone leaves the funnel."""

from __future__ import annotations

import math

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import stats

from coretrack.figures.funnel import (
    EXACT_LIMITS,
    INSIDE,
    STANDS_OUT,
    WIDENED_LIMITS,
    WORTH_A_LOOK,
    funnel,
    funnel_limits,
    place,
)


@settings(deadline=None, max_examples=60)
@given(st.integers(1, 300), st.floats(0.02, 0.98))
def test_limits_lie_within_one_count_of_the_exact_quantile(n: int, centre: float) -> None:
    limits = funnel_limits(centre, n)
    for chance, limit in (
        (0.025, limits.low),
        (0.975, limits.high),
        (0.001, limits.far_low),
        (0.999, limits.far_high),
    ):
        quantile = float(stats.binom.ppf(chance, n, centre))
        held = min(max(limit, 0.0), 1.0)
        assert quantile - 1 - 1e-6 <= held * n <= quantile + 1e-6 or limit == centre
    assert limits.far_low <= limits.low <= centre <= limits.high <= limits.far_high


@pytest.mark.parametrize(("n", "centre"), [(30, 0.7), (80, 0.31), (200, 0.5), (150, 0.9)])
def test_chance_alone_leaves_the_funnel_about_as_often_as_it_says(n: int, centre: float) -> None:
    limits = funnel_limits(centre, n)
    outside = sum(
        float(stats.binom.pmf(k, n, centre))
        for k in range(n + 1)
        if not limits.low <= k / n <= limits.high
    )
    assert 0.02 <= outside <= 0.08


def test_the_funnel_narrows_as_groups_grow() -> None:
    found = funnel([(7, 10), (70, 100), (280, 400)])
    widths = [limits.high - limits.low for limits in found.curve]
    assert found.centre == pytest.approx(0.7)
    assert found.method == EXACT_LIMITS
    assert widths == sorted(widths, reverse=True)


def test_lots_that_differ_widen_the_funnel_by_the_root_of_the_factor() -> None:
    wide, wider = funnel_limits(0.7, 200, 2.0), funnel_limits(0.7, 200, 8.0)
    assert (wider.high - 0.7) == pytest.approx(2 * (wide.high - 0.7))
    assert funnel([(7, 10)], 2.0).method == WIDENED_LIMITS
    assert wide.high == pytest.approx(0.7 + 1.959964 * math.sqrt(2 * 0.21 / 200), abs=1e-6)


def test_where_a_group_lies_is_said_with_its_side() -> None:
    assert place(70, 100, 0.7).verdict == INSIDE
    assert (place(59, 100, 0.7).verdict, place(59, 100, 0.7).side) == (WORTH_A_LOOK, "below")
    assert (place(50, 100, 0.7).verdict, place(50, 100, 0.7).side) == (STANDS_OUT, "below")
    assert place(92, 100, 0.7).side == "above"


def test_a_group_of_one_never_stands_out_of_a_middling_rate() -> None:
    assert place(0, 1, 0.7).verdict == INSIDE
    assert place(1, 1, 0.7).verdict == INSIDE


def test_nothing_counted_has_no_funnel() -> None:
    found = funnel([(0, 0)])
    assert found.centre is None
    assert found.why == "nothing is decided in any group yet"


@pytest.mark.parametrize("good", [0, 9])
def test_none_or_all_good_is_a_line_and_nobody_stands_out(good: int) -> None:
    found = funnel([(good, 9)])
    assert found.centre == good / 9
    assert place(good, 9, good / 9).verdict == INSIDE


def test_impossible_funnels_are_refused() -> None:
    with pytest.raises(ValueError, match="no funnel"):
        funnel_limits(0.5, 0)
    with pytest.raises(ValueError, match="no funnel"):
        funnel_limits(0.5, 10, 0.5)
