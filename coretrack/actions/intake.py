"""A purchased lot comes in by its manifest: pieces get tags, and a share of price and freight."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime
from decimal import Decimal
from fractions import Fraction
from typing import Any

from coretrack.actions.arrivals import Arrivals
from coretrack.actions.imports import FileRequest, ImportAnswer, Progress, Work, run_import
from coretrack.actions.lookups import refuse_foreign_money, refuse_sales_file, shop_zone_name
from coretrack.errors import InvalidInput, NotAllowed
from coretrack.figures.columns import Column
from coretrack.figures.money import CENT, Money, allocate, nearest, plain, to_decimal
from coretrack.figures.stated_sizes import stated_sizes
from coretrack.figures.table import Row, Table
from coretrack.figures.table_values import RowProblem, Values
from coretrack.figures.trade_objects import Number, Source

BASES = ("piece", "weight", "lump")
"""A lot is bought by the piece, by weight (per kilogram) or for a lump sum."""

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


@dataclass
class _Piece:
    """One row of the manifest, read and checked; `item` is filled in when it is tagged."""

    row: Row
    number: Number | None
    number_text: str
    serial: str
    mass_g: int | None
    price: Money | None
    count: int
    note: str
    stated: list[dict[str, Any]]
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
        self._terms = terms
        self._arrivals = Arrivals(job, now)
        refuse_foreign_money(job.values, self._arrivals.catalogue.shop, "price")
        self._source: Source = self._arrivals.catalogue.source(terms.source, "--source")
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
        if self._job.writer.find("lot", lot) is not None:
            raise NotAllowed(
                f"Lot {lot} is received already; give late pieces a lot code of their own (--lot)."
            )
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
        piece = _Piece(
            row,
            arrivals.catalogue.number(number_text) if number_text else None,
            number_text,
            serial,
            arrivals.mass_g(row),
            values.money(row, "price", required=False),
            count,
            values.text(row, "note"),
            stated_sizes(values, row),
            item,
        )
        self._check_price(piece)
        self._check_mass(piece)
        self._days[lot] = day
        arrivals.claim_serial(serial)
        self._lots.setdefault(lot, []).append(piece)
        return item

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
        usual = self._usual_mass(piece)
        if piece.mass_g is None or usual is None or piece.count == 1:
            return
        each = piece.mass_g / piece.count
        if abs(each - usual) < abs(piece.mass_g - usual):
            raise RowProblem(
                self._job.values.heading("mass"),
                self._job.values.text(piece.row, "mass"),
                f"looks like the mass of all {piece.count} pieces (one weighs about "
                f"{usual / 1000:g} kg); give the mass of one piece",
            )

    def _check_price(self, piece: _Piece) -> None:
        values, terms = self._job.values, self._terms
        if piece.price is not None and piece.price < 0:
            raise RowProblem(
                values.heading("price"), values.text(piece.row, "price"), "a price is 0 or more"
            )
        if terms.basis == "piece" and piece.price is None and terms.price is None:
            column = values.heading("price") if values.has("price") else "price"
            raise RowProblem(column, "", "no price: give one in this row or with --price")
        if terms.basis != "piece" and piece.price is not None:
            raise RowProblem(
                values.heading("price"),
                values.text(piece.row, "price"),
                f"the lot is bought by {terms.basis}; a price in a row has no meaning there",
            )
        if terms.basis == "weight" and self._piece_mass(piece) is None and terms.mass_kg is None:
            column = values.heading("mass") if values.has("mass") else "mass kg"
            raise RowProblem(
                column, "", "the lot is bought by weight and this piece has no known mass"
            )

    def _piece_mass(self, piece: _Piece) -> int | None:
        return piece.mass_g if piece.mass_g is not None else self._usual_mass(piece)

    def _usual_mass(self, piece: _Piece) -> int | None:
        if piece.number is None:
            return None
        return self._arrivals.catalogue.family(piece.number.family).mass_g

    def _receive(self, lot: str, pieces: Sequence[_Piece]) -> None:
        day = self._days[lot]
        each = [piece for piece in pieces for _ in range(piece.count)]
        masses = [self._piece_mass(piece) for piece in each]
        prices, total, basis_note = self._prices(each, masses)
        freights = allocate(self._terms.freight, [1] * len(each), CENT)
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
                "basis": self._terms.basis,
                "price": self._terms.price or 0,
                "price_total": total,
                "freight": self._terms.freight,
                "mass_g": sum(mass or 0 for mass in masses),
                "pieces": len(each),
                "bid_yield": self._terms.bid_yield,
            },
            at=self._arrivals.catalogue.noon(day),
        )
        tags = self._arrivals.take_tags(len(each))
        for piece, tag, price, freight in zip(each, tags, prices, freights, strict=True):
            self._tag(lot, day, piece, tag, price, freight)
        if basis_note:
            self._job.notes.append(f"lot {lot}: {basis_note}")

    def _prices(
        self, each: Sequence[_Piece], masses: Sequence[int | None]
    ) -> tuple[list[Money], Money, str]:
        terms = self._terms
        if terms.basis == "piece":
            prices = [
                piece.price if piece.price is not None else (terms.price or 0) for piece in each
            ]
            return prices, sum(prices), ""
        if terms.price is None:
            raise InvalidInput(
                f"A lot bought by {terms.basis} needs --price.", {"price": "missing"}
            )
        if terms.basis == "lump":
            return allocate(terms.price, [1] * len(each), CENT), terms.price, ""
        known = [mass for mass in masses if mass is not None]
        if len(known) < len(masses):
            weights = [1] * len(each)
            note = "not every piece has a mass: the price is spread equally over the pieces"
        else:
            weights, note = known, ""
        kilograms = (
            Fraction(terms.mass_kg) if terms.mass_kg is not None else Fraction(sum(known), 1000)
        )
        total = nearest(kilograms * Fraction(to_decimal(terms.price)))
        return allocate(total, weights, CENT), total, note

    def _tag(
        self, lot: str, day: date, piece: _Piece, tag: str, price: Money, freight: Money
    ) -> None:
        costs = {"price": price, "freight": freight}
        facts = self._arrivals.receive(
            tag,
            stream="purchase",
            lot=lot,
            source=self._source.key,
            number=piece.number,
            number_text=piece.number_text,
            serial=piece.serial,
            day=day,
            costs=costs,
            extra={"mass_g": piece.mass_g, "note": piece.note, "stated": piece.stated},
        )
        item = piece.item
        item.setdefault("tags", []).append(tag)
        item.update(
            {
                "tag": tag,
                "number": facts.number,
                "family": facts.family or None,
                "state": facts.state,
                "price": plain(price),
                "freight": plain(freight),
                "mass_g": piece.mass_g,
                "stated": piece.stated,
                "note": piece.note,
            }
        )
