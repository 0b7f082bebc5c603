"""A blind second look: the same plan from the first check on, nothing shown of the first verdict.

It is typed and scanned like an inspection, into a draft of its own. What it comes to is stored
beside the first verdict and never changes it; where the two differ the owner is asked.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace
from datetime import datetime

from coretrack.actions.acting import Changed
from coretrack.actions.bench_gauges import gauge_named, take_gauge
from coretrack.actions.bench_hand import drop_hand, hand_of
from coretrack.actions.bench_scans import BenchScans
from coretrack.actions.bench_sitting import Sitting
from coretrack.actions.bench_store import MEANWHILE, readings_of
from coretrack.actions.floor_scans import called, core_named, named, order_not_here, unclear
from coretrack.actions.inspecting import Bench, finding_detail
from coretrack.actions.look_drawing import draw
from coretrack.actions.look_records import wanted_of, who_measured
from coretrack.actions.offers import offer
from coretrack.errors import Conflict, NotAllowed
from coretrack.figures.bench_objects import SecondLook
from coretrack.figures.core_verdicts import GRADE_TONES
from coretrack.figures.lifecycle import CoreFacts
from coretrack.figures.scan_replies import ScanReply, Spot
from coretrack.figures.tags import show_tag
from coretrack.figures.trade_objects import Person
from coretrack.records.writer import Writer

__all__ = ["draw", "look_sitting", "take_scan", "why_not_by"]

_AT_HOME = "Scan the tag of a body that is to be looked at again."

OWNER_SEES_ALL = (
    "The owner sees every verdict, so a blind look is not the owner's: an inspector makes it. "
    "An owner who inspects too signs in as an inspector for it."
)


def take_scan(writer: Writer, code: str, text: str, spot: Spot, now: datetime) -> ScanReply:
    """Answer one scan at the second looks; `code` is the core's tag, empty at their list."""
    if code and (look := wanted_of(writer, code)) is not None and look.why == "drawn":
        refuse_unless_may(writer, look)
        sitting = look_sitting(writer, code)
        return _SecondScans(writer, sitting, spot, now, look).take(text)
    scan = named(text)
    if scan.kind == "core":
        return opened(writer, scan.tag)
    if scan.kind == "nothing":
        return ScanReply("note", "READY", _AT_HOME)
    if gauge := gauge_named(text):
        return ScanReply("note", "GAUGE", take_gauge(writer, gauge))
    return order_not_here(scan, _AT_HOME) if scan.kind == "order" else unclear(scan, _AT_HOME)


def opened(writer: Writer, tag: str) -> ScanReply:
    """Return the reply that opens a body for its second look; NotAllowed for whoever may not."""
    core = core_named(writer, tag)
    look = wanted_of(writer, tag)
    if look is None:
        line = f"No second look is wanted on {called(core).lower()}. {_AT_HOME}"
        return ScanReply("stop", "NOT WANTED", line)
    if look.why == "undecided":
        line = f"{called(core)} is undecided: another gauge or another person measures it."
        return ScanReply("ask", "UNDECIDED", line, target="bench", code=tag)
    refuse_unless_may(writer, look)
    line = f"{called(core)}: check it as if nobody had."
    return ScanReply("note", "SECOND LOOK", line, target="second", code=tag)


def refuse_unless_may(writer: Writer, look: SecondLook) -> None:
    """Raise NotAllowed when the writer's person cannot make this blind look."""
    person: Person | None = writer.find("person", writer.by)
    owner = person is not None and person.role == "owner"
    why = OWNER_SEES_ALL if owner else why_not_by(look, who_measured(look.tag), writer.by)
    if why:
        raise NotAllowed(why)


def why_not_by(look: SecondLook, measured: Iterable[str], person: str) -> str:
    """Return why a person cannot make a blind look, "" when they can."""
    if person == look.first_inspector:
        return "You stored the first verdict on this body; somebody else has to look."
    if person in measured:
        return "You measured this body for the first verdict; somebody else has to look."
    return ""


