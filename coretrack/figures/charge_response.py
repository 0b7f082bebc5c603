"""How returns answer to the charge or to a buying price: curves, and the best point on each.

    logistic   r(D) = r_max / (1 + exp(-(D - D50) / sigma))
    linear     r(D) = (D - D_min) / (D_max - D_min), held inside 0..1
    result of one unit sold   (1 - r(D)) D + r(D) V
    power supply   S(a) = theta a^k         best a = k / (k + 1) x net value of a core
    linear supply  S(a) = theta (a - a0)    best a = (a0 + net value) / 2

The linear answer to an incentive is that of N. Ghoreishi, M. J. Jakiela and A. Nekouzadeh, Journal
of Remanufacturing 1 (2011) 1 (introduction read); prices and supply curves are the frame of V. D.
R. Guide, R. H. Teunter and L. N. Van Wassenhove, Manufacturing & Service Operations Management 5
(2003) 303 (abstract read). The best points are derived: the first derivative is zero there.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass
from fractions import Fraction

from coretrack.figures.money import Money, shown, whole


@dataclass(frozen=True)
class LogisticReturn:
    """Return rate against the charge: `most` is r_max (0..1), `half_way` D50, `width` sigma."""

    most: float
    half_way: Money
    width: Money

    def rate(self, charge: Money) -> float:
        """Return the share of sold units whose core comes back at `charge`."""
        at = (charge - self.half_way) / self.width
        # Written for either sign, so that a far-off charge cannot overflow.
        if at >= 0:
            return self.most / (1 + math.exp(-at))
        return self.most * math.exp(at) / (1 + math.exp(at))


def linear_return_rate(charge: Money, least: Money, most: Money) -> Fraction:
    """Return (D - D_min) / (D_max - D_min) inside 0..1; ValueError unless least < most."""
    if least >= most:
        raise ValueError("the charge at which all come back lies above the one at which none does")
    return min(Fraction(1), max(Fraction(0), Fraction(charge - least, most - least)))


def result_per_unit(charge: Money, return_rate: float | Fraction, value: Money) -> Money:
    """Return (1 - r) D + r V: what one unit sold leaves of its core, in ten-thousandths."""
    if not 0 <= return_rate <= 1:
        raise ValueError(f"a return rate lies between 0 and 1; {return_rate} does not")
    share = Fraction(return_rate)
    return whole((1 - share) * charge + share * value)


@dataclass(frozen=True)
class ChargeChoice:
    """The charge at which a customer's bother and the core's worth meet, and the one that earns.

    `efficient` is V: at it a core comes back exactly when the bother is less than it is worth.
    `earning` maximises the shop's own result; what lies between the two is earned from customers
    who forget. `None` with `why` when no charge is best.
    """

    efficient: Money
    earning: Money | None
    sentence: str
    why: str | None = None


def best_charge(value: Money, curve: LogisticReturn) -> ChargeChoice:
    """Return V and the charge that maximises (1 - r) D + r V, at D = V + (1 - r) / r'.

    With r_max below 1 the result grows without end as soon as all who will are back: no charge is
    best then. ValueError for a curve that is none.
    """
    if not 0 < curve.most <= 1 or curve.width <= 0:
        raise ValueError("a return curve has a top above 0 and at most 1, and a width above 0")
    if curve.most < 1:
        why = "some never send a core back, so that a higher charge always earns more: no answer"
        return ChargeChoice(value, None, f"the charge that is fair is {shown(value)}", why)

    def slope(charge: float) -> float:
        """Return (V - D) r' + (1 - r), which falls through zero at the best charge."""
        # (1 - r) / r' = sigma / r for a logistic curve that ends at 1.
        at = (charge - curve.half_way) / curve.width
        return value - charge + curve.width * (1 + math.exp(min(700.0, -at)))

    found = whole(Fraction(_zero(slope, float(value), float(curve.width))))
    sentence = (
        f"{shown(value)} is fair: a core comes back when the bother is less than it is worth;"
        f" {shown(found)} would earn the most, from customers who forget"
    )
    return ChargeChoice(value, found, sentence)


def _zero(slope: Callable[[float], float], low: float, width: float) -> float:
    """Return where `slope`, positive at `low` and falling, is zero."""
    high = low + width
    while slope(high) > 0:
        width *= 2
        high += width
    while high - low > 1e-3:
        middle = (low + high) / 2
        if slope(middle) > 0:
            low = middle
        else:
            high = middle
    return (low + high) / 2


def best_price_power(net_value: Money, exponent: Fraction | float) -> Money:
    """Return k / (k + 1) x net value: the buying price where supply grows as a^k (k above 0)."""
    power = Fraction(exponent)
    if power <= 0:
        raise ValueError("a supply that does not grow with the price has no best price")
    return whole(power / (power + 1) * net_value)


def best_price_linear(net_value: Money, least: Money) -> Money:
    """Return (a0 + net value) / 2: the buying price where supply grows evenly from `least` on.

    `least` where a core is worth no more than that: nothing should be bought.
    """
    return max(least, whole(Fraction(least + net_value, 2)))
