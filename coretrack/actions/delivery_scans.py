"""Scans at a delivery's page: what is read goes to the core in hand, or asks what is meant."""

from __future__ import annotations

from dataclasses import replace
from datetime import datetime

from coretrack.actions import core_in_hand, storing, undoing
from coretrack.actions.arrivals import MAY_COME_AGAIN
from coretrack.actions.deliveries import count_in
from coretrack.actions.delivery_replies import (
    core_said,
    invoice_said,
    proposed,
    stored_reply,
    unfinished,
)
from coretrack.actions.delivery_views import CoreChange, Stored
from coretrack.actions.dock import lines_of_invoice
from coretrack.actions.hands import PLACES, Hand, drop_hand, hand_of
from coretrack.actions.home_scans import PAGES, opened
from coretrack.actions.lookups import near_numbers
from coretrack.actions.offers import (
    MARK,
    MOST_OFFERS,
    both,
    both_of,
    candidates_offered,
    offer,
    taken_apart,
)
from coretrack.actions.proposals import Judging, delivery_of
from coretrack.actions.scanning import meaning_of
from coretrack.errors import NotAllowed
from coretrack.figures.lifecycle import CoreFacts
from coretrack.figures.part_numbers import match_key, trim
from coretrack.figures.plain_words import counted
from coretrack.figures.scan_replies import Offer, ScanReply, Spot
from coretrack.figures.scan_text import printable
from coretrack.figures.scans import Meaning
from coretrack.figures.tags import ShopCode, only_digits, show_tag
from coretrack.records.delivery_queries import reason_numbered
from coretrack.records.happenings import history_of_cores
from coretrack.records.writer import Writer

READY = "Scan the number of the next core."


