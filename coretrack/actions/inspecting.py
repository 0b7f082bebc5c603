"""One core at the bench: its findings in, its verdict out, its costs posted."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import date, datetime
from decimal import Decimal
from typing import Any

from coretrack.actions import look_records
from coretrack.actions.process_stamps import StampBook
from coretrack.errors import InvalidInput, NotAllowed, NotFound
from coretrack.figures.dates import shop_day
from coretrack.figures.grading import Verdict, override, reasons, verdict
from coretrack.figures.lifecycle import CoreFacts
from coretrack.figures.limits import plain_text
from coretrack.figures.observations import Observation
from coretrack.figures.plans import Operation, Plan, plan_from_dict
from coretrack.figures.rates import RateBook
from coretrack.figures.rework import (
    BodyHistory,
    checks_again,
    may_rework_together,
    merge_passes,
    over_allowance,
)
from coretrack.figures.trade_objects import Family
from coretrack.records import queries
from coretrack.records.times import from_text
from coretrack.records.writer import Writer, writing


@dataclass(frozen=True)
class Reading:
    """One reading as it came in: typed text, value (millionths) or result, gauge and moment.

    `by` is who took it, where that was not the inspector who entered the verdict. `detail` is
    what was told of a crack in words, `crack` the same in parts (figures/cracks.py). `stamps` say
    which check of the day's lamp or bath was missing or not good; None when nobody asked yet.
    """

    check: str
    place: int
    typed: str
    value: int | None
    result: str
    gauge: str
    overdue: bool
    at: str
    by: str = ""
    detail: str = ""
    crack: Mapping[str, Any] = field(default_factory=dict)
    stamps: tuple[str, ...] | None = None

    def as_answer(self, unit: str) -> dict[str, Any]:
        """Return the reading for a person or JSON: its value as a decimal text with its unit."""
        value = None if self.value is None else plain_text(self.value)
        told = {**self.as_detail(), "value": value, "unit": unit}
        if self.crack:
            parts = dict(self.crack)
            length = parts.pop("micro_mm", None)
            told["crack"] = parts | ({} if length is None else {"length_mm": plain_text(length)})
        return told

    def as_detail(self) -> dict[str, Any]:
        """Return the reading as an event keeps it."""
        told = {
            "check": self.check,
            "place": self.place,
            "typed": self.typed,
            "value": self.value,
            "result": self.result,
            "gauge": self.gauge,
            "overdue": self.overdue,
            "at": self.at,
        }
        more = {"by": self.by, "detail": self.detail, "crack": dict(self.crack)}
        more["stamps"] = list(self.stamps or ())
        return told | {name: value for name, value in more.items() if value}


@dataclass(frozen=True)
class StockRemoved:
    """Stock that one pass took off, in millionths of its check's unit, and as it was typed."""

    value: int
    typed: str


class Bench:
    """What inspecting needs to know, read once: families, plans and rates."""

    def __init__(self, writer: Writer) -> None:
        self._writer = writer
        self.rates = RateBook.of(queries.rates())
        self._plans: dict[str, Plan] = {}
        self._days = StampBook(writer)

    def family(self, code: str) -> Family:
        """Return a family; NotFound when there is none."""
        return self._writer.get("family", code)  # type: ignore[no-any-return]

    def plan_for(self, core: CoreFacts) -> Plan:
        """Return the plan a core is judged by: the one it was first inspected under, else today's.

        A plan that was used is frozen; a newer version counts for cores not begun yet.
        """
        if not core.family:
            raise NotAllowed(
                f"{core.called} is of an unknown family; identify it before it is inspected."
            )
        version = core.plan_version or self.family(core.family).plan_version
        return self.plan(core.family, version)

    def stamped(self, plan: Plan, reading: Reading) -> Reading:
        """Return a crack check's reading with the stamps of its day; others as they are."""
        if reading.stamps is not None:
            return reading
        method = plan.check(reading.check).method
        return replace(reading, stamps=self._days.stamps(method, from_text(reading.at)))

    def plan(self, family: str, version: int) -> Plan:
        """Return one version of a family's plan."""
        key = f"{family}/{version}"
        if key not in self._plans:
            stored = self._writer.find("plan", key)
            if stored is None:
                raise NotFound(f"Family {family} has no inspection plan yet.")
            self._plans[key] = plan_from_dict({**stored.definition, "version": version})
        return self._plans[key]


