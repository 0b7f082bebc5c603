"""Scans at the racks of crack checks: cores in, the count, the exceptions, all others stored.

At a rack a core's tag puts it in, a number is the count, `undo` takes the last one out, `done`
goes on: to the count, then to storing. After the count a tag names an exception, which is unsure
from that moment on; the order or word after it says more.
"""

from __future__ import annotations

from datetime import datetime
from typing import Any

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
from coretrack.actions.rack_runs import (
    RackRun,
    crack_checks,
    open_checks,
    rack_of,
    rack_with,
    racks_at_work,
    sitting_in,
    why_not,
)
from coretrack.actions.washes import typed_count
from coretrack.errors import InvalidInput
from coretrack.figures.findings import CRACK_WORDS, word_at
from coretrack.figures.lifecycle import CoreFacts
from coretrack.figures.plain_words import counted
from coretrack.figures.plans import Check
from coretrack.figures.scan_replies import Offer, ScanReply, Spot
from coretrack.figures.tags import show_tag
from coretrack.records.writer import Writer

_AT_HOME = "Scan the first core of the rack."
_LOADING = "Scan the next core, or 'done' when all are in."
_MARKING = "Scan an exception, or 'done' when there is no other."
_GO_ON = ("done", "accept", "next")
_CRACK = Check("crack", "crack", "crack", 0)
"""Stands for any crack check where only its words are read."""


def take_scan(writer: Writer, code: str, text: str, spot: Spot, now: datetime) -> ScanReply:
    """Act on a scan at the rack pages: `code` is "" (all racks) or a rack."""
    del now
    scan = named(text)
    if not code:
        return _at_home(writer, scan)
    return _AtRack(RackRun(writer, code), spot).take(scan, text)


def _at_home(writer: Writer, scan: Named) -> ScanReply:
    if scan.kind == "nothing":
        return ScanReply("note", "READY", _AT_HOME)
    if scan.kind == "place":
        return _at_card(writer, scan)
    if scan.kind == "core":
        return _first_core(writer, scan.tag)
    if scan.kind == "offer" and scan.verb in ("into", "begin"):
        rack, _, tag = scan.argument.partition("|")
        if scan.verb == "into":
            run = RackRun(writer, rack)
        else:
            core = core_named(writer, tag)
            run = RackRun.begin(writer, core.family, rack)
        reply = _AtRack(run, Spot("rack", run.rack.code)).put(tag)
        return _opening(reply, run.rack.code)
    if scan.kind == "order":
        return order_not_here(scan, _AT_HOME)
    return unclear(scan, _AT_HOME)


def _opening(reply: ScanReply, code: str) -> ScanReply:
    return ScanReply(reply.tone, reply.word, reply.line, reply.detail, target="rack", code=code)


def _at_card(writer: Writer, scan: Named) -> ScanReply:
    """Open the rack at work on a rack's card; a card without one waits for its first core."""
    place = place_named(writer, scan, "rack")
    for rack, _ in racks_at_work():
        if rack.place == place.key:
            line = f"{place.name} is rack {rack.code}: {counted(len(rack.tags), 'core')}."
            return ScanReply("note", place.name.upper(), line, target="rack", code=rack.code)
    return ScanReply("note", place.name.upper(), f"{place.name} is free. {_AT_HOME}")


