"""Lot-to-lot spread: the test, the widened interval and the fit for the next lot."""

from __future__ import annotations

from math import sqrt

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import stats

from coretrack.figures.dispersion import (
    LEAST_DECIDED,
    LEAST_LOTS,
    WIDENED,
    Batch,
    beta_from_mean_and_sd,
    count_dispersion,
    dispersion_test,
    lot_spread,
    spread_interval,
)
from coretrack.figures.intervals import wilson

CANS = "12 15 8 10 4 7 16 9 14 10 5 6 17 12 22 8 10 5 13 11 20 18 24 15 9 12 7 13 9 6"

BATCHES = st.lists(
    st.integers(0, 80).flatmap(lambda n: st.integers(0, n).map(lambda good: Batch("lot", n, good))),
    max_size=15,
)


def _lots(*pairs: tuple[int, int]) -> list[Batch]:
    return [Batch(f"L{number}", n, good) for number, (good, n) in enumerate(pairs)]


def test_lumpy_chart_data_is_found_lumpy() -> None:
    found = dispersion_test([Batch(str(n), 50, int(x)) for n, x in enumerate(CANS.split())])
    assert found.factor == pytest.approx(2.945149, abs=5e-7)
    assert found.statistic == pytest.approx(85.40932, abs=5e-6)
    assert found.p_value == pytest.approx(1.8e-7, abs=5e-9)
    assert found.lumpy
    assert found.size_factor == pytest.approx(found.factor, rel=1e-12)


@settings(deadline=None)
@given(BATCHES)
def test_statistic_is_the_chi_square_of_good_and_scrap_against_lots(batches: list[Batch]) -> None:
    found = dispersion_test(batches)
    used = [batch for batch in batches if batch.decided >= LEAST_DECIDED]
    good = sum(batch.good for batch in used)
    if len(used) < 2 or good in (0, sum(batch.decided for batch in used)):
        assert found.statistic is None
        assert found.p_value is None
        assert found.why
        return
    table = [[batch.good for batch in used], [batch.decided - batch.good for batch in used]]
    reference = stats.chi2_contingency(table, correction=False)
    assert found.statistic == pytest.approx(reference.statistic, abs=1e-9)
    assert found.degrees == reference.dof
    assert found.p_value == pytest.approx(reference.pvalue, abs=1e-9)


@settings(deadline=None)
@given(BATCHES)
def test_spread_only_ever_widens_and_still_holds_the_yield(batches: list[Batch]) -> None:
    good, n = sum(b.good for b in batches), sum(b.decided for b in batches)
    found, plain = spread_interval(good, n, batches), wilson(good, n)
    if n == 0:
        assert found.low is None
        return
    assert found.low is not None
    assert found.high is not None
    assert plain.low is not None
    assert plain.high is not None
    assert 0 <= found.low <= good / n <= found.high <= 1
    assert found.low <= plain.low
    assert found.high >= plain.high
    assert (found.method == WIDENED) == dispersion_test(batches).lumpy


def test_four_lumpy_lots_widen_and_three_do_not() -> None:
    lots = _lots((2, 20), (18, 20), (5, 20), (19, 20))
    assert LEAST_LOTS == 4
    assert spread_interval(44, 80, lots).method == WIDENED
    assert spread_interval(25, 60, lots[:3]).method == "Wilson"


def test_lots_with_four_decided_cores_do_not_count_as_lots() -> None:
    lots = _lots((2, 20), (18, 20), (5, 20), (4, 4))
    assert dispersion_test(lots).lots == 3
    assert not dispersion_test(lots).lumpy


def test_widened_bounds_are_wilson_on_the_effective_count_with_students_t() -> None:
    lots = _lots((10, 20), (19, 20), (12, 20), (20, 20), (8, 20))
    found = dispersion_test(lots)
    assert found.factor is not None
    n, share = 100 / found.factor, 0.69
    t = stats.t.ppf(0.975, 4)
    half = t * sqrt(share * (1 - share) / n + t * t / (4 * n * n)) / (1 + t * t / n)
    centre = (share + t * t / (2 * n)) / (1 + t * t / n)
    interval = spread_interval(69, 100, lots)
    assert interval.low == pytest.approx(centre - half, abs=1e-12)
    assert interval.high == pytest.approx(centre + half, abs=1e-12)


