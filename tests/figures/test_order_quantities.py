"""How many to start, to stock, to buy and sort; and sampling plans for small lots."""

from __future__ import annotations

from decimal import Decimal
from fractions import Fraction

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import integrate, stats

from coretrack.figures.discrete import binomial
from coretrack.figures.money import from_decimal, shown
from coretrack.figures.order_quantities import (
    OrderTerms,
    cores_to_sort,
    critical_ratio,
    sort_cost,
    sort_cut_off,
    start_choice,
    stock_for,
    stock_for_normal,
)
from coretrack.figures.sample_plans import (
    chance_accepted,
    chance_lot_accepted,
    double_chance_accepted,
    share_accepted_at,
    smallest_plan,
)


def money(units: str | int) -> int:
    return from_decimal(Decimal(units))


def test_cores_to_buy_and_sort_of_the_worked_example() -> None:
    """Price 10, worst rework 100, 50 wanted: 111.92 cores by the formula, 112 cost 2,248.32."""
    found = cores_to_sort(50, money(10), money(100))
    assert found.cores == 112
    assert shown(found.cost) == "2,248.32"


def test_its_expected_cost_is_that_of_simulated_sorting() -> None:
    random = np.random.default_rng(3)
    condition = np.sort(random.random((20_000, 112)), axis=1)[:, :50]
    simulated = 10 * 112 + 100 * condition.sum(axis=1).mean()
    exact = float(sort_cost(50, 112, money(10), money(100))) / 10_000
    assert simulated == pytest.approx(exact, rel=3e-3)


@given(st.integers(1, 300), st.integers(1, 10**6), st.integers(0, 10**8))
def test_no_neighbour_is_cheaper(wanted: int, price: int, rework: int) -> None:
    found = cores_to_sort(wanted, price, rework)
    here = sort_cost(wanted, found.cores, price, rework)
    assert here <= sort_cost(wanted, found.cores + 1, price, rework)
    if found.cores > wanted:
        assert here <= sort_cost(wanted, found.cores - 1, price, rework)


def test_cut_off_of_the_worked_example_is_the_average_cost_of_a_good_body() -> None:
    """c_a + c_s 24, slope 80: t 0.775; there one more body costs what bodies cost on average."""
    cut = sort_cut_off(money(24), money(80))
    assert cut == pytest.approx(0.775, abs=5e-4)
    spent, _ = integrate.quad(lambda condition: 80 * cut - 80 * condition, 0, cut)
    assert spent == pytest.approx(24)
    assert sort_cut_off(money(100), money(80)) == 1.0
    with pytest.raises(ValueError, match="worse core"):
        sort_cut_off(1, 0)


def test_stock_is_the_quantile_of_the_demand() -> None:
    chances = binomial(60, 0.4)
    ratio = critical_ratio(money(30), money(10))
    assert stock_for(chances, ratio) == stats.binom.ppf(0.75, 60, 0.4)
    assert stock_for([1.0], Fraction(1)) == 0
    assert stock_for([0.5, 0.4], Fraction(1)) == 1
    assert stock_for_normal(50, 12, Fraction(3, 4)) == pytest.approx(stats.norm(50, 12).ppf(0.75))


def test_quantities_that_make_no_sense_are_refused() -> None:
    for wrong in (
        lambda: critical_ratio(0, 0),
        lambda: critical_ratio(-1, 5),
        lambda: stock_for([], Fraction(1, 2)),
        lambda: stock_for_normal(1, 1, Fraction(1)),
        lambda: cores_to_sort(5, 0, 1),
        lambda: sort_cost(5, 4, 1, 1),
        lambda: start_choice(OrderTerms(0, 1, 1), 0.5, 1),
    ):
        with pytest.raises(ValueError):  # noqa: PT011 each has its own words
            wrong()


@settings(deadline=None, max_examples=60)
@given(st.integers(1, 80), st.data())
def test_a_small_lot_passes_with_the_hypergeometric_chance(lot: int, data: st.DataObject) -> None:
    size = data.draw(st.integers(1, lot))
    bad = data.draw(st.integers(0, lot))
    most = data.draw(st.integers(0, size))
    assert chance_accepted(size, most, 0.3) == pytest.approx(sum(binomial(size, 0.3)[: most + 1]))
    reference = stats.hypergeom(lot, bad, size).cdf(most)
    assert chance_lot_accepted(size, most, bad, lot) == pytest.approx(reference, abs=1e-9)


@settings(deadline=None, max_examples=60)
@given(st.integers(1, 150), st.data())
def test_quality_at_a_chance_turns_back_into_the_chance(size: int, data: st.DataObject) -> None:
    most = data.draw(st.integers(0, size - 1))
    chance = data.draw(st.floats(0.01, 0.99))
    found = share_accepted_at(size, most, chance)
    assert chance_accepted(size, most, found) == pytest.approx(chance, abs=1e-6)


def test_plans_that_make_no_sense_are_refused() -> None:
    for wrong in (
        lambda: chance_accepted(5, 6, 0.1),
        lambda: chance_accepted(5, 1, 1.1),
        lambda: chance_lot_accepted(5, 1, 3, 4),
        lambda: share_accepted_at(5, 5, 0.5),
        lambda: share_accepted_at(5, 1, 1.0),
        lambda: smallest_plan(0.2, 0.95, 0.1, 0.05),
    ):
        with pytest.raises(ValueError):  # noqa: PT011 each has its own words
            wrong()


def test_lots_too_alike_have_no_plan_and_that_is_said() -> None:
    found = smallest_plan(0.100, 0.95, 0.101, 0.05)
    assert found.size is None
    assert found.why == "5,000 pieces would not tell such lots apart"


def test_a_double_plan_passes_more_often_than_its_first_sample_alone() -> None:
    for bad in (0.01, 0.05, 0.2):
        alone = chance_accepted(8, 0, bad)
        assert double_chance_accepted((8, 8), (0, 1), (2, 2), bad) > alone
