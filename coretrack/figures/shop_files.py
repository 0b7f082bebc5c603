"""The shop file: name, money, time zone, people, gauges, sources, rates and the usual window."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date
from decimal import Decimal, InvalidOperation
from typing import Any
from zoneinfo import ZoneInfo, ZoneInfoNotFoundError

from coretrack.errors import InvalidInput
from coretrack.figures.rates import FIXED_ITEMS, known_item
from coretrack.figures.trade_objects import Gauge, Rate, Shop, Source
from coretrack.figures.units import UnknownUnit, canonical_unit
from coretrack.figures.windows import AFTER_WINDOW

ROLES = ("clerk", "inspector", "owner")
SOURCE_KINDS = ("customer", "dealer", "salvage yard", "broker", "own comeback")


@dataclass(frozen=True)
class PersonFile:
    """A person of the shop file; `demo_password` only ever stands in the demo's file."""

    name: str
    role: str
    demo_password: str = ""


@dataclass(frozen=True)
class ShopFile:
    """What a shop file says."""

    shop: Shop
    people: tuple[PersonFile, ...]
    gauges: tuple[Gauge, ...]
    sources: tuple[Source, ...]
    rates: tuple[Rate, ...]


@dataclass
class _Reader:
    """Reads one table of the file, collecting every complaint instead of stopping at the first."""

    complaints: list[str] = field(default_factory=list)

    def complain(self, where: str, key: str, value: object, right: str) -> None:
        self.complaints.append(f"{where}: '{key}' is {value!r}; {right}.")

    def known(self, table: Mapping[str, Any], where: str, *keys: str) -> None:
        for key in sorted(set(table) - set(keys)):
            self.complaints.append(
                f"{where}: '{key}' is not a key here; the keys are {', '.join(keys)}."
            )

    def text(self, table: Mapping[str, Any], where: str, key: str, usual: str | None = None) -> str:
        value = table.get(key, usual)
        if not isinstance(value, str) or (not value.strip() and usual is None):
            self.complain(where, key, value, "it needs a text in quotes")
            return ""
        return value.strip()

    def choice(self, table: Mapping[str, Any], where: str, key: str, choices: Sequence[str]) -> str:
        value = table.get(key)
        if value not in choices:
            self.complain(where, key, value, f"use one of {', '.join(choices)}")
        return str(value)

    def whole(
        self, table: Mapping[str, Any], where: str, key: str, usual: int, low: int, high: int
    ) -> int:
        value = table.get(key, usual)
        if not isinstance(value, int) or isinstance(value, bool) or not low <= value <= high:
            self.complain(where, key, value, f"use a whole number from {low} to {high}")
            return usual
        return value

    def number(
        self, table: Mapping[str, Any], where: str, key: str, usual: str | None = None
    ) -> str:
        value = table.get(key, usual)
        try:
            amount = Decimal(value) if isinstance(value, str | int) else None
        except InvalidOperation:
            amount = None
        if value == "" and usual is not None:
            return usual
        if amount is None or not amount.is_finite() or amount < 0:
            self.complain(where, key, value, 'use a number of zero or more in quotes, like "12.50"')
            return "0"
        return format(amount, "f")

    def day(self, table: Mapping[str, Any], where: str, key: str) -> str:
        value = table.get(key)
        if isinstance(value, date):
            return value.isoformat()[:10]
        try:
            return date.fromisoformat(str(value)).isoformat()
        except ValueError:
            self.complain(where, key, value, "use a day like 2026-05-01")
            return ""


def shop_from_toml(data: Mapping[str, Any]) -> ShopFile:
    """Return what a parsed shop file says; InvalidInput lists everything that is wrong with it."""
    reader = _Reader()
    unknown = set(data) - {"shop", "people", "gauges", "sources", "rates", "charges"}
    reader.complaints += [f"'{name}' is not a part of a shop file." for name in sorted(unknown)]
    result = ShopFile(
        _shop(reader, data.get("shop", {}), data.get("charges", {})),
        _each(reader, data, "people", _person),
        _each(reader, data, "gauges", _gauge),
        _each(reader, data, "sources", _source),
        _each(reader, data, "rates", _rate),
    )
    for name, keys in (
        ("gauge", [gauge.key for gauge in result.gauges]),
        ("source", [source.key for source in result.sources]),
        ("rate", [rate.key for rate in result.rates]),
        ("person", [person.name for person in result.people]),
    ):
        twice = sorted({key for key in keys if keys.count(key) > 1})
        reader.complaints += [f"The {name} '{key}' is there twice." for key in twice]
    if reader.complaints:
        raise InvalidInput("The shop file cannot be used:\n" + "\n".join(reader.complaints))
    return result