def test_a_large_lot_that_differs_weighs_more_than_a_small_one() -> None:
    large = dispersion_test(_lots((80, 200), (16, 20), (16, 20), (16, 20), (16, 20)))
    assert large.factor is not None
    assert large.size_factor is not None
    assert large.size_factor > large.factor
    assert large.widening == large.size_factor


def test_all_good_lots_cannot_be_tested_and_say_why() -> None:
    found = dispersion_test(_lots((9, 9), (12, 12)))
    assert found.p_value is None
    assert found.why == "every decided core of these lots is good: nothing can differ"
    assert count_dispersion([0, 0]).why


@given(st.floats(0.02, 0.98), st.floats(0.05, 0.95))
def test_beta_has_the_mean_and_spread_it_was_made_from(mean: float, part: float) -> None:
    sd = part * sqrt(mean * (1 - mean))
    a, b = beta_from_mean_and_sd(mean, sd)
    reference = stats.beta(a, b)
    assert reference.mean() == pytest.approx(mean, rel=1e-9)
    assert reference.std() == pytest.approx(sd, rel=1e-9)


@pytest.mark.parametrize(("mean", "sd"), [(0.6, 0.0), (0.6, 0.5), (0.0, 0.1), (1.0, 0.1)])
def test_a_spread_no_beta_distribution_can_have_is_refused(mean: float, sd: float) -> None:
    with pytest.raises(ValueError, match="no lot yields can average"):
        beta_from_mean_and_sd(mean, sd)


def test_fitted_spread_takes_the_chance_part_out() -> None:
    """Lots exactly one standard deviation of chance around the mean show no spread of their own."""
    steady = lot_spread(_lots((60, 100), (70, 100), (65, 100), (66, 100), (64, 100)))
    assert steady.sd == 0.0
    assert (steady.a, steady.b) == (325.5, 175.5)
    lumpy = lot_spread(_lots((40, 100), (90, 100), (65, 100), (80, 100), (50, 100)))
    shares = [0.4, 0.9, 0.65, 0.8, 0.5]
    observed = stats.tvar(shares)
    assert lumpy.sd is not None
    assert lumpy.sd**2 == pytest.approx(observed - 0.65 * 0.35 / 100, rel=0.02)
    assert lumpy.a is not None
    assert lumpy.b is not None
    assert lumpy.a / (lumpy.a + lumpy.b) == pytest.approx(0.65)


def test_fitted_spread_recovers_the_one_the_lots_were_drawn_from() -> None:
    rates = stats.beta.rvs(17.4, 10.7, size=400, random_state=7)
    goods = stats.binom.rvs(60, rates, random_state=8)
    found = lot_spread([Batch(str(n), 60, int(good)) for n, good in enumerate(goods)])
    assert found.sd == pytest.approx(0.09, abs=0.01)
    assert found.mean == pytest.approx(0.62, abs=0.015)


def test_three_lots_cannot_show_a_spread_and_say_so() -> None:
    found = lot_spread(_lots((10, 20), (15, 20), (12, 20)))
    assert found.sd is None
    assert found.why == "fewer than 4 lots have 5 or more decided cores"
    assert (found.a, found.b) == (37.5, 23.5)


def test_no_decided_core_gives_no_fit() -> None:
    found = lot_spread([Batch("L1", 0, 0)])
    assert found.mean is None
    assert found.a is None
    assert found.why == "no decided core yet"


@settings(deadline=None)
@given(BATCHES)
def test_a_fit_never_claims_more_than_all_decided_cores_together(batches: list[Batch]) -> None:
    found = lot_spread(batches)
    if found.a is not None and found.b is not None:
        assert found.a > 0
        assert found.b > 0
        assert found.a + found.b <= sum(batch.decided for batch in batches) + 1 + 1e-9
