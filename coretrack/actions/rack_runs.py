"""One rack of a crack check: cores put in by scan, counted by hand, exceptions marked, stored.

A rack is a draft that any station goes on with. Nothing of it counts until it is stored, and it is
stored only while its count, told by a person who counted by hand, is the number of cores scanned.
Then each core gets what was seen as an entry of its draft at the bench, all in one transaction.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import asdict, dataclass, field, replace
from typing import Any

from coretrack.actions import drafts, look_records
from coretrack.actions.acting import Changed
from coretrack.actions.bench_hand import Entry, keep_hand
from coretrack.actions.bench_sitting import Sitting, sitting_of
from coretrack.actions.crack_entries import told_at
from coretrack.actions.desk_day import the_desk
from coretrack.actions.floor_scans import called, core_named
from coretrack.actions.inspecting import Bench
from coretrack.errors import InvalidInput, NotAllowed, NotFound
from coretrack.figures.core_facts import INSPECTABLE
from coretrack.figures.core_story import state_shown
from coretrack.figures.plain_words import are, counted
from coretrack.figures.plans import Check
from coretrack.figures.tags import show_tag
from coretrack.records.drafts import Draft
from coretrack.records.times import to_text
from coretrack.records.writer import Writer

START = "rack/"
EXCEPTIONS = ("indication", "unsure")
MOST_CORES = 200
"""More bodies than any rack of a hand-fed line holds; a count of so many would not be counted."""


@dataclass(frozen=True)
class Rack:
    """A rack at work. `tags` in the order scanned; `counted` is the confirmed count, 0 for none.

    `exceptions` maps a tag to its result and what was told (`detail`), `doubts` are cores whose
    indication was taken back: they stay unsure. `chosen` is the exception that the next word tells
    of; `asked` the step at which the last question (the count, or storing) was put.
    """

    code: str
    family: str = ""
    check: str = ""
    place: str = ""
    tags: tuple[str, ...] = ()
    put_by: Mapping[str, str] = field(default_factory=dict)
    counted: int = 0
    counting: bool = False
    exceptions: Mapping[str, Mapping[str, str]] = field(default_factory=dict)
    doubts: tuple[str, ...] = ()
    chosen: str = ""
    asked: int = 0
    step: int = 0

    @property
    def confirmed(self) -> bool:
        """Whether somebody counted by hand as many cores as were scanned."""
        return 0 < self.counted == len(self.tags)

    @property
    def seen(self) -> str:
        """What a page shows of the rack, in a few signs."""
        return f"{self.code}.{self.step}"

    def result_of(self, tag: str) -> str:
        """Return what would be stored of a core: an exception's result, else no indication."""
        return str(self.exceptions[tag]["result"]) if tag in self.exceptions else "none"

    def numbers(self) -> tuple[int, int, int]:
        """Return how many would be stored as no indication, as indication, as unsure."""
        results = [self.result_of(tag) for tag in self.tags]
        return results.count("none"), results.count("indication"), results.count("unsure")


def rack_of(code: str) -> Rack:
    """Return a rack at work; NotFound when it is stored or never was. Call with a connection."""
    body = drafts.read_draft(f"{START}{code}")
    if body is None:
        raise NotFound(f"There is no rack '{code}' at work; it is stored, or was given up.")
    return _from_body(body)


def racks_at_work() -> list[tuple[Rack, Draft]]:
    """Return the racks at work, the oldest first. Call with a connection."""
    return [(_from_body(draft.body), draft) for draft in drafts.drafts_beginning(START)]


def rack_with(tag: str, but: str = "") -> Rack | None:
    """Return the rack at work that a core is in, other than `but`."""
    found = (rack for rack, _ in racks_at_work() if rack.code != but and tag in rack.tags)
    return next(found, None)


def _from_body(body: Mapping[str, Any]) -> Rack:
    return Rack(**{**body, "tags": tuple(body["tags"]), "doubts": tuple(body["doubts"])})


def open_checks(sitting: Sitting) -> tuple[Check, ...]:
    """Return the crack checks that wait for an entry of this core."""
    if not sitting.can_be_inspected:
        return ()
    return tuple(
        check
        for check in sitting.plan.in_order()
        if check.kind == "crack" and check.code in sitting.due and not sitting.is_full(check)
    )


