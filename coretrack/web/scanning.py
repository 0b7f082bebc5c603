"""The scan box's own address: one scan in, one reply out, as JSON for the script or as a form."""

from __future__ import annotations

from typing import Any

from flask import flash, jsonify, redirect, request, url_for
from flask.typing import ResponseReturnValue

from coretrack.actions import station_scans
from coretrack.actions.offers import MARK
from coretrack.figures.scan_replies import ScanReply, Spot
from coretrack.web import bench, gauges, racks, rework, second_looks, shelf, washes
from coretrack.web.here import only, person
from coretrack.web.lots import lot_part
from coretrack.web.one_scan import CLERKS_PAGES, act_on
from coretrack.web.panel import say
from coretrack.web.paper_trail import labels_for
from coretrack.web.receiving import delivery_part, pages
from coretrack.web.reply_address import address_of

LONGEST_SCAN = 4000

_PARTS = {
    "bench": (bench, "part"),
    "rack": (racks, "part"),
    "wash": (washes, "part"),
    "rework": (rework, "part"),
    "second": (second_looks, "part"),
    "shelf": (shelf, "part"),
    "take": (shelf, "take_part"),
    "study": (gauges, "study_part"),
}
"""Where each page's `part(code)` is: the fresh inside of its work, and its spot."""


@pages.post("/scan")
@only("clerk", "inspector")
def scan() -> ResponseReturnValue:
    """Act on one scan; sent again with the same key it acts once and answers the same."""
    told: Any = (request.get_json(silent=True) or {}) if request.is_json else request.form
    spot = Spot(
        str(told.get("page") or "home"),
        str(told.get("code") or ""),
        str(told.get("seen") or ""),
        _whole(told.get("at")),
    )
    key = str(told.get("key") or "")
    reply = act_on(_text(told)[:LONGEST_SCAN], spot, key)
    wash = spot.code if spot.page == "wash" else ""
    labels = labels_for(reply.print_tags, key, wash=wash, back=_address(spot))
    go, open_ = _where(reply, spot, str(told.get("text") or ""))
    if not request.is_json:
        say(reply.tone, reply.word, reply.line, f"{reply.detail} {labels.words}".strip())
        if open_:
            flash("Open it", f"open:{open_}")
        return redirect(go or labels.address or _address(spot), 303)
    return jsonify(
        {**_answer(reply, spot, go, labels.address, labels.words), "open": open_ or None}
    )


def _where(reply: ScanReply, spot: Spot, text: str) -> tuple[str, str]:
    """Return the address the page goes to, and the one that it only offers; each may be empty.

    Where something is offered the page stays, so that it can be chosen. A delivery or a lot at work
    is never left by a scan: the next piece would be counted nowhere. A person who chooses "open …"
    among the offers, or scans the order that leads back, wants to go.
    """
    address = "" if reply.offers else address_of(reply.target, reply.code)
    at_work = spot.page in CLERKS_PAGES
    if at_work and reply.target != "home" and not text.startswith(MARK):
        return "", address
    return address, ""


def _answer(reply: ScanReply, spot: Spot, go: str, paper: str, words: str) -> dict[str, Any]:
    here = person()
    html, seen = ("", spot) if go else _part(spot)
    told = reply.to_dict()
    if words:
        told["detail"] = f"{told['detail']} {words}".strip()
    return {
        "reply": told,
        "go": go or None,
        "html": html or None,
        "spot": {"page": seen.page, "code": seen.code, "seen": seen.seen},
        "last": [
            {"tone": shown.tone, "word": shown.word, "line": shown.line, "at": shown.at}
            for shown in station_scans.last_results(here.name, here.station)
        ],
        "print": paper or None,
    }


def _part(spot: Spot) -> tuple[str, Spot]:
    """Return the fresh inside of the page's work, and what the person sees proposed in it."""
    if spot.page == "delivery":
        return delivery_part(spot.code)
    if spot.page == "lot":
        return lot_part(spot.code)
    module, name = _PARTS.get(spot.page, (None, ""))
    part = getattr(module, name, None)
    return part(spot.code) if part else ("", spot)


def _address(spot: Spot) -> str:
    """Return the page a scan was made on."""
    if spot.page == "delivery":
        return url_for("receiving.delivery", code=spot.code)
    return address_of(spot.page, spot.code) or url_for("receiving.home")


def _text(told: Any) -> str:
    """Return what was scanned; without the script a button's word comes beside the empty box."""
    if request.is_json:
        return str(told.get("text") or "")
    return next((text for text in told.getlist("text") if text.strip()), "")


def _whole(value: Any) -> int:
    return value if isinstance(value, int) and not isinstance(value, bool) else 0
