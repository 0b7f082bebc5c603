"""Standard yields by file: the scrap a family is expected to have."""

from __future__ import annotations

from datetime import datetime
from decimal import Decimal
from typing import Any

from coretrack.actions.imports import FileRequest, ImportAnswer, Work, run_import
from coretrack.figures.columns import Column
from coretrack.figures.table import Row, Table
from coretrack.figures.table_values import RowProblem, Values

COLUMNS = (
    Column("family", ("family", "family code"), True, "code"),
    Column(
        "scrap",
        ("standard scrap rate", "assumed scrap rate", "scrap rate", "scrap"),
        True,
        "percent",
    ),
)


def import_standards(request: FileRequest, *, by: str, now: datetime) -> ImportAnswer:
    """Set families' standard scrap rates; a rate needs its percent sign or a percent format."""

    def prepare(table: Table) -> Values:
        return Values.of(table, COLUMNS, decimal_mark=request.decimal)

    def work(job: Work) -> None:
        def settle(row: Row) -> dict[str, Any] | None:
            code = job.values.code(row, "family")
            family = job.writer.find("family", code)
            if family is None:
                raise RowProblem(job.values.heading("family"), code, "there is no such family")
            scrap = job.values.share(row, "scrap")
            if scrap is None or not 0 <= scrap < 1:
                raise RowProblem(
                    job.values.heading("scrap"),
                    job.values.text(row, "scrap"),
                    "a scrap rate lies between 0 % and under 100 %",
                )
            standard = format((Decimal(1) - scrap).normalize(), "f")
            if family.standard_yield == standard:
                return None
            job.writer.event("family", code, "set", {"standard_yield": standard})
            return {"family": code, "standard_yield": standard, "scrap_rate": format(scrap, "f")}

        job.each_row(settle)

    # A setting may go back to what it was: the same file on another occasion is another file.
    occasion = {"occasion": now.isoformat()}
    return run_import(
        request, "standards", by=by, now=now, prepare=prepare, work=work, said=occasion
    )
