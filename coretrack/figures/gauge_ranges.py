"""Gauge study by averages and ranges: the way that also works with pencil and sheet.

EV = mean range × K1, AV = √((X-diff × K2)² - EV²/(pieces × trials)), PV = Rp × K3, where X-diff is
the range of the inspectors' means, Rp that of the pieces' means, K1 = 1/d2(trials) and K2, K3 one
over √(d2² + d3²) of the number of inspectors, pieces; all three to four places as the manual prints
them, so that a sheet filled in by hand gives the same. A range above D4 × mean range has a cause of
its own. Source: AIAG, Measurement Systems Analysis, 4th edition, chapter III section B.
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
    cell_means,
    finished_study,
    study_table,
)
from coretrack.figures.limits import Limits
from coretrack.figures.spreads import (
    MOST_IN_A_RANGE,
    d2,
    d2_of_one_range,
    mean_of,
    upper_range_factor,
)

METHOD = "average and range"


@dataclass(frozen=True)
class WideRange:
    """An inspector and a piece whose repeated readings lie further apart than chance explains."""

    inspector: str
    piece: str
    range: int


@dataclass(frozen=True)
class RangeStudy:
    """The study and its working, all in millionths of the unit; empty when `study.why` says so.

    `mean_ranges` and `means` are by inspector in the design's order; `limit` is D4 × mean range.
    """

    study: GaugeStudy
    mean_ranges: tuple[Fraction, ...] = ()
    means: tuple[Fraction, ...] = ()
    mean_range: Fraction | None = None
    inspector_difference: Fraction | None = None
    piece_range: Fraction | None = None
    limit: float | None = None
    wide: tuple[WideRange, ...] = ()


def range_study(
    readings: Iterable[GaugeReading], limits: Limits | None = None, design: Design | None = None
) -> RangeStudy:
    """Return the gauge study by averages and ranges; `limits` are the check's, for the tolerance.

    Incomplete, or with more inspectors, pieces or trials than there are factors for: `why`.
    """
    table = study_table(readings, design)
    plan = table.design
    why = table.why
    if why is None and max(len(plan.inspectors), len(plan.pieces), plan.trials) > MOST_IN_A_RANGE:
        why = (
            f"ranges serve up to {MOST_IN_A_RANGE} inspectors, pieces and trials; take the analysis"
            " of variance"
        )
    if why is not None:
        return RangeStudy(GaugeStudy(METHOD, plan, gaps=table.gaps, why=why))
    ranges = {cell: max(values) - min(values) for cell, values in table.cells.items()}
    averages = cell_means(table)
    mean_ranges = tuple(
        mean_of([ranges[name, piece] for piece in plan.pieces]) for name in plan.inspectors
    )
    means = tuple(
        mean_of([averages[name, piece] for piece in plan.pieces]) for name in plan.inspectors
    )
    by_piece = [
        mean_of([averages[name, piece] for name in plan.inspectors]) for piece in plan.pieces
    ]
    mean_range = mean_of(mean_ranges)
    difference, piece_range = max(means) - min(means), max(by_piece) - min(by_piece)
    repeat = float(mean_range) * _factor(d2(plan.trials))
    between = _between(float(difference), repeat, plan)
    limit = upper_range_factor(plan.trials) * float(mean_range)
    wide = tuple(
        WideRange(*cell, ranges[cell])
        for cell in ((name, piece) for name in plan.inspectors for piece in plan.pieces)
        if ranges[cell] > limit
    )
    notes = tuple(
        f"{one.inspector}'s readings of piece {one.piece} lie further apart than chance explains:"
        " measure that piece again"
        for one in wide
    )
    spreads = (repeat, between, float(piece_range) * _factor(d2_of_one_range(len(plan.pieces))))
    study = finished_study(METHOD, plan, spreads, limits, notes)
    return RangeStudy(study, mean_ranges, means, mean_range, difference, piece_range, limit, wide)


def _factor(divisor: float) -> float:
    return round(1 / divisor, 4)


def _between(difference: float, repeat: float, design: Design) -> float | None:
    """Return AV, at least zero, less the part of EV that sits in the inspectors' means."""
    inspectors = len(design.inspectors)
    if inspectors < 2:
        return None
    chance = repeat * repeat / (len(design.pieces) * design.trials)
    return math.sqrt(max(0.0, (difference * _factor(d2_of_one_range(inspectors))) ** 2 - chance))
