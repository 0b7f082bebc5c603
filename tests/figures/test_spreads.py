"""Exact means and squares, and the factors of ranges against the normal distribution."""

from __future__ import annotations

from fractions import Fraction

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import integrate, stats

from coretrack.figures.spreads import c4, d2, d3, mean_of, squares_about_mean


@pytest.mark.parametrize("size", [2, 3, 5, 10, 18, 25])
def test_factors_agree_with_the_normal_distribution(size: int) -> None:
    def beyond(x: float) -> float:
        inside = stats.norm.cdf(x)
        return float(1 - inside**size - (1 - inside) ** size)

    mean, _ = integrate.quad(beyond, -9, 9)
    assert d2(size) == pytest.approx(mean, abs=6e-6)
    draws = np.random.default_rng(3).standard_normal((200_000, size))
    assert d3(size) == pytest.approx(np.ptp(draws, axis=1).std(), abs=6e-3)
    assert c4(size) == pytest.approx(draws.std(axis=1, ddof=1).mean(), abs=3e-3)


@pytest.mark.parametrize("size", [0, 1, 26])
def test_no_factor_is_made_up_for_other_sizes(size: int) -> None:
    with pytest.raises(ValueError, match="2 to 25"):
        d2(size)


@pytest.mark.parametrize("size", [0, 1])
def test_fewer_than_two_readings_have_no_standard_deviation(size: int) -> None:
    with pytest.raises(ValueError, match="it takes two"):
        c4(size)


@given(st.lists(st.integers(-(10**12), 10**12), min_size=1, max_size=20))
def test_mean_and_squares_are_exact(values: list[int]) -> None:
    count = len(values)
    assert mean_of(values) * count == sum(values)
    assert squares_about_mean(values) == sum(
        (v - Fraction(sum(values), count)) ** 2 for v in values
    )
