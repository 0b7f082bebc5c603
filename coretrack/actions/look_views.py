"""What the pages of second looks show: what is wanted of whom, agreement, and what the owner asks.

The list never shows a verdict, a finding or a reading of a body that is still to be looked at.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from datetime import datetime
from typing import Any

from coretrack.actions.acting import act_once
from coretrack.actions.bench_views import BenchView, view_of
from coretrack.actions.desk_day import DeskDay, days_since, desk_day
from coretrack.actions.look_records import wanted_of
from coretrack.actions.second_looks import look_sitting, refuse_unless_may, why_not_by
from coretrack.actions.typed_fields import typed_reason
from coretrack.errors import NotAllowed
from coretrack.figures.bench_objects import SecondLook
from coretrack.figures.core_verdicts import GRADE_TONES
from coretrack.figures.lifecycle import CoreFacts
from coretrack.figures.second_looks import AgreementRow, agreement
from coretrack.figures.tags import show_tag
from coretrack.records import queries
from coretrack.records.database import connection, snapshot
from coretrack.records.happenings import Happened, first_of_each, last_of_each
from coretrack.records.objects import every
from coretrack.records.unseen import unseen
from coretrack.records.writer import Writer

FINISHED = ("done", "answered")
"""Looks that were made: both their grades count."""

INSPECTED = ("inspected",)


@dataclass(frozen=True)
class LookShown:
    """A body that waits for a second look; `who` is whoever cannot make it, told to the owner."""

    key: str
    tag: str
    family: str
    number: str
    days: int
    who: str = ""


@dataclass(frozen=True)
class Differs:
    """A second look that came to another grade, and the question it puts to the owner.

    `first` and `second` are the sentences of the two verdicts, `stands` what the books say now.
    """

    key: str
    tag: str
    family: str
    first: str
    first_by: str
    first_tone: str
    second: str
    second_by: str
    second_tone: str
    stands: str


@dataclass(frozen=True)
class LooksView:
    """The list: `mine` the person can make, `others` somebody else has to.

    `undecided` are all bodies in that state, whether the bench or a file measured them.

    `differs` are for the owner alone. `alone` says that no second inspector is known.
    """

    mine: tuple[LookShown, ...]
    others: tuple[LookShown, ...]
    undecided: tuple[LookShown, ...]
    differs: tuple[Differs, ...]
    share: str
    finished: int
    alone: bool


def looks_view(person: str, role: str, now: datetime) -> LooksView:
    """Return what is wanted, as this person may see it."""
    with snapshot():
        day = desk_day(now)
        drawn = _drawn()
        cores = queries.cores_tagged(look.tag for look, _ in drawn)
        since = first_of_each("second look", [look.key for look, _ in drawn])
        mine: list[LookShown] = []
        others: list[LookShown] = []
        for look, measured in drawn:
            shown = _shown(look, cores[look.tag], since[look.key], day)
            why_not = role == "owner" or why_not_by(look, measured, person)
            (others if why_not else mine).append(shown)
        finished = [
            look for status in FINISHED for look in every("second look", {"status": status})
        ]
        inspectors = [p for p in every("person", {"role": "inspector"}) if p.active]
        return LooksView(
            tuple(mine),
            tuple(others),
            _undecided(day),
            _differing(finished) if role == "owner" else (),
            day.shop.second_look_percent,
            sum(look.why == "drawn" for look in finished),
            len(inspectors) < 2,
        )


def looks_waiting(person: str) -> int:
    """Return how many bodies that list holds for this person: blind looks, and the undecided.

    Call with a connection.
    """
    blind = sum(not why_not_by(look, measured, person) for look, measured in _drawn())
    return blind + len(_open_now())


def _drawn() -> list[tuple[SecondLook, set[str]]]:
    """Return the blind looks that are wanted, each with who measured the body for the first one."""
    looks = [look for look in every("second look", {"status": "wanted"}) if look.why == "drawn"]
    inspected = last_of_each("core", [look.tag for look in looks], INSPECTED)
    return [(look, _measured(inspected[look.tag])) for look in looks]


def _open_now() -> list[CoreFacts]:
    hidden = unseen()
    return [core for core in every("core", {"state": "undecided"}) if core.tag not in hidden]


def _undecided(day: DeskDay) -> tuple[LookShown, ...]:
    """Return the bodies that are undecided, those that wait longest for a decision first."""
    cores = _open_now()
    inspected = last_of_each("core", [core.tag for core in cores], INSPECTED)
    shown = [
        LookShown(
            "",
            core.tag,
            core.family,
            core.number,
            days_since(day.day_of(inspected[core.tag].at).isoformat(), day.today),
            ", ".join(sorted(_measured(inspected[core.tag]) - {""})),
        )
        for core in cores
    ]
    return tuple(sorted(shown, key=lambda one: -one.days))


def _shown(look: SecondLook, core: CoreFacts, wanted: Happened, day: DeskDay) -> LookShown:
    days = days_since(day.day_of(wanted.at).isoformat(), day.today)
    return LookShown(look.key, look.tag, look.family, core.number, days, look.first_inspector)


def _measured(event: Happened) -> set[str]:
    told = event.detail
    return {told["inspector"], *(one.get("by", "") for one in told["readings"])}


def look_view(tag: str, person: str, station: str, now: datetime) -> BenchView | None:
    """Return a body's plan as whoever looks again sees it; None when no blind look is wanted.

    NotAllowed for whoever may not make it, NotFound for a tag that no core has.
    """
    with snapshot():
        writer = Writer(person, now, station)
        look = wanted_of(writer, tag)
        if look is None or look.why != "drawn":
            writer.get("core", tag)
            return None
        refuse_unless_may(writer, look)
        view = view_of(writer, look_sitting(writer, tag), desk_day(now))
        # The form about a crack offers the photos that were taken at the first look.
        return replace(view, crack=None)


def agreement_view() -> tuple[AgreementRow, ...]:
    """Return what the finished blind looks say: all first, then family by family."""
    with connection():
        looks = [look for status in FINISHED for look in every("second look", {"status": status})]
    return agreement(
        (look.family, (look.first_grade, look.grade)) for look in looks if look.why == "drawn"
    )


def _differing(finished: Iterable[SecondLook]) -> tuple[Differs, ...]:
    """Return the blind looks that differ and are not settled: neither answered nor overruled."""
    apart = [
        look
        for look in finished
        if look.why == "drawn" and look.status == "done" and look.first_grade != look.grade
    ]
    tags = [look.tag for look in apart]
    cores = queries.cores_tagged(tags)
    first = last_of_each("core", tags, INSPECTED)
    second = last_of_each("core", tags, ("looked at again",))
    return tuple(
        _differs(look, cores[look.tag], first[look.tag].detail, second[look.tag].detail)
        for look in apart
        if cores[look.tag].grade != look.grade
        and look.key == f"{look.tag}/{cores[look.tag].inspections}"
    )


def _differs(
    look: SecondLook, core: CoreFacts, first: Mapping[str, Any], second: Mapping[str, Any]
) -> Differs:
    return Differs(
        look.key,
        look.tag,
        look.family,
        str(first["sentence"]),
        look.first_inspector,
        GRADE_TONES[look.first_grade],
        str(second["sentence"]),
        look.inspector,
        GRADE_TONES[look.grade],
        core.grade,
    )


def let_stand(look: str, reason: str, *, by: str, station: str, now: datetime, key: str) -> str:
    """Note that the first verdict stands though the second look differs; return what was done."""
    why = typed_reason(
        reason, "Say why the first verdict stands; it stays in the history for good."
    )

    def act(writer: Writer) -> dict[str, Any]:
        found: SecondLook = writer.get("second look", look)
        if found.status != "done":
            raise NotAllowed(f"This second look is {found.status}; there is nothing to answer.")
        writer.event("second look", look, "set", {"status": "answered"}, why=why)
        return {"said": f"The first verdict on core {show_tag(found.tag)} stands."}

    return str(act_once("let verdict stand", key, act, by=by, station=station, now=now)["said"])


def give_up(look: str, reason: str, *, by: str, station: str, now: datetime, key: str) -> str:
    """Drop a wanted look, with a reason; return what was done. The owner's."""
    why = typed_reason(reason, "Say why nobody will look again; it stays in the history for good.")

    def act(writer: Writer) -> dict[str, Any]:
        found: SecondLook = writer.get("second look", look)
        if found.status != "wanted":
            raise NotAllowed(f"This second look is {found.status} already.")
        writer.event("second look", look, "set", {"status": "dropped"}, why=why)
        return {"said": f"No second look is wanted on core {show_tag(found.tag)} any more."}

    return str(act_once("give up look", key, act, by=by, station=station, now=now)["said"])
