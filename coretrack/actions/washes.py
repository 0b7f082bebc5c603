"""The wash: baskets loaded by scan, counted in and out, tipped ones noted; one action each.

At a basket's page a core goes into the next slot, a typed number sets that slot, a free metal tag
goes onto the core put in last, `undo` takes it out again, `done` asks for the count. In the wash
`done` or Enter asks for the count; a number is the count then, and asked about before.
"""

from __future__ import annotations

from collections.abc import Collection, Mapping
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from coretrack.actions import metal_tags
from coretrack.actions.acting import act_once
from coretrack.actions.floor_scans import (
    Named,
    called,
    core_named,
    named,
    order_not_here,
    place_named,
    unclear,
)
from coretrack.actions.offers import offer
from coretrack.actions.typed_fields import typed_reason
from coretrack.actions.wash_runs import UNDER_WAY, WashRun, begin, lies_in
from coretrack.errors import InvalidInput, NotFound
from coretrack.figures.plain_words import counted
from coretrack.figures.scan_replies import ScanReply, Spot
from coretrack.figures.tags import only_digits, show_tag
from coretrack.figures.trade_objects import Place
from coretrack.figures.wash_slots import MOST_SLOTS
from coretrack.records import shelf_queries
from coretrack.records.writer import Writer

_AT_HOME = "Scan a basket's card."
_LOADING = "Scan the next core, or 'done' when the basket is full."


def take_scan(writer: Writer, code: str, text: str, spot: Spot, now: datetime) -> ScanReply:
    """Act on a scan at the wash pages: `code` is "" (all baskets), "tags" (the pool) or a wash."""
    del spot, now
    if code == metal_tags.POOL:
        return metal_tags.take_pool_scan(writer, text)
    scan = named(text)
    if scan.kind == "place":
        return _basket(writer, code, scan)
    if not code:
        return _at_home(writer, scan)
    run = WashRun(writer, code)
    if run.wash.status == "loading":
        return _Loading(run).take(scan)
    if run.wash.status not in UNDER_WAY:
        return ScanReply("stop", "OVER", f"Wash {run.code} is {run.wash.status}. {_AT_HOME}")
    return _Washing(run).take(scan)


def _basket(writer: Writer, code: str, scan: Named) -> ScanReply:
    """Open a basket's wash, a new one when it is free."""
    place = place_named(writer, scan, "basket")
    fresh = shelf_queries.wash_of_basket(place.key) is None
    wash = begin(writer, place)
    if wash.key == code:
        held = counted(len(wash.slots), "core")
        return ScanReply("note", place.name.upper(), f"This is {place.name}; {held} in it.")
    left = _still_loading(writer, code)
    if fresh:
        line = f"{place.name} is empty: wash {wash.key} begins. Scan the first core."
        return ScanReply("good", place.name.upper(), line, left, target="wash", code=wash.key)
    held = counted(len(wash.slots), "core")
    line = f"{place.name}, wash {wash.key}: {held}, {wash.status}."
    return ScanReply("note", place.name.upper(), line, left, target="wash", code=wash.key)


def _still_loading(writer: Writer, code: str) -> str:
    """Say what was left behind at another basket."""
    if not code:
        return ""
    run = WashRun(writer, code)
    if run.wash.status != "loading" or not run.count:
        return ""
    return f"{run.name} stays as it is: {counted(run.count, 'core')}, not counted yet."


def _at_home(writer: Writer, scan: Named) -> ScanReply:
    if scan.kind == "nothing":
        return ScanReply("note", "READY", _AT_HOME)
    if scan.kind == "core":
        core = core_named(writer, scan.tag)
        where = lies_in(writer, core)
        wash = shelf_queries.wash_of_basket(core.basket) if where else None
        if wash is None:
            return ScanReply("stop", "BASKET FIRST", f"{called(core)} is in no basket. {_AT_HOME}")
        word = f"SLOT {core.slot}"
        return ScanReply("note", word, where, target="wash", code=wash.key)
    if scan.kind == "order":
        return order_not_here(scan, _AT_HOME)
    return unclear(scan, _AT_HOME)


