"""Gauge study by analysis of variance: two crossed random factors, inspectors and pieces.

Sums of squares are exact. While the interaction's p is above `POOL_ABOVE` it is taken for chance
and pooled with the repeated readings. Variances from the mean squares, none below zero:

    interaction kept     repeat = MSe, interaction = (MSpi - MSe)/trials,
                         inspectors = (MSi - MSpi)/(pieces trials),
                         pieces = (MSp - MSpi)/(inspectors trials)
    interaction pooled   the same with the pooled MSe in place of MSpi, interaction = 0

Reproducibility AV holds inspectors and interaction. One inspector: one factor only.
Sources: AIAG, Measurement Systems Analysis, 4th edition, chapter III section B and its appendix;
pooling above 0.25 is common advice (from memory); others pool above 0.05.
"""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass
from fractions import Fraction

from coretrack.figures.gauge_studies import (
    Design,
    GaugeReading,
    GaugeStudy,
    Table,
    cell_means,
    finished_study,
    study_table,
)
from coretrack.figures.limits import Limits
from coretrack.figures.spreads import mean_of, squares_about_mean

METHOD = "analysis of variance"

POOL_ABOVE = 0.25
"""Interaction with a p above this is taken for chance."""


@dataclass(frozen=True)
class Source:
    """One row of the table: sum of squares (exact, millionths of the unit squared) and degrees.

    `f` holds the mean square against that of the repeated readings, `None` where these do not vary.
    """

    sum_of_squares: Fraction
    degrees: int
    f: float | None = None

    @property
    def mean_square(self) -> Fraction:
        return self.sum_of_squares / self.degrees if self.degrees else Fraction(0)


@dataclass(frozen=True)
class AnovaStudy:
    """The study and its table; the rows are `None` when `study.why` says so.

    `inspectors` and `interaction` are `None` with one inspector. `variances` are (repeat,
    inspectors, interaction, pieces) in millionths of the unit squared, exact.
    """

    study: GaugeStudy
    inspectors: Source | None = None
    pieces: Source | None = None
    interaction: Source | None = None
    repeat: Source | None = None
    total: Source | None = None
    interaction_p: float | None = None
    pooled: bool = False
    variances: tuple[Fraction, Fraction, Fraction, Fraction] | None = None


def anova_study(
    readings: Iterable[GaugeReading],
    limits: Limits | None = None,
    design: Design | None = None,
    pool_above: float = POOL_ABOVE,
) -> AnovaStudy:
    """Return the gauge study by analysis of variance; `limits` are the check's, for the tolerance.

    Incomplete study: `study.why` and `study.gaps`.
    """
    table = study_table(readings, design)
    plan = table.design
    if table.why is not None:
        return AnovaStudy(GaugeStudy(METHOD, plan, gaps=table.gaps, why=table.why))
    inspectors, pieces, interaction, repeat, total = _sources(table)
    alone = len(plan.inspectors) == 1
    p_value = None if alone else _p_value(interaction, repeat)
    pooled = p_value is not None and p_value > pool_above
    variances = _variances(plan, inspectors, pieces, interaction, repeat, pooled or alone)
    between = None if alone else math.sqrt(variances[1] + variances[2])
    spreads = (math.sqrt(variances[0]), between, math.sqrt(variances[3]))
    notes: tuple[str, ...] = ()
    if variances[2] > 0:
        notes = ("inspectors differ on some pieces more than on others: see how each holds them",)
    return AnovaStudy(
        finished_study(METHOD, plan, spreads, limits, notes),
        None if alone else inspectors,
        pieces,
        None if alone else interaction,
        repeat,
        total,
        p_value,
        pooled,
        variances,
    )


def _sources(table: Table) -> tuple[Source, Source, Source, Source, Source]:
    """Return inspectors, pieces, interaction, repeat and total of a complete study."""
    plan, trials = table.design, table.design.trials
    people, items = len(plan.inspectors), len(plan.pieces)
    cells = cell_means(table)
    by_person = [mean_of([cells[one, item] for item in plan.pieces]) for one in plan.inspectors]
    by_piece = [mean_of([cells[one, item] for one in plan.inspectors]) for item in plan.pieces]
    person_squares = items * trials * squares_about_mean(by_person)
    piece_squares = people * trials * squares_about_mean(by_piece)
    cell_squares = trials * squares_about_mean(list(cells.values()))
    repeat_squares = sum(map(squares_about_mean, table.cells.values()), Fraction(0))
    repeat = Source(repeat_squares, people * items * (trials - 1))

    def row(squares: Fraction, degrees: int) -> Source:
        if repeat.sum_of_squares == 0 or degrees == 0:
            return Source(squares, degrees)
        return Source(squares, degrees, float(squares / degrees / repeat.mean_square))

    return (
        row(person_squares, people - 1),
        row(piece_squares, items - 1),
        row(cell_squares - person_squares - piece_squares, (people - 1) * (items - 1)),
        repeat,
        Source(cell_squares + repeat_squares, people * items * trials - 1),
    )


def _p_value(interaction: Source, repeat: Source) -> float:
    """Return the chance of so much interaction by luck alone; without repeat spread 0 or 1."""
    if interaction.f is None:
        return 1.0 if interaction.sum_of_squares == 0 else 0.0
    from scipy import special  # a slow import that most commands never need

    return float(special.fdtrc(interaction.degrees, repeat.degrees, interaction.f))


def _variances(
    design: Design,
    inspectors: Source,
    pieces: Source,
    interaction: Source,
    repeat: Source,
    pooled: bool,
) -> tuple[Fraction, Fraction, Fraction, Fraction]:
    """Return the variances of repeat, inspectors, interaction and pieces, none below zero."""
    people, items, trials = len(design.inspectors), len(design.pieces), design.trials
    error = repeat.mean_square
    crossed = Fraction(0)
    base = interaction.mean_square
    if pooled:
        squares = repeat.sum_of_squares + interaction.sum_of_squares
        error = base = squares / (repeat.degrees + interaction.degrees)
    else:
        crossed = max(Fraction(0), (base - error) / trials)
    between = max(Fraction(0), (inspectors.mean_square - base) / (items * trials))
    parts = max(Fraction(0), (pieces.mean_square - base) / (people * trials))
    return error, between if people > 1 else Fraction(0), crossed, parts
