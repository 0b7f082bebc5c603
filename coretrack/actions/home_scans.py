"""Scans at the home page, a list or a core's page: they open the page of what was scanned."""

from __future__ import annotations

from datetime import datetime

from coretrack.actions.cards_told import holds
from coretrack.actions.dock import lines_of_invoice
from coretrack.actions.offers import MARK, candidates_offered, offer, taken_apart
from coretrack.actions.scanning import is_void, meaning_of, void_words
from coretrack.figures.core_story import outcome_of
from coretrack.figures.part_numbers import trim
from coretrack.figures.plain_words import counted
from coretrack.figures.scan_replies import Offer, ScanReply
from coretrack.figures.scan_text import printable
from coretrack.figures.scans import Meaning
from coretrack.figures.tags import parse_shop_code, show_tag
from coretrack.figures.trade_objects import Lot
from coretrack.records import delivery_queries
from coretrack.records.writer import Writer

PAGES = {
    "core": "core",
    "open": "delivery",
    "start": "start",
    "about": "number",
    "lot": "lot",
}
"""Which page the offers open, by verb; "start" is a new delivery with this paper."""


def opened(verb: str, code: str) -> ScanReply:
    """Return the reply that opens the page of an offer."""
    shown = show_tag(code) if verb == "core" else printable(code)
    return ScanReply("note", "OPEN", f"Opening {shown}.", target=PAGES[verb], code=code)


class HomeScans:
    """Answers one scan."""

    def __init__(self, writer: Writer, now: datetime) -> None:
        self.writer = writer
        self.now = now

    def take(self, text: str) -> ScanReply:
        """Return what was scanned and which page it opens."""
        if text.startswith(MARK):
            verb, argument = taken_apart(text)
            return self.take(argument) if verb == "text" else opened(verb, argument)
        if not trim(text):
            return ScanReply("note", "READY", "Scan a tag, a paper, a number or a bin.")
        meaning = meaning_of(text)
        if meaning.kind == "shop code":
            return self._shop_code(meaning)
        if meaning.kind in ("core", "serial") and meaning.tag:
            if meaning.confirm:
                offers = (offer(f"Open core {show_tag(meaning.tag)}", "core", meaning.tag),)
                return ScanReply("ask", "OPEN IT?", meaning.sentence, offers=offers)
            return self._core(meaning)
        if meaning.kind == "number" and meaning.number:
            return ScanReply(
                "note",
                "NUMBER",
                meaning.sentence,
                meaning.message,
                target="number",
                code=meaning.number.number,
            )
        if meaning.kind == "paper" and meaning.paper:
            return self._paper(meaning.paper)
        return self._unsure(meaning)

    def _core(self, meaning: Meaning) -> ScanReply:
        tag = meaning.tag or ""
        if is_void(tag):
            return ScanReply("stop", "VOID TAG", void_words(tag), target="core", code=tag)
        core = self.writer.get("core", tag)
        state = outcome_of(core) or core.state
        line = f"Core {show_tag(tag)}: {core.number or 'no number'}, {state}."
        return ScanReply("note", "CORE", line, meaning.message, target="core", code=tag)

    def _paper(self, paper: str) -> ScanReply:
        lot: Lot | None = self.writer.find("lot", paper)
        lines = lines_of_invoice(paper)
        if lot is not None and not lines:
            return self._lot(lot)
        if lot is not None:
            offers: tuple[Offer, ...] = (
                offer(f"{paper} as a {'delivery' if lot.kind == 'return' else 'lot'}", *_page(lot)),
                offer(f"{paper} as an invoice: start a delivery", "start", paper),
            )
            return ScanReply("ask", "WHICH?", f"{printable(paper)} is two things.", offers=offers)
        return self._invoice(paper)

    def _invoice(self, paper: str) -> ScanReply:
        lines = lines_of_invoice(paper)
        owed = sum(line.owed for line in lines)
        customers = sorted({line.customer for line in lines})
        said = (
            f"Invoice {printable(paper)} of {', '.join(customers)}: {counted(owed, 'core')} owed."
        )
        mine = [
            lot
            for lot in delivery_queries.deliveries("open")
            if lot.source in customers or lot.reference.casefold() == paper.casefold()
        ]
        offers = tuple(offer(f"Open delivery {lot.key}", "open", lot.key) for lot in mine[:3])
        offers += (offer("Start a delivery with this paper", "start", paper),)
        if len(lines) == 1:
            return ScanReply(
                "note", "INVOICE", said, target="line", code=lines[0].key, offers=offers
            )
        return ScanReply(
            "note", "INVOICE", said, target="customer", code=customers[0], offers=offers
        )

    def _lot(self, lot: Lot) -> ScanReply:
        verb, code = _page(lot)
        what = "DELIVERY" if verb == "open" else "LOT"
        stored = counted(lot.pieces, "core")
        line = f"{printable(code)} of {lot.source}, {lot.received_on}: {stored}."
        return ScanReply("note", what, line, target=PAGES[verb], code=code)

    def _shop_code(self, meaning: Meaning) -> ScanReply:
        code = meaning.scan.code or parse_shop_code(meaning.scan.text)
        if code.kind == "lot":
            lot: Lot | None = self.writer.find("lot", f"D-{code.number:04d}")
            if lot is not None:
                return self._lot(lot)
            return ScanReply("stop", "UNKNOWN", f"There is no delivery or lot {code.number}.")
        if code.kind == "bin" and self.writer.find("place", code.text) is not None:
            name = self.writer.get("place", code.text).name
            line = f"{name}: the good bodies in it, and more to be put there."
            return ScanReply("note", "BIN", line, target="shelf", code=f"bin:{code.text}")
        if code.kind in ("basket", "rack") and (said := holds(self.writer, code.text)):
            return ScanReply("note", code.kind.upper(), said)
        if code.kind == "badge":
            return ScanReply("note", "BADGE", "A badge signs a person in, at the sign-in page.")
        return ScanReply(
            "note", code.kind.upper(), f"{meaning.sentence} Nothing is open for it here."
        )

    def _unsure(self, meaning: Meaning) -> ScanReply:
        known = delivery_queries.deliveries_with_reference(meaning.scan.text)
        if len(known) == 1 and meaning.kind == "unknown":
            return self._lot(known[0])
        offers = tuple(offer(f"Open delivery {lot.key}", "open", lot.key) for lot in known[:4])
        offers += candidates_offered(meaning.candidates, "about")
        if meaning.kind == "refused":
            return ScanReply("stop", "NOT READ", meaning.sentence, meaning.message, offers=offers)
        which = "WHICH?" if len(offers) > 1 else "IS IT THIS?"
        word = which if meaning.kind == "choose" else "UNKNOWN"
        return ScanReply("ask", word, meaning.sentence, meaning.message, offers=offers)


def _page(lot: Lot) -> tuple[str, str]:
    """Return the verb that opens a lot's page, and its code."""
    return ("open" if lot.kind == "return" else "lot"), lot.key
