"""Checks of lamps and baths by file, as a log of the booth is kept, each into its own day.

Read before the readings of its days: what is found by a method is stamped when it is stored.
"""

from __future__ import annotations

from datetime import datetime
from typing import Any

from coretrack.actions.imports import FileRequest, ImportAnswer, Work, run_import
from coretrack.actions.lookups import shop_zone_name
from coretrack.actions.process_checks import check_told, keep_check
from coretrack.figures.columns import Column, fold_heading
from coretrack.figures.dates import shop_day
from coretrack.figures.process_rules import KINDS
from coretrack.figures.table import Row, Table
from coretrack.figures.table_values import RowProblem, Values
from coretrack.records import happenings

MEASURED = (
    Column("uva", ("uva", "uv a", "uv a at the part"), False, "reading"),
    Column("ambient", ("ambient", "ambient light", "white light in the booth"), False, "reading"),
    Column("light", ("light", "white light", "white light at the part"), False, "reading"),
    Column("distance", ("distance", "at the distance of"), False, "reading"),
    Column("concentration", ("concentration", "settled"), False, "reading"),
    Column("panel", ("panel", "known defects"), False, "text"),
)
"""One column a quantity, and what was seen of the panel or ring with known defects."""

COLUMNS = (
    Column("time", ("time", "date", "when", "checked"), True, "time"),
    Column("check", ("check", "kind", "lamp or bath"), True, "text"),
    Column("place", ("place", "booth", "line", "booth or line"), True, "text"),
    *MEASURED,
    Column("by", ("by", "person", "inspector", "checked by"), False, "text"),
    Column("note", ("note", "notes", "remark"), False, "text"),
)


def import_process_checks(request: FileRequest, *, by: str, now: datetime) -> ImportAnswer:
    """Keep checks of lamps and baths, each judged by the limits in force now.

    A row older than what is known of its day, kind and place is rejected: the newer one counts.
    """

    def prepare(table: Table) -> Values:
        return Values.of(
            table,
            COLUMNS,
            order=request.dates,
            decimal_mark=request.decimal,
            zone=shop_zone_name(),
        )

    def work(job: Work) -> None:
        newest: dict[str, datetime] = {}

        def keep(row: Row) -> dict[str, Any] | None:
            at = job.values.moment(row, "time")
            kind = _kind(job.values, row)
            person = job.values.text(row, "by") or by
            day = shop_day(at, job.values.zone)
            check = check_told(job.writer, kind, _told(job.values, row, kind), day, person)
            known = job.writer.find("process check", check.key)
            if known is not None:
                last = newest.get(check.key) or _stored_at(check.key)
                if known == check and last == at:
                    return None
                _refuse_older(job.values, row, at, last)
            keep_check(job.writer, check, at)
            newest[check.key] = at
            return {
                "day": check.day,
                "check": KINDS[kind].name,
                "place": check.place,
                "outcome": check.result,
                "why": check.note,
            }

        job.each_row(keep)

    return run_import(request, "process checks", by=by, now=now, prepare=prepare, work=work)


def _kind(values: Values, row: Row) -> str:
    """Return the kind of check that a row names by its code or name."""
    text = values.text(row, "check")
    wanted = fold_heading(text)
    for kind in KINDS.values():
        if wanted in (fold_heading(kind.code), fold_heading(kind.name)):
            return kind.code
    known = ", ".join(KINDS)
    raise RowProblem(values.heading("check"), text, f"a check is one of {known}")


def _told(values: Values, row: Row, kind: str) -> dict[str, str]:
    """Return what a row tells of a check; RowProblem for a cell that its kind does not measure."""
    asked = {quantity.code for quantity in KINDS[kind].quantities}
    asked |= {"panel"} if KINDS[kind].panel else set()
    told = {"place": values.text(row, "place"), "note": values.text(row, "note")}
    for column in MEASURED:
        text = _measured(values, row, column)
        if text and column.key not in asked:
            name = KINDS[kind].name
            raise RowProblem(values.heading(column.key), text, f"{name} checks do not measure it")
        told[column.key] = text
    return told


def _measured(values: Values, row: Row, column: Column) -> str:
    """Return what was measured as it was written, with the heading's unit where it has none."""
    if column.kind != "reading":
        return values.text(row, column.key).casefold()
    text, unit = values.raw(row, column.key), values.columns.unit(column.key)
    bare = not any(sign.isalpha() or sign in "%²" for sign in text)
    return f"{text} {unit}" if text and unit and bare else text


def _stored_at(key: str) -> datetime | None:
    last = happenings.last_of("process check", key)
    return last.moment if last else None


def _refuse_older(values: Values, row: Row, at: datetime, newest: datetime | None) -> None:
    if newest is not None and at < newest:
        told = newest.astimezone(values.zone)
        raise RowProblem(
            values.heading("time"),
            values.text(row, "time"),
            f"it was checked later that day already, at {told:%H:%M}, and the newer check counts",
        )
