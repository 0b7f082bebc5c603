"""Acceptance sampling: how often a lot passes when n pieces are checked and c may be bad.

The chance of passing is the binomial P(X <= c); for a small lot the hypergeometric one. The
textbook operating characteristic: ISO 2859-1 and MIL-STD-105E print it for their plans; checked
against A. Kiermeier's R package AcceptanceSampling (J. Statistical Software 26(6), 2008).
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from coretrack.figures.discrete import binomial

MOST_CHECKED = 5_000
"""No plan is looked for beyond this many pieces."""


@dataclass(frozen=True)
class SamplePlan:
    """Check `size` pieces; the lot passes with `most_bad` bad ones or fewer. `None` with `why`."""

    size: int | None
    most_bad: int | None
    chance_if_good: float | None
    chance_if_poor: float | None
    why: str | None = None


def chance_accepted(size: int, most_bad: int, bad_share: float) -> float:
    """Return the chance that a large lot with this share of bad pieces passes."""
    _check(size, most_bad)
    if not 0 <= bad_share <= 1:
        raise ValueError(f"a share of bad pieces lies between 0 and 1; {bad_share} does not")
    from scipy import special  # a slow import that most commands never need

    return float(special.bdtr(most_bad, size, bad_share))


def chance_lot_accepted(size: int, most_bad: int, bad: int, lot: int) -> float:
    """Return the chance that a lot of `lot` pieces with `bad` bad ones passes (hypergeometric)."""
    _check(size, most_bad)
    if not 0 <= bad <= lot or size > lot:
        raise ValueError(f"{size} of {lot} pieces with {bad} bad ones cannot be checked")
    ways = sum(
        math.comb(bad, found) * math.comb(lot - bad, size - found)
        for found in range(min(most_bad, bad, size) + 1)
        if size - found <= lot - bad
    )
    return ways / math.comb(lot, size)


def double_chance_accepted(
    sizes: tuple[int, int], accept: tuple[int, int], reject: tuple[int, int], bad_share: float
) -> float:
    """Return the chance that a large lot passes a double plan.

    After the first sample it passes with at most accept[0] bad ones and fails from reject[0] on;
    between, a second one is taken and the sum decides against accept[1].
    """
    _check(sizes[0], accept[0])
    first, second = binomial(sizes[0], bad_share), binomial(sizes[1], bad_share)
    chance = math.fsum(first[: accept[0] + 1])
    for found in range(accept[0] + 1, min(reject[0], sizes[0] + 1)):
        chance += first[found] * math.fsum(second[: max(0, accept[1] - found + 1)])
    return min(1.0, chance)


def share_accepted_at(size: int, most_bad: int, chance: float) -> float:
    """Return the share of bad pieces at which a lot passes with `chance` (0..1, ends excluded)."""
    _check(size, most_bad)
    if not 0 < chance < 1:
        raise ValueError(f"a chance lies between 0 and 1; {chance} does not")
    if most_bad == size:
        raise ValueError("a plan that lets every piece be bad always passes")
    from scipy import special  # a slow import that most commands never need

    return float(special.betaincinv(most_bad + 1, size - most_bad, 1 - chance))


def smallest_plan(
    good_share: float, good_chance: float, poor_share: float, poor_chance: float
) -> SamplePlan:
    """Return the fewest pieces to check so that good lots pass and poor ones do not.

    A lot with `good_share` bad pieces passes with `good_chance` or more, one with `poor_share` with
    `poor_chance` or less. ValueError unless good_share < poor_share and poor_chance < good_chance.
    """
    if not 0 < good_share < poor_share < 1 or not 0 < poor_chance < good_chance < 1:
        raise ValueError("a good lot has fewer bad pieces and passes more often than a poor one")
    size = 1
    for most_bad in range(MOST_CHECKED):
        # The poor lot sets the least size for each number of bad pieces; it only grows with it.
        size = max(size, most_bad + 1)
        while chance_accepted(size, most_bad, poor_share) > poor_chance:
            size += 1
            if size > MOST_CHECKED:
                why = f"{MOST_CHECKED:,} pieces would not tell such lots apart"
                return SamplePlan(None, None, None, None, why)
        at_good = chance_accepted(size, most_bad, good_share)
        if at_good >= good_chance:
            return SamplePlan(size, most_bad, at_good, chance_accepted(size, most_bad, poor_share))
    raise AssertionError("the loop ends by its size")


def _check(size: int, most_bad: int) -> None:
    if not 0 <= most_bad <= size or size < 1:
        raise ValueError(f"{most_bad} bad of {size} checked makes no plan")
