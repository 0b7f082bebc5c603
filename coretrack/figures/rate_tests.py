"""Did a rate change, or is it above a target? Normal and exact tests of counts.

Sources: NIST/SEMATECH e-Handbook of Statistical Methods 7.2.4 (one rate) and the textbook test of
two rates with the pooled share; the exact test is the binomial one that R calls `binom.test`.
"""

from __future__ import annotations

import math

from coretrack.figures.discrete import at_least, binomial
from coretrack.figures.intervals import AT_LEAST, AT_MOST, check_counts

DIFFERENT = "different"


def rate_z(count: int, n: int, target: float) -> float | None:
    """Return how many standard errors the share lies above `target`; `None` with no cores."""
    check_counts(count, n)
    if not 0 < target < 1:
        raise ValueError(f"a target rate lies between 0 and 1; {target} does not")
    if n == 0:
        return None
    return (count / n - target) / math.sqrt(target * (1 - target) / n)


def change_z(count: int, n: int, later_count: int, later_n: int) -> float | None:
    """Return how many standard errors the first share lies above the later one (pooled share).

    `None` when either has no cores, or when all or none of them count.
    """
    check_counts(count, n)
    check_counts(later_count, later_n)
    if n == 0 or later_n == 0:
        return None
    share = (count + later_count) / (n + later_n)
    if share in (0, 1):
        return None
    error = math.sqrt(share * (1 - share) * (1 / n + 1 / later_n))
    return (count / n - later_count / later_n) / error


def exact_p_value(count: int, n: int, target: float, side: str = DIFFERENT) -> float:
    """Return the chance of a result at least this far from `target`, if `target` were true.

    `side` is "at least" (is the rate above target?), "at most" or "different". For "different" all
    outcomes no more likely than the observed one are added up.
    """
    check_counts(count, n)
    chances = binomial(n, target)
    if side == AT_LEAST:
        return min(1.0, at_least(chances, count))
    if side == AT_MOST:
        return min(1.0, math.fsum(chances[: count + 1]))
    if side != DIFFERENT:
        raise ValueError(f"side is '{AT_LEAST}', '{AT_MOST}' or '{DIFFERENT}', not '{side}'")
    # Outcomes that tie with the observed one may differ from it in the last digits.
    bound = chances[count] * (1 + 1e-7)
    return min(1.0, math.fsum(chance for chance in chances if chance <= bound))
