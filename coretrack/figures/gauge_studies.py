"""Repeatability and reproducibility of a gauge: how much of the spread is the gauge and its users.

Every inspector measures every piece the same number of times, without seeing earlier readings.
EV (repeatability): one inspector, one piece, again. AV (reproducibility): between inspectors.
GRR = √(EV² + AV²), PV is the pieces themselves, TV = √(GRR² + PV²); each a standard deviation.
Two ways: average and range, and analysis of variance, which also sees whether inspectors differ on
some pieces only. Source: AIAG, Measurement Systems Analysis, 4th edition, chapter III section B.

Readings are whole millionths of the unit and sums of squares are exact; spreads are floats in
millionths of the unit.
"""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from fractions import Fraction

from coretrack.figures.limits import Limits
from coretrack.figures.plain_words import are, counted
from coretrack.figures.spreads import mean_of

SPREAD = 6
"""The spread held against the tolerance is 6 standard deviations (99.73 % of a normal spread)."""

LEAST_CATEGORIES = 5
"""At least so many groups of pieces a gauge should tell apart (the same manual)."""

GOOD, CONDITIONAL, NOT_ACCEPTABLE = "good", "conditional", "not acceptable"

ONE_INSPECTOR = "one inspector alone cannot show how inspectors differ"
NO_LIMITS = "no limits were given"
NO_WIDTH = "a tolerance takes a lower and an upper limit that lie apart"
NO_SPREAD = "all readings are alike, so nothing can be held against their spread"
NO_GAUGE_SPREAD = (
    "the repeated readings are alike and so are the inspectors: the gauge shows too few digits to"
    " see its own spread"
)


@dataclass(frozen=True)
class GaugeReading:
    """One reading of a study; `value` in millionths of the unit."""

    inspector: str
    piece: str
    value: int


@dataclass(frozen=True)
class Design:
    """Who measures what and how often; the order is that of the study's sheet."""

    inspectors: tuple[str, ...]
    pieces: tuple[str, ...]
    trials: int


@dataclass(frozen=True)
class Gap:
    """An inspector and a piece with `have` readings where the study wants `wanted`."""

    inspector: str
    piece: str
    have: int
    wanted: int


@dataclass(frozen=True)
class Table:
    """A complete study: the readings of each inspector and piece, or `why` there is none yet."""

    design: Design
    cells: dict[tuple[str, str], tuple[int, ...]]
    gaps: tuple[Gap, ...] = ()
    why: str | None = None


@dataclass(frozen=True)
class Spread:
    """One part of the spread: `sd` in millionths of the unit, and its shares (1 = 100 %).

    `of_total` is sd / TV, `of_tolerance` 6 sd / tolerance; `None` where the study's notes say why.
    Shares are of standard deviations and do not add up to 1.
    """

    sd: float
    of_total: float | None = None
    of_tolerance: float | None = None


@dataclass(frozen=True)
class GaugeStudy:
    """What a study found; all figures are `None`, with `why` (and `gaps`), when it is incomplete.

    `repeatability` is EV, `reproducibility` AV, `gauge` GRR, `pieces` PV, `total` TV.
    `categories` is 1.41 PV / GRR, not rounded: whether 4.86 is 4 or 5 sources do not agree on.
    `notes` say which figures are missing and why.
    """

    method: str
    design: Design
    repeatability: Spread | None = None
    reproducibility: Spread | None = None
    gauge: Spread | None = None
    pieces: Spread | None = None
    total: Spread | None = None
    categories: float | None = None
    notes: tuple[str, ...] = ()
    gaps: tuple[Gap, ...] = ()
    why: str | None = None

    @property
    def rating(self) -> str | None:
        """Rating by share of the tolerance, or of the total where there is no tolerance."""
        if self.gauge is None:
            return None
        share = self.gauge.of_total if self.gauge.of_tolerance is None else self.gauge.of_tolerance
        return None if share is None else rate_share(share)


