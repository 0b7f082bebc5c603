"""What wash, bench and shelf do to a core: basketed, inspected, reworked, overruled, picked."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from typing import Any

from coretrack.errors import NotAllowed
from coretrack.figures.core_facts import INSPECTABLE, STATE_AFTER_GRADE, CoreFacts, posted
from coretrack.figures.dock_events import refuse_once_gone

REOPENED_FROM = frozenset({"good", "scrapped", "rework"})
"""States in which a verdict is stored that the owner can open again."""


def _inspected(core: CoreFacts, detail: Mapping[str, Any]) -> CoreFacts:
    if core.state not in INSPECTABLE:
        raise NotAllowed(_why_not_inspectable(core))
    grade = detail["grade"]
    return replace(
        posted(core, detail),
        grade=grade,
        first_grade=core.first_grade or ("" if grade == "open" else grade),
        plan_version=detail["plan_version"],
        inspector=detail["inspector"],
        inspections=core.inspections + 1,
        operations=tuple(detail.get("operations", ())),
        reasons=tuple(detail.get("reasons", ())),
        findings=tuple(detail.get("findings", ())),
        done_since=(),
        state=STATE_AFTER_GRADE[grade],
    )


def _why_not_inspectable(core: CoreFacts) -> str:
    reasons = {
        "unknown": "its family is not known yet; identify it first",
        "counted": "it has not been judged at the dock yet",
        "hold": "it was refused and lies in the hold bin",
        "excess": "it is an excess core that the shop has not bought",
        "sent back": "it was sent back to the customer",
        "cleared out": "it was cleared out of the hold bin as metal",
        "taken back": "it was taken in by mistake and taken out of the books",
        "rework": "its rework is not finished",
        "good": "it is already graded keep",
        "scrapped": "it is already scrapped",
        "built": "it was picked from the shelf for a build",
    }
    return f"{core.called} cannot be inspected: {reasons.get(core.state, core.state)}."


def _reworked(core: CoreFacts, detail: Mapping[str, Any]) -> CoreFacts:
    operation = detail["operation"]
    if core.state != "rework" or operation not in core.operations:
        waiting = ", ".join(core.operations) or "none"
        raise NotAllowed(
            f"{core.called} is not waiting for '{operation}' (waiting for: {waiting})."
        )
    left = tuple(code for code in core.operations if code != operation)
    done = {**core.done, operation: core.done.get(operation, 0) + 1}
    removed = dict(core.removed)
    if detail.get("check") and detail.get("removed"):
        removed[detail["check"]] = removed.get(detail["check"], 0) + detail["removed"]
    return replace(
        posted(core, detail),
        operations=left,
        reworks=core.reworks + 1,
        done_since=(*core.done_since, operation),
        done=done,
        removed=removed,
        rework_begun="",
        state="rework" if left else "reinspect",
    )


def _overridden(core: CoreFacts, detail: Mapping[str, Any]) -> CoreFacts:
    if not core.grade:
        raise NotAllowed(f"{core.called} has no verdict to override.")
    if core.state == "built":
        raise NotAllowed(f"{core.called} was picked for {core.built_into}; put it back first.")
    grade = detail["grade"]
    return replace(
        posted(core, detail),
        grade=grade,
        operations=tuple(detail.get("operations", ())),
        state=STATE_AFTER_GRADE[grade],
    )


def _reopened(core: CoreFacts, detail: Mapping[str, Any]) -> CoreFacts:
    """Open a stored verdict again: nothing counts as found until it is measured anew."""
    if core.state not in REOPENED_FROM:
        raise NotAllowed(
            f"Core {core.tag} has no stored verdict that could be opened again."
            if core.state != "built"
            else f"Core {core.tag} was picked for {core.built_into}; put it back first."
        )
    return replace(
        posted(core, detail),
        grade="open",
        operations=(),
        reasons=(),
        findings=(),
        rework_begun="",
        state="reinspect",
    )


def _begun(core: CoreFacts, detail: Mapping[str, Any]) -> CoreFacts:
    """Note who is busy with which rework operation; another one may take it over."""
    operation = detail["operation"]
    if core.state != "rework" or operation not in core.operations:
        waiting = ", ".join(core.operations) or "none"
        raise NotAllowed(
            f"{core.called} is not waiting for '{operation}' (waiting for: {waiting})."
        )
    return replace(core, rework_begun=operation)


def _put_down(core: CoreFacts, detail: Mapping[str, Any]) -> CoreFacts:
    """Note that nobody is busy with it any more; its operations wait as before."""
    del detail
    if not core.rework_begun:
        raise NotAllowed(f"Nobody has begun to rework core {core.tag}.")
    return replace(core, rework_begun="")


def _basketed(core: CoreFacts, detail: Mapping[str, Any]) -> CoreFacts:
    if core.state not in INSPECTABLE:
        raise NotAllowed(
            f"{core.called}: {core.state_words}; only cores on their way to the bench are washed."
        )
    if core.basket and core.basket != detail["basket"]:
        raise NotAllowed(f"{core.called} lies in basket {core.basket}; take it out there first.")
    return replace(core, basket=detail["basket"], slot=detail["slot"])


def _unbasketed(core: CoreFacts, detail: Mapping[str, Any]) -> CoreFacts:
    del detail
    if not core.basket:
        raise NotAllowed(f"{core.called} lies in no basket.")
    return replace(core, basket="", slot=0)


def _tag_bound(core: CoreFacts, detail: Mapping[str, Any]) -> CoreFacts:
    refuse_once_gone(core)
    if core.metal_tag:
        raise NotAllowed(f"{core.called} carries metal tag {core.metal_tag} already.")
    return replace(core, metal_tag=detail["number"])


def _tag_released(core: CoreFacts, detail: Mapping[str, Any]) -> CoreFacts:
    del detail
    if not core.metal_tag:
        raise NotAllowed(f"{core.called} carries no metal tag.")
    return replace(core, metal_tag=0)


def _picked(core: CoreFacts, detail: Mapping[str, Any]) -> CoreFacts:
    """Take a good body from the shelf into a unit."""
    if core.state != "good":
        raise NotAllowed(
            f"{core.called}: {core.state_words}; only good bodies are picked for a build."
        )
    return replace(core, state="built", built_into=detail["into"], place="")


def _put_back(core: CoreFacts, detail: Mapping[str, Any]) -> CoreFacts:
    del detail
    if core.state != "built":
        raise NotAllowed(f"{core.called}: {core.state_words}; it was not picked for a build.")
    return replace(core, state="good", built_into="")


def _seen_again(core: CoreFacts, detail: Mapping[str, Any]) -> CoreFacts:
    """A blind second look: kept in the history, it never changes the verdict by itself."""
    del detail
    if not core.grade:
        raise NotAllowed(f"{core.called} has no verdict that could be looked at again.")
    return core


def _crack_checked(core: CoreFacts, detail: Mapping[str, Any]) -> CoreFacts:
    """A crack check done by the rack: what was seen counts once its verdict is stored."""
    del detail
    if core.state not in INSPECTABLE:
        raise NotAllowed(_why_not_inspectable(core))
    return core


HANDLERS = {
    "inspected": _inspected,
    "rework begun": _begun,
    "rework put down": _put_down,
    "reworked": _reworked,
    "overridden": _overridden,
    "reopened": _reopened,
    "crack checked": _crack_checked,
    "looked at again": _seen_again,
    "basketed": _basketed,
    "unbasketed": _unbasketed,
    "tag bound": _tag_bound,
    "tag released": _tag_released,
    "picked": _picked,
    "put back": _put_back,
}
"""What each of these events does to a core that is there."""