def _first_core(writer: Writer, tag: str) -> ScanReply:
    """Open the rack a core is in, or offer what it can go into."""
    core = core_named(writer, tag)
    inside = rack_with(tag)
    if inside is not None:
        line = f"{called(core)} is in rack {inside.code}."
        return ScanReply("note", "IN A RACK", line, target="rack", code=inside.code)
    sitting = sitting_in(writer, tag)
    waiting = open_checks(sitting)
    checks = [c for c in waiting if not why_not(sitting, c.code, writer.by)[0]]
    if not checks:
        cracks = waiting or [c for c in sitting.plan.checks if c.kind == "crack"]
        every = [check.code for check in cracks]
        if not every:
            line = f"The plan of {called(core)} has no crack check."
            return ScanReply("stop", "NO CRACK CHECK", line)
        word, line = why_not(sitting, every[0], writer.by)
        return ScanReply("stop", word, line)
    wanted = {check.code: check for check in checks}
    offers: list[Offer] = [
        offer(
            f"Into rack {rack.code}: {wanted[rack.check].name}, "
            f"{counted(len(rack.tags), 'core')} so far",
            "into",
            f"{rack.code}|{tag}",
        )
        for rack, _ in racks_at_work()
        if rack.family == core.family and rack.check in wanted
    ]
    offers += [
        offer(f"A new rack: {check.name} ({check.method})", "begin", f"{check.code}|{tag}")
        for check in checks
    ]
    if len(offers) == 1:
        run = RackRun.begin(writer, core.family, checks[0].code)
        return _opening(_AtRack(run, Spot("rack", run.rack.code)).put(tag), run.rack.code)
    line = f"{called(core)} can go into one of these."
    return ScanReply("ask", "WHICH RACK?", line, offers=tuple(offers))


