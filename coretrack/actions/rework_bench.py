"""Rework by scan: an operation begun and finished, its minutes and its stock typed.

At a body's page Enter, or its tag once more, begins the operation and later finishes it as the page
proposes; a number with "min" is minutes, any other is the stock that came off (minutes, where an
operation takes none). What the body's allowance cannot bear is not stored.
"""

from __future__ import annotations

import re
from dataclasses import replace
from datetime import datetime
from typing import Any

from coretrack.actions.acting import Changed
from coretrack.actions.floor_scans import (
    Named,
    called,
    core_named,
    is_now,
    named,
    order_not_here,
    unclear,
)
from coretrack.actions.inspecting import Bench
from coretrack.actions.look_records import wanted_of
from coretrack.actions.offers import MARK, offer, taken_apart
from coretrack.actions.rework_hands import (
    ReworkHand,
    ReworkPiece,
    Told,
    drop_hand,
    finished,
    keep_hand,
    piece_of,
)
from coretrack.errors import InvalidInput, NotAllowed
from coretrack.figures.columns import fold_heading
from coretrack.figures.core_verdicts import operation_names
from coretrack.figures.lifecycle import CoreFacts
from coretrack.figures.part_numbers import trim
from coretrack.figures.plain_words import counted
from coretrack.figures.plans import Operation
from coretrack.figures.readings import Question, Refusal
from coretrack.figures.rework import checks_again, may_rework
from coretrack.figures.rework_finish import read_minutes, read_stock, stock_ledger
from coretrack.figures.scan_replies import Offer, ScanReply, Spot
from coretrack.figures.scan_text import printable
from coretrack.figures.tags import show_tag
from coretrack.records.writer import Writer

_AT_HOME = "Scan the tag of a body that waits for rework."
MEANWHILE = "Somebody changed this body meanwhile; look at what is new, then say yes."
GO_TO = "#"
"""A text that begins so names the operation to be done."""

AT_ONCE = 60
"""Finished within so many seconds of its beginning, a pass is asked back: it may be one scan."""

_QUANTITY = re.compile(r"[-+]?[\d.,][\d.,/ ]*(?:\s*[A-Za-zµμ\"″'′.]{1,8})?")
_MOST_DIGITS = 6
"""A longer row of digits is a serial or a code, no quantity."""

_WORDS = {
    "undo": "undo",
    "again": "undo",
    "begin": "begin",
    "start": "begin",
    "done": "done",
    "finish": "done",
    "finished": "done",
    "cancel": "cancel",
}


def take_scan(writer: Writer, code: str, text: str, spot: Spot, now: datetime) -> ScanReply:
    """Answer one scan at the rework pages; `code` is the body's tag, empty at the queues."""
    if not code:
        return _at_home(writer, named(text))
    return AtBody(piece_of(writer, code), spot, now).take(text)


def _at_home(writer: Writer, scan: Named) -> ScanReply:
    if scan.kind == "core":
        return opened(writer, scan.tag)
    if scan.kind == "nothing":
        return ScanReply("note", "READY", _AT_HOME)
    if scan.kind == "offer" and scan.verb == "bench":
        return _to_bench(scan.argument)
    return order_not_here(scan, _AT_HOME) if scan.kind == "order" else unclear(scan, _AT_HOME)


def opened(writer: Writer, tag: str) -> ScanReply:
    """Return the reply that opens a body at its rework, or says what it is instead."""
    core = core_named(writer, tag)
    if core.state == "rework":
        names = operation_names(Bench(writer).plan_for(core), core.operations)
        begun = dict(zip(core.operations, names, strict=True)).get(core.rework_begun)
        busy = f" {begun} is begun." if begun else ""
        line = f"{called(core)}: waits for {', '.join(names)}.{busy}"
        return ScanReply("note", "REWORK", line, target="rework", code=tag)
    return _not_in_rework(core)


def _not_in_rework(core: CoreFacts) -> ScanReply:
    offers: tuple[Offer, ...] = ()
    if core.state == "reinspect":
        offers = (offer(f"Inspect {show_tag(core.tag)} again", "bench", core.tag),)
    return ScanReply("stop", "NO REWORK", f"{is_now(core)} {_AT_HOME}", offers=offers)


