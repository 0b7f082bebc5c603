"""Rates of small groups drawn towards what all groups share: empirical Bayes.

Each group's true rate is taken as one draw from Beta(a, b), fitted to all groups; a group of n with
k then stands at (a + k)/(a + b + n): the fewer cores, the nearer to the mean of all. Without it the
best and the worst of any table are simply its smallest groups. (a, b) by maximum likelihood, or by
moments of the plain rates (A. Gelman and others, Bayesian Data Analysis, chapter 5). The interval
is the group's Beta distribution; it takes (a, b) as known, so with few groups it is too narrow.

For equally large groups B. Efron and C. Morris, Scientific American 236 (1977) 119, draw plain
averages to their mean by one common factor; kept as an independent check of the same idea.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from coretrack.figures.intervals import Interval, check_level

BETA_BINOMIAL = "beta-binomial, empirical Bayes"
LEAST_GROUPS = 3
"""With fewer groups there is no telling how groups differ; nothing is drawn together."""

MOST_ALIKE = 1e5
"""From this a + b on the groups are called alike: their spread is below 1 % of its most."""

MOST_LOG = 12.0
"""The search for a + b ends at e^12, beyond which nothing changes any more."""


@dataclass(frozen=True)
class Prior:
    """What the groups share: Beta(a, b), its mean and the group-to-group sd of the true rate.

    a and b are `None` where the groups differ no more than chance explains (`sd` 0: every group is
    drawn to the mean altogether) and where, as `why` says, nothing can be fitted (`sd` `None`).
    `counted` is the n of all groups together.
    """

    a: float | None
    b: float | None
    mean: float | None
    sd: float | None
    groups: int
    why: str | None = None
    counted: float = 0.0


@dataclass(frozen=True)
class Shrunken:
    """A group's rate 0..1 drawn to the mean of all, and its interval; `weight` is its own say."""

    rate: float | None
    interval: Interval
    weight: float | None
    why: str | None = None


def moment_prior(groups: Sequence[tuple[float, float]]) -> Prior:
    """Fit Beta(a, b) to the mean and variance of the plain rates of (count, n), n above 0.

    Chance is left in the variance, so that a + b comes out too small: groups look more different
    than they are. Use `likelihood_prior`, which does not.
    """
    used = _used(groups)
    total = sum(n for _, n in used)
    if len(used) < LEAST_GROUPS:
        return _no_prior(used)
    rates = [count / n for count, n in used]
    mean = math.fsum(rates) / len(rates)
    variance = math.fsum((rate - mean) ** 2 for rate in rates) / (len(rates) - 1)
    if variance == 0:
        return Prior(None, None, mean, 0.0, len(used), counted=total)
    size = mean * (1 - mean) / variance - 1
    if size <= 0:
        why = "the rates lie at none and all: no Beta distribution spreads that far"
        return Prior(None, None, mean, None, len(used), why, total)
    sd = math.sqrt(variance)
    return Prior(mean * size, (1 - mean) * size, mean, sd, len(used), counted=total)


def likelihood_prior(groups: Sequence[tuple[float, float]]) -> Prior:
    """Fit Beta(a, b) to (count, n) by maximum likelihood of the beta-binomial.

    Fewer than three groups with something in them, or none or all counted everywhere: no (a, b).
    """
    used = _used(groups)
    total, good = sum(n for _, n in used), sum(count for count, _ in used)
    if len(used) < LEAST_GROUPS or good in (0, total):
        return _no_prior(used)
    if _alike(used, good / total):
        return Prior(None, None, good / total, 0.0, len(used), counted=total)
    from scipy import optimize, special  # slow imports that most commands never need

    counts = [float(count) for count, _ in used]
    rest = [float(n - count) for count, n in used]

    def unlikely(at: Sequence[float]) -> float:
        mean, size = float(special.expit(at[0])), math.exp(min(at[1], MOST_LOG))
        a, b = mean * size, (1 - mean) * size
        here = len(used) * float(special.betaln(a, b))
        each = special.betaln([a + k for k in counts], [b + m for m in rest])
        return here - float(each.sum())

    start = math.log(good / (total - good))
    # Two starts: the flat far side of "all alike" must not hide a nearer peak.
    found = min(
        (
            optimize.minimize(
                unlikely,
                (start, math.log(size)),
                method="Nelder-Mead",
                options={"xatol": 1e-7, "fatol": 1e-9, "maxiter": 1000},
            )
            for size in (5.0, 100.0)
        ),
        key=lambda result: float(result.fun),
    )
    mean, size = float(special.expit(found.x[0])), math.exp(min(float(found.x[1]), MOST_LOG))
    if size >= MOST_ALIKE:
        return Prior(None, None, good / total, 0.0, len(used), counted=total)
    sd = math.sqrt(mean * (1 - mean) / (size + 1))
    return Prior(mean * size, (1 - mean) * size, mean, sd, len(used), counted=total)


