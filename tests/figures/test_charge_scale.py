"""The core charge on one scale, and inputs tried out."""

from __future__ import annotations

from dataclasses import replace
from decimal import Decimal
from fractions import Fraction

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from coretrack.errors import InvalidInput
from coretrack.figures.charge import ChargeInputs, charge_advice
from coretrack.figures.charge_scale import MOST_STEPS, ChargeScale, charge_scale, try_charge
from coretrack.figures.good_bodies import NEW_BODY, GoodBodyValue
from coretrack.figures.money import from_decimal, shown
from coretrack.figures.yields import Counts, yield_row


def money(units: str | int) -> int:
    return from_decimal(Decimal(units))


YIELDS = yield_row("INJ", Counts(150, 150, 78, 25, 47))
NEW = GoodBodyValue(money(40), NEW_BODY, "a new body costs 40.00")
INPUTS = ChargeInputs(
    processing=money("9.03"),
    scrap_recovery=money("0.15"),
    sourcing=money("1.50"),
    bother=money(2),
    broker_price=money(7),
    open_market_price=money(24),
    new_body_price=money(58),
    charge_today=money(18),
)


def _scale(**changes: object) -> ChargeScale:
    inputs = replace(INPUTS, **changes)  # type: ignore[arg-type]
    return charge_scale(charge_advice("INJ", "Injectors", YIELDS, NEW, inputs))


def test_every_mark_lies_on_the_scale_in_its_place() -> None:
    found = _scale()
    assert [mark.kind for mark in found.marks] == [
        "make-whole", "floor", "broker", "ceiling", "new body", "today",
    ]  # fmt: skip
    assert [shown(tick) for tick in found.ticks()] == [
        "0.00", "10.00", "20.00", "30.00", "40.00", "50.00", "60.00",
    ]  # fmt: skip
    whole = found.marks[0]
    assert (shown(whole.low), shown(whole.amount), shown(whole.high)) == ("16.87", "19.98", "22.72")
    assert found.position(money(0)) == 0
    assert found.position(money(60)) == 1
    assert found.position(money(18)) == pytest.approx(0.3)


def test_what_is_not_known_stands_beside_the_scale_with_its_reason() -> None:
    found = _scale(broker_price=None, open_market_price=None, charge_today=None)
    reasons = {mark.kind: mark.why for mark in found.marks if mark.amount is None}
    assert reasons == {
        "floor": "no price that a customer gets elsewhere is entered",
        "broker": "no broker's price is entered",
        "ceiling": "no open-market price is entered",
        "today": "no charge is set for today",
    }


def test_without_any_amount_there_is_no_scale() -> None:
    nothing = yield_row("INJ", Counts())
    found = charge_scale(charge_advice("INJ", "Injectors", nothing, None, ChargeInputs()))
    assert found.low is None
    assert found.ticks() == ()
    assert found.why
    with pytest.raises(ValueError, match="no scale"):
        found.position(0)


@settings(deadline=None, max_examples=80)
@given(st.integers(-(10**8), 10**9), st.integers(0, 10**9))
def test_the_scale_holds_every_amount_in_few_steps(one: int, other: int) -> None:
    found = _scale(charge_today=one, new_body_price=other)
    assert found.low is not None
    assert found.high is not None
    assert found.low <= min(one, other) <= max(one, other) <= found.high
    assert 2 <= len(found.ticks()) <= MOST_STEPS + 2


def _try(**changes: object) -> object:
    return try_charge("INJ", "Injectors", YIELDS, NEW, INPUTS, changes)  # type: ignore[arg-type]


def test_a_dearer_wash_lowers_the_charge_by_as_much() -> None:
    found = try_charge("INJ", "Injectors", YIELDS, NEW, INPUTS, {"processing": money("10.03")})
    assert found.moved == -money(1)
    assert found.sentence == (
        "the make-whole charge falls by 1.00, from 19.98 to 18.98; nothing is stored"
    )
    (change,) = found.changes
    assert (change.name, change.before, change.tried) == ("processing per core", "9.03", "10.03")
    assert found.now.processing == money("9.03")


def test_a_tried_yield_has_no_range() -> None:
    found = try_charge("INJ", "Injectors", YIELDS, NEW, INPUTS, {"body_yield": Fraction(9, 10)})
    assert shown(found.tried.value) == "26.99"
    assert found.tried.make_whole_low is None
    assert found.tried.body_yield == pytest.approx(0.9)
    assert found.changes[0].before == "68.7 %"
    assert found.now.make_whole_low is not None


def test_a_yield_can_be_tried_before_anything_is_graded() -> None:
    nothing = yield_row("INJ", Counts(received=4))
    found = try_charge("INJ", "Injectors", nothing, NEW, INPUTS, {"body_yield": Fraction(7, 10)})
    assert found.now.value is None
    assert shown(found.tried.value) == "19.02"
    assert found.moved is None
    assert found.sentence.startswith("no make-whole charge to compare: ")


def test_value_of_a_good_body_and_chance_of_credit_can_be_tried() -> None:
    found = try_charge(
        "INJ", "Injectors", YIELDS, None, INPUTS,
        {"good_body": money(50), "credit_chance": Decimal("0.5")},
    )  # fmt: skip
    assert found.tried.good_body is not None
    assert found.tried.good_body.origin == "tried out"
    assert found.tried.floor == money(18)
    assert found.now.value is None


@pytest.mark.parametrize(
    ("changes", "said"),
    [
        ({"weather": 1}, "'weather' cannot be tried out"),
        ({"body_yield": Fraction(3, 2)}, "yield of returns lies between 0 and 1"),
        ({"credit_chance": Decimal(0)}, "chance of being credited lies between 0 and 1"),
        ({"processing": Decimal("1.5")}, "processing per core is an amount of money"),
    ],
)
def test_what_cannot_be_tried_is_refused(changes: dict[str, object], said: str) -> None:
    with pytest.raises(InvalidInput, match=said):
        _try(**changes)
