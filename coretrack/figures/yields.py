"""Yield: good bodies over decided cores, with how sure it is."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction

from coretrack.figures.dispersion import Batch, Dispersion, dispersion_test, spread_interval
from coretrack.figures.intervals import METHODS, WILSON, Interval
from coretrack.figures.plain_words import are, counted, have, percent, plural

__all__ = [
    "Batch",
    "Counts",
    "Interval",
    "YieldRow",
    "rolled_yield",
    "yield_row",
]

FEW_DECIDED = 20
"""Under this many decided cores a row says that its yield may still move a lot."""

MOSTLY_DECIDED = Fraction(9, 10)
"""Under this share of decided cores a row says so: good-looking cores get graded first."""

NONE_DECIDED = "no core of this group has been decided yet"


@dataclass(frozen=True)
class Counts:
    """Cores of one group, counted. decided = kept_first_pass + kept_after_rework + scrapped.

    `received` are the cores that are to be graded; cores refused at the dock and not graded stand
    beside them in `refused`, not among them, so that `open` falls to zero when all is decided.
    """

    received: int = 0
    decided: int = 0
    kept_first_pass: int = 0
    kept_after_rework: int = 0
    scrapped: int = 0
    sent_to_rework: int = 0
    refused: int = 0
    source_lost: int = 0

    @property
    def good(self) -> int:
        return self.kept_first_pass + self.kept_after_rework

    @property
    def open(self) -> int:
        return self.received - self.decided


@dataclass(frozen=True)
class YieldRow:
    """One line of the yield roll-up; rates are 0..1, `None` while no core is decided.

    `dispersion_p` is the chance that lots differ this much by luck alone, `None` when it cannot be
    told; `spread_factor` how many times the variance was widened for it (1 when it was not). `kind`
    of a group that is a lot is "purchase" or "return", `None` of any other group.
    """

    group: str
    counts: Counts
    first_pass_yield: float | None
    body_yield: float | None
    interval: Interval
    dispersion_p: float | None
    warnings: tuple[str, ...] = ()
    why: str | None = None
    spread_factor: float = 1.0
    kind: str | None = None


def yield_row(
    group: str,
    counts: Counts,
    batches: Sequence[Batch] = (),
    level: float = 0.95,
    method: str = WILSON,
    noun: str = "core",
    batch_noun: str = "lot",
) -> YieldRow:
    """Return the yield of a group, good / decided, with its interval and warnings.

    `batches` are the lots or months the group's cores came in; when they differ beyond chance the
    Wilson interval is widened (see `spread_interval`). `method` is one of
    `coretrack.figures.intervals.METHODS`; the others than Wilson are not widened. `noun` and
    `batch_noun` are what the warnings call a core and a batch. With no decided core there is no
    rate and no bound, and `why` says so. ValueError when the counts contradict each other.
    """
    _check(group, counts)
    if method not in METHODS:
        raise ValueError(f"there is no interval method '{method}'; use one of {', '.join(METHODS)}")
    decided, good = counts.decided, counts.good
    found = dispersion_test(batches)
    if method == WILSON:
        interval = spread_interval(good, decided, batches, level, found)
    else:
        interval = METHODS[method](good, decided, level)
    if decided == 0:
        lost = _source_lost(counts)
        return YieldRow(group, counts, None, None, interval, None, lost, NONE_DECIDED)
    return YieldRow(
        group=group,
        counts=counts,
        first_pass_yield=counts.kept_first_pass / decided,
        body_yield=good / decided,
        interval=interval,
        dispersion_p=found.p_value,
        warnings=(
            *_few_decided(counts, noun),
            *_source_lost(counts),
            *_lumpy(found, noun, batch_noun, widened=method == WILSON),
        ),
        spread_factor=found.widening if method == WILSON else 1.0,
    )


def rolled_yield(stages: Sequence[tuple[int, int]]) -> float | None:
    """Return the product of stage yields, each given as (passed, entered).

    `None` when there is no stage or a stage has seen no core; ValueError when more passed than
    entered.
    """
    product = 1.0
    for passed, entered in stages:
        if not 0 <= passed <= entered:
            raise ValueError(f"{passed} of {entered} cores cannot have passed a stage")
        if entered == 0:
            return None
        product *= passed / entered
    return product if stages else None


def _check(group: str, counts: Counts) -> None:
    numbers = vars(counts)
    for name, number in numbers.items():
        if number < 0:
            raise ValueError(
                f"{group}: {name.replace('_', ' ')} is {number}; it cannot be negative"
            )
    if counts.decided != counts.good + counts.scrapped:
        raise ValueError(
            f"{group}: {counts.decided} decided, but kept and scrapped add up to"
            f" {counts.good + counts.scrapped}"
        )
    if counts.decided > counts.received:
        raise ValueError(
            f"{group}: {counts.decided} cores decided of only {counts.received} received"
        )


def _few_decided(counts: Counts, noun: str) -> tuple[str, ...]:
    decided, received = counts.decided, counts.received
    warnings = []
    share = Fraction(decided, received)
    if share < MOSTLY_DECIDED:
        verb = "is" if decided == 1 else "are"
        warnings.append(
            f"only {decided:,} of {counted(received, noun)} {verb} decided"
            f" ({percent(share, MOSTLY_DECIDED)}); good-looking cores tend to be graded first, so"
            " the yield may still fall"
        )
    if decided < FEW_DECIDED:
        warnings.append(f"only {are(decided, noun)} decided: the yield may still move a lot")
    return tuple(warnings)


def _lumpy(found: Dispersion, noun: str, batch_noun: str, widened: bool) -> tuple[str, ...]:
    if not found.lumpy or found.p_value is None:
        return ()
    chance = "under 0.001" if found.p_value < 0.001 else f"{found.p_value:.3f}"
    whose = plural(batch_noun) if noun == "core" else f"{plural(batch_noun)} of {plural(noun)}"
    text = f"{whose} differ more than chance explains (p {chance})"
    if widened:
        text += f"; the interval carries {found.widening:.1f} times the variance of chance alone"
    return (text,)


def _source_lost(counts: Counts) -> tuple[str, ...]:
    if counts.source_lost == 0:
        return ()
    return (
        f"{have(counts.source_lost, 'core')} lost the source: counted in the family's yield, in no"
        " source's and no lot's",
    )
