"""What the receiving station asks the tables, answered with plain values."""

from __future__ import annotations

import json
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from peewee import fn

from coretrack.figures.trade_objects import Line, Lot, Place, Reason
from coretrack.records.kinds import KINDS
from coretrack.records.tables import (
    CoreRow,
    EventRow,
    LineRow,
    LotRow,
    PersonRow,
    PlaceRow,
    ReasonRow,
)
from coretrack.records.times import from_text


@dataclass(frozen=True)
class Happened:
    """An event as it stands in the history; `number` counts up over all events."""

    number: int
    kind: str
    key: str
    event: str
    at: datetime
    by: str
    detail: Mapping[str, Any]
    why: str


def history_of(kind: str, key: str) -> list[Happened]:
    """Return all events of one object, oldest first."""
    rows = (
        EventRow.select()
        .where(EventRow.object_kind == kind, EventRow.object_key == key)
        .order_by(EventRow.sequence)
    )
    return [_happened(row) for row in rows]


def history_of_cores(lot: str) -> list[Happened]:
    """Return all events of a lot's cores, in the order they were written."""
    tags = CoreRow.select(CoreRow.tag).where(CoreRow.lot == lot)
    rows = (
        EventRow.select()
        .where(EventRow.object_kind == "core", EventRow.object_key.in_(tags))
        .order_by(EventRow.id)
    )
    return [_happened(row) for row in rows]


def last_of(kind: str, key: str) -> Happened | None:
    """Return the newest event of an object."""
    row = (
        EventRow.select()
        .where(EventRow.object_kind == kind, EventRow.object_key == key)
        .order_by(EventRow.sequence.desc())
        .first()
    )
    return _happened(row) if row else None


def owed_by(customer: str) -> list[Line]:
    """Return a customer's core lines that still expect cores, oldest sale first."""
    owed = LineRow.quantity - LineRow.credited - LineRow.waived - LineRow.forfeited
    rows = LineRow.select().where(LineRow.customer == customer, owed > 0)
    lines: list[Line] = [KINDS["line"].from_row(row) for row in rows]
    return sorted(lines, key=lambda line: (line.sold_on, line.key))


def deliveries(*statuses: str) -> list[Lot]:
    """Return deliveries of returns taken in at the station, newest first; of these statuses."""
    rows = (
        LotRow.select()
        .where(LotRow.kind == "return", LotRow.status.in_(statuses))
        .order_by(LotRow.id.desc())
    )
    return [KINDS["lot"].from_row(row) for row in rows]


def deliveries_with_reference(text: str) -> list[Lot]:
    """Return the open deliveries whose own paper has this number, newest first."""
    return [lot for lot in deliveries("open") if lot.reference.casefold() == text.casefold()]


def reason_numbered(number: int) -> Reason | None:
    """Return the acceptance fault that is printed as a code under this number."""
    row = ReasonRow.get_or_none(ReasonRow.number == number)
    return KINDS["reason"].from_row(row) if row else None


def place_called(name: str) -> Place | None:
    """Return the bin, basket or rack with this name, when capitals are ignored."""
    rows = PlaceRow.select().where(
        (fn.LOWER(PlaceRow.name) == name.lower()) | (PlaceRow.name == name)
    )
    found = [KINDS["place"].from_row(row) for row in rows]
    return found[0] if len(found) == 1 else None


def person_called(name: str) -> str | None:
    """Return the name of the one who works here under it, as the shop writes it."""
    by_case = {known.casefold(): known for known in people_here()}
    return by_case.get(name.strip().casefold())


def people_here() -> list[str]:
    """Return the names of all who work here, by name."""
    rows = PersonRow.select(PersonRow.key, PersonRow.active)
    return sorted(row.key for row in rows if row.active)


def name_taken(code: str) -> bool:
    """Return whether a lot or an invoice is called so already."""
    return bool(
        LotRow.select().where(LotRow.key == code).exists()
        or LineRow.select().where(LineRow.invoice == code).exists()
    )


def _happened(row: Any) -> Happened:
    body = json.loads(row.body)
    return Happened(
        number=row.id,
        kind=row.object_kind,
        key=row.object_key,
        event=row.event,
        at=from_text(row.at),
        by=row.by,
        detail=body["detail"],
        why=body.get("why", ""),
    )
