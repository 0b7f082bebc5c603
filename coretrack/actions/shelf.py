"""The shelf of good bodies: put into bins by scan, picked for a build by scan, put back.

The pages' spots: "" is the whole shelf, "bin:CODE" one bin that cores are put into, "pick:WHAT"
the build that bodies are picked for.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import datetime
from typing import Any

from coretrack.actions import drafts, look_records
from coretrack.actions.acting import act_once
from coretrack.actions.bench_hand import hand_of, state_at_bench
from coretrack.actions.floor_scans import (
    Named,
    called,
    core_named,
    is_now,
    named,
    order_not_here,
    place_named,
    unclear,
)
from coretrack.actions.hands import place_words
from coretrack.actions.offers import offer
from coretrack.actions.shelf_ages import good_since, shop_today
from coretrack.errors import InvalidInput, NotAllowed, NotFound
from coretrack.figures.lifecycle import CoreFacts
from coretrack.figures.plain_words import counted
from coretrack.figures.scan_replies import ScanReply, Spot
from coretrack.figures.tags import show_tag
from coretrack.figures.trade_objects import Place
from coretrack.records import shelf_queries
from coretrack.records.writer import Writer

BIN, PICK = "bin:", "pick:"
LONGEST_BUILD = 60
_AT_HOME = "Scan a bin to put bodies into it, or a body to see where it lies."
_AT_BIN = "Scan the bodies that go into this bin, or another bin."
_AT_PICK = "Scan the bodies that are picked, oldest first."


def take_scan(writer: Writer, code: str, text: str, spot: Spot, now: datetime) -> ScanReply:
    """Act on a scan at the shelf's pages, inside the caller's transaction."""
    del spot
    scan = named(text)
    if code.startswith(PICK):
        return _Picking(writer, build_named(code.removeprefix(PICK)), now).take(scan)
    if scan.kind == "place":
        return _bin(writer, code, scan)
    if code.startswith(BIN):
        return _Filling(writer, code.removeprefix(BIN)).take(scan)
    return _at_home(writer, scan)


def _bin(writer: Writer, code: str, scan: Named) -> ScanReply:
    place = place_named(writer, scan, "bin")
    held = counted(len(shelf_queries.good_bodies(place=place.key)), "good body")
    if code == BIN + place.key:
        return ScanReply("note", place.name.upper(), f"This is {place.name}; {held} in it.")
    line = f"{place.name}: {held} in it. {_AT_BIN}"
    return ScanReply("note", place.name.upper(), line, target="shelf", code=BIN + place.key)


def _at_home(writer: Writer, scan: Named) -> ScanReply:
    if scan.kind == "core":
        core = core_named(writer, scan.tag)
        if core.state == "built":
            return _picked_already(core)
        if core.state != "good":
            return _not_good(core)
        where = place_words(writer, core.place) or "no bin"
        line = f"{called(core)} lies in {where}."
        return ScanReply("note", where.upper(), line, target="core", code=core.tag)
    if scan.kind == "offer" and scan.verb == "putback":
        return _put_back_reply(writer, scan.argument)
    if scan.kind == "nothing":
        return ScanReply("note", "READY", _AT_HOME)
    if scan.kind == "order":
        return order_not_here(scan, _AT_HOME)
    return unclear(scan, _AT_HOME)


def _not_good(core: CoreFacts) -> ScanReply:
    """Say what a body is instead of good, and open its page, which leads to where it goes on."""
    state = state_at_bench(core, hand_of(core.tag)).words
    only = "Only good bodies lie on the shelf."
    line = f"{called(core)}: {state}."
    return ScanReply("stop", "NOT GOOD", line, only, target="core", code=core.tag)


def _picked_already(core: CoreFacts) -> ScanReply:
    back = offer(f"Put {show_tag(core.tag)} back on the shelf", "putback", core.tag)
    line = f"{called(core)} was picked for {core.built_into}."
    return ScanReply("ask", "PICKED", line, offers=(back,))


def _put_back_reply(writer: Writer, tag: str) -> ScanReply:
    core = put_back(writer, tag)
    line = (
        f"{called(core)} is on the shelf again, in {place_words(writer, core.place) or 'no bin'}."
    )
    return ScanReply("good", "PUT BACK", line, "Scan its bin, then the body, if it lies elsewhere.")


@dataclass
class _Hand:
    """What a person did last at a spot: tag and the bin it lay in before, newest last."""

    steps: list[list[str]] = field(default_factory=list)


class _AtSpot:
    """One person at a bin or a build, inside a transaction."""

    spot = ""

    def __init__(self, writer: Writer) -> None:
        self.writer = writer

    def _hand(self) -> _Hand:
        body = drafts.read_draft(f"shelf/{self.spot}/{self.writer.by}")
        return _Hand(**body) if body else _Hand()

    def _done(self, tag: str, place: str) -> None:
        steps = [*self._hand().steps, [tag, place]][-50:]
        drafts.keep_draft(self.writer, f"shelf/{self.spot}/{self.writer.by}", {"steps": steps})

    def _last(self) -> tuple[str, str]:
        """Take the last step off and return it; NotAllowed when there is none."""
        steps = self._hand().steps
        if not steps:
            raise NotAllowed("There is nothing of yours to take back here.")
        tag, place = steps.pop()
        drafts.keep_draft(self.writer, f"shelf/{self.spot}/{self.writer.by}", {"steps": steps})
        return tag, place


class _Filling(_AtSpot):
    """Bodies are put into one bin."""

    def __init__(self, writer: Writer, place: str) -> None:
        super().__init__(writer)
        found: Place | None = writer.find("place", place)
        if found is None or found.kind != "bin":
            raise NotFound("There is no such bin; scan its card.")
        self.place = found
        self.spot = BIN + found.key

    def take(self, scan: Named) -> ScanReply:
        match scan.kind:
            case "core":
                return self._core(scan.tag)
            case "offer" if scan.verb == "putback":
                put_back(self.writer, scan.argument)
                return self._core(scan.argument)
            case "order" if scan.order == "undo":
                return self._undo()
            case "order" if scan.order in ("done", "back", "cancel"):
                line = f"{self.place.name} stays as it is."
                return ScanReply("note", "SHELF", line, target="shelf")
            case "order":
                return order_not_here(scan, _AT_BIN)
            case "nothing":
                return ScanReply("note", "READY", f"{self.place.name}. {_AT_BIN}")
        return unclear(scan, _AT_BIN)

    def _core(self, tag: str) -> ScanReply:
        core = core_named(self.writer, tag)
        name = self.place.name
        if core.state == "built":
            return _picked_already(core)
        if core.state != "good":
            line = f"{is_now(core)} It does not go onto the shelf."
            return ScanReply("stop", "NOT GOOD", line)
        if core.place == self.place.key:
            return ScanReply("note", name.upper(), f"{called(core)} lies in {name} already.")
        was = place_words(self.writer, core.place)
        self.writer.event("core", tag, "put", {"place": self.place.key})
        self._done(tag, core.place)
        moved = f", out of {was}" if was else ""
        return ScanReply(
            "good", name.upper(), f"{called(core)} into {name}{moved}.", undo=show_tag(tag)
        )

    def _undo(self) -> ScanReply:
        tag, place = self._last()
        core = core_named(self.writer, tag)
        if core.place != self.place.key:
            raise NotAllowed(f"{called(core)} was moved meanwhile; nothing is taken back.")
        self.writer.event("core", tag, "put", {"place": place})
        where = place_words(self.writer, place) or "no bin"
        return ScanReply("note", "TAKEN BACK", f"{called(core)} lies in {where} again.")


class _Picking(_AtSpot):
    """Bodies are picked for one build."""

    def __init__(self, writer: Writer, into: str, now: datetime) -> None:
        super().__init__(writer)
        self.into, self.now = into, now
        self.spot = PICK + into

    def take(self, scan: Named) -> ScanReply:
        match scan.kind:
            case "core":
                return self._core(scan.tag)
            case "offer" if scan.verb == "pick":
                return self._pick(core_named(self.writer, scan.argument), "a younger one")
            case "offer" if scan.verb == "putback":
                return _put_back_reply(self.writer, scan.argument)
            case "order" if scan.order == "undo":
                tag, _ = self._last()
                return _put_back_reply(self.writer, tag)
            case "order" if scan.order in ("done", "back", "cancel"):
                count = len(shelf_queries.built_bodies(self.into))
                line = f"{counted(count, 'body')} picked for {self.into}."
                return ScanReply("note", "DONE", line, target="shelf")
            case "order":
                return order_not_here(scan, _AT_PICK)
            case "nothing":
                return ScanReply("note", "READY", f"For {self.into}. {_AT_PICK}")
        return unclear(scan, _AT_PICK)

    def _core(self, tag: str) -> ScanReply:
        core = core_named(self.writer, tag)
        if core.state == "built":
            return _picked_already(core)
        if core.state != "good":
            return ScanReply("stop", "NOT GOOD", is_now(core), "Only good bodies are picked.")
        older = self._older(core)
        if not older:
            return self._pick(core)
        first, days = older[0]
        where = place_words(self.writer, first.place) or "no bin"
        line = (
            f"Core {show_tag(first.tag)} in {where} is older: good for {counted(days, 'day')},"
            f" this one for {counted(self._days(core), 'day')}."
        )
        take = offer(f"Take {show_tag(tag)} all the same", "pick", tag)
        more = f"{counted(len(older), 'body')} of this core group are older. Oldest first."
        return ScanReply("ask", "OLDER FIRST", line, more, offers=(take,))

    def _older(self, core: CoreFacts) -> list[tuple[CoreFacts, int]]:
        """Return the bodies of the same core group that became good on an earlier day."""
        same = shelf_queries.bodies_of_group(core.family, core.core_group)
        since = good_since([each.tag for each in same])
        mine = since[core.tag]
        today = shop_today(self.now)
        older = [each for each in same if since[each.tag] < mine]
        older.sort(key=lambda each: (since[each.tag], each.tag))
        return [(each, (today - since[each.tag]).days) for each in older]

    def _days(self, core: CoreFacts) -> int:
        return (shop_today(self.now) - good_since([core.tag])[core.tag]).days

    def _pick(self, core: CoreFacts, why: str = "") -> ScanReply:
        was = place_words(self.writer, core.place) or "no bin"
        pick(self.writer, core.tag, self.into, why)
        self._done(core.tag, core.place)
        line = f"{called(core)} out of {was}, for {self.into}."
        worn = core.metal_tag
        more = f"Take metal tag {worn} off it and free it at the wash." if worn else ""
        return ScanReply("good", "PICKED", line, more, undo=f"core {show_tag(core.tag)} picked")


def pick(writer: Writer, tag: str, into: str, why: str = "") -> CoreFacts:
    """Take a good body off the shelf into a build; the bin it lay in is told for a way back."""
    core = core_named(writer, tag)
    detail = {"into": into, "from": core.place}
    picked: CoreFacts = writer.event("core", tag, "picked", detail, why=why)
    look_records.drop(writer, tag, f"picked for {into} before anybody looked")
    return picked


def put_back(writer: Writer, tag: str) -> CoreFacts:
    """Put a picked body back on the shelf, into the bin it was taken from."""
    told = shelf_queries.last_pick(tag)
    core: CoreFacts = writer.event("core", tag, "put back", {})
    if told and writer.find("place", told) is not None:
        core = writer.event("core", tag, "put", {"place": told})
    return core


def put_back_by_hand(tag: str, *, by: str, station: str, now: datetime, key: str) -> str:
    """Put a picked body back by a button; return what was done."""

    def act(writer: Writer) -> dict[str, Any]:
        core = put_back(writer, tag)
        where = place_words(writer, core.place) or "no bin"
        return {"said": f"Core {show_tag(core.tag)} is on the shelf again, in {where}."}

    return str(act_once("put back", key, act, by=by, station=station, now=now)["said"])


def build_named(text: str) -> str:
    """Return what bodies are picked for, trimmed; InvalidInput when it says nothing."""
    bare = " ".join(text.split())
    if not bare or not bare.isprintable() or len(bare) > LONGEST_BUILD:
        raise InvalidInput(
            f"Say what the bodies are picked for, such as the build's number: 1 to {LONGEST_BUILD}"
            " signs.",
            {"into": f"1 to {LONGEST_BUILD} signs"},
        )
    return bare
