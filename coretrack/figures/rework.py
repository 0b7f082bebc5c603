"""Rework: what a body may still go through, what is measured again, and whether it pays."""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from decimal import Decimal
from fractions import Fraction

from coretrack.figures.money import Money, nearest, to_decimal
from coretrack.figures.observations import Observation
from coretrack.figures.plans import Operation, Plan
from coretrack.figures.tolerances import MICRO

_HEATS = re.compile(r"(?i)grind|weld|braz|heat|straighten|machin|mill")


@dataclass(frozen=True)
class BodyHistory:
    """What a body has been through in all its lives so far.

    `removed` maps a check to the stock taken off it (millionths of the check's unit), `passes` an
    operation to how often it was done.
    """

    removed: Mapping[str, int] = field(default_factory=dict)
    passes: Mapping[str, int] = field(default_factory=dict)

    def after(self, operation: Operation) -> BodyHistory:
        """Return the history with one more pass of `operation`."""
        return all_lives((self, _one_pass(operation)))


NEW_BODY = BodyHistory()
"""A body nothing has been done to."""


def all_lives(lives: Iterable[BodyHistory]) -> BodyHistory:
    """Return the sum over all lives of one body."""
    removed: dict[str, int] = {}
    passes: dict[str, int] = {}
    for life in lives:
        for check, stock in life.removed.items():
            removed[check] = removed.get(check, 0) + stock
        for operation, times in life.passes.items():
            passes[operation] = passes.get(operation, 0) + times
    return BodyHistory(removed, passes)


def may_rework(operation: Operation, history: BodyHistory) -> str | None:
    """Return `None` when one more pass of `operation` is allowed, else why not.

    Passes and stock count over all lives of the body; stock removed up to the allowance exactly is
    still allowed.
    """
    return may_rework_together((operation,), history)


def may_rework_together(operations: Iterable[Operation], history: BodyHistory) -> str | None:
    """Return `None` when one pass of every operation together is allowed, else why not.

    Two operations may each fit and together take too much off the same face.
    """
    wanted = tuple(operations)
    after = all_lives((history, *(_one_pass(operation) for operation in wanted)))
    for operation in wanted:
        done = history.passes.get(operation.code, 0)
        if after.passes[operation.code] > operation.most_passes:
            return (
                f"{operation.name} has been done {_times(done)} on this body, "
                f"the most is {operation.most_passes}"
            )
        if operation.allowance is None or not operation.check:
            continue
        taken = history.removed.get(operation.check, 0)
        total = after.removed.get(operation.check, 0)
        if total > operation.allowance:
            return (
                f"{operation.name} would take {_size(total)} off the face it works on over all "
                f"lives of this body, the allowance is {_size(operation.allowance)} "
                f"(already gone: {_size(taken)})"
            )
    return None


def over_allowance(operation: Operation, removed: int, history: BodyHistory) -> str | None:
    """Return `None` when a pass that took `removed` off may stand, else why not.

    Passes are counted like stock: over all lives of the body.
    """
    actual = replace(operation, removes=removed or None) if operation.check else operation
    return may_rework(actual, history)


def stock_left(operation: Operation, history: BodyHistory) -> int | None:
    """Return how much of its allowance a body has left (millionths), `None` without an allowance.

    What earlier lives took beyond it leaves nothing, never less than nothing.
    """
    if operation.allowance is None or not operation.check:
        return None
    return max(0, operation.allowance - history.removed.get(operation.check, 0))


