"""What the bench shows of one core: its plan, what is typed, the verdict that leads to."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime

from coretrack.actions.bench_gauges import GaugeInHand, gauge_for
from coretrack.actions.bench_hand import Entry, state_at_bench
from coretrack.actions.bench_replies import judged_words
from coretrack.actions.bench_sitting import Sitting, sitting_of
from coretrack.actions.crack_entries import CrackPanel, crack_panel
from coretrack.actions.desk_day import DeskDay, desk_day
from coretrack.actions.process_stamps import StampBook
from coretrack.actions.stamped_verdicts import stamps_behind
from coretrack.errors import NotAllowed
from coretrack.figures.band_pictures import BandPicture, band_picture, gauge_divisions
from coretrack.figures.bench_events import REOPENED_FROM
from coretrack.figures.core_story import StateShown
from coretrack.figures.core_verdicts import GRADE_TONES, OUTCOMES
from coretrack.figures.judging import CheckJudgement, with_unit
from coretrack.figures.lifecycle import apply
from coretrack.figures.limits import describe_limits
from coretrack.figures.plans import Check, Operation, look_grades
from coretrack.figures.tags import show_tag
from coretrack.figures.wording import SAFETY
from coretrack.records.database import snapshot
from coretrack.records.writer import Writer

CRACK_CAUTION = (
    "A crack in a pressure-holding body injures people. Look at the whole surface as the method's "
    "standard says; what is not clear is unsure, and somebody else looks. UV-A lamp: eye "
    "protection, skin covered. Penetrant and developer: gloves, air, no flame."
)
"""Common practice, no source; it stands beside the standard, local codes and qualified people."""

RULES = {
    "simple": "inside the limits counts, the limit itself too",
    "guarded": "the gauge's uncertainty must leave no doubt",
}


@dataclass(frozen=True)
class EntryShown:
    """An entry as the page shows it: as typed, as read, by whom, when (shop's clock)."""

    typed: str
    shown: str
    by: str
    station: str
    at: str
    gauge: str
    overdue: bool
    mine: bool


@dataclass(frozen=True)
class CheckShown:
    """A check with what is found there; `chip` is the shape beside `words`.

    `bands` are its limits in words by name; `places` how many readings there are, of how many it
    takes; `carried` says that an earlier sitting's finding counts; `letters` are a look's grades.
    """

    code: str
    name: str
    kind: str
    unit: str
    how: str
    entries: tuple[EntryShown, ...]
    taken: int
    wanted: int
    words: str
    chip: str
    said: str
    bands: tuple[tuple[str, str], ...]
    picture: BandPicture | None
    gauge: GaugeInHand
    due: bool
    carried: bool
    current: bool
    letters: tuple[str, ...] = ()


@dataclass(frozen=True)
class Cause:
    """What made a verdict: the check, its reading, the limit, the distance, and the rule."""

    check: str
    said: str
    reading: str
    limit: str
    distance: str
    divisions: str
    rule: str


@dataclass(frozen=True)
class Proposed:
    """The verdict that what is typed leads to; `ready` when Enter stores it."""

    grade: str
    tone: str
    sentence: str
    causes: tuple[Cause, ...]
    operations: tuple[Operation, ...]
    missing: tuple[str, ...]
    ready: bool


@dataclass(frozen=True)
class BenchView:
    """One core at the bench. `asked` is the question that is open, `others` who else typed.

    `why_not` says why it cannot be inspected, `stored` is the verdict in the books then. `crack` is
    an indication of which more can be told, `crack_stamps` what the day's lamp and bath checks
    lack, `stamped` what they lacked behind the crack results of the verdict.
    """

    tag: str
    family: str
    family_name: str
    number: str
    serial: str
    state: StateShown
    plan_version: int
    pass_number: int
    checks: tuple[CheckShown, ...]
    current: CheckShown | None
    asked: str
    aside: tuple[EntryShown, ...]
    others: tuple[EntryShown, ...]
    undo: str
    proposed: Proposed | None
    stored: Proposed | None
    stored_by: str
    why_not: str
    seen: str
    cautions: tuple[str, ...]
    operations: tuple[Operation, ...]
    crack: CrackPanel | None = None
    crack_stamps: tuple[str, ...] = ()
    stamped: str = ""


def bench_view(tag: str, person: str, station: str, now: datetime) -> BenchView:
    """Return one core at the bench as this person sees it; NotFound for a tag no core has."""
    with snapshot():
        day = desk_day(now)
        writer = Writer(person, now, station)
        return view_of(writer, sitting_of(writer, tag), day)


def view_of(writer: Writer, sitting: Sitting, day: DeskDay) -> BenchView:
    """Return a sitting as the writer's person sees it, inside the caller's connection."""
    family = writer.get("family", sitting.core.family)
    return _View(writer, sitting, day).view(family.name)


class _View:
    """Puts one sitting into words and pictures for one person."""

    def __init__(self, writer: Writer, sitting: Sitting, day: DeskDay) -> None:
        self.writer = writer
        self.sitting = sitting
        self.day = day

    def view(self, family_name: str) -> BenchView:
        sitting, core, hand = self.sitting, self.sitting.core, self.sitting.hand
        checks = tuple(self._check(check) for check in sitting.plan.in_order())
        open_now = sitting.can_be_inspected
        others = tuple(self._entry(entry) for entry in hand.entries if entry.by != self.writer.by)
        return BenchView(
            tag=core.tag,
            family=core.family,
            family_name=family_name,
            number=core.number,
            serial=core.serial,
            state=state_at_bench(core, hand, complete=not sitting.waiting),
            plan_version=sitting.plan.version,
            pass_number=core.reworks + 1,
            checks=checks,
            current=next((check for check in checks if check.current), None),
            asked=hand.asked.text if hand.asked else "",
            aside=tuple(self._entry(entry) for entry in hand.aside),
            others=others,
            undo=self._undo(),
            proposed=self._proposed(sitting.decided) if open_now and hand.entries else None,
            stored=self._proposed(False) if core.grade and not open_now else None,
            stored_by=core.inspector,
            why_not="" if open_now else self._why_not(),
            seen=sitting.seen,
            cautions=self._cautions(),
            operations=sitting.plan.operations,
            crack=crack_panel(sitting),
            crack_stamps=self._crack_stamps(),
            stamped=stamps_behind(sitting),
        )

    def _crack_stamps(self) -> tuple[str, ...]:
        """Return what the day's lamp and bath checks lack for the check at hand."""
        current = self.sitting.current
        if current is None or current.kind != "crack":
            return ()
        book = StampBook(self.writer, self.writer.station)
        return book.stamps(current.method, self.writer.at)

    def _why_not(self) -> str:
        core = self.sitting.core
        if core.state in REOPENED_FROM and core.grade:
            by = f" by {core.inspector}" if core.inspector else ""
            return f"The verdict {core.grade} is stored{by}."
        try:
            # The state machine has the words: it refuses the very event a verdict would store.
            apply(self.sitting.core, "inspected", {"grade": "open"})
        except NotAllowed as error:
            tag = self.sitting.core.tag
            return error.message.replace(tag, show_tag(tag))
        return ""

    def _undo(self) -> str:
        mine = [entry for entry in self.sitting.hand.entries if entry.by == self.writer.by]
        if not mine:
            return ""
        return f"{self.sitting.plan.check(mine[-1].check).name} {mine[-1].typed}"

    def _cautions(self) -> tuple[str, ...]:
        current = self.sitting.current
        seen = any(entry.result == "indication" for entry in self.sitting.hand.entries)
        if seen or (current is not None and current.kind == "crack"):
            return CRACK_CAUTION, SAFETY
        return (SAFETY,)

    def _check(self, check: Check) -> CheckShown:
        sitting = self.sitting
        entries = sitting.hand.of_check(check.code)
        judgement = sitting.judgement(check.code)
        words, chip = OUTCOMES[judgement.outcome]
        if entries and judgement.outcome == "missing":
            words = "begun"
        if judgement.outcome == "undecided" and judgement.reading is None:
            words = "unsure"
        values = [entry.value for entry in entries if entry.value is not None]
        shown = values or list(self._found_before(check))
        current = sitting.current is not None and sitting.current.code == check.code
        return CheckShown(
            code=check.code,
            name=check.name,
            kind=check.kind,
            unit="" if check.unit == "count" else check.unit,
            how=_how(check),
            entries=tuple(self._entry(entry) for entry in entries),
            taken=sitting.taken(check),
            wanted=sitting.wanted(check),
            words=words,
            chip=chip,
            said=judged_words(check, judgement),
            bands=_bands(check),
            picture=band_picture(check, shown, sitting.barred),
            gauge=gauge_for(self.writer, sitting.core.family, check) if current else GaugeInHand(),
            due=check.code in sitting.due,
            carried=sitting.can_be_inspected and not entries and judgement.outcome != "missing",
            current=current,
            letters=look_grades(check) if check.kind == "look" else (),
        )

    def _found_before(self, check: Check) -> Sequence[int]:
        observation = self.sitting.merged.get(check.code)
        return observation.values if observation else ()

    def _entry(self, entry: Entry) -> EntryShown:
        check = self.sitting.plan.check(entry.check)
        shown = entry.result if entry.value is None else with_unit(check, entry.value)
        if entry.detail:
            shown = f"{shown}: {entry.detail}"
        return EntryShown(
            entry.typed,
            shown,
            entry.by,
            entry.station,
            f"{self.day.moment(entry.at):%H:%M:%S}",
            entry.gauge,
            entry.overdue,
            entry.by == self.writer.by,
        )

    def _proposed(self, ready: bool) -> Proposed:
        verdict = self.sitting.verdict
        grade, operations = verdict.grade, verdict.operations
        stored = self.sitting.core
        sentence = f"{verdict.sentence}."
        if not self.sitting.can_be_inspected and stored.grade != grade:
            # The owner overruled it: the books say what counts, the readings what they said.
            sentence = f"{stored.grade.capitalize()} by the owner. The readings said: {sentence}"
            grade, operations = stored.grade, stored.operations
        plan = self.sitting.plan
        names = {check.code: check.name for check in plan.checks}
        return Proposed(
            grade,
            GRADE_TONES[grade],
            sentence,
            tuple(self._cause(judgement) for judgement in verdict.causes),
            tuple(plan.operation(code) for code in operations),
            tuple(names[code] for code in verdict.missing),
            ready,
        )

    def _cause(self, judgement: CheckJudgement) -> Cause:
        check = self.sitting.plan.check(judgement.check)

        def size(value: int | None) -> str:
            return "" if value is None else with_unit(check, value)

        limit = ""
        if judgement.limit is not None:
            limit = f"{judgement.limit_name} {size(judgement.limit)}"
        rule = RULES[check.rule] if check.numeric else ""
        if check.rule == "guarded" and check.uncertainty:
            rule += f" (U {with_unit(check, check.uncertainty)})"
        return Cause(
            check.name,
            judged_words(check, judgement),
            size(judgement.reading),
            limit,
            size(judgement.distance),
            gauge_divisions(check, judgement.distance or 0),
            rule,
        )


def _how(check: Check) -> str:
    """Return how a check is done, in a few words."""
    if check.kind == "crack":
        return f"{check.method or 'visual'}: no indication, indication or unsure"
    if check.kind == "attribute":
        return "go, no-go or unsure"
    if check.kind == "look":
        return "one letter, A is the best, or unsure"
    judged = {"each": "each is judged"}.get(check.judged, f"their {check.judged} is judged")
    parts = [check.gauge_kind] if check.gauge_kind else []
    if check.readings > 1:
        parts.append(f"{check.readings} readings, {judged}")
    if check.resolution:
        parts.append(f"to {with_unit(check, check.resolution)}")
    return ", ".join(parts)


def _bands(check: Check) -> tuple[tuple[str, str], ...]:
    if check.usable is None:
        return ()
    unit = "" if check.unit == "count" else check.unit
    found = [("new", check.new)] if check.new is not None else []
    found.append(("usable", check.usable))
    found += [(f"rework: {band.operation}", band.limits) for band in check.rework]
    return tuple(
        (name, describe_limits(limits, unit, check.resolution).strip()) for name, limits in found
    )


def title_of(tag: str) -> str:
    """Return what a core's page at the bench is called."""
    return f"Bench: {show_tag(tag)}"
