"""A made-up shop for tests of pages and papers: five families, two of them without a cost.

Names and amounts are invented. `cores` figures are consistent with one another: what was received
is what was refused, is unknown, waits or has a verdict.
"""

from __future__ import annotations

from datetime import UTC, date, datetime
from decimal import Decimal

from coretrack.figures.charge import (
    ChargeAdvice,
    ChargeInputs,
    GoodBodyValue,
    LotMoney,
    charge_advice,
    good_body_value,
)
from coretrack.figures.costing import CostParts, CostRow, cost_row
from coretrack.figures.money import Money, from_decimal
from coretrack.figures.summary import Attention, ShopSummary
from coretrack.figures.yields import Counts, YieldRow, yield_row

NAMES = {
    "INJ": "Injector body, 7 mm guide",
    "TUR": "Turbo housing, size 3",
    "CAL": "Brake caliper, rear",
    "PMP": "Gear pump body",
    "ALT": "Alternator frame",
}


def money(text: str) -> Money:
    """Return currency units written as text, as money."""
    return from_decimal(Decimal(text))


def sample_yield(group: str, received: int, first: int, rework: int, scrapped: int) -> YieldRow:
    """Return a yield row for these pieces."""
    decided = first + rework + scrapped
    lost = 1 if group == "INJ" else 0
    return yield_row(group, Counts(received, decided, first, rework, scrapped, rework + 9, 4, lost))


PARTS = {
    "price": "4.10",
    "freight": "0.62",
    "credit": "13.20",
    "receive": "0.85",
    "wash": "2.10",
    "inspect": "3.45",
    "rework": "1.90",
    "reinspect": "0.55",
    "disposal": "0.05",
    "recovery": "0.06",
}


def sample_cost(yields: YieldRow, scale: str = "1") -> CostRow:
    """Return a cost row on the books of which each decided core took `PARTS` times `scale`."""
    decided = yields.counts.decided
    spent = {
        name: from_decimal(Decimal(each) * Decimal(scale) * decided) for name, each in PARTS.items()
    }
    return cost_row(yields, CostParts(**spent), (), Decimal("0.70"))


def sample_charge(
    cost: CostRow, value: GoodBodyValue | None, processing: str | None, prices: dict[str, str]
) -> ChargeAdvice:
    """Return the charge line of a family from its cost row and the prices outside the shop."""
    price = {name: money(text) for name, text in prices.items()}
    inputs = ChargeInputs(
        processing=None if processing is None else money(processing),
        scrap_recovery=money("0.16"),
        sourcing=money("1.50"),
        bother=money("1.20"),
        credit_chance=Decimal("0.95"),
        broker_price=price.get("broker"),
        open_market_price=price.get("market"),
        new_body_price=price.get("new"),
        charge_today=price.get("today"),
        charge_since=date(2026, 3, 2) if "today" in price else None,
    )
    name = NAMES[cost.group]
    return charge_advice(cost.group, name, cost.yields, value, inputs, cost)


def sample_summary() -> ShopSummary:
    """Return the made-up shop. PMP has no decided core, ALT has decided cores but no good one."""
    rows = (
        sample_yield("INJ", 412, 198, 61, 121),
        sample_yield("TUR", 96, 58, 9, 22),
        sample_yield("CAL", 150, 121, 6, 17),
        sample_yield("PMP", 18, 0, 0, 0),
        sample_yield("ALT", 14, 0, 0, 14),
    )
    scales = ("1", "3.4", "1.6", "1", "0.8")
    costs = tuple(sample_cost(row, scale) for row, scale in zip(rows, scales, strict=True))
    lots = (LotMoney("Lot 7", 52, 27, money("1250.40")), LotMoney("Lot 9", 119, 110, money("4280")))
    values = (
        good_body_value(lots, money("118.00")),
        good_body_value((LotMoney("Lot 4", 40, 29, money("2943.50")),), money("140.00")),
        good_body_value((), money("64.00")),
        None,
        good_body_value((), None, money("11.00")),
    )
    prices = (
        {"broker": "12.00", "market": "31.00", "new": "118.00", "today": "18.00"},
        {"broker": "38.50", "market": "96.00", "new": "140.00", "today": "55.00"},
        {"broker": "17.00", "market": "58.00", "new": "64.00", "today": "54.00"},
        {"new": "88.00", "today": "22.00"},
        {"broker": "3.50", "new": "42.00"},
    )
    processing = ("8.85", "30.10", "14.20", None, "7.10")
    charges = tuple(
        sample_charge(*each) for each in zip(costs, values, processing, prices, strict=True)
    )
    sources = (
        ("Customers", 384, 190, 50, 104),
        ("Broker lots", 196, 150, 22, 20),
        ("Salvage yards", 78, 37, 4, 36),
    )
    bought = (("Lot 7, salvage yard", 52, 24, 3, 25), ("Lot 9, broker", 120, 96, 14, 9))
    return ShopSummary(
        shop_name="Brook Lane Cores",
        currency="USD",
        made_at=datetime(2026, 6, 8, 6, 30, tzinfo=UTC),
        received=722,
        refused=21,
        unknown=6,
        kept=453,
        in_rework=19,
        scrapped=174,
        undecided=11,
        waiting=33,
        excess=3,
        comebacks=2,
        credits_paid=money("6412.50"),
        open_lines=87,
        open_line_money=money("2190.00"),
        yields=rows,
        costs=costs,
        charges=charges,
        by_source=tuple(sample_cost(sample_yield(*source)) for source in sources),
        by_lot=tuple(sample_cost(sample_yield(*lot)) for lot in bought),
        attention=(
            Attention("not identified", 6, "look for a casting number or a like body"),
            Attention("bore gauge BG-2 past its due date", 1, "calibrate or recall", "gauge"),
            Attention("waiting longer than 30 days", 12, "grade the oldest first"),
        ),
        source_names={"Broker lots": "Fenn Brokers"},
    )