def passes_left(operation: Operation, history: BodyHistory) -> int:
    """Return how many passes of an operation a body may still have, its stock counted too."""
    by_count = max(0, operation.most_passes - history.passes.get(operation.code, 0))
    left = stock_left(operation, history)
    if left is None or not operation.removes:
        return by_count
    return min(by_count, left // operation.removes)


def checks_again(plan: Plan, operations: Iterable[str]) -> tuple[str, ...]:
    """Return the checks to measure again after `operations`, in bench order.

    They are the check an operation works on, those it disturbs, and those that can send a body to
    it. KeyError when the plan has no such operation.
    """
    done = {code: plan.operation(code) for code in operations}
    again = {operation.check for operation in done.values() if operation.check}
    for operation in done.values():
        again.update(operation.disturbs)
    for check in plan.checks:
        if any(code in done for code in check.reworked_by()):
            again.add(check.code)
    return tuple(check.code for check in plan.in_order() if check.code in again)


def cracks_left_alone(plan: Plan) -> tuple[str, ...]:
    """Return a warning for each operation after which nobody looks for cracks again, though it may
    open some: one that takes stock off, or whose name says that it heats (common practice, no
    source). Nothing to say where the plan has no crack check.
    """
    cracks = [check for check in plan.in_order() if check.kind == "crack"]
    if not cracks:
        return ()
    return tuple(
        f"{operation.name} {'takes stock off' if operation.removes else 'heats or cuts'}, and "
        f"{' or '.join(check.name for check in cracks)} is not done again after it: what was seen "
        f"before counts. Put {cracks[0].code} among the checks it also has measured again, where "
        "it can open a crack."
        for operation in plan.operations
        if (operation.removes or _HEATS.search(f"{operation.code} {operation.name}"))
        and not {check.code for check in cracks} & set(checks_again(plan, [operation.code]))
    )


def merge_passes(
    plan: Plan,
    before: Sequence[Observation],
    again: Sequence[Observation],
    operations: Iterable[str],
) -> tuple[Observation, ...]:
    """Return the observations a body is judged by after rework; neither pass is changed.

    A check that `operations` reworked or disturbed counts only as measured again: until then it is
    absent, and so missing. Any other check carries its earlier finding forward unless it was
    looked at again. A crack once found stays found, whatever a later look says.
    """
    newly = {observation.check: observation for observation in again}
    if len(newly) != len(again):
        raise ValueError("a check stands twice in one re-inspection")
    due = set(checks_again(plan, operations))
    crack_checks = {check.code for check in plan.checks if check.kind == "crack"}
    cracked = {
        observation.check
        for observation in before
        if observation.check in crack_checks and observation.result.strip().lower() == "indication"
    }
    kept = [
        observation
        for observation in before
        if observation.check in cracked
        or (observation.check not in due and observation.check not in newly)
    ]
    fresh = [observation for observation in again if observation.check not in cracked]
    return (*kept, *fresh)


@dataclass(frozen=True)
class ReworkWorth:
    """Whether an operation pays, in money.

    `per_saved` is what one saved body costs in rework, `gain` what saving it is worth. `pays` and
    `settled` are `None` with the reason in `why` while they cannot be known; `settled` says whether
    both ends of the interval give the same answer.
    """

    per_saved: Money | None
    gain: Money | None
    pays: bool | None
    per_saved_low: Money | None = None
    per_saved_high: Money | None = None
    settled: bool | None = None
    why: str | None = None


Rate = Fraction | Decimal | float


def rework_pays(
    cost: Money,
    pass_rate: Rate | None,
    good_value: Money | None,
    scrap_value: Money,
    *,
    interval: tuple[Rate, Rate] | None = None,
) -> ReworkWorth:
    """Return whether (c_r + c_j) / rho < G - s.

    `cost` is c_r + c_j, rework and re-inspection per attempt; `pass_rate` rho, the share of
    attempts that end as keep, with its `interval`; `good_value` G; `scrap_value` s, recovered when
    the body is scrapped instead. All money in ten-thousandths. Derivation: a pass turns s into
    rho G + (1 - rho) s - cost. ValueError when a rate is outside 0..1 or the cost negative.
    """
    if cost < 0:
        raise ValueError("the cost of a rework must be zero or more")
    for rate in (pass_rate, *(interval or ())):
        if rate is not None and not 0 <= rate <= 1:
            raise ValueError(f"the pass rate must be from 0 to 1, not {rate}")
    if pass_rate is None:
        return ReworkWorth(None, None, None, why="no reworked body has been decided yet")
    gain = None if good_value is None else good_value - scrap_value
    per_saved = _per_saved(cost, pass_rate)
    low, high = None, None
    if interval is not None:
        low, high = _per_saved(cost, max(interval)), _per_saved(cost, min(interval))
    if gain is None:
        return ReworkWorth(
            per_saved, None, None, low, high, why="the value of a good body is not known"
        )
    pays = _pays(cost, pass_rate, gain)
    settled = None
    if interval is not None:
        settled = _pays(cost, min(interval), gain) == _pays(cost, max(interval), gain)
    why = "no reworked body has passed" if pass_rate == 0 else None
    return ReworkWorth(per_saved, gain, pays, low, high, settled, why)


def _pays(cost: Money, pass_rate: Rate, gain: Money) -> bool:
    # The strict comparison is made by multiplying out, so that a tie is decided exactly.
    return pass_rate > 0 and cost < Fraction(pass_rate) * gain


def _per_saved(cost: Money, pass_rate: Rate) -> Money | None:
    if pass_rate == 0:
        return None
    return nearest(Fraction(to_decimal(cost)) / Fraction(pass_rate))


def _one_pass(operation: Operation) -> BodyHistory:
    removed = {}
    if operation.check and operation.removes:
        removed[operation.check] = operation.removes
    return BodyHistory(removed, {operation.code: 1})


def _size(micro: int) -> str:
    return f"{(Decimal(micro) / MICRO).normalize():f}"


def _times(count: int) -> str:
    return {1: "once", 2: "twice"}.get(count, f"{count} times")
