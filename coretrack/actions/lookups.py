"""What imports look up again and again, read once: shop, sources, numbers, charges."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import date, datetime, time
from decimal import Decimal
from zoneinfo import ZoneInfo

from coretrack.errors import InvalidInput, NotFound
from coretrack.figures.columns import split_unit
from coretrack.figures.dates import shop_day
from coretrack.figures.lifecycle import CoreFacts
from coretrack.figures.money import Money
from coretrack.figures.part_numbers import match_key
from coretrack.figures.plan_files import Fault
from coretrack.figures.table import Table
from coretrack.figures.table_values import RowProblem, Values
from coretrack.figures.trade_objects import CoreCharge, Family, Number, Shop, Source
from coretrack.records import queries
from coretrack.records.happenings import last_of
from coretrack.records.unseen import unseen
from coretrack.records.writer import Writer

_SIGNS: dict[str, tuple[str, ...]] = {
    "€": ("EUR",),
    "£": ("GBP",),
    "¥": ("JPY", "CNY"),
    "$": ("USD", "CAD", "AUD", "NZD", "SGD", "HKD", "TWD", "MXN", "BRL"),
}
"""Which currencies a sign may stand for."""


class Catalogue:
    """The shop's settled facts, remembered for the length of one action."""

    def __init__(self, writer: Writer) -> None:
        self._writer = writer
        self.shop: Shop = writer.get("shop", "shop")
        self.zone = ZoneInfo(self.shop.time_zone)
        self._sources = {source.key.casefold(): source for source in queries.sources()}
        self._numbers: dict[str, Number] = {}
        self._charges: dict[str, list[CoreCharge]] = {}
        self._criteria: dict[str, list[tuple[int, date]]] = {}
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

    def sources(self) -> list[Source]:
        """Return all sources by code."""
        return sorted(self._sources.values(), key=lambda source: source.key)

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
            near = near_numbers(text, shortest=2)
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

    def criteria_on(self, family: str, day: date) -> int:
        """Return the version of a family's acceptance faults in force on `day`.

        A day before the first version has the first: there are no older ones to go by.
        """
        if family not in self._criteria:
            newest = self.family(family).criteria_version
            events = [last_of("criteria", f"{family}/{n}") for n in range(1, newest + 1)]
            self._criteria[family] = [
                (number, shop_day(event.moment, self.zone))
                for number, event in enumerate(events, start=1)
                if event
            ]
        known = [number for number, since in self._criteria[family] if since <= day]
        return known[-1] if known else 1

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


class KnownCores:
    """Finds the cores that a file speaks of, by tag or by maker's serial."""

    def __init__(self, marks: Iterable[str]) -> None:
        asked = set(marks)
        self._by_tag = queries.cores_tagged(_tag_digits(mark) for mark in asked)
        self._by_serial = queries.cores_with_serials(asked)

    def find(self, mark: str, column: str, day: date | None = None) -> CoreFacts:
        """Return the core with this tag, or the life of the body with this serial on `day`.

        Without a day it is the newest life. RowProblem when there is no such core, and when
        several bodies have serials that differ only by capitals.
        """
        found = self._find(mark, column, day)
        if found.tag in unseen():
            raise RowProblem(column, mark, "a blind second look is wanted; make it at the bench")
        return found

    def _find(self, mark: str, column: str, day: date | None) -> CoreFacts:
        tagged = self._by_tag.get(_tag_digits(mark))
        if tagged is not None:
            return tagged
        lives = self._by_serial.get(mark)
        if lives is None:
            lives = queries.cores_with_serial(mark)[::-1]
            spellings = sorted({core.serial for core in lives})
            if len(spellings) > 1:
                raise RowProblem(
                    column,
                    mark,
                    f"several serials differ from this only by capitals: {', '.join(spellings)}",
                )
            self._by_serial[mark] = lives
        if not lives:
            raise RowProblem(column, mark, "no core has this tag or serial; receive it first")
        then = [core for core in lives if day is None or core.received_on <= day.isoformat()]
        return then[-1] if then else lives[0]


def refuse_foreign_money(values: Values, shop: Shop, *keys: str) -> None:
    """Raise InvalidInput when a money column's heading names another currency than the shop's."""
    for key in keys:
        unit = values.columns.unit(key) if values.has(key) else None
        if unit is None or unit == "count":
            continue
        if shop.currency not in _SIGNS.get(unit, (unit,)):
            raise InvalidInput(
                f"Column '{values.heading(key)}' is in {unit} and the shop counts in "
                f"{shop.currency}; give the amounts in {shop.currency}.",
                {values.heading(key): "another currency"},
            )


def refuse_sales_file(table: Table) -> None:
    """Raise InvalidInput when a file of sales is taken for cores that came in."""
    found = [h for h in table.headings if split_unit(h)[0] in ("core charge", "charge each")]
    if found:
        raise InvalidInput(
            f"{table.name} has the column '{found[0]}', so it looks like sales; "
            "read it with 'sales'. A manifest of cores has no core charge.",
            {found[0]: "belongs to sales"},
        )


def shop_zone_name() -> str:
    """Return the shop's time zone; NotFound before the shop is set up."""
    shop = queries.shop()
    if shop is None:
        raise NotFound("There is no shop yet; run 'coretrack setup' first.")
    return shop.time_zone


def _tag_digits(mark: str) -> str:
    """Return a mark without the blanks and dashes people put into a tag."""
    return mark.replace(" ", "").replace("-", "")


def near_numbers(text: str, shortest: int = 3) -> list[str]:
    """Return three known numbers that share the longest beginning with an unknown one.

    The beginning has six letters and digits, four, or `shortest`.
    """
    key = _loose_key(text)
    for length in (6, 4, *range(3, shortest - 1, -1)):
        near = queries.numbers_starting(key[:length], 3) if len(key) >= length else []
        if near:
            return [number.shown for number in near]
    return []


def _loose_key(text: str) -> str:
    """Return the match key, or nothing for a text that cannot be a number (its row says why)."""
    try:
        return match_key(text)
    except ValueError:
        return ""
