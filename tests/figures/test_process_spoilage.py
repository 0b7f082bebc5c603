"""Normal and abnormal spoilage: all money ends somewhere, for any figures."""

from __future__ import annotations

from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from coretrack.figures.spoilage import CostElement, process_cost, split_scrap

UNITS = st.integers(0, 500)
MONEY = st.integers(0, 10**9)
DONE = st.fractions(0, 1, max_denominator=100)


@given(UNITS, UNITS, UNITS, UNITS, st.lists(st.tuples(MONEY, MONEY, DONE), max_size=4), DONE)
def test_costs_add_up_to_all_money(
    beginning: int,
    completed: int,
    ending: int,
    spoiled: int,
    elements: list[tuple[int, int, Fraction]],
    normal_share: Fraction,
) -> None:
    started = completed + ending + spoiled - beginning
    if started < 0 or completed + spoiled == 0:
        return
    costs = [CostElement(str(n), *element) for n, element in enumerate(elements)]
    found = process_cost(beginning, started, completed, ending, costs, normal_share)
    exact = found.good_cost + found.normal_cost + found.abnormal_cost + found.ending_cost
    assert exact == found.total
    assert sum(found.in_money()) == found.total
    assert found.normal + found.abnormal == spoiled
    assert found.normal <= completed * normal_share


@given(st.integers(0, 1000), st.integers(0, 1000), st.fractions(Fraction(1, 100), 1))
def test_normal_and_abnormal_scrap_are_all_scrap(
    good: int, scrapped: int, standard: Fraction
) -> None:
    normal, abnormal = split_scrap(good, scrapped, standard)
    assert normal + abnormal == scrapped
    assert normal >= 0
    assert abnormal >= 0


def test_at_the_standard_yield_all_scrap_is_normal() -> None:
    assert split_scrap(70, 30, Fraction(7, 10)) == (30, 0)
    assert split_scrap(70, 40, Fraction(7, 10)) == (30, 10)
    assert split_scrap(70, 20, Fraction(7, 10)) == (20, 0)


def test_without_a_good_body_no_scrap_is_normal() -> None:
    assert split_scrap(0, 9, Fraction(7, 10)) == (0, 9)


@pytest.mark.parametrize("standard", [Fraction(0), Fraction(-1, 2), Fraction(11, 10)])
def test_a_standard_yield_outside_zero_and_one_is_refused(standard: Fraction) -> None:
    with pytest.raises(ValueError, match="standard yield"):
        split_scrap(1, 1, standard)


def test_more_units_out_than_in_is_refused() -> None:
    with pytest.raises(ValueError, match="more than the 10 that came in"):
        process_cost(0, 10, 9, 2, [], Fraction(0))


def test_work_done_beyond_all_of_it_is_refused() -> None:
    element = CostElement("conversion", 0, 100, Fraction(3, 2))
    with pytest.raises(ValueError, match="conversion: work done"):
        process_cost(0, 10, 9, 1, [element], Fraction(0))


def test_cost_without_a_unit_to_carry_it_is_refused() -> None:
    element = CostElement("conversion", 0, 100, Fraction(0))
    with pytest.raises(ValueError, match="no unit to carry it"):
        process_cost(0, 5, 0, 5, [element], Fraction(0))
    with pytest.raises(ValueError, match="cannot be negative"):
        process_cost(0, 5, 5, 0, [], Fraction(-1))
