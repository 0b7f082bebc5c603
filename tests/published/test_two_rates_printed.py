"""Two shares compared, as printed.

R. G. Newcombe, Statistics in Medicine 17 (1998) 873, table II, method 10 (from memory); SciPy's
documented example of `fisher_exact`; the lady tasting tea (R. A. Fisher, The Design of Experiments,
1935); D. C. Montgomery's change test of the cans (all from memory; they recompute).
"""

from __future__ import annotations

import pytest

from coretrack.figures.two_rates import HIGHER, compare_rates, fisher_p_value, odds_ratio

TABLE = [
    ((48, 80), (56, 70), 0.0524, 0.3339),
    ((3, 10), (9, 10), 0.1705, 0.8090),
    ((2, 7), (6, 7), 0.0582, 0.8062),
    ((0, 29), (5, 56), -0.0381, 0.1926),
]


@pytest.mark.parametrize(("first", "second", "low", "high"), TABLE)
def test_newcombe_intervals(
    first: tuple[int, int], second: tuple[int, int], low: float, high: float
) -> None:
    found = compare_rates(first, second).interval
    assert (found.low, found.high) == pytest.approx((low, high), abs=5e-5)


def test_documented_exact_test() -> None:
    assert fisher_p_value((1, 5), (6, 8)) == pytest.approx(0.10256, abs=5e-6)
    assert odds_ratio((6, 8), (1, 5)) == pytest.approx(12.0)


def test_lady_tasting_tea_one_sided() -> None:
    assert fisher_p_value((1, 4), (3, 4), HIGHER) == pytest.approx(0.2429, abs=5e-5)


def test_change_of_the_cans() -> None:
    found = compare_rates((301, 1400), (133, 1200))
    assert found.z == pytest.approx(-7.10, abs=5e-3)
    assert found.clear
