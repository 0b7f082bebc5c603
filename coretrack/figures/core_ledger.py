"""What was done to a core: rework, stock removed, where it lay, and its cost line by line.

Everything is told from its events; nothing is judged here.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal

from coretrack.figures.core_facts import COST_PARTS, CoreFacts
from coretrack.figures.core_verdicts import Moment
from coretrack.figures.costing import STEP_NAMES
from coretrack.figures.judging import with_unit
from coretrack.figures.money import Money
from coretrack.figures.plans import Operation, Plan

Names = Mapping[str, str]


@dataclass(frozen=True)
class ReworkTold:
    """A finished pass of an operation; `removed` is the stock it took off, with check and unit."""

    when: str
    by: str
    operation: str
    minutes: str
    removed: str
    note: str


@dataclass(frozen=True)
class StockTold:
    """What operations took off one check over all lives of the body, against what they may."""

    check: str
    removed: str
    allowance: str
    left: str


@dataclass(frozen=True)
class PassesTold:
    """How often a body went through an operation in all its lives, and how often it may."""

    operation: str
    done: int
    most: int


@dataclass(frozen=True)
class CostLine:
    """Money posted on a core: `amount` is what it added to the cost, less what came in."""

    when: str
    what: str
    part: str
    amount: Money


@dataclass(frozen=True)
class Stay:
    """Where a core lay, or the metal tag it carried; `until` is empty while it is so."""

    what: str
    since: str
    until: str


def reworks_told(moments: Sequence[Moment], plan: Plan | None) -> tuple[ReworkTold, ...]:
    """Return the passes of rework that were finished, oldest first."""
    operations = _operations(plan)
    told = []
    for moment in moments:
        if moment.event != "reworked":
            continue
        detail = moment.detail
        operation = operations.get(detail["operation"])
        removed = ""
        if detail.get("removed"):
            removed = f"{_size(plan, detail['check'], detail['removed'])} off "
            removed += _check_name(plan, detail["check"])
        told.append(
            ReworkTold(
                moment.when,
                str(detail.get("person") or moment.by),
                operation.name if operation else detail["operation"],
                str(detail.get("minutes") or ""),
                removed,
                str(detail.get("note") or ""),
            )
        )
    return tuple(told)


def stock_told(core: CoreFacts, plan: Plan | None) -> tuple[StockTold, ...]:
    """Return what was taken off this body in all its lives, a line a check."""
    told = []
    for check, removed in sorted(core.removed.items()):
        if not removed:
            continue
        allowed = [
            operation.allowance
            for operation in _operations(plan).values()
            if operation.check == check and operation.allowance is not None
        ]
        allowance = min(allowed) if allowed else None
        told.append(
            StockTold(
                _check_name(plan, check),
                _size(plan, check, removed),
                "" if allowance is None else _size(plan, check, allowance),
                "" if allowance is None else _size(plan, check, max(0, allowance - removed)),
            )
        )
    return tuple(told)


def passes_told(core: CoreFacts, plan: Plan | None) -> tuple[PassesTold, ...]:
    """Return how often this body went through each operation, in all its lives."""
    operations = _operations(plan)
    return tuple(
        PassesTold(
            operations[code].name if code in operations else code,
            done,
            operations[code].most_passes if code in operations else 0,
        )
        for code, done in sorted(core.done.items())
        if done
    )


def costs_told(moments: Sequence[Moment], said: Callable[[Moment], str]) -> tuple[CostLine, ...]:
    """Return the money posted on a core line by line; `said` names an event. Their sum is its cost.

    Money in ten-thousandths. What scrap brought in is taken off; what an event takes back again
    stands as a line of its own.
    """
    lines = []
    for moment in moments:
        for part in COST_PARTS:
            added: Money = getattr(moment.after, part) - getattr(moment.before, part)
            if added:
                amount = -added if part == "recovery" else added
                lines.append(CostLine(moment.when, said(moment), STEP_NAMES[part], amount))
    return tuple(lines)


def cost_of(core: CoreFacts) -> Money:
    """Return what a core cost so far, less what its scrap brought in, in ten-thousandths."""
    spent: Money = sum(getattr(core, part) for part in COST_PARTS)
    return spent - 2 * core.recovery


def stays_told(moments: Sequence[Moment], names: Names) -> tuple[Stay, ...]:
    """Return where a core lay and which metal tags it carried, oldest first."""
    stays: list[Stay] = []
    open_now: dict[str, int] = {}

    def change(kind: str, when: str, now: str) -> None:
        if kind in open_now:
            place = open_now.pop(kind)
            stays[place] = Stay(stays[place].what, stays[place].since, when)
        if now:
            open_now[kind] = len(stays)
            stays.append(Stay(now, when, ""))

    for moment in moments:
        before, after = moment.before, moment.after
        if before.place != after.place:
            change("place", moment.when, names.get(after.place, after.place))
        if (before.basket, before.slot) != (after.basket, after.slot):
            basket = names.get(after.basket, after.basket)
            slot = f"{basket}, slot {after.slot}" if after.basket else ""
            change("basket", moment.when, slot)
        if before.metal_tag != after.metal_tag:
            tag = f"metal tag {after.metal_tag}" if after.metal_tag else ""
            change("tag", moment.when, tag)
    return tuple(stays)


def _operations(plan: Plan | None) -> dict[str, Operation]:
    return {operation.code: operation for operation in plan.operations} if plan else {}


def _check_name(plan: Plan | None, code: str) -> str:
    return next((check.name for check in plan.checks if check.code == code), code) if plan else code


def _size(plan: Plan | None, code: str, value: int) -> str:
    for check in plan.checks if plan else ():
        if check.code == code:
            return with_unit(check, value)
    return f"{Decimal(value) / 1_000_000:f}"
