"""Deliveries of returned cores: opened, counted before anything is judged, closed when it agrees.

A delivery is a lot of kind "return". Its code is a D and a running number: short, and easy to say
on the telephone.
"""

from __future__ import annotations

from datetime import date, datetime
from typing import Any

from coretrack.actions.acting import act_once
from coretrack.actions.delivery_views import (
    GOODS,
    SECOND_COUNT_FROM,
    DeliveryRow,
    DeliveryView,
    KnownNames,
    NewDelivery,
)
from coretrack.actions.dock import lines_of_invoice
from coretrack.actions.lookups import Catalogue
from coretrack.actions.proposals import delivery_of
from coretrack.actions.receiving import RETURNING
from coretrack.actions.showing import view_of
from coretrack.actions.typed_fields import clean_code, plain_words
from coretrack.errors import CoretrackError, InvalidInput, NotAllowed
from coretrack.figures.numbers import NotANumber, parse_number
from coretrack.figures.plain_words import counted as many
from coretrack.figures.table_values import RowProblem
from coretrack.figures.trade_objects import Lot, Source
from coretrack.records import delivery_queries, queries
from coretrack.records.database import connection, snapshot
from coretrack.records.drafts import beginning
from coretrack.records.writer import Writer

MOST_PIECES = 5000


def start_delivery(
    told: NewDelivery, *, by: str, station: str, now: datetime, key: str = ""
) -> str:
    """Open a delivery and return its code; InvalidInput names each field that cannot be used.

    A reference that is a known invoice gives the customer where none is told. A customer other
    than the invoice's is taken: a workshop's own customer may send the core.
    """

    def act(writer: Writer) -> dict[str, Any]:
        fields = _read(told, Catalogue(writer), now, by)
        pieces, second = fields.pop("counted"), fields.pop("second")
        name = _next_code(writer)
        fields |= {"key": name, "kind": "return", "paper": name, "status": "open"}
        writer.event("lot", name, "set", fields)
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
    number = _pieces(str(pieces), needed=True)
    _count(writer, lot, number, _second(number, second_counter, writer.by))
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
        if lot.status not in ("closed", "difference"):
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


def _read(told: NewDelivery, catalogue: Catalogue, now: datetime, by: str) -> dict[str, Any]:
    """Return a delivery's fields as stored; one InvalidInput names everything that is wrong."""
    wrong: dict[str, str] = {}
    fields: dict[str, Any] = {"pieces": 0}
    today = now.astimezone(catalogue.zone).date()
    readers = {
        "reference": lambda: clean_code(told.reference, "reference"),
        "carrier": lambda: plain_words(told.carrier, "carrier"),
        "note": lambda: plain_words(told.note, "note"),
        "arrived_on": lambda: _arrived(told.arrived_on, today),
        "counted": lambda: _pieces(told.pieces, needed=False),
        "basis": lambda: _goods(told.goods),
    }
    for name, read in readers.items():
        try:
            fields[name] = read()
        except CoretrackError as error:
            wrong |= error.fields or {name: error.message}
    for name, read in {
        "source": lambda: _customer(told.customer, fields.get("reference", ""), catalogue).key,
        "second": lambda: _second(fields.get("counted", 0), told.second_counter, by),
    }.items():
        try:
            fields[name] = read()
        except CoretrackError as error:
            wrong |= error.fields or {name: error.message}
    if wrong:
        raise InvalidInput(" ".join(dict.fromkeys(wrong.values())), wrong)
    return {**fields, "received_on": today.isoformat()}


def _customer(told: str, reference: str, catalogue: Catalogue) -> Source:
    """Return the customer told, else the one of the invoice; it sends cores back, not sells."""
    name = plain_words(told, "customer")
    if not name:
        owners = {line.customer for line in lines_of_invoice(reference)} if reference else set()
        if len(owners) != 1:
            raise _field(
                "customer",
                "Say whose cores these are: a customer's code or name, or a known invoice.",
            )
        name = owners.pop()
    try:
        source = catalogue.source(name, "customer")
    except RowProblem as error:
        raise _field("customer", f"Customer '{name}': {error}.") from None
    if source.kind not in RETURNING:
        raise _field(
            "customer",
            f"{source.name} is a {source.kind}: its cores are a bought lot, not a delivery of "
            "returns.",
        )
    return source


def _arrived(told: str, today: date) -> str:
    text = told.strip()
    if not text:
        return today.isoformat()
    try:
        day = date.fromisoformat(text)
    except ValueError:
        raise _field(
            "arrived_on", f"'{text}' is no day; write it like {today.isoformat()}."
        ) from None
    if day > today:
        raise _field(
            "arrived_on", f"{text} is after today ({today.isoformat()}); give the carrier's day."
        )
    return day.isoformat()


def _pieces(told: str, *, needed: bool) -> int:
    """Return a counted number of pieces; 0 where none is told and none is needed."""
    if not told.strip() and not needed:
        return 0
    right = f"give a whole number from 1 to {MOST_PIECES}"
    try:
        number = parse_number(told)
    except NotANumber as error:
        raise _field("pieces", f"The count '{told.strip()}': {error}; {right}.") from None
    if number == 0 and not needed:
        return 0
    if number != int(number) or not 1 <= number <= MOST_PIECES:
        raise _field("pieces", f"The count '{told.strip()}' cannot be right: {right}.")
    return int(number)


def _second(pieces: int, told: str, by: str) -> str:
    """Return who counted too; large deliveries are counted by two people."""
    name = plain_words(told, "second_counter")
    if name.casefold() == by.casefold():
        raise _field("second_counter", f"{by} counted already; name somebody else.")
    if pieces >= SECOND_COUNT_FROM and not name:
        raise _field(
            "second_counter",
            f"{many(pieces, 'piece')} are counted by two people: say who counted too.",
        )
    return name


def _goods(told: str) -> str:
    if told not in GOODS:
        raise _field("goods", f"'{told}' is not a kind of delivery; use {', '.join(GOODS)}.")
    return told


def _field(name: str, message: str) -> InvalidInput:
    return InvalidInput(message, {name: message})


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
        raise NotAllowed(f"{' and '.join(busy)} {have} of {code} in hand; store or drop it first.")


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