class _Loading:
    """A basket that is being filled."""

    def __init__(self, run: WashRun) -> None:
        self.run = run

    def take(self, scan: Named) -> ScanReply:
        """Act on one scan."""
        match scan.kind:
            case "core":
                return self._core(scan.tag)
            case "number":
                return self._number(scan.number)
            case "metal tag":
                return self._metal_tag(scan.number)
            case "order" if scan.order == "undo":
                tag, slot = self.run.undo()
                line = f"Core {show_tag(tag)} is out of slot {slot}; {self._held()}."
                return ScanReply("note", "TAKEN BACK", line)
            case "order" if scan.order in ("done", "accept", "next"):
                return self._ask_count()
            case "order" if scan.order in ("cancel", "back"):
                self.run.ask_count(False)
                return ScanReply("note", "GO ON", f"{self._held().capitalize()}. {_LOADING}")
            case "order":
                return order_not_here(scan, _LOADING)
            case "offer" if scan.verb == "move":
                return self._move(scan.argument)
            case "nothing":
                return ScanReply("note", "READY", f"{self._held().capitalize()}. {_LOADING}")
        return unclear(scan, _LOADING)

    def _held(self) -> str:
        return f"{counted(self.run.count, 'core')} in {self.run.name}"

    def _core(self, tag: str) -> ScanReply:
        core = core_named(self.run.writer, tag)
        there = core.basket == self.run.wash.basket and tag in self.run.wash.slots.values()
        if core.basket and not there:
            move = offer(f"It lies here now: move it to {self.run.name}", "move", tag)
            line = lies_in(self.run.writer, core)
            return ScanReply("ask", "OTHER BASKET", line, offers=(move,))
        slot = self.run.put(tag)
        if there:
            line = f"{called(core)} is in slot {slot} already; {self._held()}."
            return ScanReply("note", f"SLOT {slot}", line)
        undo = f"core {show_tag(tag)} out of slot {slot}"
        line = f"{called(core)} in slot {slot}; {self._held()}."
        return ScanReply("good", f"SLOT {slot}", line, undo=undo)

    def _move(self, tag: str) -> ScanReply:
        """Take a core over from another basket; one already in the wash cannot lie here too."""
        core = core_named(self.run.writer, tag)
        other = shelf_queries.wash_of_basket(core.basket)
        if other is not None:
            why = f"found beside {self.run.name}" if other.status == "washing" else ""
            WashRun(self.run.writer, other.key).take_out(tag, why)
        elif core.basket:
            self.run.writer.event("core", tag, "unbasketed", {})
        return self._core(tag)

    def _number(self, number: int) -> ScanReply:
        if self.run.hand.counting:
            return self._count(number)
        if not 1 <= number <= MOST_SLOTS:
            return ScanReply("stop", "NO SLOT", f"Slots are 1 to {MOST_SLOTS}, not {number}.")
        taken = self.run.wash.slots.get(str(number))
        if taken:
            line = f"Slot {number} holds core {show_tag(taken)}; type a free slot."
            return ScanReply("stop", "TAKEN", line)
        self.run.hand.wanted = number
        self.run.keep_hand()
        return ScanReply("note", f"NEXT: {number}", f"The next core goes into slot {number}.")

    def _metal_tag(self, number: int) -> ScanReply:
        mine = [tag for tag in self.run.hand.steps if tag in self.run.wash.slots.values()]
        if not mine:
            return ScanReply(
                "ask", "CORE FIRST", f"Metal tag {number} is free; scan the core it goes onto."
            )
        core = metal_tags.bind(self.run.writer, mine[-1], number)
        line = f"Metal tag {number} is wired to {called(core)}, slot {core.slot}."
        return ScanReply("good", f"TAG {number}", line)

    def _ask_count(self) -> ScanReply:
        if not self.run.count:
            return ScanReply("stop", "EMPTY", f"Nothing lies in {self.run.name}. {_LOADING}")
        self.run.ask_count()
        return ScanReply(
            "ask", "COUNT", f"Count the cores in {self.run.name} and type how many.", _BY_HAND
        )

    def _count(self, number: int) -> ScanReply:
        try:
            self.run.load(number)
        except InvalidInput as error:
            return ScanReply("stop", "COUNT AGAIN", error.message)
        line = f"{counted(number, 'core')} in {self.run.name}: into the wash. Print its card."
        return ScanReply("good", "INTO THE WASH", line)


_BY_HAND = "Count the pieces by hand, not the lines on the screen."


