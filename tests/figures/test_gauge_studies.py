"""Gauge studies: what holds for any readings, statsmodels as reference, unfinished studies."""

from __future__ import annotations

import math
import random
from dataclasses import replace
from fractions import Fraction

import pandas as pd
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import stats
from statsmodels.formula.api import ols
from statsmodels.stats.anova import anova_lm

from coretrack.figures.gauge_anova import AnovaStudy, anova_study
from coretrack.figures.gauge_ranges import range_study
from coretrack.figures.gauge_studies import (
    Design,
    GaugeReading,
    GaugeStudy,
    proposed_uncertainty,
    rate_share,
    round_up_two_digits,
    study_table,
)
from coretrack.figures.limits import Limits
from coretrack.figures.spreads import squares_about_mean

unhurried = settings(deadline=None)
"""Exact fractions take their time on a busy machine; speed is not what is looked at here."""


@st.composite
def full_studies(draw: st.DrawFn) -> list[GaugeReading]:
    people = draw(st.integers(1, 4))
    pieces = draw(st.integers(2, 5))
    trials = draw(st.integers(2, 4))
    size = people * pieces * trials
    values = iter(draw(st.lists(st.integers(-(10**7), 10**7), min_size=size, max_size=size)))
    return [
        GaugeReading(f"inspector {person}", f"piece {piece}", next(values))
        for person in range(people)
        for piece in range(pieces)
        for _ in range(trials)
    ]


def invented(people: int, pieces: int, trials: int, seed: int = 7) -> list[GaugeReading]:
    """Readings of a bore near 9 mm by inspectors who hold the gauge differently."""
    chance = random.Random(seed)
    bias = [chance.gauss(0, 900) for _ in range(people)]
    true = [chance.gauss(9_000_000, 4000) for _ in range(pieces)]
    return [
        GaugeReading(f"I{one}", f"P{item}", round(true[item] + bias[one] + chance.gauss(0, 1200)))
        for one in range(people)
        for item in range(pieces)
        for _ in range(trials)
    ]


def both(
    readings: list[GaugeReading], limits: Limits | None = None, design: Design | None = None
) -> list[GaugeStudy]:
    return [
        range_study(readings, limits, design).study,
        anova_study(readings, limits, design).study,
    ]


def spreads(study: GaugeStudy) -> list[float]:
    parts = [study.repeatability, study.reproducibility, study.gauge, study.pieces, study.total]
    return [part.sd for part in parts if part is not None]


# what holds for any complete study -------------------------------------------------------------


@unhurried
@given(full_studies(), st.integers(-(10**9), 10**9))
def test_adding_a_constant_to_all_readings_changes_no_spread(
    readings: list[GaugeReading], shift: int
) -> None:
    moved = [replace(one, value=one.value + shift) for one in readings]
    assert both(moved) == both(readings)


@unhurried
@given(full_studies(), st.randoms(use_true_random=False))
def test_the_order_of_inspectors_and_readings_does_not_matter(
    readings: list[GaugeReading], chance: random.Random
) -> None:
    shuffled = list(readings)
    chance.shuffle(shuffled)
    for plain, mixed in zip(both(readings), both(shuffled), strict=True):
        assert spreads(mixed) == pytest.approx(spreads(plain), rel=1e-12, abs=1e-9)
        assert mixed.rating == plain.rating


@unhurried
@given(full_studies())
def test_sums_of_squares_and_degrees_add_up_exactly(readings: list[GaugeReading]) -> None:
    found = anova_study(readings)
    rows = [found.inspectors, found.pieces, found.interaction, found.repeat]
    there = [row for row in rows if row is not None]
    assert found.total is not None
    assert sum(row.sum_of_squares for row in there) == found.total.sum_of_squares
    assert sum(row.degrees for row in there) == found.total.degrees
    assert found.total.sum_of_squares == squares_about_mean([one.value for one in readings])


@unhurried
@given(full_studies())
def test_no_part_is_below_zero_and_squares_of_the_parts_add_up(
    readings: list[GaugeReading],
) -> None:
    for study in both(readings):
        assert study.repeatability is not None
        assert study.gauge is not None
        assert study.pieces is not None
        assert study.total is not None
        between = 0.0 if study.reproducibility is None else study.reproducibility.sd
        assert min(spreads(study)) >= 0
        assert study.gauge.sd == pytest.approx(math.hypot(study.repeatability.sd, between))
        assert study.total.sd == pytest.approx(math.hypot(study.gauge.sd, study.pieces.sd))
    for pool_above in (0.0, 0.25, 1.0):
        variances = anova_study(readings, pool_above=pool_above).variances
        assert variances is not None
        assert min(variances) >= 0


@unhurried
@given(full_studies(), st.integers(2, 50))
def test_a_unit_a_times_smaller_gives_spreads_a_times_larger(
    readings: list[GaugeReading], times: int
) -> None:
    larger = [replace(one, value=one.value * times) for one in readings]
    for plain, scaled in zip(both(readings), both(larger), strict=True):
        assert spreads(scaled) == pytest.approx([times * sd for sd in spreads(plain)], rel=1e-9)


