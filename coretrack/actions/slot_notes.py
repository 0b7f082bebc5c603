"""What labels after a wash say beside the core: the basket and slot that it comes out of."""

from __future__ import annotations

from coretrack.figures.tags import show_tag
from coretrack.figures.wash_slots import in_order
from coretrack.records import shelf_queries


def slot_notes(wash: str) -> dict[str, str]:
    """Return "Basket 1, slot 4" by tag for the cores of a wash; {} without one that is known.

    Call with a connection.
    """
    known = shelf_queries.wash(wash) if wash else None
    if known is None:
        return {}
    place = shelf_queries.place(known.basket)
    name = place.name if place else show_tag(known.basket)
    return {tag: f"{name}, slot {slot}" for slot, tag in in_order(known.slots)}
