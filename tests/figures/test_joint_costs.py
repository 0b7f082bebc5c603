"""A core's cost over the parts salvaged from it."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from coretrack.figures.joint_costs import JointProduct, split_by_sales_value, split_by_units

PRODUCTS = st.lists(
    st.builds(JointProduct, st.just("part"), st.integers(0, 500), st.integers(0, 10**7)),
    min_size=1,
    max_size=8,
)


@given(st.integers(0, 10**10), PRODUCTS)
def test_shares_add_up_to_the_joint_cost(total: int, products: list[JointProduct]) -> None:
    if sum(product.sales_value for product in products):
        assert sum(share.cost for share in split_by_sales_value(total, products)) == total
    if sum(product.units for product in products):
        assert sum(share.cost for share in split_by_units(total, products)) == total


def test_a_part_that_sells_for_nothing_has_no_margin() -> None:
    first, second = split_by_sales_value(
        900, [JointProduct("housing", 3, 500), JointProduct("clip", 4, 0)]
    )
    assert (first.cost, second.cost) == (900, 0)
    assert second.margin is None
    assert second.per_unit == 0


def test_parts_without_any_value_cannot_carry_a_cost() -> None:
    with pytest.raises(ValueError, match="add up to more than zero"):
        split_by_sales_value(900, [JointProduct("clip", 4, 0)])
