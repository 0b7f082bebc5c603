"""Weighted-average process costing with spoilage.

Recycling containers: C. T. Horngren, S. M. Datar and M. V. Rajan, Cost Accounting, chapter on
spoilage (from memory; every figure recomputes). Small tables: a test-bank item of the same family,
read with the answer 25,177. Mini case: a published examination answer.
"""

from __future__ import annotations

from decimal import ROUND_HALF_UP, Decimal
from fractions import Fraction

from coretrack.figures.costing import CostParts, cost_row
from coretrack.figures.money import UNIT, from_decimal, to_cents, whole
from coretrack.figures.spoilage import CostElement, ProcessCost, process_cost
from coretrack.figures.yields import Counts, yield_row


def _money(units: str) -> int:
    return from_decimal(Decimal(units))


def _containers() -> ProcessCost:
    return process_cost(
        beginning=1500,
        started=8500,
        completed=7000,
        ending=2000,
        elements=[
            CostElement("materials", _money("12000"), _money("76500"), Fraction(1)),
            CostElement("conversion", _money("9000"), _money("89100"), Fraction(1, 2)),
        ],
        normal_share=Decimal("0.10"),
    )


def _tables() -> ProcessCost:
    return process_cost(
        beginning=22300,
        started=76400,
        completed=72900,
        ending=19000,
        elements=[
            CostElement("materials", _money("156000"), _money("224400"), Fraction(1)),
            CostElement("conversion", _money("77200"), _money("299000"), Decimal("0.60")),
        ],
        normal_share=Decimal("0.05"),
    )


def test_recycling_containers_to_the_cent() -> None:
    found = _containers()
    assert found.spoiled == 1000
    assert (found.normal, found.abnormal) == (700, 300)
    assert found.equivalent_units == (10000, 9000)
    assert found.unit_costs == (_money("8.85"), _money("10.90"))
    assert found.good_cost == _money("138250")
    assert found.normal_cost == _money("13825")
    assert found.transferred_out == _money("152075")
    assert found.transferred_out / 7000 == _money("21.725")
    assert found.abnormal_cost == _money("5925")
    assert found.ending_cost == _money("28600")
    assert found.total == _money("186600")
    assert sum(found.in_money()) == _money("186600")


def test_small_tables_without_rounding_the_unit_cost() -> None:
    found = _tables()
    assert found.spoiled == 6800
    assert (found.normal, found.abnormal) == (3645, 3155)
    assert found.equivalent_units == (98700, 91100)
    assert to_cents(whole(found.abnormal_cost)) == Decimal("25188.36")
    assert to_cents(whole(found.good_cost)) == Decimal("582006.72")
    assert to_cents(whole(found.normal_cost)) == Decimal("29100.34")
    assert to_cents(whole(found.transferred_out)) == Decimal("611107.06")
    assert round(float(found.transferred_out / 72900 / UNIT), 6) == 8.382813
    assert to_cents(whole(found.ending_cost)) == Decimal("120304.58")


def test_small_tables_parts_add_up_to_all_money_spent() -> None:
    found = _tables()
    assert sum(found.in_money()) == found.total == _money("756600")
    exact = found.good_cost + found.normal_cost + found.abnormal_cost + found.ending_cost
    assert exact == found.total


def test_printed_abnormal_loss_is_reached_only_by_rounding_unit_costs_first() -> None:
    found = _tables()
    cents = [
        (Decimal(whole(cost)) / UNIT).quantize(Decimal("0.01"), ROUND_HALF_UP)
        for cost in found.unit_costs
    ]
    assert cents == [Decimal("3.85"), Decimal("4.13")]
    assert (found.abnormal * Fraction(sum(cents))) == Fraction("25176.90")
    assert to_cents(whole(found.abnormal_cost)) != Decimal("25176.90")


def test_mini_case_as_a_cost_row() -> None:
    """2,200 spent, 500 good, 30 normally and 20 abnormally spoiled: 4.24 carried, 80 lost."""
    counts = Counts(received=550, decided=550, kept_first_pass=500, scrapped=50)
    row = cost_row(
        yield_row("mini case", counts),
        CostParts(price=_money("2200")),
        standard_yield=Fraction(500, 530),
    )
    assert row.cost_per_core == _money("4")
    assert row.normal_scrap == _money("0.24")
    assert row.abnormal_scrap is not None
    assert row.abnormal_scrap * 500 == _money("80")
    assert (row.cost_per_core + row.normal_scrap) * 500 == _money("2120")
