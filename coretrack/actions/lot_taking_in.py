"""A sorted lot comes into the books: its pieces become cores with tags, each with its cost.

What it will cost a piece is shown first and needs a yes. A count that differs from the seller's
paper is said with the money it means and noted; the claim is the shop's own matter.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime
from fractions import Fraction
from typing import Any

from coretrack.actions.acting import act_once
from coretrack.actions.arrivals import ArrivalDesk
from coretrack.actions.bought_pieces import BoughtPiece, Shares, piece_mass, spread, tag_pieces
from coretrack.actions.desk_day import expect_seen
from coretrack.actions.lookups import Catalogue
from coretrack.actions.lot_beginning import drop_hands, lot_being_sorted
from coretrack.actions.lot_rows import SortedRow, pieces_in, rows_of
from coretrack.actions.lot_terms import ticket_kg
from coretrack.errors import InvalidInput, NotAllowed
from coretrack.figures.money import Money, shown, whole
from coretrack.figures.plain_words import counted
from coretrack.figures.trade_objects import Lot
from coretrack.records.writer import Writer


@dataclass(frozen=True)
class RowCost:
    """What the pieces of one row cost: all together, and the least and the most of one."""

    total: Money
    low: Money
    high: Money


@dataclass(frozen=True)
class TakingIn:
    """What would come in: the pieces in sorted order and their shares, or why they cannot.

    `rows` are the costs of the lot's rows, freight in them. `differences` are sentences about the
    count against paper and estimate. `why` is empty when the lot can be taken in.
    """

    pieces: tuple[BoughtPiece, ...] = ()
    shares: Shares | None = None
    rows: tuple[RowCost, ...] = ()
    differences: tuple[str, ...] = ()
    why: str = ""


def taking_in(lot: Lot, catalogue: Catalogue) -> TakingIn:
    """Return what taking the lot in would store."""
    rows = rows_of(lot)
    if not rows:
        return TakingIn(why="Nothing is sorted yet; scan the first piece.")
    catalogue.learn_numbers(row.number for row in rows if row.number)
    each = [_piece(row, catalogue) for row in rows]
    differences = count_differences(lot, pieces_in(rows), catalogue.shop.currency)
    unweighed = [
        row.name
        for row, piece in zip(rows, each, strict=True)
        if lot.basis == "weight" and not lot.mass_g and piece_mass(piece, catalogue) is None
    ]
    if unweighed:
        why = (
            "The lot is bought by weight, there is no weigh ticket, and these pieces have no known "
            f"mass: {', '.join(unweighed)}. Type their mass or the weigh ticket."
        )
        return TakingIn(differences=differences, why=why)
    pieces = [piece for row, piece in zip(rows, each, strict=True) for _ in range(row.count)]
    shares = spread(
        pieces,
        catalogue,
        basis=lot.basis,
        price=lot.price,
        freight=lot.freight,
        mass_kg=ticket_kg(lot),
    )
    return TakingIn(tuple(pieces), shares, _row_costs(rows, shares), differences)


def take_in(
    code: str,
    version: int,
    confirmed: bool,
    *,
    by: str,
    station: str,
    now: datetime,
    key: str,
) -> int:
    """Make cores of all sorted pieces, tagged in sorted order, and close the lot; return how many.

    `version` is that of the lot the person saw. InvalidInput without a yes, Conflict when the lot
    was changed since, NotAllowed when it cannot come in; the same `key` again answers the same.
    """

    def act(writer: Writer) -> dict[str, Any]:
        return {"pieces": _take_in(writer, code, version, confirmed, now)}

    return int(act_once("take lot in", key, act, by=by, station=station, now=now)["pieces"])


def _take_in(writer: Writer, code: str, version: int, confirmed: bool, now: datetime) -> int:
    lot = lot_being_sorted(writer, code)
    expect_seen(writer, "lot", code, version)
    if not confirmed:
        raise InvalidInput(
            "Tick that the pieces are counted and the figures are right; then they come in.",
            {"confirmed": "Tick this first; afterwards nothing can be sorted again."},
        )
    desk = ArrivalDesk(writer, now)
    found = taking_in(lot, desk.catalogue)
    if found.shares is None:
        raise NotAllowed(found.why)
    desk.learn_serials(piece.serial for piece in found.pieces)
    desk.learn_loose_serials(piece.serial for piece in found.pieces)
    for piece in found.pieces:
        desk.claim_serial(desk.check_serial(piece.serial))
    day = date.fromisoformat(lot.received_on)
    at = now if day == desk.today else None
    tag_pieces(desk, found.pieces, found.shares, lot=code, source=lot.source, day=day, at=at)
    note = " ".join(found.differences)
    detail = {
        "status": "closed",
        "pieces": len(found.pieces),
        "price_total": found.shares.total,
        "mass_g": lot.mass_g or found.shares.mass_g,
        "note": note,
    }
    writer.event("lot", code, "set", detail, why=note)
    drop_hands(writer, code)
    return len(found.pieces)


def count_differences(lot: Lot, pieces: int, currency: str) -> tuple[str, ...]:
    """Return what the count says against the seller's paper and against the estimate."""
    said = []
    paper = lot.estimate.get("on_paper", 0)
    if paper and pieces != paper:
        off = abs(paper - pieces)
        what = "short" if pieces < paper else "more"
        said.append(
            f"The paper says {counted(paper, 'piece')}, {pieces:,} are counted: {off:,} {what}. "
            f"{_money_of(lot, off, paper, currency)}"
        )
    low, high = lot.estimate.get("low"), lot.estimate.get("high")
    outside = (low is not None and pieces < low) or (high is not None and pieces > high)
    if outside:
        said.append(
            f"By weight there should be {low:,} to {high:,} pieces; look for boxes not sorted yet, "
            "or weigh again."
            if low is not None and high is not None
            else f"By weight there should be at least {low:,} pieces; look for boxes not sorted."
        )
    return tuple(said)


def _money_of(lot: Lot, off: int, paper: int, currency: str) -> str:
    """Return what a difference of pieces means in money, by how the lot was bought."""
    if lot.basis == "piece":
        each = f"{shown(lot.price)} a piece"
        return f"At {each} that is {shown(lot.price * off)} {currency}."
    if lot.basis == "lump":
        share = whole(Fraction(lot.price) * off / paper)
        return f"Of the lump sum that share is {shown(share)} {currency}."
    return "The lot is paid by weight, so the weigh ticket decides, not the count."


def _piece(row: SortedRow, catalogue: Catalogue) -> BoughtPiece:
    number = catalogue.number(row.number) if row.number else None
    return BoughtPiece(number, row.number or row.number_text, row.serial, row.mass_g or None)


def _row_costs(rows: Sequence[SortedRow], shares: Shares) -> tuple[RowCost, ...]:
    costs, start = [], 0
    each = [price + freight for price, freight in zip(shares.prices, shares.freights, strict=True)]
    for row in rows:
        mine = each[start : start + row.count]
        costs.append(RowCost(sum(mine), min(mine), max(mine)))
        start += row.count
    return tuple(costs)
