"""A manifest comes in: from a customer its cores are returns, from anybody else a purchased lot."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime
from decimal import Decimal

from coretrack.actions.imports import FileRequest, ImportAnswer, Progress
from coretrack.actions.intake import Terms, import_lot
from coretrack.actions.returns import ReturnTerms, import_returns
from coretrack.errors import InvalidInput, NotFound
from coretrack.figures.amounts import parse_amount
from coretrack.figures.money import Money
from coretrack.figures.numbers import NotANumber, parse_number
from coretrack.figures.trade_objects import Source
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
    return ManifestTerms(
        source or "",
        lot.strip(),
        _day(received),
        basis,
        _money("price", price),
        _money("freight", freight) or 0,
        _number("mass", mass),
        _bid_yield(bid_yield),
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
    source = source_called(terms.source) if terms.source else None
    if source is None or source.kind in RETURNING:
        _refuse_price(source, terms)
        said = ReturnTerms(source.key if source else "", terms.received, terms.lot)
        return import_returns(request, said, by=by, now=now, progress=progress)
    bought = Terms(
        source.key,
        terms.lot,
        terms.received,
        terms.basis,
        terms.price,
        terms.freight,
        terms.mass_kg,
        terms.bid_yield,
    )
    return import_lot(request, bought, by=by, now=now, progress=progress)


def source_called(told: str) -> Source:
    """Return the source with this code or name; NotFound lists what is known."""
    with connection():
        known = queries.sources()
    found = [source for source in known if source.key.casefold() == told.casefold()]
    found = found or [source for source in known if source.name.casefold() == told.casefold()]
    if len(found) != 1:
        codes = ", ".join(source.key for source in known) or "none yet"
        raise NotFound(f"There is no source '{told}'; known: {codes}. Add one with 'source'.")
    return found[0]


def _refuse_price(source: Source | None, terms: ManifestTerms) -> None:
    """Raise InvalidInput when a price is told for cores that come back instead of being bought."""
    bought = terms.price, terms.freight, terms.mass_kg, terms.bid_yield, terms.basis != "piece"
    if not any(bought):
        return
    who = f"{source.key} is a {source.kind}" if source else "No source is told"
    raise InvalidInput(
        f"{who}, so these cores are returns and are credited by their sale: price, basis, freight, "
        "mass and bid yield belong to a lot bought from a broker or salvage yard."
    )


def _bid_yield(text: str) -> str:
    """Return the share of good bodies expected, from "62", "62 %" or "0.62"; empty when none is.

    From 2 on it is percent; what lies between 1 and 2 could be either and is asked back.
    """
    share = _number("yield expected", text.strip().rstrip("% "))
    if share is None:
        return ""
    if text.strip().endswith("%") or 2 <= share <= 100:
        share = share / 100
    if not 0 < share <= 1:
        raise InvalidInput(
            f"The yield expected '{text.strip()}' is no share of the bodies; write it like 62 %."
        )
    return f"{share.normalize():f}"


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
    if not text:
        return None
    try:
        return parse_amount(text)
    except NotANumber as error:
        raise InvalidInput(f"The {name}: {error}.") from None


def _day(text: str | None) -> date | None:
    if not text:
        return None
    try:
        return date.fromisoformat(text)
    except ValueError:
        raise InvalidInput(f"'{text}' is not a day; write it like 2026-05-04.") from None
