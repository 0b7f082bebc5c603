"""Stock by state and age at what it is worth, the cores nobody has looked at, obsolete families.

A core part-way through is worth V = y G + (1 - y) s - c with the yield still to be expected of it
and only the processing still to be spent; what was spent already is sunk. A good body is worth G.
Derived. It is no figure for the books: price paid and market price stand beside it there.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date
from fractions import Fraction

from coretrack.figures.charge import value_of_core
from coretrack.figures.intervals import Interval
from coretrack.figures.money import Money, shown, whole
from coretrack.figures.plain_words import are, counted, percent

AGE_EDGES = (30, 90, 180, 365)
"""Last day of each age class but the last, which is open."""

GRAVEYARD_DAYS = 90
"""A core that waits longer than this without a verdict lies in the graveyard (our own habit)."""


@dataclass(frozen=True)
class StockCore:
    """One core in the house. `paid` is price, freight or credit posted to it (ten-thousandths).

    `worth` is V for its state, `None` where it cannot be told; `waiting` says whether it still
    waits for a verdict.
    """

    tag: str
    family: str
    state: str
    since: date
    paid: Money
    worth: Money | None
    waiting: bool


@dataclass(frozen=True)
class StockCell:
    """Cores of one state and age class; `worth` adds up what is known, `untold` of them are not."""

    state: str
    least_days: int
    most_days: int | None
    cores: int
    paid: Money
    worth: Money
    untold: int


@dataclass(frozen=True)
class StockSheet:
    """All cores in the house on one day, by state and age. Cells add up to the totals.

    `worth` is `None`, with `why`, when no core's worth is known; `graveyard` cores have waited
    longer than `graveyard_days` and hold `graveyard_share` of all cores (`None` with no core).
    """

    on: date
    cells: tuple[StockCell, ...]
    cores: int
    paid: Money
    worth: Money | None
    untold: int
    graveyard: int
    graveyard_share: float | None
    graveyard_days: int
    sentence: str
    why: str | None = None


def stock_sheet(
    cores: Iterable[StockCore],
    today: date,
    edges: Sequence[int] = AGE_EDGES,
    graveyard_days: int = GRAVEYARD_DAYS,
) -> StockSheet:
    """Return the stock on `today`, states in the order they first come, empty cells left out.

    ValueError for a core that came after today.
    """
    stock = list(cores)
    ages = {}
    for core in stock:
        ages[core.tag] = (today - core.since).days
        if ages[core.tag] < 0:
            raise ValueError(f"core {core.tag} came after {today}")
    untold = sum(core.worth is None for core in stock)
    dead = sum(core.waiting and ages[core.tag] > graveyard_days for core in stock)
    worth = sum(core.worth or 0 for core in stock) if untold < len(stock) else None
    why = None
    if not stock:
        why = "no core is in the house"
    elif worth is None:
        why = "what the cores are worth is not known: a good body has no value yet"
    return StockSheet(
        on=today,
        cells=_cells(stock, ages, edges),
        cores=len(stock),
        paid=sum(core.paid for core in stock),
        worth=worth,
        untold=untold,
        graveyard=dead,
        graveyard_share=dead / len(stock) if stock else None,
        graveyard_days=graveyard_days,
        sentence=_stock_told(len(stock), worth, untold, dead, graveyard_days),
        why=why,
    )


def _cells(
    stock: Sequence[StockCore], ages: dict[str, int], edges: Sequence[int]
) -> tuple[StockCell, ...]:
    starts = [0, *(edge + 1 for edge in edges)]
    ends: list[int | None] = [*edges, None]
    cells = []
    for state in dict.fromkeys(core.state for core in stock):
        for least, most in zip(starts, ends, strict=True):
            inside = [
                core
                for core in stock
                if core.state == state
                and ages[core.tag] >= least
                and (most is None or ages[core.tag] <= most)
            ]
            if inside:
                cells.append(
                    StockCell(
                        state,
                        least,
                        most,
                        len(inside),
                        sum(core.paid for core in inside),
                        sum(core.worth or 0 for core in inside),
                        sum(core.worth is None for core in inside),
                    )
                )
    return tuple(cells)


def _stock_told(cores: int, worth: Money | None, untold: int, dead: int, days: int) -> str:
    if cores == 0:
        return "no core is in the house"
    told = f"{counted(cores, 'core')} worth {shown(worth)}"
    if untold and worth is not None:
        told += f" without {untold:,} whose worth is not known"
    if dead:
        told += f"; {dead:,} have waited over {days} days for a verdict ({percent(dead / cores)})"
    return told


@dataclass(frozen=True)
class NotKnowing:
    """What it costs not to know how many good bodies lie among cores that wait.

    `good` bodies are expected in them, `good_low` to `good_high` by the yield's interval. `worth`
    (with its ends) is what grading them would bring: the bodies would not have to be bought at G,
    less what is still to be spent. `tied` is the money paid for them. `None` with `why` while an
    input lacks.
    """

    cores: int
    tied: Money
    good: Fraction | None
    good_low: Fraction | None
    good_high: Fraction | None
    worth: Money | None
    worth_low: Money | None
    worth_high: Money | None
    sentence: str
    why: str | None = None


def not_knowing(
    cores: int,
    tied: Money,
    body_yield: Fraction | None,
    interval: Interval,
    good_body: Money | None,
    scrap: Money | None,
    to_spend: Money | None,
) -> NotKnowing:
    """Return what waits unseen in `cores` of one family; `to_spend` is c still to come per core.

    A core that would lose money is not graded: its worth then counts as nothing, at each end by
    itself. ValueError for a negative number of cores.
    """
    if cores < 0:
        raise ValueError(f"{cores} cores cannot wait")
    lacking = [
        name
        for name, value in (
            ("yield", body_yield),
            ("value of a good body", good_body),
            ("scrap recovery", scrap),
            ("processing cost", to_spend),
        )
        if value is None
    ]
    if body_yield is None or good_body is None or scrap is None or to_spend is None:
        why = f"no {', no '.join(lacking)} is known for these cores"
        return NotKnowing(cores, tied, *(6 * (None,)), sentence=why, why=why)
    ends = [
        body_yield,
        Fraction(interval.low) if interval.low is not None else None,
        Fraction(interval.high) if interval.high is not None else None,
    ]
    good = [None if share is None else cores * share for share in ends]
    each = [
        None if share is None else max(0, value_of_core(share, good_body, scrap, to_spend))
        for share in ends
    ]
    worth = [None if value is None else cores * value for value in each]
    known = sorted(value for value in worth if value is not None)
    low, high = (known[0], known[-1]) if None not in worth else (None, None)
    sentence = _not_knowing_told(cores, tied, good[1], good[2], worth[0], low, high)
    return NotKnowing(cores, tied, good[0], good[1], good[2], worth[0], low, high, sentence)


def _not_knowing_told(
    cores: int,
    tied: Money,
    good_low: Fraction | None,
    good_high: Fraction | None,
    worth: Money | None,
    low: Money | None,
    high: Money | None,
) -> str:
    told = f"{are(cores, 'core')} waiting with {shown(tied)} in them"
    if not worth:
        return f"{told}: as things stand, grading them does not pay"
    if good_low is not None and good_high is not None:
        told += f"; {int(good_low):,} to {-int(-good_high // 1):,} good bodies may lie there"
    span = f" ({shown(low)} to {shown(high)})" if low is not None and low != high else ""
    return f"{told}; grading them is worth {shown(worth)}{span}"


@dataclass(frozen=True)
class FamilyStock:
    """One family: units `sold` in the months looked at, good `bodies` and undecided `cores` held.

    `body_yield` is the yield to expect of the cores; `metal` what one brings as scrap, `worth` V.
    """

    family: str
    sold: int
    bodies: int
    cores: int
    body_yield: Fraction | None
    metal: Money | None = None
    worth: Money | None = None
    last_sold: date | None = None


@dataclass(frozen=True)
class Obsolete:
    """Stock against demand. `months_held` is how long the stock lasts, `None` without a sale.

    `beyond` cores are more than the horizon needs; scrapping them brings `metal_money`, `None`
    where the metal has no price. `obsolete` says that nothing was sold at all.
    """

    family: str
    months_held: Fraction | None
    expected_bodies: Fraction | None
    beyond: int
    metal_money: Money | None
    obsolete: bool
    sentence: str
    why: str | None = None


def obsolete_families(
    stock: Iterable[FamilyStock], months: int = 12, horizon: int = 12
) -> tuple[Obsolete, ...]:
    """Return the families that hold more than `horizon` months of demand, most metal first.

    `sold` covers `months`. It proposes and scraps nothing; the oldest and worst cores go first.
    ValueError unless both are above 0.
    """
    if months <= 0 or horizon <= 0:
        raise ValueError("months looked at and ahead are above 0")
    found = [_obsolete(family, months, horizon) for family in stock]
    wanted = [entry for entry in found if entry.beyond or entry.obsolete]
    return tuple(sorted(wanted, key=lambda o: (-(o.metal_money or 0), -o.beyond, o.family)))


def _obsolete(held: FamilyStock, months: int, horizon: int) -> Obsolete:
    # Without a yield a core counts as one body: nothing is proposed for scrap that might be needed.
    share = Fraction(1) if held.body_yield is None else held.body_yield
    bodies = held.bodies + held.cores * share
    need = Fraction(held.sold * horizon, months)
    lasts = None if held.sold == 0 else bodies * months / held.sold
    extra = max(Fraction(0), bodies - need)
    beyond = min(held.cores, int(extra / share)) if share else held.cores
    gone = held.sold == 0 and held.cores + held.bodies > 0
    money = None if held.metal is None else whole(Fraction(beyond * held.metal))
    told = f"{held.family}: {counted(held.cores, 'core')}, {held.bodies:,} good bodies"
    told += f", {held.sold:,} sold in {months} months"
    if gone:
        told += "; nothing was sold, keep or scrap is the owner's decision"
    elif beyond:
        told += f"; {counted(beyond, 'core')} more than {horizon} months need"
    if beyond and money is not None:
        told += f" ({shown(money)} as metal)"
    why = None if held.body_yield is not None else "no yield: every core counts as a body"
    expected = None if held.body_yield is None else bodies
    return Obsolete(held.family, lasts, expected, beyond, money, gone, told, why)
