"""Scans and typed texts at the bench: a reading for the check at hand, an order, another core.

Everything comes through the one scan box, in its order. A text that is one of the shop's own codes
is never a reading; a reading never opens anything. Where a person typed before seeing what another
one did, or what was asked back, the text is put aside and asked about instead of guessed.
"""

from __future__ import annotations

import json
from dataclasses import replace
from datetime import datetime

from coretrack.actions import racks, shelf, washes
from coretrack.actions.bench_gauges import gauge_named, take_gauge
from coretrack.actions.bench_hand import hand_of
from coretrack.actions.bench_replies import next_words, stored_reply
from coretrack.actions.bench_sitting import sitting_of
from coretrack.actions.bench_store import store_in
from coretrack.actions.bench_typing import BenchTyping
from coretrack.actions.desks import desk_of
from coretrack.actions.floor_scans import ORDER_WORDS
from coretrack.actions.offers import MARK, offer, taken_apart
from coretrack.actions.scanning import ShopBook
from coretrack.errors import NotAllowed
from coretrack.figures.columns import fold_heading
from coretrack.figures.history import canonical
from coretrack.figures.part_numbers import trim
from coretrack.figures.plain_words import counted
from coretrack.figures.plans import Check
from coretrack.figures.scan_replies import ScanReply, Spot
from coretrack.figures.scan_text import printable
from coretrack.figures.scans import Meaning, read_scan, resolve
from coretrack.figures.tags import parse_shop_code, show_tag
from coretrack.records.writer import Writer

RESULT_ORDERS = {"no indication": "none", "indication": "indication", "unsure": "unsure"}
OPENING = ("bench", "second")
"""What an offer does that opens another body."""

GO_TO = "#"
"""A text that begins so names the check to go to."""

_CARDS = {
    "basket": ("wash", washes.take_scan),
    "rack": ("rack", racks.take_scan),
    "bin": ("shelf", shelf.take_scan),
}
"""Page and rule of the places whose cards are scanned at the bench's first page."""


def take_scan(writer: Writer, code: str, text: str, spot: Spot, now: datetime) -> ScanReply:
    """Answer one scan at the bench, inside the caller's transaction; `code` is the core's tag."""
    if not code:
        return _at_home(writer, text, spot, now)
    return BenchScans(writer, sitting_of(writer, code), spot, now).take(text)


def _at_home(writer: Writer, text: str, spot: Spot, now: datetime) -> ScanReply:
    """Open the core that was scanned; without one at hand nothing else means anything."""
    plain = taken_apart(text)[1] if text.startswith(MARK) else text
    meaning = resolve(read_scan(plain), ShopBook())
    if meaning.tag and meaning.kind in ("core", "serial"):
        if meaning.confirm:
            choice = (offer(f"Open core {show_tag(meaning.tag)}", "text", meaning.tag),)
            return ScanReply("ask", "THIS ONE?", meaning.sentence, offers=choice)
        return opened(writer, meaning.tag)
    code = meaning.scan.code or parse_shop_code(plain) if meaning.kind == "shop code" else None
    if code is not None and code.kind in _CARDS:
        # The card opens its basket, rack or bin as it does at their own pages.
        page, take = _CARDS[code.kind]
        reply = take(writer, "", plain, spot, now)
        return replace(reply, target=reply.target or page)
    if gauge := gauge_named(plain):
        return ScanReply("note", "GAUGE", take_gauge(writer, gauge))
    if not trim(plain):
        return ScanReply("note", "READY", "Scan the tag of the next body.")
    return ScanReply("stop", "WHICH CORE?", f"{meaning.sentence} Scan the tag of a body first.")


def opened(writer: Writer, tag: str) -> ScanReply:
    """Return the reply that opens a core at the bench, and says who is at it already."""
    hand = hand_of(tag)
    others = [name for name in hand.people() if name != writer.by]
    if others:
        taken = counted(len(hand.entries), "entry")
        line = f"{', '.join(others)} began core {show_tag(tag)}: {taken}. All of it is kept."
        return ScanReply("ask", "BEGUN", line, target="bench", code=tag)
    if hand.entries:
        line = f"Core {show_tag(tag)}: go on where you left it."
        return ScanReply("note", "GO ON", line, target="bench", code=tag)
    return ScanReply("note", "OPEN", f"Opening core {show_tag(tag)}.", target="bench", code=tag)


