"""Pieces of a lot from its weight: the interval against SciPy, by simulation, and on slips."""

from __future__ import annotations

import math
import random

import numpy
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import optimize, stats

from coretrack.errors import InvalidInput
from coretrack.figures.piece_estimates import (
    ALL_COUNTED,
    EACH_WEIGHED,
    KNOWN_SPREAD,
    NO_SPREAD,
    Sample,
    estimate_families,
    estimate_pieces,
    one_by_one,
    together,
)

BODIES = [412, 398, 405, 421, 390, 408, 401, 399, 415, 402]


def test_pieces_are_the_net_mass_over_the_mean() -> None:
    # 4051 g for 10, so 405.1 g each; 202 550 g net are 500 of them.
    found = estimate_pieces(220_550, 18_000, one_by_one(BODIES))
    assert (found.pieces, found.method, found.why) == (500, EACH_WEIGHED, None)
    # By hand: s = 9.12, t = 2.262, and 2.262 * 9.12 * sqrt(490 + 490^2 / 10) / 405.1 is close to 8.
    assert (found.low, found.high) == (493, 508)


def test_the_limits_solve_the_equation_they_are_named_for() -> None:
    masses = numpy.array(BODIES)
    rest, t = 202_550 - 4051, stats.t.ppf(0.975, 9)

    def excess(pieces: float) -> float:
        spread = masses.std(ddof=1) * math.sqrt(pieces + pieces**2 / 10)
        return abs(rest - pieces * masses.mean()) - t * spread

    low = optimize.brentq(excess, 1, 490)
    high = optimize.brentq(excess, 490, 5000)
    found = estimate_pieces(220_550, 18_000, one_by_one(BODIES))
    assert (found.low, found.high) == (10 + math.ceil(low), 10 + math.floor(high))


@given(
    st.lists(st.integers(350, 450), min_size=3, max_size=30, unique=True),
    st.sampled_from([0.8, 0.9, 0.95]),
)
def test_for_a_large_lot_the_limits_are_those_of_the_mean(masses: list[int], level: float) -> None:
    # With very many pieces left only the mean is uncertain: SciPy's interval of Student's t.
    lot = 300_000_000
    found = estimate_pieces(lot, 0, one_by_one(masses), level)
    mean = stats.ttest_1samp(masses, 0).confidence_interval(level)
    assert found.low == pytest.approx(lot / mean.high, rel=2e-4)
    assert found.high == pytest.approx(lot / mean.low, rel=2e-4)


def test_a_sample_weighed_in_one_go_gives_no_limits_without_a_known_spread() -> None:
    found = estimate_pieces(220_550, 18_000, together(10, 4051))
    assert (found.pieces, found.low, found.high, found.method) == (500, None, None, NO_SPREAD)
    assert found.why == ("the sample was weighed in one go, so how much pieces differ is not known")


def test_the_known_spread_of_the_family_gives_limits() -> None:
    found = estimate_pieces(220_550, 18_000, together(10, 4051, 9.0))
    assert (found.pieces, found.method, found.why) == (500, KNOWN_SPREAD, None)
    # By hand: 1.96 * 9 * sqrt(490 + 490^2 / 10) / 405.1 is close to 6.8.
    assert (found.low, found.high) == (494, 506)


def test_one_piece_shows_no_spread() -> None:
    found = estimate_pieces(41_000, 0, one_by_one([410]))
    assert (found.pieces, found.low) == (100, None)
    assert found.why == "one piece does not show how much pieces differ"
    assert estimate_pieces(41_000, 0, one_by_one([410], 12.0)).method == KNOWN_SPREAD


def test_a_lot_that_was_weighed_piece_by_piece_is_counted() -> None:
    found = estimate_pieces(4551, 500, one_by_one(BODIES))
    assert (found.pieces, found.low, found.high, found.method) == (10, 10, 10, ALL_COUNTED)


def test_two_unlike_pieces_give_no_upper_limit() -> None:
    found = estimate_pieces(100_000, 0, one_by_one([300, 500]))
    assert (found.pieces, found.high) == (250, None)
    assert found.low is not None
    assert 2 < found.low < 250
    assert found.why == (
        "the sampled pieces differ too much for an upper limit; weigh more of them"
    )


def test_pieces_that_read_the_same_still_leave_the_rounding_of_the_scale() -> None:
    found = estimate_pieces(3_000_000, 0, one_by_one([5, 5, 5]))
    assert found.low is not None
    assert found.low < found.pieces


@pytest.mark.parametrize(
    ("gross", "tare", "sample", "message"),
    [
        (0, 0, together(1, 400), "The lot weighs 0 g"),
        (5000, -1, together(1, 400), "give 0 or more"),
        (5000, 5000, together(1, 400), "check whether the two were swapped"),
        (5000, 6000, together(1, 400), "check whether the two were swapped"),
        (5000, 4000, together(3, 1200), "heavier than the whole lot"),
        (2_000_000_000, 0, together(3, 3), "2,000,000,000 pieces of 1.0 g; check the weights"),
    ],
)
def test_weights_that_contradict_each_other_are_refused(
    gross: int, tare: int, sample: Sample, message: str
) -> None:
    with pytest.raises(InvalidInput, match=message):
        estimate_pieces(gross, tare, sample)


