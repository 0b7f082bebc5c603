"""Factors of the gauge study's sheet and of control charts.

K1, K2, K3 and D4: AIAG, Measurement Systems Analysis, 4th edition (K3 other than 0.3146 from
memory). c4: D. C. Montgomery, Introduction to Statistical Quality Control, appendix (from memory).
"""

from __future__ import annotations

import pytest

from coretrack.figures.spreads import c4, d2, d2_of_one_range, upper_range_factor


@pytest.mark.parametrize(("trials", "printed"), [(2, 0.8862), (3, 0.5908)])
def test_one_over_the_mean_range_is_k1(trials: int, printed: float) -> None:
    assert 1 / d2(trials) == pytest.approx(printed, abs=5e-5)


@pytest.mark.parametrize(
    ("size", "printed"),
    [
        (2, 0.7071), (3, 0.5231), (4, 0.4467), (5, 0.4030), (6, 0.3742), (7, 0.3534), (8, 0.3375),
        (9, 0.3249), (10, 0.3146),
    ],
)  # fmt: skip
def test_the_divisor_of_a_single_range_is_k2_and_k3(size: int, printed: float) -> None:
    assert 1 / d2_of_one_range(size) == pytest.approx(printed, abs=5e-5)


@pytest.mark.parametrize(("trials", "printed"), [(2, 3.267), (3, 2.574)])
def test_the_limit_of_ranges_is_d4(trials: int, printed: float) -> None:
    assert upper_range_factor(trials) == pytest.approx(printed, abs=7e-4)


@pytest.mark.parametrize(
    ("size", "printed"), [(2, 0.7979), (5, 0.9400), (10, 0.9727), (25, 0.9896)]
)
def test_mean_of_a_small_samples_standard_deviation(size: int, printed: float) -> None:
    assert c4(size) == pytest.approx(printed, abs=5e-5)
