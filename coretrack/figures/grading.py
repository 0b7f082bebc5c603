"""The verdict on a body: scrap, open, undecided, rework or keep, and what caused it.

The order never changes: any discard or crack indication is scrap; else anything not measured
leaves the core open; else anything unsure or in a grey zone leaves it undecided; else anything
reworkable is rework; only what remains is keep. A verdict is no approval for service.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace

from coretrack.errors import Forbidden, InvalidInput, NotAllowed
from coretrack.figures.judging import CheckJudgement, judge_check
from coretrack.figures.observations import Observation
from coretrack.figures.plans import Plan
from coretrack.figures.rework import NEW_BODY, BodyHistory, may_rework, may_rework_together

__all__ = [
    "GRADES",
    "BodyHistory",
    "CheckJudgement",
    "Observation",
    "Verdict",
    "barred_operations",
    "judge_check",
    "override",
    "reasons",
    "verdict",
]

GRADES = ("scrap", "open", "undecided", "rework", "keep")
"""All grades, in the order they are decided."""

_CAUSED_BY = {"scrap": "discard", "open": "missing", "undecided": "undecided", "rework": "rework"}

REOPEN = 'To have it done, overrule the stored verdict to "measure again".'


@dataclass(frozen=True)
class Verdict:
    """The grade of a body and everything needed to explain it.

    `causes` are the judgements that made the grade, `judgements` all of them in bench order.
    `operations` are set for rework only. `missing` names the checks not measured, `stopped_at` the
    check the inspector stopped after. An owner's override keeps the grade first proposed in
    `proposed` and the reason in `overridden_because`.
    """

    grade: str
    causes: tuple[CheckJudgement, ...]
    operations: tuple[str, ...]
    missing: tuple[str, ...]
    stopped_at: str
    sentence: str
    judgements: tuple[CheckJudgement, ...] = ()
    pass_number: int = 1
    proposed: str = ""
    overridden_because: str = ""


def verdict(
    plan: Plan,
    observations: Iterable[Observation],
    lives: BodyHistory = NEW_BODY,
    *,
    stopped: bool = False,
    pass_number: int = 1,
) -> Verdict:
    """Return the verdict on one body.

    `lives` is what the body has been through in all its lives: a rework it may no longer have turns
    into scrap, with that as the cause. `stopped` says the inspector stopped at the first failing
    check; the rest is listed as not measured. `pass_number` is 1 for the first inspection, one more
    after each rework. ValueError when a check is unknown to the plan or observed twice.
    """
    if pass_number < 1:
        raise ValueError("the first inspection is pass 1")
    found = _by_check(plan, observations)
    refused = barred_operations(plan, lives)
    judgements = _judge_all(plan, found, refused)
    while clash := _clash(plan, judgements, lives):
        refused.update(clash)
        judgements = _judge_all(plan, found, refused)
    return _concluded(plan, judgements, stopped, pass_number)


def barred_operations(plan: Plan, lives: BodyHistory) -> dict[str, str]:
    """Return the operations that this body may not go through once more, each with why."""
    return {
        operation.code: why
        for operation in plan.operations
        if (why := may_rework(operation, lives)) is not None
    }


def reasons(decided: Verdict) -> tuple[str, ...]:
    """Return the checks a body fails for good, in bench order; one alone is its only reason."""
    return tuple(j.check for j in decided.judgements if j.outcome == "discard")


def override(
    decided: Verdict, to: str, reason: str, role: str, operations: tuple[str, ...] = ()
) -> Verdict:
    """Return `decided` changed to keep, rework or scrap by the owner, for `reason`.

    Forbidden for any other role. NotAllowed when it would let a body live whose crack check shows
    an indication, is unsure or was not done; when it would count a check that was not measured as
    passed (keep); and when the operation wanted is one the body may no longer have. InvalidInput
    when the reason is empty or the new grade is none of the three or no change.
    """
    if role != "owner":
        raise Forbidden("Only the owner can override a verdict.")
    if to not in ("keep", "rework", "scrap"):
        raise InvalidInput(f'A verdict can be overridden to keep, rework or scrap, not "{to}".')
    if to == decided.grade:
        raise InvalidInput(f"The verdict already is {to}.")
    if not reason.strip():
        raise InvalidInput("An override needs a reason; it stays in the history for good.")
    if to != "scrap":
        _refuse_unsafe(decided, to)
    chosen = (operations or _asked_for(decided)) if to == "rework" else ()
    if to == "rework":
        _refuse_barred(decided, chosen)
    return replace(
        decided,
        grade=to,
        operations=chosen,
        sentence=f"{to.capitalize()} by the owner: {reason.strip()} (was {decided.grade})",
        proposed=decided.proposed or decided.grade,
        overridden_because=reason.strip(),
    )


def _refuse_unsafe(decided: Verdict, to: str) -> None:
    if not decided.judgements:
        raise NotAllowed("Nothing was checked on this body, so it cannot be overridden.")
    for judgement in decided.judgements:
        if judgement.kind == "crack" and judgement.outcome != "usable":
            way = "" if judgement.outcome == "discard" else f" {REOPEN}"
            raise NotAllowed(
                f"A crack is never overridden. {judgement.sentence}. Only a crack check without "
                f"an indication lets this body go to {to}.{way}"
            )
        if to == "keep" and judgement.outcome == "missing":
            raise NotAllowed(
                f"{judgement.sentence}. A check that was not measured never counts as passed; "
                f"measure it first. {REOPEN}"
            )


def _refuse_barred(decided: Verdict, chosen: tuple[str, ...]) -> None:
    if not chosen:
        raise InvalidInput("Name the rework operation this body shall go to.")
    for judgement in decided.judgements:
        for operation, why in judgement.refused:
            if operation in chosen:
                raise NotAllowed(f"This body may not go to {operation} again: {why}.")


def _asked_for(decided: Verdict) -> tuple[str, ...]:
    wanted = [operation for j in decided.judgements for operation in j.operations]
    return tuple(dict.fromkeys(wanted))


def _by_check(plan: Plan, observations: Iterable[Observation]) -> dict[str, Observation]:
    known = {check.code for check in plan.checks}
    found: dict[str, Observation] = {}
    for observation in observations:
        if observation.check not in known:
            raise ValueError(
                f'the plan has no check "{observation.check}"; it has {", ".join(sorted(known))}'
            )
        if observation.check in found:
            raise ValueError(f"{observation.check} is observed twice; give the one that counts")
        found[observation.check] = observation
    return found


def _judge_all(
    plan: Plan, found: dict[str, Observation], refused: dict[str, str]
) -> tuple[CheckJudgement, ...]:
    return tuple(judge_check(check, found.get(check.code), refused) for check in plan.in_order())


def _clash(
    plan: Plan, judgements: tuple[CheckJudgement, ...], lives: BodyHistory
) -> dict[str, str]:
    """Return operations that each fit but together take too much off one face, with why."""
    wanted = dict.fromkeys(operation for j in judgements for operation in j.operations)
    by_face: dict[str, list[str]] = {}
    for code in wanted:
        operation = plan.operation(code)
        if operation.check:
            by_face.setdefault(operation.check, []).append(code)
    clash: dict[str, str] = {}
    for codes in by_face.values():
        why = may_rework_together([plan.operation(code) for code in codes], lives)
        if why is not None:
            clash.update(dict.fromkeys(codes, why))
    return clash


def _concluded(
    plan: Plan, judgements: tuple[CheckJudgement, ...], stopped: bool, pass_number: int
) -> Verdict:
    outcomes = {judgement.outcome for judgement in judgements}
    grade = next((g for g, cause in _CAUSED_BY.items() if cause in outcomes), "keep")
    if not judgements:
        grade = "open"
    causes = tuple(j for j in judgements if j.outcome == _CAUSED_BY.get(grade))
    missing = tuple(j.check for j in judgements if j.outcome == "missing")
    operations: tuple[str, ...] = ()
    if grade == "rework":
        wanted = dict.fromkeys(operation for j in judgements for operation in j.operations)
        operations = tuple(o.code for o in plan.operations if o.code in wanted)
    return Verdict(
        grade, causes, operations, missing,
        _stopped_at(judgements) if stopped and missing else "",
        _sentence(grade, causes, judgements, pass_number),
        judgements, pass_number,
    )  # fmt: skip


def _stopped_at(judgements: tuple[CheckJudgement, ...]) -> str:
    """Return the check after which the inspector stopped: the first failing, else the last done."""
    for judgement in judgements:
        if judgement.outcome == "discard":
            return judgement.check
    done = [judgement.check for judgement in judgements if judgement.outcome != "missing"]
    return done[-1] if done else ""


def _sentence(
    grade: str,
    causes: tuple[CheckJudgement, ...],
    judgements: tuple[CheckJudgement, ...],
    pass_number: int,
) -> str:
    if not judgements:
        return "Open: the plan has no checks"
    start = grade.capitalize()
    if pass_number > 1:
        start += f" (pass {pass_number}, after rework)"
    if grade == "keep":
        return f"{start}: every check passes"
    text = f"{start}: " + "; ".join(judgement.sentence for judgement in causes)
    missing = [j.name for j in judgements if j.outcome == "missing"]
    if missing and grade != "open":
        text += f". Not measured: {', '.join(missing)}"
    return text
