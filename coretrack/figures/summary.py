"""The one-screen result of a shop: what the demo prints, the first page shows, the papers draw."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime

from coretrack.figures.charge import ChargeAdvice
from coretrack.figures.costing import CostRow
from coretrack.figures.money import Money
from coretrack.figures.yields import YieldRow


@dataclass(frozen=True)
class Attention:
    """Something a person should look at: a short headline, how many, and what to do."""

    headline: str
    count: int
    advice: str


@dataclass(frozen=True)
class ShopSummary:
    """Everything on the one screen; every figure comes from the stored tallies."""

    shop_name: str
    currency: str
    made_at: datetime
    received: int
    refused: int
    unknown: int
    kept: int
    in_rework: int
    scrapped: int
    undecided: int
    waiting: int
    credits_paid: Money
    open_lines: int
    open_line_money: Money
    yields: tuple[YieldRow, ...]
    costs: tuple[CostRow, ...]
    charges: tuple[ChargeAdvice, ...]
    by_source: tuple[CostRow, ...]
    by_lot: tuple[CostRow, ...]
    attention: tuple[Attention, ...]
