"""What a basket's or a rack's card says to somebody who does not work at it: what it holds now."""

from __future__ import annotations

from coretrack.actions.rack_runs import racks_at_work
from coretrack.figures.plain_words import counted
from coretrack.figures.trade_objects import Place
from coretrack.records import shelf_queries
from coretrack.records.writer import Writer

_STATUS = {"loading": "being loaded for the wash", "washing": "in the wash"}


def holds(writer: Writer, code: str) -> str:
    """Return what a basket or rack of this code holds, in a sentence; "" when there is none."""
    place: Place | None = writer.find("place", code)
    if place is None:
        return ""
    wash = shelf_queries.wash_of_basket(code)
    if wash is not None:
        held = counted(len(wash.slots), "core")
        return f"{place.name}: {held}, {_STATUS.get(wash.status, wash.status)} ({wash.key})."
    for rack, _ in racks_at_work():
        if rack.place == code:
            return (
                f"{place.name}: {counted(len(rack.tags), 'core')} at the crack check ({rack.code})."
            )
    return f"{place.name} is free."
