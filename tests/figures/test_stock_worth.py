"""Stock at what it is worth, the graveyard, obsolete families."""

from __future__ import annotations

from datetime import date, timedelta
from decimal import Decimal
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from coretrack.figures.charge import value_of_core
from coretrack.figures.intervals import Interval, wilson
from coretrack.figures.money import from_decimal, shown
from coretrack.figures.stock_worth import (
    FamilyStock,
    StockCore,
    not_knowing,
    obsolete_families,
    stock_sheet,
)

TODAY = date(2026, 6, 1)


def money(units: str | int) -> int:
    return from_decimal(Decimal(units))


def _core(tag: str, state: str, days: int, worth: int | None = 18, waiting: bool = True):
    worth_money = None if worth is None else money(worth)
    return StockCore(
        tag, "INJ", state, TODAY - timedelta(days=days), money(12), worth_money, waiting
    )


STOCK = [
    _core("A", "waiting", 5),
    _core("B", "waiting", 30),
    _core("C", "waiting", 91),
    _core("D", "good", 400, 40, waiting=False),
    _core("E", "unknown", 91, None),
]


def test_stock_by_state_and_age_adds_up() -> None:
    found = stock_sheet(STOCK, TODAY)
    assert [(c.state, c.least_days, c.cores, shown(c.worth), c.untold) for c in found.cells] == [
        ("waiting", 0, 2, "36.00", 0),
        ("waiting", 91, 1, "18.00", 0),
        ("good", 366, 1, "40.00", 0),
        ("unknown", 91, 1, "0.00", 1),
    ]
    assert (found.cores, shown(found.worth), found.untold) == (5, "94.00", 1)
    assert (found.graveyard, found.graveyard_share) == (2, 0.4)
    assert found.sentence == (
        "5 cores worth 94.00 without 1 whose worth is not known;"
        " 2 have waited over 90 days for a verdict (40.0 %)"
    )


@given(st.lists(st.tuples(st.sampled_from("abc"), st.integers(0, 900)), max_size=25))
def test_every_core_stands_in_one_cell(stock: list[tuple[str, int]]) -> None:
    found = stock_sheet(
        [_core(str(n), state, days) for n, (state, days) in enumerate(stock)], TODAY
    )
    assert sum(cell.cores for cell in found.cells) == len(stock)
    assert sum(cell.worth for cell in found.cells) == (found.worth or 0)
    assert sum(cell.paid for cell in found.cells) == found.paid


def test_worth_that_is_not_known_is_no_zero() -> None:
    found = stock_sheet([_core("E", "unknown", 3, None)], TODAY)
    assert found.worth is None
    assert found.why
    empty = stock_sheet([], TODAY)
    assert (empty.worth, empty.graveyard_share) == (None, None)
    assert empty.why == "no core is in the house"
    with pytest.raises(ValueError, match="came after"):
        stock_sheet([_core("A", "waiting", -1)], TODAY)


def test_what_not_knowing_costs_three_hundred_cores() -> None:
    interval = wilson(103, 150)
    found = not_knowing(
        300, money(3600), Fraction(103, 150), interval, money(40), money("0.15"), money("5.30")
    )
    assert found.good == 206
    assert found.worth == 300 * value_of_core(
        Fraction(103, 150), money(40), money("0.15"), money("5.30")
    )
    assert found.worth_low is not None
    assert found.worth_high is not None
    assert found.worth_low < (found.worth or 0) < found.worth_high
    assert found.sentence.startswith(
        "300 cores are waiting with 3,600.00 in them; 182 to 227 good bodies may lie there;"
    )


def test_cores_that_would_lose_money_are_worth_nothing_and_not_less() -> None:
    found = not_knowing(300, money(3600), Fraction(1, 10), wilson(10, 100), money(10), 0, money(5))
    assert found.worth == 0
    assert found.sentence.endswith("as things stand, grading them does not pay")


def test_what_lacks_is_named() -> None:
    nothing = Interval(None, None, "Wilson", why="none")
    found = not_knowing(3, money(30), None, nothing, None, 0, money(5))
    assert found.why == "no yield, no value of a good body is known for these cores"
    assert (found.good, found.worth, found.worth_low) == (None, None, None)
    half = not_knowing(3, 0, Fraction(1, 2), nothing, money(40), 0, money(5))
    assert half.worth == 3 * money(15)
    assert half.worth_low is None
    with pytest.raises(ValueError, match="cannot wait"):
        not_knowing(-1, 0, None, nothing, None, None, None)


def test_families_that_hold_more_than_a_year_of_demand() -> None:
    stock = [
        FamilyStock("BUSY", 120, 10, 60, Fraction(6, 10), money(1)),
        FamilyStock("SLOW", 12, 10, 100, Fraction(5, 10), money("0.50")),
        FamilyStock("DEAD", 0, 2, 40, Fraction(5, 10), money(2)),
        FamilyStock("NONE", 0, 0, 0, None),
    ]
    found = obsolete_families(stock)
    assert [entry.family for entry in found] == ["DEAD", "SLOW"]
    dead, slow = found
    assert dead.obsolete
    assert dead.months_held is None
    assert (dead.beyond, shown(dead.metal_money)) == (40, "80.00")
    assert not slow.obsolete
    # 60 bodies are expected and 12 needed: 48 too many are 96 cores.
    assert (slow.months_held, slow.beyond, shown(slow.metal_money)) == (60, 96, "48.00")
    assert slow.sentence == (
        "SLOW: 100 cores, 10 good bodies, 12 sold in 12 months; 96 cores more than 12 months need"
        " (48.00 as metal)"
    )


def test_without_a_yield_no_core_that_may_be_needed_is_proposed() -> None:
    (found,) = obsolete_families([FamilyStock("NEW", 24, 0, 60, None)])
    assert found.beyond == 36
    assert found.expected_bodies is None
    assert found.why == "no yield: every core counts as a body"
    assert found.metal_money is None
    assert obsolete_families([FamilyStock("NEW", 24, 0, 20, None)]) == ()
    all_bad = obsolete_families([FamilyStock("BAD", 24, 0, 20, Fraction(0))])
    assert [entry.beyond for entry in all_bad] == [20]
    with pytest.raises(ValueError, match="above 0"):
        obsolete_families([], 0)
