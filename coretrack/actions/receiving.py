"""A manifest comes in: from a customer its cores are returns, from anybody else a purchased lot."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime
from decimal import Decimal

from coretrack.actions.imports import FileRequest, ImportAnswer, Progress
from coretrack.actions.intake import Terms, import_lot
from coretrack.actions.returns import ReturnTerms, import_returns
from coretrack.errors import InvalidInput, NotFound
from coretrack.figures.money import Money, from_decimal
from coretrack.figures.numbers import NotANumber, parse_number
from coretrack.records import queries
from coretrack.records.database import connection

RETURNING = ("customer", "dealer", "own comeback")
"""Kinds of source whose cores answer a sale; all others sell cores."""


@dataclass(frozen=True)
class ManifestTerms:
    """What was said beside a manifest; an empty source leaves it to the file's own column."""

    source: str
    lot: str
    received: date | None
    basis: str
    price: Money | None
    freight: Money
    mass_kg: Decimal | None
    bid_yield: str


def manifest_terms(
    source: str | None,
    lot: str = "",
    received: str | None = None,
    basis: str = "piece",
    price: str | None = None,
    freight: str = "0",
    mass: str | None = None,
    bid_yield: str = "",
) -> ManifestTerms:
    """Return terms from texts as typed; InvalidInput names the one that cannot be read."""
    share = _number("bid yield", bid_yield)
    if share is not None and not 0 < share <= 1:
        raise InvalidInput(f"The bid yield {bid_yield} is no share; write it like 0.62.")
    return ManifestTerms(
        source or "",
        lot.strip(),
        _day(received),
        basis,
        _money("price", price),
        _money("freight", freight) or 0,
        _number("mass", mass),
        bid_yield,
    )


def import_manifest(
    request: FileRequest,
    terms: ManifestTerms,
    *,
    by: str,
    now: datetime,
    progress: Progress | None = None,
) -> ImportAnswer:
    """Receive a manifest as returns or as a purchased lot, by what kind of source it comes from."""
    if _returns(terms.source):
        said = ReturnTerms(terms.source, terms.received, terms.lot)
        return import_returns(request, said, by=by, now=now, progress=progress)
    bought = Terms(
        terms.source,
        terms.lot,
        terms.received,
        terms.basis,
        terms.price,
        terms.freight,
        terms.mass_kg,
        terms.bid_yield,
    )
    return import_lot(request, bought, by=by, now=now, progress=progress)


def _returns(code: str) -> bool:
    if not code:
        return True
    with connection():
        known = {source.key.casefold(): source for source in queries.sources()}
    if code.casefold() not in known:
        codes = ", ".join(source.key for source in known.values()) or "none yet"
        raise NotFound(f"There is no source '{code}'; known: {codes}. Add one with 'source'.")
    return known[code.casefold()].kind in RETURNING


def _number(name: str, text: str | None) -> Decimal | None:
    if not text:
        return None
    try:
        number = parse_number(text, allow_thousands=True)
    except NotANumber as error:
        raise InvalidInput(f"The {name}: {error}.") from None
    if number < 0:
        raise InvalidInput(f"The {name} {text} is negative; use 0 or more.")
    return number


def _money(name: str, text: str | None) -> Money | None:
    number = _number(name, text)
    if number is None:
        return None
    try:
        return from_decimal(number)
    except ValueError as error:
        raise InvalidInput(f"The {name}: {error}.") from None


def _day(text: str | None) -> date | None:
    if not text:
        return None
    try:
        return date.fromisoformat(text)
    except ValueError:
        raise InvalidInput(f"'{text}' is not a day; write it like 2026-05-04.") from None
