"""How returns answer to the charge: curves and the best point on each. All amounts invented."""

from __future__ import annotations

from decimal import Decimal
from fractions import Fraction

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import optimize

from coretrack.figures.charge_response import (
    LogisticReturn,
    best_charge,
    best_price_linear,
    best_price_power,
    linear_return_rate,
    result_per_unit,
)
from coretrack.figures.money import from_decimal, shown


def money(units: str | int) -> int:
    return from_decimal(Decimal(units))


CURVE = LogisticReturn(1.0, money(9), money(4))


def test_half_come_back_at_the_half_way_charge() -> None:
    assert CURVE.rate(money(9)) == 0.5
    assert LogisticReturn(0.9, money(9), money(4)).rate(money(9)) == 0.45
    assert CURVE.rate(money(13)) == pytest.approx(0.7310586)
    assert CURVE.rate(-(10**12)) == 0.0
    assert CURVE.rate(10**12) == 1.0


def test_linear_answer_is_held_between_none_and_all() -> None:
    assert linear_return_rate(money(10), money(5), money(25)) == Fraction(1, 4)
    assert linear_return_rate(money(1), money(5), money(25)) == 0
    assert linear_return_rate(money(99), money(5), money(25)) == 1
    with pytest.raises(ValueError, match="lies above"):
        linear_return_rate(1, 5, 5)


def test_the_earning_charge_of_the_worked_example() -> None:
    """V 18.73, half way at 9, width 4: 22.85 earns most; 18.73 is the efficient one."""
    found = best_charge(money("18.73"), CURVE)
    assert found.efficient == money("18.73")
    assert found.earning is not None
    assert found.earning / 10_000 == pytest.approx(22.85, abs=0.006)
    assert found.sentence.startswith("18.73 is fair")


@settings(deadline=None, max_examples=40)
@given(st.integers(-50_000, 600_000), st.integers(0, 300_000), st.integers(5_000, 200_000))
def test_no_other_charge_earns_more(value: int, half_way: int, width: int) -> None:
    curve = LogisticReturn(1.0, half_way, width)
    found = best_charge(value, curve).earning
    assert found is not None

    def result(charge: float) -> float:
        share = curve.rate(int(charge))
        return -((1 - share) * charge + share * value)

    reference = optimize.minimize_scalar(
        result, bounds=(value, value + 40 * width + abs(half_way - value)), method="bounded"
    )
    assert result(found) <= reference.fun + 1


def test_where_some_never_return_no_charge_is_best() -> None:
    found = best_charge(money(18), LogisticReturn(0.9, money(9), money(4)))
    assert found.earning is None
    assert found.why
    with pytest.raises(ValueError, match="return curve"):
        best_charge(1, LogisticReturn(0.0, 1, 1))


def test_result_of_a_unit_sold() -> None:
    assert result_per_unit(money(20), Fraction(9, 10), money("18.73")) == money("18.857")
    with pytest.raises(ValueError, match="return rate"):
        result_per_unit(1, 1.2, 1)


@given(st.integers(1_000, 10**7), st.fractions(Fraction(1, 10), 5, max_denominator=20))
def test_best_price_of_a_power_supply_beats_its_neighbours(value: int, exponent: Fraction) -> None:
    best = best_price_power(value, exponent)

    def profit(price: int) -> float:
        return max(0, price) ** float(exponent) * (value - price)

    for step in (max(2, value // 50), -max(2, value // 50)):
        assert profit(best) >= profit(best + step) * (1 - 1e-9)


def test_best_prices_of_the_two_supplies() -> None:
    assert shown(best_price_power(money(18), 2)) == "12.00"
    assert shown(best_price_linear(money(18), money(6))) == "12.00"
    # A core worth less than the least price is not bought: the price stays where nobody sells.
    assert best_price_linear(money(4), money(6)) == money(6)
    with pytest.raises(ValueError, match="does not grow"):
        best_price_power(1, 0)
