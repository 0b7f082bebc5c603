"""What a gauge study comes to: analysis of variance and ranges beside each other, and the U."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction

from coretrack.figures.bench_objects import GaugeStudy
from coretrack.figures.gauge_anova import AnovaStudy, anova_study
from coretrack.figures.gauge_ranges import range_study
from coretrack.figures.gauge_studies import (
    SPREAD,
    Design,
    GaugeReading,
    ProposedUncertainty,
    Spread,
    proposed_uncertainty,
    round_up_two_digits,
)
from coretrack.figures.gauge_studies import GaugeStudy as Found
from coretrack.figures.limits import MICRO, Limits, plain_text, to_micro
from coretrack.figures.trade_objects import Gauge
from coretrack.figures.units import convert_difference
from coretrack.figures.wording import rate

_PARTS = (
    ("repeatability", "Repeatability, EV", "one inspector, one piece, again"),
    ("reproducibility", "Reproducibility, AV", "between inspectors"),
    ("gauge", "Both, GRR", "gauge and inspectors together"),
    ("pieces", "Pieces, PV", "between the pieces"),
    ("total", "Total, TV", "all of it"),
)


@dataclass(frozen=True)
class PartShown:
    """One part of the spread: a standard deviation as text, and its shares in words."""

    name: str
    sd: str
    of_total: str
    of_tolerance: str


@dataclass(frozen=True)
class MethodShown:
    """One way to work the study out; `why` where it gives nothing."""

    name: str
    parts: tuple[PartShown, ...]
    categories: str
    rating: str
    notes: tuple[str, ...]
    why: str


@dataclass(frozen=True)
class RowShown:
    """One part of the spread by each way beside the other; None where a way does not give it."""

    name: str
    meaning: str
    parts: tuple[PartShown | None, ...]


@dataclass(frozen=True)
class StudyResult:
    """Both ways and the proposal. `uncertainty` is U in the gauge's own unit as text, "" for none.

    `notes` say what is not in U, `why` why there is none. `interaction` tells the p of inspectors
    that differ on some pieces only, and whether it was taken for chance.
    """

    methods: tuple[MethodShown, ...]
    interaction: str
    uncertainty: str
    unit: str
    notes: tuple[str, ...]
    why: str

    @property
    def rows(self) -> tuple[RowShown, ...]:
        """The parts of the spread, each by both ways."""
        found = [{part.name: part for part in method.parts} for method in self.methods]
        return tuple(
            RowShown(name, meaning, tuple(parts.get(name) for parts in found))
            for _, name, meaning in _PARTS
        )


def study_design(study: GaugeStudy) -> Design:
    """Return who measures what and how often."""
    told = study.design
    return Design(tuple(told["inspectors"]), tuple(told["pieces"]), int(told["trials"]))


def study_result(study: GaugeStudy, gauge: Gauge, limits: Limits | None) -> StudyResult:
    """Return what the readings of a study come to; `limits` (of the check) give the tolerance."""
    design = study_design(study)
    readings = [_reading(told) for told in study.readings]
    anova = anova_study(readings, limits, design)
    ranges = range_study(readings, limits, design)
    proposed = _proposed(anova, study, gauge)
    unit = gauge.unit or study.unit
    return StudyResult(
        (_method(anova.study, study.unit), _method(ranges.study, study.unit)),
        _interaction(anova),
        "" if proposed.expanded is None else _in_gauge_unit(proposed.expanded, study.unit, unit),
        unit,
        proposed.notes,
        proposed.why or "",
    )


def _reading(told: Mapping[str, object]) -> GaugeReading:
    return GaugeReading(str(told["inspector"]), str(told["piece"]), int(str(told["value"])))


def _proposed(anova: AnovaStudy, study: GaugeStudy, gauge: Gauge) -> ProposedUncertainty:
    """Return u and U in millionths of the study's unit, from the analysis of variance.

    The certificate's U (k = 2) was told in the study's unit; the step stands in the gauge's own.
    """
    certificate = Fraction(str(study.design.get("calibration") or "0")) * MICRO / 2
    step = convert_difference(Fraction(gauge.resolution or 0), gauge.unit or study.unit, study.unit)
    return proposed_uncertainty(anova.study, to_micro(step), float(certificate))


def _in_gauge_unit(value: int, unit: str, own: str) -> str:
    """Return U in the gauge's unit, rounded up to two digits again where the unit is another."""
    if unit == own:
        return plain_text(value)
    return plain_text(round_up_two_digits(float(convert_difference(value, unit, own))))


def _method(found: Found, unit: str) -> MethodShown:
    parts = tuple(
        _part(name, spread, unit)
        for attribute, name, _ in _PARTS
        if (spread := getattr(found, attribute)) is not None
    )
    return MethodShown(
        found.method,
        parts,
        "–" if found.categories is None else f"{found.categories:.1f}",
        found.rating or "no rating",
        found.notes,
        found.why or "",
    )


def _part(name: str, spread: Spread, unit: str) -> PartShown:
    return PartShown(
        name,
        f"{Decimal(f'{spread.sd / MICRO:#.3g}'):f} {unit}",
        rate(spread.of_total) if spread.of_total is not None else "–",
        rate(spread.of_tolerance) if spread.of_tolerance is not None else "–",
    )


def _interaction(anova: AnovaStudy) -> str:
    if anova.interaction_p is None:
        return ""
    taken = "taken for chance" if anova.pooled else "counted with the inspectors"
    return f"inspectors differing on some pieces only: p = {anova.interaction_p:.3f}, {taken}"


SHARE_NOTE = (
    f"Shares of the tolerance are {SPREAD} standard deviations over its width. Under 10 % is good, "
    "to 30 % conditional, above not acceptable (AIAG, Measurement Systems Analysis, 4th edition)."
)
