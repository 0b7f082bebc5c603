"""Drafts of an inspection plan for trying out: other limits, another U, an added rework.

A draft is a plan of its own; nothing here changes the one in force.
"""

from __future__ import annotations

from dataclasses import replace

from coretrack.errors import InvalidInput
from coretrack.figures.bands import gap_beside
from coretrack.figures.plans import (
    RULES,
    Check,
    Operation,
    Plan,
    ReworkBand,
    limits_text,
)
from coretrack.figures.tolerances import Limits


def with_limits(plan: Plan, check: str, usable: Limits) -> Plan:
    """Return `plan` with other usable limits at `check`, in millionths of its unit.

    A rework band that joined the old usable limit (within one gauge resolution) joins the new one:
    a reading that is no longer usable can still be reworked as its neighbours can. A band that the
    new limits swallow goes. InvalidInput for an unknown check or one without limits.
    """
    old = _numeric(plan, check)
    if old.usable is None:
        raise InvalidInput(f"{old.name} has no usable limits to change.")
    moved = tuple(
        band for band in (_follow(band, old, usable) for band in old.rework) if band is not None
    )
    return _with(plan, replace(old, usable=usable, rework=moved))


def with_uncertainty(plan: Plan, check: str, uncertainty: int, rule: str = "guarded") -> Plan:
    """Return `plan` with the expanded uncertainty U (millionths) at `check` and the rule for it.

    InvalidInput for an unknown check, one that takes no readings, a negative U or another rule.
    """
    old = _numeric(plan, check)
    if uncertainty < 0:
        raise InvalidInput("An uncertainty is zero or more.")
    if rule not in RULES:
        raise InvalidInput(f"'{rule}' is no rule; use {' or '.join(RULES)}.")
    return _with(plan, replace(old, uncertainty=uncertainty, rule=rule))


def with_rework(plan: Plan, check: str, operation: Operation, limits: Limits | None = None) -> Plan:
    """Return `plan` with one more rework at `check`: readings inside `limits` go to `operation`.

    An attribute check takes no limits: its no-go goes to the operation. InvalidInput for an unknown
    check, limits where there are none to have (or none where there must be), a band that lies apart
    from the usable limits, or an operation whose code the plan uses for another one.
    """
    old = _known(plan, check)
    if old.kind != "attribute" and not old.numeric:
        raise InvalidInput(f"{old.name} is a {old.kind} check; no rework can be tried out there.")
    if old.numeric == (limits is None):
        need = "needs limits" if old.numeric else "takes no limits"
        raise InvalidInput(f"A rework at {old.name} {need}.")
    known = {known.code: known for known in plan.operations}
    if known.get(operation.code, operation) != operation:
        raise InvalidInput(f"The plan has another operation '{operation.code}' already.")
    band = ReworkBand(operation.code, limits or Limits(None, None))
    bands = (*old.rework, band)
    if old.usable is not None and gap_beside(old.usable, bands, old.resolution or 0) is not None:
        raise InvalidInput(
            f"The band {limits_text(limits, old.unit)} lies apart from what is usable at {old.name}"
            f" ({limits_text(old.usable, old.unit)}); let the two join."
        )
    changed = _with(plan, replace(old, rework=bands))
    operations = tuple({**known, operation.code: operation}.values())
    return replace(changed, operations=operations)


def _follow(band: ReworkBand, old: Check, usable: Limits) -> ReworkBand | None:
    """Return `band` with the end that joined the old usable limit at the new one."""
    lower, upper = band.limits.lower, band.limits.upper
    was, step = old.usable or Limits(None, None), old.resolution or 0
    if _joins(lower, was.upper, step):
        lower = usable.upper
    if _joins(was.lower, upper, step):
        upper = usable.lower
    if lower is not None and upper is not None and lower >= upper:
        return None
    return ReworkBand(band.operation, Limits(lower, upper))


def _joins(upper_end: int | None, lower_end: int | None, step: int) -> bool:
    """Return whether a band that starts at `upper_end` joins one that ends at `lower_end`."""
    return upper_end is not None and lower_end is not None and 0 <= upper_end - lower_end <= step


def _with(plan: Plan, check: Check) -> Plan:
    checks = tuple(check if old.code == check.code else old for old in plan.checks)
    return replace(plan, checks=checks)


def _known(plan: Plan, code: str) -> Check:
    try:
        return plan.check(code)
    except KeyError:
        names = ", ".join(check.code for check in plan.checks)
        raise InvalidInput(f"The plan has no check '{code}'; it has {names}.") from None


def _numeric(plan: Plan, code: str) -> Check:
    check = _known(plan, code)
    if not check.numeric:
        raise InvalidInput(f"{check.name} is a {check.kind} check; it has no limits to try out.")
    return check
