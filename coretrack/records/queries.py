"""The read side: questions to the tables, answered with plain values."""

# mypy: disable-error-code="has-type, misc, index, arg-type"
# peewee's stubs type every select as model rows, also after .tuples() and .dicts().

from __future__ import annotations

import json
from collections.abc import Iterable, Sequence
from datetime import date
from decimal import Decimal

from peewee import Expression, Field, chunked, fn

from coretrack.figures.lifecycle import COST_PARTS, CoreFacts
from coretrack.figures.money import Money
from coretrack.figures.tallies import COUNTERS
from coretrack.figures.trade_objects import (
    CoreCharge,
    Family,
    Gauge,
    Line,
    Lot,
    Number,
    Shop,
    Source,
)
from coretrack.records.bench_tables import ReadingRow
from coretrack.records.kinds import KINDS
from coretrack.records.objects import every, one
from coretrack.records.tables import (
    CoreRow,
    ImportedFileRow,
    LineRow,
    LotRow,
    NumberRow,
    PersonRow,
    TallyRow,
)

STILL_OWED = '"quantity" - "credited" - "waived" - "forfeited" > 0'
"""A core line that still expects cores, as a condition."""


def shop() -> Shop | None:
    """Return the shop's settings, or None before it is set up."""
    return one("shop", "shop")


def families() -> list[Family]:
    """Return all families by code."""
    return sorted(every("family"), key=lambda family: family.key)


def sources() -> list[Source]:
    """Return all sources by code."""
    return sorted(every("source"), key=lambda source: source.key)


def gauges() -> list[Gauge]:
    """Return all gauges by code."""
    return sorted(every("gauge"), key=lambda gauge: gauge.key)


def rates() -> list[tuple[str, date, Decimal]]:
    """Return every dated rate: item, first day, amount."""
    return [
        (rate.item, date.fromisoformat(rate.valid_from), Decimal(rate.amount))
        for rate in every("rate")
    ]


def charges(family: str) -> list[CoreCharge]:
    """Return a family's core charges, oldest first."""
    return sorted(every("core charge", {"family": family}), key=lambda each: each.valid_from)


def numbers(keys: Iterable[str]) -> dict[str, Number]:
    """Return the numbers known by these match keys."""
    rows = NumberRow.select().where(NumberRow.key.in_(list(keys)))
    return {row.key: KINDS["number"].from_row(row) for row in rows}


def numbers_starting(prefix: str, limit: int) -> list[Number]:
    """Return known numbers whose match key begins with `prefix`."""
    # Not as a range of the order: PostgreSQL sorts texts by the rules of its own language.
    rows = (
        NumberRow.select()
        .where(fn.SUBSTR(NumberRow.key, 1, len(prefix)) == prefix)
        .order_by(NumberRow.key)
        .limit(limit)
    )
    return [KINDS["number"].from_row(row) for row in rows]


def people() -> int:
    """Return how many people are known."""
    return int(PersonRow.select().count())


def core(tag: str) -> CoreFacts | None:
    """Return one core by its tag."""
    return one("core", tag)


_TAKEN_IN = CoreRow.state != "taken back"


def cores_with_serial(serial: str) -> list[CoreFacts]:
    """Return the cores whose serial is `serial` when case is ignored, newest first.

    Here and below: a core that was taken back was never in, so it is no life of its body.
    """
    rows = (
        CoreRow.select()
        .where(_is_called(CoreRow.serial, serial), CoreRow.serial != "", _TAKEN_IN)
        .order_by(CoreRow.id.desc())
    )
    return [KINDS["core"].from_row(row) for row in rows]


def _is_called(column: Field, text: str) -> Expression:
    """Return the question whether a column holds `text` when case is ignored.

    SQLite lowers A to Z only: a text with other letters must at least be found as it is written.
    """
    return (fn.LOWER(column) == text.lower()) | (column == text)


def cores_with_serials(serials: Iterable[str]) -> dict[str, list[CoreFacts]]:
    """Return the cores that carry exactly these serials, per serial, oldest first."""
    found: dict[str, list[CoreFacts]] = {}
    wanted = [serial for serial in set(serials) if serial]
    for some in chunked(wanted, 400):
        for row in (
            CoreRow.select().where(CoreRow.serial.in_(list(some)), _TAKEN_IN).order_by(CoreRow.id)
        ):
            found.setdefault(row.serial, []).append(KINDS["core"].from_row(row))
    return found


def cores_with_loose_serials(serials: Iterable[str]) -> dict[str, list[CoreFacts]]:
    """Return the cores whose serial, without blanks and dashes, is one of these; oldest first."""
    loosely = fn.REPLACE(fn.REPLACE(CoreRow.serial, "-", ""), " ", "")
    found: dict[str, list[CoreFacts]] = {}
    wanted = [serial for serial in set(serials) if serial]
    for some in chunked(wanted, 400):
        rows = CoreRow.select().where(loosely.in_(list(some)), _TAKEN_IN)
        for row in rows.order_by(CoreRow.id):
            key = row.serial.replace("-", "").replace(" ", "")
            found.setdefault(key, []).append(KINDS["core"].from_row(row))
    return found


def cores_tagged(tags: Iterable[str]) -> dict[str, CoreFacts]:
    """Return the cores with these tags."""
    found: dict[str, CoreFacts] = {}
    for some in chunked(set(tags), 400):
        for row in CoreRow.select().where(CoreRow.tag.in_(list(some))):
            found[row.tag] = KINDS["core"].from_row(row)
    return found


