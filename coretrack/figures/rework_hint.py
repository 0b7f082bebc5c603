"""Whether a rework operation pays: plain words for the bench, its money for the owner."""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction

from coretrack.figures.intervals import wilson
from coretrack.figures.money import Money, shown
from coretrack.figures.rework import ReworkWorth, rework_pays
from coretrack.figures.wording import money_bounds, sentence


@dataclass(frozen=True)
class ReworkHint:
    """What is said of an operation: `words` for everybody, `money` for the owner, "" without any.

    `chip` is the shape beside it: good (pays), stop (scrapping is cheaper) or ask (not known).
    """

    words: str
    money: str
    chip: str


def rework_hint(
    cost: Money | None,
    good: int,
    passes: int,
    good_value: Money | None,
    scrap_value: Money,
) -> ReworkHint:
    """Return the hint from (c_r + c_j)/rho < G - s; see `rework.rework_pays`.

    `cost` is c_r + c_j of one pass, None while a rate it needs is not set. `passes` are those on
    bodies that are decided, `good` the good bodies among these: rho is their quotient, with its
    Wilson interval. `good_value` G, `scrap_value` s.
    """
    if cost is None:
        return _unknown("the labour rate is not set")
    rho = Fraction(good, passes) if passes else None
    interval = wilson(good, passes) if passes else None
    ends = None
    if interval is not None and interval.low is not None and interval.high is not None:
        ends = (interval.low, interval.high)
    worth = rework_pays(cost, rho, good_value, scrap_value, interval=ends)
    if worth.pays is None:
        return _unknown(worth.why or "too little is known")
    return ReworkHint(_words(worth, good, passes), _money(worth), "good" if worth.pays else "stop")


def _unknown(why: str) -> ReworkHint:
    return ReworkHint(f"Not known whether reworking pays: {why}.", "", "ask")


def _words(worth: ReworkWorth, good: int, passes: int) -> str:
    noun = "pass" if passes == 1 else "passes"
    so_far = f"{good} of {passes:,} {noun} so far ended in a good body"
    if worth.settled:
        said = "Reworking pays" if worth.pays else "Scrapping is cheaper"
        return f"{said}: {so_far}."
    said = "Reworking seems to pay" if worth.pays else "Scrapping seems cheaper"
    return f"{said}: {so_far}, too few to be sure."


def _money(worth: ReworkWorth) -> str:
    gain = f"a good body from elsewhere is worth {shown(worth.gain)} more than its scrap"
    if worth.per_saved is None:
        return sentence(f"no body was saved yet; {gain}")
    between = money_bounds(worth.per_saved_low, worth.per_saved_high)
    more = f" ({between})" if between else ""
    return sentence(f"one saved body costs {shown(worth.per_saved)}{more} in rework; {gain}")
