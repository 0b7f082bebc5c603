"""Sources side by side: shrunken ranks, the funnel, and lots' own spread kept apart."""

from __future__ import annotations

import random

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from coretrack.figures.dispersion import Batch
from coretrack.figures.funnel import INSIDE, STANDS_OUT
from coretrack.figures.side_by_side import COMMON, Side, side_by_side, within_spread


def _lots(name: str, *pairs: tuple[int, int]) -> Side:
    batches = tuple(Batch(f"{name}-{n}", size, good) for n, (good, size) in enumerate(pairs))
    return Side(name, sum(b.decided for b in batches), sum(b.good for b in batches), batches)


STEADY = [_lots(name, *[(14, 20)] * 5) for name in ("Alder", "Birch", "Cedar", "Dogwood")]


def test_a_lucky_handful_does_not_top_the_list() -> None:
    found = side_by_side(
        [*STEADY, _lots("Elm", (190, 200)), Side("Fern", 2, 2), Side("Ash", 90, 40)]
    )
    order = [row.name for row in found.rows]
    assert order[0] == "Elm"
    assert order[-1] == "Ash"
    fern = next(row for row in found.rows if row.name == "Fern")
    assert fern.plain == 1.0
    assert fern.drawn.rate is not None
    assert fern.drawn.rate < 0.9
    assert fern.placed is not None
    assert fern.placed.verdict == INSIDE
    assert (
        found.sentence == "sources differ by more than chance; standing out: Elm above, Ash below"
    )


def test_sources_alike_are_said_to_be_and_share_one_yield() -> None:
    found = side_by_side(STEADY)
    assert found.sentence == (
        "the 4 sources differ no more than chance explains: the order says nothing"
    )
    assert [row.drawn.rate for row in found.rows] == pytest.approx([0.7] * 4)
    assert {row.drawn.interval.method for row in found.rows} == {COMMON}
    assert found.rows[0].drawn.interval.low is not None
    assert [row.rank for row in found.rows] == [1, 2, 3, 4]


def test_lots_that_differ_within_a_source_are_noise_and_not_a_verdict_on_it() -> None:
    rough = [(20, 20), (8, 20), (19, 20), (7, 20)]
    sides = [_lots("Alder", *rough), _lots("Birch", *rough), _lots("Cedar", *rough, (6, 20))]
    assert within_spread(sides) > 4
    found = side_by_side(sides)
    assert found.widening > 4
    assert all(row.placed is not None and row.placed.verdict == INSIDE for row in found.rows)
    assert "no more than chance" in found.sentence


def test_a_bad_source_stands_out_of_steady_lots() -> None:
    found = side_by_side([*STEADY, _lots("Rowan", *[(6, 20)] * 5)])
    last = found.rows[-1]
    assert last.name == "Rowan"
    assert last.placed is not None
    assert (last.placed.verdict, last.placed.side) == (STANDS_OUT, "below")
    assert found.differ_p is not None
    assert found.differ_p < 0.001


def test_two_sources_are_too_few_to_draw_together_and_that_is_said() -> None:
    found = side_by_side([Side("Alder", 40, 30), Side("Birch", 30, 15)])
    assert [row.name for row in found.rows] == ["Alder", "Birch"]
    assert found.rows[0].drawn.rate is None
    assert found.sentence.endswith("ranked by plain yields, which luck moves")


def test_a_source_with_nothing_decided_has_no_rank_and_stands_last() -> None:
    found = side_by_side([Side("Alder", 0, 0), *STEADY])
    last = found.rows[-1]
    assert (last.name, last.rank, last.plain, last.placed) == ("Alder", None, None, None)


def test_nothing_decided_and_one_source_say_so() -> None:
    assert side_by_side([]).why == "nothing is decided in any group yet"
    assert side_by_side([Side("Alder", 0, 0)]).rows[0].interval.why == "no decided core yet"
    assert side_by_side([Side("Alder", 9, 5)]).sentence == (
        "only one source has decided cores: there is nothing to set beside it"
    )


@settings(deadline=None, max_examples=60)
@given(
    st.lists(
        st.lists(
            st.integers(0, 40).flatmap(lambda n: st.integers(0, n).map(lambda good: (good, n))),
            min_size=1,
            max_size=5,
        ),
        max_size=7,
    )
)
def test_whatever_the_sources_hold_no_figure_is_nan(pairs: list[list[tuple[int, int]]]) -> None:
    sides = [_lots(f"S{number}", *own) for number, own in enumerate(pairs)]
    found = side_by_side(sides)
    assert found.sentence
    assert [row.rank for row in found.rows if row.rank] == list(
        range(1, sum(side.decided > 0 for side in sides) + 1)
    )
    for row in found.rows:
        assert (row.plain is None) == (row.decided == 0)
        if row.drawn.rate is not None:
            assert 0 <= row.drawn.rate <= 1
            low, high = row.drawn.interval.low, row.drawn.interval.high
            assert low is not None
            assert high is not None
            assert 0 <= low <= row.drawn.rate <= high <= 1


def test_steady_sources_seldom_stand_out_by_luck() -> None:
    rng, out, rows = random.Random(9), 0, 0
    for _ in range(40):
        sides = [Side(str(n), 60, sum(rng.random() < 0.7 for _ in range(60)), ()) for n in range(8)]
        for row in side_by_side(sides).rows:
            rows += 1
            out += row.placed is not None and row.placed.verdict == STANDS_OUT
    assert out / rows < 0.01
