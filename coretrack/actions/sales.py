"""Sales open core lines: a unit went out and its core is owed. Charge, window, criteria freeze."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable
from datetime import date, datetime
from typing import Any

from coretrack.actions.imports import FileRequest, ImportAnswer, Progress, Work, run_import
from coretrack.actions.lookups import Catalogue, refuse_foreign_money, shop_zone_name
from coretrack.errors import InvalidInput
from coretrack.figures.columns import Column
from coretrack.figures.money import CENT, Money, plain
from coretrack.figures.part_numbers import match_key
from coretrack.figures.table import Row, Table
from coretrack.figures.table_values import RowProblem, Values
from coretrack.figures.trade_objects import Line
from coretrack.records import queries

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


_SPOKEN = {"sold_on": "date", "window_days": "window days"}


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
        job.each_row(Sales(job).open_line)

    return run_import(
        request, "sales", by=by, now=now, prepare=prepare, work=work, progress=progress
    )


def next_place(lines: Iterable[Line]) -> str:
    """Return the next free line number of an invoice that has these lines."""
    return str(max((int(line.line) for line in lines if line.line.isdecimal()), default=0) + 1)


class Sales:
    """Opens core lines row by row; each reader raises RowProblem for its own column."""

    def __init__(self, job: Work) -> None:
        self._job = job
        self.catalogue = Catalogue(job.writer)
        refuse_foreign_money(job.values, self.catalogue.shop, "charge")
        self.catalogue.learn_numbers(
            job.values.text(row, "number") for row in job.table.rows if not row.problem
        )
        self._which = self._count_equal_numbers()
        self._lines: dict[str, list[Line]] = {}

    def _count_equal_numbers(self) -> dict[int, int]:
        """Return for each row which one of its invoice's rows with the same number it is."""
        values = self._job.values
        seen: Counter[tuple[str, str]] = Counter()
        which: dict[int, int] = {}
        for row in self._job.table.rows:
            if not row.problem:
                place = values.text(row, "invoice"), match_key(values.text(row, "number"))
                seen[place] += 1
                which[row.number] = seen[place]
        return which

    def open_line(self, row: Row) -> dict[str, Any] | None:
        """Open the row's core line; None when the very line is stored already."""
        values, catalogue = self._job.values, self.catalogue
        invoice = values.code(row, "invoice")
        sold_on = values.day(row, "date")
        customer = catalogue.source(values.code(row, "customer"), values.heading("customer"))
        number = catalogue.known_number(values.code(row, "number"), values.heading("number"))
        charge, said = self.charge(row, number.family, sold_on)
        place, known = self.place(row, invoice, match_key(number.shown))
        line = {
            "key": f"{invoice}/{place}",
            "invoice": invoice,
            "line": place,
            "sold_on": sold_on.isoformat(),
            "customer": customer.key,
            "number": number.shown,
            "core_group": number.core_group,
            "family": number.family,
            "criteria_version": catalogue.criteria_on(number.family, sold_on),
            "quantity": self.quantity(row),
            "charge": charge,
            "mode": self.mode(row),
            **self._window(row),
        }
        if known is not None:
            self._refuse_other_values(row, known, line)
            return None
        opened = self._job.writer.event(
            "line", line["key"], "opened", line, at=catalogue.noon(sold_on)
        )
        self._lines[invoice].append(opened)
        return {**line, "charge": plain(charge), "charge_from": said}

    def place(self, row: Row, invoice: str, number_key: str) -> tuple[str, Line | None]:
        """Return the line's place on its invoice, and the line that is stored there already.

        A file without line numbers is matched by what was sold, so that a row which is put right
        and imported alone finds its own place and never another line's.
        """
        if invoice not in self._lines:
            self._lines[invoice] = queries.lines_of_paper(invoice)
        lines = self._lines[invoice]
        given = self._job.values.code(row, "line", required=False)
        if given:
            return given, next((line for line in lines if line.line == given), None)
        same = [line for line in lines if match_key(line.number) == number_key]
        same.sort(key=lambda line: (len(line.line), line.line))
        if len(same) >= self._which[row.number]:
            found = same[self._which[row.number] - 1]
            return found.line, found
        return next_place(lines), None

    def _refuse_other_values(self, row: Row, known: Line, line: dict[str, Any]) -> None:
        """Raise RowProblem when the row says something else than the line that is stored.

        Only what the file itself says counts: the shop's window or the family's charge may have
        changed since, and the stored line keeps the ones of its own day.
        """
        values = self._job.values
        spoken = ["sold_on", "customer", "number", "quantity"]
        optional = {"charge": "charge", "mode": "mode", "window": "window_days"}
        spoken += [name for key, name in optional.items() if values.text(row, key)]
        differs = []
        for name in spoken:
            stored, here = getattr(known, name), line[name]
            if name == "charge":
                stored, here = plain(stored), plain(here)
            if stored != here:
                differs.append(f"{_SPOKEN.get(name, name)} {stored} (here {here})")
        if differs:
            raise RowProblem(
                values.heading("invoice"),
                known.invoice,
                f"line {known.key} is stored already with {', '.join(differs)}; a sale is not "
                "changed by importing it again. If this is a further line of the invoice, give it "
                "a number of its own in a column 'line'",
            )

    def charge(self, row: Row, family: str, sold_on: date) -> tuple[Money, str]:
        """Return the row's core charge for one unit, and where it comes from."""
        given = self._job.values.money(row, "charge", required=False)
        if given is not None:
            if given % CENT:
                raise RowProblem(
                    self._job.values.heading("charge"),
                    self._job.values.text(row, "charge"),
                    "a core charge is a whole number of cents; credits are paid in cents",
                )
            if given < 0:
                raise RowProblem(
                    self._job.values.heading("charge"),
                    self._job.values.text(row, "charge"),
                    "a core charge cannot be negative",
                )
            return given, "file"
        charge = self.catalogue.charge_on(family, sold_on)
        if charge is None:
            raise InvalidInput(
                f"No core charge is given, and family {family} had none on {sold_on.isoformat()}.",
                {"charge": "missing"},
            )
        return charge, "the family's charge on that day"

    def quantity(self, row: Row) -> int:
        """Return how many units the row sells."""
        quantity = self._job.values.count(row, "quantity")
        if quantity is None or quantity < 1:
            raise RowProblem(
                self._job.values.heading("quantity"),
                self._job.values.text(row, "quantity"),
                "a sale has a quantity of 1 or more",
            )
        return quantity

    def mode(self, row: Row) -> str:
        """Return how the row's charge is asked, one of MODES."""
        mode = self._job.values.text(row, "mode").casefold() or MODES[0]
        if mode not in MODES:
            raise RowProblem(
                self._job.values.heading("mode"),
                self._job.values.text(row, "mode"),
                f"not a charge mode; use one of {', '.join(MODES)}",
            )
        return mode

    def _window(self, row: Row) -> dict[str, Any]:
        shop = self.catalogue.shop
        days = self._job.values.count(row, "window", required=False)
        return {
            "window_days": shop.window_days if days is None else days,
            "after": shop.after,
            "slide_percent": shop.slide_percent,
            "slide_days": shop.slide_days,
            "slide_most": shop.slide_most,
            "nothing_after": shop.nothing_after,
        }
