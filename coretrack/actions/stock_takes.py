"""The shelf counted by scan: a bin, then what lies in it; found, missing, wrong bin, not expected.

Counting changes no core. Closing it may put the books right for bodies found in another bin; what
is missing is only said, under the name of who closed it.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import datetime
from typing import Any

from coretrack.actions import drafts
from coretrack.actions.acting import act_once
from coretrack.actions.desk_day import expect_seen
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
from coretrack.actions.typed_fields import typed_reason
from coretrack.errors import InvalidInput, NotAllowed, NotFound
from coretrack.figures.bench_objects import StockTake
from coretrack.figures.lifecycle import CoreFacts
from coretrack.figures.plain_words import counted
from coretrack.figures.scan_replies import ScanReply, Spot
from coretrack.figures.stock_counts import (
    ELSEWHERE,
    MISSING,
    WRONG_BIN,
    Compared,
    Expected,
    as_it_stands,
    compare,
    tally,
)
from coretrack.figures.tags import show_tag
from coretrack.records import queries, shelf_queries
from coretrack.records.writer import Writer

LOOSE = "loose"
"""Where a body in no bin is counted; no bin's code reads so."""

_WANTED = "Scan a bin, then every body in it."


@dataclass
class Hand:
    """What one person counts: the bin in front, and what was scanned, newest last."""

    place: str = ""
    steps: list[list[str]] = field(default_factory=list)


def hand_of(code: str, person: str) -> Hand:
    """Return what a person has in hand of a stock-take. Call with a connection."""
    body = drafts.read_draft(_hand_key(code, person))
    return Hand(**body) if body else Hand()


def in_front(take: StockTake, hand: Hand) -> str:
    """Return the bin that a person counts: the one scanned, else the only one that is asked for."""
    return hand.place or str(take.scope.get("bin", ""))


def _hand_key(code: str, person: str) -> str:
    return f"take/{code}/{person}"


def expected_of(take: StockTake) -> tuple[Expected, ...]:
    """Return what a stock-take expects, as it keeps it."""
    return tuple(Expected.from_text(text) for text in take.expected)


def found_of(take: StockTake) -> dict[str, str]:
    """Return where each core was scanned; "" is no bin."""
    return {tag: "" if place == LOOSE else place for tag, place in take.found.items()}


def compared(take: StockTake) -> tuple[Compared, ...]:
    """Return what the count says: as it stands now, or as it stood when it was closed."""
    return compare(settled(take), found_of(take))


def settled(take: StockTake) -> tuple[Expected, ...]:
    """Return the expectation with the books' moves since the count began, until it is closed."""
    expected = expected_of(take)
    if take.status != "open":
        return expected
    cores = queries.cores_tagged(each.tag for each in expected)
    here = {tag: core.place for tag, core in cores.items() if core.state == "good"}
    return as_it_stands(expected, found_of(take), here, cores.keys() - here.keys())


def begin_take(family: str, place: str, *, by: str, station: str, now: datetime, key: str) -> str:
    """Begin counting all good bodies, a family's or a bin's; return the stock-take's code."""

    def act(writer: Writer) -> dict[str, Any]:
        if family and writer.find("family", family) is None:
            raise InvalidInput(f"There is no family '{family}'.", {"family": "choose one"})
        if place and writer.find("place", place) is None:
            raise InvalidInput("There is no such bin.", {"place": "choose one of the list"})
        bodies = shelf_queries.good_bodies(family, place or None)
        code = f"ST-{writer.next_number('stock takes'):04d}"
        told = {
            "key": code,
            "scope": {"family": family, "bin": place},
            "status": "open",
            "expected": [Expected(core.tag, core.place).to_text() for core in bodies],
        }
        writer.event("stock take", code, "set", told)
        return {"code": code}

    return str(act_once("begin take", key, act, by=by, station=station, now=now)["code"])


def close_take(
    code: str,
    note: str,
    seen: int,
    move: bool,
    *,
    by: str,
    station: str,
    now: datetime,
    key: str,
) -> dict[str, int]:
    """Close a count under the name of who does it; return how many cores each result has.

    With `move` the bodies found in a wrong bin are put there in the books. InvalidInput asks for a
    note when anything is missing; Changed when somebody counted on since the page was shown.
    """
    why = typed_reason(note)

    def act(writer: Writer) -> dict[str, Any]:
        take = open_take(writer, code)
        expect_seen(writer, "stock take", code, seen)
        final = settled(take)
        rows = compare(final, found_of(take))
        counts = tally(rows)
        if counts[MISSING] and not why:
            raise InvalidInput(
                f"{counted(counts[MISSING], 'body')} missing: say what was done about it.",
                {"note": "what was done about what is missing"},
            )
        if move:
            for row in rows:
                if row.result == WRONG_BIN and writer.get("core", row.tag).state == "good":
                    writer.event("core", row.tag, "put", {"place": row.found}, why=code)
        closed = {
            "status": "closed",
            "note": why,
            "expected": [each.to_text() for each in final],
        }
        writer.event("stock take", code, "set", closed, why=why)
        return counts

    return act_once("close take", key, act, by=by, station=station, now=now)


def open_take(writer: Writer, code: str) -> StockTake:
    """Return an open stock-take; NotFound and NotAllowed say why it cannot be counted."""
    take: StockTake | None = writer.find("stock take", code)
    if take is None:
        raise NotFound(f"There is no stock-take '{code}'.")
    if take.status != "open":
        raise NotAllowed(f"Stock-take {code} is closed; begin another one.")
    return take