@dataclass(frozen=True)
class ProposedUncertainty:
    """What a study lets one propose for a gauge, in millionths of the unit.

    `standard` is u, `expanded` U = 2u rounded up to two significant digits. `notes` say what is
    not in it; both are `None`, with `why`, when the study is incomplete.
    """

    standard: float | None
    expanded: int | None
    notes: tuple[str, ...] = ()
    why: str | None = None


def rate_share(share: float) -> str:
    """Return "good" under 10 %, "conditional" to 30 %, else "not acceptable" (the same manual)."""
    if share < 0.10:
        return GOOD
    return CONDITIONAL if share <= 0.30 else NOT_ACCEPTABLE


def study_table(readings: Iterable[GaugeReading], design: Design | None = None) -> Table:
    """Return the readings sorted into cells, with every gap named when the study is not complete.

    Without `design` it is taken from the readings: each inspector and piece in order of first
    appearance, and the most readings of any cell. ValueError when the design names somebody twice
    or wants fewer than 2 trials; a reading outside the design is a `why`.
    """
    rows = list(readings)
    cells: dict[tuple[str, str], list[int]] = {}
    for row in rows:
        cells.setdefault((row.inspector, row.piece), []).append(row.value)
    plan = design or Design(
        tuple(dict.fromkeys(row.inspector for row in rows)),
        tuple(dict.fromkeys(row.piece for row in rows)),
        max((len(values) for values in cells.values()), default=0),
    )
    if design is not None:
        _check(design)
    wanted = [(inspector, piece) for inspector in plan.inspectors for piece in plan.pieces]
    gaps = tuple(
        Gap(*cell, len(cells.get(cell, ())), plan.trials)
        for cell in wanted
        if len(cells.get(cell, ())) != plan.trials
    )
    strays = [cell for cell in cells if cell not in set(wanted)]
    why = _why_incomplete(plan, gaps, strays)
    return Table(plan, {cell: tuple(values) for cell, values in cells.items()}, gaps, why)


def proposed_uncertainty(
    study: GaugeStudy, resolution: int = 0, calibration: float = 0
) -> ProposedUncertainty:
    """Return u = √(max(EV, d/√12)² + AV² + calibration²) and U = 2u for the gauge's register.

    `resolution` d is the gauge's step, `calibration` the standard uncertainty of its certificate
    (U/2), both in millionths of the unit. The larger of repeatability and resolution counts, since
    repeated readings already hold the rounding: ISO 22514-7 and VDA 5 (from memory). A resolution
    error of d/√12: JCGM 100:2008, F.2.2.1. ValueError when either is negative.
    """
    if resolution < 0 or calibration < 0:
        raise ValueError("a resolution and a calibration uncertainty are zero or more")
    if study.repeatability is None:
        return ProposedUncertainty(None, None, why=study.why)
    between = study.reproducibility.sd if study.reproducibility else 0.0
    repeat = max(study.repeatability.sd, resolution / math.sqrt(12))
    notes = ["wear, dirt, temperature and a wrong zero are not in it"]
    if study.reproducibility is None:
        notes.append("differences between inspectors are not in it: " + ONE_INSPECTOR)
    if calibration == 0:
        notes.append("the uncertainty of the gauge's own calibration is not in it")
    standard = math.hypot(repeat, between, calibration)
    if standard == 0:
        return ProposedUncertainty(
            None, None, tuple(notes), NO_GAUGE_SPREAD + "; state its resolution"
        )
    return ProposedUncertainty(standard, round_up_two_digits(2 * standard), tuple(notes))


def round_up_two_digits(value: float) -> int:
    """Return a positive `value` rounded up to a whole number of at most two significant digits.

    JCGM 100:2008, 7.2.6: two digits are enough, and an uncertainty may be rounded up.
    """
    # What a float adds in its last digits must not lift 0.5 to 0.51.
    step: int = 10 ** max(0, math.floor(math.log10(value)) - 1)
    return max(1, math.ceil(value / step - 1e-9)) * step