class DeliveryScans:
    """Answers one scan of the writer's person at a delivery."""

    def __init__(self, writer: Writer, spot: Spot, now: datetime) -> None:
        self.writer = writer
        self.spot = spot
        self.now = now
        self.lot = delivery_of(writer, spot.code)
        self.hand: Hand | None = hand_of(spot.code, writer.by)

    @property
    def named(self) -> bool:
        """Return whether a core is in hand that has a number, or needs none."""
        return self.hand is not None and self.hand.named

    def take(self, text: str) -> ScanReply:
        """Return what the scan did to the core in hand, or asks or says."""
        if text.startswith(MARK):
            return self._chosen(*taken_apart(text))
        plain = trim(text)
        if not plain:
            return self._yes() if self.hand else ScanReply("note", "READY", READY)
        if self.hand and only_digits(plain) and len(plain) <= 2:
            return self._digit(int(plain))
        if not self.lot.counted and not self.hand and only_digits(plain) and len(plain) <= 4:
            number = count_in(self.writer, self.lot.key, plain)
            return ScanReply("good", "COUNTED", f"{counted(number, 'piece')} counted. {READY}")
        return self._meant(meaning_of(text))

    def finish(self, *, unjudged: bool = False) -> ScanReply:
        """Store the core in hand as it was proposed."""
        if self.hand is None:
            return ScanReply("note", "READY", f"No core is in hand. {READY}")
        stored = storing.store_in(
            self.writer, self.spot.code, self.spot.seen, self.now, unjudged=unjudged
        )
        return self._stored(stored)

    def _yes(self) -> ScanReply:
        """Store what was proposed; a serial seen before is asked again, with its answers."""
        judging = Judging(self.writer, self.lot, self.now, hold=True)
        if self.hand and not self.hand.no_serial and judging.seen_before(self.hand):
            return proposed(judging, self.hand)
        return self.finish()

    def _stored(self, stored: Stored) -> ScanReply:
        currency = self.writer.get("shop", "shop").currency
        return stored_reply(stored, currency)

    def _tell(self, change: CoreChange) -> ScanReply:
        """Change the core in hand and return what is proposed now."""
        hand = core_in_hand.change_in(self.writer, self.spot.code, change, self.now)
        return proposed(Judging(self.writer, self.lot, self.now, hold=True), hand)

    def _meant(self, meaning: Meaning) -> ScanReply:
        code = meaning.scan.code
        if meaning.kind == "shop code" and code is not None:
            return self._order(code) if code.order else self._shop_code(code)
        if meaning.kind == "core" and meaning.tag and not meaning.confirm:
            return core_said(self.writer, self.lot, meaning.tag)
        if meaning.kind == "number" and meaning.number:
            return self._number(meaning.number.number, meaning.serial or "")
        if meaning.kind == "serial":
            return self._known_serial(meaning)
        if meaning.kind == "paper" and meaning.paper:
            return self._paper(meaning.paper)
        if meaning.kind == "unknown":
            return self._unknown(meaning)
        return self._unsure(meaning)

    def _number(self, number: str, serial: str) -> ScanReply:
        hand = self.hand
        if hand is None or not hand.named:
            return self._tell(CoreChange(number=number, serial=serial or None))
        same = match_key(hand.number_text) == match_key(number)
        if same and serial and hand.lacks_serial:
            return self._tell(CoreChange(serial=serial))
        judging = Judging(self.writer, self.lot, self.now, hold=True)
        return unfinished(judging, hand, number, serial)

    def _known_serial(self, meaning: Meaning) -> ScanReply:
        """Answer a serial that a core carries: the same body again, or a core in the house."""
        serial, tag = meaning.serial or "", meaning.tag or ""
        core: CoreFacts = self.writer.get("core", tag)
        if self.hand and self.hand.lacks_serial:
            return self._tell(CoreChange(serial=serial))
        if core.state == "taken back":
            return self._unknown(meaning)
        if core.state in MAY_COME_AGAIN and not self.named:
            take = both(f"Take it in again as {core.number}", core.number, serial)
            line = f"Serial {serial} was here before as core {show_tag(tag)} ({core.state_words})."
            return ScanReply("ask", "BACK AGAIN?", line, offers=(take, _open_core(tag)))
        return core_said(self.writer, self.lot, tag)

    def _paper(self, paper: str) -> ScanReply:
        lot = self.writer.find("lot", paper)
        if lot is not None and not lines_of_invoice(paper):
            if lot.key == self.lot.key:
                return ScanReply("note", "THIS ONE", f"This is delivery {lot.key}. {READY}")
            verb = "open" if lot.kind == "return" else "lot"
            line = f"{printable(paper)} is another {'delivery' if verb == 'open' else 'lot'}."
            page = offer(f"Open {paper}", verb, paper)
            return ScanReply("ask", "OTHER PAPER", line, offers=(page,))
        if self.hand is None:
            return invoice_said(self.writer, self.lot, paper)
        lines = lines_of_invoice(paper)
        if any(line.customer == self.lot.source for line in lines):
            return self._tell(CoreChange(invoice=paper, line=""))
        judging = Judging(self.writer, self.lot, self.now, hold=True)
        number = judging.number(self.hand)
        offers = tuple(
            offer(f"Credit {line.customer} on line {line.key} ({line.number})", "line", line.key)
            for line in lines
            if number is not None and line.core_group == number.core_group and line.owed > 0
        )
        said = invoice_said(self.writer, self.lot, paper)
        return ScanReply("ask", "OTHER NAME", said.line, said.detail, offers=offers)

    def _unknown(self, meaning: Meaning) -> ScanReply:
        """Answer a text that nothing here is called: the serial, or an unknown core's number."""
        scan = meaning.scan
        if scan.numbers and meaning.serial:
            take = both(f"Take as unknown core: {scan.numbers[0]}", scan.numbers[0], meaning.serial)
            return ScanReply("ask", "UNKNOWN", meaning.sentence, meaning.message, offers=(take,))
        text, hand = scan.text, self.hand
        if hand and hand.lacks_serial and scan.kind == "text":
            return self._serial(text)
        if hand and hand.named:
            offers = [
                offer(f"{text} is its serial", "serial", text),
                offer(f"Put the core in hand back; unknown core: {text}", "instead", text),
            ]
        else:
            near = [offer(f"Number {number}", "number", number) for number in near_numbers(text)]
            offers = [*near, offer(f"Take as unknown core: {text}", "unknown", text)]
        return ScanReply("ask", "UNKNOWN", meaning.sentence, meaning.message, offers=tuple(offers))

    def _serial(self, text: str) -> ScanReply:
        """Take a text that nobody knows for the serial of the core in hand, and say so loudly."""
        said = self._tell(CoreChange(serial=text))
        hand = self.hand
        if said.word == "SEEN BEFORE" or hand is None:
            return said
        held = hand.number_text or "the core in hand"
        line = f"{printable(text)} is taken for the serial of {printable(held)}."
        detail = " ".join(part for part in (said.word + ":", said.line, said.detail) if part)
        offers = (offer("Not its serial", "not serial"), *said.offers)[:MOST_OFFERS]
        return replace(said, word="SERIAL", line=line, detail=detail, offers=offers)

    def _unsure(self, meaning: Meaning) -> ScanReply:
        """Offer what the scan may mean; with a core in hand it may be that core's serial."""
        offers: tuple[Offer, ...] = ()
        if meaning.kind == "core" and meaning.tag:
            offers = (_open_core(meaning.tag),)
        number_verb = "instead" if self.named else "number"
        offers += candidates_offered(meaning.candidates, number_verb)
        hand, text = self.hand, meaning.scan.text
        if hand and hand.lacks_serial and meaning.scan.kind in ("text", "gtin"):
            offers = (offer(f"{text} is its serial", "serial", text), *offers)
        word = "WHICH?" if len(offers) > 1 else "IS IT THIS?"
        word = "NOT READ" if meaning.kind == "refused" else word
        tone = "stop" if meaning.kind == "refused" else "ask"
        return ScanReply(tone, word, meaning.sentence, meaning.message, offers=offers)

    def _digit(self, digit: int) -> ScanReply:
        """Tick the fault with this place in the list, or untick it; 0 unticks all."""
        hand = self.hand
        if hand is None:
            raise NotAllowed("No core is in hand; scan its number first.")
        if digit == 0:
            return self._tell(CoreChange(faults=()))
        judging = Judging(self.writer, self.lot, self.now, hold=True)
        faults = judging.faults(judging.judge(hand))
        if digit > len(faults):
            raise NotAllowed(
                f"There is no fault {digit}; the list of this core has {len(faults) or 'none'}."
            )
        fault = faults[digit - 1]
        if fault.code in hand.faults and not fault.each:
            return self._tell(CoreChange(faults=tuple(c for c in hand.faults if c != fault.code)))
        return self._tell(CoreChange(faults=(*hand.faults, fault.code)))

    def _order(self, code: ShopCode) -> ScanReply:
        match code.order:
            case "done" | "accept":
                return self._yes()
            case "hold":
                return self.finish(unjudged=True)
            case "undo":
                return self._undo()
            case "reprint":
                return self._reprint()
            case "cancel":
                return self._drop()
            case "refuse":
                if self.hand is None:
                    raise NotAllowed("No core is in hand to refuse; scan its number first.")
                return self._tell(CoreChange(refuse=True))
            case "back":
                return ScanReply("note", "BACK", "Back to the deliveries.", target="home")
        return ScanReply("note", "NOT HERE", f"The order '{code.order}' has no use at the dock.")

    def _shop_code(self, code: ShopCode) -> ScanReply:
        if code.kind in PLACES:
            return self._tell(CoreChange(place=code.text))
        if code.kind == "reason":
            return self._reason(code.number)
        if code.kind == "badge":
            return ScanReply("note", "BADGE", "A badge signs a person in, at the sign-in page.")
        if code.kind == "lot":
            name = f"D-{code.number:04d}"
            if self.writer.find("lot", name) is not None:
                return self._paper(name)
        return ScanReply("note", "NOT HERE", f"A {code.kind}'s code has no use at the dock.")

    def _reason(self, number: int) -> ScanReply:
        reason = reason_numbered(number)
        if reason is None:
            raise NotAllowed(f"No fault is printed under reason {number}; print the cards anew.")
        hand = self.hand
        judging = Judging(self.writer, self.lot, self.now, hold=True)
        known = judging.number(hand) if hand else None
        if hand is None or known is None:
            raise NotAllowed("Scan the number of the core first; its family has the faults.")
        if known.family != reason.family:
            raise NotAllowed(
                f"This code is a fault of family {reason.family}; the core in hand is of family "
                f"{known.family}."
            )
        each = any(
            fault.each
            for fault in judging.faults(judging.judge(hand))
            if fault.code == reason.fault
        )
        if reason.fault in hand.faults and not each:
            return proposed(judging, hand)
        return self._tell(CoreChange(faults=(*hand.faults, reason.fault)))

    def _undo(self, *, drop_in_hand: bool = False) -> ScanReply:
        try:
            undone = undoing.undo_in(
                self.writer, self.spot.code, self.now, drop_in_hand=drop_in_hand
            )
        except NotAllowed as error:
            if "in hand" not in error.fields:
                raise
            offers = (
                offer("Put it back, and undo the last one stored", "undo"),
                offer("Go on with it", "keep"),
            )
            return ScanReply("ask", "IN HAND", error.message, offers=offers)
        return ScanReply("note", "UNDONE", undone.sentence)

    def _reprint(self) -> ScanReply:
        last, _ = undoing.last_act(history_of_cores(self.lot.key), self.writer.by)
        if last is None:
            raise NotAllowed("You have stored no core of this delivery; open it and print there.")
        line = f"The label of core {show_tag(last.tag)} once more."
        return ScanReply("note", "REPRINT", line, print_tags=(last.tag,))

    def _drop(self) -> ScanReply:
        if not drop_hand(self.writer, self.spot.code):
            return ScanReply("note", "READY", f"No core was in hand. {READY}")
        return ScanReply("note", "PUT BACK", f"Nothing of it was stored. {READY}")

    def _chosen(self, verb: str, argument: str) -> ScanReply:
        """Do what an offer said."""
        if verb in PAGES:
            return opened(verb, argument)
        if verb == "text":
            return self.take(argument)
        if verb in ("number", "unknown"):
            return self._tell(CoreChange(number=argument))
        if verb == "both":
            number, serial = both_of(argument)
            return self._tell(CoreChange(number=number, serial=serial))
        if verb == "serial":
            return self._tell(CoreChange(serial=argument))
        if verb == "line":
            return self._tell(CoreChange(line=argument))
        if verb == "kind":
            return self._tell(CoreChange(comeback=argument == "comeback"))
        if verb == "illegible":
            return self._tell(CoreChange(illegible=True))
        if verb == "not serial":
            return self._tell(CoreChange(serial=""))
        if verb == "no serial":
            return self._tell(CoreChange(no_serial=True))
        return self._chosen_step(verb, argument)

    def _chosen_step(self, verb: str, argument: str) -> ScanReply:
        if verb == "next":
            return self._next(*both_of(argument))
        if verb == "instead":
            drop_hand(self.writer, self.spot.code)
            return self._tell(CoreChange(number=argument))
        if verb == "judge":
            core_in_hand.judge_in(self.writer, argument)
            hand = hand_of(self.spot.code, self.writer.by)
            judging = Judging(self.writer, self.lot, self.now, hold=True)
            return proposed(judging, hand or Hand(self.spot.code, self.writer.by))
        if verb == "undo":
            return self._undo(drop_in_hand=True)
        return self._drop() if verb == "drop" else self._keep()

    def _next(self, number: str, serial: str) -> ScanReply:
        """Store the core in hand as it was proposed and take the next one."""
        before = self.finish()
        after = self._tell(CoreChange(number=number, serial=serial or None))
        detail = " ".join(part for part in (f"{before.word}: {before.line}", after.detail) if part)
        return ScanReply(
            after.tone,
            after.word,
            after.line,
            detail,
            offers=after.offers,
            print_tags=before.print_tags,
            undo=before.undo,
        )

    def _keep(self) -> ScanReply:
        if self.hand is None:
            return ScanReply("note", "READY", READY)
        return proposed(Judging(self.writer, self.lot, self.now, hold=True), self.hand)


def _open_core(tag: str) -> Offer:
    return offer(f"Open core {show_tag(tag)}", "core", tag)