class BenchScans(BenchTyping):
    """Answers one scan of the writer's person at a core."""

    def take(self, text: str) -> ScanReply:
        """Return what the scan did, or why nothing was done."""
        if text.startswith(MARK):
            return self._chosen(*taken_apart(text))
        plain = trim(text)
        if not plain:
            return self._agreed()
        scan = read_scan(text)
        if scan.kind in ("tag", "shop code"):
            return self._own_code(resolve(scan, ShopBook()))
        if plain.casefold() in ORDER_WORDS:
            return self._order(ORDER_WORDS[plain.casefold()])
        if plain.startswith(GO_TO):
            return self._go_to(plain.removeprefix(GO_TO))
        return self._measured(text, plain)

    def _measured(self, text: str, plain: str) -> ScanReply:
        """Take a reading or a word, unless another body's tag was scanned just before it.

        Whoever scanned a tag and measures has that body in hand, whatever the page still shows.
        """
        desk = desk_of(self.writer.by, self.writer.station)
        for verb, other in map(taken_apart, desk.offered):
            if verb in OPENING and other != self.sitting.core.tag:
                here = show_tag(self.sitting.core.tag)
                shown = printable(plain)
                return ScanReply(
                    "ask",
                    "WHICH BODY?",
                    f"{shown} came after the tag of {show_tag(other)} and was not taken.",
                    offers=(
                        offer(f"{shown} is of {here}", "here", text),
                        offer(f"Open {show_tag(other)}; measure it there", verb, other),
                    ),
                )
        return self._typed(text, plain)

    def _own_code(self, meaning: Meaning) -> ScanReply:
        code = meaning.scan.code
        if code is not None and code.order:
            return self._order(code.order)
        if code is not None and meaning.kind != "core":
            return ScanReply("note", "NOT HERE", f"A {code.kind}'s code does nothing at a check.")
        tag = meaning.tag or meaning.scan.tag or ""
        if meaning.kind != "core" or meaning.confirm:
            return ScanReply(
                "stop", "NO SUCH CORE", f"{meaning.sentence} Nothing was taken as read."
            )
        if tag == self.sitting.core.tag:
            return ScanReply("note", "THIS ONE", f"This core is open. {next_words(self.sitting)}")
        return self._another_core(tag)

    def _another_core(self, tag: str) -> ScanReply:
        if not self.hand.begun:
            return opened(self.writer, tag)
        here = show_tag(self.sitting.core.tag)
        offers = []
        if self.sitting.decided:
            word = self.sitting.verdict.grade.upper()
            told = canonical([self.spot.seen, tag])
            offers.append(offer(f"Store {word}, then open {show_tag(tag)}", "store", told))
        offers.append(offer(f"Open {show_tag(tag)}; all of {here} is kept", "bench", tag))
        offers.append(offer(f"Stay with {here}", "measure"))
        line = f"{show_tag(tag)} is another core; nothing was taken as a reading."
        return ScanReply("ask", "OTHER CORE", line, offers=tuple(offers))

    def _order(self, order: str) -> ScanReply:
        if order in RESULT_ORDERS:
            return self._measured(RESULT_ORDERS[order], RESULT_ORDERS[order])
        match order:
            case "done" | "accept":
                return self._done()
            case "again" | "undo":
                return self._again()
            case "next":
                return self._step(1)
            case "back":
                return self._step(-1)
            case "cancel":
                return self._drop_asked()
        return ScanReply("note", "NOT HERE", f"The order '{order}' has no use at the bench.")

    def _agreed(self) -> ScanReply:
        """Answer Enter: it stores what is proposed and seen, and never fills a check."""
        if self.hand.asked is not None:
            asked = self.hand.asked
            return self._question(self.sitting.plan.check(asked.entry.check), asked)
        if self.sitting.decided:
            return self._store()
        return ScanReply("note", "NEXT", next_words(self.sitting))

    def _done(self) -> ScanReply:
        if self.hand.asked is not None or self.sitting.decided or not self.hand.entries:
            return self._agreed()
        missing = ", ".join(check.name for check in self.sitting.waiting)
        return ScanReply(
            "ask",
            "NOT DONE",
            f"Not measured yet: {missing}.",
            "A check that was not measured never counts as passed.",
            offers=(
                offer("Go on measuring", "measure"),
                offer("Break off: store what there is, the core stays open", "open"),
            ),
        )

    def _store(self, *, unfinished: bool = False, then: str = "", seen: str = "") -> ScanReply:
        stored = store_in(
            self.writer,
            self.sitting.core.tag,
            seen or self.spot.seen,
            self.now,
            unfinished=unfinished,
        )
        reply = stored_reply(stored)
        if not then:
            return reply
        after = opened(self.writer, then)
        line = f"{show_tag(self.sitting.core.tag)}: {reply.line}"
        return replace(reply, line=line, target=after.target, code=after.code)

    def _again(self) -> ScanReply:
        """Take back what this person typed last; the check waits for it again."""
        if self.hand.asked is not None:
            return self._drop_asked()
        mine = [e for e in self.hand.entries if e.by == self.writer.by]
        if not self.sitting.can_be_inspected and self.sitting.core.grade:
            raise NotAllowed(
                f"The verdict on {show_tag(self.sitting.core.tag)} is stored, so nothing of it is "
                "taken back here. If it is a slip, ask the owner to open it again for inspection."
            )
        if not mine:
            raise NotAllowed(self._nothing_of_mine())
        last = mine[-1]
        kept = list(self.hand.entries)
        del kept[len(kept) - 1 - kept[::-1].index(last)]
        hand = replace(
            self.hand,
            entries=tuple(kept),
            withdrawn=(*self.hand.withdrawn, last),
            at_check=last.check,
        )
        self._keep(hand, "took back", last.typed)
        name = self.sitting.plan.check(last.check).name
        detail = next_words(self.sitting)
        if last.result == "indication":
            detail = f"A crack indication was taken back: somebody else has to look too. {detail}"
        return ScanReply("note", "AGAIN", f"{name}: {last.typed} is taken back.", detail)

    def _nothing_of_mine(self) -> str:
        others = [entry for entry in self.hand.entries if entry.by != self.writer.by]
        if not others:
            return "Nothing is typed here that could be taken back."
        name = self.sitting.plan.check(others[-1].check).name
        return (
            f"What is typed here is not yours: {name} {others[-1].typed} is {others[-1].by}'s. "
            "Choose a check to measure it anew."
        )

    def _step(self, by: int) -> ScanReply:
        """Go to the next check that lacks something, or one check back."""
        checks = self.sitting.plan.in_order()
        current = self.sitting.current
        place = checks.index(current) if current else (len(checks) if by < 0 else -1)
        turn = [checks[(place + by * far) % len(checks)] for far in range(1, len(checks) + 1)]
        if by > 0:
            turn = [check for check in turn if check in self.sitting.waiting]
        return self._at_check(turn[0]) if turn else ScanReply("note", "ALL DONE", self._proposed())

    def _proposed(self) -> str:
        return f"{self.sitting.verdict.sentence}. Enter stores it."

    def _go_to(self, named: str) -> ScanReply:
        wanted = fold_heading(named)
        for check in self.sitting.plan.in_order():
            if wanted in (fold_heading(check.code), fold_heading(check.name)):
                return self._at_check(check)
        raise NotAllowed(f"The plan has no check '{printable(named)}'.")

    def _at_check(self, check: Check) -> ScanReply:
        self._refuse_unless_inspectable("")
        self._keep(replace(self.hand, at_check=check.code, asked=None), "went to", check.name)
        return ScanReply("note", "CHECK", next_words(self.sitting))

    def _drop_asked(self) -> ScanReply:
        if self.hand.asked is not None:
            asked = self.hand.asked.entry
            hand = replace(self.hand, asked=None, withdrawn=(*self.hand.withdrawn, asked))
            self._keep(hand, "took back", asked.typed)
        return ScanReply("note", "MEASURE", next_words(self.sitting))

    def _chosen(self, verb: str, argument: str) -> ScanReply:
        match verb:
            case "bench":
                return opened(self.writer, argument)
            case "text":
                return self.take(argument)
            case "here":
                return self._typed(argument, trim(argument))
            case "measure":
                return self._drop_asked()
            case "open":
                return self._store(unfinished=True)
            case "store":
                seen, tag = json.loads(argument)
                return self._store(then=tag, seen=seen)
            case "meant":
                return self._meant(*json.loads(argument))
            case "gauge":
                code, gauge, text = json.loads(argument)
                return self._with_gauge(self.sitting.plan.check(code), gauge, text)
        code, text = json.loads(argument)
        return self._chosen_text(verb, self.sitting.plan.check(code), text)
