"""One run of a wash basket inside a transaction: loaded slot by slot, counted, washed, emptied."""

from __future__ import annotations

from collections.abc import Collection, Mapping
from dataclasses import dataclass, field
from typing import Any

from coretrack.actions import drafts
from coretrack.actions.floor_scans import called
from coretrack.errors import InvalidInput, NotAllowed, NotFound
from coretrack.figures.bench_objects import Wash
from coretrack.figures.lifecycle import CoreFacts
from coretrack.figures.plain_words import counted
from coretrack.figures.tags import show_tag
from coretrack.figures.trade_objects import Family, Place
from coretrack.figures.wash_slots import (
    count_differs,
    family_counts,
    in_order,
    next_slot,
    slot_of,
    with_core,
    without_core,
)
from coretrack.records import shelf_queries
from coretrack.records.writer import Writer

UNDER_WAY = shelf_queries.UNDER_WAY


@dataclass
class Hand:
    """What one person does at a basket: the cores put in, the next slot wanted, a count asked."""

    steps: list[str] = field(default_factory=list)
    wanted: int = 0
    counting: bool = False


def begin(writer: Writer, place: Place) -> Wash:
    """Begin a wash in a basket and return it; the one under way when there is one."""
    known = shelf_queries.wash_of_basket(place.key)
    if known is not None:
        held: Wash = writer.get("wash", known.key)
        return held
    if place.kind != "basket":
        raise NotAllowed(f"{place.name} is a {place.kind}; cores are washed in baskets.")
    key = f"W-{writer.next_number('washes'):04d}"
    told = {"key": key, "basket": place.key, "status": "loading"}
    wash: Wash = writer.event("wash", key, "set", told)
    return wash


def hand_of(code: str, person: str) -> Hand:
    """Return what a person has in hand of a wash. Call with a connection."""
    body = drafts.read_draft(_hand_key(code, person))
    return Hand(**body) if body else Hand()


def _hand_key(code: str, person: str) -> str:
    return f"wash/{code}/{person}"


