"""How many to start, to stock or to buy and sort, weighed by money.

* Reject allowance: start Q pieces for k good ones; the profit expected from each Q (the problem of
  the facilities-planning textbooks, J. A. Tompkins et al., Facilities Planning; attribution from
  memory).
* Newsvendor: stock the quantity whose chance of being enough is Cu / (Cu + Co) (G. Cachon and C.
  Terwiesch, Matching Supply with Demand).
* Acquire and sort: with the condition of cores even on [0, 1] and the cost of bringing one back
  rising with it, buy Q = sqrt(b D (D + 1) / (2 a)) - 1 for the best D of them; sort up to the
  condition where one more body costs what a good body costs on average. Derived for the setting of
  M. R. Galbreth and J. D. Blackburn, Production and Operations Management 15 (2006) 384 (abstract
  read).
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction

from coretrack.figures.discrete import at_least, binomial
from coretrack.figures.intervals import normal_quantile
from coretrack.figures.money import Money, whole


@dataclass(frozen=True)
class StartChoice:
    """Starting `started` pieces: expected profit, chance of all `wanted` good, chance of a loss.

    A loss is a result below nothing. Profit in ten-thousandths, rounded once.
    """

    started: int
    wanted: int
    profit: Money
    chance_enough: float
    chance_of_loss: float


@dataclass(frozen=True)
class OrderTerms:
    """`wanted` good pieces pay `price` each, if all are there; less earns nothing of it.

    `cost` is spent on each piece started; `left_over` is what every piece not sold brings, good or
    bad.
    """

    wanted: int
    price: Money
    cost: Money
    left_over: Money = 0


def start_choice(terms: OrderTerms, share_good: float, started: int) -> StartChoice:
    """Return what is expected of starting `started` pieces. ValueError for nothing wanted."""
    if terms.wanted < 1 or started < 0:
        raise ValueError(f"{started} started for {terms.wanted} wanted makes no order")
    chances = binomial(started, share_good)
    enough = at_least(chances, terms.wanted)
    unsold = started - terms.wanted
    met = terms.price * terms.wanted + terms.left_over * unsold - terms.cost * started
    missed = (terms.left_over - terms.cost) * started
    exact = Fraction(missed) + (met - missed) * Fraction(enough)
    loss = (1 - enough if missed < 0 else 0.0) + (enough if met < 0 else 0.0)
    return StartChoice(started, terms.wanted, whole(exact), enough, loss)


def start_choices(
    terms: OrderTerms, share_good: float, most_more: int = 50
) -> tuple[StartChoice, ...]:
    """Return the choices from `wanted` pieces up to `most_more` more."""
    return tuple(
        start_choice(terms, share_good, terms.wanted + more) for more in range(most_more + 1)
    )


def best_start(terms: OrderTerms, share_good: float, most_more: int = 50) -> StartChoice:
    """Return the choice with the highest expected profit; the fewest pieces where two tie."""
    return max(start_choices(terms, share_good, most_more), key=lambda c: (c.profit, -c.started))


def critical_ratio(missing: Money, surplus: Money) -> Fraction:
    """Return Cu / (Cu + Co): what a missing body costs against one too many.

    ValueError for a negative cost, or when neither costs anything.
    """
    if missing < 0 or surplus < 0 or missing + surplus == 0:
        raise ValueError("a missing and a surplus body each cost zero or more, one of them more")
    return Fraction(missing, missing + surplus)


def stock_for(chances: Sequence[float], ratio: Fraction) -> int:
    """Return the fewest bodies that are enough with chance `ratio`.

    `chances[k]` is the chance that k are wanted; they add up to 1. ValueError for none.
    """
    if not chances:
        raise ValueError("a demand has at least one possible size")
    reached = 0.0
    for count, chance in enumerate(chances):
        reached += chance
        if reached >= float(ratio):
            return count
    return len(chances) - 1


def stock_for_normal(mean: float, sd: float, ratio: Fraction) -> float:
    """Return mean + z sd for a normal demand; ValueError unless the ratio lies between 0 and 1."""
    if not 0 < ratio < 1:
        raise ValueError("the ratio lies between 0 and 1; at its ends no quantity is best")
    return mean + normal_quantile(float(ratio)) * sd


@dataclass(frozen=True)
class SortChoice:
    """Cores to buy and sort for `wanted` bodies, and what that costs in all (ten-thousandths)."""

    wanted: int
    cores: int
    cost: Money


def sort_cost(wanted: int, cores: int, price: Money, worst_rework: Money) -> Fraction:
    """Return a Q + b D (D + 1) / (2 (Q + 1)): cores bought, and the best `wanted` brought back."""
    if not 1 <= wanted <= cores:
        raise ValueError(f"{wanted} bodies cannot come from {cores} cores")
    return price * cores + Fraction(worst_rework * wanted * (wanted + 1), 2 * (cores + 1))


def cores_to_sort(wanted: int, price: Money, worst_rework: Money) -> SortChoice:
    """Return the cheapest number of cores to buy and sort; ValueError unless the price is above 0.

    `worst_rework` is b, what bringing back the worst core costs; the best one costs nothing.
    """
    if price <= 0 or worst_rework < 0:
        raise ValueError("a core costs more than nothing, and a rework zero or more")
    exact = math.sqrt(worst_rework * wanted * (wanted + 1) / (2 * price)) - 1
    around = {max(wanted, math.floor(exact) + step) for step in (0, 1)}
    cores = min(around, key=lambda q: (sort_cost(wanted, q, price, worst_rework), q))
    return SortChoice(wanted, cores, whole(sort_cost(wanted, cores, price, worst_rework)))


def sort_cut_off(core_and_discard: Money, rework_slope: Money) -> float:
    """Return t = sqrt(2 (c_a + c_s) / g1), at most 1: the worst condition still worth a rework.

    Condition even on [0, 1], rework cost g0 + g1 x condition; c_a + c_s is a core with the discard
    of those not used. ValueError unless the slope is above 0.
    """
    if core_and_discard < 0 or rework_slope <= 0:
        raise ValueError("a rework must cost more on a worse core, and a core nothing or more")
    return min(1.0, math.sqrt(2 * core_and_discard / rework_slope))