# against other programs --------------------------------------------------------------------------


@pytest.mark.parametrize("seed", range(4))
def test_table_agrees_with_statsmodels(seed: int) -> None:
    readings = invented(3, 6, 3, seed)
    data = pd.DataFrame(
        {
            "y": [one.value - 9_000_000 for one in readings],
            "who": [one.inspector for one in readings],
            "what": [one.piece for one in readings],
        }
    )
    table = anova_lm(ols("y ~ C(who) * C(what)", data).fit())
    found = anova_study(readings)
    ours = [found.inspectors, found.pieces, found.interaction, found.repeat]
    assert [float(row.sum_of_squares) for row in ours if row] == pytest.approx(
        list(table["sum_sq"]), rel=1e-7
    )
    assert [row.f for row in ours[:3] if row] == pytest.approx(list(table["F"])[:3], rel=1e-7)
    assert found.interaction_p == pytest.approx(table["PR(>F)"]["C(who):C(what)"], rel=1e-6)


def test_kept_interaction_gives_the_variances_of_its_mean_squares() -> None:
    found = anova_study(invented(3, 6, 3), pool_above=1.0)
    assert not found.pooled
    people, pieces, crossed, repeat = (
        row.mean_square
        for row in (found.inspectors, found.pieces, found.interaction, found.repeat)
        if row is not None
    )
    none = Fraction(0)
    assert found.variances == (
        repeat,
        max(none, (people - crossed) / 18),
        max(none, (crossed - repeat) / 3),
        max(none, (pieces - crossed) / 9),
    )


def test_strong_interaction_is_kept_and_said() -> None:
    readings = invented(2, 5, 2)
    held = [
        replace(one, value=one.value + (30_000 if one.piece in ("P1", "P3") else 0))
        if one.inspector == "I1"
        else one
        for one in readings
    ]
    found = anova_study(held)
    assert not found.pooled
    assert found.interaction_p is not None
    assert found.interaction_p < 0.001
    assert any("differ on some pieces" in note for note in found.study.notes)


# what lacks in an unfinished study ---------------------------------------------------------------


def test_nothing_measured_yet() -> None:
    for study in both([]):
        assert study.why == "no reading yet"
        assert study.gauge is None
        assert study.rating is None


def test_missing_cells_are_named() -> None:
    readings = [one for one in invented(2, 3, 3) if (one.inspector, one.piece) != ("I1", "P2")]
    short = readings[:-1]
    for study in both(short):
        assert study.why == (
            "4 readings are missing: I1 has 2 readings of piece P1, not 3; I1 has no reading of"
            " piece P2, not 3"
        )
        assert [(gap.inspector, gap.piece, gap.have) for gap in study.gaps] == [
            ("I1", "P1", 2),
            ("I1", "P2", 0),
        ]


def test_the_plan_decides_what_is_missing_and_what_is_too_much() -> None:
    plan = Design(("I0", "I1"), ("P0", "P1", "P2"), 2)
    readings = [*invented(2, 3, 2)[1:], GaugeReading("I1", "P2", 9_000_000)]
    for study in both(readings, design=plan):
        assert study.why == (
            "1 reading is missing and 1 reading is too many: I0 has 1 reading of piece P0, not 2;"
            " I1 has 3 readings of piece P2, not 2"
        )


def test_many_gaps_are_cut_short() -> None:
    plan = Design(("I0", "I1"), tuple(f"P{n}" for n in range(10)), 3)
    why = study_table(invented(2, 3, 3), plan).why
    assert why is not None
    assert why.startswith("42 readings are missing: ")
    assert why.endswith("; and 11 more like these")


@pytest.mark.parametrize(
    ("stray", "named"),
    [
        (GaugeReading("I9", "P0", 1), "inspector I9"),
        (GaugeReading("I0", "P9", 1), "piece P9"),
    ],
)
def test_a_reading_outside_the_plan_is_named(stray: GaugeReading, named: str) -> None:
    plan = Design(("I0", "I1"), ("P0", "P1"), 2)
    why = study_table([*invented(2, 2, 2), stray], plan).why
    assert why == f"{named} is not part of this study"


def test_one_piece_or_one_trial_is_not_enough() -> None:
    for study in both(invented(2, 1, 3)):
        assert study.why is not None
        assert study.why.startswith("one piece alone")
    for study in both(invented(2, 4, 1)):
        assert study.why is not None
        assert "without a second trial" in study.why


@pytest.mark.parametrize(
    "design",
    [Design(("A", "A"), ("1", "2"), 2), Design(("A",), ("1", "1"), 2), Design(("A",), ("1",), 1)],
)
def test_an_impossible_plan_is_refused(design: Design) -> None:
    with pytest.raises(ValueError, match=r"twice|2 trials"):
        study_table([], design)


def test_one_inspector_has_no_reproducibility_and_that_is_said() -> None:
    for study in both(invented(1, 5, 3)):
        assert study.why is None
        assert study.reproducibility is None
        assert study.gauge == study.repeatability
        assert any("one inspector alone" in note for note in study.notes)


