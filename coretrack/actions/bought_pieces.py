"""The pieces of a purchased lot: each gets its share of price and freight, and its tag.

A manifest and a sort-out by scanner both come through here, so that the same lot costs the same
whichever way it came in.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime
from decimal import Decimal
from fractions import Fraction
from typing import Any

from coretrack.actions.arrivals import ArrivalDesk
from coretrack.actions.lookups import Catalogue
from coretrack.errors import InvalidInput
from coretrack.figures.lifecycle import CoreFacts
from coretrack.figures.money import CENT, Money, allocate, nearest, to_decimal, whole
from coretrack.figures.plain_words import are
from coretrack.figures.trade_objects import Number


@dataclass(frozen=True)
class BoughtPiece:
    """One piece of a lot before it has a tag.

    `number` is None for an unknown core, `number_text` then what was read. `mass_g` is None when it
    was not weighed, `price` the piece's own where it has one. `stated` is what the sender measured.
    """

    number: Number | None
    number_text: str
    serial: str = ""
    mass_g: int | None = None
    price: Money | None = None
    note: str = ""
    stated: Sequence[Mapping[str, Any]] = ()


@dataclass(frozen=True)
class Shares:
    """What each piece of a lot costs, in the order of the pieces; the parts add up exactly.

    `total` is the price of all, `mass_g` the known masses together, `note` what has to be said.
    """

    prices: tuple[Money, ...]
    freights: tuple[Money, ...]
    total: Money
    mass_g: int
    note: str = ""


def usual_mass(piece: BoughtPiece, catalogue: Catalogue) -> int | None:
    """Return the mass of the piece's family in grams, None for an unknown core."""
    return None if piece.number is None else catalogue.family(piece.number.family).mass_g


def piece_mass(piece: BoughtPiece, catalogue: Catalogue) -> int | None:
    """Return the grams a piece is paid by: its own, else its family's; None when none is known."""
    return piece.mass_g if piece.mass_g is not None else usual_mass(piece, catalogue)


def looks_like_all(mass_g: int | None, count: int, usual: int | None) -> bool:
    """Return whether a mass told for one piece is rather that of all `count` together."""
    if mass_g is None or usual is None or count <= 1:
        return False
    return abs(mass_g / count - usual) < abs(mass_g - usual)


def spread(
    pieces: Sequence[BoughtPiece],
    catalogue: Catalogue,
    *,
    basis: str,
    price: Money | None,
    freight: Money,
    mass_kg: Decimal | None,
) -> Shares:
    """Return what each of the pieces costs, of which there must be one at least.

    By the piece each costs its own price, else `price`. By weight the price of the weigh ticket's
    kilograms (`mass_kg`), else of the pieces', is spread by mass; a piece without one takes the
    mean of the others. A lump sum is spread equally, as is freight.
    InvalidInput when a lot by weight or for a lump sum has no price.
    """
    masses = [piece_mass(piece, catalogue) for piece in pieces]
    prices, total, note = _prices(pieces, masses, basis, price, mass_kg)
    freights = allocate(freight, [1] * len(pieces), CENT)
    mass_g = sum(mass or 0 for mass in masses)
    return Shares(tuple(prices), tuple(freights), total, mass_g, note)


def _prices(
    pieces: Sequence[BoughtPiece],
    masses: Sequence[int | None],
    basis: str,
    price: Money | None,
    mass_kg: Decimal | None,
) -> tuple[list[Money], Money, str]:
    if basis == "piece":
        prices = [piece.price if piece.price is not None else (price or 0) for piece in pieces]
        return prices, sum(prices), ""
    if price is None:
        raise InvalidInput(f"A lot bought by {basis} needs --price.", {"price": "missing"})
    if basis == "lump":
        return allocate(price, [1] * len(pieces), CENT), price, ""
    known = [mass for mass in masses if mass is not None]
    weights, note = _weights(masses, known)
    kilograms = Fraction(mass_kg) if mass_kg is not None else Fraction(sum(known), 1000)
    total = nearest(kilograms * Fraction(to_decimal(price)))
    return allocate(total, weights, CENT), total, note


def _weights(masses: Sequence[int | None], known: Sequence[int]) -> tuple[list[Fraction], str]:
    """Return what the price is spread by, and what has to be said of it.

    A piece without a known mass stands in with the mean of the others: one unreadable piece must
    not change what all the others cost.
    """
    missing = len(masses) - len(known)
    if not known:
        note = "no piece has a known mass: the price is spread equally over the pieces"
        return [Fraction(1)] * len(masses), note
    mean = Fraction(sum(known), len(known))
    weights = [mean if mass is None else Fraction(mass) for mass in masses]
    if not missing:
        return weights, ""
    stands = "stands in for it" if missing == 1 else "stands in for each of them"
    grams = whole(mean)
    return weights, (
        f"{are(missing, 'piece')} without a known mass: the mean of the others, "
        f"{Decimal(grams) / 1000:f} kg, {stands}"
    )


def tag_pieces(
    desk: ArrivalDesk,
    pieces: Sequence[BoughtPiece],
    shares: Shares,
    *,
    lot: str,
    source: str,
    day: date,
    at: datetime | None = None,
) -> list[CoreFacts]:
    """Receive the pieces as cores, tagged in their order; return them in it.

    `at` is the moment, noon of `day` where only the day is known.
    """
    tags = desk.take_tags(len(pieces))
    parts = zip(pieces, tags, shares.prices, shares.freights, strict=True)
    return [
        desk.receive(
            tag,
            stream="purchase",
            lot=lot,
            source=source,
            number=piece.number,
            number_text=piece.number_text,
            serial=piece.serial,
            day=day,
            costs={"price": price, "freight": freight},
            extra={"mass_g": piece.mass_g, "note": piece.note, "stated": piece.stated},
            at=at,
        )
        for piece, tag, price, freight in parts
    ]
