"""What the rules say of the core in hand: judged as the dock judges, shown before it is stored."""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import date, datetime
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
from coretrack.actions.dock import Dock, Judgement, Offered, came_in, lines_of_invoice, takes
from coretrack.actions.fingerprints import fingerprint
from coretrack.actions.hands import Hand
from coretrack.actions.line_words import line_shown, owed_by_group, settled_words
from coretrack.actions.lookups import near_numbers
from coretrack.actions.photos import count_draft_photos
from coretrack.errors import CoretrackError, NotFound
from coretrack.figures.lifecycle import CoreFacts
from coretrack.figures.money import Money, shown
from coretrack.figures.part_numbers import match_key
from coretrack.figures.plan_files import Fault
from coretrack.figures.trade_objects import Line, Lot, Number, Source
from coretrack.records import queries
from coretrack.records.writer import Writer

THIS_CORE = "This core"
"""How notes name the core in hand."""

UNTOLD = "the reason is not told yet"
ONLY_LATE = "it only came late: there is nothing to be seen on it"
"""Why a core needs no photo when only the window takes something off."""


@dataclass(frozen=True)
class Judged:
    """The core in hand, judged: `number` None is an unknown one, `offered` None not judged."""

    hand: Hand
    number: Number | None
    offered: Offered | None
    judgement: Judgement | None
    notes: tuple[str, ...]

    @property
    def outcome(self) -> str:
        """Return the outcome in a word, empty while nothing is told."""
        if self.judgement is not None:
            return self.judgement.outcome
        return "unknown" if self.hand.named else ""

    @property
    def only_late(self) -> bool:
        """Return whether the window alone takes something off."""
        judged = self.judgement
        return bool(judged and not judged.faults and not self.hand.refuse)


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
        if lines:
            offered = self._known_faults(offered, lines[0])
            refusing = {f.code for f in self._criteria(lines[0]) if f.effect == "refuse"}
            if hand.refuse and not hand.refusal and not refusing & set(offered.fault_codes):
                offered = replace(offered, refusal=UNTOLD)
        judgement = self.dock.judge(offered, lines)
        return Judged(hand, number, offered, judgement, tuple(dict.fromkeys(self._notes)))

    def faults(self, judged: Judged) -> tuple[Fault, ...]:
        """Return the faults that can be ticked: those of the sale, else the family's present."""
        if judged.judgement and judged.judgement.line:
            return self._criteria(judged.judgement.line)
        if judged.number is None:
            return ()
        family = self.catalogue.family(judged.number.family)
        return self.catalogue.faults(family.key, family.criteria_version)

    def photos(self, hand: Hand) -> int:
        """Return how many photos there are of the core."""
        stored = self.core(hand).photos if hand.tag else 0
        return stored + count_draft_photos(hand.key)

    def proposal(self, hand: Hand) -> Proposal:
        """Return everything a person has to see before saying yes."""
        judged = self.judge(hand)
        needs = self._needs(judged)
        proposal = Proposal(
            outcome=judged.outcome,
            word=PROPOSED_WORDS.get(judged.outcome, "NUMBER?"),
            tone=TONES.get(judged.outcome, "ask"),
            sentence=self._sentence(judged),
            credited_so_far=queries.credited_on(self.lot.key),
            notes=(*self._number_notes(judged), *judged.notes, *self._serial_notes(hand)),
            needs=needs,
        )
        proposal = self._with_line(proposal, judged)
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

    def _criteria(self, line: Line) -> tuple[Fault, ...]:
        return self.catalogue.faults(line.family, line.criteria_version)

    def _known_faults(self, offered: Offered, line: Line) -> Offered:
        """Return the core with the faults its sale knew; the others are said and take nothing."""
        known = {name.casefold() for f in self._criteria(line) for name in (f.code, f.name)}
        unknown = [code for code in offered.fault_codes if code.casefold() not in known]
        for code in dict.fromkeys(unknown):
            self._notes.append(
                f"'{code}' was no acceptance fault at the sale of {line.sold_on} (criteria no. "
                f"{line.criteria_version}): it takes nothing off"
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
        if hand.serial and not hand.tag:
            try:
                self.desk.check_serial(hand.serial)
            except CoretrackError as error:
                needs.append(Need("serial", error.message))
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

    def _with_line(self, proposal: Proposal, judged: Judged) -> Proposal:
        judgement = judged.judgement
        if judgement is None:
            return proposal
        if judgement.line is None or judgement.result is None:
            if judgement.outcome != "excess":
                return proposal
            instead = owed_by_group(queries.open_lines(self._customer(judged)), self.catalogue)
            return replace(proposal, owed_instead=instead, others=self._elsewhere(judged))
        line, result = judgement.line, judgement.result
        taken = judgement.outcome != "refuse"
        teardown = self.catalogue.family(line.family).credit_when == "teardown"
        return replace(
            proposal,
            line=self._line(line, judged),
            others=(
                *(self._line(other, judged) for other in judgement.others),
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

    def _sentence(self, judged: Judged) -> str:
        hand, judgement = judged.hand, judged.judgement
        if judgement is None:
            if not hand.named:
                return "Scan or type the number."
            what = (
                "The number is illegible"
                if hand.illegible
                else f"'{self._text(hand)}' is not known"
            )
            return f"{what}: an unknown core, which earns no credit until it is identified."
        line, result = judgement.line, judgement.result
        if judgement.outcome == "comeback":
            return "A comeback under warranty: it earns no core credit."
        if line is None or result is None or judged.number is None:
            number = judged.number
            group = f"{number.core_group} ({number.group_name})" if number else ""
            return (
                f"{self.source.name} owes no core of group {group}: an excess core. It earns no "
                "credit; it can be refused, or bought at a stated price."
            )
        on = f"line {line.key}, {line.number} sold {line.sold_on}"
        if line.customer != self._customer(judged):
            on += f" to {line.customer}"
        if judgement.outcome == "refuse":
            kept = f"; kept until {judgement.hold_until}" if judgement.hold_until else ""
            return f"No credit: {judgement.why} ({on}){kept}."
        amount = self._money(result.credit)
        if judgement.outcome == "accept":
            said = f"Full credit {amount} on {on}."
        else:
            said = f"{amount} of {self._money(line.charge)} on {on}: {judgement.why}."
        if self.catalogue.family(line.family).credit_when == "teardown":
            said += " Released after teardown."
        return said

    def _text(self, hand: Hand) -> str:
        return hand.number_text or (self.core(hand).number if hand.tag else "")

    def _money(self, amount: Money) -> str:
        return f"{shown(amount)} {self.catalogue.shop.currency}"

    def _number_notes(self, judged: Judged) -> tuple[str, ...]:
        number, notes = judged.number, []
        if number is None:
            near = near_numbers(judged.hand.number_text) if judged.hand.number_text else []
            return (f"Numbers that begin alike: {', '.join(near)}.",) if near else ()
        if number.superseded_by:
            notes.append(f"{number.shown} was superseded by {number.superseded_by}.")
        line = judged.judgement.line if judged.judgement else None
        if line is not None and match_key(line.number) != match_key(number.shown):
            notes.append(
                f"Sold {line.number}, received {number.shown}: both are core group "
                f"{number.core_group} ({number.group_name})."
            )
        return tuple(notes)

    def _serial_notes(self, hand: Hand) -> tuple[str, ...]:
        if not hand.serial or hand.tag:
            return ()
        return tuple(
            f"This body was here before: core {life.tag}, received {life.received_on}, "
            f"now {life.state}."
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
