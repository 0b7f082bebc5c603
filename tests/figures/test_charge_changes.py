"""What followed when a charge was changed."""

from __future__ import annotations

from datetime import date
from decimal import Decimal

import pytest
from statsmodels.stats.proportion import confint_proportions_2indep

from coretrack.figures.charge_changes import CAUTION, ChargePeriod, charge_changes
from coretrack.figures.dispersion import Batch
from coretrack.figures.money import from_decimal


def money(units: str | int) -> int:
    return from_decimal(Decimal(units))


FIRST = ChargePeriod(money(18), date(2026, 1, 5), 80, 60, 70, 56)
SECOND = ChargePeriod(money(24), date(2026, 4, 6), 70, 63, 80, 48)


def test_a_raised_charge_brought_more_cores_and_poorer_ones() -> None:
    (change,) = charge_changes([SECOND, FIRST])
    assert change.line == "from 18.00 to 24.00 on 2026-04-06 (up 6.00)"
    assert change.amount_change == money(6)
    rate, yields = change.return_rate, change.body_yield
    assert rate.change.change == pytest.approx(0.15)
    low, high = confint_proportions_2indep(63, 70, 60, 80, method="newcomb")
    assert (rate.change.interval.low, rate.change.interval.high) == pytest.approx((low, high))
    assert rate.clear is True
    assert rate.sentence.startswith("return rate 75.0 % before (80 matured sales), 90.0 % since")
    assert yields.change.change == pytest.approx(-0.2)
    assert yields.clear is True
    assert "down" in yields.sentence
    assert change.caution == CAUTION


def test_few_sales_are_too_early_to_tell() -> None:
    few = ChargePeriod(money(30), date(2026, 6, 1), 3, 3, 0, 0)
    change = charge_changes([FIRST, few])[0]
    assert change.return_rate.clear is None
    assert change.return_rate.why == (
        "only 3 matured sales are there since; it takes 20 on each side"
    )
    assert change.body_yield.change.change is None
    assert change.body_yield.sentence.startswith("yield of returns: too early to tell, only 0")


def test_months_that_differ_widen_the_yields_interval() -> None:
    months = tuple(Batch(f"M{n}", 20, good) for n, good in enumerate((19, 8, 18, 9, 20, 6)))
    lumpy = ChargePeriod(money(18), date(2026, 1, 5), 80, 60, 120, 80, months)
    steady = ChargePeriod(money(18), date(2026, 1, 5), 80, 60, 120, 80)
    wide = charge_changes([lumpy, SECOND])[0].body_yield.change
    plain = charge_changes([steady, SECOND])[0].body_yield.change
    assert wide.widening > 1
    assert wide.interval.low is not None
    assert plain.interval.low is not None
    assert wide.interval.low < plain.interval.low


def test_one_charge_alone_has_nothing_to_compare() -> None:
    assert charge_changes([FIRST]) == ()
    assert charge_changes([]) == ()


def test_three_charges_are_two_changes_and_the_first_may_be_unknown() -> None:
    start = ChargePeriod(None, date(2025, 9, 1), 30, 20, 25, 20)
    found = charge_changes([FIRST, SECOND, start])
    assert [change.first_day for change in found] == [FIRST.first_day, SECOND.first_day]
    assert found[0].amount_change is None
    assert found[0].line == "from – to 18.00 on 2026-01-05"


def test_more_returned_than_sold_is_refused() -> None:
    wrong = ChargePeriod(money(18), date(2026, 8, 1), 5, 6, 0, 0)
    with pytest.raises(ValueError, match="cannot be"):
        charge_changes([FIRST, wrong])
