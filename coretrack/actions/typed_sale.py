"""A sale that is typed: the same row that a file of sales has, opened by the same code."""

from __future__ import annotations

import hashlib
from collections.abc import Callable
from dataclasses import asdict, dataclass
from datetime import date, datetime
from decimal import Decimal
from functools import partial
from typing import Any

from coretrack.actions import setting_up
from coretrack.actions.acting import act_once
from coretrack.actions.customers import BUYING, customer_called, named
from coretrack.actions.imports import Work
from coretrack.actions.lookups import Catalogue
from coretrack.actions.lot_fields import Fields, whole_count
from coretrack.actions.receiving import RETURNING
from coretrack.actions.sale_views import TypedSale, iso_day
from coretrack.actions.sales import COLUMNS, Sales, next_place
from coretrack.errors import InvalidInput
from coretrack.figures.amounts import parse_amount
from coretrack.figures.dates import shop_day
from coretrack.figures.history import canonical
from coretrack.figures.money import Money, shown, to_decimal
from coretrack.figures.part_numbers import clean_number, match_key, trim
from coretrack.figures.stray_codes import why_a_code
from coretrack.figures.table import DATE, EMPTY, NUMBER, TEXT, Cell, CellValue, Row, Table
from coretrack.figures.table_values import Values
from coretrack.figures.trade_objects import Source
from coretrack.records import queries
from coretrack.records.database import connection, transaction
from coretrack.records.writer import Writer

_HEADINGS = {
    "invoice": "invoice",
    "line": "line",
    "date": "date",
    "customer": "customer",
    "number": "number",
    "quantity": "quantity",
    "charge": "core charge",
    "mode": "mode",
}
"""The fields of the form, and the headings of their columns in a file of sales."""

FAR_FACTOR = 3
"""A charge so many times the family's, or so small a part of it, is asked back; common practice."""

_FIELDS = {heading: name for name, heading in _HEADINGS.items()}
_ANOTHER_LINE = (
    "a sale is not changed by typing it again. If this is a further line of the invoice, leave the "
    "field Line empty"
)


@dataclass(frozen=True)
class StoredSale:
    """The key of the line that was stored; `again`: it was stored before, and nothing changed."""

    key: str
    again: bool


def type_sale(
    told: TypedSale, *, by: str, station: str, now: datetime, key: str = ""
) -> StoredSale:
    """Open the core line of a typed sale, by the code that reads files of sales.

    The same form sent again opens nothing; a form that was changed is another sale. Without a
    number for its line it takes the next free one; where a line of the invoice says the very same
    already, InvalidInput asks. It names every field that cannot be used.
    """
    acted = False

    def act(writer: Writer) -> dict[str, Any]:
        nonlocal acted
        line, acted = _open(writer, told, now)
        return {"line": line}

    if key:
        content = canonical(asdict(told)).encode()
        key = f"{key}:{hashlib.sha256(content).hexdigest()}"
    answer = act_once("typed sale", key, act, by=by, station=station, now=now)
    return StoredSale(str(answer["line"]), not acted)


def add_customer(code: str, name: str, kind: str, *, by: str, now: datetime) -> str:
    """Add a customer or dealer and return the code; the same one again changes nothing.

    InvalidInput when the code or the name is somebody else's already: a clerk adds customers and
    changes none.
    """
    fields = Fields()
    code = fields.read("new_code", partial(_new_code, code), "")
    name = fields.read("new_name", partial(clean_number, name, "name"), "")
    if kind not in BUYING:
        fields.problems["new_kind"] = f"Choose what they are: {' or '.join(BUYING)}."
    fields.settle()
    with connection(), transaction():
        for known in queries.sources():
            same_code = known.key.casefold() == code.casefold()
            same_name = known.name.casefold() == name.casefold()
            if same_code and same_name and known.kind == kind:
                return known.key
            if same_code:
                raise _field("new_code", f"{known.key} is {known.name}, a {known.kind}, already.")
            if same_name:
                raise _field("new_name", f"{known.name} is known already by the code {known.key}.")
        setting_up.add_source(code, name, kind, by=by, now=now)
    return code


def _new_code(text: str) -> str:
    code = clean_number(text, "code", 20)
    stray = why_a_code(code) if code.isdigit() else ""
    if stray:
        raise InvalidInput(f"The code: {stray}; use a short one with letters, such as ANSL.")
    return code


def _open(writer: Writer, told: TypedSale, now: datetime) -> tuple[str, bool]:
    """Open the line; return its key and whether it is new."""
    catalogue, fields = Catalogue(writer), Fields()
    row, table = _table(told, shop_day(now, catalogue.zone), fields, catalogue)
    values = Values.of(table, COLUMNS, zone=catalogue.shop.time_zone)
    job = Work(writer, table, values, "sales", {}, set())
    sales = Sales(job)
    _refuse_wrong_fields(sales, values, row, fields)
    _ask_back(told, sales, values, row, fields)
    job.each_row(sales.open_line)
    for rejected in job.rejected:
        name = _FIELDS.get(rejected.column, "")
        raise _field("line" if name == "invoice" else name, _in_form(rejected.why))
    for item in job.items:
        return str(item["key"]), True
    number = sales.catalogue.known_number(values.code(row, "number"), "number")
    invoice = values.code(row, "invoice")
    place, _ = sales.place(row, invoice, match_key(number.shown))
    return f"{invoice}/{place}", False


