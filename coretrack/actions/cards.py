"""Codes on card and paper: faults and orders for the bench, badges, bins, baskets and racks."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from coretrack.actions.printing import PrintedFile
from coretrack.errors import InvalidInput, NotFound
from coretrack.figures.plain_words import counted
from coretrack.figures.tags import ORDERS, make_shop_code
from coretrack.figures.trade_objects import Family, Place, Reason, Shop
from coretrack.paper.cards import (
    PLACE_KINDS,
    BadgeCard,
    CodeGroup,
    NamedCode,
    PlaceCard,
    badge_cards,
    code_sheet,
    order_codes,
    place_cards,
)
from coretrack.paper.file_names import safe_file_name
from coretrack.records import core_queries, people, queries
from coretrack.records.database import connection
from coretrack.records.writer import Writer, writing

__all__ = [
    "BENCH_ORDERS",
    "DOCK_ORDERS",
    "PLACE_KINDS",
    "CardChoices",
    "FamilyFaults",
    "badges",
    "bench_sheet",
    "card_choices",
    "cards_of_places",
    "make_places",
    "number_faults",
    "number_for_reason",
]

MOST_PLACES = 200
LAST_PLACE = 9_999_999
LONGEST_NAME = 40

DOCK_ORDERS = ("done", "accept", "refuse", "hold", "undo", "cancel", "back", "next", "reprint")
"""The orders that the receiving station understands, in the order of its work."""

BENCH_ORDERS = (
    "no indication", "indication", "unsure", "next", "back", "again", "done", "cancel",
)  # fmt: skip
"""The orders that the bench understands beside a gauge that types."""


@dataclass(frozen=True)
class FamilyFaults:
    """A family with acceptance faults, and how many of them have no number yet."""

    family: str
    name: str
    faults: int
    unnumbered: int


@dataclass(frozen=True)
class CardChoices:
    """What cards can be made of now. `without_badge` are people who have none yet."""

    families: tuple[FamilyFaults, ...]
    places: tuple[Place, ...]
    with_badge: tuple[str, ...]
    without_badge: tuple[str, ...]


def card_choices() -> CardChoices:
    """Return the families, places and people that cards can be printed for."""
    with connection():
        known = {reason.key for reason in core_queries.reasons()}
        families = []
        for family in queries.families():
            faults = _faults(family)
            if faults:
                missing = [code for code, _ in faults if f"{family.key}/{code}" not in known]
                families.append(FamilyFaults(family.key, family.name, len(faults), len(missing)))
        here = [person for person in people.everyone() if person.active]
        return CardChoices(
            tuple(families),
            tuple(core_queries.places()),
            tuple(person.key for person in here if person.badge),
            tuple(person.key for person in here if not person.badge),
        )


def number_for_reason(writer: Writer, family: str, fault: str) -> int:
    """Return the number a family's acceptance fault is printed under, given now if it had none."""
    key = f"{family}/{fault}"
    known: Reason | None = writer.find("reason", key)
    if known is not None:
        return known.number
    number = writer.next_number("reasons")
    detail = {"key": key, "number": number, "family": family, "fault": fault}
    writer.event("reason", key, "set", detail)
    return number


def number_faults(
    families: Sequence[str], *, by: str, station: str, now: datetime, key: str
) -> int:
    """Give every acceptance fault of these families its number; return how many were new.

    NotFound for an unknown family. The same `key` again gives none and answers the same.
    """
    with writing(by, now, station) as writer:
        if key and (answer := writer.answers([key]).get(key)):
            return int(answer)
        new = 0
        for code in families:
            family: Family = writer.get("family", code)
            for fault, _ in _faults(family):
                if writer.find("reason", f"{family.key}/{fault}") is None:
                    number_for_reason(writer, family.key, fault)
                    new += 1
        if key:
            writer.remember(key, str(new))
        return new


def bench_sheet(
    families: Sequence[str],
    orders: Sequence[str] = DOCK_ORDERS,
    at_bench: Sequence[str] = (),
) -> PrintedFile:
    """Return a sheet of orders, of the bench's orders and of these families' faults as PDF.

    Faults without a number are left out: `number_faults` comes first. NotFound for an unknown
    family, InvalidInput for an order that does not exist or when there is nothing to print.
    """
    wrong = [order for order in (*orders, *at_bench) if order not in ORDERS]
    if wrong:
        raise InvalidInput(f"There is no order '{wrong[0]}'; there are {', '.join(ORDERS)}.")
    with connection():
        shop = queries.shop() or Shop("shop")
        known = {family.key: family for family in queries.families()}
        numbers = {reason.key: reason.number for reason in core_queries.reasons()}
        groups = [CodeGroup("Orders", order_codes(orders))] if orders else []
        if at_bench:
            groups.append(CodeGroup("Orders at the bench", order_codes(at_bench)))
        for code in families:
            if code not in known:
                raise NotFound(f"There is no family '{code}'; there are {', '.join(known)}.")
            groups.append(_fault_group(known[code], numbers))
    title = f"Bench sheet, {shop.name}" if shop.name else "Bench sheet"
    name = safe_file_name("bench sheet " + " ".join(families), ".pdf")
    return PrintedFile(name, code_sheet(title, groups, shop.paper_size))