class _Washing:
    """A basket that is in the wash."""

    def __init__(self, run: WashRun) -> None:
        self.run = run

    def take(self, scan: Named) -> ScanReply:
        """Act on one scan."""
        match scan.kind:
            case "number":
                return self._number(scan.number)
            case "offer" if scan.verb == "out":
                return self._out(typed_count(scan.argument))
            case "core":
                return self._core(scan.tag)
            case "nothing":
                return self._ask_count()
            case "order" if scan.order in ("done", "next", "accept"):
                return self._ask_count()
            case "order" if scan.order in ("cancel", "back"):
                self.run.ask_count(False)
                return ScanReply("note", "IN THE WASH", f"{self.run.name}. {_OUT}")
            case "order":
                return order_not_here(scan, _OUT)
        return unclear(scan, _OUT)

    def _ask_count(self) -> ScanReply:
        self.run.ask_count()
        line = f"Count what comes out of {self.run.name} and type how many."
        return ScanReply("ask", "COUNT", line, f"Then the wash is over. {_BY_HAND}")

    def _number(self, number: int) -> ScanReply:
        if self.run.hand.counting:
            return self._out(number)
        out = f"Yes, {counted(number, 'core')} counted out: the wash is over"
        line = f"Is {number} the count of what came out of {self.run.name}? Nothing is done yet."
        return ScanReply("ask", "THE COUNT?", line, _OUT, offers=(offer(out, "out", str(number)),))

    def _out(self, number: int) -> ScanReply:
        try:
            tags = self.run.finish(number)
        except InvalidInput as error:
            tipped = "If the order of the slots is lost, note the basket as tipped below."
            return ScanReply("stop", "COUNT AGAIN", error.message, tipped)
        line = f"{counted(len(tags), 'core')} out of {self.run.name}; "
        line += "their labels come in slot order, each with its slot."
        return ScanReply("good", "OUT", line, print_tags=tags)

    def _core(self, tag: str) -> ScanReply:
        core = core_named(self.run.writer, tag)
        if core.tag in self.run.wash.slots.values():
            where = lies_in(self.run.writer, core)
            return ScanReply("note", f"SLOT {core.slot}", where, _OUT)
        line = f"{called(core)} is not in {self.run.name}, which is in the wash; nothing goes in."
        return ScanReply("stop", "NOT IN IT", line, _OUT)


_OUT = "When it comes out, 'done' or Enter asks for the count."


@dataclass(frozen=True)
class Tipping:
    """A tipped basket as typed: each family's count, and the cores still told apart."""

    counts: Mapping[str, str]
    known: Collection[str] = ()
    note: str = ""


def begin_wash(basket: str, *, by: str, station: str, now: datetime, key: str) -> str:
    """Begin a wash in the basket with this code, or open the one under way; return its code."""

    def act(writer: Writer) -> dict[str, Any]:
        place: Place | None = writer.find("place", basket)
        if place is None:
            raise NotFound("There is no such basket; choose one of the list.")
        return {"code": begin(writer, place).key}

    return str(act_once("begin wash", key, act, by=by, station=station, now=now)["code"])


def load_wash(code: str, count: str, *, by: str, station: str, now: datetime, key: str) -> None:
    """Send a basket into the wash; the count typed must agree with its slot map."""
    told = typed_count(count)

    def act(writer: Writer) -> dict[str, Any]:
        WashRun(writer, code).load(told)
        return {}

    act_once("load wash", key, act, by=by, station=station, now=now)


def finish_wash(
    code: str, count: str, *, by: str, station: str, now: datetime, key: str
) -> tuple[str, ...]:
    """Empty a basket after the wash; return the tags whose labels are wanted, in slot order."""
    told = typed_count(count)

    def act(writer: Writer) -> dict[str, Any]:
        return {"tags": list(WashRun(writer, code).finish(told))}

    return tuple(act_once("finish wash", key, act, by=by, station=station, now=now)["tags"])


def tip_wash(
    code: str, told: Tipping, *, by: str, station: str, now: datetime, key: str
) -> tuple[tuple[str, ...], int]:
    """Note a tipped basket; return all its tags in slot order and how many sources were lost.

    InvalidInput names each family whose count is not exact; nothing is stored then.
    """
    note = typed_reason(told.note)
    counts = {
        family: typed_count(count, f"family:{family}") for family, count in told.counts.items()
    }

    def act(writer: Writer) -> dict[str, Any]:
        tags, lost = WashRun(writer, code).tip(counts, told.known, note)
        return {"tags": list(tags), "lost": lost}

    answer = act_once("tip wash", key, act, by=by, station=station, now=now)
    return tuple(answer["tags"]), int(answer["lost"])


def take_out(
    code: str, tag: str, why: str, *, by: str, station: str, now: datetime, key: str
) -> int:
    """Take one core out of a basket by hand and return its slot."""
    reason = typed_reason(why)

    def act(writer: Writer) -> dict[str, Any]:
        return {"slot": WashRun(writer, code).take_out(tag, reason)}

    return int(act_once("take out", key, act, by=by, station=station, now=now)["slot"])


def give_up(code: str, *, by: str, station: str, now: datetime, key: str) -> None:
    """End a wash whose basket is still empty."""

    def act(writer: Writer) -> dict[str, Any]:
        WashRun(writer, code).give_up()
        return {}

    act_once("give up wash", key, act, by=by, station=station, now=now)


def typed_count(text: str, field: str = "count") -> int:
    """Return a count as typed; InvalidInput at `field` when it is no whole number."""
    bare = text.strip()
    if not (only_digits(bare) and len(bare) <= 4):
        raise InvalidInput(
            f"A count is a whole number such as 12, not '{bare}'.", {field: "a whole number"}
        )
    return int(bare)
