"""This week against the weeks before it."""

from __future__ import annotations

import sys
from fractions import Fraction

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from coretrack.figures.intervals import Interval, wilson
from coretrack.figures.two_rates import compare_rates
from coretrack.figures.weekly import (
    LEAST_WEEKS,
    figure_change,
    individual_limits,
    share_change,
    week_change,
)

USUAL = [40, 44, 38, 41, 47, 39, 42, 43, 40, 45, 41, 38, 44]


def test_a_week_like_the_others_is_usual() -> None:
    found = week_change(43, USUAL)
    assert found.usual == Fraction(sum(USUAL), 13)
    assert found.change == 43 - Fraction(sum(USUAL), 13)
    assert found.unusual is False
    assert found.sentence == "within what is usual in the 13 weeks before"


def test_a_week_far_out_stands_out_on_either_side() -> None:
    assert week_change(80, USUAL).sentence == "more than is usual in the 13 weeks before: look why"
    assert week_change(5, USUAL).sentence == "less than is usual in the 13 weeks before: look why"


def test_only_the_latest_thirteen_weeks_count() -> None:
    found = week_change(42, [900, 1000, *USUAL])
    assert found.weeks == 13
    assert found == week_change(42, USUAL)


@pytest.mark.parametrize("weeks", [[], [40], USUAL[: LEAST_WEEKS - 1]])
def test_too_few_weeks_tell_nothing(weeks: list[int]) -> None:
    found = week_change(43, weeks)
    assert found.unusual is None
    assert found.why
    assert (found.usual is None) == (not weeks)
    assert f"it takes {LEAST_WEEKS}" in found.sentence


def test_counts_never_scatter_less_than_chance_makes_them() -> None:
    """Thirteen weeks of exactly 9: chance alone gives a week of 15 now and then."""
    assert week_change(15, [9] * 13).unusual is False
    assert week_change(19, [9] * 13).unusual is True
    assert week_change(1, [0] * 13).unusual is True
    assert week_change(0, [0] * 13).unusual is False
    # Money has no such scatter of its own, and may fall below nothing.
    assert week_change(15, [9] * 13, money=True).unusual is True
    assert week_change(-5, [3, -8, 4, -2, 1, -6], money=True).unusual is False


def test_steady_counts_are_seldom_called_unusual() -> None:
    random = np.random.default_rng(4)
    runs = 2_000
    false = sum(
        bool(week_change(int(week[-1]), [int(n) for n in week[:-1]]).unusual)
        for week in random.poisson(40, size=(runs, 14))
    )
    sys.stdout.write(f"\nsteady weeks called unusual: {false / runs:.3f}\n")
    assert false / runs < 0.02


def test_limits_take_two_values() -> None:
    assert individual_limits([5, 5]) == (5, 5)
    with pytest.raises(ValueError, match="two values"):
        individual_limits([5])


def test_a_share_is_held_against_all_weeks_together() -> None:
    found = share_change((12, 40), [(24, 40)] * 13)
    assert found.change == pytest.approx(-0.3)
    assert found.clear
    assert found.first.n == 520
    assert "in 13 weeks before" in found.sentence
    assert share_change((0, 0), [(1, 2)]).change is None
    assert share_change((1, 2), []).why


def test_weeks_that_differ_make_a_share_less_sure() -> None:
    lumpy = [(36, 40), (14, 40)] * 6
    steady = [(25, 40)] * 12
    wide, narrow = share_change((20, 40), lumpy), share_change((20, 40), steady)
    assert wide.widening > 1
    assert wide.interval.low is not None
    assert narrow.interval.low is not None
    assert wide.interval.low < narrow.interval.low


def test_two_figures_with_bounds() -> None:
    before, now = Interval(36.0, 44.0, "x"), Interval(46.0, 56.0, "x")
    found = figure_change(40, before, 50, now)
    assert found.change == 10
    assert (found.interval.low, found.interval.high) == pytest.approx((10 - 32**0.5, 10 + 52**0.5))
    assert found.clear is True
    assert figure_change(40, before, 42, Interval(38.0, 46.0, "x")).clear is False


@given(st.integers(0, 50), st.integers(0, 50))
def test_for_two_shares_it_is_newcombes_interval(one: int, other: int) -> None:
    found = figure_change(one / 50, wilson(one, 50), other / 50, wilson(other, 50))
    reference = compare_rates((one, 50), (other, 50)).interval
    assert found.interval.low == pytest.approx(reference.low)
    assert found.interval.high == pytest.approx(reference.high)


def test_an_unknown_side_leaves_the_change_unknown() -> None:
    nothing = Interval(None, None, "x", why="no decided core yet")
    found = figure_change(None, nothing, 5, Interval(4.0, 6.0, "x"))
    assert found.change is None
    assert found.why == "no figure before: no decided core yet"
    half = figure_change(4, Interval(3.0, None, "x", why="no upper bound"), 5, nothing)
    assert half.change == 1
    assert half.clear is None
    assert half.why == "no upper bound"
