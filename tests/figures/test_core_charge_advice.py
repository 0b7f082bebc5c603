"""Core-charge advice: value of one more core, its range, and what is said about today's charge."""

from __future__ import annotations

from dataclasses import replace
from datetime import date
from decimal import Decimal
from fractions import Fraction

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from coretrack.errors import InvalidInput
from coretrack.figures.charge import (
    BOUGHT_LOTS,
    LEAST_DECIDED,
    MISSED_SALE,
    NEW_BODY,
    ChargeAdvice,
    ChargeInputs,
    GoodBodyValue,
    LotMoney,
    bought_lots_value,
    charge_advice,
    floor_charge,
    good_body_value,
    make_whole,
    value_of_core,
)
from coretrack.figures.costing import CostParts, cost_row
from coretrack.figures.money import from_decimal, shown
from coretrack.figures.wording import charge_verdict
from coretrack.figures.yields import Counts, yield_row

YIELDS = yield_row("INJ", Counts(150, 150, 78, 25, 47))


def money(units: str | int) -> int:
    return from_decimal(Decimal(units))


NEW = GoodBodyValue(money(40), NEW_BODY, "a new body costs 40.00")
INPUTS = ChargeInputs(
    processing=money("9.03"), scrap_recovery=money("0.15"), sourcing=money("1.50")
)


def _advice(**changes: object) -> ChargeAdvice:
    return charge_advice("INJ", "Injectors", YIELDS, NEW, replace(INPUTS, **changes))


def test_range_comes_from_the_yields_interval() -> None:
    found = _advice()
    low, high = YIELDS.interval.low, YIELDS.interval.high
    assert low is not None
    assert high is not None
    assert found.value == value_of_core(
        Fraction(103, 150), NEW.amount, money("0.15"), money("9.03")
    )
    assert found.value_low == value_of_core(low, NEW.amount, money("0.15"), money("9.03"))
    assert found.value_high == value_of_core(high, NEW.amount, money("0.15"), money("9.03"))
    assert found.make_whole == make_whole(found.value, money("1.50"))
    assert shown(found.make_whole) == "19.98"
    assert (shown(found.make_whole_low), shown(found.make_whole_high)) == ("16.87", "22.72")
    assert found.why is None
    assert found.warnings == ()


@settings(deadline=None)
@given(
    st.fractions(0, 1, max_denominator=500),
    st.integers(0, 10**8),
    st.integers(0, 10**6),
    st.integers(0, 10**6),
)
def test_value_of_a_core_is_exact_to_half_a_ten_thousandth(
    share: Fraction, good_body: int, scrap: int, processing: int
) -> None:
    exact = share * good_body + (1 - share) * scrap - processing
    assert abs(value_of_core(share, good_body, scrap, processing) - exact) <= Fraction(1, 2)


@settings(deadline=None, max_examples=60)
@given(st.integers(0, 60), st.integers(0, 60), st.integers(0, 10**6), st.integers(0, 10**6))
def test_range_holds_the_middle_even_where_scrap_is_worth_more_than_a_body(
    good: int, scrapped: int, good_body: int, scrap: int
) -> None:
    decided = good + scrapped
    yields = yield_row("INJ", Counts(decided, decided, good, 0, scrapped))
    value = GoodBodyValue(good_body, NEW_BODY, "")
    inputs = replace(INPUTS, scrap_recovery=scrap)
    found = charge_advice("INJ", "Injectors", yields, value, inputs)
    if decided < LEAST_DECIDED:
        assert found.value is None
        return
    assert found.value is not None
    assert found.value_low is not None
    assert found.value_high is not None
    assert found.value_low <= found.value <= found.value_high


def test_the_cheapest_available_source_sets_the_value_of_a_good_body() -> None:
    lots = [LotMoney("L7", 60, 40, money(1600)), LotMoney("L9", 40, 22, money(880))]
    found = good_body_value(lots, money(58), money(45))
    assert found == GoodBodyValue(
        money(40), BOUGHT_LOTS, "2 bought lots: 2,480.00 for 62 good of 100 decided cores"
    )
    cheaper = good_body_value(lots, money(58), money("39.99"))
    assert cheaper is not None
    assert cheaper.origin == MISSED_SALE
    only = good_body_value((), money(58))
    assert only is not None
    assert (only.origin, only.amount) == (NEW_BODY, money(58))
    assert good_body_value() is None


def test_bought_lots_without_a_good_body_set_no_value() -> None:
    assert bought_lots_value([LotMoney("L7", 5, 0, money(80))]) is None
    assert bought_lots_value([]) is None


def test_returns_cannot_set_the_value_they_are_judged_by() -> None:
    lots = [LotMoney("L7", 60, 40, money(1600)), LotMoney("R3", 10, 7, money(200), is_return=True)]
    with pytest.raises(InvalidInput, match="R3: returned cores cannot set the value"):
        good_body_value(lots, money(58))


def test_what_lacks_is_named_and_no_figure_is_shown() -> None:
    nothing = yield_row("INJ", Counts(received=4))
    found = charge_advice("INJ", "Injectors", nothing, None, ChargeInputs())
    assert found.value is None
    assert found.make_whole is None
    assert found.make_whole_high is None
    assert found.floor is None
    assert found.ceiling is None
    assert found.why is not None
    for said in ("decided", "value for a good body", "processing cost", "scrap recovery"):
        assert said in found.why