def finished_study(
    method: str,
    design: Design,
    spreads: tuple[float, float | None, float],
    limits: Limits | None,
    notes: Sequence[str] = (),
) -> GaugeStudy:
    """Return the study with EV, AV (`None` for one inspector) and PV held against both yardsticks.

    The two ways end here alike: `spreads` are standard deviations in millionths of the unit.
    """
    repeat, between, pieces = spreads
    gauge = math.hypot(repeat, between or 0.0)
    total = math.hypot(gauge, pieces)
    tolerance = _tolerance(limits)
    remarks = list(notes)
    if between is None:
        remarks.append(ONE_INSPECTOR)
    if tolerance is None:
        remarks.append("no share of the tolerance: " + (NO_WIDTH if limits else NO_LIMITS))
    if total == 0:
        remarks.append(NO_SPREAD)
    categories = None
    if gauge > 0:
        categories = 1.41 * pieces / gauge
        if categories < LEAST_CATEGORIES:
            remarks.append(
                f"the gauge tells {categories:.1f} groups of these pieces apart; at least"
                f" {LEAST_CATEGORIES} are wanted"
            )
    else:
        remarks.append(NO_GAUGE_SPREAD)

    def spread(sd: float) -> Spread:
        return Spread(
            sd,
            None if total == 0 else sd / total,
            None if tolerance is None else SPREAD * sd / tolerance,
        )

    return GaugeStudy(
        method,
        design,
        repeatability=spread(repeat),
        reproducibility=None if between is None else spread(between),
        gauge=spread(gauge),
        pieces=spread(pieces),
        total=spread(total),
        categories=categories,
        notes=tuple(remarks),
    )


def cell_means(table: Table) -> dict[tuple[str, str], Fraction]:
    """Return the exact mean of each cell of a complete study."""
    return {cell: mean_of(values) for cell, values in table.cells.items()}


def _tolerance(limits: Limits | None) -> int | None:
    if limits is None or limits.lower is None or limits.upper is None:
        return None
    return limits.upper - limits.lower or None


def _check(design: Design) -> None:
    for noun, names in (("inspector", design.inspectors), ("piece", design.pieces)):
        twice = [name for name, times in Counter(names).items() if times > 1]
        if twice:
            raise ValueError(f"{noun} {twice[0]} stands twice in the study")
    if design.trials < 2:
        raise ValueError(f"a study takes 2 trials or more, not {design.trials}")


def _why_incomplete(
    design: Design, gaps: Sequence[Gap], strays: Sequence[tuple[str, str]]
) -> str | None:
    """Return what lacks, in words, or `None` for a complete study."""
    if not design.inspectors or not design.pieces:
        return "no reading yet"
    if strays:
        inspector, piece = strays[0]
        what = "piece" if inspector in design.inspectors else "inspector"
        return f"{what} {piece if what == 'piece' else inspector} is not part of this study"
    missing = sum(max(0, gap.wanted - gap.have) for gap in gaps)
    surplus = sum(max(0, gap.have - gap.wanted) for gap in gaps)
    if gaps:
        heads = [f"{are(number, 'reading')} {what}" for number, what in (
            (missing, "missing"), (surplus, "too many")) if number]  # fmt: skip
        shown = "; ".join(_gap_text(gap) for gap in gaps[:3])
        more = f"; and {len(gaps) - 3} more like these" if len(gaps) > 3 else ""
        return f"{' and '.join(heads)}: {shown}{more}"
    if len(design.pieces) < 2:
        return "one piece alone cannot show how pieces differ: measure two or more, better ten"
    if design.trials < 2:
        return (
            "each piece was measured once by each inspector: without a second trial the gauge's own"
            " spread cannot be seen"
        )
    return None


def _gap_text(gap: Gap) -> str:
    have = counted(gap.have, "reading") if gap.have else "no reading"
    return f"{gap.inspector} has {have} of piece {gap.piece}, not {gap.wanted}"
