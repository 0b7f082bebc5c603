"""A purchased lot is begun when it stands in the yard: from whom, on what terms, by what paper.

Nothing is in the books yet but the lot itself; its pieces come in once they are sorted.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime
from typing import Any

from coretrack.actions import drafts
from coretrack.actions.acting import act_once
from coretrack.actions.lookups import Catalogue
from coretrack.actions.lot_fields import Fields, lot_grams, whole_count
from coretrack.actions.lot_terms import BASES
from coretrack.actions.receiving import RETURNING, ManifestTerms, manifest_terms
from coretrack.actions.typed_fields import clean_code, plain_words
from coretrack.errors import InvalidInput, NotAllowed, NotFound
from coretrack.figures.dates import shop_day
from coretrack.figures.stray_codes import why_a_code
from coretrack.figures.trade_objects import Lot, Source
from coretrack.records import queries
from coretrack.records.lot_queries import SORTING
from coretrack.records.writer import Writer

GIVEN_UP = "given up"

_EARLIEST = date(2000, 1, 1)


@dataclass(frozen=True)
class NewLot:
    """What is typed when a lot is begun, each as typed; masses are in kilograms.

    `source` is a code or name, an empty `lot` lets the shop give the code, an empty `received` is
    today. `price` is per piece, per kilogram or for all, by `basis`. `pieces` is what the paper
    says, empty when it says nothing.
    """

    source: str = ""
    lot: str = ""
    received: str = ""
    carrier: str = ""
    reference: str = ""
    basis: str = "piece"
    price: str = ""
    freight: str = ""
    gross: str = ""
    tare: str = ""
    bid_yield: str = ""
    pieces: str = ""


def begin(told: NewLot, *, by: str, station: str, now: datetime, key: str) -> str:
    """Store a lot that is going to be sorted and return its code; the same key acts once.

    InvalidInput names every field that cannot be used, and what would be right.
    """

    def act(writer: Writer) -> dict[str, Any]:
        detail = _read(told, Catalogue(writer), now)
        writer.event("lot", detail["key"], "set", detail)
        return {"code": detail["key"]}

    answer = act_once("begin lot", key, act, by=by, station=station, now=now)
    return str(answer["code"])


def give_up(code: str, *, by: str, station: str, now: datetime, key: str) -> None:
    """Give a begun lot up: nothing of it comes in. NotAllowed once pieces are sorted."""

    def act(writer: Writer) -> dict[str, Any]:
        lot = lot_being_sorted(writer, code)
        if lot.sorting:
            raise NotAllowed(
                f"Lot {code} has pieces sorted already; take them out of its rows first, or take "
                "the lot in."
            )
        writer.event("lot", code, "set", {"status": GIVEN_UP}, why="given up before sorting")
        drop_hands(writer, code)
        return {}

    act_once("give up lot", key, act, by=by, station=station, now=now)


def purchase(writer: Writer, code: str) -> Lot:
    """Return a purchased lot; NotFound when there is none of this code."""
    lot: Lot | None = writer.find("lot", code)
    if lot is None or lot.kind != "purchase":
        raise NotFound(f"There is no purchased lot '{code}'; look in the list of lots.")
    return lot


def lot_being_sorted(writer: Writer, code: str) -> Lot:
    """Return a lot that is being sorted; NotAllowed when it is closed or given up."""
    lot = purchase(writer, code)
    if lot.status != SORTING:
        raise NotAllowed(
            f"Lot {code} is {lot.status or 'in by its manifest'}: nothing more can be sorted into "
            "it. Begin a lot of its own for late pieces."
        )
    return lot


def hand_key(code: str, person: str) -> str:
    """Return the key of the draft that holds what a person sorted last."""
    return f"lot/{code}/{person}"


def drop_hands(writer: Writer, code: str) -> None:
    """Forget what everybody had in hand of a lot."""
    for draft in drafts.drafts_beginning(hand_key(code, "")):
        if draft.key == hand_key(code, draft.person):
            drafts.drop_draft(writer, draft.key)


def _read(told: NewLot, catalogue: Catalogue, now: datetime) -> dict[str, Any]:
    """Return the new lot's facts; InvalidInput with every wrong field."""
    fields = Fields()
    today = shop_day(now, catalogue.zone)
    source = fields.read("source", lambda: _seller(told.source, catalogue), None)
    day = fields.read("received", lambda: _day(told.received, today), today)
    basis = fields.read("basis", lambda: _basis(told.basis), "piece")
    price = fields.read("price", lambda: _price(told.price), 0)
    freight = fields.read("freight", lambda: _terms(freight=told.freight).freight, 0)
    bid = fields.read("bid_yield", lambda: _terms(bid_yield=told.bid_yield.strip()).bid_yield, "")
    gross, tare = read_ticket(fields, told.gross, told.tare)
    pieces = fields.read("pieces", lambda: on_paper(told.pieces), 0)
    carrier = fields.read("carrier", lambda: plain_words(told.carrier, "carrier"), "")
    reference = fields.read("reference", lambda: plain_words(told.reference, "paper"), "")
    lot = fields.read("lot", lambda: _new_code(told.lot), "")
    fields.settle()
    assert source is not None, "a source that is not known was noted as a problem"
    estimate = {"on_paper": pieces, "gross_g": gross, "tare_g": tare}
    return {
        "key": lot or _made_code(source, day),
        "kind": "purchase",
        "source": source.key,
        "received_on": day.isoformat(),
        "arrived_on": day.isoformat(),
        "basis": basis,
        "price": price,
        "freight": freight,
        "mass_g": gross - tare,
        "bid_yield": bid,
        "status": SORTING,
        "carrier": carrier,
        "reference": reference,
        "estimate": {name: value for name, value in estimate.items() if value},
    }


