"""One scan at the receiving station: understood, routed by the page it was made at, answered.

One transaction a scan. A scan that cannot be followed is answered too, in words; nothing of it is
kept but the answer. `offers` says which texts come from an offer instead of a scanner.
"""

from __future__ import annotations

from datetime import datetime
from importlib import import_module
from typing import Any
from zoneinfo import ZoneInfo

from coretrack.actions import blind
from coretrack.actions.acting import Changed, act_once
from coretrack.actions.delivery_scans import DeliveryScans
from coretrack.actions.desks import READING_PAGES, Desk, desk_of, keep_desk
from coretrack.actions.home_scans import HomeScans
from coretrack.actions.lot_sorting import take_scan
from coretrack.actions.scanning import meaning_of
from coretrack.errors import Conflict, CoretrackError, Unavailable
from coretrack.figures.scan_replies import ScanReply, Shown, Spot, reply_from_dict
from coretrack.figures.scan_text import printable
from coretrack.records.database import connection, transaction
from coretrack.records.writer import Writer

BENCH_MODULES = {
    "bench": "bench_scans",
    "rack": "racks",
    "wash": "washes",
    "rework": "rework_bench",
    "second": "second_looks",
    "shelf": "shelf",
    "take": "stock_takes",
    "study": "gauge_studies",
}
"""Module of actions whose `take_scan(writer, code, text, spot, now)` answers a page's scans."""

_STOP_WORDS = {
    "count": "COUNT FIRST",
    "kind": "WHICH?",
    "number": "NUMBER?",
    "photo": "PHOTO?",
    "refusal": "REASON?",
    "status": "NOT OPEN",
}
"""The large word where a core cannot be stored yet, by what is missing first."""


def scan(
    text: str, spot: Spot, *, by: str, station: str, now: datetime, key: str = ""
) -> ScanReply:
    """Act on one scan or typed text and return the answer; with a `key` used before, that answer.

    The same text at the same page within a second acts once (by the page's clock, where it told).
    Unavailable when the database cannot serve: then the scan has to be kept and sent again.
    """
    # Whatever a keyboard may send: no sign that the database could not store.
    plain = text.replace("\x00", "").encode("utf-8", "replace").decode()

    def act(writer: Writer) -> dict[str, Any]:
        desk = desk_of(by, station)
        if desk.is_repeat(plain, spot, now):
            seen = printable(plain.strip()[:40]) or "Enter"
            line = f"{seen} was read twice within a second. It counts once."
            if spot.page in READING_PAGES:
                line = f"{seen} came twice at once. It counts once; type it again if it is another."
            return ScanReply("note", "ONCE", line, repeat=True).to_dict()
        if not desk.may(plain):
            return ScanReply(
                "stop", "NOT OFFERED", "This choice is no longer open; scan again."
            ).to_dict()
        reply = _answered(writer, plain, spot, now)
        zone = ZoneInfo(writer.get("shop", "shop").time_zone)
        desk.note(plain, spot, now, reply, f"{now.astimezone(zone):%H:%M:%S}")
        keep_desk(writer, desk)
        return reply.to_dict()

    return reply_from_dict(act_once("scan", key, act, by=by, station=station, now=now))


def last_results(person: str, station: str) -> tuple[Shown, ...]:
    """Return the last results of a person at a station, newest first, five at most."""
    with connection():
        desk: Desk = desk_of(person, station)
        return tuple(Shown(**shown) for shown in desk.last)


def _answered(writer: Writer, text: str, spot: Spot, now: datetime) -> ScanReply:
    """Return the answer of the page's own rules; a rule that stops it becomes the answer."""
    try:
        # Whatever is raised half-way leaves neither events nor a changed draft behind.
        with transaction(), writer.attempt():
            return _routed(writer, text, spot, now)
    except Unavailable:
        raise
    except Changed as error:
        return ScanReply("ask", "LOOK AGAIN", error.message)
    except Conflict:
        raise
    except CoretrackError as error:
        first = next(iter(error.fields), "")
        seen = error.fields.get("serial") in ("seen before", "twice")
        word = "SEEN BEFORE" if seen or first == "serial" else _STOP_WORDS.get(first, "STOP")
        tone = "ask" if first in _STOP_WORDS and first != "status" else "stop"
        return ScanReply(tone, word, error.message)


def _routed(writer: Writer, text: str, spot: Spot, now: datetime) -> ScanReply:
    if (not_yet := blind.not_yet(text, spot)) is not None:
        return not_yet
    if spot.page == "delivery":
        return DeliveryScans(writer, spot, now).take(text)
    if spot.page == "lot":
        return take_scan(writer, spot.code, meaning_of(text), text=text, spot=spot, now=now)
    if spot.page in BENCH_MODULES:
        # Loaded when first needed: a dock that scans nothing at the bench need not wait for it.
        module = import_module(f"coretrack.actions.{BENCH_MODULES[spot.page]}")
        reply: ScanReply = module.take_scan(writer, spot.code, text, spot, now)
        return reply
    return HomeScans(writer, now).take(text)
