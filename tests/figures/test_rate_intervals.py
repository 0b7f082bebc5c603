"""Intervals for a share: references over a grid, and what must hold for every count."""

from __future__ import annotations

from itertools import pairwise

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import stats
from statsmodels.stats.proportion import proportion_confint

from coretrack.figures.intervals import (
    AGRESTI_COULL,
    AT_LEAST,
    AT_MOST,
    EXACT,
    JEFFREYS,
    METHODS,
    NOTHING_DECIDED,
    WILSON,
    one_sided,
)

COUNTS = st.integers(1, 3000).flatmap(lambda n: st.tuples(st.integers(0, n), st.just(n)))
LEVELS = st.sampled_from([0.5, 0.8, 0.9, 0.95, 0.99, 0.999])
NAMES_IN_STATSMODELS = {WILSON: "wilson", EXACT: "beta", AGRESTI_COULL: "agresti_coull"}


@settings(deadline=None)
@given(COUNTS, LEVELS, st.sampled_from(sorted(NAMES_IN_STATSMODELS)))
def test_intervals_agree_with_statsmodels(
    counts: tuple[int, int], level: float, method: str
) -> None:
    good, n = counts
    low, high = proportion_confint(good, n, 1 - level, NAMES_IN_STATSMODELS[method])
    found = METHODS[method](good, n, level)
    assert found.low == pytest.approx(max(0.0, low), abs=1e-9)
    assert found.high == pytest.approx(min(1.0, high), abs=1e-9)


@settings(deadline=None)
@given(COUNTS, LEVELS)
def test_jeffreys_agrees_with_the_beta_distribution_except_at_its_ends(
    counts: tuple[int, int], level: float
) -> None:
    good, n = counts
    found = METHODS[JEFFREYS](good, n, level)
    reference = stats.beta(good + 0.5, n - good + 0.5)
    share = good / n
    low = min(share, reference.ppf((1 - level) / 2))
    high = max(share, reference.ppf((1 + level) / 2))
    assert found.low == pytest.approx(0.0 if good == 0 else low, abs=1e-9)
    assert found.high == pytest.approx(1.0 if good == n else high, abs=1e-9)


@settings(deadline=None)
@given(COUNTS, st.floats(1e-6, 1 - 1e-9), st.sampled_from(sorted(METHODS)))
def test_every_interval_holds_the_observed_share_and_stays_within_zero_and_one(
    counts: tuple[int, int], level: float, method: str
) -> None:
    good, n = counts
    found = METHODS[method](good, n, level)
    assert found.low is not None
    assert found.high is not None
    assert 0.0 <= found.low <= good / n <= found.high <= 1.0


@settings(deadline=None)
@given(COUNTS, st.sampled_from(sorted(METHODS)))
def test_more_confidence_never_makes_an_interval_narrower(
    counts: tuple[int, int], method: str
) -> None:
    good, n = counts
    found = [METHODS[method](good, n, level) for level in (0.5, 0.9, 0.95, 0.999)]
    for inner, outer in pairwise(found):
        assert inner.low is not None
        assert outer.low is not None
        assert inner.high is not None
        assert outer.high is not None
        assert outer.low <= inner.low
        assert inner.high <= outer.high


@settings(deadline=None)
@given(COUNTS, st.sampled_from([WILSON, EXACT]))
def test_good_and_bad_mirror_each_other(counts: tuple[int, int], method: str) -> None:
    good, n = counts
    found, mirrored = METHODS[method](good, n, 0.95), METHODS[method](n - good, n, 0.95)
    assert found.low is not None
    assert mirrored.high is not None
    assert found.low == pytest.approx(1 - mirrored.high, abs=1e-9)


@given(st.integers(1, 5000), LEVELS, st.sampled_from([WILSON, EXACT, JEFFREYS]))
@settings(deadline=None)
def test_none_good_starts_at_exactly_zero_and_all_good_ends_at_exactly_one(
    n: int, level: float, method: str
) -> None:
    none, every = METHODS[method](0, n, level), METHODS[method](n, n, level)
    assert none.low == 0.0
    assert every.high == 1.0
    assert none.high is not None
    assert none.high > 0
    assert every.low is not None
    assert every.low < 1


@pytest.mark.parametrize("method", sorted(METHODS))
def test_with_nothing_decided_there_is_no_bound_and_a_reason(method: str) -> None:
    for found in (METHODS[method](0, 0, 0.95), one_sided(0, 0, 0.95, AT_LEAST, method)):
        assert found.low is None
        assert found.high is None
        assert found.why == NOTHING_DECIDED


@settings(deadline=None)
@given(COUNTS, st.sampled_from([0.9, 0.95, 0.975]), st.sampled_from(sorted(METHODS)))
def test_two_one_sided_bounds_make_the_two_sided_interval(
    counts: tuple[int, int], level: float, method: str
) -> None:
    good, n = counts
    both = METHODS[method](good, n, 2 * level - 1)
    assert one_sided(good, n, level, AT_LEAST, method).low == pytest.approx(both.low, abs=1e-9)
    assert one_sided(good, n, level, AT_MOST, method).high == pytest.approx(both.high, abs=1e-9)


@pytest.mark.parametrize(("good", "n"), [(5, 4), (-1, 4), (0, -1)])
def test_counts_that_cannot_be_are_refused(good: int, n: int) -> None:
    with pytest.raises(ValueError, match="cannot be"):
        METHODS[WILSON](good, n, 0.95)


@pytest.mark.parametrize("level", [0.0, 1.0, 95.0, -0.5])
def test_a_level_outside_zero_and_one_is_refused(level: float) -> None:
    with pytest.raises(ValueError, match="between 0 and 1"):
        METHODS[EXACT](3, 4, level)


def test_unknown_side_and_method_are_refused() -> None:
    with pytest.raises(ValueError, match="side is"):
        one_sided(3, 4, 0.95, "left")
    with pytest.raises(ValueError, match="no interval method"):
        one_sided(3, 4, 0.95, AT_LEAST, "Wald")
