"""Sales open core lines: a unit went out and its core is owed. Charge, window, criteria freeze."""

from __future__ import annotations

from collections import Counter
from datetime import date, datetime
from typing import Any

from coretrack.actions.imports import FileRequest, ImportAnswer, Progress, Work, run_import
from coretrack.actions.lookups import Catalogue, shop_zone_name
from coretrack.errors import InvalidInput
from coretrack.figures.columns import Column
from coretrack.figures.money import Money, plain
from coretrack.figures.table import Row, Table
from coretrack.figures.table_values import RowProblem, Values

MODES = ("up front", "billed later", "core first")
"""How the charge is asked: with the sale, only when the core stays out, or core comes first."""

COLUMNS = (
    Column("invoice", ("invoice", "invoice no", "invoice number", "paper"), True, "code"),
    Column("line", ("line", "line no", "position"), False, "code"),
    Column("date", ("date", "sold", "sold on", "invoice date"), True, "date"),
    Column("customer", ("customer", "customer code", "source"), True, "code"),
    Column("number", ("number", "part", "part no", "part number", "number sold"), True, "code"),
    Column("quantity", ("quantity", "qty", "pieces"), True, "count"),
    Column("charge", ("core charge", "charge", "charge each"), False, "money"),
    Column("mode", ("mode", "charge mode"), False, "text"),
    Column("window", ("window days", "window"), False, "count"),
)


def import_sales(
    request: FileRequest, *, by: str, now: datetime, progress: Progress | None = None
) -> ImportAnswer:
    """Open a core line for every row of a sales file; rows that contradict stored ones wait."""

    def prepare(table: Table) -> Values:
        return Values.of(
            table,
            COLUMNS,
            order=request.dates,
            decimal_mark=request.decimal,
            zone=shop_zone_name(),
        )

    def work(job: Work) -> None:
        sales = _Sales(job)
        job.each_row(sales.open_line)

    return run_import(
        request, "sales", by=by, now=now, prepare=prepare, work=work, progress=progress
    )


class _Sales:
    """Opens core lines row by row."""

    def __init__(self, job: Work) -> None:
        self._job = job
        self._catalogue = Catalogue(job.writer)
        self._catalogue.learn_numbers(
            job.values.text(row, "number") for row in job.table.rows if not row.problem
        )
        self._places: Counter[str] = Counter()

    def open_line(self, row: Row) -> dict[str, Any] | None:
        values, catalogue = self._job.values, self._catalogue
        invoice = values.code(row, "invoice")
        self._places[invoice] += 1
        place = values.code(row, "line", required=False) or str(self._places[invoice])
        sold_on = values.day(row, "date")
        customer = catalogue.source(values.code(row, "customer"), values.heading("customer"))
        number = catalogue.known_number(values.code(row, "number"), values.heading("number"))
        family = catalogue.family(number.family)
        charge, said = self._charge(row, number.family, sold_on)
        line = {
            "key": f"{invoice}/{place}",
            "invoice": invoice,
            "line": place,
            "sold_on": sold_on.isoformat(),
            "customer": customer.key,
            "number": number.shown,
            "core_group": number.core_group,
            "family": number.family,
            "criteria_version": family.criteria_version,
            "quantity": self._quantity(row),
            "charge": charge,
            "mode": self._mode(row),
            **self._window(row),
        }
        known = self._job.writer.find("line", line["key"])
        if known is not None:
            differs = [name for name, value in line.items() if getattr(known, name) != value]
            differs = [name for name in differs if name != "criteria_version"]
            if not differs:
                return None
            raise RowProblem(
                values.heading("invoice"),
                invoice,
                f"line {line['key']} is stored already with another {', '.join(differs)}; "
                "a sale is not changed by importing it again",
            )
        self._job.writer.event("line", line["key"], "opened", line, at=catalogue.noon(sold_on))
        return {**line, "charge": plain(charge), "charge_from": said}

    def _charge(self, row: Row, family: str, sold_on: date) -> tuple[Money, str]:
        given = self._job.values.money(row, "charge", required=False)
        if given is not None:
            if given < 0:
                raise RowProblem(
                    self._job.values.heading("charge"),
                    self._job.values.text(row, "charge"),
                    "a core charge cannot be negative",
                )
            return given, "file"
        charge = self._catalogue.charge_on(family, sold_on)
        if charge is None:
            raise InvalidInput(
                f"No core charge is given, and family {family} had none on {sold_on.isoformat()}.",
                {"charge": "missing"},
            )
        return charge, "the family's charge on that day"

    def _quantity(self, row: Row) -> int:
        quantity = self._job.values.count(row, "quantity")
        if quantity is None or quantity < 1:
            raise RowProblem(
                self._job.values.heading("quantity"),
                self._job.values.text(row, "quantity"),
                "a sale has a quantity of 1 or more",
            )
        return quantity

    def _mode(self, row: Row) -> str:
        mode = self._job.values.text(row, "mode").casefold() or MODES[0]
        if mode not in MODES:
            raise RowProblem(
                self._job.values.heading("mode"),
                self._job.values.text(row, "mode"),
                f"not a charge mode; use one of {', '.join(MODES)}",
            )
        return mode

    def _window(self, row: Row) -> dict[str, Any]:
        shop = self._catalogue.shop
        days = self._job.values.count(row, "window", required=False)
        return {
            "window_days": shop.window_days if days is None else days,
            "after": shop.after,
            "slide_percent": shop.slide_percent,
            "slide_days": shop.slide_days,
        }
