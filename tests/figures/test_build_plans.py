"""Cores to buy for a build plan, after the shelf and the work in hand."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import stats

from coretrack.figures.build_plans import InHand, added, build_plan, chance_enough
from coretrack.figures.buying import cores_to_buy
from coretrack.figures.discrete import binomial


def test_without_shelf_and_work_it_is_the_plain_number_of_cores() -> None:
    for bodies, share in ((100, 0.688), (40, 0.62), (10, 0.9)):
        assert build_plan(bodies, 0, [], share).cores == cores_to_buy(bodies, share).cores


def test_shelf_and_work_in_hand_come_off() -> None:
    found = build_plan(100, 30, [InHand("waiting", 40, 0.688), InHand("in rework", 10, 0.7)], 0.688)
    assert found.shelf == 30
    assert found.in_hand == 50
    assert found.expected_in_hand == pytest.approx(34.52)
    assert found.sure_in_hand < 34
    assert found.cores is not None
    # Fewer than for all 70 missing ones, more than if the work in hand came out as on average.
    assert 52 < found.cores < (cores_to_buy(70, 0.688).cores or 0)
    assert found.sentence.startswith(
        "100 good bodies wanted, 30 on the shelf, at least 30 to come of 50 cores in hand: buy "
    )


@settings(deadline=None, max_examples=40)
@given(
    st.integers(1, 80), st.integers(0, 60), st.floats(0.3, 0.95), st.sampled_from([0.5, 0.8, 0.95])
)
def test_the_fewest_cores_whose_chance_is_enough(
    bodies: int, waiting: int, share: float, assurance: float
) -> None:
    found = build_plan(bodies, 0, [InHand("waiting", waiting, share)], share, assurance=assurance)
    assert found.cores is not None
    # One yield for all: the sum is binomial again.
    assert stats.binom.sf(bodies - 1, waiting + found.cores, share) >= assurance - 1e-9
    if found.cores:
        assert stats.binom.sf(bodies - 1, waiting + found.cores - 1, share) < assurance + 1e-9


def test_the_chance_of_two_sums_agrees_with_simulation() -> None:
    random = np.random.default_rng(5)
    total = random.binomial(30, 0.5, 100_000) + random.binomial(40, 0.8, 100_000)
    chance = chance_enough(binomial(30, 0.5), binomial(40, 0.8), 48)
    assert chance == pytest.approx((total >= 48).mean(), abs=0.006)
    both = added(binomial(30, 0.5), binomial(40, 0.8))
    assert sum(both) == pytest.approx(1)
    assert sum(both[48:]) == pytest.approx(chance)


def test_lots_that_differ_ask_for_more_cores() -> None:
    spread = (17.4, 10.7)
    lumpy = build_plan(60, 10, [InHand("waiting", 30, 0.62, spread)], 0.62, spread)
    plain = build_plan(60, 10, [InHand("waiting", 30, 0.62)], 0.62)
    assert lumpy.cores is not None
    assert plain.cores is not None
    assert lumpy.cores > plain.cores
    assert lumpy.expected_in_hand == pytest.approx(30 * 17.4 / 28.1)


def test_a_full_shelf_needs_nothing_and_tells_what_is_left_over() -> None:
    found = build_plan(20, 25, [], None)
    assert found.cores == 0
    assert found.expected_over == 5
    assert found.sentence.endswith("nothing needs to be bought (90.0 % sure)")


def test_without_a_yield_nothing_is_made_up() -> None:
    found = build_plan(20, 5, [], None)
    assert found.cores is None
    assert found.expected_over is None
    assert found.why == "no yield is known of cores to buy: grade some first"
    hopeless = build_plan(20, 5, [], 0.0)
    assert hopeless.cores is None
    assert hopeless.why == "20,000 cores would not be sure to give them"
    with pytest.raises(ValueError, match="zero or more"):
        build_plan(-1, 0, [], 0.5)
