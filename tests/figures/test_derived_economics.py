"""Worked examples of the economics, derived by algebra; every amount in them is invented.

One family: credit 18.00, receive 1.40, wash 2.10, inspect 3.20, a share 0.24 sent to rework at
6.50 and inspected again at 3.20, of which 0.70 pass; 0.52 kept at first pass; scrap brings 0.15.
"""

from __future__ import annotations

from decimal import Decimal
from fractions import Fraction
from math import ceil, sqrt

import pytest

from coretrack.figures.buying import bid, cores_to_buy
from coretrack.figures.charge import make_whole, value_of_core
from coretrack.figures.costing import CostParts, cost_at_yield, cost_row, expected_cost
from coretrack.figures.discrete import binomial, quantile
from coretrack.figures.dispersion import beta_from_mean_and_sd
from coretrack.figures.intervals import normal_quantile, wilson
from coretrack.figures.money import from_decimal, shown, whole
from coretrack.figures.yields import Counts, rolled_yield, yield_row


def money(units: str) -> int:
    return from_decimal(Decimal(units))


SCRAP = money("0.15")
BODY_YIELD = Fraction(52, 100) + Fraction(24, 100) * Fraction(70, 100)
PROCESSING = money("1.40") + money("2.10") + money("3.20") + Fraction(24, 100) * money("9.70")
PER_CORE = money("18.00") + PROCESSING


def test_yield_spend_and_cost_of_the_example() -> None:
    assert Fraction(688, 1000) == BODY_YIELD
    assert whole(PER_CORE) == money("27.028")
    assert shown(whole(cost_at_yield(PER_CORE, SCRAP, BODY_YIELD))) == "39.22"
    assert shown(whole(money("18.00") / BODY_YIELD)) == "26.16"


def test_the_ledger_gives_the_same_cost_as_the_formula() -> None:
    """1,000 cores: 520 kept at first pass, 240 reworked of which 168 pass, 312 scrapped."""
    row = cost_row(
        yield_row("example", Counts(1000, 1000, 520, 168, 312, sent_to_rework=240)),
        CostParts(
            credit=money("18000"),
            receive=money("1400"),
            wash=money("2100"),
            inspect=money("3200"),
            rework=money("1560"),
            reinspect=money("768"),
            recovery=money("46.80"),
        ),
    )
    assert row.cost_per_good_body == whole(cost_at_yield(PER_CORE, SCRAP, BODY_YIELD))
    assert shown(row.cost_per_good_body) == "39.22"


@pytest.mark.parametrize(
    ("decided", "good", "yield_low", "yield_high", "cost_low", "cost_high", "point"),
    [
        (20, 14, "0.481", "0.855", "31.60", "56.03", "38.55"),
        (60, 41, "0.558", "0.787", "34.31", "48.35", "39.48"),
        (150, 103, "0.609", "0.755", "35.73", "44.32", "39.29"),
        (600, 413, "0.650", "0.724", "37.27", "41.49", "39.20"),
    ],
)
def test_intervals_narrow_with_decided_cores(
    decided: int,
    good: int,
    yield_low: str,
    yield_high: str,
    cost_low: str,
    cost_high: str,
    point: str,
) -> None:
    found = wilson(good, decided)
    assert found.low is not None
    assert found.high is not None
    assert (f"{found.low:.3f}", f"{found.high:.3f}") == (yield_low, yield_high)
    spent = whole(PER_CORE * decided)
    recovered = SCRAP * (decided - good)
    row = cost_row(
        yield_row("example", Counts(decided, decided, good, 0, decided - good)),
        CostParts(credit=spent, recovery=recovered),
    )
    assert shown(row.cost_per_good_body) == point
    assert (shown(row.cost_low), shown(row.cost_high)) == (cost_low, cost_high)


def test_329_decided_cores_give_five_points_either_way() -> None:
    """The plain normal half width at a yield of 69 % falls to 0.05 at 329 cores."""
    z = normal_quantile(0.975)
    assert ceil((z / 0.05) ** 2 * 0.69 * 0.31) == 329
    found = wilson(227, 329)
    assert found.low is not None
    assert found.high is not None
    assert (found.high - found.low) / 2 <= 0.05


def test_mean_cost_of_twenty_cores_lies_above_the_cost_at_their_mean_yield() -> None:
    """14 good of 20: y is Beta(14.5, 6.5); the mean of 1/y is 20/13.5, not 21/14.5."""
    mean = expected_cost(whole(PER_CORE), SCRAP, 14.5, 6.5)
    assert mean == whole(SCRAP + (PER_CORE - SCRAP) * Fraction(200, 135))
    assert shown(mean) == "39.97"
    assert shown(whole(cost_at_yield(PER_CORE, SCRAP, Fraction(145, 210)))) == "39.08"


