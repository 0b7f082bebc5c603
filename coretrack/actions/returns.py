"""Cores that customers send back: matched to what they bought, judged at the dock, credited.

Acceptance is decided by eye on a dirty, assembled unit; it says nothing about the grade.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime
from decimal import Decimal
from typing import Any

from coretrack.actions.arrivals import Arrivals
from coretrack.actions.imports import FileRequest, ImportAnswer, Progress, Work, run_import
from coretrack.actions.lookups import shop_zone_name
from coretrack.figures.columns import Column
from coretrack.figures.credits import CreditResult, credit
from coretrack.figures.money import plain
from coretrack.figures.part_numbers import match_key
from coretrack.figures.plan_files import Fault
from coretrack.figures.table import Row, Table
from coretrack.figures.table_values import RowProblem, Values
from coretrack.figures.trade_objects import Line, Number, Source
from coretrack.figures.windows import WindowRule, lateness
from coretrack.records import queries

COLUMNS = (
    Column("delivery", ("delivery", "delivery no", "paper"), False, "code"),
    Column("received", ("received", "received on", "date", "date received"), False, "date"),
    Column("customer", ("customer", "customer code", "source"), False, "code"),
    Column("invoice", ("invoice", "invoice no", "invoice number"), False, "code"),
    Column("number", ("number", "part", "part no", "part number", "casting"), False, "code"),
    Column("serial", ("serial", "serial no", "serial number"), False, "code"),
    Column("faults", ("faults", "fault", "damage"), False, "text"),
    Column("comeback", ("comeback", "warranty", "warranty return"), False, "yes"),
    Column("arrived", ("carrier date", "arrived", "arrival"), False, "date"),
    Column("mass", ("mass", "mass kg", "weight", "weight kg"), False, "number"),
    Column("note", ("note", "notes", "remark"), False, "text"),
)


@dataclass(frozen=True)
class ReturnTerms:
    """What is said beside the file: the customer and day, when the file's rows do not name them."""

    customer: str = ""
    received: date | None = None
    delivery: str = ""


@dataclass(frozen=True)
class _Arrival:
    """One row, read and checked, before anything is stored."""

    customer: Source
    delivery: str
    received: date
    arrived: date
    number: Number | None
    number_text: str
    serial: str
    invoice: str
    fault_codes: tuple[str, ...]
    comeback: bool
    mass_g: int | None
    note: str
    stated: list[dict[str, Any]]


@dataclass(frozen=True)
class _Judgement:
    """What the dock decided: accept, part credit, refuse, excess or comeback."""

    outcome: str
    line: Line | None
    result: CreditResult | None
    faults: tuple[Fault, ...]
    why: str


def import_returns(
    request: FileRequest,
    terms: ReturnTerms,
    *,
    by: str,
    now: datetime,
    progress: Progress | None = None,
) -> ImportAnswer:
    """Receive, judge and credit returned cores by file, one row a core.

    A core earns credit on an open core line only: one core per unit sold, one credit per core, a
    comeback under warranty none. Unknown numbers are received but not judged.
    """

    def prepare(table: Table) -> Values:
        return Values.of(
            table,
            COLUMNS,
            order=request.dates,
            decimal_mark=request.decimal,
            measures=True,
            zone=shop_zone_name(),
        )

    def work(job: Work) -> None:
        job.each_row(_Dock(job, terms, now).take)

    return run_import(
        request,
        "returns",
        by=by,
        now=now,
        prepare=prepare,
        work=work,
        said={"customer": terms.customer, "delivery": terms.delivery},
        again="if they are further cores, give their delivery a code of its own",
        progress=progress,
    )


