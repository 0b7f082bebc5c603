"""Body coverage, its interval, net body cost, and another window."""

from __future__ import annotations

import sys
from decimal import Decimal
from fractions import Fraction

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from coretrack.figures.coverage import CoveragePart, coverage, net_body_cost, product_interval
from coretrack.figures.intervals import Interval, wilson
from coretrack.figures.money import from_decimal, shown
from coretrack.figures.return_days import Stay, return_days, returned_by
from coretrack.figures.what_if import try_window


def money(units: str | int) -> int:
    return from_decimal(Decimal(units))


def part(name: str, count: int, n: int) -> CoveragePart:
    interval = wilson(count, n)
    return CoveragePart(name, count / n if n else None, interval, interval.why)


PARTS = (part("return rate", 90, 100), part("accepted", 95, 100), part("yield", 688, 1000))


def test_one_for_one_returns_cover_less_than_six_of_ten() -> None:
    found = coverage(PARTS, demand=100)
    assert found.coverage == pytest.approx(0.588, abs=5e-4)
    assert found.short == 42
    assert found.short_per_hundred == pytest.approx(41.2, abs=0.05)
    assert found.short_low is not None
    assert found.short_high is not None
    assert found.short_low < 42 < found.short_high
    assert found.sentence.startswith("58.8 % of units sold come back as good bodies; for 100 units")


def test_a_part_that_is_not_known_leaves_all_unknown_and_is_named() -> None:
    found = coverage((PARTS[0], part("accepted", 0, 0), PARTS[2]))
    assert found.coverage is None
    assert found.short_per_hundred is None
    assert found.interval.low is None
    assert found.why == "no accepted yet (no decided core yet)"


def test_no_demand_gives_no_missing_bodies_and_impossible_input_is_refused() -> None:
    assert coverage(PARTS).short is None
    assert coverage((part("yield", 50, 50),), 10).short == 0
    with pytest.raises(ValueError, match="parts"):
        coverage(())
    with pytest.raises(ValueError, match="demand"):
        coverage(PARTS, -1)
    with pytest.raises(ValueError, match="between 0 and 1"):
        coverage((CoveragePart("yield", 1.5, Interval(1, 2, "x")),))


def test_a_single_part_keeps_its_own_interval() -> None:
    alone = product_interval((PARTS[2],))
    assert (alone.low, alone.high) == pytest.approx((PARTS[2].interval.low, PARTS[2].interval.high))


def test_nothing_came_through_yet_leaves_an_upper_bound() -> None:
    found = coverage((part("return rate", 0, 20), part("yield", 18, 20)), 10)
    assert found.coverage == 0
    assert found.interval.low == 0
    assert found.interval.high == pytest.approx(0.1611 * 0.9721, abs=2e-3)
    assert found.short == 10


@settings(deadline=None)
@given(st.lists(st.tuples(st.integers(0, 60), st.integers(0, 60)), min_size=1, max_size=4))
def test_the_interval_holds_the_product(pairs: list[tuple[int, int]]) -> None:
    parts = [part("p", good, good + bad) for good, bad in pairs if good + bad]
    if not parts:
        return
    found = coverage(parts)
    assert found.coverage is not None
    assert found.interval.low is not None
    assert found.interval.high is not None
    assert 0 <= found.interval.low <= found.coverage + 1e-12
    assert found.coverage - 1e-12 <= found.interval.high <= 1


def test_the_interval_holds_the_true_coverage_as_often_as_promised() -> None:
    """Binomial parts of 80, 70 and 60: 95 % promised, 2,000 runs scatter by 0.5 %."""
    random = np.random.default_rng(11)
    truth, sizes, runs, inside = (0.85, 0.93, 0.69), (80, 70, 60), 2_000, 0
    for _ in range(runs):
        parts = [
            part("p", int(random.binomial(n, share)), n)
            for share, n in zip(truth, sizes, strict=True)
        ]
        found = product_interval(parts)
        assert found.low is not None
        assert found.high is not None
        inside += found.low <= np.prod(truth) <= found.high
    sys.stdout.write(f"\nbody coverage of three shares: {inside / runs:.3f} for 0.95\n")
    assert 0.935 <= inside / runs <= 0.975


def test_net_body_cost_adds_up_one_unit_sold() -> None:
    """1,000 units: 900 back, 855 accepted, 588.24 good; each flow of money by itself."""
    found = net_body_cost(
        money(20), Fraction(95, 100), Fraction(9, 10), Fraction(95, 100), Fraction(688, 1000),
        money("1.40"), money("9.028"), money("0.15"), money(40),
    )  # fmt: skip
    good = Fraction(855 * 688, 1000)
    by_hand = (
        -1000 * money(20)
        + 900 * Fraction(95, 100) * money(20)
        + 900 * money("1.40")
        + 855 * (money("9.028") - money("1.40"))
        - (900 - good) * money("0.15")
        + (1000 - good) * money(40)
    )
    assert found == pytest.approx(by_hand / 1000, abs=0.5)
    assert shown(found) == "21.31"
    with pytest.raises(ValueError, match="lie between 0 and 1"):
        net_body_cost(1, 2, 1, 1, 1, 1, 1, 1, 1)


CURVE = return_days(
    [Stay(10, True, 30), Stay(20, True, 25), Stay(40, True, 15), Stay(60, False, 30)]
)


def test_another_window_is_read_from_the_days_to_return() -> None:
    found = try_window(CURVE, 30)
    assert found.share == pytest.approx(0.55)
    reference = returned_by(CURVE, 30)
    assert (found.low, found.high) == (reference.interval.low, reference.interval.high)
    assert found.sentence.startswith("within 30 days 55.0 % of cores come back")


def test_beyond_the_longest_stay_only_bounds_are_known() -> None:
    found = try_window(CURVE, 90)
    assert found.share is None
    assert found.high == 1.0
    assert found.low == try_window(CURVE, 60).low
    assert "no sale has been followed longer than 60 days" in found.sentence


def test_no_return_no_window() -> None:
    for curve in (return_days([]), return_days([Stay(30, False, 5)])):
        found = try_window(curve, 30)
        assert (found.share, found.low, found.high) == (None, None, None)
        assert found.why
    with pytest.raises(ValueError, match="window of -1"):
        try_window(CURVE, -1)