def tags_holding(digits: str, limit: int) -> list[str]:
    """Return tags of cores that hold these digits, lowest first."""
    rows = (
        CoreRow.select(CoreRow.tag)
        .where(CoreRow.tag.contains(digits))
        .order_by(CoreRow.tag)
        .limit(limit)
    )
    return [row.tag for row in rows]


def papers(text: str) -> list[str]:
    """Return the invoices, deliveries and lots called `text` when case is ignored."""
    invoices = LineRow.select(LineRow.invoice).where(_is_called(LineRow.invoice, text))
    arrivals = LotRow.select(LotRow.key).where(_is_called(LotRow.key, text))
    return sorted({row.invoice for row in invoices} | {row.key for row in arrivals})


def cores_of_lot(lot: str) -> list[CoreFacts]:
    """Return a lot's cores in the order they were received."""
    return every("core", {"lot": lot})


def credited_on(lot: str) -> Money:
    """Return the money that a lot's cores earned so far."""
    return int(CoreRow.select(fn.SUM(CoreRow.credit)).where(CoreRow.lot == lot).scalar() or 0)


def lot(key: str) -> Lot | None:
    """Return one lot."""
    return one("lot", key)


def lots(kind: str | None = None) -> list[Lot]:
    """Return all lots, or those of one kind, oldest first."""
    query = LotRow.select().order_by(LotRow.received_on, LotRow.key)
    if kind:
        query = query.where(LotRow.kind == kind)
    return [KINDS["lot"].from_row(row) for row in query]


def lines_of_paper(invoice: str) -> list[Line]:
    """Return the core lines of an invoice, by key."""
    return sorted(every("line", {"invoice": invoice}), key=lambda line: line.key)


def open_lines(customer: str = "", *, core_group: str = "", family: str = "") -> list[Line]:
    """Return the core lines that still expect cores, oldest sale first; all or some of them."""
    told = {"customer": customer, "core_group": core_group, "family": family}
    lines = every("line", {name: value for name, value in told.items() if value}, STILL_OWED)
    # Sorted here, so that every database gives the same line its credit.
    return sorted(lines, key=lambda line: (line.sold_on, line.key))


def open_line_totals() -> tuple[int, int]:
    """Return how many core lines still owe cores, and the charge money behind what is owed."""
    owed = LineRow.quantity - LineRow.credited - LineRow.waived - LineRow.forfeited
    lines, money = (
        LineRow.select(fn.COUNT(LineRow.id), fn.SUM(owed * LineRow.charge))
        .where(owed > 0)
        .tuples()
        .get()
    )
    return int(lines or 0), int(money or 0)


def credits_paid() -> int:
    """Return all money credited for cores."""
    return int(LineRow.select(fn.SUM(LineRow.credited_money)).scalar() or 0)


def cores_by_state() -> dict[tuple[str, str, str], int]:
    """Return how many cores there are per family, state and acceptance."""
    rows = (
        CoreRow.select(CoreRow.family, CoreRow.state, CoreRow.acceptance, fn.COUNT(CoreRow.id))
        .group_by(CoreRow.family, CoreRow.state, CoreRow.acceptance)
        .tuples()
    )
    return {(family, state, acceptance): int(n) for family, state, acceptance, n in rows}


def waiting_since(family: str, before: str) -> int:
    """Return how many of a family's cores were received before a day and are still waiting."""
    return int(
        CoreRow.select()
        .where(
            CoreRow.family == family,
            CoreRow.state.in_(("waiting", "open", "undecided")),
            CoreRow.received_on < before,
        )
        .count()
    )


def overdue_gauge_cores() -> dict[str, int]:
    """Return, per gauge, how many cores carry readings taken while its check was overdue."""
    rows = (
        ReadingRow.select(ReadingRow.gauge, fn.COUNT(ReadingRow.tag.distinct()))
        .where(ReadingRow.gauge_overdue == True)  # noqa: E712 - SQL, not Python
        .group_by(ReadingRow.gauge)
        .tuples()
    )
    return {gauge: int(n) for gauge, n in rows}


def rejected_rows(since: str) -> int:
    """Return how many rows of files imported on or after a day were not stored."""
    answers = [json.loads(row.answer) for row in ImportedFileRow.select(ImportedFileRow.answer)]
    return sum(answer["rejected"] for answer in answers if answer["at"] >= since)


def tallies(
    grouping: str,
    family: str | None = None,
    months: tuple[str | None, str | None] = (None, None),
) -> list[tuple[str, str, str, dict[str, int]]]:
    """Return roll-up rows (family, value, month, numbers), of one family or of all."""
    names = (*COUNTERS, *COST_PARTS)
    query = TallyRow.select().where(TallyRow.grouping == grouping)
    if family:
        query = query.where(TallyRow.family == family)
    if months[0]:
        query = query.where(TallyRow.month >= months[0])
    if months[1]:
        query = query.where(TallyRow.month <= months[1])
    return [
        (row["family"], row["value"], row["month"], {name: int(row[name]) for name in names})
        for row in query.dicts()
    ]


def readings_of(tag: str) -> list[dict[str, object]]:
    """Return a core's readings in the order they were taken."""
    rows: Sequence[dict[str, object]] = list(
        ReadingRow.select().where(ReadingRow.tag == tag).order_by(ReadingRow.id).dicts()
    )
    return list(rows)