def why_not(sitting: Sitting, code: str, person: str) -> tuple[str, str]:
    """Return why a person cannot do a core's crack check now, as a large word and a sentence.

    Call with a connection.
    """
    core = sitting.core
    if core.state not in INSPECTABLE:
        word = "FAILED ALREADY" if core.state == "scrapped" else "NOT NOW"
        return word, f"{called(core)} is not to be checked: {state_shown(core).words}."
    check = next((each for each in sitting.plan.checks if each.code == code), None)
    if check is None:
        return "NOT IN ITS PLAN", f"The plan of {called(core)} has no such check."
    if check in open_checks(sitting):
        if core.inspections and person in look_records.doubters(core.tag, code):
            line = f"{called(core)}: you left its {check.name} unsure; somebody else has to look."
            return "NOT BY YOU", f"{line} It does not go into the rack."
        return "", ""
    said = f"{called(core)}: {sitting.judgement(code).sentence}, {_found(sitting, code)}."
    if sitting.judgement(code).outcome == "discard":
        return "FAILED ALREADY", f"{said} It does not go into the rack."
    again = f"To look again, choose {check.name} on its page at the bench."
    return "CHECKED ALREADY", f"{said} It does not go into the rack. {again}"


def _found(sitting: Sitting, code: str) -> str:
    """Return when and by whom a check was done that counts now."""
    desk, core = the_desk(), sitting.core
    typed = sitting.hand.of_check(code)
    if typed:
        return f"{desk.moment(typed[-1].at):%Y-%m-%d %H:%M} by {typed[-1].by}"
    reading, inspector, at = look_records.newest_reading(core.tag, code)
    when = desk.moment(str(reading.get("at") or at)) if at else None
    return f"{f'{when:%Y-%m-%d %H:%M} ' if when else ''}by {reading.get('by') or inspector}"