def test_one_inspector_agrees_with_a_one_way_analysis() -> None:
    readings = invented(1, 5, 3)
    groups = [[one.value for one in readings if one.piece == f"P{item}"] for item in range(5)]
    found: AnovaStudy = anova_study(readings)
    assert found.pieces is not None
    assert found.pieces.f == pytest.approx(stats.f_oneway(*groups).statistic, rel=1e-9)
    assert found.interaction is None
    assert found.interaction_p is None


def test_readings_all_alike_give_no_shares_and_say_why() -> None:
    alike = [replace(one, value=9_000_000) for one in invented(2, 3, 2)]
    for study in both(alike, Limits(8_990_000, 9_010_000)):
        assert study.categories is None
        assert study.total is not None
        assert study.total.of_total is None
        assert study.gauge is not None
        assert study.gauge.of_tolerance == 0.0
        assert any("too few digits" in note for note in study.notes)


def test_repeats_alike_but_inspectors_apart_on_one_piece_is_interaction() -> None:
    readings = [
        GaugeReading(who, what, value)
        for who, what, value in [("A", "1", 0), ("A", "2", 8), ("B", "1", 3), ("B", "2", 5)]
        for _ in range(2)
    ]
    found = anova_study(readings)
    assert found.interaction_p == 0.0
    assert not found.pooled
    assert found.study.reproducibility is not None
    assert found.study.reproducibility.sd > 0


def test_more_pieces_than_ranges_serve_sends_to_the_other_way() -> None:
    by_ranges, by_variance = both(invented(2, 26, 2))
    assert by_ranges.why is not None
    assert "analysis of variance" in by_ranges.why
    assert by_variance.why is None


# against limits, and what follows ----------------------------------------------------------------


def test_share_of_the_tolerance_is_six_spreads_over_its_width() -> None:
    for study in both(invented(3, 5, 2), Limits(8_990_000, 9_010_000)):
        assert study.gauge is not None
        assert study.gauge.of_tolerance == pytest.approx(6 * study.gauge.sd / 20_000)
        assert study.rating == rate_share(study.gauge.of_tolerance or 0)


@pytest.mark.parametrize(
    ("limits", "said"),
    [
        (None, "no limits were given"),
        (Limits(None, 9_010_000), "a lower and an upper limit"),
        (Limits(9_000_000, 9_000_000), "that lie apart"),
    ],
)
def test_without_a_width_there_is_no_share_of_the_tolerance(
    limits: Limits | None, said: str
) -> None:
    for study in both(invented(3, 5, 2), limits):
        assert study.gauge is not None
        assert study.gauge.of_tolerance is None
        assert any(said in note for note in study.notes)
        assert study.rating == rate_share(study.gauge.of_total or 0)


def test_ratings_change_at_ten_and_above_thirty_percent() -> None:
    shares = (0.0999, 0.10, 0.30, 0.3001)
    assert [rate_share(share) for share in shares] == [
        "good", "conditional", "conditional", "not acceptable",
    ]  # fmt: skip


def test_proposed_uncertainty_holds_repeat_inspectors_and_calibration() -> None:
    study = anova_study(invented(3, 6, 3)).study
    assert study.gauge is not None
    plain = proposed_uncertainty(study)
    assert plain.standard == pytest.approx(study.gauge.sd)
    assert plain.expanded == round_up_two_digits(2 * study.gauge.sd)
    assert any("calibration" in note for note in plain.notes)
    known = proposed_uncertainty(study, calibration=500)
    assert known.standard == pytest.approx(math.hypot(study.gauge.sd, 500))
    assert not any("calibration" in note for note in known.notes)


def test_a_coarse_display_counts_in_place_of_a_smaller_repeatability() -> None:
    study = anova_study(invented(1, 6, 3)).study
    assert study.repeatability is not None
    fine = proposed_uncertainty(study, resolution=100)
    assert fine.standard == pytest.approx(study.repeatability.sd)
    coarse = proposed_uncertainty(study, resolution=100_000)
    assert coarse.standard == pytest.approx(100_000 / math.sqrt(12))
    assert any("one inspector alone" in note for note in coarse.notes)


def test_nothing_is_proposed_from_an_unfinished_study_or_without_any_spread() -> None:
    unfinished = proposed_uncertainty(anova_study([]).study, resolution=1000)
    assert unfinished.expanded is None
    assert unfinished.why == "no reading yet"
    alike = anova_study([replace(one, value=5) for one in invented(2, 3, 2)]).study
    blind = proposed_uncertainty(alike)
    assert blind.standard is None
    assert blind.why is not None
    assert "state its resolution" in blind.why
    assert proposed_uncertainty(alike, resolution=1000).expanded == 580
    with pytest.raises(ValueError, match="zero or more"):
        proposed_uncertainty(alike, resolution=-1)


@pytest.mark.parametrize(
    ("value", "rounded"), [(0.2, 1), (7.01, 8), (99.5, 100), (404_744.2, 410_000), (1000, 1000)]
)
def test_an_uncertainty_is_rounded_up_to_two_digits(value: float, rounded: int) -> None:
    assert round_up_two_digits(value) == rounded
