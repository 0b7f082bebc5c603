"""Cohorts by receipt: of the cores that came in one month or lot, how many are good so far.

Grading does not go in the order of receipt: good-looking cores get graded first. So a yield by the
month of grading, or of a cohort that is half open, looks too good. Each cohort shows its open
cores, and between which two ends its yield will lie once they are decided: none of them good, all
of them good. These ends are arithmetic, not statistics (C. F. Manski, American Economic Review 80
(1990) 319, bounds without assumptions, from memory).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction

from coretrack.figures.dispersion import Batch
from coretrack.figures.plain_words import are, counted, percent
from coretrack.figures.yields import MOSTLY_DECIDED, Counts, YieldRow, yield_row


@dataclass(frozen=True)
class Cohort:
    """One cohort: its yield row, `open` cores, and the ends its final yield will lie between.

    `decided_share` is 0..1, `None` for a cohort of nothing. `low_end` takes every open core as
    scrap, `high_end` as good; both `None` for an empty cohort. `settled`: at least 90 % decided.
    """

    name: str
    row: YieldRow
    open: int
    decided_share: float | None
    low_end: float | None
    high_end: float | None
    settled: bool


@dataclass(frozen=True)
class CohortTable:
    """Cohorts in the order of receipt and all together; `why` when nothing has come in.

    `settled_only` is the yield over the settled cohorts alone, the one to compare with.
    """

    cohorts: tuple[Cohort, ...]
    together: Cohort
    settled_only: YieldRow
    sentence: str
    why: str | None = None


def cohort_table(
    cohorts: Sequence[tuple[str, Counts]],
    level: float = 0.95,
    noun: str = "core",
    cohort_noun: str = "month",
) -> CohortTable:
    """Return a line for each cohort, given as (name, counts) in the order of receipt.

    Yield and interval of all together carry the spread between cohorts. An empty cohort has no
    figure and is not settled. ValueError when counts contradict each other.
    """
    lines = tuple(_cohort(name, counts, (), level, noun, cohort_noun) for name, counts in cohorts)
    batches = [Batch(name, counts.decided, counts.good) for name, counts in cohorts]
    together = _cohort(
        "all", _added([counts for _, counts in cohorts]), batches, level, noun, cohort_noun
    )
    settled = [(line.name, line.row.counts) for line in lines if line.settled]
    settled_row = yield_row(
        "settled",
        _added([counts for _, counts in settled]),
        [Batch(name, counts.decided, counts.good) for name, counts in settled],
        level,
        noun=noun,
        batch_noun=cohort_noun,
    )
    why = None if together.row.counts.received else f"no {noun} has come in yet"
    sentence = why or _sentence(lines, together, noun, cohort_noun)
    return CohortTable(lines, together, settled_row, sentence, why)


def _cohort(
    name: str,
    counts: Counts,
    batches: Sequence[Batch],
    level: float,
    noun: str,
    cohort_noun: str,
) -> Cohort:
    row = yield_row(name, counts, batches, level, noun=noun, batch_noun=cohort_noun)
    if counts.received == 0:
        return Cohort(name, row, 0, None, None, None, False)
    share = Fraction(counts.decided, counts.received)
    return Cohort(
        name=name,
        row=row,
        open=counts.open,
        decided_share=float(share),
        low_end=counts.good / counts.received,
        high_end=(counts.good + counts.open) / counts.received,
        settled=share >= MOSTLY_DECIDED,
    )


def _added(counts: Sequence[Counts]) -> Counts:
    names = Counts.__dataclass_fields__
    return Counts(**{name: sum(getattr(one, name) for one in counts) for name in names})


def _sentence(lines: Sequence[Cohort], together: Cohort, noun: str, cohort_noun: str) -> str:
    filled = [line for line in lines if line.row.counts.received]
    unsettled = [line for line in filled if not line.settled]
    if not unsettled:
        return f"{counted(len(filled), cohort_noun)} settled: 90 % or more decided in each"
    low, high = percent(together.low_end or 0.0), percent(together.high_end or 0.0)
    return (
        f"{are(together.open, noun)} still open; once they are decided the yield of all will lie"
        f" between {low} and {high}. Not settled yet (under 90 % decided):"
        f" {', '.join(line.name for line in unsettled)}"
    )