def inspect(
    writer: Writer,
    bench: Bench,
    tag: str,
    observations: Sequence[Observation],
    readings: Sequence[Reading],
    *,
    inspector: str,
    at: datetime,
    day: date,
    stopped: bool = False,
    why: str = "",
    withdrawn: Sequence[Mapping[str, Any]] = (),
    plan: Plan | None = None,
    stamped: str = "",
) -> Verdict:
    """Enter one sitting's findings for a core and return the verdict they lead to.

    After rework only the reworked and the disturbed checks need new findings; the others carry
    over. Wash and inspection are posted at the first sitting, re-inspection at later ones that are
    not just the rest of an interrupted one. `withdrawn` are readings that were taken back before;
    `plan` is the one they were begun by, where a newer one came meanwhile; `stamped` says what
    lacked behind the crack results.
    """
    core: CoreFacts = writer.get("core", tag)
    plan = plan or bench.plan_for(core)
    merged, decided = judged_with(plan, core, observations, stopped=stopped)
    detail: dict[str, Any] = {
        "grade": decided.grade,
        "plan_version": plan.version,
        "inspector": inspector,
        "operations": list(decided.operations),
        "reasons": list(reasons(decided)),
        "missing": list(decided.missing),
        "stopped_at": decided.stopped_at,
        "sentence": decided.sentence,
        "findings": [finding_detail(observation) for observation in merged],
        "readings": [bench.stamped(plan, reading).as_detail() for reading in readings],
        "costs": _costs(bench, core, decided.grade, day),
    }
    if stamped:
        detail["stamped"] = stamped
    if withdrawn:
        detail["withdrawn"] = [dict(one) for one in withdrawn]
    writer.event("core", tag, "inspected", detail, at=at, why=why)
    if core.inspections:
        unsettled = undecided_checks(plan, core)
        look_records.after_inspection(writer, core, decided, detail["readings"], unsettled)
    return decided


def undecided_checks(plan: Plan, core: CoreFacts) -> tuple[str, ...]:
    """Return the checks that leave a core undecided by what was found so far, in bench order."""
    _, so_far = judged_with(plan, core, ())
    return tuple(j.check for j in so_far.judgements if j.outcome == "undecided")


def judged_with(
    plan: Plan, core: CoreFacts, observations: Sequence[Observation], *, stopped: bool = False
) -> tuple[tuple[Observation, ...], Verdict]:
    """Return what a core would be judged by with these new findings, and the verdict on it.

    Nothing is stored. InvalidInput when a finding does not fit its check.
    """
    before = findings_of(core)
    try:
        observations = _continued(plan, core, before, observations)
        merged = merge_passes(plan, before, observations, core.done_since)
        decided = verdict(
            plan,
            merged,
            BodyHistory(core.removed, core.done),
            stopped=stopped,
            pass_number=core.reworks + 1,
        )
    except ValueError as error:
        raise InvalidInput(f"{core.called}: {error}.") from None
    return merged, decided


def findings_of(core: CoreFacts) -> list[Observation]:
    """Return the findings that a core is judged by now."""
    return [_observation(finding) for finding in core.findings]


def override_verdict(
    tag: str,
    to: str,
    reason: str,
    *,
    role: str,
    by: str,
    now: datetime,
    operations: tuple[str, ...] = (),
) -> CoreFacts:
    """Let the owner overrule a verdict for good, with a reason; a crack never.

    To rework it goes by `operations`, or by those its readings ask for. The overruled verdict is
    the latest one, an earlier override included. A check that rework worked on or disturbed and
    that was not measured since does not count as passed.
    """
    with writing(by, now) as writer:
        return override_in(writer, tag, to, reason, role=role, operations=operations)


def override_in(
    writer: Writer,
    tag: str,
    to: str,
    reason: str,
    *,
    role: str,
    operations: tuple[str, ...] = (),
) -> CoreFacts:
    """Do what `override_verdict` does inside the caller's transaction."""
    bench = Bench(writer)
    core: CoreFacts = writer.get("core", tag)
    if not core.grade:
        raise NotAllowed(f"{core.called} has no verdict to override.")
    plan = bench.plan_for(core)
    history = BodyHistory(core.removed, core.done)
    found = merge_passes(plan, findings_of(core), [], core.done_since)
    judged = verdict(plan, found, history, pass_number=core.reworks + 1)
    chosen = _chosen(plan, operations, history) if to == "rework" else ()
    changed = override(replace(judged, grade=core.grade), to, reason, role, chosen)
    costs: dict[str, int] = {}
    if to == "scrap":
        zone = writer.get("shop", "shop").time_zone
        costs = _scrap_money(bench, core, shop_day(writer.at, zone))
    elif core.state == "scrapped":
        costs = {part: -getattr(core, part) for part in ("recovery", "disposal")}
    detail = {"grade": to, "operations": list(changed.operations), "costs": costs}
    return writer.event("core", tag, "overridden", detail, why=reason)  # type: ignore[no-any-return]


