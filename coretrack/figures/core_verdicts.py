"""What the bench said of a core, from its events: each verdict with the readings it came from."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from coretrack.figures.core_facts import CoreFacts
from coretrack.figures.grading import barred_operations
from coretrack.figures.judging import CheckJudgement, judge_check, with_unit
from coretrack.figures.limits import describe_limits
from coretrack.figures.observations import Observation
from coretrack.figures.plans import Check, Plan
from coretrack.figures.rework import BodyHistory

OUTCOMES = {
    "new": ("as new", "good"),
    "usable": ("inside", "good"),
    "rework": ("rework", "ask"),
    "discard": ("outside", "stop"),
    "undecided": ("too close to call", "ask"),
    "missing": ("not measured", "wait"),
}
"""What a check says, in words, and the shape beside them."""

GRADE_TONES = {"keep": "good", "rework": "ask", "undecided": "ask", "open": "note", "scrap": "stop"}

_WORDS = {
    "none": ("no indication", "good"),
    "indication": ("indication", "stop"),
    "unsure": ("unsure", "ask"),
    "go": ("go", "good"),
    "no-go": ("no-go", "stop"),
}


@dataclass(frozen=True)
class Moment:
    """An event with its times by the shop's clock, and the core before and after it."""

    event: str
    when: str
    by: str
    station: str
    why: str
    detail: Mapping[str, Any]
    before: CoreFacts
    after: CoreFacts


@dataclass(frozen=True)
class ReadingTold:
    """One reading as it was taken: `typed` as it came, `value` as it was read, with its unit.

    `limits` are the usable ones of the plan it was judged by; `result` is what it says, with the
    shape `chip`; `gauge` and `overdue` what it was measured with; `at` is by the shop's clock.
    `note` is what was told of a crack; `stamps` which check of lamp or bath was missing that day.
    """

    check: str
    typed: str
    value: str
    limits: str
    result: str
    chip: str
    gauge: str
    overdue: bool
    by: str
    at: str
    note: str
    stamps: tuple[str, ...]


@dataclass(frozen=True)
class VerdictTold:
    """A verdict, the owner's overruling of one, or a second look: `what` says which.

    The sentence names the check, reading, limit and distance that caused it, and what was not
    measured. `taken_back` is what was typed and taken back before. `pass_number` is 1 for the first
    inspection, one more after each rework.
    """

    what: str
    when: str
    by: str
    station: str
    grade: str
    tone: str
    sentence: str
    why: str
    plan_version: int
    pass_number: int
    operations: tuple[str, ...]
    readings: tuple[ReadingTold, ...]
    taken_back: tuple[ReadingTold, ...]


def verdicts_told(
    moments: Sequence[Moment],
    plans: Mapping[int, Plan],
    gauges: Mapping[str, str],
    clock: Callable[[str], str],
) -> tuple[VerdictTold, ...]:
    """Return what the bench said of a core, oldest first.

    `plans` are those of its family by version, `gauges` the names of gauges by their codes; `clock`
    turns a stored moment into the shop's day and time.
    """
    told = []
    for moment in moments:
        if moment.event == "inspected":
            plan = plans.get(moment.detail["plan_version"])
            told.append(_inspected(moment, plan, _Readings(moment, plan, gauges, clock)))
        elif moment.event == "reopened":
            told.append(_reopened(moment))
        elif moment.event == "overridden":
            told.append(_overruled(moment, plans.get(moment.before.plan_version)))
    return tuple(told)


def _inspected(moment: Moment, plan: Plan | None, teller: _Readings) -> VerdictTold:
    detail = moment.detail
    sentence = str(detail.get("sentence") or detail["grade"]).strip().rstrip(".")
    return VerdictTold(
        what="verdict",
        when=moment.when,
        by=str(detail["inspector"]),
        station=moment.station,
        grade=str(detail["grade"]),
        tone=GRADE_TONES[detail["grade"]],
        sentence=f"{sentence}. {_stamped(detail)}".strip(),
        why=moment.why,
        plan_version=int(detail["plan_version"]),
        pass_number=moment.before.reworks + 1,
        operations=operation_names(plan, detail.get("operations", ())),
        readings=tuple(teller.told(one) for one in detail.get("readings", ())),
        taken_back=tuple(
            teller.told(one, counted=False) for one in detail.get("withdrawn", ()) if one["typed"]
        ),
    )


def _stamped(detail: Mapping[str, Any]) -> str:
    """Return what lacked behind the crack results: as it was said, or as the readings tell."""
    if detail.get("stamped"):
        return str(detail["stamped"])
    found = (stamp for one in detail.get("readings", ()) for stamp in one.get("stamps") or ())
    stamps = ", ".join(dict.fromkeys(found))
    return f"Crack result stamped: {stamps}." if stamps else ""


