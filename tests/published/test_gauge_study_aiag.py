"""Gauge study, 10 pieces, 3 inspectors, 3 trials: AIAG, Measurement Systems Analysis, 4th ed.

Chapter III section B; data as five public copies of it agree, results as the manual prints them. It
carries 0.3417, 0.4446 and 3.511 on by hand, hence 1e-4. The table of variances is also in
W. McNeese (2015). Sources round 4.86 categories to 5 or cut it to 4.
"""

from __future__ import annotations

import pytest

from coretrack.figures.gauge_anova import AnovaStudy, anova_study
from coretrack.figures.gauge_ranges import RangeStudy, range_study
from coretrack.figures.gauge_studies import GaugeReading, Spread
from coretrack.figures.limits import to_micro
from coretrack.figures.numbers import parse_number

SHEET = {
    "A": (
        "0.29 -0.56 1.34 0.47 -0.80 0.02 0.59 -0.31 2.26 -1.36",
        "0.41 -0.68 1.17 0.50 -0.92 -0.11 0.75 -0.20 1.99 -1.25",
        "0.64 -0.58 1.27 0.64 -0.84 -0.21 0.66 -0.17 2.01 -1.31",
    ),
    "B": (
        "0.08 -0.47 1.19 0.01 -0.56 -0.20 0.47 -0.63 1.80 -1.68",
        "0.25 -1.22 0.94 1.03 -1.20 0.22 0.55 0.08 2.12 -1.62",
        "0.07 -0.68 1.34 0.20 -1.28 0.06 0.83 -0.34 2.19 -1.50",
    ),
    "C": (
        "0.04 -1.38 0.88 0.14 -1.46 -0.29 0.02 -0.46 1.77 -1.49",
        "-0.11 -1.13 1.09 0.20 -1.07 -0.67 0.01 -0.56 1.45 -1.77",
        "-0.15 -0.96 0.67 0.11 -1.45 -0.49 0.21 -0.49 1.87 -2.16",
    ),
}
READINGS = [
    GaugeReading(inspector, str(piece), to_micro(parse_number(text)))
    for inspector, trials in SHEET.items()
    for trial in trials
    for piece, text in enumerate(trial.split(), start=1)
]
MICRO = 1_000_000


@pytest.fixture
def ranges() -> RangeStudy:
    return range_study(READINGS)


@pytest.fixture
def anova() -> AnovaStudy:
    return anova_study(READINGS)


def sd(spread: Spread | None) -> float:
    assert spread is not None
    return spread.sd / MICRO


def percent(spread: Spread | None) -> float:
    assert spread is not None
    assert spread.of_total is not None
    return 100 * spread.of_total


def test_mean_ranges_means_and_the_limit_of_ranges(ranges: RangeStudy) -> None:
    assert ranges.study.design.inspectors == ("A", "B", "C")
    assert [float(mean) / MICRO for mean in ranges.mean_ranges] == pytest.approx(
        [0.184, 0.513, 0.328], abs=5e-4
    )
    assert [float(mean) / MICRO for mean in ranges.means] == pytest.approx(
        [0.1903, 0.0683, -0.2543], abs=5e-5
    )
    assert ranges.mean_range is not None
    assert ranges.limit is not None
    assert ranges.inspector_difference is not None
    assert ranges.piece_range is not None
    assert float(ranges.mean_range) / MICRO == pytest.approx(0.3417, abs=5e-5)
    assert ranges.limit / MICRO == pytest.approx(0.8795, abs=5e-4)
    assert float(ranges.inspector_difference) / MICRO == pytest.approx(0.4446, abs=1e-4)
    assert float(ranges.piece_range) / MICRO == pytest.approx(3.511, abs=5e-4)


def test_one_range_has_a_cause_of_its_own(ranges: RangeStudy) -> None:
    (wide,) = ranges.wide
    assert (wide.inspector, wide.piece, wide.range) == ("B", "4", 1_020_000)
    assert any("B's readings of piece 4" in note for note in ranges.study.notes)


def test_spreads_by_averages_and_ranges(ranges: RangeStudy) -> None:
    study = ranges.study
    assert sd(study.repeatability) == pytest.approx(0.20188, abs=1e-4)
    assert sd(study.reproducibility) == pytest.approx(0.22963, abs=1e-4)
    assert sd(study.gauge) == pytest.approx(0.30575, abs=1e-4)
    assert sd(study.pieces) == pytest.approx(1.10456, abs=1e-4)
    assert sd(study.total) == pytest.approx(1.14610, abs=1e-4)
    found = [study.repeatability, study.reproducibility, study.gauge, study.pieces]
    assert [percent(part) for part in found] == pytest.approx(
        [17.62, 20.04, 26.68, 96.38], abs=1e-2
    )
    assert study.categories == pytest.approx(5.094, abs=1e-3)
    assert study.rating == "conditional"


def test_sums_of_squares_and_mean_squares(anova: AnovaStudy) -> None:
    rows = [anova.inspectors, anova.pieces, anova.interaction, anova.repeat, anova.total]
    squares = [float(row.sum_of_squares) / MICRO**2 for row in rows if row is not None]
    assert squares == pytest.approx([3.1673, 88.3619, 0.3590, 2.7589, 94.6471], abs=5e-5)
    means = [float(row.mean_square) / MICRO**2 for row in rows[:4] if row is not None]
    assert means == pytest.approx([1.58363, 9.81799, 0.01994, 0.04598], abs=5e-6)
    assert [row.degrees for row in rows if row is not None] == [2, 9, 18, 60, 89]
    ratios = [row.f for row in rows[:3] if row is not None]
    assert ratios == pytest.approx([34.44, 213.52, 0.434], abs=5e-3)
    assert anova.interaction_p == pytest.approx(0.974, abs=5e-4)


def test_variances_with_the_interaction_pooled(anova: AnovaStudy) -> None:
    assert anova.pooled
    assert anova.variances is not None
    repeat, inspectors, interaction, pieces = (float(v) / MICRO**2 for v in anova.variances)
    assert repeat == pytest.approx(0.0400, abs=5e-5)
    assert inspectors == pytest.approx(0.0515, abs=5e-5)
    assert interaction == 0
    assert pieces == pytest.approx(1.086, abs=5e-4)


def test_spreads_by_analysis_of_variance(anova: AnovaStudy) -> None:
    study = anova.study
    assert sd(study.repeatability) == pytest.approx(0.199933, abs=5e-7)
    assert sd(study.reproducibility) == pytest.approx(0.226838, abs=5e-7)
    assert sd(study.gauge) == pytest.approx(0.302373, abs=2e-6)
    assert sd(study.pieces) == pytest.approx(1.042327, abs=5e-7)
    found = [study.repeatability, study.reproducibility, study.gauge, study.pieces]
    assert [percent(part) for part in found] == pytest.approx([18.4, 20.9, 27.9, 96.0], abs=5e-2)
    assert study.categories == pytest.approx(4.861, abs=1e-3)
