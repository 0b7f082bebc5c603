"""The one-screen result of a shop: what the demo prints, the first page shows, the papers draw."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import datetime

from coretrack.figures.charge import ChargeAdvice
from coretrack.figures.costing import CostRow
from coretrack.figures.money import Money
from coretrack.figures.plain_words import counted
from coretrack.figures.yields import YieldRow


@dataclass(frozen=True)
class Attention:
    """Something a person should look at: a short headline, how many of what, and what to do.

    `noun` is what `count` counts, in the singular: core, row, family.
    """

    headline: str
    count: int
    advice: str
    noun: str = "core"

    @property
    def counted(self) -> str:
        """The count with what it counts, as "12 cores"."""
        return counted(self.count, self.noun)


@dataclass(frozen=True)
class ShopSummary:
    """Everything on the one screen; every figure comes from the stored tallies.

    `received` counts every core that came in, whatever became of it. `comebacks` are those that
    wait for their warranty test; once tested they count by their verdict. `kept` are all good
    bodies: those on the shelf and the `built` ones among them, which were picked for a unit.
    """

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
    excess: int
    comebacks: int
    credits_paid: Money
    open_lines: int
    open_line_money: Money
    yields: tuple[YieldRow, ...]
    costs: tuple[CostRow, ...]
    charges: tuple[ChargeAdvice, ...]
    by_source: tuple[CostRow, ...]
    by_lot: tuple[CostRow, ...]
    attention: tuple[Attention, ...]
    source_names: Mapping[str, str] = field(default_factory=dict)
    left: int = 0
    built: int = 0

    @property
    def on_shelf(self) -> int:
        """Good bodies that were not picked for a build."""
        return self.kept - self.built

    @property
    def whereabouts(self) -> tuple[tuple[str, int], ...]:
        """What became of the cores that came in: every core once, so that it adds up."""
        return (
            (self._good_words, self.kept),
            ("in rework", self.in_rework),
            ("scrapped", self.scrapped),
            ("undecided", self.undecided),
            ("waiting", self.waiting),
            ("unknown", self.unknown),
            ("refused", self.refused),
            ("excess", self.excess),
            ("comebacks", self.comebacks),
            # Said once it happens: most shops look at this line for months without a core in it.
            *((("no longer here", self.left),) if self.left else ()),
        )

    @property
    def _good_words(self) -> str:
        """Good bodies in words; the split is said once a body was picked for a build."""
        if not self.built:
            return "good"
        return f"good ({self.on_shelf:,} on the shelf + {self.built:,} built)"

    @property
    def source_lost(self) -> int:
        """Cores that lost their source: in their family's figures, in no source's and no lot's."""
        return sum(row.counts.source_lost for row in self.yields)