def _each(
    reader: _Reader,
    data: Mapping[str, Any],
    name: str,
    read: Callable[[_Reader, Mapping[str, Any], str], Any],
) -> tuple[Any, ...]:
    return tuple(
        read(reader, table, f"{name} no. {place}")
        for place, table in enumerate(data.get(name, ()), start=1)
    )


def _shop(reader: _Reader, shop: Mapping[str, Any], charges: Mapping[str, Any]) -> Shop:
    reader.known(shop, "shop", "name", "currency", "time_zone", "site")
    reader.known(
        charges,
        "charges",
        *("window_days", "after", "slide_percent", "slide_days", "slide_most", "nothing_after"),
    )
    zone = reader.text(shop, "shop", "time_zone")
    try:
        ZoneInfo(zone or "UTC")
    except (ZoneInfoNotFoundError, ValueError):
        reader.complain("shop", "time_zone", zone, "use a zone name like America/Chicago")
    currency = reader.text(shop, "shop", "currency")
    if len(currency) != 3 or not currency.isalpha():
        reader.complain("shop", "currency", currency, "use three letters like USD (ISO 4217)")
    return Shop(
        key="shop",
        name=reader.text(shop, "shop", "name"),
        currency=currency.upper(),
        time_zone=zone,
        site=reader.whole(shop, "shop", "site", 1, 1, 8),
        window_days=reader.whole(charges, "charges", "window_days", 30, 0, 3650),
        after=reader.choice({"after": "nothing", **charges}, "charges", "after", AFTER_WINDOW),
        slide_percent=reader.number(charges, "charges", "slide_percent", "0"),
        slide_days=reader.whole(charges, "charges", "slide_days", 7, 1, 365),
        slide_most=reader.number(charges, "charges", "slide_most", "100"),
        nothing_after=reader.whole(charges, "charges", "nothing_after", 0, 0, 3650),
    )


def _person(reader: _Reader, table: Mapping[str, Any], where: str) -> PersonFile:
    reader.known(table, where, "name", "role", "demo_password")
    return PersonFile(
        reader.text(table, where, "name"),
        reader.choice(table, where, "role", ROLES),
        reader.text(table, where, "demo_password", ""),
    )


def _unit(told: str) -> str:
    """Return the one spelling of a unit; a word that is none stays as it was written."""
    try:
        return canonical_unit(told) if told else ""
    except UnknownUnit:
        return told


def _gauge(reader: _Reader, table: Mapping[str, Any], where: str) -> Gauge:
    reader.known(table, where, "code", "name", "kind", "unit", "resolution", "uncertainty", "due")
    return Gauge(
        key=reader.text(table, where, "code"),
        name=reader.text(table, where, "name"),
        kind=reader.text(table, where, "kind"),
        unit=_unit(reader.text(table, where, "unit", "")),
        resolution=reader.number(table, where, "resolution", "0"),
        uncertainty=reader.number(table, where, "uncertainty", "0"),
        due_on=reader.day(table, where, "due"),
    )


def _source(reader: _Reader, table: Mapping[str, Any], where: str) -> Source:
    reader.known(table, where, "code", "name", "kind")
    return Source(
        key=reader.text(table, where, "code"),
        name=reader.text(table, where, "name"),
        kind=reader.choice(table, where, "kind", SOURCE_KINDS),
    )


def _rate(reader: _Reader, table: Mapping[str, Any], where: str) -> Rate:
    # The unit of a rate is a word for the reader of the file; each item has its own.
    reader.known(table, where, "item", "from", "amount", "unit")
    item = reader.text(table, where, "item")
    if item and not known_item(item):
        right = f"use one of {', '.join(FIXED_ITEMS)} or scrap_metal:METAL"
        reader.complain(where, "item", item, right)
    first_day = reader.day(table, where, "from")
    return Rate(
        key=f"{item}@{first_day}",
        item=item,
        valid_from=first_day,
        amount=reader.number(table, where, "amount"),
    )
