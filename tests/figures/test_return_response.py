"""Return rate against the charge: worked numbers, statsmodels, and when nothing can be said."""

from __future__ import annotations

import math
import random
from datetime import date, timedelta

import pytest
import statsmodels.api as sm

from coretrack.figures.money import UNIT
from coretrack.figures.return_response import (
    NO_MATURED,
    SoldUnits,
    fitted_curve,
    matured_rate,
    rate_at,
    return_response,
)

TODAY = date(2026, 11, 23)


def _sold(days_ago: int, charge: float, units: int, returned: int) -> SoldUnits:
    return SoldUnits(TODAY - timedelta(days=days_ago), round(charge * UNIT), units, returned)


def test_only_matured_sales_count() -> None:
    """Of 100 old units 90 are back; 100 sold this month, 20 of them back, count nowhere."""
    found = matured_rate([_sold(60, 18, 100, 90), _sold(10, 18, 100, 20)], TODAY, 45)
    assert found.rate == 0.9
    assert (found.units, found.young, found.young_returned) == (100, 100, 20)


def test_the_last_day_of_the_window_is_still_inside() -> None:
    assert matured_rate([_sold(45, 18, 10, 4)], TODAY, 45).why == NO_MATURED
    assert matured_rate([_sold(46, 18, 10, 4)], TODAY, 45).rate == 0.4


def test_a_sale_dated_ahead_is_young() -> None:
    assert matured_rate([_sold(-3, 18, 4, 1), _sold(60, 18, 10, 9)], TODAY, 0).young == 4


def test_nothing_matured_is_not_a_rate_of_zero() -> None:
    found = matured_rate([_sold(3, 18, 40, 0)], TODAY, 45)
    assert found.rate is None
    assert found.interval.high is None
    assert found.young == 40


def test_months_that_differ_widen_the_interval() -> None:
    sales = [
        _sold(60 + 30 * month, 18, 100, back) for month, back in enumerate((95, 60, 92, 55, 97))
    ]
    found = matured_rate(sales, TODAY, 45)
    assert found.spread_factor > 5
    assert "widened" in found.interval.method


def test_fit_is_that_of_the_reference() -> None:
    rng = random.Random(8)
    sales = []
    for charge in (6, 9, 14, 20):
        for month in range(4):
            share = 1 / (1 + math.exp(-(charge - 9) / 4))
            back = sum(rng.random() < share for _ in range(50))
            sales.append(_sold(60 + 30 * month, charge, 50, back))
    found = return_response(sales, TODAY, 45)
    yes_no = [
        (sale.charge / UNIT, outcome)
        for sale in sales
        for outcome in [1] * sale.returned + [0] * (sale.units - sale.returned)
    ]
    reference = sm.Logit(
        [outcome for _, outcome in yes_no], sm.add_constant([charge for charge, _ in yes_no])
    ).fit(disp=0, tol=1e-12)
    intercept, slope = reference.params
    assert found.half is not None
    assert found.scale is not None
    assert found.half / UNIT == pytest.approx(-intercept / slope, abs=1e-4)
    assert found.scale / UNIT == pytest.approx(1 / slope, abs=1e-4)
    assert found.half / UNIT == pytest.approx(9, abs=1)
    assert found.clear
    assert found.sentence.endswith("rises with the charge; more than chance explains")
    assert rate_at(found, 90_000).rate == pytest.approx(0.5, abs=0.06)
    assert not rate_at(found, 90_000).outside
    assert rate_at(found, 300_000).outside


@pytest.mark.parametrize(
    ("sales", "words"),
    [
        ([], "no sale is older than its return window yet"),
        ([_sold(90, 18, 80, 70)], "all 80 matured units are at one charge, 18.00: how returns"),
        ([_sold(90, 18, 80, 70), _sold(9, 25, 80, 70)], "all 80 matured units are at one charge"),
        (
            [_sold(90, 18, 80, 70), _sold(90, 25, 5, 5)],
            "of 2 charges only one has 20 matured units",
        ),
        ([_sold(90, 18, 80, 80), _sold(90, 25, 70, 70)], "the share is none, or all, everywhere"),
        ([_sold(90, 18, 80, 75), _sold(90, 25, 70, 50)], "did not rise with the charge"),
    ],
)
def test_without_two_matured_charges_it_says_why(sales: list[SoldUnits], words: str) -> None:
    found = return_response(sales, TODAY, 45)
    assert found.half is None
    assert found.why is not None
    assert words in found.why
    assert rate_at(found, 180_000).rate is None
    assert rate_at(found, 180_000).why == found.why


def test_a_rise_within_chance_is_called_that() -> None:
    found = return_response([_sold(90, 18, 40, 32), _sold(90, 25, 40, 34)], TODAY, 45)
    assert not found.clear
    assert found.sentence.endswith("chance alone can explain it")


def test_fitted_curve_is_the_one_that_the_best_charge_works_on() -> None:
    found = return_response([_sold(90, 9, 200, 100), _sold(90, 21, 200, 190)], TODAY, 45)
    curve = fitted_curve(found)
    assert curve is not None
    assert curve.half_way == 90_000
    assert curve.rate(210_000) == pytest.approx(0.95, abs=1e-4)
    assert fitted_curve(return_response([], TODAY, 45)) is None


def test_impossible_inputs_are_refused() -> None:
    with pytest.raises(ValueError, match="cannot be"):
        matured_rate([_sold(60, 18, 1, 2)], TODAY, 45)
    with pytest.raises(ValueError, match="window"):
        matured_rate([], TODAY, -1)
