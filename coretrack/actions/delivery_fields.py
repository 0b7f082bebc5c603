"""What is typed when a delivery is opened or counted, read field by field."""

from __future__ import annotations

import re
from datetime import date, datetime
from typing import Any

from coretrack.actions.customers import customer_called
from coretrack.actions.delivery_views import GOODS, SECOND_COUNT_FROM, NewDelivery
from coretrack.actions.dock import lines_of_invoice
from coretrack.actions.lookups import Catalogue
from coretrack.actions.receiving import RETURNING
from coretrack.actions.typed_fields import clean_code, plain_words
from coretrack.errors import CoretrackError, InvalidInput
from coretrack.figures.numbers import NotANumber, parse_number
from coretrack.figures.plain_words import counted as many
from coretrack.figures.trade_objects import Source
from coretrack.records.delivery_queries import person_called

MOST_PIECES = 5000
_NAME = re.compile(r"[^\W\d_](?:[^\W\d_]|[ .'’-]){1,59}")
"""A person's name: letters of any script, with blanks, dots, dashes and apostrophes."""


def read_delivery(
    told: NewDelivery, catalogue: Catalogue, now: datetime, by: str
) -> tuple[dict[str, Any], Source]:
    """Return a delivery's fields as stored, and its customer.

    One InvalidInput names everything that is wrong.
    """
    wrong: dict[str, str] = {}
    fields: dict[str, Any] = {"pieces": 0}
    today = now.astimezone(catalogue.zone).date()
    readers = {
        "reference": lambda: clean_code(told.reference, "reference"),
        "carrier": lambda: plain_words(told.carrier, "carrier"),
        "note": lambda: plain_words(told.note, "note"),
        "arrived_on": lambda: _arrived(told.arrived_on, today),
        "counted": lambda: pieces_of(told.pieces, needed=False),
        "basis": lambda: _goods(told.goods),
        "source": lambda: _customer(told.customer, fields.get("reference", ""), catalogue),
        "second": lambda: second_counter(fields.get("counted", 0), told.second_counter, by),
    }
    for name, read in readers.items():
        try:
            fields[name] = read()
        except CoretrackError as error:
            wrong |= error.fields or {name: error.message}
    if wrong:
        raise InvalidInput(" ".join(dict.fromkeys(wrong.values())), wrong)
    source: Source = fields["source"]
    return {**fields, "source": source.key, "received_on": today.isoformat()}, source


def pieces_of(told: str, *, needed: bool) -> int:
    """Return a counted number of pieces; 0 where none is told and none is needed."""
    text = told.strip()
    if not text and not needed:
        return 0
    right = f"give a whole number from 1 to {MOST_PIECES}"
    try:
        number = parse_number(told)
    except NotANumber:
        said = f"'{text}' is no count" if text else "No count is typed"
        raise wrong_field("pieces", f"{said}; {right}.") from None
    if number == 0 and not needed:
        raise wrong_field(
            "pieces", f"A delivery of 0 pieces is none: {right}, or leave it empty to count later."
        )
    if number != int(number) or not 1 <= number <= MOST_PIECES:
        raise wrong_field("pieces", f"The count '{text}' cannot be right: {right}.")
    return int(number)


def second_counter(pieces: int, told: str, by: str) -> str:
    """Return who counted too; large deliveries are counted by two people.

    It is somebody of the shop, or a plain name: a driver may count too.
    """
    name = plain_words(told, "second_counter")
    name = person_called(name) or name
    if name and not _NAME.fullmatch(name):
        raise wrong_field(
            "second_counter", f"'{name}' is no name; type who counted too, such as Bela Quirke."
        )
    if name.casefold() == by.casefold():
        raise wrong_field("second_counter", f"{by} counted already; name somebody else.")
    if pieces >= SECOND_COUNT_FROM and not name:
        raise wrong_field(
            "second_counter",
            f"{many(pieces, 'piece')} are counted by two people: say who counted too.",
        )
    return name


def wrong_field(name: str, message: str) -> InvalidInput:
    """Return what is raised for one field."""
    return InvalidInput(message, {name: message})


def _customer(told: str, reference: str, catalogue: Catalogue) -> Source:
    """Return the customer told, else the one of the invoice; it sends cores back, not sells."""
    name = plain_words(told, "customer")
    if not name:
        owners = {line.customer for line in lines_of_invoice(reference)} if reference else set()
        if len(owners) != 1:
            raise wrong_field(
                "customer",
                "Say whose cores these are: a customer's code or name, or a known invoice.",
            )
        name = owners.pop()
    source = customer_called(name, catalogue)
    if source.kind not in RETURNING:
        raise wrong_field(
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
        raise wrong_field(
            "arrived_on", f"'{text}' is no day; write it like {today.isoformat()}."
        ) from None
    if day > today:
        raise wrong_field(
            "arrived_on", f"{text} is after today ({today.isoformat()}); give the carrier's day."
        )
    return day.isoformat()


def _goods(told: str) -> str:
    if told not in GOODS:
        raise wrong_field("goods", f"'{told}' is not a kind of delivery; use {', '.join(GOODS)}.")
    return told
