"""Joint cost at the split-off point.

C. T. Horngren, S. M. Datar and M. V. Rajan, Cost Accounting, 14th edition, p. 581, exhibits 16-2
and 16-3.
"""

from __future__ import annotations

from decimal import Decimal
from fractions import Fraction

from coretrack.figures.joint_costs import JointProduct, split_by_sales_value, split_by_units
from coretrack.figures.money import from_decimal

TOTAL = from_decimal(Decimal(400_000))
PRODUCTS = (
    JointProduct("first", 25_000, from_decimal(Decimal(8))),
    JointProduct("second", 75_000, from_decimal(Decimal(4))),
)


def test_by_sales_value_both_earn_twenty_percent() -> None:
    first, second = split_by_sales_value(TOTAL, PRODUCTS)
    assert first.cost == from_decimal(Decimal(160_000))
    assert second.cost == from_decimal(Decimal(240_000))
    assert first.margin == second.margin == Fraction(1, 5)
    assert first.per_unit == from_decimal(Decimal("6.40"))
    assert second.per_unit == from_decimal(Decimal("3.20"))


def test_by_physical_measure() -> None:
    first, second = split_by_units(TOTAL, PRODUCTS)
    assert first.cost == from_decimal(Decimal(100_000))
    assert second.cost == from_decimal(Decimal(300_000))
