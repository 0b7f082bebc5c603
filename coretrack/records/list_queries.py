"""What the clerk's lists ask: open core lines, cores by state, deliveries, credits waiting."""

# mypy: disable-error-code="has-type, misc, index, arg-type"
# peewee's stubs type every select as model rows, also after .tuples() and .dicts().

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Any

from peewee import Case, Expression, chunked, fn

from coretrack.figures.lifecycle import CoreFacts
from coretrack.figures.trade_objects import CreditNote, Line, Lot
from coretrack.records.kinds import KINDS
from coretrack.records.objects import every, one
from coretrack.records.station_tables import CreditNoteRow
from coretrack.records.tables import CoreRow, EventRow, FamilyRow, LineRow, LotRow
from coretrack.records.unseen import seen, unseen

CREDITED = ("accept", "part credit")
"""Outcomes at the dock that earn a credit."""

_CHUNK = 400
_OWED = LineRow.quantity - LineRow.credited - LineRow.waived - LineRow.forfeited


@dataclass(frozen=True)
class OwedOnDay:
    """Open core lines of one day of sale and one window: how many, their units, their money."""

    sold_on: str
    window_days: int
    lines: int
    units: int
    money: int


@dataclass(frozen=True)
class LotCounts:
    """The cores of a delivery: stored, judged at the dock, refused and still held."""

    taken: int = 0
    judged: int = 0
    held: int = 0


@dataclass(frozen=True)
class WaitingTotals:
    """Credits that have not left the house: all of them, and those that wait for teardown."""

    cores: int
    money: int
    teardown: int
    teardown_money: int


def open_line_days() -> list[OwedOnDay]:
    """Return what is owed, summed up by day of sale and length of window."""
    rows = (
        LineRow.select(
            LineRow.sold_on,
            LineRow.window_days,
            fn.COUNT(LineRow.id),
            fn.SUM(_OWED),
            fn.SUM(_OWED * LineRow.charge),
        )
        .where(_OWED > 0)
        .group_by(LineRow.sold_on, LineRow.window_days)
        .tuples()
    )
    return [
        OwedOnDay(day, int(window), int(lines), int(units), int(money))
        for day, window, lines, units, money in rows
    ]


def lines_owing() -> list[tuple[str, str]]:
    """Return the customers and families that open core lines have, each pair once."""
    rows = LineRow.select(LineRow.customer, LineRow.family).where(_OWED > 0).distinct().tuples()
    return sorted((customer, family) for customer, family in rows)


def lines_with_keys(keys: Iterable[str]) -> dict[str, Line]:
    """Return the core lines with these keys."""
    found: dict[str, Line] = {}
    for some in chunked(sorted(set(keys)), _CHUNK):
        for row in LineRow.select().where(LineRow.key.in_(list(some))):
            found[row.key] = KINDS["line"].from_row(row)
    return found


def lots_with_keys(keys: Iterable[str]) -> dict[str, Lot]:
    """Return the lots with these keys."""
    found: dict[str, Lot] = {}
    for some in chunked(sorted(set(keys)), _CHUNK):
        for row in LotRow.select().where(LotRow.key.in_(list(some))):
            found[row.key] = KINDS["lot"].from_row(row)
    return found


def cores_of_line(line: str) -> list[CoreFacts]:
    """Return the cores that answered a core line, in the order they came in."""
    return every("core", {"line": line})


def cores_in(states: Sequence[str], customer: str = "") -> list[CoreFacts]:
    """Return the cores in these states in the order they came in, all or one customer's.

    A customer's are those of the deliveries he sent, comebacks with them; a core whose source was
    lost is nobody's any more.
    """
    query = CoreRow.select().where(CoreRow.state.in_(list(states))).order_by(CoreRow.id)
    if customer:
        sent = LotRow.select(LotRow.key).where(LotRow.kind == "return", LotRow.source == customer)
        query = query.where(CoreRow.lot.in_(sent), CoreRow.source_lost == False)  # noqa: E712 - SQL
    return seen(KINDS["core"].from_row(row) for row in query)


def cores_per_state(states: Sequence[str]) -> dict[str, int]:
    """Return how many cores are in each of these states."""
    rows = (
        CoreRow.select(CoreRow.state, fn.COUNT(CoreRow.id))
        .where(CoreRow.state.in_(list(states)), CoreRow.tag.not_in(list(unseen())))
        .group_by(CoreRow.state)
        .tuples()
    )
    return {state: int(number) for state, number in rows}


def held_past(day: str) -> int:
    """Return how many refused cores were kept until before `day`."""
    return int(
        CoreRow.select()
        .where(CoreRow.state == "hold", CoreRow.hold_until != "", CoreRow.hold_until < day)
        .count()
    )


def deliveries_on(day: str) -> list[Lot]:
    """Return the deliveries that came in or arrived on a day, oldest key first."""
    return _deliveries((LotRow.received_on == day) | (LotRow.arrived_on == day))


def deliveries_with(statuses: Sequence[str]) -> list[Lot]:
    """Return the deliveries with one of these statuses, oldest first."""
    return _deliveries(LotRow.status.in_(list(statuses)))


def deliveries_of(customer: str, limit: int) -> list[Lot]:
    """Return a customer's last deliveries, newest first."""
    rows = (
        LotRow.select()
        .where(LotRow.kind == "return", LotRow.source == customer)
        .order_by(LotRow.received_on.desc(), LotRow.id.desc())
        .limit(limit)
    )
    return [KINDS["lot"].from_row(row) for row in rows]


