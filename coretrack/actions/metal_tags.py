"""The pool of metal tags: each wired to one core at a time, released before it is wired again.

A scan of a bound tag means its core wherever cores are scanned (`scanning.ShopBook.metal_tag`). A
tag that nobody ever scanned is free: the pool needs no list of its own.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from typing import Any

from coretrack.actions import drafts
from coretrack.actions.acting import act_once
from coretrack.actions.floor_scans import (
    Named,
    called,
    core_named,
    is_now,
    named,
    order_not_here,
    unclear,
)
from coretrack.actions.offers import offer
from coretrack.actions.printing import PrintedFile
from coretrack.actions.typed_fields import typed_reason
from coretrack.errors import InvalidInput, NotAllowed
from coretrack.figures.core_story import StateShown, state_shown
from coretrack.figures.lifecycle import AFTER_BENCH, GONE, CoreFacts
from coretrack.figures.scan_replies import ScanReply
from coretrack.figures.tags import make_shop_code, only_digits, show_tag
from coretrack.figures.trade_objects import Shop
from coretrack.paper.cards import CodeGroup, NamedCode, code_sheet
from coretrack.records import queries, shelf_queries
from coretrack.records.database import connection
from coretrack.records.writer import Writer

POOL = "tags"
"""The spot of the pool's page among those of the wash."""

LAST_TAG = 99_999
MOST_CODES = 200
_WANTED = "Scan a core, then the metal tag for it; or a metal tag to see its core."


@dataclass(frozen=True)
class BoundTag:
    """A metal tag in use; `free_soon` says that its core no longer needs it."""

    number: int
    tag: str
    core_number: str
    family: str
    state: StateShown
    free_soon: bool


@dataclass(frozen=True)
class TagPool:
    """The metal tags in use, and the core that a person scanned last at the pool's page."""

    bound: tuple[BoundTag, ...]
    in_hand: str


def tag_pool(person: str) -> TagPool:
    """Return the tags in use, by number."""
    with connection():
        bound = [
            BoundTag(
                core.metal_tag,
                core.tag,
                core.number,
                core.family,
                state_shown(core),
                core.state in AFTER_BENCH | GONE,
            )
            for core in shelf_queries.cores_with_metal_tags()
        ]
        body = drafts.read_draft(_hand_key(person))
    return TagPool(tuple(bound), body["tag"] if body else "")


def bind(writer: Writer, tag: str, number: int) -> CoreFacts:
    """Wire a metal tag to a core; NotAllowed names the core that carries it already."""
    if not 1 <= number <= LAST_TAG:
        raise InvalidInput(
            f"A metal tag's number is 1 to {LAST_TAG:,}, not {number}.",
            {"number": f"1 to {LAST_TAG:,}"},
        )
    for other in shelf_queries.cores_wearing(number):
        if other.tag == tag:
            return core_named(writer, tag)
        raise NotAllowed(
            f"Metal tag {number} is wired to core {show_tag(other.tag)} ({is_in(other)}); release "
            "it there first.",
            {"number": f"wired to core {show_tag(other.tag)}"},
        )
    core = core_named(writer, tag)
    if core.state in ("scrapped", "built"):
        raise NotAllowed(f"{called(core)}: {core.state_words}; it needs no metal tag.")
    bound: CoreFacts = writer.event("core", tag, "tag bound", {"number": number})
    return bound


def release(writer: Writer, number: int, why: str = "") -> CoreFacts:
    """Take a metal tag off its core, so that it is free; NotAllowed when no core carries it."""
    worn_by = shelf_queries.cores_wearing(number)
    if not worn_by:
        raise NotAllowed(f"Metal tag {number} is on no core; it is free.")
    tag = worn_by[0].tag
    freed: CoreFacts = writer.event("core", tag, "tag released", {"number": number}, why=why)
    return freed


def is_in(core: CoreFacts) -> str:
    """Return a core's state in words."""
    return state_shown(core).words