def _fault_group(family: Family, numbers: dict[str, int]) -> CodeGroup:
    codes = [
        NamedCode(name, make_shop_code("reason", numbers[f"{family.key}/{code}"]))
        for code, name in _faults(family)
        if f"{family.key}/{code}" in numbers
    ]
    return CodeGroup(f"Faults of {family.name or family.key}", tuple(codes))


def _faults(family: Family) -> list[tuple[str, str]]:
    """Return code and name of the acceptance faults of a family that are in force now."""
    found = core_queries.criteria(family.key, family.criteria_version)
    faults: Sequence[Any] = found.faults if found else ()
    return [(fault["code"], fault["name"]) for fault in faults]


def badges(names: Sequence[str]) -> PrintedFile:
    """Return the badges of these people as PDF; of all who have one when none is named.

    NotFound names who is not known, InvalidInput who has no badge number yet.
    """
    with connection():
        everyone = {person.key: person for person in people.everyone()}
        shop = queries.shop() or Shop("shop")
    unknown = [name for name in names if name not in everyone]
    if unknown:
        raise NotFound(f"There is nobody called '{unknown[0]}'.")
    wanted = [everyone[name] for name in names] or [
        person for person in everyone.values() if person.badge and person.active
    ]
    without = [person.key for person in wanted if not person.badge]
    if without:
        raise InvalidInput(
            f"{', '.join(without)} has no badge yet; give one on the page of people first."
        )
    if not wanted:
        raise InvalidInput("Nobody has a badge yet; give one on the page of people first.")
    cards = [
        BadgeCard(person.key, person.role, make_shop_code("badge", person.badge))
        for person in wanted
    ]
    return PrintedFile("badges.pdf", badge_cards(cards, card_stock(shop.paper_size)))


def card_stock(paper_size: str) -> str:
    """Return the stock of cards on this paper size."""
    return f"{paper_size}-cards-10"


def make_places(
    kind: str,
    first: int,
    last: int,
    prefix: str,
    *,
    by: str,
    station: str,
    now: datetime,
    key: str,
) -> int:
    """Make bins, baskets or racks `first` to `last`, named `prefix` and number; return how many.

    One that is there already gets its new name; none is ever taken away, for its card may hang
    somewhere. InvalidInput names what is wrong with the numbers or the name.
    """
    numbers, name = _place_numbers(kind, first, last), _place_name(kind, prefix)
    with writing(by, now, station) as writer:
        if key and (answer := writer.answers([key]).get(key)):
            return int(answer)
        for number in numbers:
            code = make_shop_code(kind, number)
            detail = {"key": code, "kind": kind, "number": number, "name": f"{name} {number}"}
            known: Place | None = writer.find("place", code)
            if known is None or known.name != detail["name"]:
                writer.event("place", code, "set", detail)
        if key:
            writer.remember(key, str(len(numbers)))
        return len(numbers)


def cards_of_places(kind: str, first: int, last: int) -> PrintedFile:
    """Return the cards of the bins, baskets or racks from `first` to `last` as PDF.

    NotFound when there is none among them.
    """
    numbers = _place_numbers(kind, first, last)
    with connection():
        shop = queries.shop() or Shop("shop")
        found = [
            place
            for place in core_queries.places()
            if place.kind == kind and place.number in numbers
        ]
    if not found:
        raise NotFound(f"There is no {kind} from {first} to {last}; make them first.")
    cards = [PlaceCard(place.name, place.key, place.kind) for place in found]
    content = place_cards(cards, card_stock(shop.paper_size))
    return PrintedFile(safe_file_name(f"{kind} cards {first}-{last}", ".pdf"), content)


def _place_numbers(kind: str, first: int, last: int) -> range:
    if kind not in PLACE_KINDS:
        raise InvalidInput(
            f"'{kind}' is no kind of place; it is {', '.join(PLACE_KINDS)}.",
            {"kind": f"choose {', '.join(PLACE_KINDS)}"},
        )
    if not 1 <= first <= LAST_PLACE:
        raise InvalidInput(
            f"The first number must be 1 to {LAST_PLACE:,}, not {first}.",
            {"first": f"1 to {LAST_PLACE:,}"},
        )
    if not first <= last <= min(LAST_PLACE, first + MOST_PLACES - 1):
        raise InvalidInput(
            f"The last number must be {first} to {min(LAST_PLACE, first + MOST_PLACES - 1)}, not "
            f"{last}: at most {counted(MOST_PLACES, 'card')} at once.",
            {"last": f"{first} to {min(LAST_PLACE, first + MOST_PLACES - 1)}"},
        )
    return range(first, last + 1)


def _place_name(kind: str, prefix: str) -> str:
    name = " ".join(prefix.split()) or kind.capitalize()
    if len(name) > LONGEST_NAME or not name.isprintable():
        raise InvalidInput(
            f"The name must be at most {LONGEST_NAME} signs that can be printed.",
            {"prefix": f"at most {LONGEST_NAME} signs"},
        )
    return name
