"""Reject allowance and newsvendor against printed results.

Reject allowance: a problem of the facilities-planning textbooks (J. A. Tompkins et al., Facilities
Planning; attribution from memory), read on tutorial pages. Newsvendor: G. Cachon and C. Terwiesch,
Matching Supply with Demand, 3rd edition, solution to problem 12.1, read; the book takes the next
higher entry of its table, so its quantity lies a little above the exact one.
"""

from __future__ import annotations

from decimal import Decimal
from fractions import Fraction

import pytest
from scipy import stats

from coretrack.figures.money import from_decimal, shown
from coretrack.figures.order_quantities import (
    OrderTerms,
    best_start,
    critical_ratio,
    start_choice,
    stock_for_normal,
)


def money(units: str | int) -> int:
    return from_decimal(Decimal(units))


CASTINGS = OrderTerms(wanted=4, price=money(30_000), cost=money(15_000))
TWENTY = OrderTerms(wanted=20, price=money(2_500), cost=money(1_100), left_over=money(200))


def test_four_castings_started_for_four_wanted() -> None:
    found = start_choice(CASTINGS, 0.9, 4)
    assert found.chance_enough == pytest.approx(0.6561)
    assert shown(found.profit) == "18,732.00"


@pytest.mark.parametrize(
    ("started", "profit"),
    [(5, "35,224.80"), (6, "28,098.00"), (7, "14,672.64"), (8, "-51.80")],
)
def test_more_castings_started(started: int, profit: str) -> None:
    """Recomputed beyond what is printed."""
    assert shown(start_choice(CASTINGS, 0.9, started).profit) == profit


def test_five_castings_are_best_and_lose_money_once_in_twelve_times() -> None:
    found = best_start(CASTINGS, 0.9)
    assert found.started == 5
    assert found.chance_of_loss == pytest.approx(0.08146, abs=5e-6)


@pytest.mark.parametrize(
    ("started", "profit"), [(24, 20_486.6), (25, 21_963.6), (26, 22_054.0), (27, 21_521.9)]
)
def test_twenty_pieces_with_recycling(started: int, profit: float) -> None:
    found = start_choice(TWENTY, 0.9, started)
    assert found.profit / 10_000 == pytest.approx(profit, abs=0.06)
    assert best_start(TWENTY, 0.9).started == 26


def test_newsvendor_ratio_and_quantity() -> None:
    ratio = critical_ratio(money(8), money(4))
    assert ratio == Fraction(2, 3)
    exact = stock_for_normal(200, 80, ratio)
    assert exact == pytest.approx(234.458, abs=5e-4)
    printed = 235.2  # with z = 0.44, the next higher entry of the book's table
    assert exact < printed == pytest.approx(200 + 80 * 0.44)


def test_newsvendor_of_the_chapter() -> None:
    """From memory: 3,192 and 1,181, z 0.77 in the table gives 4,101; exactly it is 4,095.12."""
    ratio = critical_ratio(money(70), money(20))
    assert float(ratio) == pytest.approx(0.7778, abs=5e-5)
    assert stock_for_normal(3192, 1181, ratio) == pytest.approx(4095.12, abs=5e-3)


def test_best_start_agrees_with_scipy_on_the_chance_of_enough() -> None:
    for started in range(20, 40):
        found = start_choice(TWENTY, 0.83, started)
        assert found.chance_enough == pytest.approx(stats.binom.sf(19, started, 0.83), abs=1e-12)
