"""What the pages of purchased lots show: lots being sorted, one lot with its rows and its money.

Money is in ten-thousandths, days are ISO text. A text that is not known is empty.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from fractions import Fraction

from coretrack.actions.desk_day import DeskDay, days_since, desk_day
from coretrack.actions.lookups import Catalogue
from coretrack.actions.lot_beginning import purchase
from coretrack.actions.lot_estimates import estimate_words
from coretrack.actions.lot_rows import SortedRow, pieces_in, rows_of
from coretrack.actions.lot_sorting import Hand, hand_of
from coretrack.actions.lot_taking_in import RowCost, TakingIn, taking_in
from coretrack.actions.receiving import RETURNING
from coretrack.actions.typed_fields import kilograms
from coretrack.figures.money import Money, shown, whole
from coretrack.figures.plain_words import counted, percent
from coretrack.figures.trade_objects import Lot
from coretrack.records import lot_queries
from coretrack.records.database import snapshot
from coretrack.records.lot_queries import SORTING
from coretrack.records.writer import Writer

LAST_LOTS = 20
UNKNOWN_FAMILY = "unknown"

_BASIS_WORDS = {"piece": "a piece", "weight": "a kilogram", "lump": "for all"}


@dataclass(frozen=True)
class LotLine:
    """A lot in the list. `pieces` are sorted so far, or in the books once it is closed."""

    code: str
    status: str
    source_name: str
    received_on: str
    days: int
    pieces: int
    on_paper: int
    estimate: str
    unknown: int
    price_total: Money


@dataclass(frozen=True)
class LotsView:
    """The list of lots, and from whom one can be bought: code, name and kind."""

    open: tuple[LotLine, ...]
    last: tuple[LotLine, ...]
    sellers: tuple[tuple[str, str, str], ...]
    currency: str


@dataclass(frozen=True)
class RowShown:
    """A row of a lot: pieces of one number. `id` is empty once the lot is closed.

    `cost` is what one piece costs with its freight, in words; empty while it cannot be said.
    """

    id: str
    name: str
    known: bool
    family: str
    count: int
    serial: str = ""
    mass: str = ""
    cost: str = ""
    total: Money | None = None


@dataclass(frozen=True)
class FamilyCount:
    """How many pieces of a family a lot holds, and their share of all."""

    family: str
    name: str
    count: int
    share: str
    total: Money | None = None


@dataclass(frozen=True)
class LotView:
    """Everything that a lot's page shows.

    `version` is handed back when the lot is taken in. `total` is price and freight together, None
    while `why` says why it cannot be taken in. `undo` says what this person can take back.
    """

    code: str
    status: str
    version: int
    source: str
    source_name: str
    received_on: str
    days: int
    carrier: str
    reference: str
    agreed: str
    bid_yield: str
    gross: str
    tare: str
    net: str
    on_paper: int
    estimate: str
    pieces: int
    unknown: int
    rows: tuple[RowShown, ...]
    families: tuple[FamilyCount, ...]
    in_hand: RowShown | None
    undo: str
    price: Money | None
    freight: Money
    total: Money | None
    notes: tuple[str, ...]
    why: str
    photos: int
    currency: str

    @property
    def sorting(self) -> bool:
        """Whether pieces can still be sorted into the lot."""
        return self.status == SORTING


def lots_view(now: datetime) -> LotsView:
    """Return the lots being sorted, the last ones, and who sells lots."""
    with snapshot():
        day = desk_day(now)
        return LotsView(
            tuple(_line(lot, day) for lot in lot_queries.open_purchases()),
            tuple(_line(lot, day) for lot in lot_queries.last_purchases(LAST_LOTS)),
            tuple(
                (source.key, source.name, source.kind)
                for source in day.sources.values()
                if source.kind not in RETURNING
            ),
            day.shop.currency,
        )


def lot_view(code: str, person: str, now: datetime) -> LotView:
    """Return one purchased lot as its page shows it to this person; NotFound without it."""
    with snapshot():
        day = desk_day(now)
        writer = Writer(person, now)
        lot = purchase(writer, code)
        catalogue = Catalogue(writer)
        version = writer.version("lot", code)
        if lot.status == SORTING:
            return _being_sorted(lot, version, catalogue, hand_of(code, person), day)
        return _in_the_books(lot, version, catalogue, day)


def _line(lot: Lot, day: DeskDay) -> LotLine:
    rows = rows_of(lot)
    sorting = lot.status == SORTING
    return LotLine(
        lot.key,
        lot.status or "by file",
        day.name(lot.source),
        lot.received_on,
        days_since(lot.received_on, day.today),
        pieces_in(rows) if sorting else lot.pieces,
        lot.estimate.get("on_paper", 0),
        estimate_words(lot.estimate) if sorting and "pieces" in lot.estimate else "",
        sum(row.count for row in rows if not row.number) if sorting else 0,
        lot.price_total,
    )


def _being_sorted(
    lot: Lot, version: int, catalogue: Catalogue, hand: Hand, day: DeskDay
) -> LotView:
    rows = rows_of(lot)
    found = taking_in(lot, catalogue)
    costs: Sequence[RowCost | None] = found.rows or [None] * len(rows)
    families = _families_of(rows, catalogue)
    shown_rows = tuple(
        _row(row, family, cost) for row, family, cost in zip(rows, families, costs, strict=True)
    )
    return _view(
        lot,
        version,
        day,
        rows=shown_rows,
        families=_family_counts(shown_rows, catalogue),
        in_hand=next((row for row in shown_rows if row.id == hand.row_id), None),
        undo=_undo_words(hand),
        found=found,
    )


def _in_the_books(lot: Lot, version: int, catalogue: Catalogue, day: DeskDay) -> LotView:
    rows = tuple(
        RowShown(
            "",
            number or "not readable",
            bool(family),
            family,
            count,
            cost=_each(Fraction(price + freight, count)),
            total=price + freight,
        )
        for family, number, count, price, freight in lot_queries.pieces_by_number(lot.key)
    )
    return _view(lot, version, day, rows=rows, families=_family_counts(rows, catalogue))


def _view(
    lot: Lot,
    version: int,
    day: DeskDay,
    *,
    rows: tuple[RowShown, ...],
    families: tuple[FamilyCount, ...],
    in_hand: RowShown | None = None,
    undo: str = "",
    found: TakingIn | None = None,
) -> LotView:
    pieces = sum(row.count for row in rows)
    estimate = lot.estimate
    price: Money | None = lot.price_total
    notes = (lot.note,) if lot.note else ()
    if found is not None:
        price = found.shares.total if found.shares else None
        note = found.shares.note if found.shares else ""
        notes = (*found.differences, *((f"{note[:1].upper()}{note[1:]}.",) if note else ()))
    return LotView(
        code=lot.key,
        status=lot.status or "by file",
        version=version,
        source=lot.source,
        source_name=day.name(lot.source),
        received_on=lot.received_on,
        days=days_since(lot.received_on, day.today),
        carrier=lot.carrier,
        reference=lot.reference or lot.paper,
        agreed=f"{shown(lot.price)} {day.shop.currency} {_BASIS_WORDS.get(lot.basis, '')}".strip(),
        bid_yield=lot.bid_yield,
        gross=kilograms(estimate["gross_g"]) if estimate.get("gross_g") else "",
        tare=kilograms(estimate.get("tare_g", 0)) if estimate.get("gross_g") else "",
        net=kilograms(lot.mass_g) if lot.mass_g else "",
        on_paper=estimate.get("on_paper", 0),
        estimate=_estimate(lot, pieces),
        pieces=pieces,
        unknown=sum(row.count for row in rows if not row.known),
        rows=rows,
        families=families,
        in_hand=in_hand,
        undo=undo,
        price=price,
        freight=lot.freight,
        total=None if price is None else price + lot.freight,
        notes=notes,
        why=found.why if found else "",
        photos=lot.photos,
        currency=day.shop.currency,
    )


def _estimate(lot: Lot, pieces: int) -> str:
    """Return the estimate in words; once the lot is closed the count has taken its place."""
    if lot.status == SORTING:
        return estimate_words(lot.estimate)
    if "pieces" not in lot.estimate:
        return ""
    return f"{counted(pieces, 'piece')} counted; by weight it was {estimate_words(lot.estimate)}"


def _families_of(rows: Sequence[SortedRow], catalogue: Catalogue) -> list[str]:
    numbers = [catalogue.number(row.number) if row.number else None for row in rows]
    return [number.family if number else "" for number in numbers]


def _row(row: SortedRow, family: str, cost: RowCost | None) -> RowShown:
    each = ""
    if cost is not None:
        each = shown(cost.low)
        if cost.high != cost.low:
            each = f"{each} to {shown(cost.high)}"
    return RowShown(
        row.id,
        row.name,
        bool(row.number),
        family,
        row.count,
        row.serial,
        kilograms(row.mass_g) if row.mass_g else "",
        each,
        cost.total if cost else None,
    )


def _each(exact: Fraction) -> str:
    return shown(int(exact)) if exact.denominator == 1 else f"about {shown(whole(exact))}"


def _family_counts(rows: Sequence[RowShown], catalogue: Catalogue) -> tuple[FamilyCount, ...]:
    """Return the families by their count, the unknown ones last."""
    counts: dict[str, int] = {}
    money: dict[str, Money] = {}
    for row in rows:
        counts[row.family] = counts.get(row.family, 0) + row.count
        if row.total is not None:
            money[row.family] = money.get(row.family, 0) + row.total
    total = sum(counts.values())
    ordered = sorted(counts.items(), key=lambda item: (not item[0], -item[1], item[0]))
    return tuple(
        FamilyCount(
            family,
            _family_name(family, catalogue),
            count,
            percent(Fraction(count, total)),
            money.get(family),
        )
        for family, count in ordered
        if count
    )


def _family_name(family: str, catalogue: Catalogue) -> str:
    return (catalogue.family(family).name or family) if family else UNKNOWN_FAMILY


def _undo_words(hand: Hand) -> str:
    if not hand.steps:
        return ""
    row, pieces = hand.steps[-1][-1]
    what = f"{counted(abs(pieces), 'piece')} of {row.name}"
    return f"take {what} out" if pieces > 0 else f"put {what} back"
