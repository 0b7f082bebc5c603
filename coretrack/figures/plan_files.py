"""Reads a family file: prices, core charges, numbers, acceptance criteria and inspection plan."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping
from dataclasses import dataclass
from decimal import Decimal
from typing import Any

from coretrack.figures.money import Money, from_decimal
from coretrack.figures.part_numbers import BadNumber, clean_number, match_key
from coretrack.figures.plan_tables import read_plan, refuse_twins
from coretrack.figures.plans import Plan
from coretrack.figures.toml_fields import Faults, Table

CREDIT_MOMENTS = ("sight", "teardown")
NUMBER_KINDS = ("OE", "casting", "own")
FAULT_EFFECTS = ("percent", "parts", "money", "refuse", "allowed", "warning")
"""As a file writes them; parts become a percentage when it is read."""


@dataclass(frozen=True)
class FamilyPrices:
    """What the owner knows about prices around a family; `None` where he does not.

    Money per piece, except `belief`: the chance 0..1 that a customer expects to be credited.
    """

    new_body: Money | None = None
    sourcing: Money | None = None
    broker: Money | None = None
    open_market: Money | None = None
    missed_sale: Money | None = None
    bother: Money | None = None
    belief: Decimal | None = None


@dataclass(frozen=True)
class NumberFile:
    """A number a core can carry, from a day on if dated, and the number that replaced it."""

    number: str
    kind: str
    valid_from: dt.date | None = None
    superseded_by: str = ""


@dataclass(frozen=True)
class GroupFile:
    """Numbers that count as the same core."""

    code: str
    name: str
    numbers: tuple[NumberFile, ...]


@dataclass(frozen=True)
class Fault:
    """One acceptance criterion: what a fault seen at the dock does to the credit.

    `value` is percent or currency units by `effect`; 0 for the other effects. An `exclusive`
    deduction does not add up with others. `parts`: the percentage stands for so many parts of the
    core (0: it is not counted in parts). `each`: it counts as often as it is ticked.
    """

    code: str
    name: str
    effect: str
    value: Decimal
    exclusive: bool = False
    parts: int = 0
    each: bool = False


@dataclass(frozen=True)
class FamilyFile:
    """Everything a family file says; `charges` are (first day, amount), earliest first."""

    code: str
    name: str
    mass_g: int
    metal: str
    standard_yield: Decimal | None
    credit_when: str
    prices: FamilyPrices
    charges: tuple[tuple[dt.date, Money], ...]
    groups: tuple[GroupFile, ...]
    faults: tuple[Fault, ...]
    plan: Plan


def family_from_toml(data: Mapping[str, Any], *, version: int = 1) -> FamilyFile:
    """Return the family that a parsed TOML file describes, its plan as `version`.

    Raises one InvalidInput that lists everything wrong, each with its key, the value found and
    what would be right.
    """
    faults = Faults()
    table = Table(data, "", faults)
    code = table.text("code", required=True, most=20)
    mass = table.whole("mass_g", least=1)
    if not table.has("mass_g"):
        table.fault("mass_g", "is missing; give whole grams")
    share = table.number("standard_yield", least=Decimal(0), most=Decimal(1))
    if share == 0:
        table.fault("standard_yield", "0 means no body ever survives; leave it out if unknown")
    family = FamilyFile(
        code=code,
        name=table.text("name", required=True),
        mass_g=mass or 0,
        metal=table.text("metal", required=True, most=30).lower(),
        standard_yield=share,
        credit_when=table.choice("credit_when", CREDIT_MOMENTS, "sight"),
        prices=_prices(table.table("prices")),
        charges=_charges(table),
        groups=_groups(table),
        faults=_faults(table),
        plan=read_plan(table, code, version),
    )
    table.close()
    faults.stop_if_any(f"the file of family {code}" if code else "the family file")
    return family


def _prices(table: Table) -> FamilyPrices:
    prices = FamilyPrices(
        new_body=table.amount("new_body"),
        sourcing=table.amount("sourcing"),
        broker=table.amount("broker"),
        open_market=table.amount("open_market"),
        missed_sale=table.amount("missed_sale"),
        bother=table.amount("bother"),
        belief=table.number("belief", least=Decimal(0), most=Decimal(1)),
    )
    table.close()
    return prices


def _charges(file: Table) -> tuple[tuple[dt.date, Money], ...]:
    found: dict[dt.date, Money] = {}
    for table in file.tables("charges"):
        first = table.day("from")
        amount = table.amount("amount")
        for key in ("from", "amount"):
            if not table.has(key):
                table.fault(key, "is missing; a core charge needs its first day and its amount")
        table.close()
        if first is None or amount is None:
            continue
        if first in found:
            table.fault("from", f"{first.isoformat()} stands at another charge already")
        found[first] = amount
    return tuple(sorted(found.items()))


def _groups(file: Table) -> tuple[GroupFile, ...]:
    tables = file.tables("groups")
    taken: dict[str, str] = {}
    groups = []
    for table in tables:
        code = table.text("code", required=True, most=40)
        name = table.text("name", required=True)
        number_tables = table.tables("numbers", "number")
        if not number_tables:
            table.fault("numbers", "there is none; a group needs one number at least")
        numbers = tuple(_number(entry, taken, code) for entry in number_tables)
        table.close()
        groups.append(GroupFile(code, name, numbers))
    refuse_twins(tables, "group", [(group.code, group.name) for group in groups])
    return tuple(groups)


def _number(table: Table, taken: dict[str, str], group: str) -> NumberFile:
    number = _clean(table, "number", required=True)
    replaced_by = _clean(table, "superseded_by")
    found = NumberFile(number, table.choice("kind", NUMBER_KINDS), table.day("from"), replaced_by)
    table.close()
    if number:
        key = match_key(number)
        if key in taken:
            table.fault(
                "number",
                f'"{number}" stands in group {taken[key]} already (spaces, dashes and capitals do '
                "not count); a number belongs to one group",
            )
        taken.setdefault(key, group)
        if replaced_by and match_key(replaced_by) == key:
            table.fault("superseded_by", f'"{replaced_by}" is the number itself')
    return found


def _clean(table: Table, key: str, *, required: bool = False) -> str:
    text = table.text(key, required=required)
    if not text:
        return ""
    try:
        return clean_number(text)
    except BadNumber as error:
        table.fault(key, str(error))
        return ""


def _faults(file: Table) -> tuple[Fault, ...]:
    part = file.number("part_percent", least=Decimal(0), most=Decimal(100))
    if part == 0:
        file.fault("part_percent", "0 means that no part is worth anything; leave it out")
    tables = file.tables("faults")
    faults = [_fault(table, part) for table in tables]
    refuse_twins(tables, "fault", [(fault.code, fault.name) for fault in faults])
    return tuple(faults)


def _fault(table: Table, part_percent: Decimal | None) -> Fault:
    effect = table.choice("effect", FAULT_EFFECTS)
    value, parts = _value(table, effect, part_percent)
    fault = Fault(
        table.text("code", required=True, most=40),
        table.text("name", required=True),
        "percent" if effect == "parts" else effect,
        value,
        table.flag("exclusive"),
        parts,
        table.flag("each"),
    )
    if ";" in fault.code:
        table.fault("code", f'"{fault.code}" holds a semicolon, which parts codes in a file')
    if effect in ("percent", "parts", "money"):
        if not table.has("value"):
            table.fault("value", f"is missing; say how much is deducted ({effect})")
        _exact_money(table, fault)
    else:
        if fault.value:
            table.fault(
                "value", f"{fault.value} has no meaning for {effect}; leave it out or give 0"
            )
        if fault.each:
            table.fault("each", f"has no meaning for {effect}; leave it out")
    table.close()
    return fault


def _value(table: Table, effect: str, part_percent: Decimal | None) -> tuple[Decimal, int]:
    """Return what a fault deducts and for how many parts that stands."""
    if effect != "parts":
        most = Decimal(100) if effect == "percent" else None
        return table.number("value", least=Decimal(0), most=most) or Decimal(0), 0
    parts = table.whole("value", least=1) or 0
    if part_percent is None:
        table.fault("effect", "parts are worth nothing yet; give part_percent for the family")
        return Decimal(0), parts
    if parts * part_percent > 100:
        table.fault(
            "value",
            f"{parts} parts at {part_percent} % are more than all of the charge; use fewer parts",
        )
        return Decimal(100), parts
    return parts * part_percent, parts


def _exact_money(table: Table, fault: Fault) -> None:
    if fault.effect != "money":
        return
    try:
        from_decimal(fault.value)
    except ValueError as error:
        table.fault("value", f"{error}; give four decimals at most")
