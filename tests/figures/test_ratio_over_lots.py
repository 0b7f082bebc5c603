"""Ratio of two totals over lots."""

from __future__ import annotations

from fractions import Fraction

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import stats

from coretrack.figures.ratios import METHOD, ratio_estimate, ratio_interval

LOTS = st.lists(
    st.tuples(st.integers(0, 10**8), st.integers(0, 200)), min_size=2, max_size=20
).filter(lambda lots: sum(good for _, good in lots) > 0)


@settings(deadline=None)
@given(LOTS)
def test_ratio_and_error_follow_the_linearised_formula(lots: list[tuple[int, int]]) -> None:
    y = np.array([cost for cost, _ in lots], dtype=float)
    x = np.array([good for _, good in lots], dtype=float)
    ratio = y.sum() / x.sum()
    error = np.sqrt(np.sum((y - ratio * x) ** 2) / (len(x) - 1) / len(x)) / x.mean()
    found = ratio_estimate([cost for cost, _ in lots], [good for _, good in lots])
    assert found.ratio == Fraction(sum(c for c, _ in lots), sum(g for _, g in lots))
    assert found.standard_error == pytest.approx(error, rel=1e-9, abs=1e-6)


def test_error_is_that_of_a_regression_through_the_origin_with_equal_lots() -> None:
    """With every x the same, the ratio is a plain mean and its error the mean's."""
    costs = [31, 44, 27, 38, 40]
    found = ratio_estimate(costs, [2] * 5)
    assert found.standard_error == pytest.approx(stats.sem(costs) / 2, rel=1e-12)
    assert found.effective == 5.0


def test_interval_is_students_t_around_the_ratio() -> None:
    costs, goods = [310, 440, 270, 380], [11, 15, 8, 14]
    found = ratio_interval(ratio_estimate(costs, goods), 0.90)
    estimate = ratio_estimate(costs, goods)
    assert estimate.ratio is not None
    assert estimate.standard_error is not None
    reference = stats.t.interval(0.90, 3, float(estimate.ratio), estimate.standard_error)
    assert (found.low, found.high) == pytest.approx(reference, rel=1e-12)
    assert (found.method, found.level) == (METHOD, 0.90)


def test_a_known_number_of_lots_makes_the_error_smaller_and_all_lots_make_it_zero() -> None:
    costs, goods = [310, 440, 270, 380], [11, 15, 8, 14]
    free, finite = ratio_estimate(costs, goods), ratio_estimate(costs, goods, population=16)
    assert free.standard_error is not None
    assert finite.standard_error == pytest.approx(free.standard_error * (1 - 4 / 16) ** 0.5)
    assert ratio_estimate(costs, goods, population=4).standard_error == 0.0


def test_one_lot_that_carries_everything_counts_as_little_more_than_one() -> None:
    found = ratio_estimate([900, 10, 10, 10], [100, 1, 1, 1])
    assert found.effective == pytest.approx(103**2 / 10003)


def test_no_good_body_gives_no_ratio_and_one_lot_no_error() -> None:
    assert ratio_estimate([100, 200], [0, 0]).why == "the total to divide by is zero"
    assert ratio_interval(ratio_estimate([], [])).low is None
    single = ratio_estimate([100], [4])
    assert single.ratio == 25
    assert single.standard_error is None
    assert ratio_interval(single).why == "one lot cannot show how lots differ"


def test_lists_that_do_not_fit_are_refused() -> None:
    with pytest.raises(ValueError, match="each lot needs both"):
        ratio_estimate([1, 2], [1])
    with pytest.raises(ValueError, match="cannot be negative"):
        ratio_estimate([1, 2], [1, -1])
    with pytest.raises(ValueError, match="cannot be drawn"):
        ratio_estimate([1, 2], [1, 1], population=1)