def _overruled(moment: Moment, plan: Plan | None) -> VerdictTold:
    grade = str(moment.detail["grade"])
    return VerdictTold(
        what="overruled",
        when=moment.when,
        by=moment.by,
        station=moment.station,
        grade=grade,
        tone=GRADE_TONES[grade],
        sentence=f"{grade.capitalize()} by the owner; it was {moment.before.grade}.",
        why=moment.why,
        plan_version=moment.before.plan_version,
        pass_number=moment.before.reworks + 1,
        operations=operation_names(plan, moment.detail.get("operations", ())),
        readings=(),
        taken_back=(),
    )


def _reopened(moment: Moment) -> VerdictTold:
    return VerdictTold(
        what="opened again",
        when=moment.when,
        by=moment.by,
        station=moment.station,
        grade="open",
        tone=GRADE_TONES["open"],
        sentence=f"Opened again by the owner, to be measured anew; it was {moment.before.grade}.",
        why=moment.why,
        plan_version=moment.before.plan_version,
        pass_number=moment.before.reworks + 1,
        operations=(),
        readings=(),
        taken_back=(),
    )


def operation_names(plan: Plan | None, codes: Sequence[str]) -> tuple[str, ...]:
    """Return what rework operations are called, their codes where the plan does not know them."""
    names = {operation.code: operation.name for operation in plan.operations} if plan else {}
    return tuple(names.get(code, code) for code in codes)


class _Readings:
    """Puts the readings of one inspection into words, by the plan they were judged by."""

    def __init__(
        self,
        moment: Moment,
        plan: Plan | None,
        gauges: Mapping[str, str],
        clock: Callable[[str], str],
    ) -> None:
        self._moment = moment
        self._gauges = gauges
        self._clock = clock
        self._checks = {check.code: check for check in plan.checks} if plan else {}
        self._findings = {one["check"]: one for one in moment.detail.get("findings", ())}
        before = moment.before
        history = BodyHistory(before.removed, before.done)
        self._barred = barred_operations(plan, history) if plan else {}

    def told(self, reading: Mapping[str, Any], *, counted: bool = True) -> ReadingTold:
        """Return one reading in words; one that was taken back has no result."""
        check = self._checks.get(reading["check"])
        result, chip = self._result(check, reading) if counted else ("taken back", "wait")
        gauge = str(reading.get("gauge") or "")
        return ReadingTold(
            check=check.name if check else str(reading["check"]),
            typed=str(reading["typed"]),
            value=_value(check, reading),
            limits=_limits(check),
            result=result,
            chip=chip,
            gauge=f"{gauge} {self._gauges.get(gauge, '')}".strip(),
            overdue=bool(reading.get("overdue")),
            by=str(reading.get("by") or self._moment.detail["inspector"]),
            at=self._clock(str(reading["at"])) if reading.get("at") else self._moment.when,
            note=str(reading.get("detail") or self._detail_of(check)),
            stamps=tuple(reading.get("stamps") or ()),
        )

    def _detail_of(self, check: Check | None) -> str:
        """Return what was told of a crack; it stands with the finding of the check."""
        if check is None or check.numeric:
            return ""
        return str(self._findings.get(check.code, {}).get("detail") or "")

    def _result(self, check: Check | None, reading: Mapping[str, Any]) -> tuple[str, str]:
        word = str(reading.get("result") or "")
        if word in _WORDS:
            return _WORDS[word]
        judgement = self._judged(check, reading)
        if judgement is None:
            return word or "not judged", "wait"
        words, chip = OUTCOMES[judgement.outcome]
        return (f"grade {word}, {words}" if word else words), chip

    def _judged(self, check: Check | None, reading: Mapping[str, Any]) -> CheckJudgement | None:
        """Return what a reading by itself says, or the whole check where only that is judged."""
        finding = self._findings.get(reading["check"])
        if check is None or finding is None:
            return None
        observation = Observation(**{**finding, "values": tuple(finding["values"])})
        if check.numeric and check.judged == "each" and reading.get("value") is not None:
            observation = Observation(check.code, (reading["value"],) * max(1, check.readings))
        try:
            return judge_check(check, observation, self._barred)
        except ValueError:  # a plan of another time may not fit what was entered by file
            return None


def _value(check: Check | None, reading: Mapping[str, Any]) -> str:
    if reading.get("value") is None:
        return str(reading.get("result") or "")
    return with_unit(check, reading["value"]) if check else ""


def _limits(check: Check | None) -> str:
    if check is None or check.usable is None:
        return ""
    unit = "" if check.unit == "count" else check.unit
    return describe_limits(check.usable, unit, check.resolution).strip()