class _AtRack:
    """Answers one scan of the writer's person at a rack."""

    def __init__(self, run: RackRun, spot: Spot) -> None:
        self.run = run
        self.spot = spot

    def take(self, scan: Named, text: str) -> ScanReply:
        """Act on one scan."""
        if scan.kind == "number":
            return self._count(scan.number)
        if scan.kind == "offer":
            return self._chosen(scan)
        if scan.kind == "nothing":
            return self._agreed()
        if scan.kind == "order":
            return self._order(scan.order)
        if scan.kind == "core":
            return self._exception(scan.tag) if self.run.rack.confirmed else self.put(scan.tag)
        if scan.kind == "place":
            return self._at_card(scan)
        word = word_at(_CRACK, text)
        if word is not None:
            return self._result(word.result, word.detail)
        return unclear(scan, self._wanted())

    def _wanted(self) -> str:
        rack = self.run.rack
        return _MARKING if rack.confirmed else _LOADING

    def put(self, tag: str) -> ScanReply:
        """Put a core into the rack, or say why it does not go in."""
        rack = self.run.rack
        core = core_named(self.run.writer, tag)
        if tag in rack.tags:
            number = rack.tags.index(tag) + 1
            line = f"{called(core)} is in the rack already, as number {number}; {self._held()}."
            out = offer(f"Take {show_tag(tag)} out of the rack", "out", tag)
            return ScanReply("note", "ALREADY IN", line, offers=(out,))
        refused = self._refused(core)
        if refused is not None:
            return refused
        number = self.run.put(tag)
        return ScanReply("good", f"{number} IN", f"{called(core)}. {_LOADING}")

    def _refused(self, core: CoreFacts) -> ScanReply | None:
        """Return why a core does not go into the rack, None when it may."""
        rack = self.run.rack
        if core.family != rack.family:
            line = f"{called(core)} is of family {core.family or 'unknown'}, the rack of "
            return ScanReply("stop", "OTHER FAMILY", f"{line}{rack.family}.", self._held())
        other = rack_with(core.tag, but=rack.code)
        if other is not None:
            line = f"{called(core)} is in rack {other.code}; take it out there first."
            return ScanReply("stop", "OTHER RACK", line)
        word, line = why_not(sitting_in(self.run.writer, core.tag), rack.check, self.run.writer.by)
        return ScanReply("stop", word, line, self._held()) if word else None

    def _at_card(self, scan: Named) -> ScanReply:
        """Note that the cores stand in the rack whose card was scanned; it opens them again."""
        place = place_named(self.run.writer, scan, "rack")
        taken = [rack.code for rack, _ in racks_at_work() if rack.place == place.key]
        if taken and taken != [self.run.rack.code]:
            line = f"{place.name} holds rack {taken[0]}, which is not stored yet."
            return ScanReply("stop", "TAKEN", line)
        self.run.stand_in(place.key)
        line = f"Rack {self.run.rack.code} stands in {place.name}; its card opens it again."
        return ScanReply("note", place.name.upper(), line)

    def _held(self) -> str:
        return f"{counted(len(self.run.rack.tags), 'core')} in the rack"

    def _exception(self, tag: str) -> ScanReply:
        """Mark a core of a counted rack as unsure, so that forgetting to say more is safe."""
        rack = self.run.rack
        core = core_named(self.run.writer, tag)
        if tag not in rack.tags:
            line = f"{called(core)} is not one of the {len(rack.tags)} counted."
            refused = self._refused(core)
            if refused is not None:
                more = f"{refused.line} {_MARKING}"
                return ScanReply("stop", "NOT IN IT", line, more)
            add = offer(f"It belongs here: put {show_tag(tag)} in and count again", "add", tag)
            return ScanReply("stop", "NOT IN IT", line, _MARKING, offers=(add,))
        if rack.result_of(tag) == "none":
            self.run.mark(tag, "unsure")
        else:
            told = rack.exceptions[tag]
            self.run.mark(tag, told["result"], told["detail"])
        return self._marked(tag)

    def _marked(self, tag: str) -> ScanReply:
        core = core_named(self.run.writer, tag)
        result = self.run.rack.result_of(tag)
        told = str(self.run.rack.exceptions.get(tag, {}).get("detail", ""))
        offers = [
            offer("Indication", "told", "indication"),
            offer("No exception", "told", "none"),
        ]
        if result == "none":
            line = f"{called(core)} is no exception any more."
            return ScanReply("note", "NO EXCEPTION", line, self._summary())
        if result == "indication":
            line = f"{called(core)}: indication{f', {told}' if told else ''}."
            more = "Type its kind, length and place: indication linear 4 mm at the seat."
            return ScanReply("stop", "INDICATION", line, "" if told else more)
        line = f"{called(core)} is marked unsure: say indication, or leave it so."
        return ScanReply("ask", "UNSURE", line, self._summary(), offers=tuple(offers))

    def _result(self, result: str, detail: str = "") -> ScanReply:
        rack = self.run.rack
        if not rack.confirmed:
            return ScanReply("stop", "COUNT FIRST", f"{self._held()}, not counted yet. {_LOADING}")
        if not rack.chosen or rack.chosen not in rack.tags:
            return ScanReply("stop", "WHICH CORE?", f"Scan the core first. {_MARKING}")
        self.run.mark(rack.chosen, result, detail)
        return self._marked(rack.chosen)

    def _order(self, order: str) -> ScanReply:
        if order in CRACK_WORDS or order in ("indication", "unsure"):
            return self._result(CRACK_WORDS.get(order, order))
        if order in _GO_ON:
            return self._agreed(ask=True)
        if order in ("undo", "again"):
            return self._undo()
        if order in ("cancel", "back"):
            self.run.ask_count(counting=False)
            return ScanReply("note", "GO ON", f"{self._held()}. {self._wanted()}")
        return order_not_here(Named("order", order=order), self._wanted())

    def _undo(self) -> ScanReply:
        rack = self.run.rack
        if rack.confirmed and rack.chosen in rack.exceptions:
            tag = rack.chosen
            self.run.mark(tag, "none")
            if self.run.rack.result_of(tag) == "unsure":
                line = f"The indication of core {show_tag(tag)} is taken back: it stays unsure, "
                return ScanReply("ask", "UNSURE", f"{line}somebody else has to look.")
            return self._marked(tag)
        tag = self.run.last_of(self.run.writer.by)
        if not tag:
            return ScanReply("stop", "NOTHING", "You put nothing in that could be taken out.")
        return self._out(tag)

    def _out(self, tag: str) -> ScanReply:
        self.run.take_out(tag)
        line = f"Core {show_tag(tag)} is out of the rack. {self._held()}, not counted yet."
        return ScanReply("note", "TAKEN OUT", line)

    def _chosen(self, scan: Named) -> ScanReply:
        match scan.verb:
            case "out":
                return self._out(scan.argument)
            case "add":
                self.run.ask_count(counting=False)
                return self.put(scan.argument)
            case "told":
                return self._result(scan.argument)
        return ScanReply("stop", "NOT OFFERED", "This choice is no longer open; scan again.")

    def _agreed(self, *, ask: bool = False) -> ScanReply:
        """Answer Enter or `done`: it asks for the count, then whether to store, then stores."""
        rack = self.run.rack
        if not rack.tags:
            return ScanReply("stop", "EMPTY", f"Nothing is in the rack yet. {_AT_HOME}")
        if not rack.confirmed:
            if not ask and not rack.counting:
                return ScanReply("note", "GO ON", f"{self._held()}. {_LOADING}")
            self.run.ask_count()
            line = "Count the cores in the rack by hand and type how many."
            return ScanReply("ask", "COUNT", line, "Count the pieces, not the lines on the screen.")
        if self.run.store_asked:
            numbers = self.run.store(self.spot.seen)
            return _stored(rack.code, numbers)
        self.run.ask_store()
        line = f"{self._summary()} Enter stores it."
        return ScanReply("ask", "STORE?", line, "Is another one an exception? Scan it first.")

    def _summary(self) -> str:
        rack = self.run.rack
        none, indications, unsure = rack.numbers()
        return (
            f"{counted(rack.counted, 'core')} counted: {none} with no indication, "
            f"{indications} with an indication, {unsure} unsure."
        )

    def _count(self, number: int) -> ScanReply:
        if self.run.rack.confirmed:
            return ScanReply("note", "COUNTED", f"{self._summary()} {_MARKING}")
        try:
            self.run.count(number)
        except InvalidInput as error:
            return ScanReply("stop", "COUNT AGAIN", error.message, _LOADING)
        line = f"{counted(number, 'core')} counted. Scan the exceptions now."
        return ScanReply("good", f"{number} COUNTED", line, _MARKING)


