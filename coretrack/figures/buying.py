"""What to bid for a lot, and how many cores to buy for so many good bodies.

bid(confidence) = G K + s (N - K) - N c - freight, with K good bodies that the lot holds at least,
with that confidence, when its own yield is drawn from Beta(a, b). Lots differ more than chance:
leaving that out overbids. Formulas derived from adding up what the lot brings and costs; the
beta-binomial is the textbook one.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from fractions import Fraction

from coretrack.figures.discrete import at_least, beta_binomial, binomial, quantile
from coretrack.figures.intervals import check_level
from coretrack.figures.money import Money

MOST_CORES = 20_000
"""No answer is looked for beyond this many cores."""


@dataclass(frozen=True)
class Bid:
    """The most to pay for a lot with `confidence` of not losing against G.

    `good_bodies` is K, `expected_good` the mean. `total` and `per_piece` (rounded down) are
    negative when the lot would lose money even as a gift; `why` then says so.
    """

    pieces: int
    confidence: float
    good_bodies: int
    expected_good: float
    total: Money
    per_piece: Money
    why: str | None = None


@dataclass(frozen=True)
class CoresToBuy:
    """Fewest cores that give `good` bodies with `confidence`; `None` with `why` if too many."""

    good: int
    confidence: float
    cores: int | None
    why: str | None = None


def after_checking(a: float, b: float, checked: int, checked_good: int) -> tuple[float, float]:
    """Return (a, b) for the rest of a lot, of which `checked` pieces gave `checked_good`."""
    if not 0 <= checked_good <= checked:
        raise ValueError(f"{checked_good} good of {checked} checked cannot be")
    return a + checked_good, b + checked - checked_good


def bid(
    pieces: int,
    a: float,
    b: float,
    good_body: Money,
    scrap: Money,
    processing: Money,
    freight: Money = 0,
    confidence: float = 0.9,
    checked: int = 0,
    checked_good: int = 0,
) -> Bid:
    """Return the most to pay for `pieces` cores whose lot yield is Beta(a, b).

    `good_body` is G, `scrap` s, `processing` c, each per piece; `checked` pieces of the lot, with
    `checked_good` good, have been inspected already. Money in ten-thousandths, exact.
    ValueError when there is no piece or more were checked than the lot has.
    """
    check_level(confidence)
    if pieces < 1:
        raise ValueError(f"a lot has at least one piece, not {pieces}")
    if checked > pieces:
        raise ValueError(f"{checked} pieces checked of a lot of {pieces} cannot be")
    a, b = after_checking(a, b, checked, checked_good)
    rest = pieces - checked
    good = checked_good + quantile(beta_binomial(rest, a, b), 1 - confidence)
    total = good_body * good + scrap * (pieces - good) - processing * pieces - freight
    why = None
    if total < 0:
        why = "at this confidence the lot loses money even as a gift"
    return Bid(
        pieces=pieces,
        confidence=confidence,
        good_bodies=good,
        expected_good=checked_good + rest * a / (a + b),
        total=total,
        per_piece=total // pieces,
        why=why,
    )


def cores_to_buy(
    good: int,
    body_yield: float | Fraction,
    confidence: float = 0.9,
    spread: tuple[float, float] | None = None,
) -> CoresToBuy:
    """Return the fewest cores that hold `good` good bodies with `confidence`.

    With `spread`, the (a, b) of the lot-to-lot spread, the yield of the whole purchase is drawn
    from Beta(a, b) and `body_yield` is not used. ValueError for a negative target or a yield
    outside 0..1.
    """
    check_level(confidence)
    if good < 0:
        raise ValueError(f"so many good bodies cannot be wanted: {good}")
    share = float(body_yield)
    if not 0 <= share <= 1:
        raise ValueError(f"a yield lies between 0 and 1; {body_yield} does not")
    if good == 0:
        return CoresToBuy(good, confidence, 0)

    def enough(cores: int) -> bool:
        chances = beta_binomial(cores, *spread) if spread else binomial(cores, share)
        return at_least(chances, good) >= confidence

    if good > MOST_CORES or (share == 0 and spread is None):
        return CoresToBuy(good, confidence, None, _too_many(good))
    cores = fewest_cores(good, enough)
    return CoresToBuy(good, confidence, cores, None if cores else _too_many(good))


def fewest_cores(start: int, enough: Callable[[int], bool]) -> int | None:
    """Return the least number from `start` up to MOST_CORES that is enough, `None` if none is."""
    low, high = start - 1, start
    while not enough(high):
        if high >= MOST_CORES:
            return None
        low, high = high, min(high * 2, MOST_CORES)
    while high - low > 1:
        middle = (low + high) // 2
        if enough(middle):
            high = middle
        else:
            low = middle
    return high


def _too_many(good: int) -> str:
    return f"{MOST_CORES:,} cores would not be sure to give {good:,} good bodies"