class _Dock:
    """Takes in one core after the other."""

    def __init__(self, job: Work, terms: ReturnTerms, now: datetime) -> None:
        self._job = job
        self._terms = terms
        self._arrivals = Arrivals(job, now)

    def take(self, row: Row) -> dict[str, Any]:
        arrival = self._read(row)
        judgement = self._judge(row, arrival) if arrival.number else None
        self._count_delivery(arrival)
        tag = self._arrivals.take_tags(1)[0]
        source = arrival.customer
        if arrival.comeback:
            source = self._arrivals.catalogue.comeback_source() or source
        self._arrivals.receive(
            tag,
            stream="comeback" if arrival.comeback else "return",
            lot=arrival.delivery,
            source=source.key,
            number=arrival.number,
            number_text=arrival.number_text,
            serial=arrival.serial,
            day=arrival.received,
            costs={},
            extra={
                "note": arrival.note,
                "invoice": arrival.invoice,
                "customer": arrival.customer.key,
                "mass_g": arrival.mass_g,
                "stated": arrival.stated,
                # A core that is not judged yet keeps what was seen on it for the one who will.
                "faults_seen": [] if judgement and judgement.line else list(arrival.fault_codes),
            },
        )
        if judgement:
            self._store(tag, arrival, judgement)
        self._arrivals.claim_serial(arrival.serial)
        return self._item(tag, arrival, judgement)

    def _read(self, row: Row) -> _Arrival:
        values, arrivals = self._job.values, self._arrivals
        code = values.code(row, "customer", required=False) or self._terms.customer
        if not code:
            raise RowProblem("customer", "", "no customer: give a column or say --source")
        column = values.heading("customer") if values.has("customer") else "--source"
        customer = arrivals.catalogue.source(code, column)
        received = (
            values.day(row, "received", required=False) or self._terms.received or arrivals.today
        )
        arrived = values.day(row, "arrived", required=False) or received
        if arrived > received:
            raise RowProblem(
                values.heading("arrived"),
                values.text(row, "arrived"),
                f"it cannot have arrived after it was received ({received.isoformat()})",
            )
        number_text = arrivals.number_text(row)
        delivery = values.code(row, "delivery", required=False) or self._terms.delivery
        return _Arrival(
            customer=customer,
            delivery=delivery or f"{customer.key}-{received.isoformat()}",
            received=received,
            arrived=arrived,
            number=arrivals.catalogue.number(number_text) if number_text else None,
            number_text=number_text,
            serial=arrivals.new_serial(row),
            invoice=values.code(row, "invoice", required=False),
            fault_codes=tuple(
                part.strip() for part in values.text(row, "faults").split(";") if part.strip()
            ),
            comeback=values.yes(row, "comeback") or customer.kind == "own comeback",
            mass_g=arrivals.mass_g(row),
            note=values.text(row, "note"),
            stated=values.stated(row),
        )

    def _judge(self, row: Row, arrival: _Arrival) -> _Judgement:
        if arrival.comeback:
            return _Judgement(
                "comeback", None, None, (), "came back under warranty; it earns no core credit"
            )
        line = self._match(row, arrival)
        if line is None:
            return _Judgement("excess", None, None, (), self._why_excess(arrival))
        faults = self._faults(row, line, arrival.fault_codes)
        rule = WindowRule(
            line.window_days, line.after, Decimal(line.slide_percent), line.slide_days
        )
        late = lateness(rule, date.fromisoformat(line.sold_on), arrival.arrived)
        result = credit(line.charge, faults, late)
        return _Judgement(result.outcome, line, result, faults, "; ".join(result.reasons))

    def _match(self, row: Row, arrival: _Arrival) -> Line | None:
        """Return the line this core answers: the invoice's own, else the customer's oldest open."""
        number = arrival.number
        if number is None:
            return None
        if arrival.invoice:
            mine = [
                line
                for line in self._fresh(_lines_of_invoice(arrival.invoice))
                if line.customer == arrival.customer.key and line.core_group == number.core_group
            ]
            # The very number sold goes before another one of its group.
            mine.sort(key=lambda line: match_key(line.number) != match_key(number.shown))
            for line in mine:
                if self._takes(line, arrival):
                    return line
        lines = self._fresh(queries.lines_of_customer(arrival.customer.key, number.core_group))
        found = next((line for line in lines if self._takes(line, arrival)), None)
        if found and arrival.invoice:
            self._job.notes.append(
                f"row {row.number}: invoice {arrival.invoice} owes {arrival.customer.key} no core "
                f"of group {number.core_group}; credited on line {found.key} instead"
            )
        return found

    def _fresh(self, lines: list[Line]) -> list[Line]:
        """Return the lines as this transaction sees them, credits of this file included."""
        return [self._job.writer.get("line", line.key) for line in lines]

    @staticmethod
    def _takes(line: Line, arrival: _Arrival) -> bool:
        return line.owed > 0 and line.sold_on <= arrival.received.isoformat()

    def _why_excess(self, arrival: _Arrival) -> str:
        group = arrival.number.core_group if arrival.number else "?"
        return (
            f"{arrival.customer.key} owes no core of group {group} "
            f"on {arrival.received.isoformat()}: an excess core, to be refused or bought"
        )

    def _faults(self, row: Row, line: Line, codes: tuple[str, ...]) -> tuple[Fault, ...]:
        known = self._arrivals.catalogue.faults(line.family, line.criteria_version)
        by_name = {name.casefold(): f for f in known for name in (f.code, f.name)}
        faults = []
        for code in codes:
            if code.casefold() not in by_name:
                raise RowProblem(
                    self._job.values.heading("faults"),
                    code,
                    f"family {line.family} had no fault of this name at the sale; it had: "
                    f"{', '.join(fault.code for fault in known) or 'none'} "
                    "(several are parted by semicolons)",
                )
            faults.append(by_name[code.casefold()])
        return tuple(dict.fromkeys(faults))

    def _count_delivery(self, arrival: _Arrival) -> None:
        """Keep the delivery as a lot: whose, when, and how many pieces so far."""
        writer = self._job.writer
        known = writer.find("lot", arrival.delivery)
        if known is None:
            fields: dict[str, Any] = {
                "key": arrival.delivery,
                "kind": "return",
                "source": arrival.customer.key,
                "received_on": arrival.received.isoformat(),
                "paper": arrival.delivery,
                "pieces": 1,
            }
        else:
            if known.kind != "return" or known.source != arrival.customer.key:
                raise RowProblem(
                    "delivery",
                    arrival.delivery,
                    f"this code is a {known.kind} of {known.source} already",
                )
            fields = {"pieces": known.pieces + 1}
        writer.event(
            "lot",
            arrival.delivery,
            "set",
            fields,
            at=self._arrivals.catalogue.noon(arrival.received),
        )

    def _store(self, tag: str, arrival: _Arrival, judgement: _Judgement) -> None:
        writer, at = self._job.writer, self._arrivals.catalogue.noon(arrival.received)
        result = judgement.result
        detail: dict[str, Any] = {
            "outcome": judgement.outcome,
            "faults": [fault.code for fault in judgement.faults],
            "arrived": arrival.arrived.isoformat(),
        }
        if judgement.line and result:
            detail["line"] = judgement.line.key
            detail["arithmetic"] = [[line.text, line.amount] for line in result.lines]
            if judgement.outcome != "refuse":
                detail["costs"] = {"credit": result.credit}
        writer.event("core", tag, "accepted", detail, at=at, why=judgement.why)
        if judgement.line and result:
            what = "refused" if judgement.outcome == "refuse" else "credited"
            writer.event(
                "line", judgement.line.key, what, {"tag": tag, "credit": result.credit}, at=at
            )

    def _item(self, tag: str, arrival: _Arrival, judgement: _Judgement | None) -> dict[str, Any]:
        result = judgement.result if judgement else None
        return {
            "tag": tag,
            "delivery": arrival.delivery,
            "received": arrival.received.isoformat(),
            "customer": arrival.customer.key,
            "number": arrival.number.shown if arrival.number else arrival.number_text,
            "family": arrival.number.family if arrival.number else None,
            "serial": arrival.serial,
            "outcome": judgement.outcome if judgement else "unknown",
            "line": judgement.line.key if judgement and judgement.line else None,
            "credit": plain(result.credit) if result else None,
            "arithmetic": [f"{line.text}: {plain(line.amount)}" for line in result.lines]
            if result
            else [],
            "why": judgement.why if judgement else "no core group has this number: an unknown core",
            "stated": arrival.stated,
        }


def _lines_of_invoice(invoice: str) -> list[Line]:
    """Return an invoice's core lines; capitals count only where two invoices differ by them."""
    found = queries.lines_of_paper(invoice)
    if found:
        return found
    spelled = [paper for paper in queries.papers(invoice) if paper != invoice]
    return queries.lines_of_paper(spelled[0]) if len(spelled) == 1 else []