class RackRun:
    """A rack as one person changes it inside a transaction."""

    def __init__(self, writer: Writer, code: str) -> None:
        self.writer = writer
        self.rack = rack_of(code)

    @classmethod
    def begin(cls, writer: Writer, family: str, check: str, place: str = "") -> RackRun:
        """Begin a rack of one crack check of a family; NotFound when its plan has none such."""
        known = [each.code for each in crack_checks(writer, family)]
        if check not in known:
            raise NotFound(f"The plan of family {family} has no crack check '{check}'.")
        code = f"R-{writer.next_number('racks'):04d}"
        run = cls.__new__(cls)
        run.writer, run.rack = writer, Rack(code, family, check, place)
        run._keep(run.rack)
        return run

    def put(self, tag: str) -> int:
        """Put a core in and return how many there are; the caller asked `why_not` before."""
        rack = self.rack
        if len(rack.tags) >= MOST_CORES:
            raise NotAllowed(f"A rack holds {MOST_CORES} cores at most; store this one first.")
        put_by = {**rack.put_by, tag: self.writer.by}
        self._uncounted(replace(rack, tags=(*rack.tags, tag), put_by=put_by))
        return len(self.rack.tags)

    def take_out(self, tag: str) -> None:
        """Take a core out again; the count has to be told anew. An exception does not go by it."""
        rack = self.rack
        if tag not in rack.tags:
            raise NotAllowed(f"Core {show_tag(tag)} is not in rack {rack.code}.")
        if rack.result_of(tag) == "indication" or tag in rack.doubts:
            raise NotAllowed(
                f"An indication was marked on core {show_tag(tag)}: it stays in the rack, so that "
                "it is stored with the others."
            )
        left = tuple(each for each in rack.tags if each != tag)
        put_by = {each: who for each, who in rack.put_by.items() if each != tag}
        exceptions = {each: told for each, told in rack.exceptions.items() if each != tag}
        self._uncounted(replace(rack, tags=left, put_by=put_by, exceptions=exceptions))

    def last_of(self, person: str) -> str:
        """Return the tag of the core that a person put in last, "" for none."""
        return next((tag for tag in reversed(self.rack.tags) if self._by(tag) == person), "")

    def _by(self, tag: str) -> str:
        return str(self.rack.put_by.get(tag, ""))

    def ask_count(self, counting: bool = True) -> None:
        """Note that the count is asked for now, or no longer."""
        self._keep(replace(self.rack, counting=counting))

    def count(self, told: int) -> None:
        """Confirm the count; InvalidInput when it is not the number of cores scanned."""
        number = len(self.rack.tags)
        if not number:
            raise NotAllowed("Nothing is in the rack yet; scan the first core.")
        if told != number:
            self._keep(replace(self.rack, counted=0, counting=True))
            raise InvalidInput(_differs(told, number), {"count": _differs(told, number)})
        self._keep(replace(self.rack, counted=told, counting=False))

    def mark(self, tag: str, result: str, detail: str = "") -> None:
        """Mark an exception; an indication that is taken back leaves the core unsure."""
        rack = self.rack
        if not rack.confirmed:
            raise NotAllowed("Count the cores in the rack first.")
        doubts = rack.doubts
        if rack.result_of(tag) == "indication" and result != "indication":
            doubts = tuple(dict.fromkeys((*doubts, tag)))
            result = "unsure"
        if result == "none" and tag in doubts:
            result = "unsure"
        exceptions = {each: told for each, told in rack.exceptions.items() if each != tag}
        if result in EXCEPTIONS:
            exceptions[tag] = {"result": result, "detail": detail, "by": self.writer.by}
        chosen = tag if result in EXCEPTIONS else ""
        self._keep(replace(rack, exceptions=exceptions, doubts=doubts, chosen=chosen))

    def stand_in(self, place: str) -> None:
        """Note the rack's card; scanned at the first page it opens this rack."""
        self._keep(replace(self.rack, place=place))

    def ask_store(self) -> None:
        """Note that storing is asked for now, of the rack as it stands."""
        self._keep(replace(self.rack, asked=self.rack.step + 1))

    @property
    def store_asked(self) -> bool:
        """Whether the last thing done was to ask whether to store it."""
        return self.rack.asked == self.rack.step > 0

    def store(self, seen: str) -> tuple[int, int, int]:
        """Give each core what was seen, in one go; return how many of each result.

        Changed when the person saw another rack than there is; NotAllowed without the confirmed
        count, or when a core's check was done elsewhere meanwhile.
        """
        rack = self.rack
        if seen != rack.seen:
            raise Changed("Somebody changed this rack meanwhile; look at it again, then store it.")
        if not rack.confirmed:
            raise NotAllowed("Count the cores in the rack by hand first; nothing was stored.")
        sittings = [sitting_of(self.writer, tag) for tag in rack.tags]
        done = [said for each in sittings if (said := why_not(each, rack.check, self.writer.by)[1])]
        if done:
            raise NotAllowed(
                f"{done[0]} Take {'it' if len(done) == 1 else f'these {len(done)}'} out of the "
                "rack and count again; nothing was stored."
            )
        for sitting in sittings:
            self._store_one(sitting)
        drafts.drop_draft(self.writer, f"{START}{rack.code}")
        return rack.numbers()

    def _store_one(self, sitting: Sitting) -> None:
        rack, tag = self.rack, sitting.core.tag
        result = rack.result_of(tag)
        told = rack.exceptions.get(tag, {})
        blank = Entry(
            rack.check,
            result,
            result=result,
            detail=str(told.get("detail", "")),
            by=self.writer.by,
            station=self.writer.station,
            at=to_text(self.writer.at),
        )
        check = sitting.plan.check(rack.check)
        entry = told_at(self.writer, rack.family, check, blank)
        hand = sitting.hand
        at_check = "" if hand.at_check == rack.check else hand.at_check
        changed = replace(hand, entries=(*hand.entries, entry), at_check=at_check)
        if tag in rack.doubts:
            # As at the bench: an indication once marked leaves a doubt in the history.
            slip = replace(entry, typed="indication", result="indication", detail="")
            changed = replace(changed, withdrawn=(*hand.withdrawn, slip))
        keep_hand(self.writer, changed, "typed", result)
        detail = {
            "rack": rack.code,
            "check": rack.check,
            "method": check.method,
            "result": result,
            "counted": rack.counted,
            "stamps": list(entry.stamps),
        }
        if rack.place:
            detail["place"] = rack.place
        if entry.detail:
            detail["detail"] = entry.detail
        self.writer.event("core", tag, "crack checked", detail)

    def give_up(self) -> None:
        """End a rack of which nothing counts; NotAllowed once an exception was marked."""
        if self.rack.exceptions:
            raise NotAllowed("Exceptions are marked in this rack; store it, so that they count.")
        drafts.drop_draft(self.writer, f"{START}{self.rack.code}")

    def _uncounted(self, rack: Rack) -> None:
        self._keep(replace(rack, counted=0, counting=False, chosen=""))

    def _keep(self, rack: Rack) -> None:
        self.rack = replace(rack, step=rack.step + 1)
        drafts.keep_draft(self.writer, f"{START}{rack.code}", asdict(self.rack))


def crack_checks(writer: Writer, family: str) -> tuple[Check, ...]:
    """Return the crack checks of a family's present plan, in bench order."""
    known = writer.find("family", family)
    if known is None or not known.plan_version:
        return ()
    plan = Bench(writer).plan(family, known.plan_version)
    return tuple(check for check in plan.in_order() if check.kind == "crack")


def sitting_in(writer: Writer, tag: str) -> Sitting:
    """Return a core's sitting; NotFound for a tag no core has, NotAllowed without a plan."""
    core_named(writer, tag)
    return sitting_of(writer, tag)


def _differs(told: int, number: int) -> str:
    apart = abs(told - number)
    if told < number:
        what = f"{are(apart, 'core')} not in the rack; look for {'it' if apart == 1 else 'them'}"
    else:
        what = f"{are(apart, 'core')} in the rack that nobody scanned"
    return f"{counted(told, 'core')} counted, {number} scanned: {what}."