class WashRun:
    """A wash as one person changes it inside a transaction."""

    def __init__(self, writer: Writer, code: str) -> None:
        found: Wash | None = writer.find("wash", code)
        if found is None:
            raise NotFound(f"There is no wash '{code}'; scan its basket.")
        self.writer, self.code = writer, code
        self.hand = hand_of(code, writer.by)

    @property
    def wash(self) -> Wash:
        """The wash as this transaction sees it."""
        found: Wash = self.writer.get("wash", self.code)
        return found

    @property
    def name(self) -> str:
        """What the basket is called."""
        place: Place | None = self.writer.find("place", self.wash.basket)
        return place.name if place else show_tag(self.wash.basket)

    @property
    def count(self) -> int:
        """How many cores the slot map holds."""
        return len(self.wash.slots)

    def cores(self) -> list[CoreFacts]:
        """Return the cores of the map in slot order."""
        return [self.writer.get("core", tag) for _, tag in in_order(self.wash.slots)]

    def put(self, tag: str) -> int:
        """Put a core into the next slot and return the slot; the one it is in when it is there."""
        wash = self.wash
        self._expect("loading")
        there = slot_of(wash.slots, tag)
        if there:
            return there
        slot = next_slot(wash.slots, self.hand.wanted)
        detail = {"basket": wash.basket, "slot": slot, "wash": self.code}
        self.writer.event("core", tag, "basketed", detail)
        self._set({"slots": with_core(wash.slots, slot, tag)})
        self.hand.steps.append(tag)
        self.hand.wanted, self.hand.counting = (slot + 1 if self.hand.wanted else 0), False
        self.keep_hand()
        return slot

    def take_out(self, tag: str, why: str = "") -> int:
        """Take a core out of the basket again and return the slot it lay in.

        While the basket is in the wash it needs a reason: the slot map is on its card by then.
        """
        wash = self.wash
        self._expect(*UNDER_WAY)
        slot = slot_of(wash.slots, tag)
        if not slot:
            raise NotAllowed(f"Core {show_tag(tag)} does not lie in {self.name}.")
        if wash.status == "washing" and not why:
            raise InvalidInput(
                f"{self.name} is in the wash and its card says slot {slot}: say why core "
                f"{show_tag(tag)} is not in it.",
                {"reason": "a reason in a few words"},
            )
        self.writer.event("core", tag, "unbasketed", {"wash": self.code}, why=why)
        self._set({"slots": without_core(wash.slots, tag)}, why)
        self.hand.steps = [each for each in self.hand.steps if each != tag]
        self.keep_hand()
        return slot

    def undo(self) -> tuple[str, int]:
        """Take out the core this person put in last; return its tag and slot."""
        self._expect("loading")
        mine = [tag for tag in self.hand.steps if slot_of(self.wash.slots, tag)]
        if not mine:
            raise NotAllowed(f"There is nothing of yours to take back in {self.name}.")
        return mine[-1], self.take_out(mine[-1])

    def ask_count(self, counting: bool = True) -> None:
        """Note that this person was asked for the count, or no longer."""
        self.hand.counting = counting
        self.keep_hand()

    def load(self, told: int) -> None:
        """Send the basket into the wash once the count agrees; InvalidInput when it does not."""
        self._expect("loading")
        if not self.count:
            raise NotAllowed(f"Nothing lies in {self.name} yet; scan the first core.")
        self._check(told)
        self._set({"status": "washing", "counted": told})
        self._drop_hand()

    def finish(self, told: int) -> tuple[str, ...]:
        """Empty the basket after the wash; return its tags in slot order, for their labels."""
        self._expect("washing")
        self._check(told)
        self._empty()
        self._set({"status": "done", "counted": told})
        self._drop_hand()
        return tuple(tag for _, tag in in_order(self.wash.slots))

    def tip(
        self, told: Mapping[str, int], known: Collection[str], note: str
    ) -> tuple[tuple[str, ...], int]:
        """Note that the basket tipped: its cores keep their family and lose their source.

        `told` is the count of each family as found, which must be exact; `known` are cores that
        are still told apart by a metal tag or their serial. Returns all tags in slot order and how
        many sources were lost now.
        """
        self._expect(*UNDER_WAY)
        cores = self.cores()
        if not cores:
            raise NotAllowed(f"Nothing lies in {self.name}; nothing can be mixed up.")
        self._check_families(told, [core.family for core in cores])
        strangers = sorted(set(known) - {core.tag for core in cores})
        if strangers:
            raise InvalidInput(f"Core {show_tag(strangers[0])} does not lie in {self.name}.")
        lost = 0
        for core in cores:
            if core.tag not in known and not core.source_lost:
                detail = {"basket": self.name, "wash": self.code}
                self.writer.event("core", core.tag, "source lost", detail, why=note)
                lost += 1
        self._empty()
        self._set({"status": "tipped", "counted": len(cores), "note": note}, note)
        self._drop_hand()
        return tuple(core.tag for core in cores), lost

    def give_up(self) -> None:
        """End a wash in which nothing lies, so that its basket is free."""
        self._expect("loading")
        if self.count:
            raise NotAllowed(f"{counted(self.count, 'core')} lie in {self.name}; take them out.")
        self._set({"status": "given up"})
        self._drop_hand()

    def keep_hand(self) -> None:
        """Keep what this person does here."""
        body = {
            "steps": self.hand.steps[-50:],
            "wanted": self.hand.wanted,
            "counting": self.hand.counting,
        }
        drafts.keep_draft(self.writer, _hand_key(self.code, self.writer.by), body)

    def _drop_hand(self) -> None:
        drafts.drop_draft(self.writer, _hand_key(self.code, self.writer.by))

    def _check(self, told: int) -> None:
        wrong = count_differs(told, self.count)
        if wrong:
            raise InvalidInput(wrong, {"count": wrong})

    def _check_families(self, told: Mapping[str, int], families: list[str]) -> None:
        wrong = {}
        for family, mapped in family_counts(families).items():
            differs = count_differs(told.get(family, -1), mapped) if family in told else "count it"
            if differs:
                known: Family | None = self.writer.find("family", family)
                wrong[f"family:{family}"] = f"{known.name if known else family}: {differs}"
        if wrong:
            raise InvalidInput(" ".join(wrong.values()), wrong)

    def _expect(self, *statuses: str) -> None:
        status = self.wash.status
        if status not in statuses:
            raise NotAllowed(f"Wash {self.code} in {self.name} {SAID[status]}.")

    def _empty(self) -> None:
        for core in self.cores():
            if core.basket == self.wash.basket:
                self.writer.event("core", core.tag, "unbasketed", {"wash": self.code})

    def _set(self, detail: dict[str, Any], why: str = "") -> None:
        self.writer.event("wash", self.code, "set", detail, why=why)


SAID = {
    "loading": "is still being loaded; count it into the wash first",
    "washing": "is in the wash; nothing more goes into its slots",
    "done": "is over; scan the basket to begin another",
    "tipped": "tipped and is over; scan the basket to begin another",
    "given up": "was given up; scan the basket to begin another",
}
"""What a wash's status forbids, in words."""


def lies_in(writer: Writer, core: CoreFacts) -> str:
    """Return where a core in a basket lies, as a sentence; "" when it lies in none."""
    if not core.basket:
        return ""
    place: Place | None = writer.find("place", core.basket)
    name = place.name if place else show_tag(core.basket)
    return f"{called(core)} lies in {name}, slot {core.slot}."