def _seller(text: str, catalogue: Catalogue) -> Source:
    if not text.strip():
        raise InvalidInput("Say who sold the lot: the code or the name of a broker or yard.")
    source = catalogue.source(text.strip(), "source")
    if source.kind in RETURNING:
        raise InvalidInput(
            f"{source.name or source.key} is a {source.kind}: such cores come back on a sale and "
            "are credited, not bought as a lot. Begin a delivery for them."
        )
    return source


def _day(text: str, today: date) -> date:
    day = _terms(received=text.strip()).received or today
    if not _EARLIEST <= day <= today:
        raise InvalidInput(
            f"{day.isoformat()} cannot be the day it came in; today is {today.isoformat()}, and "
            "the lot is here already."
        )
    return day


def _basis(text: str) -> str:
    if text not in BASES:
        raise InvalidInput("Choose how the lot was bought: by the piece, by weight or as a lump.")
    return text


def _price(text: str) -> int:
    found = _terms(price=text.strip()).price
    if found is None:
        raise InvalidInput("The price is missing; type 0 if nothing is paid.")
    return found


def _terms(**told: str) -> ManifestTerms:
    """Read one field the way the same thing is read beside a manifest."""
    return manifest_terms(None, **told)


def read_ticket(fields: Fields, gross: str, tare: str) -> tuple[int, int]:
    """Return the weigh ticket's gross and tare in grams, 0 and 0 when there is none."""
    if not gross.strip() and not tare.strip():
        return 0, 0
    for name, text, other in (("gross", gross, "tare"), ("tare", tare, "gross")):
        if not text.strip():
            fields.problems[name] = (
                f"The {other} mass is given and the {name} mass is not; the weigh ticket has both "
                "(tare 0 when the pieces were weighed without boxes)."
            )
    if "gross" in fields.problems or "tare" in fields.problems:
        return 0, 0
    whole = fields.read("gross", lambda: lot_grams(gross, "gross mass"), 0)
    boxes = fields.read("tare", lambda: lot_grams(tare, "tare mass"), 0)
    if whole <= boxes and not {"gross", "tare"} & fields.problems.keys():
        fields.problems["tare"] = (
            "The boxes alone weigh as much as the lot with them; check whether gross and tare "
            "were swapped."
        )
    return whole, boxes


def on_paper(text: str) -> int:
    """Return how many pieces the seller's paper says, 0 when it says nothing."""
    if not text.strip():
        return 0
    pieces = whole_count(text, "number of pieces on the paper")
    if not pieces:
        raise InvalidInput("A paper that says 0 pieces says nothing; leave it empty.")
    return pieces


def _new_code(text: str) -> str:
    """Return the lot code that was typed, "" when the shop gives one."""
    told = clean_code(text, "lot")
    stray = why_a_code(told) if told.isdigit() else ""
    if stray:
        raise InvalidInput(f"The lot code: {stray}; type another code or leave it empty.")
    if told and (known := queries.papers(told)):
        raise InvalidInput(
            f"{known[0]} is an invoice, a delivery or a lot already; choose another code, or leave "
            "it empty."
        )
    return told


def _made_code(source: Source, day: date) -> str:
    """Return a free code made of source and day, as a manifest without a lot code gets one."""
    plain = f"{source.key}-{day.isoformat()}"
    number, made = 1, plain
    while queries.papers(made):
        number += 1
        made = f"{plain}-{number}"
    return made
