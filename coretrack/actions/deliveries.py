"""Deliveries of returned cores: opened, counted before anything is judged, closed when it agrees.

A delivery is a lot of kind "return". Its code is a D and a running number: short, and easy to say
on the telephone.
"""

from __future__ import annotations

from datetime import datetime
from typing import Any

from coretrack.actions.acting import act_once
from coretrack.actions.customers import taken_for
from coretrack.actions.delivery_fields import pieces_of, read_delivery
from coretrack.actions.delivery_fields import second_counter as checked_second
from coretrack.actions.delivery_views import DeliveryRow, DeliveryView, KnownNames, NewDelivery
from coretrack.actions.lookups import Catalogue
from coretrack.actions.lot_beginning import GIVEN_UP
from coretrack.actions.proposals import delivery_of
from coretrack.actions.receiving import RETURNING
from coretrack.actions.showing import view_of
from coretrack.actions.typed_fields import plain_words
from coretrack.errors import InvalidInput, NotAllowed
from coretrack.figures.plain_words import counted as many
from coretrack.figures.trade_objects import Lot
from coretrack.records import delivery_queries, queries
from coretrack.records.database import connection, snapshot
from coretrack.records.drafts import beginning
from coretrack.records.writer import Writer


def start_delivery(
    told: NewDelivery, *, by: str, station: str, now: datetime, key: str = ""
) -> str:
    """Open a delivery and return its code; InvalidInput names each field that cannot be used.

    A reference that is a known invoice gives the customer where none is told. A customer other
    than the invoice's is taken: a workshop's own customer may send the core. A part of a name that
    only one customer has is taken, and said on the delivery.
    """

    def act(writer: Writer) -> dict[str, Any]:
        fields, source = read_delivery(told, Catalogue(writer), now, by)
        pieces, second = fields.pop("counted"), fields.pop("second")
        name = _next_code(writer)
        fields |= {"key": name, "kind": "return", "paper": name, "status": "open"}
        writer.event("lot", name, "set", fields, why=taken_for(told.customer, source))
        if pieces:
            _count(writer, writer.get("lot", name), pieces, second)
        return {"code": name}

    return str(act_once("delivery", key, act, by=by, station=station, now=now)["code"])


def count_delivery(
    code: str,
    pieces: str | int,
    *,
    by: str,
    station: str,
    now: datetime,
    second_counter: str = "",
    key: str = "",
) -> None:
    """Note how many pieces were counted; counting again keeps the old number in the history.

    From SECOND_COUNT_FROM pieces on a second person counts too.
    """

    def act(writer: Writer) -> dict[str, Any]:
        count_in(writer, code, pieces, second_counter)
        return {}

    act_once("count", key, act, by=by, station=station, now=now)


def count_in(writer: Writer, code: str, pieces: str | int, second_counter: str = "") -> int:
    """Note a count inside the caller's transaction and return it."""
    lot = _open(writer, code)
    number = pieces_of(str(pieces), needed=True)
    _count(writer, lot, number, checked_second(number, second_counter, writer.by))
    return number


def close_delivery(
    code: str,
    *,
    by: str,
    station: str,
    now: datetime,
    difference_by: str = "",
    note: str = "",
    key: str = "",
) -> str:
    """Close a delivery and return its status: closed, or difference with a name looking after it.

    NotAllowed while somebody has one of its cores in hand; InvalidInput when counted and stored
    pieces differ and nobody is named for it.
    """

    def act(writer: Writer) -> dict[str, Any]:
        lot = _open(writer, code)
        _refuse_hands(code)
        if lot.counted == lot.pieces:
            writer.event("lot", code, "set", {"status": "closed"}, why=plain_words(note, "note"))
            return {"status": "closed"}
        who, words = _difference(lot, difference_by, note)
        fields = {"status": "difference", "difference_by": who, "note": _joined(lot.note, words)}
        writer.event("lot", code, "set", fields, why=f"{_gap(lot)} {words}")
        return {"status": "difference"}

    return str(act_once("close", key, act, by=by, station=station, now=now)["status"])


def give_up_delivery(
    code: str, *, by: str, station: str, now: datetime, why: str = "", key: str = ""
) -> None:
    """Give up a delivery that was begun by mistake; it stays in the books as "given up".

    NotAllowed once a core of it is stored, or while one is in somebody's hand.
    """

    def act(writer: Writer) -> dict[str, Any]:
        lot = _open(writer, code)
        if lot.pieces:
            raise NotAllowed(
                f"{many(lot.pieces, 'core')} of delivery {code} came in; take them back first, "
                "or close it."
            )
        _refuse_hands(code)
        reason = plain_words(why, "why") or "begun by mistake, nothing came in"
        writer.event("lot", code, "set", {"status": GIVEN_UP}, why=reason)
        return {}

    act_once("give up delivery", key, act, by=by, station=station, now=now)