def test_a_sample_that_cannot_be_is_refused() -> None:
    for empty in (lambda: one_by_one([]), lambda: together(0, 400)):
        with pytest.raises(InvalidInput, match="one piece at least"):
            empty()
    with pytest.raises(InvalidInput, match="Sampled piece 2 weighs 0 g"):
        one_by_one([400, 0])
    with pytest.raises(InvalidInput, match="The sample of 12 weighs 0 g"):
        together(12, 0)
    for spread in (0.0, -1.0, math.inf, math.nan):
        with pytest.raises(InvalidInput, match="more than 0"):
            together(12, 4800, spread)


def test_a_mixed_lot_is_split_by_the_shares_of_its_sample() -> None:
    masses = [400, 405, 396, 410, 402, 399, 404, 401, 850, 870, 840, 860]
    found = estimate_families(281_850, 0, one_by_one(masses), {"INJ": 8, "CAL": 4})
    whole = estimate_pieces(281_850, 0, one_by_one(masses))
    assert whole.pieces == 510
    assert {family: each.pieces for family, each in found.items()} == {"INJ": 340, "CAL": 170}
    for family, each in found.items():
        assert each.low is not None, family
        assert each.high is not None, family
        assert each.low < each.pieces < each.high


def test_a_mixed_lot_without_a_spread_has_shares_and_says_why_no_limits() -> None:
    found = estimate_families(220_550, 18_000, together(10, 4051), {"A": 7, "B": 3})
    assert [(each.pieces, each.low, each.high) for each in found.values()] == [
        (350, None, None),
        (150, None, None),
    ]
    assert all("in one go" in (each.why or "") for each in found.values())


@pytest.mark.parametrize("counts", [{"A": 7}, {"A": 11}, {"A": 11, "B": -1}, {}])
def test_families_must_make_up_the_sample(counts: dict[str, int]) -> None:
    with pytest.raises(InvalidInput, match="must make up the sample"):
        estimate_families(220_550, 18_000, together(10, 4051), counts)


@settings(deadline=None)
@given(
    st.lists(st.integers(1, 5000), min_size=1, max_size=20),
    st.integers(0, 500_000),
    st.integers(0, 9000),
    st.data(),
)
def test_the_estimate_lies_between_its_limits_and_holds_the_sample(
    masses: list[int], more: int, tare: int, data: st.DataObject
) -> None:
    sample = one_by_one(masses)
    found = estimate_pieces(sum(masses) + more + tare, tare, sample)
    assert found.pieces >= len(masses)
    assert found.low is None or len(masses) <= found.low <= found.pieces
    assert found.high is None or found.pieces <= found.high
    assert (found.high is None) == (found.why is not None)
    first = data.draw(st.integers(0, len(masses)))
    split = estimate_families(
        sum(masses) + more + tare, tare, sample, {"A": first, "B": len(masses) - first}
    )
    assert sum(each.pieces for each in split.values()) == found.pieces
    for each in split.values():
        assert each.low is None or 0 <= each.low <= each.pieces
        assert each.high is None or each.pieces <= each.high


def covered(level: float, mixed: bool, tries: int = 1500) -> tuple[float, float]:
    """Return how often the interval held the true number of pieces, and of the first family."""
    chance = random.Random(20260302)
    whole = part = 0
    for _ in range(tries):
        pieces, n = chance.randint(60, 600), chance.randint(10, 40)
        lot = []
        for _ in range(pieces):
            heavy = mixed and chance.random() < 0.4
            mass = chance.gauss(620, 40) if heavy else chance.gauss(400, 25)
            lot.append(("B" if heavy else "A", round(mass)))
        drawn = chance.sample(lot, n)
        gross = sum(mass for _, mass in lot) + 5000
        sample = one_by_one([mass for _, mass in drawn])
        found = estimate_pieces(gross, 5000, sample, level)
        assert found.low is not None
        whole += found.low <= pieces <= (found.high or math.inf)
        if mixed:
            counts = {family: sum(f == family for f, _ in drawn) for family in "AB"}
            first = estimate_families(gross, 5000, sample, counts, level)["A"]
            assert first.low is not None
            true = sum(family == "A" for family, _ in lot)
            part += first.low <= true <= (first.high or math.inf)
    return whole / tries, part / tries


def test_the_interval_covers_as_often_as_it_says() -> None:
    # Whole pieces make it cover a little more; with 1500 tries chance alone moves it by 2 %.
    share, _ = covered(0.95, mixed=False)
    assert 0.935 < share < 0.985, f"{share:.1%} of 95 %"
    share, _ = covered(0.8, mixed=False)
    assert 0.77 < share < 0.88, f"{share:.1%} of 80 %"


def test_the_interval_covers_in_a_mixed_lot_too() -> None:
    whole, part = covered(0.95, mixed=True, tries=700)
    assert 0.92 < whole < 0.985, f"all pieces: {whole:.1%} of 95 %"
    assert part > 0.95, f"one family: {part:.1%} of 95 % at least"
