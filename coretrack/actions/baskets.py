"""When a wash basket tips: its cores keep their family and lose their source, for good."""

from __future__ import annotations

from datetime import datetime
from typing import Any

from coretrack.actions.imports import FileRequest, ImportAnswer, Work, run_import
from coretrack.actions.lookups import KnownCores, shop_zone_name
from coretrack.figures.columns import Column
from coretrack.figures.table import Row, Table
from coretrack.figures.table_values import Values

COLUMNS = (
    Column("core", ("core", "tag", "serial"), True, "code"),
    Column("time", ("time", "date", "when"), False, "time"),
    Column("basket", ("basket",), False, "code"),
    Column("note", ("note", "notes"), False, "text"),
)


def import_source_lost(request: FileRequest, *, by: str, now: datetime) -> ImportAnswer:
    """Mark cores as *family known, source lost*: family yield keeps them, source and lot do not."""

    def prepare(table: Table) -> Values:
        return Values.of(table, COLUMNS, order=request.dates, zone=shop_zone_name())

    def work(job: Work) -> None:
        cores = KnownCores(job.values.text(row, "core") for row in job.table.rows)

        def lose(row: Row) -> dict[str, Any] | None:
            found = cores.find(job.values.code(row, "core"), job.values.heading("core"))
            core = job.writer.get("core", found.tag)
            if core.source_lost:
                return None
            basket = job.values.code(row, "basket", required=False)
            at = job.values.moment(row, "time", required=False) or now
            job.writer.event(
                "core",
                core.tag,
                "source lost",
                {"basket": basket},
                why=job.values.text(row, "note"),
                at=at,
            )
            return {"core": core.tag, "basket": basket}

        job.each_row(lose)

    return run_import(request, "source lost", by=by, now=now, prepare=prepare, work=work)
