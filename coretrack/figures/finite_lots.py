"""How many bodies of a whole lot are bad, when only some of it was inspected.

The limits invert the hypergeometric test exactly, in whole numbers: a total M is kept while both
P(X >= bad | M) and P(X <= bad | M) exceed half the error. This is the finite-lot twin of the
Clopper-Pearson interval. One published package keeps the first rejected total on each side and is
one body wider (G. Kauermann and H. Küchenhoff, Stichproben, 2010, as in its vignette).
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass
from fractions import Fraction

from coretrack.figures.intervals import check_level


@dataclass(frozen=True)
class LotBounds:
    """Fewest and most bad bodies in the whole lot; `None` with `why` when none was inspected."""

    fewest: int | None
    most: int | None
    level: float
    method: str = "exact, finite lot"
    why: str | None = None


def bad_in_lot(bad: int, inspected: int, lot: int, level: float = 0.95) -> LotBounds:
    """Return limits for the bad bodies in a lot of `lot`, of which `inspected` gave `bad`.

    ValueError unless 0 <= bad <= inspected <= lot.
    """
    check_level(level)
    if not 0 <= bad <= inspected <= lot:
        raise ValueError(
            f"{bad} bad of {inspected} inspected in a lot of {lot} cannot be: bad is at most"
            " inspected, and inspected at most the lot"
        )
    if inspected == 0:
        return LotBounds(None, None, level, why="no body of this lot has been inspected yet")
    tail = (1 - Fraction(str(level))) / 2
    least, greatest = bad, lot - (inspected - bad)
    whole = math.comb(lot, inspected)

    def too_few(total: int) -> bool:
        """Return whether `bad` or more would be too unlikely with only `total` bad in the lot."""
        return Fraction(_ways(total, inspected, lot, bad, inspected), whole) <= tail

    def not_too_many(total: int) -> bool:
        return Fraction(_ways(total, inspected, lot, 0, bad), whole) > tail

    fewest = _first_failing(least, greatest, too_few)
    most = _first_failing(fewest, greatest, not_too_many) if not_too_many(fewest) else fewest
    if not not_too_many(most):
        most -= 1
    return LotBounds(fewest, max(most, fewest), level)


def _first_failing(least: int, greatest: int, holds: Callable[[int], bool]) -> int:
    """Return the first total in least..greatest for which `holds` is false (greatest if none).

    `holds` is true up to some total and false from there on.
    """
    while least < greatest:
        middle = (least + greatest) // 2
        if holds(middle):
            least = middle + 1
        else:
            greatest = middle
    return least


def _ways(bad_total: int, inspected: int, lot: int, least: int, most: int) -> int:
    """Count the samples with least..most bad bodies, exactly."""
    least = max(least, inspected - (lot - bad_total), 0)
    most = min(most, bad_total, inspected)
    if least > most:
        return 0
    ways = math.comb(bad_total, least) * math.comb(lot - bad_total, inspected - least)
    total = ways
    for k in range(least, most):
        ways = ways * (bad_total - k) * (inspected - k)
        ways //= (k + 1) * (lot - bad_total - inspected + k + 1)
        total += ways
    return total