def _to_bench(tag: str) -> ScanReply:
    return ScanReply("note", "OPEN", f"Opening core {show_tag(tag)}.", target="bench", code=tag)


class AtBody:
    """Answers one scan at a body's rework page."""

    def __init__(self, piece: ReworkPiece, spot: Spot, now: datetime) -> None:
        self.piece, self.spot, self.now = piece, spot, now
        self.writer = piece.writer

    def take(self, text: str) -> ScanReply:
        """Return what the scan did, or why nothing was done."""
        if text.startswith(MARK):
            return self._chosen(*taken_apart(text))
        plain = trim(text)
        if not plain:
            return self._agreed()
        if plain.startswith(GO_TO) or self._operation(plain) is not None:
            return self._go_to(plain.removeprefix(GO_TO))
        if plain.casefold() in _WORDS:
            return self._order(_WORDS[plain.casefold()])
        if _QUANTITY.fullmatch(plain) and sum(map(str.isdigit, plain)) <= _MOST_DIGITS:
            return self._quantity(text, plain)
        return self._scanned(named(text))

    def _scanned(self, scan: Named) -> ScanReply:
        if scan.kind == "core":
            return self._agreed() if scan.tag == self.piece.core.tag else self._other(scan.tag)
        if scan.kind == "order":
            return self._order(scan.order)
        return unclear(scan, self._wanted())

    def _other(self, tag: str) -> ScanReply:
        if not self.piece.hand.typed:
            return opened(self.writer, tag)
        here = show_tag(self.piece.core.tag)
        return ScanReply(
            "ask",
            "OTHER CORE",
            f"{show_tag(tag)} is another core; what is typed here is not stored yet.",
            offers=(
                offer(f"Open {show_tag(tag)}; what is typed of {here} stays", "core", tag),
                offer(f"Stay with {here}", "stay"),
            ),
        )

    def _order(self, order: str) -> ScanReply:
        match order:
            case "accept" | "next":
                return self._agreed()
            case "begin":
                return self.begin()
            case "done":
                return self._done()
            case "undo" | "again":
                return self._undo()
            case "cancel":
                return self._cancel()
            case "back":
                return ScanReply("note", "ALL QUEUES", _AT_HOME, target="rework")
        return ScanReply("note", "NOT HERE", f"The order '{order}' has no use at rework.")

    def _chosen(self, verb: str, argument: str) -> ScanReply:
        match verb:
            case "begin":
                self.choose(argument)
                return self.begin()
            case "begin now":
                return self.begin(unseen=True)
            case "finish":
                return self._finish()
            case "core":
                return opened(self.writer, argument)
            case "bench":
                return _to_bench(argument)
            case "stock":
                return self._keep_stock(int(argument))
            case "text":
                return self.take(argument)
        return self._cancel()

    def _agreed(self) -> ScanReply:
        """Answer Enter or the body's own tag: begin what waits, finish what is begun."""
        if self.spot.seen and self.spot.seen != self.piece.seen:
            raise Changed(MEANWHILE)
        if self.piece.hand.asked:
            return self._question()
        return self._done() if self.piece.is_begun else self.begin()

    def _wanted(self) -> str:
        piece = self.piece
        if not piece.waiting:
            return _AT_HOME
        if piece.chosen is None:
            return "Choose the operation that is done now."
        if not piece.is_begun:
            return f"Enter begins: {piece.chosen.name}."
        return f"Enter finishes: {piece.chosen.name}."

    def _operation(self, text: str) -> Operation | None:
        wanted = fold_heading(text)
        for operation in self.piece.waiting:
            if wanted in (fold_heading(operation.code), fold_heading(operation.name)):
                return operation
        return None

    def _go_to(self, text: str) -> ScanReply:
        operation = self._operation(text)
        if operation is None:
            names = ", ".join(each.name for each in self.piece.waiting) or "nothing"
            raise NotAllowed(
                f"'{printable(text)}' does not wait here; this body waits for {names}."
            )
        self.choose(operation.code)
        return ScanReply("note", operation.name.upper(), self._wanted())

    def choose(self, code: str) -> None:
        """Make this operation the one that scans speak of."""
        hand = self.piece.hand
        if hand.operation != code:
            # What is typed belongs to the operation it was typed at.
            fresh = ReworkHand(hand.tag, operation=code, step=hand.step)
            self.piece = replace(self.piece, hand=keep_hand(self.writer, fresh))

    def keep(self, **changes: Any) -> None:
        """Keep what is typed of the pass."""
        hand = keep_hand(self.writer, replace(self.piece.hand, **changes))
        self.piece = replace(self.piece, hand=hand)

    def one(self) -> Operation | ScanReply:
        """Return the operation a scan speaks of, or the question which one."""
        piece = self.piece
        if not piece.waiting:
            return _not_in_rework(piece.core)
        if piece.chosen is not None:
            return piece.chosen
        offers = tuple(offer(f"Begin: {each.name}", "begin", each.code) for each in piece.waiting)
        return ScanReply("ask", "WHICH?", "Several operations wait here.", offers=offers)

    def begin(self, *, unseen: bool = False) -> ScanReply:
        """Begin the operation; `unseen` although a second look is wanted before."""
        operation = self.one()
        if isinstance(operation, ScanReply):
            return operation
        core, name = self.piece.core, operation.name
        if why := may_rework(operation, self.piece.lives):
            raise NotAllowed(f"{name} may not be done: {why}. The owner decides about this body.")
        if self.piece.is_begun and self.piece.begun and self.piece.begun.by == self.writer.by:
            return ScanReply("note", "BEGUN", f"{name} is begun. Enter finishes it.")
        look = wanted_of(self.writer, core.tag)
        if look is not None and look.why == "drawn" and not unseen:
            line = "A blind second look is wanted on this body before it is changed."
            offers = (
                offer("Leave it for the second look", "stay"),
                offer("Begin all the same; the second look is dropped", "begin now"),
            )
            return ScanReply("ask", "LOOK FIRST", line, offers=offers)
        before = self.piece.begun.by if self.piece.is_begun and self.piece.begun else ""
        told = {"operation": operation.code, "person": self.writer.by}
        self.writer.event("core", core.tag, "rework begun", told)
        over = f" It was begun by {before}; you go on with it." if before else ""
        line = f"{called(core)}: {name} is begun.{over}"
        return ScanReply("good", "BEGUN", line, "Enter, or its tag once more, finishes it.")

    def _done(self) -> ScanReply:
        operation = self.one()
        if isinstance(operation, ScanReply):
            return operation
        if self.piece.hand.asked:
            return self._question()
        yes, no = offer(f"Yes: {operation.name} is finished", "finish"), offer("Not yet", "stay")
        if not self.piece.is_begun:
            line = f"{operation.name} was not begun by scan here. Is it finished?"
            return ScanReply("ask", "FINISHED?", line, offers=(yes, no))
        seconds = self.piece.seconds(self.now)
        if seconds is not None and seconds < min(AT_ONCE, operation.minutes * 20):
            ago = counted(max(0, seconds), "second")
            line = f"{operation.name} was begun {ago} ago. Is it finished?"
            return ScanReply("ask", "FINISHED?", line, offers=(yes, no))
        return self._finish()

    def _finish(self) -> ScanReply:
        operation, finish = self.one(), self.piece.finish
        if isinstance(operation, ScanReply) or finish is None:
            return (
                operation if isinstance(operation, ScanReply) else _not_in_rework(self.piece.core)
            )
        try:
            core = finished(self.piece, operation, Told(finish.actual, finish.removed), self.now)
        except InvalidInput as error:
            more = "Measure what came off again; if it is so, the owner sends the body to scrap."
            return ScanReply("stop", "TOO MUCH", error.message, more)
        return self.said(operation, core, ", ".join(filter(None, (finish.minutes, finish.stock))))

    def said(self, operation: Operation, core: CoreFacts, told: str) -> ScanReply:
        """Return the answer to a finished pass: what is left, and what comes next."""
        after = piece_of(self.writer, core.tag)
        line = f"{called(core)}: {operation.name} is finished, {told}."
        check = after.plan.check(operation.check) if operation.check else None
        ledger = check and stock_ledger(check, operation, after.lives, planned=False)
        detail = [ledger.said] if ledger else []
        if core.state == "rework":
            detail.append(f"Next: {', '.join(each.name for each in after.waiting)}.")
            return ScanReply("good", "FINISHED", line, "\n".join(detail))
        names = {each.code: each.name for each in after.plan.checks}
        again = checks_again(after.plan, core.done_since)
        detail.append(f"To be measured again: {', '.join(names[code] for code in again)}.")
        offers = (offer(f"Inspect {show_tag(core.tag)} again now", "bench", core.tag),)
        tone = "ask" if ledger and ledger.near else "good"
        return ScanReply(tone, "MEASURE AGAIN", line, "\n".join(detail), offers=offers)

    def _undo(self) -> ScanReply:
        if self.piece.hand.typed:
            return self._cancel()
        if not self.piece.core.rework_begun:
            raise NotAllowed(
                "Nothing is begun here that could be taken back. A finished pass stays: the body "
                "is measured again after it."
            )
        code, tag = self.piece.core.rework_begun, self.piece.core.tag
        self.writer.event("core", tag, "rework put down", {"operation": code})
        name = self.piece.plan.operation(code).name
        return ScanReply("note", "PUT DOWN", f"{name} is not begun any more; it waits as before.")

    def _cancel(self) -> ScanReply:
        if self.piece.hand.typed:
            operation = self.piece.hand.operation
            drop_hand(self.writer, self.piece.core.tag)
            self.piece = piece_of(self.writer, self.piece.core.tag)
            if operation:
                self.choose(operation)
            return ScanReply(
                "note", "TAKEN BACK", f"What was typed is taken back. {self._wanted()}"
            )
        return ScanReply("note", "READY", self._wanted())

    def _quantity(self, text: str, plain: str) -> ScanReply:
        operation = self.one()
        if isinstance(operation, ScanReply):
            return operation
        timed = re.search(r"(?i)\d\s*(min|mins|minutes?|h|hours?)\.?$", plain) is not None
        if timed or not self.piece.takes(operation):
            minutes = read_minutes(text)
            if isinstance(minutes, str):
                return ScanReply("stop", "NOT TAKEN", minutes, self._wanted())
            self.keep(minutes=str(minutes), minutes_typed=plain)
            return ScanReply("good", "MINUTES", f"{self._minutes()}. {self._wanted()}")
        check = self.piece.plan.check(operation.check)
        answer = read_stock(text, check, operation)
        if isinstance(answer, Refusal):
            return ScanReply("stop", "NOT TAKEN", answer.text, self._wanted())
        if isinstance(answer, Question):
            if answer.value is None:
                return ScanReply("stop", "NOT TAKEN", answer.text, self._wanted())
            offers = [[each.value, each.text] for each in answer.suggestions]
            asked = {"typed": plain, "value": answer.value, "offers": offers}
            self.keep(asked=asked, asked_text=answer.text)
            return self._question()
        self.keep(asked={"typed": plain}, asked_text="")
        return self._keep_stock(answer.value)

    def _question(self) -> ScanReply:
        asked = self.piece.hand.asked
        offers = [offer(f"Take {text}", "stock", str(value)) for value, text in asked["offers"]]
        offers.append(offer(f"It is right: {asked['typed']}", "stock", str(asked["value"])))
        offers.append(offer("Type it again", "cancel"))
        return ScanReply("ask", "REALLY?", self.piece.hand.asked_text, offers=tuple(offers))

    def _keep_stock(self, value: int) -> ScanReply:
        typed = self.piece.hand.asked.get("typed", "")
        if not typed:
            raise NotAllowed("This question is answered already; look at what is there now.")
        self.keep(stock=value, stock_typed=typed, asked={}, asked_text="")
        finish = self.piece.finish
        stock = finish.stock if finish else typed
        return ScanReply("good", "STOCK", f"{stock} came off. {self._wanted()}")

    def _minutes(self) -> str:
        finish = self.piece.finish
        return finish.minutes if finish else self.piece.hand.minutes_typed
