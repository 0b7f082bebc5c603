"""Cores to buy for a build plan, after the shelf and the work in hand.

Bodies on the shelf are certain; of each group in hand as many come out good as its own yield lets,
and the rest must come from cores still to be bought. The fewest cores are sought whose chance of
enough bodies in all reaches the assurance: the two uncertain numbers are added up as distributions,
not as averages. Derived.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import accumulate

from coretrack.figures.buying import MOST_CORES, fewest_cores
from coretrack.figures.discrete import beta_binomial, binomial, quantile
from coretrack.figures.intervals import check_level
from coretrack.figures.plain_words import counted, percent


@dataclass(frozen=True)
class InHand:
    """Cores of one state that are not decided yet, with the yield still to be expected of them.

    `spread` is (a, b) where lots differ; without it each core is good with `share` by itself.
    """

    name: str
    cores: int
    share: float
    spread: tuple[float, float] | None = None


@dataclass(frozen=True)
class BuildPlan:
    """Cores to buy so that `bodies` are there with `assurance`.

    `shelf` are good already, `expected_in_hand` what the work in hand gives on average and
    `sure_in_hand` what it gives at least with that assurance. `cores` is `None` with `why` when no
    number is enough, or no yield is known. `expected_over` bodies are left over on average.
    """

    bodies: int
    assurance: float
    shelf: int
    in_hand: int
    expected_in_hand: float
    sure_in_hand: int
    cores: int | None
    expected_over: float | None
    sentence: str
    why: str | None = None


def build_plan(
    bodies: int,
    shelf: int,
    in_hand: Sequence[InHand],
    body_yield: float | None,
    spread: tuple[float, float] | None = None,
    assurance: float = 0.9,
) -> BuildPlan:
    """Return how many cores to buy for `bodies` of one family.

    `body_yield` is that of cores still to be bought, `spread` its (a, b) where lots differ. Shares
    outside 0..1 and negative numbers raise ValueError.
    """
    check_level(assurance)
    if bodies < 0 or shelf < 0 or any(group.cores < 0 for group in in_hand):
        raise ValueError("bodies, shelf and cores in hand are zero or more")
    coming = [1.0]
    for group in in_hand:
        coming = added(coming, _chances(group.cores, group.share, group.spread))
    expected = sum(
        group.cores * (group.share if group.spread is None else _mean(group.spread))
        for group in in_hand
    )
    sure = quantile(coming, 1 - assurance)
    waiting = sum(group.cores for group in in_hand)
    missing = bodies - shelf
    cores, why = _cores(missing, coming, body_yield, spread, assurance)
    over = None
    if cores is not None:
        bought = 0.0 if not cores else cores * _share(body_yield, spread)
        over = shelf + expected + bought - bodies
    told = _told(bodies, shelf, waiting, sure, cores, assurance, why)
    return BuildPlan(bodies, assurance, shelf, waiting, expected, sure, cores, over, told, why)


def added(one: Sequence[float], other: Sequence[float]) -> list[float]:
    """Return the chances of the sum of two independent counts from the chances of each."""
    total = [0.0] * (len(one) + len(other) - 1)
    for count, chance in enumerate(one):
        if chance:
            for more, also in enumerate(other):
                total[count + more] += chance * also
    return total


def chance_enough(coming: Sequence[float], bought: Sequence[float], needed: int) -> float:
    """Return the chance that both counts together reach `needed`."""
    # beyond[k] is the chance that k or more of the bought ones are good.
    beyond = list(accumulate(reversed(bought)))[::-1]
    return sum(
        chance * (1.0 if needed <= count else _at(beyond, needed - count))
        for count, chance in enumerate(coming)
    )


def _at(beyond: Sequence[float], count: int) -> float:
    return beyond[count] if count < len(beyond) else 0.0


def _cores(
    missing: int,
    coming: Sequence[float],
    body_yield: float | None,
    spread: tuple[float, float] | None,
    assurance: float,
) -> tuple[int | None, str | None]:
    if chance_enough(coming, [1.0], missing) >= assurance:
        return 0, None
    if body_yield is None and spread is None:
        return None, "no yield is known of cores to buy: grade some first"
    share = 0.0 if body_yield is None else body_yield

    def enough(cores: int) -> bool:
        return chance_enough(coming, _chances(cores, share, spread), missing) >= assurance

    found = None
    if missing <= MOST_CORES and (share > 0 or spread is not None):
        found = fewest_cores(1, enough)
    why = f"{MOST_CORES:,} cores would not be sure to give them" if found is None else None
    return found, why


def _chances(cores: int, share: float, spread: tuple[float, float] | None) -> list[float]:
    return beta_binomial(cores, *spread) if spread else binomial(cores, share)


def _mean(spread: tuple[float, float]) -> float:
    return spread[0] / sum(spread)


def _share(body_yield: float | None, spread: tuple[float, float] | None) -> float:
    if spread is not None:
        return _mean(spread)
    return body_yield or 0.0


def _told(
    bodies: int,
    shelf: int,
    waiting: int,
    sure: int,
    cores: int | None,
    assurance: float,
    why: str | None,
) -> str:
    start = f"{counted(bodies, 'good body')} wanted, {shelf:,} on the shelf"
    if waiting:
        start += f", at least {sure:,} to come of {counted(waiting, 'core')} in hand"
    if cores is None:
        return f"{start}: {why}"
    if cores == 0:
        return f"{start}: nothing needs to be bought ({percent(assurance)} sure)"
    return f"{start}: buy {counted(cores, 'core')} to be {percent(assurance)} sure"
