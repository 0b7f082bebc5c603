"""Where the value of a good body comes from."""

from __future__ import annotations

from decimal import Decimal

import pytest

from coretrack.errors import InvalidInput
from coretrack.figures.good_bodies import (
    BOUGHT_LOTS,
    CHEAPEST,
    IN_ORDER,
    MISSED_SALE,
    NEW_BODY,
    LotMoney,
    good_body_choice,
)
from coretrack.figures.money import from_decimal


def money(units: str | int) -> int:
    return from_decimal(Decimal(units))


LOTS = [LotMoney("L7", 60, 40, money(1600)), LotMoney("L9", 40, 22, money(880))]


def test_the_cheapest_counts_and_the_others_are_named() -> None:
    found = good_body_choice(LOTS, money(58), money(45))
    assert found.chosen is not None
    assert found.chosen.origin == BOUGHT_LOTS
    assert found.policy == CHEAPEST
    assert found.sentence == (
        "40.00 from bought lots, the cheapest available"
        " (also known: new body 58.00, missed sale 45.00)"
    )


def test_an_order_of_the_owner_goes_before_the_price() -> None:
    found = good_body_choice(LOTS, money(58), None, (MISSED_SALE, NEW_BODY, BOUGHT_LOTS))
    assert found.chosen is not None
    assert found.chosen.origin == NEW_BODY
    assert found.policy == IN_ORDER
    lacking = [candidate.why for candidate in found.candidates if candidate.value is None]
    assert lacking == ["no margin of a missed sale is entered"]


def test_a_source_that_the_order_leaves_out_never_counts() -> None:
    found = good_body_choice((), money(58), money(45), (BOUGHT_LOTS,))
    assert found.chosen is None
    assert found.sentence == ("a good body has no value yet: no bought lot has been graded")


def test_without_any_source_each_is_asked_for() -> None:
    found = good_body_choice([LotMoney("L1", 4, 0, money(80))])
    assert found.chosen is None
    assert found.sentence == (
        "a good body has no value yet: no bought lot has given a good body yet; no price of a new"
        " body is entered; no margin of a missed sale is entered"
    )


def test_a_return_among_the_lots_is_refused_whatever_the_order() -> None:
    lots = [LotMoney("R3", 10, 7, money(200), is_return=True)]
    with pytest.raises(InvalidInput, match="R3"):
        good_body_choice(lots, money(58), order=(NEW_BODY,))


def test_an_order_that_makes_no_sense_is_refused() -> None:
    with pytest.raises(InvalidInput, match="no source"):
        good_body_choice(order=("a hunch",))
    with pytest.raises(InvalidInput, match="twice"):
        good_body_choice(order=(NEW_BODY, NEW_BODY))
