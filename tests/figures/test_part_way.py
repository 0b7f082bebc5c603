"""A core part-way through is worth what it still may become, less what it still needs."""

from __future__ import annotations

from decimal import Decimal
from fractions import Fraction

import pytest

from coretrack.figures.lifecycle import INSPECTABLE, NOT_OURS, STATE_AFTER_GRADE
from coretrack.figures.money import from_decimal, shown
from coretrack.figures.part_way import Outlook, StepCosts, outlook, part_way_worth


def money(units: str | int) -> int:
    return from_decimal(Decimal(units))


COSTS = StepCosts(money("2.10"), money("3.20"), money("6.50"), money("3.20"), Fraction(24, 100))
YIELD, PASSES = Fraction(688, 1000), Fraction(7, 10)
G, S = money(40), money("0.15")


def _worth(state: str) -> str:
    return shown(part_way_worth(outlook(state, COSTS, YIELD, PASSES), G, S))


def test_worth_rises_as_less_is_left_to_spend() -> None:
    # 0.688 x 40 + 0.312 x 0.15 - (2.10 + 3.20 + 0.24 x 9.70)
    assert _worth("waiting") == "19.94"
    assert _worth("open") == "22.04"
    # 0.7 x 40 + 0.3 x 0.15 - 9.70, then without the rework
    assert _worth("rework") == "18.35"
    assert _worth("reinspect") == "24.85"
    assert _worth("good") == "40.00"
    assert _worth("scrapped") == "0.15"


def test_undecided_cores_have_a_chance_of_their_own_where_it_is_known() -> None:
    assert outlook("undecided", COSTS, YIELD, PASSES).good_share == YIELD
    assert outlook("undecided", COSTS, YIELD, PASSES, Fraction(1, 2)).good_share == Fraction(1, 2)


def test_a_core_that_would_lose_money_is_worth_its_scrap() -> None:
    poor = outlook("waiting", COSTS, Fraction(1, 100), PASSES)
    assert part_way_worth(poor, G, S) == S


def test_every_state_of_a_core_has_an_answer() -> None:
    states = {*NOT_OURS, *INSPECTABLE, *STATE_AFTER_GRADE.values(), "unknown"}
    for state in states:
        found = outlook(state, COSTS, YIELD, PASSES)
        assert (found.good_share is None) == bool(found.why), state
    with pytest.raises(ValueError, match="no state of a core"):
        outlook("lost", COSTS, YIELD)


@pytest.mark.parametrize(
    ("found", "why"),
    [
        (outlook("hold", COSTS, YIELD), "the shop does not own it"),
        (outlook("unknown", COSTS, YIELD), "its family is not known"),
        (outlook("comeback", COSTS, YIELD), "it waits for its warranty test"),
        (outlook("waiting", None, YIELD), "what the steps cost is not known"),
        (outlook("waiting", COSTS, None), "no yield yet"),
        (outlook("rework", COSTS, YIELD), "no rework has ended yet"),
    ],
)
def test_what_cannot_be_told_has_no_worth(found: Outlook, why: str) -> None:
    assert found.why == why
    assert part_way_worth(found, G, S) is None


def test_without_a_value_of_a_good_body_only_scrap_has_a_worth() -> None:
    assert part_way_worth(outlook("good", COSTS, YIELD), None, S) is None
    assert part_way_worth(outlook("scrapped", COSTS, YIELD), None, S) == S
    assert part_way_worth(outlook("good", COSTS, YIELD), G, None) is None
