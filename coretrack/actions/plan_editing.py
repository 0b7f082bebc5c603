"""The owner's plans: what stands in the books, a changed one looked over, stored, written out.

A plan is handed about as the tables of a family file. A stored version is never changed: whatever
differs becomes a new version, and cores already begun keep theirs.
"""

from __future__ import annotations

import tomllib
from collections.abc import Mapping
from dataclasses import dataclass, replace
from datetime import date, datetime
from decimal import Decimal
from typing import Any
from zoneinfo import ZoneInfo

from coretrack.actions.acting import act_once
from coretrack.actions.setting_up import store_family
from coretrack.errors import Conflict, InvalidInput, NotFound
from coretrack.figures.plain_words import counted
from coretrack.figures.plan_changes import criteria_differences, family_differences
from coretrack.figures.plan_files import (
    FamilyFile,
    FamilyPrices,
    Fault,
    GroupFile,
    NumberFile,
    family_from_toml,
)
from coretrack.figures.plan_writing import Tables, family_tables, tables_as_toml
from coretrack.figures.plans import Plan, plan_differences, plan_from_dict
from coretrack.figures.rework import cracks_left_alone
from coretrack.figures.trade_objects import Family, PlanVersion
from coretrack.paper.file_names import safe_file_name
from coretrack.records import objects, plan_queries, queries
from coretrack.records.database import connection
from coretrack.records.times import from_text
from coretrack.records.writer import Writer

PLAN_PARTS = ("part_percent", "faults", "checks", "operations")
HEADER_PARTS = ("code", "name", "mass_g", "metal", "standard_yield", "credit_when")
"""What the editor's form gives; groups, charges and prices stay as they are stored."""

MOST_TEXT = 200_000
"""Signs of a plan file; a longer one is no plan."""


@dataclass(frozen=True)
class FamilyLine:
    """One family in the list; `used` counts cores inspected under the present plan."""

    code: str
    name: str
    plan_version: int
    criteria_version: int
    checks: int
    operations: int
    criteria: int
    used: int


@dataclass(frozen=True)
class VersionSeen:
    """One stored version: when (the shop's clock) and by whom, what uses it, what it changed."""

    number: int
    at: datetime
    by: str
    used: int
    changes: tuple[str, ...]


@dataclass(frozen=True)
class FamilyView:
    """A family with its plan and criteria versions, newest first; `tables` is what stands now.

    `warnings` are operations after which nobody looks for cracks again.
    """

    code: str
    name: str
    tables: Tables
    seen: str
    plans: tuple[VersionSeen, ...]
    criteria: tuple[VersionSeen, ...]
    warnings: tuple[str, ...] = ()


@dataclass(frozen=True)
class LookedOver:
    """A changed plan before it is stored: what storing would change, or what is wrong, by place.

    `warnings` do not keep it from being stored.
    """

    changes: tuple[str, ...] = ()
    problems: Mapping[str, str] | None = None
    message: str = ""
    code: str = ""
    warnings: tuple[str, ...] = ()


def plans_view() -> tuple[FamilyLine, ...]:
    """Return all families by code."""
    with connection():
        used = plan_queries.cores_by_plan()
        return tuple(
            FamilyLine(
                family.code,
                family.name,
                known.plan_version,
                known.criteria_version,
                len(family.plan.checks),
                len(family.plan.operations),
                len(family.faults),
                used.get((family.code, known.plan_version), 0),
            )
            for known in queries.families()
            if (family := _family_of(known)) is not None
        )


def family_view(code: str) -> FamilyView:
    """Return a family as the editor begins with it; NotFound when there is none."""
    with connection():
        known = _known(code)
        shop = queries.shop()
        zone = ZoneInfo(shop.time_zone if shop else "UTC")
        family = _family_of(known)
        return FamilyView(
            known.key,
            known.name,
            family_tables(family),
            seen_of(known),
            _plans_seen(known.key, zone),
            _criteria_seen(known.key, zone),
            cracks_left_alone(family.plan),
        )


def stored_plan(code: str, number: int) -> Plan:
    """Return one stored version of a plan; NotFound when there is none."""
    with connection():
        stored = objects.one("plan", f"{code}/{number}")
    if stored is None:
        raise NotFound(f"Family {code} has no plan version {number}.")
    return _plan(stored)


