"""Normal and abnormal scrap: what good bodies must carry, and what is a loss of the period.

Weighted-average process costing with inspection at the end: every unit worked on, good or spoiled,
costs the same; good units carry the spoilage that is normal, the rest is abnormal and is shown
apart. Nothing is rounded before it is multiplied: rounding a unit cost to the cent first moves the
abnormal loss of the published example by 11. Source: C. T. Horngren, S. M. Datar and M. V. Rajan,
Cost Accounting, chapter on spoilage, rework and scrap.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction

from coretrack.figures.money import Money, allocate


@dataclass(frozen=True)
class CostElement:
    """One kind of cost (materials, conversion) of a process over a period.

    `ending_done` is the share of this cost that the ending work in process already carries, 0..1.
    """

    name: str
    beginning: Money
    added: Money
    ending_done: Fraction | Decimal


@dataclass(frozen=True)
class ProcessCost:
    """Units, and costs as exact fractions of ten-thousandths; the four costs add up to `total`."""

    spoiled: int
    normal: Fraction
    abnormal: Fraction
    equivalent_units: tuple[Fraction, ...]
    unit_costs: tuple[Fraction, ...]
    good_cost: Fraction
    normal_cost: Fraction
    abnormal_cost: Fraction
    ending_cost: Fraction
    total: Money

    @property
    def transferred_out(self) -> Fraction:
        """Cost of the good units with the normal spoilage they carry."""
        return self.good_cost + self.normal_cost

    def in_money(self) -> tuple[Money, Money, Money, Money]:
        """Return good, normal, abnormal and ending cost in whole counts that add up to `total`."""
        parts = (self.good_cost, self.normal_cost, self.abnormal_cost, self.ending_cost)
        if self.total == 0:
            return 0, 0, 0, 0
        good, normal, abnormal, ending = allocate(self.total, parts)
        return good, normal, abnormal, ending


def split_scrap(
    good: int, scrapped: int, standard_yield: Decimal | Fraction
) -> tuple[Fraction, Fraction]:
    """Split scrapped cores into normal and abnormal against a standard yield.

    At the standard, good bodies come with good x (1 - standard) / standard scrapped ones: that many
    are normal, and never more than there are. ValueError unless 0 < standard_yield <= 1.
    """
    standard = Fraction(standard_yield)
    if not 0 < standard <= 1:
        raise ValueError(f"a standard yield lies above 0 and at most 1; {standard_yield} does not")
    return _split(scrapped, good * (1 - standard) / standard)


def process_cost(
    beginning: int,
    started: int,
    completed: int,
    ending: int,
    elements: Sequence[CostElement],
    normal_share: Decimal | Fraction,
) -> ProcessCost:
    """Cost a period by the weighted-average method.

    `normal_share` is the normal spoilage per good unit.

    ValueError when more units leave than came in, when a share lies outside 0..1, or when there is
    cost but nothing to carry it.
    """
    spoiled = beginning + started - completed - ending
    if min(beginning, started, completed, ending, spoiled) < 0:
        raise ValueError(
            f"{completed} completed and {ending} still in process are more than the"
            f" {beginning + started} that came in"
        )
    if Fraction(normal_share) < 0:
        raise ValueError("normal spoilage cannot be negative")
    normal, abnormal = _split(spoiled, completed * Fraction(normal_share))
    units, unit_costs, ending_cost = [], [], Fraction(0)
    for element in elements:
        done = Fraction(element.ending_done)
        if not 0 <= done <= 1:
            raise ValueError(f"{element.name}: work done lies between 0 and 1, not {done}")
        equivalent = completed + spoiled + ending * done
        cost = element.beginning + element.added
        if equivalent == 0 and cost != 0:
            raise ValueError(f"{element.name}: there is cost but no unit to carry it")
        unit_cost = Fraction(cost) / equivalent if equivalent else Fraction(0)
        units.append(equivalent)
        unit_costs.append(unit_cost)
        ending_cost += ending * done * unit_cost
    per_unit = sum(unit_costs, Fraction(0))
    return ProcessCost(
        spoiled=spoiled,
        normal=normal,
        abnormal=abnormal,
        equivalent_units=tuple(units),
        unit_costs=tuple(unit_costs),
        good_cost=completed * per_unit,
        normal_cost=normal * per_unit,
        abnormal_cost=abnormal * per_unit,
        ending_cost=ending_cost,
        total=sum(element.beginning + element.added for element in elements),
    )


def _split(spoiled: int, allowed: Fraction) -> tuple[Fraction, Fraction]:
    normal = min(Fraction(spoiled), allowed)
    return normal, spoiled - normal