def bind_typed(tag: str, number: str, *, by: str, station: str, now: datetime, key: str) -> str:
    """Wire the tag whose number was read off it; return what was done."""
    told = typed_number(number)

    def act(writer: Writer) -> dict[str, Any]:
        scan = named(tag)
        if scan.kind != "core":
            raise InvalidInput(
                f"'{tag.strip()}' is no core's tag or serial; scan the core.",
                {"tag": "scan or type the core's tag"},
            )
        core = bind(writer, scan.tag, told)
        return {"said": f"Metal tag {told} is wired to core {show_tag(core.tag)}."}

    return str(act_once("bind tag", key, act, by=by, station=station, now=now)["said"])


def release_typed(number: str, why: str, *, by: str, station: str, now: datetime, key: str) -> str:
    """Free a metal tag; `why` may say that it was lost in the wash. Returns what was done."""
    told, reason = typed_number(number), typed_reason(why)

    def act(writer: Writer) -> dict[str, Any]:
        core = release(writer, told, reason)
        return {"said": f"Metal tag {told} is off core {show_tag(core.tag)} and free."}

    return str(act_once("release tag", key, act, by=by, station=station, now=now)["said"])


def typed_number(text: str) -> int:
    """Return a metal tag's number as typed; InvalidInput says what it has to be."""
    bare = text.strip()
    if not (only_digits(bare) and len(bare) <= 5 and 1 <= int(bare) <= LAST_TAG):
        raise InvalidInput(
            f"The number on a metal tag is a whole number of 1 to {LAST_TAG:,}, not '{bare}'.",
            {"number": f"a whole number of 1 to {LAST_TAG:,}"},
        )
    return int(bare)


def tag_codes(first: str, last: str) -> PrintedFile:
    """Return a sheet of the codes of metal tags `first` to `last` as PDF.

    Stamped tags carry no bars: the sheet hangs at the bench and its code is scanned instead.
    """
    begin, end = typed_number(first), typed_number(last)
    if not begin <= end < begin + MOST_CODES:
        raise InvalidInput(
            f"The last tag must be {begin} to {begin + MOST_CODES - 1}, not {end}.",
            {"last": f"{begin} to {begin + MOST_CODES - 1}"},
        )
    with connection():
        shop = queries.shop() or Shop("shop")
    codes = tuple(
        NamedCode(f"Metal tag {number}", make_shop_code("metal tag", number))
        for number in range(begin, end + 1)
    )
    content = code_sheet("Metal tags", [CodeGroup("Metal tags", codes)], shop.paper_size)
    return PrintedFile(f"metal-tags-{begin}-{end}.pdf", content)


def _hand_key(person: str) -> str:
    return f"metal tags/{person}"


def take_pool_scan(writer: Writer, text: str) -> ScanReply:
    """Act on a scan at the pool's page: a core, then the tag for it; a bound tag shows its core."""
    scan = named(text)
    match scan.kind:
        case "core":
            return _core(writer, scan)
        case "metal tag":
            return _free_tag(writer, scan.number)
        case "offer" if scan.verb == "release":
            core = release(writer, typed_number(scan.argument))
            return ScanReply(
                "good", "FREE", f"Metal tag {scan.argument} is off core {show_tag(core.tag)}."
            )
        case "nothing":
            return ScanReply("note", "READY", _WANTED)
        case "order":
            return order_not_here(scan, _WANTED)
    return unclear(scan, _WANTED)


def _core(writer: Writer, scan: Named) -> ScanReply:
    core = core_named(writer, scan.tag)
    if core.metal_tag:
        free = offer(f"Release metal tag {core.metal_tag}", "release", str(core.metal_tag))
        line = f"Metal tag {core.metal_tag} is on core {show_tag(core.tag)}: {is_in(core)}."
        return ScanReply("note", f"TAG {core.metal_tag}", line, offers=(free,))
    drafts.keep_draft(writer, _hand_key(writer.by), {"tag": core.tag})
    return ScanReply("note", "CORE", is_now(core), "Scan the metal tag that is wired to it.")


def _free_tag(writer: Writer, number: int) -> ScanReply:
    body = drafts.read_draft(_hand_key(writer.by))
    if body is None:
        return ScanReply("note", "FREE", f"Metal tag {number} is on no core.", _WANTED)
    core = bind(writer, body["tag"], number)
    drafts.drop_draft(writer, _hand_key(writer.by))
    return ScanReply(
        "good", f"TAG {number}", f"Metal tag {number} is wired to core {show_tag(core.tag)}."
    )
