"""What a new version of a family changes, one plain sentence each."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from decimal import Decimal

from coretrack.figures import money
from coretrack.figures.plain_words import counted
from coretrack.figures.plan_files import FamilyFile, FamilyPrices, Fault, NumberFile
from coretrack.figures.plans import plan_differences

_EFFECTS = {
    "refuse": "the core is refused",
    "allowed": "nothing is deducted",
    "warning": "a warning only",
}


def criterion_words(fault: Fault) -> str:
    """Return what an acceptance criterion does to the credit, as "25 % off" or "3.50 off"."""
    if fault.effect == "percent":
        said = f"{fault.value:f} % off"
        if fault.parts:
            said += f" ({fault.parts} {'part' if fault.parts == 1 else 'parts'})"
    elif fault.effect == "money":
        said = f"{fault.value:,.2f} off"
    else:
        return _EFFECTS.get(fault.effect, fault.effect)
    said += " each time" if fault.each else ""
    return said + (", not with others" if fault.exclusive else "")


def criteria_differences(old: Sequence[Fault], new: Sequence[Fault]) -> tuple[str, ...]:
    """Return what changed in the criteria for acceptance."""
    before, after = ({fault.code: fault for fault in some} for some in (old, new))
    found = [
        f"criterion {fault.name} was taken out"
        for code, fault in before.items()
        if code not in after
    ]
    for code, fault in after.items():
        earlier = before.get(code)
        if earlier is None:
            found.append(f"criterion {fault.name} is new: {criterion_words(fault)}")
        elif earlier != fault:
            names = f" ({earlier.name} until now)" if earlier.name != fault.name else ""
            found.append(
                f"criterion {fault.name}{names}: was {criterion_words(earlier)}, "
                f"is now {criterion_words(fault)}"
            )
    if not found and list(old) != list(new):
        found.append("the criteria stand in another order")
    return tuple(found)


def family_differences(old: FamilyFile | None, new: FamilyFile) -> tuple[str, ...]:
    """Return everything that storing `new` would change; all of it when there is no `old`.

    A charge or number that the new file leaves out stays as it is, so it is no change.
    """
    if old is None:
        parts = (
            counted(len(new.plan.checks), "check"),
            counted(len(new.plan.operations), "operation"),
            f"{len(new.faults)} {'criterion' if len(new.faults) == 1 else 'criteria'}",
        )
        return (f"family {new.code} is new: {', '.join(parts)}",)
    return (
        *_header(old, new),
        *plan_differences(old.plan, new.plan),
        *_order_of_plan(old, new),
        *criteria_differences(old.faults, new.faults),
        *_prices(old.prices, new.prices),
        *_charges(old, new),
        *_numbers(old, new),
    )


def _header(old: FamilyFile, new: FamilyFile) -> list[str]:
    names = {
        "name": "name",
        "mass_g": "mass in grams",
        "metal": "metal",
        "standard_yield": "standard yield",
        "credit_when": "moment of credit",
    }
    return [
        f"{words}: was {_said(getattr(old, name))}, is now {_said(getattr(new, name))}"
        for name, words in names.items()
        if getattr(old, name) != getattr(new, name)
    ]


def _order_of_plan(old: FamilyFile, new: FamilyFile) -> list[str]:
    """Return a sentence where only the order in which the plan lists its parts is another."""
    if plan_differences(old.plan, new.plan):
        return []
    lists = ((old.plan.checks, new.plan.checks), (old.plan.operations, new.plan.operations))
    return ["the plan lists its parts in another order"] if any(a != b for a, b in lists) else []


def _prices(old: FamilyPrices, new: FamilyPrices) -> list[str]:
    return [
        f"price {name.replace('_', ' ')}: was {_price(before)}, is now {_price(after)}"
        for name in FamilyPrices.__dataclass_fields__
        if (before := getattr(old, name)) != (after := getattr(new, name))
    ]


def _charges(old: FamilyFile, new: FamilyFile) -> list[str]:
    before = dict(old.charges)
    return [
        f"core charge from {day.isoformat()}: was {money.shown(before.get(day))}, "
        f"is now {money.shown(amount)}"
        for day, amount in new.charges
        if before.get(day) != amount
    ]


def _numbers(old: FamilyFile, new: FamilyFile) -> list[str]:
    before, after = _by_number(old), _by_number(new)
    return [
        f"number {number} is new" if number not in before else f"number {number} was changed"
        for number, told in after.items()
        if before.get(number) != told
    ]


def _by_number(family: FamilyFile) -> Mapping[str, tuple[str, str, NumberFile]]:
    return {
        number.number: (group.code, group.name, number)
        for group in family.groups
        for number in group.numbers
    }


def _price(value: int | Decimal | None) -> str:
    return f"{value:f}" if isinstance(value, Decimal) else money.shown(value)


def _said(value: object) -> str:
    if value is None or value == "":
        return "not set"
    return f"{value:f}" if isinstance(value, Decimal) else str(value)
