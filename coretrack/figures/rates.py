"""Dated rates, and what one step on one core costs by the rates of its day.

A cost is worked out once, on the day of the step, and posted; a later rate never changes it.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from fractions import Fraction

from coretrack.figures.money import Money, nearest
from coretrack.figures.plans import Operation

STEPS = ("receive", "wash", "inspect", "reinspect")
"""Steps with rates of their own: `<step>_minutes` at `labour` per hour, `<step>_consumables`."""

FIXED_ITEMS = (
    "labour",
    *(f"{step}_{what}" for step in STEPS for what in ("minutes", "consumables")),
    "disposal",
)


def known_item(item: str) -> bool:
    """Return whether `item` names a rate: a fixed one, or `scrap_metal:` and a metal."""
    return item in FIXED_ITEMS or (item.startswith("scrap_metal:") and len(item) > 12)


@dataclass(frozen=True)
class RateBook:
    """All rates of the shop: item → (first day, amount) in date order."""

    rates: Mapping[str, tuple[tuple[date, Decimal], ...]]

    @classmethod
    def of(cls, rates: Iterable[tuple[str, date, Decimal]]) -> RateBook:
        """Return a book of `rates` (item, first day, amount), in any order."""
        items: dict[str, list[tuple[date, Decimal]]] = {}
        for item, first_day, amount in rates:
            items.setdefault(item, []).append((first_day, amount))
        return cls({item: tuple(sorted(values)) for item, values in items.items()})

    def on(self, item: str, day: date) -> Decimal | None:
        """Return the rate of `item` in force on `day`, or None when it has none yet."""
        known = [amount for first_day, amount in self.rates.get(item, ()) if first_day <= day]
        return known[-1] if known else None

    def step(self, step: str, day: date) -> Money:
        """Return what `step` costs per core: its minutes of labour and its consumables.

        A shop that has set no rate for a step spends nothing on it here; `missing` lists such
        rates so that a page can say so.
        """
        return self._work(self.on(f"{step}_minutes", day), day) + nearest(
            self.on(f"{step}_consumables", day) or 0
        )

    def rework(self, operation: Operation, minutes: Decimal | None, day: date) -> Money:
        """Return what one pass costs: actual minutes if known, else the operation's own."""
        spent = Decimal(operation.minutes) if minutes is None else minutes
        return self._work(spent, day) + operation.consumables

    def scrap(self, metal: str, mass_g: int, day: date) -> dict[str, Money]:
        """Return the recovery and the disposal cost of a scrapped core of `mass_g` grams."""
        kilograms = Fraction(mass_g, 1000)
        price = Fraction(self.on(f"scrap_metal:{metal}", day) or 0)
        disposal = Fraction(self.on("disposal", day) or 0)
        return {
            "recovery": nearest(kilograms * price),
            "disposal": nearest(kilograms * disposal),
        }

    def missing(self, day: date) -> tuple[str, ...]:
        """Return the fixed items that have no rate on `day`."""
        return tuple(item for item in FIXED_ITEMS if self.on(item, day) is None)

    def _work(self, minutes: Decimal | None, day: date) -> Money:
        labour = Fraction(self.on("labour", day) or 0)
        return nearest(labour * Fraction(minutes or 0) / 60)