def settle_difference(
    code: str, note: str, *, by: str, station: str, now: datetime, key: str = ""
) -> None:
    """Close a delivery whose difference was cleared up; `note` says how."""

    def act(writer: Writer) -> dict[str, Any]:
        lot = delivery_of(writer, code)
        if lot.status != "difference":
            raise NotAllowed(f"Delivery {code} has no difference to settle; it is {_state(lot)}.")
        words = plain_words(note, "note")
        if not words:
            raise InvalidInput("Say how the difference was cleared up.", {"note": "missing"})
        fields = {"status": "closed", "note": _joined(lot.note, words)}
        writer.event("lot", code, "set", fields, why=words)
        return {}

    act_once("settle", key, act, by=by, station=station, now=now)


def reopen(
    code: str, *, by: str, station: str, now: datetime, why: str = "", key: str = ""
) -> None:
    """Open a closed delivery again, to take in more cores or to undo one."""

    def act(writer: Writer) -> dict[str, Any]:
        lot = delivery_of(writer, code)
        if lot.status not in ("closed", "difference", GIVEN_UP):
            raise NotAllowed(f"Delivery {code} is {_state(lot)}; only a closed one is reopened.")
        fields = {"status": "open", "difference_by": ""}
        writer.event("lot", code, "set", fields, why=plain_words(why, "why"))
        return {}

    act_once("reopen", key, act, by=by, station=station, now=now)


def delivery_view(code: str, person: str, *, now: datetime) -> DeliveryView:
    """Return everything that the page of a delivery shows to a person."""
    with snapshot():
        writer = Writer(person, now)
        return view_of(writer, delivery_of(writer, code), now)


def known_people_and_customers() -> KnownNames:
    """Return whose cores can be told when a delivery is opened, and who can count it too."""
    with connection():
        customers = tuple(source for source in queries.sources() if source.kind in RETURNING)
        return KnownNames(customers, tuple(delivery_queries.people_here()))


def deliveries(*statuses: str) -> tuple[DeliveryRow, ...]:
    """Return the deliveries of these statuses (all when none is named), newest first."""
    wanted = statuses or ("open", "difference", "closed")
    with connection():
        names = {source.key: source.name for source in queries.sources()}
        return tuple(
            DeliveryRow(
                code=lot.key,
                status=lot.status,
                customer=lot.source,
                customer_name=names.get(lot.source, lot.source),
                reference=lot.reference,
                arrived_on=lot.arrived_on,
                received_on=lot.received_on,
                counted=lot.counted,
                taken=lot.pieces,
                difference_by=lot.difference_by,
            )
            for lot in delivery_queries.deliveries(*wanted)
        )


def _next_code(writer: Writer) -> str:
    while True:
        name = f"D-{writer.next_number('deliveries'):04d}"
        if not delivery_queries.name_taken(name):
            return name


def _count(writer: Writer, lot: Lot, pieces: int, second: str) -> None:
    who = f"counted by {writer.by}" + (f" and {second}" if second else "")
    again = f"; was {lot.counted}" if lot.counted and lot.counted != pieces else ""
    writer.event("lot", lot.key, "set", {"counted": pieces}, why=f"{pieces} {who}{again}")


def _open(writer: Writer, code: str) -> Lot:
    lot = delivery_of(writer, code)
    if lot.status != "open":
        raise NotAllowed(f"Delivery {code} is {_state(lot)}; reopen it first.")
    return lot


def _state(lot: Lot) -> str:
    if not lot.status:
        return "in by file"
    return "closed with a difference" if lot.status == "difference" else lot.status


def _refuse_hands(code: str) -> None:
    """Raise NotAllowed while a core of the delivery is in somebody's hand."""
    busy = sorted({draft.person for draft in beginning(f"core/{code}/")})
    if busy:
        have = "has a core" if len(busy) == 1 else "have cores"
        who = " and ".join(busy)
        raise NotAllowed(f"{who} {have} of {code} in hand; store or put it back first.")


def _difference(lot: Lot, difference_by: str, note: str) -> tuple[str, str]:
    who = delivery_queries.person_called(difference_by) if difference_by.strip() else None
    words = plain_words(note, "note")
    wrong: dict[str, str] = {}
    if who is None:
        known = ", ".join(delivery_queries.people_here()) or "nobody yet"
        wrong["difference_by"] = f"Name somebody of the shop who looks after it ({known})."
    if not words:
        wrong["note"] = "Say in a few words what is known of the difference."
    if who is None or wrong:
        raise InvalidInput(f"{_gap(lot)} {' '.join(wrong.values())}", wrong)
    return who, words


def _gap(lot: Lot) -> str:
    return f"{lot.counted} counted and {lot.pieces} stored."


def _joined(before: str, more: str) -> str:
    return f"{before}; {more}" if before else more
