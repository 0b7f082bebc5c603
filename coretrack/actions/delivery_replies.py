"""How the dock's results are said at arm's length: one large word, one line, what can be chosen."""

from __future__ import annotations

from dataclasses import replace

from coretrack.actions.delivery_views import DONE_WORDS, LineShown, Proposal, Stored
from coretrack.actions.dock import lines_of_invoice
from coretrack.actions.hands import Hand
from coretrack.actions.lookups import near_numbers
from coretrack.actions.offers import MOST_OFFERS, offer
from coretrack.actions.proposals import Judging
from coretrack.actions.scanning import void_words
from coretrack.actions.undoing import acts_of
from coretrack.figures.core_story import outcome_of
from coretrack.figures.history import canonical
from coretrack.figures.lifecycle import CoreFacts
from coretrack.figures.money import shown
from coretrack.figures.scan_replies import Offer, ScanReply
from coretrack.figures.scan_text import printable
from coretrack.figures.tags import show_tag
from coretrack.figures.trade_objects import Lot
from coretrack.records.happenings import history
from coretrack.records.writer import Writer

_LINES_OFFERED = 4


def proposed(judging: Judging, hand: Hand) -> ScanReply:
    """Return what is proposed for the core in hand, what is still asked, and what to choose."""
    proposal = judging.proposal(hand)
    first = proposal.needs[0].field if proposal.needs else ""
    return replace(proposal_said(proposal), offers=_offers(judging, hand, proposal, first))


def proposal_said(proposal: Proposal) -> ScanReply:
    """Return a proposal at arm's length: its word, its tone, its sentence and what is missing."""
    needs = [need.text for need in proposal.needs]
    word, tone = proposal.word, "note"
    if needs or proposal.outcome in ("part credit", "refuse", "excess"):
        tone = "ask"
    first = proposal.needs[0].field if needs else ""
    if first in _NEED_WORDS:
        word = _NEED_WORDS[first]
        tone = "stop" if first == "serial" else tone
    line = needs[0] if first in _NEED_WORDS else proposal.sentence
    detail = [proposal.sentence] if line != proposal.sentence else []
    detail += [text for text in needs if text != line]
    detail += proposal.notes
    return ScanReply(tone, word, line, " ".join(detail))


_NEED_WORDS = {"kind": "WHICH?", "number": "NUMBER?", "refusal": "REASON?", "serial": "SEEN BEFORE"}
"""Needs that go before the proposal itself; the others are said after it."""


def _offers(judging: Judging, hand: Hand, proposal: Proposal, first: str) -> tuple[Offer, ...]:
    if first == "kind":
        return (
            offer("Core, for credit", "kind", "core"),
            offer("Comeback under warranty", "kind", "comeback"),
        )
    if first == "number":
        return (offer("The number is illegible", "illegible"),)
    if first == "serial":
        return (
            offer("Its serial cannot be read, or is disputed", "no serial"),
            offer("Put the core back, nothing of it is stored", "drop"),
        )
    if proposal.outcome == "unknown" and hand.number_text:
        near = near_numbers(hand.number_text)
        return tuple(offer(f"Number {number}", "number", number) for number in near)
    if proposal.outcome == "comeback":
        return ()
    currency = judging.catalogue.shop.currency
    return tuple(
        offer(_line_words(line, currency), "line", line.key)
        for line in proposal.others[:_LINES_OFFERED]
    )


def _line_words(line: LineShown, currency: str) -> str:
    whose = f" to {line.customer}" if line.customer else ""
    return (
        f"Line {line.key}: {line.number} sold {line.sold_on}{whose}, "
        f"{shown(line.charge)} {currency}, {line.owed} owed"
    )


def stored_reply(stored: Stored, currency: str) -> ScanReply:
    """Return the answer to a core that was stored."""
    amount = f"{shown(stored.amount)} {currency}. " if stored.amount else ""
    return ScanReply(
        stored.tone,
        stored.word,
        f"{amount}{stored.sentence}",
        f"Kept until {stored.hold_until}." if stored.hold_until else "",
        print_tags=stored.print_tags,
        undo=f"core {show_tag(stored.tag)}, {stored.word.lower()}",
    )


def unfinished(judging: Judging, hand: Hand, number: str, serial: str) -> ScanReply:
    """Ask what the next number means while a core is in hand that is not stored yet."""
    proposal = judging.proposal(hand)
    held = hand.number_text or hand.tag or "a core with an illegible number"
    offers = []
    if proposal.ready:
        what = f"Store {held} ({proposal.word.lower()}), then take {number}"
        offers.append(offer(what, "next", canonical([number, serial])))
    if number != hand.number_text and not hand.tag:
        offers.append(offer(f"{number} is the number of the core in hand", "number", number))
    offers.append(offer(f"Put {held} back and take {number}", "instead", number))
    offers.append(offer(f"Go on with {held}", "keep"))
    line = f"{printable(held)} is in hand and not stored yet."
    needs = " ".join(need.text for need in proposal.needs)
    return ScanReply("ask", "IN HAND", line, needs, offers=tuple(offers[:MOST_OFFERS]))


def core_said(writer: Writer, lot: Lot, tag: str) -> ScanReply:
    """Say what a core is whose tag was scanned; its page is only offered."""
    core: CoreFacts = writer.get("core", tag)
    currency = writer.get("shop", "shop").currency
    shown_tag = show_tag(tag)
    open_page = offer(f"Open core {shown_tag}", "core", tag)
    if core.state == "taken back":
        return ScanReply("stop", "VOID TAG", void_words(tag), offers=(open_page,))
    outcome = outcome_of(core) or ("counted" if core.family else "unknown")
    earned = f", {shown(core.credit)} {currency}" if core.credit else ""
    on = f" on line {core.line}" if core.line else ""
    what = f"Core {shown_tag}: {core.number or 'no number'}, {outcome}{earned}{on}"
    if core.lot != lot.key:
        line = f"{what}; it came in with {printable(core.lot)}."
        return ScanReply("ask", "OTHER CORE", line, offers=(open_page,))
    acts = acts_of(history("core", tag)).get(tag, [])
    by = f", by {acts[-1].by}" if acts else ""
    offers: tuple[Offer, ...] = (open_page,)
    if core.state in ("counted", "unknown"):
        offers = (offer("Judge it now", "judge", tag), open_page)
    word = DONE_WORDS.get(outcome, outcome.upper())
    return ScanReply("note", word, f"{what}{by}.", f"State: {core.state}.", offers=offers)


def invoice_said(writer: Writer, lot: Lot, paper: str) -> ScanReply:
    """Say whose invoice it is and what is owed on it."""
    lines = lines_of_invoice(paper)
    owners = sorted({line.customer for line in lines})
    names = [writer.get("source", owner).name for owner in owners]
    owed = (
        ", ".join(f"{line.owed} of {line.number}" for line in lines if line.owed > 0)
        or "no core any more"
    )
    said = f"Invoice {printable(paper)} of {', '.join(names)}: owes {owed}."
    if lot.source in owners:
        return ScanReply("note", "INVOICE", said, "Scan the number of the core.")
    return ScanReply("ask", "OTHER NAME", said, f"This delivery is {lot.source}'s.")