def _chosen(plan: Plan, named: Sequence[str], history: BodyHistory) -> tuple[str, ...]:
    """Return the operations called so; NotAllowed when the body may not go through them all."""
    operations = [_operation(plan, name) for name in named]
    why = may_rework_together(operations, history)
    if why is not None:
        raise NotAllowed(f"This body may not go to rework like this: {why}.")
    return tuple(operation.code for operation in operations)


def _operation(plan: Plan, named: str) -> Operation:
    """Return the operation called `named` by code or name, capitals aside."""
    wanted = named.strip().casefold()
    for operation in plan.operations:
        if wanted in (operation.code.casefold(), operation.name.casefold()):
            return operation
    known = ", ".join(operation.code for operation in plan.operations) or "none"
    raise InvalidInput(
        f"Family {plan.family} has no rework operation '{named}'; it has: {known}.",
        {"operation": "unknown"},
    )


def finish_rework(
    writer: Writer,
    bench: Bench,
    tag: str,
    operation_code: str,
    *,
    minutes: Decimal | None,
    at: datetime,
    day: date,
    person: str,
    note: str = "",
    removed: StockRemoved | None = None,
) -> CoreFacts:
    """Record one finished pass of a rework operation and post what it cost.

    `removed` is the stock it took off as told, else the plan's. InvalidInput when that is more than
    the body's allowance leaves over all its lives: nothing is stored then.
    """
    core: CoreFacts = writer.get("core", tag)
    plan = bench.plan_for(core)
    operation = _operation(plan, operation_code)
    stock = (operation.removes or 0) if removed is None else removed.value
    refusal = over_allowance(operation, stock, BodyHistory(core.removed, core.done))
    if refusal is not None:
        raise InvalidInput(f"{core.called}: {refusal}.", {"removed": refusal})
    detail = {
        "operation": operation.code,
        "person": person,
        "minutes": None if minutes is None else str(minutes),
        "check": operation.check,
        "removed": stock,
        "costs": {"rework": bench.rates.rework(operation, minutes, day)},
        "note": note,
    }
    if removed is not None:
        detail["removed_typed"] = removed.typed
    facts: CoreFacts = writer.event("core", tag, "reworked", detail, at=at)
    look_records.drop(writer, tag, f"reworked ({operation.code}) before anybody looked")
    return facts


def _continued(
    plan: Plan, core: CoreFacts, before: Sequence[Observation], now: Sequence[Observation]
) -> list[Observation]:
    """Return the new findings, joined to readings of the same check that were not all taken yet.

    A check that lacks readings (one was asked back, or the inspector was called away) is completed
    by the missing ones alone. Readings from before a rework of the check never count again.
    """
    due = checks_again(plan, core.done_since)
    begun = {o.check: o.values for o in before if o.check not in due}
    readings = {check.code: check.readings for check in plan.checks}
    joined = []
    for found in now:
        earlier, wanted = begun.get(found.check, ()), readings.get(found.check, 0)
        both_short = 0 < len(earlier) < wanted and len(found.values) < wanted
        joined.append(replace(found, values=(*earlier, *found.values)) if both_short else found)
    return joined


def _costs(bench: Bench, core: CoreFacts, grade: str, day: date) -> dict[str, int]:
    costs: dict[str, int] = {}
    if core.inspections == 0:
        costs = {step: bench.rates.step(step, day) for step in ("wash", "inspect")}
    elif core.state != "open":
        costs = {"reinspect": bench.rates.step("reinspect", day)}
    if grade == "scrap":
        costs |= _scrap_money(bench, core, day)
    return costs


def _scrap_money(bench: Bench, core: CoreFacts, day: date) -> dict[str, int]:
    family = bench.family(core.family)
    return bench.rates.scrap(family.metal, family.mass_g, day)


def finding_detail(observation: Observation) -> dict[str, Any]:
    """Return a finding as an event keeps it."""
    return {
        "check": observation.check,
        "values": list(observation.values),
        "result": observation.result,
        "complete": observation.complete,
        "detail": observation.detail,
    }


def _observation(finding: Mapping[str, Any]) -> Observation:
    return Observation(**{**finding, "values": tuple(finding["values"])})
