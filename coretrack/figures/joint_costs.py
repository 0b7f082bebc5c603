"""Splitting one core's cost over the several parts salvaged from it.

By sales value at the split-off point, or by a physical measure. The parts add up to the total
exactly (largest remainder). Source: C. T. Horngren, S. M. Datar and M. V. Rajan, Cost Accounting,
chapter on joint products.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction

from coretrack.figures.money import Money, allocate


@dataclass(frozen=True)
class JointProduct:
    """So many units of a salvaged part, and what one of them sells for."""

    name: str
    units: int
    price: Money = 0

    @property
    def sales_value(self) -> Money:
        return self.units * self.price


@dataclass(frozen=True)
class JointShare:
    """What one salvaged part carries; per-unit cost and margin exact, `None` when undefined."""

    name: str
    cost: Money
    per_unit: Fraction | None
    margin: Fraction | None


def split_by_sales_value(total: Money, products: Sequence[JointProduct]) -> tuple[JointShare, ...]:
    """Split `total` in proportion to sales value; ValueError when nothing has one."""
    return _shares(total, products, [product.sales_value for product in products])


def split_by_units(total: Money, products: Sequence[JointProduct]) -> tuple[JointShare, ...]:
    """Split `total` in proportion to the number of units; ValueError when there are none."""
    return _shares(total, products, [product.units for product in products])


def _shares(
    total: Money, products: Sequence[JointProduct], weights: Sequence[int]
) -> tuple[JointShare, ...]:
    costs = allocate(total, weights)
    shares = []
    for product, cost in zip(products, costs, strict=True):
        per_unit = Fraction(cost, product.units) if product.units else None
        value = product.sales_value
        margin = Fraction(value - cost, value) if value else None
        shares.append(JointShare(product.name, cost, per_unit, margin))
    return tuple(shares)
