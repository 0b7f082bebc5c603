"""Bids for lots and cores to buy."""

from __future__ import annotations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import stats

from coretrack.figures.buying import MOST_CORES, after_checking, bid, cores_to_buy


@settings(deadline=None, max_examples=50)
@given(st.integers(1, 400), st.floats(0.5, 60), st.floats(0.5, 60), st.floats(0.5, 0.99))
def test_good_bodies_of_a_bid_are_the_quantile_of_the_beta_binomial(
    pieces: int, a: float, b: float, confidence: float
) -> None:
    found = bid(pieces, a, b, 580_000, 1_500, 90_280, 900_000, confidence)
    reference = stats.betabinom(pieces, a, b)
    assert reference.sf(found.good_bodies - 1) >= confidence - 1e-9
    assert reference.sf(found.good_bodies) <= confidence + 1e-9
    assert found.expected_good == pytest.approx(reference.mean())


@given(st.integers(1, 200), st.floats(0.5, 60), st.floats(0.5, 60))
def test_more_confidence_never_bids_more(pieces: int, a: float, b: float) -> None:
    totals = [
        bid(pieces, a, b, 580_000, 1_500, 90_280, 0, level).total for level in (0.5, 0.8, 0.95)
    ]
    assert totals == sorted(totals, reverse=True)


def test_a_bid_a_piece_is_rounded_down_so_that_the_lot_never_costs_more() -> None:
    found = bid(7, 5, 5, 500_001, 3, 10_000, 12_345, 0.8)
    assert found.per_piece * 7 <= found.total < (found.per_piece + 1) * 7


def test_a_lot_that_loses_money_as_a_gift_says_so() -> None:
    found = bid(50, 1, 20, 100_000, 0, 90_000, 0, 0.9)
    assert found.total < 0
    assert found.why == "at this confidence the lot loses money even as a gift"


def test_good_pieces_found_beforehand_are_certain() -> None:
    assert after_checking(17.4, 10.7, 20, 15) == pytest.approx((32.4, 15.7))
    found = bid(20, 17.4, 10.7, 580_000, 1_500, 90_280, 0, 0.9, checked=20, checked_good=15)
    assert found.good_bodies == 15
    assert found.expected_good == 15


def test_a_good_sample_raises_the_bid_and_a_poor_one_lowers_it() -> None:
    plain = bid(200, 17.4, 10.7, 580_000, 1_500, 90_280)
    good = bid(200, 17.4, 10.7, 580_000, 1_500, 90_280, checked=20, checked_good=18)
    poor = bid(200, 17.4, 10.7, 580_000, 1_500, 90_280, checked=20, checked_good=7)
    assert poor.total < plain.total < good.total


def test_lots_that_cannot_be_are_refused() -> None:
    with pytest.raises(ValueError, match="at least one piece"):
        bid(0, 1, 1, 1, 1, 1)
    with pytest.raises(ValueError, match="cannot be"):
        bid(5, 1, 1, 1, 1, 1, checked=6, checked_good=2)
    with pytest.raises(ValueError, match="cannot be"):
        bid(5, 1, 1, 1, 1, 1, checked=3, checked_good=4)


@pytest.mark.parametrize(
    ("good", "share", "confidence", "cores"),
    [
        (10, 0.9, 0.9, 13),
        (10, 0.8, 0.9, 15),
        (50, 0.85, 0.9, 63),
        (20, 0.7, 0.9, 33),
        (4, 0.9, 0.95, 6),
    ],
)
def test_assurance_table(good: int, share: float, confidence: float, cores: int) -> None:
    assert cores_to_buy(good, share, confidence).cores == cores


@settings(deadline=None, max_examples=60)
@given(st.integers(1, 120), st.floats(0.2, 0.99), st.sampled_from([0.5, 0.8, 0.9, 0.99]))
def test_cores_to_buy_is_the_negative_binomial_quantile(
    good: int, share: float, confidence: float
) -> None:
    found = cores_to_buy(good, share, confidence).cores
    assert found is not None
    assert stats.nbinom.cdf(found - good, good, share) >= confidence - 1e-9
    assert stats.nbinom.cdf(found - 1 - good, good, share) < confidence + 1e-9


def test_lot_spread_asks_for_more_cores() -> None:
    plain, spread = cores_to_buy(40, 0.62), cores_to_buy(40, 0.62, spread=(17.4, 10.7))
    assert plain.cores is not None
    assert spread.cores is not None
    assert spread.cores > plain.cores


def test_nothing_wanted_needs_nothing_and_all_good_needs_no_spare() -> None:
    assert cores_to_buy(0, 0.5).cores == 0
    assert cores_to_buy(25, 1.0).cores == 25


def test_a_target_out_of_reach_is_said_plainly() -> None:
    for found in (cores_to_buy(5, 0.0), cores_to_buy(MOST_CORES + 1, 0.9), cores_to_buy(5, 1e-6)):
        assert found.cores is None
        assert found.why
        assert found.why.startswith("20,000 cores would not be sure to give")


def test_targets_and_yields_that_cannot_be_are_refused() -> None:
    with pytest.raises(ValueError, match="cannot be wanted"):
        cores_to_buy(-1, 0.5)
    with pytest.raises(ValueError, match="yield lies between"):
        cores_to_buy(5, 1.5)
    with pytest.raises(ValueError, match="confidence level"):
        cores_to_buy(5, 0.5, 90)
