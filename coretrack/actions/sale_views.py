"""What the page of a typed sale shows: who buys, what the sale would say, what was stored."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime

from coretrack.actions.customers import BUYING, customer_called
from coretrack.actions.desk_day import desk_day
from coretrack.actions.dock import window_of
from coretrack.actions.line_words import window_words
from coretrack.actions.lookups import Catalogue
from coretrack.errors import InvalidInput, NotFound
from coretrack.figures.money import Money
from coretrack.figures.part_numbers import BadNumber, clean_number, match_key, trim
from coretrack.figures.trade_objects import Line, Number, Source
from coretrack.figures.windows import due_date
from coretrack.records import list_queries, queries
from coretrack.records.database import connection, snapshot
from coretrack.records.writer import Writer

_OFFERS = 12


@dataclass(frozen=True)
class TypedSale:
    """A sale as typed. `charge` is for one unit, empty: the family's charge of that day.

    An empty `line` is the next free one of the invoice; an empty `mode` the first of MODES.
    `charge_sure` is not empty when a charge far from the family's was looked at and is right.
    """

    invoice: str = ""
    line: str = ""
    date: str = ""
    customer: str = ""
    number: str = ""
    quantity: str = ""
    charge: str = ""
    mode: str = ""
    charge_sure: str = ""


@dataclass(frozen=True)
class SoldLine:
    """A core line that is stored: what was sold, its charge for one unit, and its last day."""

    key: str
    invoice: str
    line: str
    customer: str
    customer_name: str
    number: str
    superseded_by: str
    quantity: int
    charge: Money
    mode: str
    sold_on: str
    due_on: str
    window: str
    currency: str


@dataclass(frozen=True)
class SaleTerms:
    """What is known of a sale while it is typed; a text that is not known is empty.

    `charge` is the family's for one unit on that day, None when there is none or the number or
    day is not known. `offers` are numbers that begin as typed, `lines` those of the invoice.
    """

    customer_name: str
    number: str
    family: str
    superseded_by: str
    charge: Money | None
    sold_on: str
    due_on: str
    window: str
    offers: tuple[str, ...]
    lines: tuple[SoldLine, ...]


@dataclass(frozen=True)
class SaleDesk:
    """What the page of a sale starts from: who buys, today, the shop's money."""

    customers: tuple[Source, ...]
    today: str
    currency: str


def sale_desk(now: datetime) -> SaleDesk:
    """Return what the page of a sale starts from; NotFound without a shop."""
    with connection():
        desk = desk_day(now)
    customers = tuple(s for s in desk.sources.values() if s.kind in BUYING)
    return SaleDesk(customers, desk.today.isoformat(), desk.shop.currency)


def sold_line(key: str, now: datetime) -> SoldLine:
    """Return a stored core line as the page shows it; NotFound when there is none."""
    with snapshot():
        line = list_queries.lines_with_keys([key]).get(key)
        if line is None:
            raise NotFound(f"There is no core line '{key}'.")
        return _shown(line, Catalogue(Writer("", now)))


def sale_terms(told: TypedSale, now: datetime) -> SaleTerms:
    """Return what is known of a sale that is being typed; nothing is stored or refused."""
    with snapshot():
        catalogue = Catalogue(Writer("", now))
        number = _number(told.number, catalogue)
        sold_on = iso_day(told.date)
        due, window = "", ""
        if sold_on is not None:
            rule = window_of(_promised(catalogue))
            last = due_date(rule, sold_on)
            due, window = last.isoformat() if last else "", window_words(rule)
        charge = catalogue.charge_on(number.family, sold_on) if number and sold_on else None
        return SaleTerms(
            customer_name=_name(told.customer, catalogue),
            number=number.shown if number else "",
            family=catalogue.family(number.family).name if number else "",
            superseded_by=number.superseded_by if number else "",
            charge=charge,
            sold_on=sold_on.isoformat() if sold_on else "",
            due_on=due,
            window=window,
            offers=_offers(told.number),
            lines=tuple(
                _shown(line, catalogue) for line in queries.lines_of_paper(_usable(told.invoice))
            ),
        )


def iso_day(text: str) -> date | None:
    """Return the day that an ISO text writes, None for any other text."""
    try:
        return date.fromisoformat(trim(text))
    except ValueError:
        return None


def _number(text: str, catalogue: Catalogue) -> Number | None:
    usable = _usable(text)
    return catalogue.number(usable) if usable else None


def _name(text: str, catalogue: Catalogue) -> str:
    try:
        source = customer_called(text, catalogue)
    except InvalidInput:
        return ""
    return source.name or source.key


def _offers(text: str) -> tuple[str, ...]:
    """Return the numbers that begin as typed, spaces, dashes, dots and capitals aside."""
    usable = _usable(text)
    if not usable:
        return ()
    return tuple(number.shown for number in queries.numbers_starting(match_key(usable), _OFFERS))


def _usable(text: str) -> str:
    """Return a number or invoice that can be looked up, "" while none is typed."""
    try:
        return clean_number(text)
    except BadNumber:
        return ""


def _promised(catalogue: Catalogue) -> Line:
    """Return a line with the window that a sale gets today."""
    shop = catalogue.shop
    return Line(
        "",
        window_days=shop.window_days,
        after=shop.after,
        slide_percent=shop.slide_percent,
        slide_days=shop.slide_days,
        slide_most=shop.slide_most,
        nothing_after=shop.nothing_after,
    )


def _shown(line: Line, catalogue: Catalogue) -> SoldLine:
    rule = window_of(line)
    due = due_date(rule, date.fromisoformat(line.sold_on))
    number = catalogue.number(line.number)
    return SoldLine(
        key=line.key,
        invoice=line.invoice,
        line=line.line,
        customer=line.customer,
        customer_name=_name(line.customer, catalogue) or line.customer,
        number=line.number,
        superseded_by=number.superseded_by if number else "",
        quantity=line.quantity,
        charge=line.charge,
        mode=line.mode,
        sold_on=line.sold_on,
        due_on=due.isoformat() if due else "",
        window=window_words(rule),
        currency=catalogue.shop.currency,
    )
