"""Do lots differ more than chance alone explains, and what does that do to an interval?

Chi-square dispersion test: D = sum of (x - n p)^2 / (n p (1 - p)) over the lots, against chi-square
with one degree less than lots; for equal lots it is (observed variance / n p (1 - p)) x (lots - 1).
Source: G. B. Wetherill and D. W. Brown, Statistical Process Control (1991), pp. 212-218.

Lot-to-lot spread by moments from the same D: J. C. Kleinman, J. Am. Stat. Assoc. 68 (1973) 46
(reference from memory; the formula follows from the expected value of D).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from coretrack.figures.intervals import (
    NOTHING_DECIDED,
    Interval,
    check_counts,
    check_level,
    wilson,
    wilson_bounds,
)

LEAST_DECIDED = 5
"""A lot with fewer decided cores stays out of the test: chi-square does not fit so few."""

LEAST_LOTS = 4
"""Fewer lots than this say too little about how lots differ to widen an interval by it."""

SIGNIFICANT = 0.05

WIDENED = "Wilson, widened for lot-to-lot spread"


@dataclass(frozen=True)
class Batch:
    """Cores that can share a cause: a purchased lot, or one month of returns.

    `cost` is the net money (spent less recovery, ten-thousandths) on its decided cores.
    """

    name: str
    decided: int
    good: int
    cost: int = 0


@dataclass(frozen=True)
class Dispersion:
    """Result of the test over `lots` lots; figures are `None`, with `why`, when it cannot be run.

    `factor` is D over its degrees of freedom: about 1 when only chance is at work. `size_factor`
    is the same with large lots weighing more, which is what the variance of a pooled rate needs
    (J. N. K. Rao and A. J. Scott's design effect; equal to `factor` for equal lots).
    """

    lots: int
    statistic: float | None
    degrees: int | None
    p_value: float | None
    factor: float | None
    size_factor: float | None = None
    why: str | None = None

    @property
    def lumpy(self) -> bool:
        """Whether there are enough lots and they differ more than chance alone explains."""
        return (
            self.factor is not None
            and self.p_value is not None
            and self.lots >= LEAST_LOTS
            and self.factor > 1
            and self.p_value < SIGNIFICANT
        )

    @property
    def widening(self) -> float:
        """How many times the variance of the pooled rate exceeds the binomial one; 1 if steady."""
        if not self.lumpy or self.factor is None:
            return 1.0
        return max(self.factor, self.size_factor or 1.0)


@dataclass(frozen=True)
class LotSpread:
    """Yield of a lot as Beta(a, b): `mean` and lot-to-lot `sd` for predicting the next lot.

    `sd` is 0 when lots differ no more than chance explains and `None`, with `why`, when there are
    too few lots to tell; (a, b) then carry only how well the mean itself is known.
    """

    mean: float | None
    sd: float | None
    a: float | None
    b: float | None
    lots: int
    why: str | None = None


def dispersion_test(batches: Sequence[Batch], least_decided: int = LEAST_DECIDED) -> Dispersion:
    """Test whether the share of good bodies is steady over the batches.

    Batches with fewer than `least_decided` decided cores are left out.
    """
    used = _usable(batches, least_decided)
    lots = len(used)
    if lots < 2:
        why = f"fewer than two lots have {least_decided} or more decided cores"
        return Dispersion(lots, None, None, None, None, why=why)
    total = sum(batch.decided for batch in used)
    good = sum(batch.good for batch in used)
    if good in (0, total):
        ending = "good" if good else "scrapped"
        why = f"every decided core of these lots is {ending}: nothing can differ"
        return Dispersion(lots, None, None, None, None, why=why)
    share = good / total
    variance = share * (1 - share)
    squares = [(batch.good - batch.decided * share) ** 2 for batch in used]
    statistic = sum(
        square / (batch.decided * variance) for square, batch in zip(squares, used, strict=True)
    )
    size_factor = lots / (lots - 1) * sum(squares) / (total * variance)
    return _dispersion(lots, statistic, size_factor)


def count_dispersion(counts: Sequence[int]) -> Dispersion:
    """Test whether counts without an upper end (such as defects per lot) are steady (Poisson)."""
    lots = len(counts)
    if lots < 2 or sum(counts) == 0:
        return Dispersion(
            lots, None, None, None, None, why="two lots with something counted needed"
        )
    mean = sum(counts) / lots
    statistic = sum((count - mean) ** 2 for count in counts) / mean
    return _dispersion(lots, statistic, None)


def spread_interval(
    good: int,
    n: int,
    batches: Sequence[Batch] = (),
    level: float = 0.95,
    dispersion: Dispersion | None = None,
) -> Interval:
    """Return the Wilson interval of `good` of `n`, widened when lots differ beyond chance.

    Widened means: n and good divided by the larger of the two factors of the test, and Student's t
    with one degree less than lots in place of the normal quantile, because the factor itself is an
    estimate. It takes at least 4 lots with 5 or more decided cores each, a factor above 1 and
    p < 0.05; otherwise the plain Wilson interval is returned.
    """
    check_level(level)
    check_counts(good, n)
    found = dispersion if dispersion is not None else dispersion_test(batches)
    if n == 0:
        return Interval(None, None, wilson(good, n, level).method, level, NOTHING_DECIDED)
    if not found.lumpy or found.degrees is None:
        return wilson(good, n, level)
    from scipy import special  # a slow import that most commands never need

    t = float(special.stdtrit(found.degrees, (1 + level) / 2))
    low, high = wilson_bounds(good / found.widening, n / found.widening, t)
    # Dividing both counts may move their ratio by one unit in the last place.
    return Interval(min(low, good / n), max(high, good / n), WIDENED, level)


def beta_from_mean_and_sd(mean: float, sd: float) -> tuple[float, float]:
    """Return (a, b) of the Beta distribution with that mean and standard deviation.

    a + b = mean (1 - mean) / sd^2 - 1. ValueError when no Beta distribution has them.
    """
    if not 0 < mean < 1 or not 0 < sd * sd < mean * (1 - mean):
        raise ValueError(
            f"no lot yields can average {mean} with a spread of {sd}: the mean lies between 0 and 1"
            " and the spread above 0 and below the root of mean x (1 - mean)"
        )
    size = mean * (1 - mean) / (sd * sd) - 1
    return mean * size, (1 - mean) * size


def lot_spread(batches: Sequence[Batch], least_decided: int = LEAST_DECIDED) -> LotSpread:
    """Fit the beta-binomial by moments, with the chance part taken out of the spread.

    (a, b) never claims to know the mean better than all decided cores together do.
    """
    good = sum(batch.good for batch in batches)
    decided = sum(batch.decided for batch in batches)
    check_counts(good, decided)
    if decided == 0:
        return LotSpread(None, None, None, None, 0, NOTHING_DECIDED)
    mean = good / decided
    used = _usable(batches, least_decided)
    a, b = good + 0.5, decided - good + 0.5
    found = dispersion_test(used, least_decided)
    if len(used) < LEAST_LOTS:
        why = f"fewer than {LEAST_LOTS} lots have {least_decided} or more decided cores"
        return LotSpread(mean, None, a, b, len(used), why)
    if found.statistic is None or found.degrees is None:
        return LotSpread(mean, None, a, b, len(used), found.why)
    sizes = [batch.decided for batch in used]
    room = sum(sizes) - sum(size * size for size in sizes) / sum(sizes) - found.degrees
    between = (found.statistic - found.degrees) / room
    if between <= 0:
        return LotSpread(mean, 0.0, a, b, len(used))
    between = min(between, 0.999)
    size = min(1 / between - 1, decided + 1.0)
    sd = (between * mean * (1 - mean)) ** 0.5
    if not 0 < mean < 1:
        return LotSpread(mean, sd, a, b, len(used))
    return LotSpread(mean, sd, mean * size, (1 - mean) * size, len(used))


def _usable(batches: Sequence[Batch], least_decided: int) -> list[Batch]:
    for batch in batches:
        check_counts(batch.good, batch.decided)
    return [batch for batch in batches if batch.decided >= max(1, least_decided)]


def _dispersion(lots: int, statistic: float, size_factor: float | None) -> Dispersion:
    from scipy import special  # a slow import that most commands never need

    degrees = lots - 1
    p_value = float(special.chdtrc(degrees, statistic))
    return Dispersion(lots, statistic, degrees, p_value, statistic / degrees, size_factor)
