"""What the rules say of the core in hand: judged as the dock judges, shown before it is stored."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, datetime
from functools import partial
from typing import Any

from coretrack.actions.arrivals import ArrivalDesk
from coretrack.actions.delivery_views import (
    PROPOSED_WORDS,
    TONES,
    LineShown,
    Need,
    Proposal,
    SumLine,
)
from coretrack.actions.dock import Dock, Offered, came_in, lines_of_invoice, takes
from coretrack.actions.fingerprints import fingerprint
from coretrack.actions.hands import Hand
from coretrack.actions.judged import UNTOLD, Judged, asked_notes, line_notes, number_notes, sentence
from coretrack.actions.line_words import line_shown, owed_by_group, settled_words
from coretrack.actions.photos import count_draft_photos
from coretrack.errors import CoretrackError, NotFound
from coretrack.figures.lifecycle import CoreFacts
from coretrack.figures.money import Money
from coretrack.figures.plan_files import Fault
from coretrack.figures.tags import show_tag
from coretrack.figures.trade_objects import Line, Lot, Number, Source
from coretrack.records import queries
from coretrack.records.writer import Writer

THIS_CORE = "This core"
"""How notes name the core in hand."""


def delivery_of(writer: Writer, code: str) -> Lot:
    """Return a delivery of returns; NotFound when there is none of this code."""
    lot: Lot | None = writer.find("lot", code)
    if lot is None or lot.kind != "return":
        raise NotFound(f"There is no delivery '{code}'.")
    return lot


class Judging:
    """Judges cores of one delivery, inside a transaction (`hold`) or just to show them."""

    def __init__(self, writer: Writer, lot: Lot, now: datetime, *, hold: bool) -> None:
        self.writer = writer
        self.lot = lot
        self.now = now
        self._notes: list[str] = []
        self._judged: dict[Hand, Judged] = {}
        self.desk = ArrivalDesk(writer, now, self._notes.append, hold=hold)
        self.catalogue = self.desk.catalogue
        self.dock = Dock(writer, self.catalogue, self._notes.append)
        self.source: Source = writer.get("source", lot.source)
        self.received = date.fromisoformat(lot.received_on)
        self.arrived = date.fromisoformat(lot.arrived_on or lot.received_on)

    def is_comeback(self, hand: Hand) -> bool:
        """Return whether the core is judged as a comeback."""
        if hand.tag:
            return bool(self.core(hand).stream == "comeback")
        return bool(hand.comeback) or self.source.kind == "own comeback"

    def core(self, hand: Hand) -> CoreFacts:
        """Return the core in the house that is judged now."""
        facts: CoreFacts = self.writer.get("core", hand.tag)
        return facts

    def number(self, hand: Hand) -> Number | None:
        """Return the known number of the core in hand."""
        if hand.number_text:
            return self.catalogue.number(hand.number_text)
        if hand.tag:
            return self.catalogue.number(self.core(hand).number)
        return None

    def judge(self, hand: Hand) -> Judged:
        """Return what the dock says of the core; a person still answers what it needs."""
        if hand not in self._judged:
            self._judged[hand] = self._judge(hand)
        return self._judged[hand]

    def _judge(self, hand: Hand) -> Judged:
        self._notes.clear()
        number = self.number(hand)
        if number is None:
            return Judged(hand, None, None, None, ())
        offered = self._offered(hand, number)
        lines = [] if offered.comeback else self.dock.lines_for(offered)
        criteria = self._criteria(lines[0]) if lines else self._present(number)
        if lines:
            offered = self._known_faults(offered, lines[0])
        if hand.refuse and not hand.refusal:
            seen = [f for f in criteria if f.effect == "refuse" and f.code in offered.fault_codes]
            if not seen:
                offered = replace(offered, refusal=UNTOLD)
            elif not lines:
                offered = replace(offered, refusal=seen[0].name or seen[0].code)
        judgement = self.dock.judge(offered, lines)
        return Judged(hand, number, offered, judgement, tuple(dict.fromkeys(self._notes)))

    def faults(self, judged: Judged) -> tuple[Fault, ...]:
        """Return the faults that can be ticked: those of the sale, else the family's present."""
        if judged.judgement and judged.judgement.line:
            return self._criteria(judged.judgement.line)
        return self._present(judged.number) if judged.number else ()

    def seen_before(self, hand: Hand) -> str:
        """Return why the serial in hand cannot be taken, empty when it can.

        A refused serial that was wiped out is still answered for.
        """
        serial = hand.serial or hand.refused_serial
        if not serial or hand.tag:
            return ""
        try:
            self.desk.check_serial(serial)
        except CoretrackError as error:
            return error.message
        return ""

    def photos(self, hand: Hand) -> int:
        """Return how many photos there are of the core."""
        stored = self.core(hand).photos if hand.tag else 0
        return stored + count_draft_photos(hand.key)

    def proposal(self, hand: Hand) -> Proposal:
        """Return everything a person has to see before saying yes."""
        judged = self.judge(hand)
        others, currency = self._others(judged), self.catalogue.shop.currency
        proposal = Proposal(
            outcome=judged.outcome,
            word=PROPOSED_WORDS.get(judged.outcome, "NUMBER?"),
            tone=TONES.get(judged.outcome, "ask"),
            sentence=sentence(judged, self.catalogue, self.source, self._text(hand)),
            credited_so_far=queries.credited_on(self.lot.key),
            notes=(
                *number_notes(judged),
                *line_notes(judged, partial(self._earns, judged), others, currency),
                *judged.notes,
                *asked_notes(judged, self.photos(hand)),
                *self._serial_notes(hand),
            ),
            needs=self._needs(judged),
        )
        proposal = self._with_line(proposal, judged, others)
        return replace(proposal, fingerprint=self._fingerprint(proposal, judged))

    def _offered(self, hand: Hand, number: Number) -> Offered:
        told: dict[str, Any] = {
            "invoice": hand.invoice or self._usual_invoice(),
            "fault_codes": hand.faults,
            "line": hand.line,
            "refusal": hand.refusal if hand.refuse else "",
            "judged": self.desk.today,
        }
        if hand.tag:
            came = came_in(self.core(hand), number, THIS_CORE)
            told["invoice"] = hand.invoice or came.invoice
            return replace(came, **told)
        return Offered(
            place=THIS_CORE,
            customer=self.source.key,
            number=number,
            received=self.received,
            arrived=self.arrived,
            comeback=self.is_comeback(hand),
            **told,
        )

    def _usual_invoice(self) -> str:
        """Return the delivery's own paper when it is an invoice of its customer."""
        paper = self.lot.reference
        lines = lines_of_invoice(paper) if paper else []
        return paper if any(line.customer == self.source.key for line in lines) else ""

    def _present(self, number: Number) -> tuple[Fault, ...]:
        """Return the acceptance faults of a number's family as they are now."""
        family = self.catalogue.family(number.family)
        return self.catalogue.faults(family.key, family.criteria_version)

    def _criteria(self, line: Line) -> tuple[Fault, ...]:
        return self.catalogue.faults(line.family, line.criteria_version)

    def _known_faults(self, offered: Offered, line: Line) -> Offered:
        """Return the core with the faults its sale knew; the others are said and take nothing."""
        known = {name.casefold() for f in self._criteria(line) for name in (f.code, f.name)}
        unknown = [code for code in offered.fault_codes if code.casefold() not in known]
        for code in dict.fromkeys(unknown):
            self._notes.append(
                f"'{code}' was no acceptance fault yet when line {line.key} was sold on "
                f"{line.sold_on}: it takes nothing off"
            )
        kept = tuple(code for code in offered.fault_codes if code not in unknown)
        return replace(offered, fault_codes=kept)

    def _needs(self, judged: Judged) -> tuple[Need, ...]:
        hand, needs = judged.hand, []
        if not hand.tag:
            if self.lot.status != "open":
                needs.append(Need("status", f"{self.lot.key} is not open; reopen it first."))
            elif not self.lot.counted:
                needs.append(Need("count", "Count the pieces first; none is judged before."))
            if hand.comeback is None and self.source.kind != "own comeback":
                needs.append(Need("kind", "Core or comeback under warranty?"))
        elif judged.number is None:
            needs.append(Need("number", "Say which number the core carries."))
        if not hand.named:
            needs.append(Need("number", "Scan or type the number, or say that it is illegible."))
        seen = self.seen_before(hand)
        if seen and not hand.no_serial:
            needs.append(
                Need("serial", f"{seen} Tell its own serial, or tick that it cannot be read.")
            )
        return (*needs, *self._proof_needs(judged))

    def _proof_needs(self, judged: Judged) -> list[Need]:
        """Return what a refusal or deduction still needs: a reason, and a photo or why not."""
        if judged.outcome not in ("refuse", "part credit"):
            return []
        needs = []
        if judged.offered and judged.offered.refusal == UNTOLD:
            needs.append(Need("refusal", "Say why it is refused: tick the fault or write it."))
        hand = judged.hand
        if not judged.only_late and not hand.no_photo and not self.photos(hand):
            what = "refusal" if judged.outcome == "refuse" else "deduction"
            needs.append(Need("photo", f"A {what} needs a photo, or the reason why there is none."))
        return needs

    def _with_line(self, proposal: Proposal, judged: Judged, others: list[Line]) -> Proposal:
        judgement = judged.judgement
        if judgement is None:
            return proposal
        if judgement.line is None or judgement.result is None:
            if judgement.outcome != "excess":
                return proposal
            instead = owed_by_group(queries.open_lines(self._customer(judged)), self.catalogue)
            return replace(
                proposal,
                owed_instead=instead,
                others=self._elsewhere(judged),
                hold_until=judgement.hold_until,
            )
        line, result = judgement.line, judgement.result
        taken = judgement.outcome != "refuse"
        teardown = self.catalogue.family(line.family).credit_when == "teardown"
        return replace(
            proposal,
            line=self._line(line, judged),
            others=(
                *(self._line(other, judged) for other in others),
                *self._elsewhere(judged),
            ),
            owed_before=line.owed,
            owed_after=line.owed - taken,
            arithmetic=tuple(SumLine(each.text, each.amount) for each in result.lines),
            credit=result.credit,
            settles=settled_words(line, result, self.catalogue.shop.currency),
            after_teardown=teardown and taken,
            hold_until=judgement.hold_until,
        )

    def _others(self, judged: Judged) -> list[Line]:
        """Return the customer's other lines that the core could answer, the best paid first."""
        others = judged.judgement.others if judged.judgement else ()
        return sorted(others, key=lambda line: -self._earns(judged, line))

    def _earns(self, judged: Judged, line: Line) -> Money:
        return self.dock.earns(judged.offered, line) if judged.offered else 0

    def _line(self, line: Line, judged: Judged) -> LineShown:
        arrived = judged.offered.arrived if judged.offered else self.arrived
        return line_shown(line, arrived, self._customer(judged))

    def _customer(self, judged: Judged) -> str:
        return judged.offered.customer if judged.offered else self.source.key

    def _elsewhere(self, judged: Judged) -> tuple[LineShown, ...]:
        """Return lines of another customer on the paper that was told: offered, never taken."""
        hand, number = judged.hand, judged.number
        paper = hand.invoice or self.lot.reference
        if number is None or not paper:
            return ()
        return tuple(
            self._line(line, judged)
            for line in lines_of_invoice(paper)
            if line.customer != self._customer(judged)
            and line.core_group == number.core_group
            and line.key != hand.line
            and takes(line, self.received)
        )

    def _text(self, hand: Hand) -> str:
        return hand.number_text or (self.core(hand).number if hand.tag else "")

    def _serial_notes(self, hand: Hand) -> tuple[str, ...]:
        if not hand.serial or hand.tag:
            return ()
        if seen := self.seen_before(hand):
            # As long as it is asked it stands among the needs.
            return (f"Taken in without a serial. {seen}",) if hand.no_serial else ()
        return tuple(
            f"This body was here before: core {show_tag(life.tag)}, received {life.received_on}, "
            f"now: {life.state_words}."
            for life in self.desk.earlier(hand.serial)[-1:]
        )

    def _fingerprint(self, proposal: Proposal, judged: Judged) -> str:
        hand, judgement = judged.hand, judged.judgement
        line = judgement.line if judgement else None
        told = [
            judged.number.shown if judged.number else self._text(hand),
            hand.tag,
            hand.line,
            self.is_comeback(hand),
            sorted(hand.faults),
            hand.refuse,
            hand.refusal,
            judgement.why if judgement else "",
        ]
        key = line.key if line else ""
        owed = line.owed if line else 0
        return fingerprint(proposal.outcome, key, owed, proposal.credit, told)