def seen_of(known: Family) -> str:
    """Return which versions of plan and criteria a person has before them."""
    return f"{known.plan_version}/{known.criteria_version}"


def look_over(told: Mapping[str, Any], code: str = "") -> LookedOver:
    """Return what storing the form's tables would change in family `code`; nothing is stored."""
    with connection():
        try:
            old, new = _changed(told, code)
        except InvalidInput as error:
            return LookedOver(problems=error.fields, message=error.message)
    return _looked(old, new)


def _looked(old: FamilyFile | None, new: FamilyFile) -> LookedOver:
    warnings = cracks_left_alone(new.plan)
    return LookedOver(family_differences(old, new), code=new.code, warnings=warnings)


def save_plan(
    told: Mapping[str, Any],
    code: str,
    seen: str,
    *,
    by: str,
    station: str,
    now: datetime,
    key: str,
) -> tuple[str, tuple[str, ...]]:
    """Store the form's tables as family `code` ("": a new one); return its code and what changed.

    What differs becomes a new version. Conflict when the family is no longer as `seen`;
    InvalidInput names every place that is wrong, and then nothing is stored.
    """

    def act(writer: Writer) -> dict[str, Any]:
        _unchanged_since(writer, code, seen)
        old, new = _changed(told, code)
        return _stored(writer, old, new)

    return _answered(act_once("plan", key, act, by=by, station=station, now=now))


def look_at_file(text: str) -> LookedOver:
    """Return what a plan file would change; nothing is stored."""
    with connection():
        try:
            new = _parsed(text)
        except InvalidInput as error:
            return LookedOver(problems=error.fields, message=error.message)
        known = _find(new.code)
        old = _family_of(known) if known else None
    return _looked(old, new)


def save_file(
    text: str, *, by: str, station: str, now: datetime, key: str
) -> tuple[str, tuple[str, ...]]:
    """Store the family that a plan file describes; return its code and what changed."""

    def act(writer: Writer) -> dict[str, Any]:
        new = _parsed(text)
        known: Family | None = writer.find("family", new.code)
        return _stored(writer, _family_of(known) if known else None, new)

    return _answered(act_once("plan file", key, act, by=by, station=station, now=now))


def plan_file(code: str, version: int = 0) -> tuple[str, str]:
    """Return name and text of a family's file, with plan `version` (0: the present one)."""
    with connection():
        family = _family_of(_known(code))
        stored = objects.one("plan", f"{code}/{version}") if version else None
    if version:
        if stored is None:
            raise NotFound(f"Family {code} has no plan version {version}.")
        family = replace(family, plan=_plan(stored))
    return safe_file_name(code, ".toml"), tables_as_toml(family_tables(family))


def _stored(writer: Writer, old: FamilyFile | None, new: FamilyFile) -> dict[str, Any]:
    changes = list(family_differences(old, new))
    store_family(writer, new)
    return {"code": new.code, "changes": changes}


def _answered(answer: Mapping[str, Any]) -> tuple[str, tuple[str, ...]]:
    return str(answer["code"]), tuple(answer["changes"])


def _unchanged_since(writer: Writer, code: str, seen: str) -> None:
    known: Family | None = writer.find("family", code) if code else None
    if known is not None and seen_of(known) != seen:
        raise Conflict(
            f"The plan of {code} was changed meanwhile: it is version {known.plan_version} now. "
            "What you typed is kept here; look at the new version beside it, then save again."
        )


def _changed(told: Mapping[str, Any], code: str) -> tuple[FamilyFile | None, FamilyFile]:
    """Return the family as stored and as the form wants it. InvalidInput lists what is wrong."""
    if not code:
        new = family_from_toml(dict(told))
        if _find(new.code) is not None:
            raise InvalidInput(
                f"Family {new.code} is there already.",
                {"code": f"{new.code} is there already; open it to change it"},
            )
        return None, new
    old = _family_of(_known(code))
    kept = {
        name: value
        for name, value in family_tables(old).items()
        if name not in (*PLAN_PARTS, *HEADER_PARTS)
    }
    return old, family_from_toml({**told, "code": code, **kept})


