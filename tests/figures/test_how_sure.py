"""How sure, in words: the worked table of intervals, cores needed, and unknown as unknown."""

from __future__ import annotations

import pytest

from coretrack.figures.how_sure import cores_for, how_sure
from coretrack.figures.intervals import Interval, wilson

TABLE = [
    (20, 14, 0.481, 0.855),
    (60, 41, 0.558, 0.787),
    (150, 103, 0.609, 0.755),
    (600, 413, 0.650, 0.724),
]


@pytest.mark.parametrize(("n", "good", "low", "high"), TABLE)
def test_worked_intervals(n: int, good: int, low: float, high: float) -> None:
    found = wilson(good, n)
    assert (found.low, found.high) == pytest.approx((low, high), abs=5e-4)


def test_329_cores_for_five_points_at_69_percent() -> None:
    assert cores_for(0.69, 0.05) == 329
    assert cores_for(0.69, 0.05, spread=2.0) == 658


def test_words_grow_surer_with_cores() -> None:
    words = [how_sure(good / n, n, wilson(good, n)).word for n, good, _, _ in TABLE]
    assert words == ["a hint", "rough", "rough", "close"]
    assert how_sure(103 / 150, 150, wilson(103, 150)).sentence == (
        "Roughly: between 60.9 % and 75.5 %, from 150 cores; about 181 more would bring it to ± 5"
        " points"
    )


def test_lots_that_differ_are_said_and_ask_for_more() -> None:
    plain = how_sure(0.7, 100, wilson(70, 100))
    wide = how_sure(0.7, 100, Interval(0.5, 0.85, "Wilson, widened"), spread=4.0)
    assert wide.more is not None
    assert plain.more is not None
    assert wide.more > plain.more
    assert "lots differ, which makes it 2.0 times as wide" in wide.sentence


def test_unknown_stays_unknown() -> None:
    found = how_sure(None, 0, wilson(0, 0))
    assert (found.half_width, found.word, found.more) == (None, "unknown", None)
    assert found.sentence == "no decided core yet"


@pytest.mark.parametrize("good", [0, 8])
def test_all_or_none_good_is_no_certainty_and_plans_nothing(good: int) -> None:
    found = how_sure(good / 8, 8, wilson(good, 8))
    assert found.word == "a hint"
    assert found.more is None


def test_impossible_sizes_are_refused() -> None:
    with pytest.raises(ValueError, match="no sample size"):
        cores_for(0.0, 0.05)
