"""What imports look up again and again, read once: shop, sources, numbers, charges."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import date, datetime, time
from decimal import Decimal
from zoneinfo import ZoneInfo

from coretrack.errors import NotFound
from coretrack.figures.money import Money
from coretrack.figures.part_numbers import match_key
from coretrack.figures.plan_files import Fault
from coretrack.figures.table_values import RowProblem
from coretrack.figures.trade_objects import CoreCharge, Family, Number, Shop, Source
from coretrack.records import queries
from coretrack.records.writer import Writer


class Catalogue:
    """The shop's settled facts, remembered for the length of one action."""

    def __init__(self, writer: Writer) -> None:
        self._writer = writer
        self.shop: Shop = writer.get("shop", "shop")
        self.zone = ZoneInfo(self.shop.time_zone)
        self._sources = {source.key.casefold(): source for source in queries.sources()}
        self._numbers: dict[str, Number] = {}
        self._charges: dict[str, list[CoreCharge]] = {}
        self._faults: dict[str, tuple[Fault, ...]] = {}

    def noon(self, day: date) -> datetime:
        """Return the middle of a day in the shop's zone, for things dated by day only."""
        return datetime.combine(day, time(12), self.zone)

    def source(self, code: str, column: str) -> Source:
        """Return a source by code or name; RowProblem names what is known."""
        found = self._sources.get(code.casefold())
        if found is None:
            named = [s for s in self._sources.values() if s.name.casefold() == code.casefold()]
            found = named[0] if len(named) == 1 else None
        if found is None:
            known = ", ".join(sorted(source.key for source in self._sources.values()))
            raise RowProblem(
                column, code, f"no source of cores is called this; known: {known or 'none yet'}"
            )
        return found

    def comeback_source(self) -> Source | None:
        """Return the source that stands for the shop's own comebacks, if there is one."""
        own = [s for s in self._sources.values() if s.kind == "own comeback"]
        return own[0] if own else None

    def learn_numbers(self, texts: Iterable[str]) -> None:
        """Read the numbers that `texts` name in one question to the database."""
        keys = {_loose_key(text) for text in texts} - {""} - self._numbers.keys()
        self._numbers.update(queries.numbers(keys))

    def number(self, text: str) -> Number | None:
        """Return the number that `text` names, spaces, dashes, dots and case aside."""
        key = match_key(text)
        if key not in self._numbers:
            self.learn_numbers([text])
        return self._numbers.get(key)

    def known_number(self, text: str, column: str) -> Number:
        """Return the number that `text` names; RowProblem when no core group has it."""
        found = self.number(text)
        if found is None:
            near = [number.shown for number in queries.numbers_starting(match_key(text)[:4], 3)]
            hint = f"; numbers that begin alike: {', '.join(near)}" if near else ""
            raise RowProblem(column, text, f"no core group has this number{hint}")
        return found

    def family(self, code: str) -> Family:
        """Return a family."""
        return self._writer.get("family", code)  # type: ignore[no-any-return]

    def charge_on(self, family: str, day: date) -> Money | None:
        """Return the core charge of a family in force on `day`."""
        if family not in self._charges:
            self._charges[family] = queries.charges(family)
        known = [c for c in self._charges[family] if c.valid_from <= day.isoformat()]
        return known[-1].amount if known else None

    def faults(self, family: str, version: int) -> tuple[Fault, ...]:
        """Return the acceptance faults of one criteria version."""
        key = f"{family}/{version}"
        if key not in self._faults:
            criteria = self._writer.find("criteria", key)
            if criteria is None:
                raise NotFound(f"Family {family} has no acceptance criteria no. {version}.")
            self._faults[key] = tuple(
                Fault(**{**fault, "value": Decimal(fault["value"])}) for fault in criteria.faults
            )
        return self._faults[key]


def shop_zone_name() -> str:
    """Return the shop's time zone; NotFound before the shop is set up."""
    shop = queries.shop()
    if shop is None:
        raise NotFound("There is no shop yet; run 'coretrack setup' first.")
    return shop.time_zone


def _loose_key(text: str) -> str:
    """Return the match key, or nothing for a text that cannot be a number (its row says why)."""
    try:
        return match_key(text)
    except ValueError:
        return ""