def _stored(code: str, numbers: tuple[int, int, int]) -> ScanReply:
    none, indications, unsure = numbers
    line = (
        f"Rack {code}: {counted(none, 'core')} with no indication, {indications} with an "
        f"indication, {unsure} unsure."
    )
    detail = (
        "The crack check is kept with each body. Its other checks and its verdict are done at the "
        "bench."
    )
    return ScanReply("good", "STORED", line, detail, target="rack")


def begin_rack(family: str, check: str, *, by: str, station: str, now: datetime, key: str) -> str:
    """Begin a rack of one crack check of a family and return its code."""

    def act(writer: Writer) -> dict[str, Any]:
        return {"code": RackRun.begin(writer, family, check).rack.code}

    return str(act_once("begin rack", key, act, by=by, station=station, now=now)["code"])


def count_rack(code: str, count: str, *, by: str, station: str, now: datetime, key: str) -> None:
    """Confirm the count of a rack; InvalidInput when it is not the number of cores scanned."""
    told = typed_count(count)

    def act(writer: Writer) -> dict[str, Any]:
        run = RackRun(writer, code)
        if run.rack.confirmed and told == run.rack.counted:
            return {}
        run.count(told)
        return {}

    act_once("count rack", key, act, by=by, station=station, now=now)


def take_out(code: str, tag: str, *, by: str, station: str, now: datetime, key: str) -> None:
    """Take one core out of a rack; the rest has to be counted anew."""

    def act(writer: Writer) -> dict[str, Any]:
        RackRun(writer, code).take_out(tag)
        return {}

    act_once("out of rack", key, act, by=by, station=station, now=now)


def give_up(code: str, *, by: str, station: str, now: datetime, key: str) -> None:
    """End a rack of which nothing counts."""

    def act(writer: Writer) -> dict[str, Any]:
        RackRun(writer, code).give_up()
        return {}

    act_once("give up rack", key, act, by=by, station=station, now=now)


__all__ = [
    "begin_rack",
    "count_rack",
    "crack_checks",
    "give_up",
    "rack_of",
    "take_out",
    "take_scan",
]
