"""What scrap costs."""

from __future__ import annotations

from decimal import Decimal
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from coretrack.figures.costing import CostParts, CostRow, cost_row
from coretrack.figures.money import from_decimal, shown
from coretrack.figures.scrap_bills import scrap_bill
from coretrack.figures.yields import Counts, yield_row


def money(units: str) -> int:
    return from_decimal(Decimal(units))


def _row(good: int, scrapped: int, spent: int, recovery: int = 0) -> CostRow:
    decided = good + scrapped
    yields = yield_row("INJ", Counts(decided, decided, good, 0, scrapped))
    return cost_row(yields, CostParts(credit=spent, recovery=recovery))


def test_a_hundred_cores_of_which_thirty_die() -> None:
    """2,700 spent, 4.50 from metal: 26.955 a core, so thirty dead ones took 808.65."""
    found = scrap_bill(_row(70, 30, money("2700"), money("4.50")), Decimal("0.80"))
    assert shown(found.total) == "808.65"
    assert found.of_cost == pytest.approx(0.3)
    assert shown(found.per_good_body) == "11.55"
    # At 80 %, 70 good bodies come with 17.5 dead ones.
    assert (found.normal_cores, found.abnormal_cores) == (Fraction(35, 2), Fraction(25, 2))
    assert found.normal is not None
    assert found.abnormal is not None
    assert found.normal + found.abnormal == found.total
    assert found.sentence == (
        "30 scrapped cores took 808.65, 30.0 % of all money spent; against a standard yield of"
        " 80.0 % 336.94 of it is abnormal"
    )


@given(st.integers(1, 500), st.integers(0, 500), st.integers(0, 10**9))
def test_the_bill_is_the_scrap_share_of_the_cost_times_the_good_bodies(
    good: int, scrapped: int, spent: int
) -> None:
    row = _row(good, scrapped, spent)
    found = scrap_bill(row)
    assert found.total is not None
    assert row.scrap_share is not None
    assert abs(found.total - row.scrap_share * good) <= 100 * good + 1


def test_nothing_decided_and_none_good() -> None:
    empty = cost_row(yield_row("INJ", Counts(received=3)), CostParts())
    found = scrap_bill(empty)
    assert found.total is None
    assert found.of_cost is None
    assert found.why
    dead = scrap_bill(_row(0, 4, money("80")), Decimal("0.5"))
    assert shown(dead.total) == "80.00"
    assert dead.per_good_body is None
    assert dead.why == "no good body to carry it"
    assert dead.normal == 0


def test_all_good_costs_nothing_in_scrap() -> None:
    found = scrap_bill(_row(9, 0, money("90")), Decimal("0.9"))
    assert found.total == 0
    assert (found.normal, found.abnormal) == (0, 0)
    assert found.sentence.startswith("nothing was scrapped")
