"""Predicted against actual per lot, and the scorecard of a source. Lots and sources invented."""

from __future__ import annotations

from dataclasses import replace
from decimal import Decimal
from fractions import Fraction

import pytest
from scipy import stats

from coretrack.figures.lot_results import (
    ABOVE,
    BELOW,
    INSIDE,
    LotBought,
    lot_result,
    source_scores,
)
from coretrack.figures.money import from_decimal, shown
from coretrack.figures.yields import Counts


def money(units: str | int) -> int:
    return from_decimal(Decimal(units))


def _lot(
    name: str = "L7", source: str = "yard", good: int = 60, scrapped: int = 40, left: int = 0
) -> LotBought:
    return LotBought(
        lot=name,
        source=source,
        received_on="2026-03-02",
        counts=Counts(good + scrapped + left, good + scrapped, good, 0, scrapped),
        paid=money(1600),
        processed=money(900),
        recovered=money(6),
        promised=102,
        received=100,
        wrong=5,
        expected=Fraction(62, 100),
        prior=(17.4, 10.7),
        good_body=money(45),
    )


def test_a_lot_that_did_as_expected() -> None:
    found = lot_result(_lot())
    reference = stats.betabinom(100, 17.4, 10.7)
    assert (found.low, found.high) == (reference.ppf(0.1), reference.ppf(0.9))
    assert found.verdict == INSIDE
    assert found.luck == pytest.approx(reference.cdf(60))
    assert shown(found.cost_per_good) == "41.57"
    assert found.gain == money(45 * 60) - money(2494)
    assert found.short == 2
    assert found.sentence == (
        "L7: 60 good of 100 decided pieces, expected 49 to 75: as expected;"
        " saved 206.00 against buying good bodies elsewhere"
    )
    assert found.why is None


def test_a_lot_far_below_and_one_above_its_range() -> None:
    assert lot_result(_lot(good=30, scrapped=70)).verdict == BELOW
    assert lot_result(_lot(good=95, scrapped=5)).verdict == ABOVE
    lost = lot_result(_lot(good=30, scrapped=70))
    assert lost.gain is not None
    assert lost.gain < 0
    assert "lost 1,144.00 against" in lost.sentence


def test_a_lot_bought_on_a_plain_yield_is_held_against_chance_alone() -> None:
    found = lot_result(replace(_lot(), prior=None))
    reference = stats.binom(100, 0.62)
    assert (found.low, found.high) == (reference.ppf(0.1), reference.ppf(0.9))


def test_what_was_not_kept_is_not_made_up() -> None:
    found = lot_result(replace(_lot(), prior=None, expected=None, good_body=None, promised=None))
    assert found.low is None
    assert found.verdict is None
    assert found.gain is None
    assert found.short is None
    assert found.why == "no expectation was kept when the lot was bought"
    assert lot_result(replace(_lot(), good_body=None)).why == (
        "a good body had no value on that day"
    )
    fitted = lot_result(replace(_lot(), expected=None)).expected
    assert float(fitted or 0) == pytest.approx(17.4 / 28.1)


def test_a_lot_nobody_has_graded_says_so() -> None:
    found = lot_result(_lot(good=0, scrapped=0, left=100))
    assert found.verdict is None
    assert found.cost_per_good is None
    assert found.gain is None
    assert found.why == "no piece of this lot has been decided yet"
    open_one = lot_result(_lot(good=20, scrapped=10, left=70))
    assert "70 pieces still open" in open_one.sentence


def test_scores_of_sources_cheapest_body_first() -> None:
    lots = [
        _lot("L1", "broker", 30, 70),
        _lot("L2", "yard", 65, 35),
        _lot("L3", "yard", 55, 45),
        _lot("L4", "unseen", 0, 0, 20),
    ]
    scores = source_scores(lots)
    assert [score.source for score in scores] == ["yard", "broker", "unseen"]
    yard, broker, unseen = scores
    assert (yard.lots, yard.judged, yard.inside, yard.below) == (2, 2, 2, 0)
    assert shown(yard.cost_per_good) == shown(money(2 * 2494) // 120)
    assert yard.short_share == pytest.approx(4 / 204)
    assert yard.wrong_share == pytest.approx(0.05)
    assert yard.sentence == "yard: 60.0 % good over 2 lots; 2 of 2 lots ended as expected"
    assert broker.sentence.endswith("0 of 1 lot ended as expected, 1 below")
    assert unseen.cost_per_good is None
    assert unseen.why
    assert unseen.interval.low is None


def test_no_lots_no_scores() -> None:
    assert source_scores([]) == ()
    bare = replace(_lot(), promised=None, received=None, prior=None, expected=None, good_body=None)
    (score,) = source_scores([bare])
    assert score.short_share is None
    assert score.wrong_share is None
    assert score.gain is None
    assert score.judged == 0
