"""Bids by the piece, by weight, and while a sample is being checked. Amounts invented."""

from __future__ import annotations

from decimal import Decimal
from fractions import Fraction

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import stats

from coretrack.figures.buying import bid
from coretrack.figures.discrete import beta_binomial
from coretrack.figures.dispersion import Batch, beta_from_mean_and_sd
from coretrack.figures.finite_lots import bad_in_lot
from coretrack.figures.lot_bids import (
    ASSUMED_SD,
    BUY,
    CHECK_MORE,
    FROM_FAMILY,
    FROM_SOURCE,
    LEAVE,
    Worth,
    bid_prior,
    bid_table,
    chance_not_losing,
    lot_bid,
    next_lot_cost,
    sample_bid,
    weight_bid,
)
from coretrack.figures.money import from_decimal, shown
from coretrack.figures.piece_estimates import PieceEstimate


def money(units: str | int) -> int:
    return from_decimal(Decimal(units))


PRIOR = (17.4, 10.7)
WORTH = Worth(money(58), money("0.15"), money("9.028"), freight=money(90))


def test_the_bid_table_is_the_worked_example() -> None:
    table = bid_table(200, beta_from_mean_and_sd(0.62, 0.09), WORTH)
    assert [row.good_bodies for row in table] == [125, 108, 99, 91]
    assert [shown(row.per_piece) for row in table] == ["26.83", "21.91", "19.31", "16.99"]


@settings(deadline=None, max_examples=25)
@given(st.integers(4, 30), st.data())
def test_after_a_sample_the_rest_is_beta_binomial_with_the_counts_added(
    pieces: int, data: st.DataObject
) -> None:
    """Bayes over every lot: beta-binomial lots, a sample drawn without putting back."""
    checked = data.draw(st.integers(1, pieces - 1))
    good = data.draw(st.integers(0, checked))
    lots = stats.betabinom(pieces, *PRIOR)
    weights = [
        lots.pmf(total) * stats.hypergeom(pieces, total, checked).pmf(good)
        for total in range(pieces + 1)
    ]
    rest = beta_binomial(pieces - checked, PRIOR[0] + good, PRIOR[1] + checked - good)
    for more, chance in enumerate(rest):
        assert weights[good + more] / sum(weights) == pytest.approx(chance, rel=1e-6, abs=1e-12)


def test_pieces_of_a_wrong_family_lower_the_bid() -> None:
    worth = Worth(
        money(58), money("0.15"), money("9.028"), money(90), money("1.40"), Fraction(1, 10)
    )
    found = lot_bid(200, PRIOR, worth)
    right = bid(180, *PRIOR, money(58), money("0.15"), money("9.028"), money(90))
    assert found.total == right.total + 20 * (money("0.15") - money("1.40"))
    assert found.pieces == 200
    assert found.per_piece * 200 <= found.total
    with pytest.raises(ValueError, match="wrong pieces"):
        lot_bid(200, PRIOR, Worth(1, 1, 1, wrong_share=Fraction(3, 2)))


def test_a_bid_by_weight_takes_the_worse_end_of_the_piece_estimate() -> None:
    estimate = PieceEstimate(200, 180, 220, "weighed one by one, Student's t")
    found = weight_bid(120_000, estimate, PRIOR, WORTH)
    assert found.at_low is not None
    assert found.at_high is not None
    assert found.total == found.at_low.total < found.at_middle.total < found.at_high.total
    assert found.per_kg == found.total // 120
    assert "for about 200 pieces (180 to 220)" in found.sentence
    # Where every piece loses money, more pieces are the worse end.
    poor = Worth(money(5), 0, money(9))
    assert weight_bid(120_000, estimate, PRIOR, poor).total == lot_bid(220, PRIOR, poor).total


def test_a_piece_estimate_without_limits_is_said() -> None:
    plain = PieceEstimate(200, None, None, "mean mass only", why="weighed in one go")
    found = weight_bid(120_000, plain, PRIOR, WORTH)
    assert found.at_low is None
    assert found.total == found.at_middle.total
    assert found.why == "the number of pieces has no limits: weighed in one go"
    with pytest.raises(ValueError, match="weighs more"):
        weight_bid(0, plain, PRIOR, WORTH)


def test_each_checked_piece_moves_the_bid() -> None:
    found = sample_bid(200, 20, 15, PRIOR, WORTH)
    assert found.if_next_good is not None
    assert found.if_next_bad is not None
    assert found.if_next_bad.total < found.now.total < found.if_next_good.total
    assert found.now.total > found.before.total
    assert found.bad_in_lot == bad_in_lot(5, 20, 200)
    assert found.chance_not_losing is None
    assert found.verdict is None
    assert found.sentence.startswith("15 good of 20 checked: ")


def test_nothing_checked_yet_is_the_plain_bid() -> None:
    found = sample_bid(200, 0, 0, PRIOR, WORTH)
    assert found.now == found.before
    assert found.bad_in_lot.most is None
    assert found.sentence.startswith("nothing checked yet")


