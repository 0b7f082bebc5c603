"""Sources (or families, lots, inspectors' months) side by side, without ranking the luck.

Each source stands with its plain yield and interval, with its yield drawn towards that of all
sources (empirical Bayes), by which it is ranked, and with its place in the funnel. What lots of one
source differ among themselves beyond chance is noise for this question: it is estimated within the
sources, divided out of the counts and put into the funnel. What sources differ from each other is
the question itself and stays out of the noise.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

from coretrack.figures.dispersion import (
    SIGNIFICANT,
    Batch,
    Dispersion,
    dispersion_test,
    spread_interval,
)
from coretrack.figures.funnel import INSIDE, STANDS_OUT, Funnel, Placed, funnel, place
from coretrack.figures.intervals import Interval, normal_quantile, wilson_bounds
from coretrack.figures.plain_words import counted, plural
from coretrack.figures.shrinkage import Prior, Shrunken, likelihood_prior, shrunken

LEAST_DEGREES = 3
"""Lots less sources; with fewer, how lots of one source differ is not known well enough."""

COMMON = "Wilson, all sources together"


@dataclass(frozen=True)
class Side:
    """One source: decided cores, good ones, and the lots (or months) they came in."""

    name: str
    decided: int
    good: int
    batches: tuple[Batch, ...] = ()


@dataclass(frozen=True)
class SideRow:
    """One source's line. `rank` 1 is the best drawn-in yield; `None` with nothing decided.

    `plain` is good / decided with `interval`; `drawn` is drawn to the mean of all; `placed` where
    it lies in the funnel.
    """

    name: str
    decided: int
    good: int
    plain: float | None
    interval: Interval
    drawn: Shrunken
    placed: Placed | None
    rank: int | None


@dataclass(frozen=True)
class SideBySide:
    """All sources, best first. `differ` tests whether they differ at all, over the sources.

    `widening` is how many times lots within a source vary more than chance (1: no more). `sentence`
    says how sure the order is.
    """

    rows: tuple[SideRow, ...]
    prior: Prior
    funnel: Funnel
    differ: Dispersion
    differ_p: float | None
    widening: float
    sentence: str
    why: str | None = None


def side_by_side(sides: Sequence[Side], noun: str = "source", level: float = 0.95) -> SideBySide:
    """Return the sources side by side, ranked by drawn-in yield (then by name).

    Fewer than three sources with decided cores: plain yields only, by which they are then ranked,
    and the sentence says so. Nothing decided at all: `why`. ValueError for impossible counts.
    """
    widening = within_spread(sides)
    groups = [(side.good / widening, side.decided / widening) for side in sides]
    prior = likelihood_prior(groups)
    picture = funnel([(side.good, side.decided) for side in sides], widening)
    differ = dispersion_test([Batch(side.name, side.decided, side.good) for side in sides], 1)
    rows = [
        _row(side, group, prior, picture.centre, widening, level)
        for side, group in zip(sides, groups, strict=True)
    ]
    rows.sort(key=_best_first)
    ranked = tuple(
        replace(row, rank=number if row.plain is not None else None)
        for number, row in enumerate(rows, start=1)
    )
    p_value = _differ_p(differ, widening)
    sentence = picture.why or _sentence(ranked, prior, p_value, noun)
    return SideBySide(ranked, prior, picture, differ, p_value, widening, sentence, picture.why)


def within_spread(sides: Sequence[Side]) -> float:
    """Return how many times lots of one source vary more than chance, pooled over the sources.

    Σ D / Σ degrees of the sources' own dispersion tests; 1 unless it is above 1, rests on 3 degrees
    or more and p is under 0.05.
    """
    statistic, degrees = 0.0, 0
    for side in sides:
        found = dispersion_test(side.batches)
        if found.statistic is not None and found.degrees is not None:
            statistic, degrees = statistic + found.statistic, degrees + found.degrees
    if degrees < LEAST_DEGREES:
        return 1.0
    from scipy import special  # a slow import that most commands never need

    if float(special.chdtrc(degrees, statistic)) >= SIGNIFICANT:
        return 1.0
    return max(1.0, statistic / degrees)


def _row(
    side: Side,
    group: tuple[float, float],
    prior: Prior,
    centre: float | None,
    widening: float,
    level: float,
) -> SideRow:
    own = spread_interval(side.good, side.decided, side.batches, level)
    if side.decided == 0 or centre is None:
        drawn = shrunken(0, 0, prior, level)
        return SideRow(side.name, 0, 0, None, own, drawn, None, None)
    drawn = shrunken(*group, prior, level)
    if prior.sd == 0:
        drawn = _all_alike(drawn, prior, level)
    return SideRow(
        name=side.name,
        decided=side.decided,
        good=side.good,
        plain=side.good / side.decided,
        interval=own,
        drawn=drawn,
        placed=place(side.good, side.decided, centre, widening),
        rank=None,
    )


def _all_alike(drawn: Shrunken, prior: Prior, level: float) -> Shrunken:
    """Sources that do not differ share one yield, as sure as the cores of all together make it."""
    n, z = prior.counted, normal_quantile((1 + level) / 2)
    low, high = wilson_bounds((prior.mean or 0.0) * n, n, z)
    return Shrunken(drawn.rate, Interval(low, high, COMMON, level), drawn.weight)


def _best_first(row: SideRow) -> tuple[bool, float, float, str]:
    rate = row.drawn.rate if row.drawn.rate is not None else row.plain
    return rate is None, -(rate or 0.0), -(row.plain or 0.0), row.name


def _differ_p(differ: Dispersion, widening: float) -> float | None:
    """Return the chance that sources alike would differ this much, lots' own spread allowed for."""
    if differ.statistic is None or differ.degrees is None:
        return None
    from scipy import special  # a slow import that most commands never need

    return float(special.chdtrc(differ.degrees, differ.statistic / widening))


def _sentence(rows: Sequence[SideRow], prior: Prior, p_value: float | None, noun: str) -> str:
    used = [row for row in rows if row.plain is not None]
    if len(used) == 1:
        return f"only one {noun} has decided cores: there is nothing to set beside it"
    if prior.why is not None:
        return f"{prior.why}; ranked by plain yields, which luck moves"
    if p_value is None or p_value >= SIGNIFICANT:
        return (
            f"the {counted(len(used), noun)} differ no more than chance explains: the order says"
            " nothing"
        )
    out = [
        f"{row.name} {row.placed.side}"
        for row in used
        if row.placed is not None and row.placed.verdict == STANDS_OUT
    ]
    looks = sum(row.placed is not None and row.placed.verdict != INSIDE for row in used)
    if out:
        return f"{plural(noun)} differ by more than chance; standing out: {', '.join(out)}"
    if looks:
        return f"{plural(noun)} differ by more than chance; {looks} worth a look, none stands out"
    return f"{plural(noun)} differ by more than chance, but none by itself lies outside the funnel"
