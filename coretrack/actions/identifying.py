"""Unknown cores get their number: from then on they can be judged, credited and graded."""

from __future__ import annotations

from datetime import datetime
from typing import Any

from coretrack.actions.dock import Dock, came_in
from coretrack.actions.imports import FileRequest, ImportAnswer, Work, run_import
from coretrack.actions.lookups import Catalogue, KnownCores, shop_zone_name
from coretrack.figures.columns import Column
from coretrack.figures.lifecycle import CoreFacts
from coretrack.figures.money import plain
from coretrack.figures.table import Row, Table
from coretrack.figures.table_values import Values
from coretrack.figures.trade_objects import Number

COLUMNS = (
    Column("core", ("core", "tag", "serial", "serial no", "serial number"), True, "code"),
    Column("number", ("number", "part", "part no", "part number", "casting"), True, "code"),
    Column("faults", ("faults", "fault", "damage"), False, "text"),
    Column("note", ("note", "notes", "remark"), False, "text"),
)


def identify_cores(request: FileRequest, *, by: str, now: datetime) -> ImportAnswer:
    """Say by file which number unknown cores carry; returned ones are judged and credited then.

    The window of a return runs to the day it arrived, however late it was identified. Faults are
    those of the file, else those seen when the core came in.
    """

    def prepare(table: Table) -> Values:
        return Values.of(table, COLUMNS, zone=shop_zone_name())

    def work(job: Work) -> None:
        job.each_row(_Identifying(job, now).identify)

    return run_import(request, "identify", by=by, now=now, prepare=prepare, work=work)


class _Identifying:
    """Identifies one core after the other."""

    def __init__(self, job: Work, now: datetime) -> None:
        self._job = job
        self._now = now
        self._catalogue = Catalogue(job.writer)
        self._cores = KnownCores(job.values.text(row, "core") for row in job.table.rows)
        self._catalogue.learn_numbers(job.values.text(row, "number") for row in job.table.rows)
        self._dock = Dock(job.writer, self._catalogue, job.notes.append)

    def identify(self, row: Row) -> dict[str, Any]:
        values = self._job.values
        found = self._cores.find(values.code(row, "core"), values.heading("core"))
        number = self._catalogue.known_number(values.code(row, "number"), values.heading("number"))
        detail = {
            "family": number.family,
            "core_group": number.core_group,
            "number": number.shown,
        }
        core: CoreFacts = self._job.writer.event(
            "core", found.tag, "identified", detail, why=values.text(row, "note")
        )
        item: dict[str, Any] = {"core": core.tag, "family": core.family, "number": core.number}
        if core.state == "counted":
            item |= self._judge(row, core, number)
        return {**item, "state": self._job.writer.get("core", core.tag).state}

    def _judge(self, row: Row, core: CoreFacts, number: Number) -> dict[str, Any]:
        written = self._job.values.text(row, "faults")
        told: dict[str, Any] = {}
        if written:
            told["fault_codes"] = tuple(p.strip() for p in written.split(";") if p.strip())
        today = self._now.astimezone(self._catalogue.zone).date()
        offered = came_in(core, number, f"row {row.number}", judged=today, **told)
        judgement = self._dock.judge(offered)
        self._dock.store(core.tag, offered, judgement)
        return {
            "outcome": judgement.outcome,
            "line": judgement.line.key if judgement.line else None,
            "credit": plain(judgement.result.credit) if judgement.result else None,
            "why": judgement.why,
        }