@pytest.mark.parametrize(
    ("good", "scrapped", "said"),
    [
        (1, 0, "only 1 returned core is decided, and it takes 5"),
        (2, 2, "only 4 returned cores are decided, and it takes 5"),
        (3, 2, None),
    ],
)
def test_a_charge_is_suggested_from_five_decided_returned_cores_on(
    good: int, scrapped: int, said: str | None
) -> None:
    counts = Counts(9, good + scrapped, kept_first_pass=good, scrapped=scrapped)
    few = yield_row("INJ", counts, noun="returned core", batch_noun="month")
    found = charge_advice("INJ", "Injectors", few, NEW, replace(INPUTS, charge_today=money(20)))
    assert found.why == said
    assert (found.make_whole_low is None) == (said is not None)
    assert ("inside" in charge_verdict(found)) == (said is None)
    assert f"of 9 returned cores {'is' if good + scrapped == 1 else 'are'}" in found.warnings[0]


def test_rates_that_are_not_set_are_said_beside_the_charge() -> None:
    (warning,) = _advice(missing_rates=("wash_minutes",)).warnings
    assert warning == "no rate is set for wash_minutes: these steps count as nothing"


def test_a_scrap_recovery_of_zero_is_known_and_not_lacking() -> None:
    found = _advice(scrap_recovery=0)
    assert found.why is None
    assert found.value is not None


def test_floor_and_ceiling() -> None:
    found = _advice(
        outside_value=money(6),
        bother=money(2),
        credit_chance=Decimal("0.8"),
        open_market_price=money(24),
        trader_bother=money(3),
    )
    assert found.floor == money(10)
    assert found.ceiling == money(27)


def test_the_brokers_price_stands_in_for_what_the_customer_could_get_outside() -> None:
    assert _advice(broker_price=money(7), bother=money(1)).floor == money(8)
    assert _advice(broker_price=money(7), outside_value=money(3)).floor == money(3)


@pytest.mark.parametrize("chance", [Decimal(0), Decimal("-0.1"), Decimal("1.1")])
def test_a_chance_of_credit_outside_zero_and_one_is_refused(chance: Decimal) -> None:
    with pytest.raises(ValueError, match="chance of being credited"):
        floor_charge(money(6), money(2), chance)


def test_floor_is_rounded_once() -> None:
    assert floor_charge(money(1), 0, Decimal("0.3")) == 33_333


@pytest.mark.parametrize(
    ("changes", "said"),
    [
        ({"charge_today": money(16)}, "is below the make-whole range 16.87 … 22.72"),
        ({"charge_today": money(23)}, "is above the make-whole range 16.87 … 22.72"),
        (
            {"charge_today": money(20), "open_market_price": money(18), "trader_bother": money(1)},
            "today's charge 20.00 is over the ceiling 19.00",
        ),
        (
            {"charge_today": money(20), "outside_value": money(19), "bother": money(2)},
            "today's charge 20.00 is under the floor 21.00",
        ),
        (
            {"charge_today": money(20), "broker_price": money(19), "outside_value": money(1)}
            | {"bother": money("1.01")},
            "under what a broker pays with the bother of sending it (20.01)",
        ),
        (
            {"charge_today": money(20), "new_body_price": money("19.50")},
            "today's charge 20.00 is more than a new body costs (19.50)",
        ),
    ],
)
def test_one_warning_for_each_thing_wrong_with_todays_charge(
    changes: dict[str, object], said: str
) -> None:
    (warning,) = _advice(**changes).warnings
    assert said in warning


def test_a_charge_on_the_edge_of_anything_is_not_warned_about() -> None:
    edge = _advice().make_whole_low
    assert edge is not None
    found = _advice(
        charge_today=edge,
        charge_since=date(2026, 3, 2),
        broker_price=edge - money(2),
        bother=money(2),
        open_market_price=edge,
        new_body_price=edge,
    )
    assert found.warnings == ()
    assert found.charge_since == date(2026, 3, 2)


def test_a_floor_above_the_ceiling_is_said_without_any_charge() -> None:
    (warning,) = _advice(outside_value=money(30), open_market_price=money(20)).warnings
    assert warning == "the floor 30.00 lies above the ceiling 20.00: no charge satisfies both"


def test_a_core_that_loses_money_is_said() -> None:
    found = _advice(processing=money(40))
    assert found.value is not None
    assert found.value < 0
    assert found.warnings[0].startswith("one more returned core loses 12.49")


def test_cost_and_yield_are_shown_beside_the_charge() -> None:
    cost = cost_row(YIELDS, CostParts(credit=money(2700)))
    found = charge_advice("INJ", "Injectors", YIELDS, NEW, INPUTS, cost)
    assert (found.decided, found.good) == (150, 103)
    assert found.cost_per_good_body == cost.cost_per_good_body
    assert (found.cost_low, found.cost_high) == (cost.cost_low, cost.cost_high)


def test_warnings_of_the_yield_are_carried_over() -> None:
    few = yield_row("INJ", Counts(9, 9, 6, 0, 3))
    found = charge_advice("INJ", "Injectors", few, NEW, INPUTS)
    assert found.warnings == few.warnings
    assert found.warnings
