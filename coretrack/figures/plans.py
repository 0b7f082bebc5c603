"""Families and their inspection plans as plain values."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, fields
from typing import Any

from coretrack.errors import InvalidInput
from coretrack.figures import money
from coretrack.figures.money import Money
from coretrack.figures.tolerances import Limits, from_micro

NUMERIC_KINDS = ("dimension", "count", "time", "hardness")
KINDS = (*NUMERIC_KINDS, "crack", "attribute", "look")
JUDGED_WAYS = ("each", "max", "min", "mean", "range")
RULES = ("simple", "guarded")
LAST_GRADE = "D"
CRACK_METHODS = (
    "visual",
    "penetrant",
    "fluorescent penetrant",
    "magnetic particle",
    "eddy current",
    "pressure",
)


@dataclass(frozen=True)
class ReworkBand:
    """A reading inside `limits` (and outside usable) can be saved by `operation`.

    An attribute check has no limits: its band is open on both sides and says that a no-go can be
    saved by `operation` (a thread that can be chased).
    """

    operation: str
    limits: Limits


@dataclass(frozen=True)
class Check:
    """One check of a plan.

    `kind`: dimension, crack, attribute, count, time, hardness or look. Numeric kinds carry a
    `unit`, a `resolution` and limits in millionths of that unit; `readings` of them are taken and
    judged as `judged`: each, max, min, mean or range. `uncertainty` is the expanded U of the gauge
    (millionths); `rule` is simple or guarded. `look_scraps` lists the appearance grades that the
    shop scraps, `look_reworks` those it sends to an operation.
    """

    code: str
    name: str
    kind: str
    order: int
    unit: str = ""
    resolution: int | None = None
    readings: int = 1
    judged: str = "each"
    gauge_kind: str = ""
    rule: str = "simple"
    uncertainty: int = 0
    new: Limits | None = None
    usable: Limits | None = None
    rework: tuple[ReworkBand, ...] = ()
    plausible: Limits | None = None
    nominal: int | None = None
    method: str = ""
    look_scraps: tuple[str, ...] = ()
    look_reworks: tuple[tuple[str, str], ...] = ()

    @property
    def numeric(self) -> bool:
        """Return whether the check is judged by numbers against limits."""
        return self.kind in NUMERIC_KINDS

    def reworked_by(self) -> tuple[str, ...]:
        """Return the operations this check can send a body to, in plan order, once each."""
        named = [band.operation for band in self.rework]
        named += [operation for _, operation in self.look_reworks]
        return tuple(dict.fromkeys(named))


def look_grades(check: Check) -> tuple[str, ...]:
    """Return the appearance grades that the bench takes at a look: A to D, more where a plan has.

    A letter after the last one would be scrapped by a slip of the finger.
    """
    named = (*check.look_scraps, *(grade for grade, _ in check.look_reworks), LAST_GRADE)
    return tuple(chr(code) for code in range(ord("A"), ord(max(named)) + 1))


@dataclass(frozen=True)
class Operation:
    """A rework operation of a family.

    `removes` is the stock one pass takes off `check`, `allowance` the most that may be removed over
    all lives of a body (both millionths of that check's unit, `None` when nothing is removed).
    `disturbs` names checks that must be measured again besides `check`.
    """

    code: str
    name: str
    minutes: int
    consumables: Money
    most_passes: int
    check: str = ""
    removes: int | None = None
    allowance: int | None = None
    disturbs: tuple[str, ...] = ()


@dataclass(frozen=True)
class Plan:
    """One frozen version of a family's inspection plan."""

    family: str
    version: int
    checks: tuple[Check, ...]
    operations: tuple[Operation, ...] = ()

    def check(self, code: str) -> Check:
        """Return the check `code`; KeyError when the plan has none."""
        for check in self.checks:
            if check.code == code:
                return check
        raise KeyError(code)

    def operation(self, code: str) -> Operation:
        """Return the operation `code`; KeyError when the plan has none."""
        for operation in self.operations:
            if operation.code == code:
                return operation
        raise KeyError(code)

    def in_order(self) -> tuple[Check, ...]:
        """Return the checks in the order they are done on the bench."""
        return tuple(sorted(self.checks, key=lambda check: check.order))


def plan_to_dict(plan: Plan) -> dict[str, Any]:
    """Return `plan` as plain lists, texts and whole numbers, the same for equal plans.

    `plan_from_dict` gives the plan back; sizes stay counts of millionths, limits are pairs.
    """
    return {
        "family": plan.family,
        "version": plan.version,
        "checks": [_to_plain(check) for check in plan.checks],
        "operations": [_to_plain(operation) for operation in plan.operations],
    }


def plan_from_dict(stored: Mapping[str, Any]) -> Plan:
    """Return the plan that `plan_to_dict` stored; InvalidInput when it is none."""
    try:
        return Plan(
            str(stored["family"]),
            int(stored["version"]),
            tuple(_check_from(entry) for entry in stored["checks"]),
            tuple(
                Operation(**{**entry, "disturbs": tuple(entry["disturbs"])})
                for entry in stored["operations"]
            ),
        )
    except (KeyError, TypeError, ValueError) as error:
        raise InvalidInput(f"A stored inspection plan cannot be read: {error}.") from error


def plan_differences(old: Plan, new: Plan) -> tuple[str, ...]:
    """Return what changed from `old` to `new`, one plain sentence each; versions are left out."""
    return (
        *_changes("check", {c.code: c for c in old.checks}, {c.code: c for c in new.checks}),
        *_changes(
            "operation",
            {o.code: o for o in old.operations},
            {o.code: o for o in new.operations},
        ),
    )


def limits_text(limits: Limits | None, unit: str = "") -> str:
    """Return limits as a shop writes them: `6.000..6.009 mm`, `<= 0.30`, or a dash for none."""
    if limits is None or (limits.lower is None and limits.upper is None):
        return "–"
    after = "" if unit in ("", "count") else f" {unit}"
    if limits.upper is None:
        return f">= {_number(limits.lower)}{after}"
    if limits.lower is None:
        return f"<= {_number(limits.upper)}{after}"
    return f"{_number(limits.lower)}..{_number(limits.upper)}{after}"


def _number(micro: int | None) -> str:
    return "–" if micro is None else f"{from_micro(micro):f}"


def _to_plain(thing: Check | Operation) -> dict[str, Any]:
    return {field.name: _plain(getattr(thing, field.name)) for field in fields(thing)}


def _plain(value: Any) -> Any:
    if isinstance(value, Limits):
        return [value.lower, value.upper]
    if isinstance(value, ReworkBand):
        return {"operation": value.operation, "limits": _plain(value.limits)}
    if isinstance(value, tuple):
        return [_plain(part) for part in value]
    return value


def _check_from(entry: Mapping[str, Any]) -> Check:
    values = dict(entry)
    for name in ("new", "usable", "plausible"):
        values[name] = None if values[name] is None else Limits(*values[name])
    values["rework"] = tuple(
        ReworkBand(band["operation"], Limits(*band["limits"])) for band in values["rework"]
    )
    values["look_scraps"] = tuple(values["look_scraps"])
    values["look_reworks"] = tuple((grade, operation) for grade, operation in entry["look_reworks"])
    return Check(**values)


def _changes(
    what: str, old: Mapping[str, Check | Operation], new: Mapping[str, Check | Operation]
) -> list[str]:
    found = [f"{what} {old[code].name} was taken out" for code in old if code not in new]
    for code, thing in new.items():
        earlier = old.get(code)
        if earlier is None:
            found.append(f"{what} {thing.name} is new")
            continue
        for field in fields(thing):
            before, after = getattr(earlier, field.name), getattr(thing, field.name)
            if before != after:
                told = _told(field.name, before, earlier), _told(field.name, after, thing)
                found.append(
                    f"{what} {thing.name}: {field.name.replace('_', ' ')} was {told[0]}, "
                    f"is now {told[1]}"
                )
    return found


_SIZES = {"resolution", "uncertainty", "nominal", "removes", "allowance"}


def _told(name: str, value: Any, thing: Check | Operation) -> str:
    unit = thing.unit if isinstance(thing, Check) else ""
    if isinstance(value, Limits):
        return limits_text(value, unit)
    if value is None or value in ("", ()):
        return "not set"
    if name == "consumables":
        return money.shown(value)
    if name in _SIZES:
        return f"{_number(value)} {unit}".strip()
    if isinstance(value, Sequence) and not isinstance(value, str):
        return ", ".join(_part_told(part, unit) for part in value)
    return str(value)


def _part_told(part: Any, unit: str) -> str:
    if isinstance(part, ReworkBand):
        return f"{part.operation} {limits_text(part.limits, unit)}".rstrip(" –")
    return " to ".join(part) if isinstance(part, tuple) else str(part)