def draft_start(person: str) -> str:
    """Return how the key of a person's draft of a second look begins."""
    return f"second/{person}/"


def look_sitting(writer: Writer, tag: str) -> Sitting:
    """Return a body as whoever looks again finds it: its plan, and nothing anybody found before."""
    core = core_named(writer, tag)
    plan = Bench(writer).plan_for(core)
    return Sitting(_as_it_came(core), plan, hand_of(tag, draft_start(writer.by)))


def _as_it_came(core: CoreFacts) -> CoreFacts:
    return replace(
        core,
        state="waiting",
        grade="",
        first_grade="",
        inspector="",
        operations=(),
        reasons=(),
        findings=(),
        done_since=(),
        place="",
    )


class _SecondScans(BenchScans):
    """Answers one scan at a body that is looked at again."""

    def __init__(
        self, writer: Writer, sitting: Sitting, spot: Spot, now: datetime, look: SecondLook
    ) -> None:
        super().__init__(writer, sitting, spot, now)
        self.look = look

    def _another_core(self, tag: str) -> ScanReply:
        if not self.hand.begun:
            return opened(self.writer, tag)
        here = show_tag(self.sitting.core.tag)
        return ScanReply(
            "ask",
            "OTHER CORE",
            f"{show_tag(tag)} is another core; nothing was taken as a reading.",
            offers=(
                offer(f"Open {show_tag(tag)}; all of {here} is kept", "second", tag),
                offer(f"Stay with {here}", "measure"),
            ),
        )

    def _done(self) -> ScanReply:
        if self.hand.asked is not None or self.sitting.decided or not self.hand.entries:
            return self._agreed()
        missing = ", ".join(check.name for check in self.sitting.waiting)
        return ScanReply("ask", "NOT DONE", f"Not measured yet: {missing}.")

    def _chosen(self, verb: str, argument: str) -> ScanReply:
        if verb == "second":
            return opened(self.writer, argument)
        if verb in ("open", "store", "bench"):
            raise NotAllowed("A second look is stored whole, or it waits.")
        return super()._chosen(verb, argument)

    def _store(self, *, unfinished: bool = False, then: str = "", seen: str = "") -> ScanReply:
        """Store what was found beside the first verdict, and say whether they agree."""
        del unfinished, then
        if (seen or self.spot.seen) not in ("", self.sitting.seen):
            raise Changed(MEANWHILE)
        look, tag, decided = self.look, self.sitting.core.tag, self.sitting.verdict
        core: CoreFacts = self.writer.get("core", tag)
        if look.key != f"{tag}/{core.inspections}":
            raise Conflict(f"Core {show_tag(tag)} was inspected again meanwhile.")
        found = self.sitting.observations
        told = {
            "status": "done",
            "grade": decided.grade,
            "inspector": self.writer.by,
            "findings": [finding_detail(each) for each in found],
        }
        self.writer.event("second look", look.key, "set", told)
        readings = readings_of(self.sitting, self.writer.by)
        detail = {
            "look": look.key,
            "grade": decided.grade,
            "inspector": self.writer.by,
            "sentence": decided.sentence,
            "operations": list(decided.operations),
            "typed": [reading.as_detail() for reading in readings],
        }
        self.writer.event("core", tag, "looked at again", detail, at=self.now)
        drop_hand(self.writer, tag, draft_start(self.writer.by))
        return self._stored(look, decided.grade, core)

    def _stored(self, look: SecondLook, grade: str, core: CoreFacts) -> ScanReply:
        agrees = look.first_grade == grade
        tone = GRADE_TONES[core.grade] if agrees else "ask"
        line = f"{show_tag(core.tag)}: {grade}, stored as the second look."
        books = f"In the books: {core.grade}, by {look.first_inspector}."
        if agrees:
            return ScanReply(tone, "AGREES", line, f"{books} Put it there. {_AT_HOME}")
        asked = "The owner is asked; keep the body apart until then."
        return ScanReply(tone, "DIFFERS", line, f"{books} {asked} {_AT_HOME}")
