"""Core lines as the dock's pages show them."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import date

from coretrack.actions.delivery_views import LineShown, OwedInstead
from coretrack.actions.dock import late_for, window_of
from coretrack.actions.lookups import Catalogue
from coretrack.figures.credits import CreditResult
from coretrack.figures.money import shown
from coretrack.figures.plain_words import counted
from coretrack.figures.settling import balance, balance_words, in_kind
from coretrack.figures.trade_objects import Line
from coretrack.figures.windows import WindowRule, due_date


def line_shown(line: Line, arrived: date, customer: str) -> LineShown:
    """Return a core line for the page; its customer is named only when it is not `customer`."""
    rule = window_of(line)
    due = due_date(rule, date.fromisoformat(line.sold_on))
    return LineShown(
        key=line.key,
        invoice=line.invoice,
        customer="" if line.customer == customer else line.customer,
        number=line.number,
        core_group=line.core_group,
        sold_on=line.sold_on,
        charge=line.charge,
        mode=line.mode,
        window=window_words(rule),
        due_on=due.isoformat() if due else "",
        late=late_for(line, arrived),
        criteria_version=line.criteria_version,
        quantity=line.quantity,
        credited=line.credited,
        owed=line.owed,
    )


def window_words(rule: WindowRule) -> str:
    """Return a window as it was promised: "30 days, then 25 % off for each full week"."""
    if rule.days is None:
        return "no window"
    window = counted(rule.days, "day")
    if rule.after == "full":
        return f"{window}, full credit after it too"
    if rule.after == "nothing":
        return f"{window}, nothing after it"
    step = "week" if rule.slide_days == 7 else counted(rule.slide_days, "day")
    return f"{window}, then {rule.slide_percent.normalize():f} % off for each full {step}"


def settled_words(line: Line, result: CreditResult, currency: str) -> str:
    """Return what the judgement settles: money to give back or to bill, or a unit."""
    if line.mode == "core first":
        unit = in_kind(line.charge, result)
        words = "counts as one unit" if unit.units else "counts as no unit"
        return f"{words}, {shown(unit.bill)} {currency} to bill" if unit.bill else words
    paid = line.charge if line.mode == "up front" else 0
    return balance_words(balance(line.charge, result.credit, paid), currency)


def owed_by_group(lines: Iterable[Line], catalogue: Catalogue) -> tuple[OwedInstead, ...]:
    """Return what is owed per core group, with the numbers as sold."""
    groups: dict[str, list[Line]] = {}
    for line in lines:
        groups.setdefault(line.core_group, []).append(line)
    return tuple(
        OwedInstead(
            group,
            _group_name(catalogue, mine[0]),
            tuple(dict.fromkeys(line.number for line in mine)),
            sum(line.owed for line in mine),
        )
        for group, mine in sorted(groups.items())
    )


def _group_name(catalogue: Catalogue, line: Line) -> str:
    number = catalogue.number(line.number)
    return number.group_name if number else ""
