"""The second looks in the books: wanted, done with other eyes, dropped when the body changed.

Called by everything that judges or changes a body, so that no look stays open on a body that is no
longer what was judged.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from typing import Any

from coretrack.figures.bench_objects import SecondLook
from coretrack.figures.grading import Verdict
from coretrack.figures.lifecycle import CoreFacts
from coretrack.records.happenings import history
from coretrack.records.objects import every
from coretrack.records.writer import Writer

Readings = Sequence[Mapping[str, Any]]
"""Readings as an "inspected" event keeps them: check, gauge, and who took it if told."""


def want(writer: Writer, core: CoreFacts, why: str, told: str = "") -> SecondLook:
    """Note that the verdict a core has now is to be looked at again; `told` is how it came."""
    key = f"{core.tag}/{core.inspections}"
    fields = {
        "key": key,
        "tag": core.tag,
        "family": core.family,
        "why": why,
        "status": "wanted",
        "first_grade": core.grade,
        "first_inspector": core.inspector,
    }
    look: SecondLook = writer.event("second look", key, "set", fields, why=told)
    return look


def wanted_of(writer: Writer, tag: str) -> SecondLook | None:
    """Return the look that is wanted of a core, or None."""
    found = [
        writer.latest("second look", look.key, look) for look in every("second look", {"tag": tag})
    ]
    return next((look for look in found if look.status == "wanted"), None)


def drop(writer: Writer, tag: str, why: str) -> bool:
    """Note that a core's wanted look cannot be made any more; return whether there was one."""
    look = wanted_of(writer, tag)
    if look is not None:
        writer.event("second look", look.key, "set", {"status": "dropped"}, why=why)
    return look is not None


def after_inspection(
    writer: Writer,
    before: CoreFacts,
    decided: Verdict,
    readings: Readings,
    undecided: Sequence[str],
) -> None:
    """Close the look that was wanted before this verdict, whose `undecided` checks it was about.

    It counts as done when another person, or another gauge, measured each of them that was measured
    at all; else the core was only measured again.
    """
    look = wanted_of(writer, before.tag)
    if look is None:
        return
    core: CoreFacts = writer.get("core", before.tag)
    if look.why != "undecided" or same_eyes(before.tag, undecided, readings, core.inspector):
        told = "inspected again before anybody else looked"
        writer.event("second look", look.key, "set", {"status": "dropped"}, why=told)
        return
    fields = {
        "status": "done",
        "grade": decided.grade,
        "inspector": core.inspector,
        "findings": [dict(finding) for finding in core.findings],
    }
    writer.event("second look", look.key, "set", fields)


def same_eyes(tag: str, checks: Iterable[str], readings: Readings, inspector: str) -> list[str]:
    """Return which of the checks the same person measured again with the same gauge.

    Compared with the newest stored readings of each check. A word (go, no indication) is a person's
    own: only somebody who was not unsure sees it with other eyes. Call with a connection.
    """
    told = [event for event in history("core", tag) if event.event == "inspected"]
    same = []
    for check in checks:
        again = [one for one in readings if one["check"] == check]
        before = next(
            (
                (event.detail["inspector"], found)
                for event in reversed(told)
                if (found := [r for r in event.detail["readings"] if r["check"] == check])
            ),
            None,
        )
        if not again or before is None:
            continue
        words = [one for one in again if one["value"] is None]
        if words:
            if (words[-1].get("by") or inspector) in doubters(tag, check):
                same.append(check)
            continue
        people = {one.get("by") or before[0] for one in before[1]}
        gauges = {one["gauge"] for one in before[1]}
        others = {one.get("by") or inspector for one in again} - people
        if not others and not {one["gauge"] for one in again} - gauges - {""}:
            same.append(check)
    return same


def doubters(tag: str, check: str) -> frozenset[str]:
    """Return who left a check unsure since the body was last reworked: none of them settles it.

    A word (go, no indication) is a person's own, whatever gauge or lamp was in hand. Call with a
    connection.
    """
    people: set[str] = set()
    for event in reversed(history("core", tag)):
        if event.event == "reworked":
            break
        if event.event == "inspected":
            found = [one for one in event.detail["findings"] if one["check"] == check]
            # An indication that was taken back leaves the check unsure, whatever word came last.
            left = any(one["result"] == "unsure" for one in found)
            people |= {
                str(one.get("by") or event.detail["inspector"])
                for one in event.detail["readings"]
                if one["check"] == check and (left or one["result"] == "unsure")
            }
    return frozenset(people)


def newest_reading(tag: str, check: str) -> tuple[Mapping[str, Any], str, str]:
    """Return the newest stored reading of a check, who stored it and when (UTC text).

    An empty reading and empty texts where there is none. Call with a connection.
    """
    for event in reversed(history("core", tag)):
        if event.event == "inspected":
            found = [one for one in event.detail["readings"] if one["check"] == check]
            if found:
                return found[-1], str(event.detail["inspector"]), event.at
    return {}, "", ""


def who_measured(tag: str) -> frozenset[str]:
    """Return everybody who took readings for the newest verdict on a core, its inspector too."""
    told = [event for event in history("core", tag) if event.event == "inspected"]
    if not told:
        return frozenset()
    newest = told[-1].detail
    return frozenset(
        {newest["inspector"], *(one.get("by", "") for one in newest["readings"])} - {""}
    )