def deliveries_called(text: str) -> list[Lot]:
    """Return the deliveries whose code or customer's paper is `text`, capitals aside."""
    low = text.lower()
    return _deliveries(
        (fn.LOWER(LotRow.key) == low)
        | (LotRow.key == text)
        | (fn.LOWER(LotRow.reference) == low)
        | (LotRow.reference == text)
    )


def _deliveries(which: Expression) -> list[Lot]:
    rows = LotRow.select().where(LotRow.kind == "return", which)
    lots = [KINDS["lot"].from_row(row) for row in rows]
    return sorted(lots, key=lambda lot: (lot.received_on, lot.key))


def count_deliveries(day: str) -> tuple[int, int, int]:
    """Return how many deliveries are open, have a difference, and came in on `day`."""
    rows = (
        LotRow.select(LotRow.status, fn.COUNT(LotRow.id))
        .where(LotRow.kind == "return", LotRow.status.in_(["open", "difference"]))
        .group_by(LotRow.status)
        .tuples()
    )
    by_status = {status: int(number) for status, number in rows}
    came = LotRow.select().where(
        LotRow.kind == "return", LotRow.received_on == day, LotRow.status != "given up"
    )
    return by_status.get("open", 0), by_status.get("difference", 0), int(came.count())


def lot_counts(keys: Iterable[str]) -> dict[str, LotCounts]:
    """Return how many cores these lots have; what was taken back counts nowhere."""
    found: dict[str, LotCounts] = {}
    judged = fn.SUM(Case(None, [(CoreRow.acceptance != "", 1)], 0))
    held = fn.SUM(Case(None, [(CoreRow.state == "hold", 1)], 0))
    for some in chunked(sorted(set(keys)), _CHUNK):
        rows = (
            CoreRow.select(CoreRow.lot, fn.COUNT(CoreRow.id), judged, held)
            .where(CoreRow.lot.in_(list(some)), CoreRow.state != "taken back")
            .group_by(CoreRow.lot)
            .tuples()
        )
        found.update({lot: LotCounts(int(n), int(j), int(h)) for lot, n, j, h in rows})
    return found


def _waiting() -> Expression:
    return CoreRow.acceptance.in_(list(CREDITED)) & (CoreRow.credit_note == "")


def credits_waiting(customer: str = "") -> list[CoreFacts]:
    """Return the cores whose credit has not left the house, in the order they came in."""
    query = CoreRow.select().where(_waiting()).order_by(CoreRow.id)
    if customer:
        theirs = LineRow.select(LineRow.key).where(LineRow.customer == customer)
        query = query.where(CoreRow.line.in_(theirs))
    return [KINDS["core"].from_row(row) for row in query]


def credit_totals() -> WaitingTotals:
    """Return how many credits wait, and how many of them for the first verdict after teardown."""
    late = FamilyRow.select(FamilyRow.key).where(FamilyRow.credit_when == "teardown")
    apart = Case(None, [(CoreRow.family.in_(late) & (CoreRow.first_grade == ""), 1)], 0)
    cores, money, teardown, teardown_money = (
        CoreRow.select(
            fn.COUNT(CoreRow.id),
            fn.SUM(CoreRow.credit),
            fn.SUM(apart),
            fn.SUM(apart * CoreRow.credit),
        )
        .where(_waiting())
        .tuples()
        .get()
    )
    return WaitingTotals(
        int(cores or 0), int(money or 0), int(teardown or 0), int(teardown_money or 0)
    )


def credit_note(number: str) -> CreditNote | None:
    """Return one credit note, or None."""
    return one("credit note", number)


def credit_notes(numbers: Iterable[str]) -> list[CreditNote]:
    """Return the credit notes with these numbers, in the order they were made."""
    found: list[Any] = []
    for some in chunked(sorted(set(numbers)), _CHUNK):
        found.extend(CreditNoteRow.select().where(CreditNoteRow.key.in_(list(some))))
    return [KINDS["credit note"].from_row(row) for row in sorted(found, key=lambda row: row.id)]


def credit_notes_of(customer: str, limit: int) -> list[CreditNote]:
    """Return a customer's last credit notes, newest first."""
    rows = (
        CreditNoteRow.select()
        .where(CreditNoteRow.customer == customer)
        .order_by(CreditNoteRow.id.desc())
        .limit(limit)
    )
    return [KINDS["credit note"].from_row(row) for row in rows]


def credit_notes_on(day: str) -> list[CreditNote]:
    """Return the credit notes of a day, by number."""
    return every("credit note", {"day": day})


def refused_since(start: str, end: str) -> list[str]:
    """Return the tags of cores refused, or kept back, at moments from `start` up to before `end`.

    Only those that still lie in the hold bin; in the order of their tags.
    """
    rows = (
        EventRow.select(EventRow.object_key)
        .join(CoreRow, on=(CoreRow.tag == EventRow.object_key))
        .where(
            EventRow.object_kind == "core",
            EventRow.event.in_(["accepted", "held"]),
            EventRow.at >= start,
            EventRow.at < end,
            CoreRow.state == "hold",
        )
        .distinct()
        .tuples()
    )
    return sorted(tag for (tag,) in rows)