def test_a_lot_checked_to_the_last_piece_is_certain() -> None:
    found = sample_bid(20, 20, 15, PRIOR, WORTH, asking=money(500))
    assert found.if_next_good is None
    assert found.chance_not_losing in (0.0, 1.0)
    assert found.verdict in (BUY, LEAVE)
    assert (found.bad_in_lot.fewest, found.bad_in_lot.most) == (5, 5)


def test_the_asking_price_decides_buy_leave_or_check_more() -> None:
    at = {
        price: sample_bid(200, 20, 14, PRIOR, WORTH, asking=money(price))
        for price in (2_000, 5_000, 9_000)
    }
    assert [found.verdict for found in at.values()] == [BUY, CHECK_MORE, LEAVE]
    assert at[2_000].chance_not_losing is not None
    assert at[2_000].chance_not_losing > 0.9
    assert at[9_000].sentence.endswith(": leave")


@settings(deadline=None, max_examples=40)
@given(st.integers(10, 120), st.integers(0, 10), st.data())
def test_paying_the_bid_does_not_lose_with_the_confidence_it_promises(
    pieces: int, checked: int, data: st.DataObject
) -> None:
    good = data.draw(st.integers(0, checked))
    confidence = data.draw(st.sampled_from([0.5, 0.8, 0.95]))
    most = lot_bid(pieces, PRIOR, WORTH, confidence, checked, good).total
    chance = chance_not_losing(pieces, PRIOR, WORTH, most, checked, good)
    assert chance >= confidence - 1e-9
    more = chance_not_losing(pieces, PRIOR, WORTH, most + 1, checked, good)
    assert more < chance
    if most + 1 > 0 and checked == 0:
        assert more <= confidence + 1e-9


def test_a_body_worth_its_scrap_can_never_pay() -> None:
    with pytest.raises(ValueError, match="no lot can pay"):
        chance_not_losing(10, PRIOR, Worth(money(1), money(2), 0), 0)


def _lots(*goods: int) -> list[Batch]:
    return [Batch(f"L{n}", 40, good) for n, good in enumerate(goods)]


def test_expectation_comes_from_the_source_when_it_sent_enough_lots() -> None:
    source = _lots(30, 20, 33, 18, 27)
    found = bid_prior(source, source + _lots(10, 12))
    assert found.origin == FROM_SOURCE
    assert found.mean == pytest.approx(128 / 200)
    assert not found.assumed
    assert found.a is not None
    assert found.b is not None
    assert found.a / (found.a + found.b) == pytest.approx(found.mean)


def test_else_from_all_bought_lots_of_the_family() -> None:
    found = bid_prior(_lots(30), _lots(30, 20, 33, 18))
    assert found.origin == FROM_FAMILY
    assert found.lots == 4


def test_few_lots_are_never_surer_than_many() -> None:
    found = bid_prior(_lots(30), _lots(30, 29))
    assert found.assumed
    assert found.sd == ASSUMED_SD
    assert found.a is not None
    assert found.b is not None
    assert stats.beta(found.a, found.b).std() >= ASSUMED_SD - 1e-9
    assert found.sentence.endswith("(assumed: it takes 4 lots to see it)")
    for good in (0, 40):
        alike = bid_prior([], [Batch("L", 40, good)])
        assert alike.a is not None
        assert alike.a > 0


def test_nothing_decided_gives_no_expectation() -> None:
    found = bid_prior([], [Batch("L", 0, 0)])
    assert found.a is None
    assert found.why == ("no bought core of this family has been decided yet: check a sample first")
    only_source = bid_prior(_lots(30), [])
    assert only_source.origin == FROM_SOURCE


def test_lots_alike_say_so() -> None:
    assert bid_prior([], _lots(25, 25, 25, 25)).sentence == (
        "all bought lots of the family: 62.5 % of 160 decided cores good, lots differ no more than"
        " chance makes them"
    )


def test_the_cost_of_the_next_lot_is_less_sure_than_the_mean() -> None:
    found = next_lot_cost(200, PRIOR, money("25.478"), money("0.15"))
    reference = stats.betabinom(200, *PRIOR)
    good = [reference.ppf(p) for p in (0.9, 0.5, 0.1)]
    exact = [0.15 + (25.478 - 0.15) * 200 / k for k in good]
    amounts = [found.low, found.expected, found.high]
    assert [float(amount or 0) / 10_000 for amount in amounts] == pytest.approx(exact, abs=1e-4)
    assert found.sentence.startswith("a good body of the next lot costs about 41.00 (34.38 to ")


def test_a_tiny_lot_may_hold_no_good_body_at_all() -> None:
    found = next_lot_cost(2, (1.0, 3.0), money(20), 0)
    assert found.high is None
    assert found.why == "a lot without any good body cannot be ruled out"
    with pytest.raises(ValueError, match="at least one piece"):
        next_lot_cost(0, PRIOR, 1, 0)
