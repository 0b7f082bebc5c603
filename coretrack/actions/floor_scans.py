"""What a scan names at wash, shelf and stock-take: a core, a bin or basket, an order, a number."""

from __future__ import annotations

from dataclasses import dataclass

from coretrack.actions.offers import MARK, candidates_offered, offer, taken_apart
from coretrack.actions.scanning import ShopBook
from coretrack.errors import NotFound
from coretrack.figures.core_story import state_shown
from coretrack.figures.lifecycle import CoreFacts
from coretrack.figures.part_numbers import trim
from coretrack.figures.scan_replies import ScanReply
from coretrack.figures.scans import Meaning, read_scan, resolve
from coretrack.figures.tags import only_digits, parse_shop_code, show_tag
from coretrack.figures.trade_objects import Place
from coretrack.records.writer import Writer

ORDER_WORDS = {
    "undo": "undo",
    "again": "undo",
    "redo": "undo",
    "done": "done",
    "next": "next",
    "back": "back",
    "cancel": "cancel",
}
"""Typed words that do what a scanned order does, on every page of bench and shelf."""

TYPED_DIGITS = 3
"""A number of so many digits is a slot or a count; tags and codes are longer."""


@dataclass(frozen=True)
class Named:
    """What a scan names here.

    `kind`: nothing (Enter alone), number (typed digits), offer, core, place, order, metal tag (one
    that no core carries) or unclear. `code` is a place's own code, `verb` an offer's.
    """

    kind: str
    tag: str = ""
    number: int = 0
    code: str = ""
    order: str = ""
    verb: str = ""
    argument: str = ""
    meaning: Meaning | None = None


def named(text: str) -> Named:
    """Return what a text names; nothing is changed. Call with a connection."""
    if text.startswith(MARK):
        verb, argument = taken_apart(text)
        if verb == "text":
            return named(argument)
        if verb == "core":
            return Named("core", tag=argument)
        return Named("offer", verb=verb, argument=argument)
    bare = trim(text)
    if not bare:
        return Named("nothing")
    if bare.casefold() in ORDER_WORDS:
        return Named("order", order=ORDER_WORDS[bare.casefold()])
    if only_digits(bare) and len(bare) <= TYPED_DIGITS:
        return Named("number", number=int(bare))
    meaning = resolve(read_scan(text), ShopBook())
    if meaning.kind in ("core", "serial") and meaning.tag and not meaning.confirm:
        return Named("core", tag=meaning.tag, meaning=meaning)
    if meaning.kind == "shop code":
        return _code(meaning)
    return Named("unclear", meaning=meaning)


def _code(meaning: Meaning) -> Named:
    code = meaning.scan.code or parse_shop_code(meaning.scan.text)
    if code.kind == "order":
        return Named("order", order=code.order or "", meaning=meaning)
    if code.kind in ("bin", "basket", "rack"):
        return Named("place", code=code.text, number=code.number, meaning=meaning)
    if code.kind == "metal tag":
        return Named("metal tag", code=code.text, number=code.number, meaning=meaning)
    return Named("unclear", meaning=meaning)


def unclear(scan: Named, wanted: str) -> ScanReply:
    """Return the answer to a scan that cannot be followed here; `wanted` says what can."""
    meaning = scan.meaning
    if meaning is None:
        return ScanReply("stop", "NOT HERE", wanted)
    if meaning.kind == "shop code":
        return ScanReply("stop", "NOT HERE", f"{meaning.sentence} {wanted}")
    if meaning.confirm and meaning.tag:
        mine = (offer(f"Core {show_tag(meaning.tag)}", "core", meaning.tag),)
        return ScanReply("ask", "THIS ONE?", meaning.sentence, wanted, offers=mine)
    offers = tuple(
        each
        for each in candidates_offered(meaning.candidates, "text")
        if each.scan != f"{MARK}text:{meaning.scan.text}"
    )
    if meaning.kind == "choose":
        return ScanReply("ask", "WHICH?", meaning.sentence, wanted, offers=offers)
    if meaning.kind in ("number", "paper"):
        return ScanReply("stop", "NOT HERE", f"{meaning.sentence} {wanted}")
    word = "NOT READ" if meaning.kind == "refused" else "UNKNOWN"
    return ScanReply("stop", word, meaning.sentence, wanted, offers=offers)


def order_not_here(scan: Named, wanted: str) -> ScanReply:
    """Return the answer to an order that does nothing at this page."""
    return ScanReply("stop", "NOT HERE", f"The order '{scan.order}' does nothing here. {wanted}")


def core_named(writer: Writer, tag: str) -> CoreFacts:
    """Return a core as this transaction sees it; NotFound says what to do."""
    core: CoreFacts | None = writer.find("core", tag)
    if core is None:
        raise NotFound(f"No core carries the tag {show_tag(tag)}; scan it again.")
    return core


def place_named(writer: Writer, scan: Named, kind: str) -> Place:
    """Return the place of a scanned code; NotFound when it is none of the shop's or not of `kind`.

    A card that was never made here may belong to another shop or be a misprint.
    """
    place: Place | None = writer.find("place", scan.code)
    if place is None:
        shown = scan.meaning.sentence if scan.meaning else show_tag(scan.code)
        raise NotFound(
            f"{shown} It is not known here; make its card first, at Labels, Cards and bench sheets."
        )
    if place.kind != kind:
        raise NotFound(f"{place.name} is a {place.kind}; scan the code of a {kind}.")
    return place


def called(core: CoreFacts) -> str:
    """Return "Core 1000 0042 35 (GP-1040)"."""
    number = f" ({core.number})" if core.number else ""
    return f"Core {show_tag(core.tag)}{number}"


def is_now(core: CoreFacts) -> str:
    """Return what a core is now, as a sentence."""
    return f"{called(core)}: {state_shown(core).words}."
