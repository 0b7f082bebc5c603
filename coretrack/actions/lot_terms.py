"""What was agreed for a purchased lot, told beside its manifest or when it was begun."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from decimal import Decimal

from coretrack.errors import InvalidInput, NotAllowed
from coretrack.figures.money import Money
from coretrack.figures.trade_objects import Lot
from coretrack.records.lot_queries import SORTING
from coretrack.records.writer import Writer

BASES = ("piece", "weight", "lump")
"""A lot is bought by the piece, by weight (per kilogram) or for a lump sum."""


@dataclass(frozen=True)
class Terms:
    """What was agreed for a lot. `price` is per piece, per kilogram or for all, by `basis`.

    `received` and `lot` may be left to the manifest; a lot without a code gets one made of its
    source and day. `mass_kg` is the weigh ticket's total, if there is one.
    """

    source: str
    lot: str = ""
    received: date | None = None
    basis: str = "piece"
    price: Money | None = None
    freight: Money = 0
    mass_kg: Decimal | None = None
    bid_yield: str = ""


def ticket_kg(lot: Lot) -> Decimal | None:
    """Return the kilograms of a begun lot's weigh ticket, boxes taken off; None without one."""
    return Decimal(lot.mass_g) / 1000 if lot.mass_g else None


def begun_lot(writer: Writer, code: str) -> Lot | None:
    """Return the lot with this code if it is being sorted, else None."""
    if not code:
        return None
    lot: Lot | None = writer.find("lot", code)
    return lot if lot is not None and lot.status == SORTING else None


def terms_of_begun(lot: Lot, told: Terms) -> Terms:
    """Return the terms that a begun lot's manifest comes in by: those it was begun with.

    InvalidInput when others are told beside the file; NotAllowed once pieces are sorted by hand.
    """
    if lot.sorting:
        raise NotAllowed(
            f"Lot {lot.key} has pieces sorted by hand already; take those in, and give the "
            "manifest's pieces a lot code of their own."
        )
    mass_kg = ticket_kg(lot)
    same = (
        told.price in (None, lot.price)
        and told.freight in (0, lot.freight)
        and told.mass_kg in (None, mass_kg)
        and told.basis in ("piece", lot.basis)
        and told.bid_yield in ("", lot.bid_yield)
    )
    day = date.fromisoformat(lot.received_on)
    if not same or told.received not in (None, day):
        raise InvalidInput(
            f"Lot {lot.key} was begun with its day, basis, price, freight, mass and bid yield; "
            "leave them out here.",
            {"lot": "begun with its own terms"},
        )
    return Terms(
        told.source, lot.key, day, lot.basis, lot.price, lot.freight, mass_kg, lot.bid_yield
    )