def _table(told: TypedSale, today: date, fields: Fields, catalogue: Catalogue) -> tuple[Row, Table]:
    """Return the sale as a table of one row, as a file of sales would hold it."""
    found: dict[str, CellValue] = {name: trim(text) or None for name, text in asdict(told).items()}
    found["date"] = fields.read("date", partial(_sold_on, told.date, today), None)
    if found["charge"]:
        found["charge"] = fields.read("charge", partial(_charge, told.charge), None)
    if found["quantity"]:
        found["quantity"] = fields.read("quantity", partial(_quantity, told.quantity), None)
    if found["customer"]:
        who = fields.read("customer", partial(customer_called, told.customer, catalogue), None)
        found["customer"] = who.key if who else found["customer"]
    if found["invoice"] and not found["line"]:
        invoice = fields.read("invoice", partial(clean_number, told.invoice), "")
        found["line"] = next_place(queries.lines_of_paper(invoice)) if invoice else None
    texts = {name: str(found[name] or "") for name in ("customer", "line")}
    cells = tuple(
        _cell(found[name], texts.get(name, getattr(told, name)), place)
        for place, name in enumerate(_HEADINGS, start=1)
    )
    row = Row(2, cells)
    return row, Table("the sale", tuple(_HEADINGS.values()), (row,), kind="typed")


def _cell(value: CellValue, text: str, column: int) -> Cell:
    kind = TEXT
    if value is None:
        kind, text = EMPTY, ""
    elif isinstance(value, Decimal):
        kind = NUMBER
    elif isinstance(value, date):
        kind = DATE
    return Cell(trim(text), kind, value, 2, column)


def _refuse_wrong_fields(sales: Sales, values: Values, row: Row, fields: Fields) -> None:
    """Raise InvalidInput with what is wrong in every field, where a file says the first thing."""
    catalogue = sales.catalogue
    readers: dict[str, Callable[[], object]] = {
        "invoice": partial(values.code, row, "invoice"),
        "line": partial(values.code, row, "line", False),
        "customer": lambda: _buyer(catalogue, values.code(row, "customer")),
        "number": lambda: catalogue.known_number(values.code(row, "number"), "number"),
        "quantity": partial(sales.quantity, row),
        "mode": partial(sales.mode, row),
    }
    for name, reader in readers.items():
        if name not in fields.problems:
            fields.read(name, reader, None)
    if not fields.problems:
        number = catalogue.known_number(values.code(row, "number"), "number")
        fields.read(
            "charge", partial(sales.charge, row, number.family, values.day(row, "date")), (0, "")
        )
    fields.settle()


def _ask_back(told: TypedSale, sales: Sales, values: Values, row: Row, fields: Fields) -> None:
    """Raise InvalidInput for a sale that can be read and is most likely a slip."""
    catalogue, day = sales.catalogue, values.day(row, "date")
    customer = catalogue.source(values.code(row, "customer"), "customer")
    number = catalogue.known_number(values.code(row, "number"), "number")
    charge, _ = sales.charge(row, number.family, day)
    invoice = values.code(row, "invoice")
    lines = queries.lines_of_paper(invoice)
    others = {line.customer for line in lines} - {customer.key}
    if others:
        owners = named([catalogue.source(other, "customer") for other in sorted(others)])
        fields.problems["invoice"] = (
            f"Invoice {invoice} was sold to {owners}; an invoice has one customer. Check its "
            "number and the customer."
        )
    if not trim(told.line):
        same = (day.isoformat(), customer.key, number.shown, sales.quantity(row), charge)
        for line in lines:
            if (line.sold_on, line.customer, line.number, line.quantity, line.charge) == same:
                fields.problems["line"] = (
                    f"Line {line.key} says the very same and is stored already. If this is a "
                    f"further line of the invoice, type {next_place(lines)} here."
                )
    usual = catalogue.charge_on(number.family, day)
    if usual is not None and not trim(told.charge_sure) and _far_from(charge, usual):
        currency = catalogue.shop.currency
        fields.problems["charge_sure"] = (
            f"A core charge of {shown(charge)} {currency} is far from the family's {shown(usual)} "
            f"{currency} of that day. Correct it, or say that it is right."
        )
    fields.settle()


def _far_from(charge: Money, usual: Money) -> bool:
    """Return whether a charge is over three times the usual one or under a third of it."""
    return charge > FAR_FACTOR * usual or charge * FAR_FACTOR < usual


def _buyer(catalogue: Catalogue, told: str) -> Source:
    source = catalogue.source(told, "customer")
    if source.kind not in RETURNING:
        raise InvalidInput(
            f"{source.name or source.key} is a {source.kind}: cores are bought from them. Whoever "
            "buys a unit and owes its core is a customer or dealer."
        )
    return source


def _sold_on(text: str, today: date) -> date:
    if not trim(text):
        raise InvalidInput(f"Say on which day it was sold, such as {today.isoformat()}.")
    day = iso_day(text)
    if day is None:
        raise InvalidInput(f"'{trim(text)}' is no day; write it like {today.isoformat()}.")
    if day > today:
        raise InvalidInput(f"{day.isoformat()} is after today ({today.isoformat()}); check it.")
    return day


def _charge(text: str) -> Decimal:
    return to_decimal(parse_amount(text))


def _quantity(text: str) -> Decimal:
    return Decimal(whole_count(text, "quantity"))


def _in_form(why: str) -> str:
    """Return why a row was refused, in words that fit a form."""
    told = f"{why[:1].upper()}{why[1:].rstrip('.')}."
    before, found, _ = told.partition("a sale is not changed by importing it again")
    return f"{before}{_ANOTHER_LINE}." if found else told


def _field(name: str, message: str) -> InvalidInput:
    return InvalidInput(message, {name: message} if name else {})
