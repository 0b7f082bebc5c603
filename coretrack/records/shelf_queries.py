"""What wash, shelf and stock-take ask the tables, answered with plain values."""

# mypy: disable-error-code="has-type, misc, index, arg-type"
# peewee's stubs type every select as model rows, also after .tuples() and .dicts().

from __future__ import annotations

from coretrack.figures.bench_objects import StockTake, Wash
from coretrack.figures.lifecycle import CoreFacts
from coretrack.figures.trade_objects import Place
from coretrack.records.bench_tables import StockTakeRow, WashRow
from coretrack.records.happenings import last_of_each
from coretrack.records.kinds import KINDS
from coretrack.records.station_tables import PlaceRow
from coretrack.records.tables import (
    CoreRow,
)
from coretrack.records.unseen import seen

UNDER_WAY = ("loading", "washing")
"""A wash whose basket is in use."""


def cores_wearing(number: int) -> list[CoreFacts]:
    """Return the cores that carry this metal tag; the rules let there be one at most."""
    rows = CoreRow.select().where(CoreRow.metal_tag == number).order_by(CoreRow.id)
    return [KINDS["core"].from_row(row) for row in rows]


def cores_with_metal_tags() -> list[CoreFacts]:
    """Return every core that carries a metal tag, by the tag's number."""
    rows = CoreRow.select().where(CoreRow.metal_tag > 0).order_by(CoreRow.metal_tag, CoreRow.id)
    return [KINDS["core"].from_row(row) for row in rows]


def washes_under_way() -> list[Wash]:
    """Return the washes whose basket is in use, oldest first."""
    rows = WashRow.select().where(WashRow.status.in_(UNDER_WAY)).order_by(WashRow.id)
    return [KINDS["wash"].from_row(row) for row in rows]


def wash_of_basket(basket: str) -> Wash | None:
    """Return the wash under way in a basket, or None."""
    rows = WashRow.select().where(WashRow.basket == basket, WashRow.status.in_(UNDER_WAY))
    found = [KINDS["wash"].from_row(row) for row in rows]
    return found[-1] if found else None


def last_washes(limit: int) -> list[Wash]:
    """Return the washes that came to an end last, newest first."""
    rows = (
        WashRow.select()
        .where(WashRow.status.not_in(UNDER_WAY))
        .order_by(WashRow.id.desc())
        .limit(limit)
    )
    return [KINDS["wash"].from_row(row) for row in rows]


def wash(key: str) -> Wash | None:
    """Return one wash, or None."""
    row = WashRow.get_or_none(WashRow.key == key)
    return KINDS["wash"].from_row(row) if row else None


def places_of(kind: str) -> list[Place]:
    """Return the bins, baskets or racks, by number."""
    rows = PlaceRow.select().where(PlaceRow.kind == kind).order_by(PlaceRow.number)
    return [KINDS["place"].from_row(row) for row in rows]


def place(key: str) -> Place | None:
    """Return one place by the code on its card, or None."""
    row = PlaceRow.get_or_none(PlaceRow.key == key)
    return KINDS["place"].from_row(row) if row else None


def good_bodies(family: str = "", place: str | None = None) -> list[CoreFacts]:
    """Return the good bodies on the shelf, in the order they came in.

    All, or those of a family, or in one place; the place "" is no bin.
    """
    query = CoreRow.select().where(CoreRow.state == "good").order_by(CoreRow.id)
    if family:
        query = query.where(CoreRow.family == family)
    if place is not None:
        query = query.where(CoreRow.place == place)
    return seen(KINDS["core"].from_row(row) for row in query)


def bodies_of_group(family: str, core_group: str) -> list[CoreFacts]:
    """Return the good bodies that count as the same core, in the order they came in."""
    return [core for core in good_bodies(family) if core.core_group == core_group]


def built_bodies(into: str | None = None) -> list[CoreFacts]:
    """Return the bodies picked for a build, all or those for one, in the order they came in."""
    query = CoreRow.select().where(CoreRow.state == "built").order_by(CoreRow.id)
    if into is not None:
        query = query.where(CoreRow.built_into == into)
    return seen(KINDS["core"].from_row(row) for row in query)


def last_pick(tag: str) -> str:
    """Return the bin that a body was picked from last, "" for none or when it never was."""
    told = last_of_each("core", [tag], ["picked"]).get(tag)
    return str(told.detail.get("from", "")) if told else ""


def stock_take(key: str) -> StockTake | None:
    """Return one stock-take, or None."""
    row = StockTakeRow.get_or_none(StockTakeRow.key == key)
    return KINDS["stock take"].from_row(row) if row else None


def stock_takes(limit: int) -> list[StockTake]:
    """Return the stock-takes begun last, newest first."""
    rows = StockTakeRow.select().order_by(StockTakeRow.id.desc()).limit(limit)
    return [KINDS["stock take"].from_row(row) for row in rows]