def take_scan(writer: Writer, code: str, text: str, spot: Spot, now: datetime) -> ScanReply:
    """Act on a scan at a stock-take's page, inside the caller's transaction."""
    del spot, now
    return _Counting(writer, code).take(named(text))


class _Counting:
    """One person at a stock-take, inside a transaction."""

    def __init__(self, writer: Writer, code: str) -> None:
        self.writer, self.code = writer, code
        self.hand = hand_of(code, writer.by)
        self.here = in_front(open_take(writer, code), self.hand)

    @property
    def count(self) -> StockTake:
        """The stock-take as this transaction sees it."""
        found: StockTake = self.writer.get("stock take", self.code)
        return found

    def take(self, scan: Named) -> ScanReply:
        """Act on one scan."""
        match scan.kind:
            case "place":
                return self._bin(scan)
            case "core":
                return self._core(scan.tag)
            case "offer" if scan.verb == "loose":
                self.hand.place = self.here = LOOSE
                return self._core(scan.argument)
            case "order" if scan.order == "undo":
                return self._undo()
            case "order" if scan.order in ("done", "next"):
                self.hand.place = ""
                self._keep()
                if self.count.scope.get("bin"):
                    line = f"{self._so_far()}. Close the count below when nothing is left."
                    return ScanReply("note", "COUNTED", line)
                return ScanReply("note", "NEXT BIN", f"{self._so_far()}. {_WANTED}")
            case "order":
                return order_not_here(scan, _WANTED)
            case "nothing":
                return ScanReply("note", "READY", f"{self._so_far()}. {_WANTED}")
        return unclear(scan, _WANTED)

    def _so_far(self) -> str:
        return f"{counted(len(self.count.found), 'body')} counted"

    def _bin(self, scan: Named) -> ScanReply:
        place = place_named(self.writer, scan, "bin")
        self.hand.place = self.here = place.key
        self._keep()
        here = [tag for tag, where in self.count.found.items() if where == place.key]
        line = f"{place.name}: {counted(len(here), 'body')} counted in it so far."
        return ScanReply("note", place.name.upper(), line, "Scan every body in it.")

    def _core(self, tag: str) -> ScanReply:
        core = core_named(self.writer, tag)
        if not self.here:
            loose = offer("It lies in no bin", "loose", tag)
            line = f"{called(core)}: scan the bin it lies in first."
            return ScanReply("ask", "BIN FIRST", line, offers=(loose,))
        here = self.here
        before = self.count.found.get(tag, "")
        name = self._name(here)
        if before == here:
            return ScanReply("note", "COUNTED", f"{called(core)} is counted in {name} already.")
        reply = self._said(core, name)
        self._store(core, here, before)
        if before:
            line = f"{reply.line} It was counted in {self._name(before)} before; now only here."
            return ScanReply("ask", "TWICE", line, "One body lies in one place: look at its tag.")
        return reply

    def _said(self, core: CoreFacts, name: str) -> ScanReply:
        """Return what a scanned core is to this count."""
        here = "" if self.here == LOOSE else self.here
        undo = f"core {show_tag(core.tag)} counted"
        known = {each.tag: each for each in settled(self.count)}
        if core.state == "good" and core.place != here:
            where = place_words(self.writer, core.place) or "no bin"
            line = f"{called(core)} is in {where} by the books; counted in {name}."
            return ScanReply("ask", "WRONG BIN", line, undo=undo)
        if core.tag not in known:
            detail = "A good body, but not one that this count asks for."
            detail = detail if core.state == "good" else "Put it aside and settle it."
            return ScanReply("ask", "NOT EXPECTED", is_now(core), detail, undo=undo)
        if core.state != "good":
            return ScanReply(
                "ask", "NOT EXPECTED", is_now(core), "It was not so before.", undo=undo
            )
        line = f"{called(core)} in {name}."
        return ScanReply("good", "FOUND", line, undo=undo)

    def _store(self, core: CoreFacts, here: str, before: str) -> None:
        take = self.count
        detail: dict[str, Any] = {"found": {**take.found, core.tag: here}}
        known = {each.tag for each in expected_of(take)}
        if core.tag in known and core.state != "good":
            # It left the shelf by the books and lies there all the same: not expected any more.
            rest = [each for each in expected_of(take) if each.tag != core.tag]
            detail["expected"] = [each.to_text() for each in rest]
        elif core.tag not in known and core.state == "good" and (core.place or LOOSE) != here:
            stray = Expected(core.tag, core.place, ELSEWHERE).to_text()
            detail["expected"] = [*take.expected, stray]
        self.writer.event("stock take", self.code, "set", detail)
        self.hand.steps.append([core.tag, before])
        self._keep()

    def _undo(self) -> ScanReply:
        if not self.hand.steps:
            raise NotAllowed("There is nothing of yours to take back in this count.")
        tag, before = self.hand.steps.pop()
        take = self.count
        found = {each: place for each, place in take.found.items() if each != tag}
        if before:
            found[tag] = before
        kept = [
            each.to_text()
            for each in expected_of(take)
            if each.tag != tag or each.how != ELSEWHERE or before
        ]
        self.writer.event("stock take", self.code, "set", {"found": found, "expected": kept})
        self._keep()
        return ScanReply("note", "TAKEN BACK", f"Core {show_tag(tag)}; {self._so_far()}.")

    def _name(self, place: str) -> str:
        return "no bin" if place == LOOSE else place_words(self.writer, place)

    def _keep(self) -> None:
        body = {"place": self.hand.place, "steps": self.hand.steps[-50:]}
        drafts.keep_draft(self.writer, _hand_key(self.code, self.writer.by), body)