def shrunken(count: float, n: float, prior: Prior, level: float = 0.95) -> Shrunken:
    """Return (a + count)/(a + b + n) with the equal-tailed interval of its Beta distribution.

    Groups that are all alike stand at the mean, with no interval of their own. Without a prior, or
    without anything counted, there is no figure and `why`.
    """
    check_level(level)
    _check(count, n)
    why = prior.why or ("nothing counted in this group yet" if n == 0 else None)
    if why is not None or prior.mean is None:
        return Shrunken(None, Interval(None, None, BETA_BINOMIAL, level, why), None, why)
    if prior.a is None or prior.b is None:
        alike = "the groups differ no more than chance explains: all stand at their mean"
        return Shrunken(prior.mean, Interval(None, None, BETA_BINOMIAL, level, alike), 0.0)
    from scipy import special  # a slow import that most commands never need

    a, b = prior.a + count, prior.b + n - count
    tail = (1 - level) / 2
    low, high = (float(special.betaincinv(a, b, chance)) for chance in (tail, 1 - tail))
    bounds = Interval(low, high, BETA_BINOMIAL, level)
    return Shrunken(a / (a + b), bounds, n / (a + b))


def efron_morris(rates: Sequence[float], n: int) -> tuple[float, list[float]]:
    """Return the shrinking factor c and mean + c (rate - mean) of groups of n each.

    c = 1 - (k - 3) mean (1 - mean)/n / Σ (rate - mean)², not below 0. ValueError for fewer than 4
    groups or rates that are all alike.
    """
    mean = math.fsum(rates) / len(rates) if rates else 0.0
    square = math.fsum((rate - mean) ** 2 for rate in rates)
    if len(rates) < 4 or square == 0:
        raise ValueError("it takes four groups or more, not all alike")
    factor = max(0.0, 1 - (len(rates) - 3) * mean * (1 - mean) / n / square)
    return factor, [mean + factor * (rate - mean) for rate in rates]


def _alike(used: Sequence[tuple[float, float]], mean: float) -> bool:
    """Return whether the likelihood falls as soon as the groups are let differ at all.

    Its slope there is Σ k(k - 1)/p + m(m - 1)/(1 - p) - n(n - 1), halved; R. E. Tarone, Biometrika
    66 (1979) 585, tests the same sum.
    """
    slope = math.fsum(
        count * (count - 1) / mean + (n - count) * (n - count - 1) / (1 - mean) - n * (n - 1)
        for count, n in used
    )
    return slope <= 0


def _check(count: float, n: float) -> None:
    """Counts may be fractions where the spread within a group was divided out of them."""
    if not 0 <= count <= n:
        raise ValueError(f"{count} of {n} cannot be")


def _used(groups: Sequence[tuple[float, float]]) -> list[tuple[float, float]]:
    for count, n in groups:
        _check(count, n)
    return [(count, n) for count, n in groups if n > 0]


def _no_prior(used: Sequence[tuple[float, float]]) -> Prior:
    total, good = sum(n for _, n in used), sum(count for count, _ in used)
    mean = good / total if total else None
    if len(used) < LEAST_GROUPS:
        why = f"fewer than {LEAST_GROUPS} groups have anything counted: how they differ is unknown"
    else:
        why = "none, or all, are counted in every group: how they differ is unknown"
    return Prior(None, None, mean, None, len(used), why, total)