def test_stage_yields_roll_through() -> None:
    found = rolled_yield([(950, 1000), (900, 950), (810, 900)])
    assert found == pytest.approx(0.81)


def test_value_of_a_returned_core_and_the_charge_that_makes_whole() -> None:
    good_body = cost_at_yield(money("16.00") + PROCESSING, SCRAP, Fraction(62, 100))
    assert shown(whole(good_body)) == "40.28"
    value = value_of_core(BODY_YIELD, whole(good_body), SCRAP, whole(PROCESSING))
    assert shown(value) == "18.73"
    assert shown(make_whole(value, money("1.50"))) == "20.23"


def test_with_the_same_yield_a_returned_core_is_worth_what_a_bought_one_costs() -> None:
    good_body = cost_at_yield(money("16.00") + PROCESSING, SCRAP, BODY_YIELD)
    value = value_of_core(BODY_YIELD, whole(good_body), SCRAP, whole(PROCESSING))
    assert value == pytest.approx(money("16.00"), abs=1)


def test_the_cost_as_the_next_charge_ratchets() -> None:
    charge = Fraction(money("18.00"))
    seen = []
    for _ in range(4):
        seen.append(shown(whole(charge)))
        charge = cost_at_yield(charge + PROCESSING, SCRAP, BODY_YIELD)
    assert seen == ["18.00", "39.22", "70.06", "114.88"]


def test_the_returns_own_cost_as_the_value_confirms_any_charge() -> None:
    for charge in ("18.00", "5.00", "90.00"):
        own_cost = cost_at_yield(money(charge) + PROCESSING, SCRAP, BODY_YIELD)
        value = value_of_core(BODY_YIELD, whole(own_cost), SCRAP, whole(PROCESSING))
        assert value == pytest.approx(money(charge), abs=1)


def test_lot_spread_of_the_bid_example() -> None:
    a, b = beta_from_mean_and_sd(0.62, 0.09)
    assert (f"{a:.1f}", f"{b:.1f}") == ("17.4", "10.7")


@pytest.mark.parametrize(
    ("confidence", "good", "a_piece"),
    [(0.50, 125, "26.83"), (0.80, 108, "21.91"), (0.90, 99, "19.31"), (0.95, 91, "16.99")],
)
def test_bid_for_two_hundred_pieces(confidence: float, good: int, a_piece: str) -> None:
    a, b = beta_from_mean_and_sd(0.62, 0.09)
    found = bid(
        200, a, b, money("58"), SCRAP, whole(PROCESSING), freight=money("90"), confidence=confidence
    )
    assert found.good_bodies == good
    assert shown(found.per_piece) == a_piece


def test_leaving_lot_spread_out_overbids_by_about_four_sixty_a_piece() -> None:
    good = quantile(binomial(200, 0.62), 0.10)
    assert good == 115
    over = (good - 99) * (money("58") - SCRAP) / 200
    assert over == pytest.approx(money("4.6"), abs=money("0.05"))


@pytest.mark.parametrize(
    ("good", "body_yield", "average", "cores", "with_spread"),
    [(100, Fraction("0.688"), 146, 156, 177), (40, Fraction("0.62"), 65, 73, 82)],
)
def test_cores_to_buy(
    good: int, body_yield: Fraction, average: int, cores: int, with_spread: int
) -> None:
    assert ceil(good / body_yield) == average
    assert cores_to_buy(good, body_yield, 0.9).cores == cores
    # The spread of the bid example: a + b = 17.4 + 10.7.
    spread = (float(body_yield) * 28.1, (1 - float(body_yield)) * 28.1)
    assert cores_to_buy(good, body_yield, 0.9, spread).cores == with_spread


@pytest.mark.parametrize("good", [10, 40, 100, 250])
@pytest.mark.parametrize("share", [0.5, 0.62, 0.688, 0.9])
def test_closed_formula_for_cores_to_buy_is_within_one_of_the_exact_number(
    good: int, share: float
) -> None:
    z, spread = normal_quantile(0.9), share * (1 - share)
    root = (z * sqrt(spread) + sqrt(z * z * spread + 4 * share * (good - 0.5))) / (2 * share)
    exact = cores_to_buy(good, share, 0.9).cores
    assert exact is not None
    assert abs(exact - ceil(root**2)) <= 1
