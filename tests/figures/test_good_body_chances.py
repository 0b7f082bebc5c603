"""Chances of so many good bodies, and tests of a rate, against SciPy."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import stats

from coretrack.figures.discrete import at_least, beta_binomial, binomial, quantile
from coretrack.figures.intervals import AT_LEAST, AT_MOST
from coretrack.figures.rate_tests import DIFFERENT, change_z, exact_p_value, rate_z

# SciPy's own reference overflows at shares near the smallest float; those are tested by themselves.
SHARES = st.one_of(st.floats(1e-12, 1 - 1e-12), st.sampled_from([0.0, 1.0]))


@settings(deadline=None)
@given(st.integers(0, 800), SHARES)
def test_binomial_chances_agree_with_scipy(n: int, share: float) -> None:
    found = binomial(n, share)
    np.testing.assert_allclose(found, stats.binom.pmf(range(n + 1), n, share), atol=1e-11)
    assert sum(found) == pytest.approx(1)


@pytest.mark.parametrize("share", [5e-324, 2.3e-308, 1e-300, 1 - 2**-53])
def test_a_share_next_to_zero_or_one_is_as_good_as_certain(share: float) -> None:
    found = binomial(500, share)
    assert found[round(500 * share)] == pytest.approx(1, abs=1e-12)
    assert sum(found) == pytest.approx(1)


@settings(deadline=None)
@given(st.integers(0, 800), st.floats(0.05, 2000), st.floats(0.05, 2000))
def test_beta_binomial_chances_agree_with_scipy(n: int, a: float, b: float) -> None:
    found = beta_binomial(n, a, b)
    np.testing.assert_allclose(found, stats.betabinom.pmf(range(n + 1), n, a, b), atol=1e-9)


@settings(deadline=None)
@given(st.integers(1, 300), st.floats(0.01, 0.99), st.floats(0.001, 0.999))
def test_quantile_is_the_first_count_reached(n: int, share: float, probability: float) -> None:
    chances = binomial(n, share)
    found = quantile(chances, probability)
    assert sum(chances[: found + 1]) >= probability - 1e-12
    assert sum(chances[:found]) < probability + 1e-12
    assert at_least(chances, found) == pytest.approx(stats.binom.sf(found - 1, n, share), abs=1e-11)


@settings(deadline=None)
@given(
    st.integers(1, 300).flatmap(lambda n: st.tuples(st.integers(0, n), st.just(n))),
    st.sampled_from([0.02, 0.1, 1 / 6, 0.3, 0.5, 0.77, 0.95]),
)
def test_exact_p_values_agree_with_scipy(counts: tuple[int, int], target: float) -> None:
    count, n = counts
    for side, name in ((AT_LEAST, "greater"), (AT_MOST, "less"), (DIFFERENT, "two-sided")):
        reference = stats.binomtest(count, n, target, name).pvalue
        assert exact_p_value(count, n, target, side) == pytest.approx(reference, abs=1e-9)


def test_tests_without_cores_give_no_figure() -> None:
    assert rate_z(0, 0, 0.1) is None
    assert change_z(0, 0, 3, 10) is None
    assert change_z(5, 5, 7, 7) is None


@pytest.mark.parametrize("share", [-0.1, 1.1, float("nan")])
def test_a_share_outside_zero_and_one_is_refused(share: float) -> None:
    with pytest.raises(ValueError, match="between 0 and 1"):
        binomial(5, share)


@pytest.mark.parametrize(("a", "b"), [(0.0, 1.0), (1.0, -1.0), (float("inf"), 1.0)])
def test_a_lot_spread_that_is_no_beta_distribution_is_refused(a: float, b: float) -> None:
    with pytest.raises(ValueError, match="finite and above 0"):
        beta_binomial(5, a, b)


def test_unknown_side_and_target_are_refused() -> None:
    with pytest.raises(ValueError, match="side is"):
        exact_p_value(1, 5, 0.5, "left")
    with pytest.raises(ValueError, match="target rate"):
        rate_z(1, 5, 0.0)