def _parsed(text: str) -> FamilyFile:
    if len(text) > MOST_TEXT:
        raise InvalidInput(
            f"The file has {len(text):,} signs; a plan has {MOST_TEXT:,} at most.",
            {"file": "too long for a plan"},
        )
    try:
        return family_from_toml(tomllib.loads(text.replace("\r\n", "\n").removeprefix("\ufeff")))
    except tomllib.TOMLDecodeError as error:
        raise InvalidInput(
            f"The file is not readable TOML: {error}.", {"file": f"not readable TOML: {error}"}
        ) from None


def _find(code: str) -> Family | None:
    return next((known for known in queries.families() if known.key == code), None)


def _known(code: str) -> Family:
    known = _find(code)
    if known is None:
        raise NotFound(f"There is no family '{code}'.")
    return known


def _family_of(known: Family) -> FamilyFile:
    """Return everything stored of a family as its file says it."""
    stored = objects.one("plan", f"{known.key}/{known.plan_version}")
    if stored is None:
        raise NotFound(f"Family {known.key} has no inspection plan yet.")
    told = known.definition.get("prices", {})
    belief = told.get("belief")
    prices = FamilyPrices(**{**told, "belief": None if belief is None else Decimal(belief)})
    faults: tuple[Fault, ...] = ()
    for criteria in plan_queries.criteria_versions(known.key):
        if criteria.number == known.criteria_version:
            faults = _faults(criteria.faults)
    return FamilyFile(
        code=known.key,
        name=known.name,
        mass_g=known.mass_g,
        metal=known.metal,
        standard_yield=Decimal(known.standard_yield) if known.standard_yield else None,
        credit_when=known.credit_when,
        prices=prices,
        charges=tuple(
            (date.fromisoformat(charge.valid_from), charge.amount)
            for charge in queries.charges(known.key)
        ),
        groups=_groups(known.key),
        faults=faults,
        plan=_plan(stored),
    )


def _plan(stored: PlanVersion) -> Plan:
    return plan_from_dict({**stored.definition, "version": stored.number})


def _faults(stored: tuple[Mapping[str, Any], ...]) -> tuple[Fault, ...]:
    return tuple(Fault(**{**fault, "value": Decimal(fault["value"])}) for fault in stored)


def _groups(family: str) -> tuple[GroupFile, ...]:
    groups: dict[str, GroupFile] = {}
    for number in plan_queries.numbers_of(family):
        group = groups.setdefault(
            number.core_group, GroupFile(number.core_group, number.group_name, ())
        )
        first_day = date.fromisoformat(number.valid_from) if number.valid_from else None
        told = NumberFile(number.shown, number.kind, first_day, number.superseded_by)
        groups[number.core_group] = replace(group, numbers=(*group.numbers, told))
    return tuple(groups.values())


def _plans_seen(family: str, zone: ZoneInfo) -> tuple[VersionSeen, ...]:
    versions = plan_queries.plan_versions(family)
    stored = plan_queries.stored_by("plan", [version.key for version in versions])
    used = plan_queries.cores_by_plan()
    seen: list[VersionSeen] = []
    before: Plan | None = None
    for version in versions:
        plan = _plan(version)
        told = stored[version.key]
        changes = plan_differences(before, plan) if before else _first(plan)
        at = from_text(told.at).astimezone(zone)
        count = used.get((family, version.number), 0)
        seen.append(VersionSeen(version.number, at, told.by, count, changes))
        before = plan
    return tuple(reversed(seen))


def _first(plan: Plan) -> tuple[str, ...]:
    checks, operations = len(plan.checks), len(plan.operations)
    return (f"the first one: {counted(checks, 'check')}, {counted(operations, 'operation')}",)


def _criteria_seen(family: str, zone: ZoneInfo) -> tuple[VersionSeen, ...]:
    versions = plan_queries.criteria_versions(family)
    stored = plan_queries.stored_by("criteria", [version.key for version in versions])
    used = plan_queries.lines_by_criteria()
    seen: list[VersionSeen] = []
    before: tuple[Fault, ...] | None = None
    for version in versions:
        faults = _faults(version.faults)
        told = stored[version.key]
        first = (f"the first ones: {len(faults)} criteria",)
        changes = first if before is None else criteria_differences(before, faults)
        at = from_text(told.at).astimezone(zone)
        count = used.get((family, version.number), 0)
        seen.append(VersionSeen(version.number, at, told.by, count, changes))
        before = faults
    return tuple(reversed(seen))
