"""Cores that customers send back: matched to what they bought, judged at the dock, credited.

Acceptance is decided by eye on a dirty, assembled unit; it says nothing about the grade.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime
from typing import Any

from coretrack.actions.arrivals import Arrivals
from coretrack.actions.dock import Dock, Judgement, Offered
from coretrack.actions.imports import FileRequest, ImportAnswer, Progress, Work, run_import
from coretrack.actions.lookups import refuse_sales_file, shop_zone_name
from coretrack.figures.columns import Column
from coretrack.figures.money import plain
from coretrack.figures.stated_sizes import stated_sizes
from coretrack.figures.table import Row, Table
from coretrack.figures.table_values import RowProblem, Values
from coretrack.figures.trade_objects import Number, Source

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
    Column("mass", ("mass", "mass kg", "weight", "weight kg"), False, "number", unit="kg"),
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
        refuse_sales_file(table)
        return Values.of(
            table,
            COLUMNS,
            order=request.dates,
            decimal_mark=request.decimal,
            measures=True,
            one_of=("number", "serial"),
            zone=shop_zone_name(),
        )

    def work(job: Work) -> None:
        job.each_row(_Deliveries(job, terms, now).take)

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


def _offered(row: Row, arrival: _Arrival) -> Offered | None:
    """Return the core as the dock judges it; an unknown one cannot be judged yet."""
    if arrival.number is None:
        return None
    return Offered(
        place=f"row {row.number}",
        customer=arrival.customer.key,
        number=arrival.number,
        received=arrival.received,
        arrived=arrival.arrived,
        invoice=arrival.invoice,
        fault_codes=arrival.fault_codes,
        comeback=arrival.comeback,
    )


class _Deliveries:
    """Takes in one core after the other."""

    def __init__(self, job: Work, terms: ReturnTerms, now: datetime) -> None:
        self._job = job
        self._terms = terms
        self._arrivals = Arrivals(job, now)
        self._dock = Dock(job.writer, self._arrivals.catalogue, job.notes.append)

    def take(self, row: Row) -> dict[str, Any]:
        arrival = self._read(row)
        offered = _offered(row, arrival)
        judgement = self._dock.judge(offered) if offered else None
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
                "arrived": arrival.arrived.isoformat(),
                "mass_g": arrival.mass_g,
                "stated": arrival.stated,
                # A core that is not judged yet keeps what was seen on it for the one who will.
                "faults_seen": [] if judgement and judgement.line else list(arrival.fault_codes),
            },
        )
        if offered and judgement:
            self._dock.store(tag, offered, judgement)
        self._arrivals.claim_serial(arrival.serial)
        return self._item(tag, arrival, judgement)

    def _read(self, row: Row) -> _Arrival:
        values, arrivals = self._job.values, self._arrivals
        code = values.code(row, "customer", required=False) or self._terms.customer
        if not code:
            raise RowProblem("customer", "", "no customer: give a column or say --source")
        column = values.heading("customer") if values.has("customer") else "--source"
        customer = arrivals.catalogue.source(code, column)
        received = arrivals.day(row, self._terms.received)
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
            stated=stated_sizes(values, row),
        )

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

    def _item(self, tag: str, arrival: _Arrival, judgement: Judgement | None) -> dict[str, Any]:
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
