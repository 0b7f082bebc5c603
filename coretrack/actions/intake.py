"""A purchased lot comes in by its manifest: pieces get tags, and a share of price and freight."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime
from typing import Any

from coretrack.actions.arrivals import Arrivals
from coretrack.actions.bought_pieces import (
    BoughtPiece,
    looks_like_all,
    piece_mass,
    spread,
    tag_pieces,
    usual_mass,
)
from coretrack.actions.imports import FileRequest, ImportAnswer, Progress, Work, run_import
from coretrack.actions.lookups import refuse_foreign_money, refuse_sales_file, shop_zone_name
from coretrack.actions.lot_terms import BASES, Terms, begun_lot, terms_of_begun
from coretrack.errors import InvalidInput, NotAllowed
from coretrack.figures.columns import Column
from coretrack.figures.lifecycle import CoreFacts
from coretrack.figures.money import plain
from coretrack.figures.stated_sizes import stated_sizes
from coretrack.figures.table import Row, Table
from coretrack.figures.table_values import RowProblem, Values
from coretrack.figures.trade_objects import Source
from coretrack.records.lot_queries import SORTING

__all__ = ["BASES", "COLUMNS", "Terms", "import_lot"]

COLUMNS = (
    Column("lot", ("lot", "lot code", "lot no"), False, "code"),
    Column("received", ("received", "received on", "date", "date received"), False, "date"),
    Column("number", ("number", "part", "part no", "part number", "casting"), False, "code"),
    Column("serial", ("serial", "serial no", "serial number"), False, "code"),
    Column("mass", ("mass", "mass kg", "weight", "weight kg"), False, "number", unit="kg"),
    Column("price", ("price", "price each", "cost", "cost each"), False, "money"),
    Column("quantity", ("quantity", "qty", "pieces"), False, "count"),
    Column("note", ("note", "notes", "remark"), False, "text"),
)

MOST_PIECES_A_ROW = 2000


@dataclass
class _Piece:
    """One row of the manifest, read and checked; `item` is filled in when it is tagged."""

    row: Row
    bought: BoughtPiece
    count: int
    item: dict[str, Any]


def import_lot(
    request: FileRequest,
    terms: Terms,
    *,
    by: str,
    now: datetime,
    progress: Progress | None = None,
) -> ImportAnswer:
    """Receive a purchased lot by its manifest; unknown numbers become unknown cores.

    Price and freight are spread over the pieces received so that the parts add up to the totals
    exactly. A lot comes in once: rows that turn up later need a lot code of their own.
    """
    if terms.basis not in BASES:
        raise InvalidInput(f"'{terms.basis}' is not a basis; use one of {', '.join(BASES)}.")
    if terms.mass_kg is not None and terms.mass_kg <= 0:
        raise InvalidInput("The weigh ticket's mass must be more than 0 kilograms.")

    def prepare(table: Table) -> Values:
        refuse_sales_file(table)
        return Values.of(
            table,
            COLUMNS,
            order=request.dates,
            decimal_mark=request.decimal,
            measures=True,
            one_of=("number", "serial"),
            zone=shop_zone_name(),
        )

    def work(job: Work) -> None:
        _LotIntake(job, terms, now).run()

    return run_import(
        request,
        "intake",
        by=by,
        now=now,
        prepare=prepare,
        work=work,
        said={"source": terms.source, "lot": terms.lot},
        progress=progress,
    )


class _LotIntake:
    """Reads all rows first, then spreads the money and tags the pieces."""

    def __init__(self, job: Work, terms: Terms, now: datetime) -> None:
        self._job = job
        self._arrivals = Arrivals(job, now)
        self._begun = begun_lot(job.writer, terms.lot)
        self._terms = terms_of_begun(self._begun, terms) if self._begun else terms
        refuse_foreign_money(job.values, self._arrivals.catalogue.shop, "price")
        self._source: Source = self._arrivals.catalogue.source(terms.source, "--source")
        if self._begun and self._begun.source != self._source.key:
            raise InvalidInput(
                f"Lot {self._begun.key} was begun from {self._begun.source}, and this file is told "
                f"to be from {self._source.key}; name the lot's own source.",
                {"source": self._begun.source},
            )
        self._lots: dict[str, list[_Piece]] = {}
        self._days: dict[str, date] = {}

    def run(self) -> None:
        self._job.each_row(self._read)
        self._refuse_shared_money()
        if self._job.rejected and self._terms.basis == "lump":
            self._wait_for_all_pieces()
        if self._lots and self._job.rejected:
            self._job.notes.append(
                "the money is spread over the pieces that are stored; rejected rows can only come "
                "in later as a lot of their own, so put them right first (see the preview)"
            )
        for lot, pieces in self._lots.items():
            self._receive(lot, pieces)

    def _wait_for_all_pieces(self) -> None:
        """Leave the lot outside: a lump sum can only be spread over all its pieces at once."""
        why = (
            "waits for the other rows: a lump sum is spread over all pieces of a lot, so it comes "
            "in whole once every row is right"
        )
        for piece in (piece for pieces in self._lots.values() for piece in pieces):
            self._job.take_back(piece.row, piece.item, why)
        self._lots = {}
        self._job.notes.append("nothing of the lot is stored; correct it and import it again")

    def _refuse_shared_money(self) -> None:
        """Raise InvalidInput when money or mass that was told once would count for several lots."""
        terms = self._terms
        once = terms.basis == "lump" or terms.freight or terms.mass_kg is not None
        if once and len(self._lots) > 1:
            raise InvalidInput(
                f"The file holds the lots {', '.join(self._lots)}, but one price, freight or mass "
                "was told for it; make a file of each lot."
            )

    def _lot(self, row: Row, day: date) -> str:
        """Return the row's lot: the one told, else the file's, else one of source and day."""
        values, told = self._job.values, self._terms.lot
        written = values.code(row, "lot", required=False)
        if told and written and told.casefold() != written.casefold():
            raise RowProblem(
                values.heading("lot"), written, f"this row is of another lot than {told} (--lot)"
            )
        return told or written or f"{self._source.key}-{day.isoformat()}"

    def _read(self, row: Row) -> dict[str, Any]:
        values, arrivals = self._job.values, self._arrivals
        day = arrivals.day(row, self._terms.received)
        lot = self._lot(row, day)
        self._refuse_received(lot)
        known_day = self._days.get(lot, day)
        if day != known_day:
            raise RowProblem(
                values.heading("received"),
                values.text(row, "received"),
                f"the other pieces of lot {lot} came on {known_day.isoformat()}; "
                "one lot comes in on one day",
            )
        number_text = arrivals.number_text(row)
        serial = arrivals.new_serial(row)
        count = self._count(row, serial)
        item: dict[str, Any] = {"lot": lot, "received": day.isoformat(), "serial": serial}
        bought = BoughtPiece(
            arrivals.catalogue.number(number_text) if number_text else None,
            number_text,
            serial,
            arrivals.mass_g(row),
            values.money(row, "price", required=False),
            values.text(row, "note"),
            stated_sizes(values, row),
        )
        piece = _Piece(row, bought, count, item)
        self._check_price(piece)
        self._check_mass(piece)
        self._days[lot] = day
        arrivals.claim_serial(serial)
        self._lots.setdefault(lot, []).append(piece)
        return item

    def _refuse_received(self, lot: str) -> None:
        """Raise NotAllowed for a lot that is in the books, unless it was begun for this file."""
        known = self._job.writer.find("lot", lot)
        if known is None or (self._begun and self._begun.key == lot):
            return
        if known.status == SORTING:
            raise NotAllowed(
                f"Lot {lot} is being sorted; name it beside the file (--lot), so that the price "
                "agreed for it counts."
            )
        raise NotAllowed(
            f"Lot {lot} is received already; give late pieces a lot code of their own (--lot)."
        )

    def _count(self, row: Row, serial: str) -> int:
        values = self._job.values
        count = values.count(row, "quantity", required=False)
        if count is None:
            return 1
        if not 1 <= count <= MOST_PIECES_A_ROW or (serial and count != 1):
            right = "a row with a serial is one piece" if serial else "use 1 to 2000 pieces a row"
            raise RowProblem(values.heading("quantity"), values.text(row, "quantity"), right)
        return count

    def _check_mass(self, piece: _Piece) -> None:
        """Ask back when a row's mass looks like the mass of all its pieces together."""
        usual = usual_mass(piece.bought, self._arrivals.catalogue)
        if usual is not None and looks_like_all(piece.bought.mass_g, piece.count, usual):
            raise RowProblem(
                self._job.values.heading("mass"),
                self._job.values.text(piece.row, "mass"),
                f"looks like the mass of all {piece.count} pieces (one weighs about "
                f"{usual / 1000:g} kg); give the mass of one piece",
            )

    def _check_price(self, piece: _Piece) -> None:
        values, terms = self._job.values, self._terms
        if piece.bought.price is not None and piece.bought.price < 0:
            raise RowProblem(
                values.heading("price"), values.text(piece.row, "price"), "a price is 0 or more"
            )
        if terms.basis == "piece" and piece.bought.price is None and terms.price is None:
            column = values.heading("price") if values.has("price") else "price"
            raise RowProblem(column, "", "no price: give one in this row or with --price")
        if terms.basis != "piece" and piece.bought.price is not None:
            raise RowProblem(
                values.heading("price"),
                values.text(piece.row, "price"),
                f"the lot is bought by {terms.basis}; a price in a row has no meaning there",
            )
        mass = piece_mass(piece.bought, self._arrivals.catalogue)
        if terms.basis == "weight" and mass is None and terms.mass_kg is None:
            column = values.heading("mass") if values.has("mass") else "mass kg"
            raise RowProblem(
                column, "", "the lot is bought by weight and this piece has no known mass"
            )

    def _receive(self, lot: str, pieces: Sequence[_Piece]) -> None:
        day, terms, arrivals = self._days[lot], self._terms, self._arrivals
        each = [piece for piece in pieces for _ in range(piece.count)]
        bought = [piece.bought for piece in each]
        shares = spread(
            bought,
            arrivals.catalogue,
            basis=terms.basis,
            price=terms.price,
            freight=terms.freight,
            mass_kg=terms.mass_kg,
        )
        self._job.writer.event(
            "lot",
            lot,
            "set",
            {
                "key": lot,
                "kind": "purchase",
                "source": self._source.key,
                "received_on": day.isoformat(),
                "paper": self._job.table.name,
                "basis": terms.basis,
                "price": terms.price or 0,
                "price_total": shares.total,
                "freight": terms.freight,
                "mass_g": shares.mass_g,
                "pieces": len(each),
                "bid_yield": terms.bid_yield,
                **({"status": "closed"} if self._begun else {}),
            },
            at=None if self._begun else arrivals.catalogue.noon(day),
        )
        cores = tag_pieces(arrivals, bought, shares, lot=lot, source=self._source.key, day=day)
        for piece, core in zip(each, cores, strict=True):
            _fill_in(piece, core)
        if shares.note:
            self._job.notes.append(f"lot {lot}: {shares.note}")


def _fill_in(piece: _Piece, core: CoreFacts) -> None:
    """Say in the row's item what was stored for it."""
    item = piece.item
    item.setdefault("tags", []).append(core.tag)
    item.update(
        {
            "tag": core.tag,
            "number": core.number,
            "family": core.family or None,
            "state": core.state,
            "price": plain(core.price),
            "freight": plain(core.freight),
            "mass_g": piece.bought.mass_g,
            "stated": piece.bought.stated,
            "note": piece.bought.note,
        }
    )
