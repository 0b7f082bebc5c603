"""Writes a family with its plan as the tables of a family file, and those as readable TOML text.

`family_from_toml` reads either back to an equal family. Figures are written as texts, so that no
digit is lost; what is not said is left out.
"""

from __future__ import annotations

import json
from collections.abc import Mapping, Sequence
from datetime import date
from decimal import Decimal
from typing import Any

from coretrack.figures.limits import plain_text
from coretrack.figures.money import CENT, Money, to_decimal
from coretrack.figures.plan_files import FamilyFile, FamilyPrices, Fault, GroupFile
from coretrack.figures.plans import Check, Operation
from coretrack.figures.printed_limits import limits_as_text

Tables = dict[str, Any]
"""What a family file says, as a TOML reader gives it: texts, whole numbers, days, lists, tables."""

_PRICES = ("new_body", "sourcing", "broker", "open_market", "missed_sale", "bother")


def family_tables(family: FamilyFile) -> Tables:
    """Return everything a family file says about `family`, in the file's order."""
    part = _part_percent(family.faults)
    tables: Tables = {"code": family.code, "name": family.name, "mass_g": family.mass_g}
    tables["metal"] = family.metal
    if family.standard_yield is not None:
        tables["standard_yield"] = f"{family.standard_yield:f}"
    if family.credit_when != "sight":
        tables["credit_when"] = family.credit_when
    if part is not None:
        tables["part_percent"] = f"{part:f}"
    if prices := _prices(family.prices):
        tables["prices"] = prices
    tables["charges"] = [{"from": day, "amount": _money(sum_)} for day, sum_ in family.charges]
    tables["groups"] = [_group(group) for group in family.groups]
    tables["faults"] = [fault_table(fault, part) for fault in family.faults]
    tables["checks"] = [check_table(check) for check in family.plan.checks]
    tables["operations"] = [operation_table(operation) for operation in family.plan.operations]
    return {key: value for key, value in tables.items() if value != []}


def check_table(check: Check) -> Tables:
    """Return one check as the table of a family file."""
    table: Tables = {"code": check.code, "name": check.name, "kind": check.kind}
    table["order"] = check.order
    if check.numeric:
        table |= _numeric_parts(check)
    if check.kind == "crack":
        table["method"] = check.method
    if check.gauge_kind:
        table["gauge_kind"] = check.gauge_kind
    if check.rework:
        table["rework"] = [
            {"operation": band.operation, "limits": limits_as_text(band.limits, check.resolution)}
            if check.numeric
            else {"operation": band.operation}
            for band in check.rework
        ]
    if check.look_scraps:
        table["look_scraps"] = list(check.look_scraps)
    if check.look_reworks:
        table["look_reworks"] = [list(pair) for pair in check.look_reworks]
    return table


def operation_table(operation: Operation) -> Tables:
    """Return one rework operation as the table of a family file."""
    table: Tables = {"code": operation.code, "name": operation.name, "minutes": operation.minutes}
    if operation.consumables:
        table["consumables"] = _money(operation.consumables)
    table["most_passes"] = operation.most_passes
    if operation.check:
        table["check"] = operation.check
    for key, size in (("removes", operation.removes), ("allowance", operation.allowance)):
        if size is not None:
            table[key] = plain_text(size)
    if operation.disturbs:
        table["disturbs"] = list(operation.disturbs)
    return table


def fault_table(fault: Fault, part_percent: Decimal | None = None) -> Tables:
    """Return one acceptance criterion as the table of a family file."""
    in_parts = bool(fault.parts) and part_percent is not None
    table: Tables = {"code": fault.code, "name": fault.name}
    table["effect"] = "parts" if in_parts else fault.effect
    if in_parts:
        table["value"] = fault.parts
    elif fault.effect in ("percent", "money"):
        table["value"] = f"{fault.value:f}"
    for key, said in (("exclusive", fault.exclusive), ("each", fault.each)):
        if said:
            table[key] = True
    return table


def tables_as_toml(tables: Mapping[str, Any]) -> str:
    """Return the tables of a family file as TOML text that `tomllib` reads back equal.

    Lists of tables come as [[name]], those inside a check in one line.
    """
    lines: list[str] = []
    _write(lines, tables, "")
    return "\n".join(lines).strip() + "\n"


def _numeric_parts(check: Check) -> Tables:
    table: Tables = {"unit": check.unit}
    if check.resolution is not None:
        table["resolution"] = plain_text(check.resolution)
    if check.readings != 1:
        table["readings"] = check.readings
    if check.judged != "each":
        table["judged"] = check.judged
    if check.rule != "simple":
        table["rule"] = check.rule
    if check.uncertainty:
        table["uncertainty"] = plain_text(check.uncertainty)
    if check.nominal is not None:
        table["nominal"] = plain_text(check.nominal, _places(check))
    for key, limits in (
        ("new", check.new),
        ("usable", check.usable),
        ("plausible", check.plausible),
    ):
        if limits is not None:
            table[key] = limits_as_text(limits, check.resolution)
    return table


def _places(check: Check) -> int:
    return len(plain_text(check.resolution or 0).partition(".")[2])


def _part_percent(faults: Sequence[Fault]) -> Decimal | None:
    """Return what one part is worth; a family's faults agree on it, since one file said it."""
    worth = {fault.value / fault.parts for fault in faults if fault.parts}
    return worth.pop().normalize() if len(worth) == 1 else None


def _prices(prices: FamilyPrices) -> Tables:
    said: Tables = {
        name: _money(amount) for name in _PRICES if (amount := getattr(prices, name)) is not None
    }
    if prices.belief is not None:
        said["belief"] = f"{prices.belief:f}"
    return said


def _group(group: GroupFile) -> Tables:
    numbers = []
    for number in group.numbers:
        table: Tables = {"number": number.number, "kind": number.kind}
        if number.valid_from is not None:
            table["from"] = number.valid_from
        if number.superseded_by:
            table["superseded_by"] = number.superseded_by
        numbers.append(table)
    return {"code": group.code, "name": group.name, "numbers": numbers}


def _money(amount: Money) -> str:
    exact = to_decimal(amount)
    return f"{exact.quantize(Decimal('0.01')) if amount % CENT == 0 else exact:f}"


def _write(lines: list[str], table: Mapping[str, Any], place: str) -> None:
    """Add a table's own values first, then its tables, as TOML wants them."""
    later: list[tuple[str, Any]] = []
    for key, value in table.items():
        if isinstance(value, Mapping) or (_tables(value) and key != "rework"):
            later.append((key, value))
        else:
            lines.append(f"{key} = {_value(value)}")
    for key, value in later:
        name = f"{place}.{key}" if place else key
        for one in [value] if isinstance(value, Mapping) else value:
            lines += ["", f"[{name}]" if isinstance(value, Mapping) else f"[[{name}]]"]
            _write(lines, one, name)


def _tables(value: Any) -> bool:
    return isinstance(value, list) and bool(value) and isinstance(value[0], Mapping)


def _value(value: Any) -> str:
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, int):
        return str(value)
    if isinstance(value, date):
        return value.isoformat()
    if isinstance(value, Mapping):
        return "{ " + ", ".join(f"{key} = {_value(part)}" for key, part in value.items()) + " }"
    if isinstance(value, list):
        return "[" + ", ".join(_value(part) for part in value) + "]"
    # What JSON escapes in a text, TOML reads the same way.
    return json.dumps(str(value), ensure_ascii=False)
