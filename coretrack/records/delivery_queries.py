"""What the receiving station asks the tables, answered with plain values."""

from __future__ import annotations

from peewee import fn

from coretrack.figures.trade_objects import Lot, Place, Reason
from coretrack.records.kinds import KINDS
from coretrack.records.station_tables import PlaceRow, ReasonRow
from coretrack.records.tables import (
    LineRow,
    LotRow,
    PersonRow,
)


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
