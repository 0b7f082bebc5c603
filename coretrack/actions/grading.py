"""Readings and finished rework by file, as gauges and benches export them, into verdicts.

Rows of one core and one inspector close together in time are one sitting; sittings and rework of
all files given together are taken in the order of time. A reading that must be asked back (out of
the plausible band, off by 25.4) goes to the rejects file with its question; the check stays open.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from datetime import datetime, timedelta
from functools import partial
from typing import Any

from coretrack.actions.bench_rows import BenchRows, Found
from coretrack.actions.imports import FileRequest, ImportAnswer, Progress, Work, run_imports
from coretrack.actions.inspecting import Bench, Reading, finish_rework, inspect
from coretrack.actions.lookups import Catalogue, shop_zone_name
from coretrack.errors import CoretrackError
from coretrack.figures.columns import Column
from coretrack.figures.dates import shop_day
from coretrack.figures.lifecycle import CoreFacts
from coretrack.figures.observations import Observation
from coretrack.figures.table import Row, Table
from coretrack.figures.table_values import RowProblem, Values
from coretrack.records import queries
from coretrack.records.times import to_text

ONE_SITTING = timedelta(hours=2)
"""Readings of a core further apart than this belong to different sittings."""

COLUMNS = (
    Column("core", ("core", "tag", "serial", "serial no", "serial number"), True, "code"),
    Column("time", ("time", "date", "when", "measured", "finished"), False, "time"),
    Column("inspector", ("inspector", "person", "by", "operator"), False, "text"),
    Column("gauge", ("gauge", "instrument"), False, "code"),
    Column("check", ("check", "feature", "characteristic"), False, "text"),
    Column("reading", ("reading", "value", "result"), False, "text"),
    Column("operation", ("operation", "rework"), False, "code"),
    Column("minutes", ("minutes", "actual minutes"), False, "number"),
    Column("note", ("note", "notes", "remark"), False, "text"),
)


@dataclass
class _Sitting:
    """One inspector's readings of one core, from one file, close together in time."""

    job: Work
    tag: str
    inspector: str
    start: datetime
    end: datetime
    rows: list[Row] = field(default_factory=list)
    found: list[tuple[str, datetime, Found]] = field(default_factory=list)
    stopped: bool = False


@dataclass(frozen=True)
class _Step:
    """Something that happened at a moment, to be done in the order of time."""

    at: datetime
    place: int
    do: Callable[[], None]


def grade_files(
    requests: Sequence[FileRequest],
    *,
    by: str,
    now: datetime,
    progress: Progress | None = None,
) -> list[ImportAnswer]:
    """Take in readings and rework from one or several files, in the order of time."""

    def prepare(request: FileRequest, table: Table) -> Values:
        return Values.of(
            table,
            COLUMNS,
            order=request.dates,
            decimal_mark=request.decimal,
            zone=shop_zone_name(),
            mentions=False,
        )

    def work(jobs: Sequence[Work]) -> None:
        _Grading(jobs, now, progress).run()

    return run_imports(requests, "grade", by=by, now=now, prepare=prepare, work=work)


class _Grading:
    """Sorts the rows of all files into sittings and rework steps, then does them one by one."""

    def __init__(self, jobs: Sequence[Work], now: datetime, progress: Progress | None) -> None:
        self._jobs = jobs
        self._now = now
        self._progress = progress
        self._writer = jobs[0].writer
        self._catalogue = Catalogue(self._writer)
        self._bench = Bench(self._writer)
        self._gauges = {gauge.key.casefold(): gauge for gauge in queries.gauges()}
        marks = {job.values.text(row, "core") for job in jobs for row in job.table.rows}
        self._by_serial = queries.cores_with_serials(marks)
        self._by_tag = queries.cores_tagged(_digits(mark) for mark in marks)

    def run(self) -> None:
        """Do everything the files tell, oldest first."""
        steps = [step for job in self._jobs for step in self._steps(job)]
        steps.sort(key=lambda step: (step.at, step.place))
        for place, step in enumerate(steps):
            if self._progress:
                self._progress(place, len(steps))
            step.do()
        if self._progress:
            self._progress(len(steps), len(steps))

    def _steps(self, job: Work) -> list[_Step]:
        """Return what a file's rows ask for; rows that cannot be read are rejected at once."""
        steps: list[_Step] = []
        sittings: dict[tuple[str, str], list[_Sitting]] = {}
        reader = BenchRows(job.values)
        for row in job.new_rows():
            try:
                tag = self._core(job, row).tag
                at = job.values.moment(row, "time", required=False) or self._now
                if job.values.text(row, "operation"):
                    steps.append(_Step(at, row.number, partial(self._rework, job, row, tag, at)))
                else:
                    self._collect(job, row, tag, at, reader, sittings)
            except (RowProblem, CoretrackError) as error:
                job.reject_for(row, error)
        for group in sittings.values():
            steps += [_Step(s.start, s.rows[0].number, partial(self._sit, s)) for s in group]
        return steps

    def _core(self, job: Work, row: Row) -> CoreFacts:
        """Return the core a row speaks of, by tag or by serial (its newest life)."""
        mark = job.values.code(row, "core")
        tagged = self._by_tag.get(_digits(mark))
        if tagged is not None:
            return tagged
        cores = self._by_serial.get(mark)
        if cores is None:
            cores = queries.cores_with_serial(mark)
            if len({core.serial for core in cores}) > 1:
                raise RowProblem(
                    job.values.heading("core"),
                    mark,
                    "several serials differ from this only by capitals: "
                    + ", ".join(sorted({core.serial for core in cores})),
                )
            cores = cores[::-1]
        if not cores:
            raise RowProblem(
                job.values.heading("core"), mark, "no core has this tag or serial; receive it first"
            )
        return cores[-1]

    def _collect(
        self,
        job: Work,
        row: Row,
        tag: str,
        at: datetime,
        reader: BenchRows,
        sittings: dict[tuple[str, str], list[_Sitting]],
    ) -> None:
        inspector = job.values.text(row, "inspector") or self._writer.by
        core: CoreFacts = self._writer.get("core", tag)
        found = reader.read(row, self._bench.plan_for(core))
        group = sittings.setdefault((tag, inspector), [])
        if not group or at - group[-1].end > ONE_SITTING or reader.wide:
            group.append(_Sitting(job, tag, inspector, at, at))
        sitting = group[-1]
        sitting.end = at
        sitting.rows.append(row)
        gauge = job.values.code(row, "gauge", required=False)
        if gauge and gauge.casefold() not in self._gauges:
            job.notes.append(f"gauge {gauge} is not in the register; its readings are kept")
        sitting.found += [(gauge, at, one) for one in found]
        sitting.stopped |= "stopped" in job.values.text(row, "note").casefold()

    def _sit(self, sitting: _Sitting) -> None:
        """Enter one sitting; if the core cannot take it, all its rows are rejected."""
        job, places = sitting.job, _Places()
        readings = []
        for gauge, at, one in sitting.found:
            readings.append(
                Reading(
                    check=one.check.code,
                    place=places.next(one.check.code),
                    typed=one.typed,
                    value=one.value,
                    result=one.result,
                    gauge=gauge,
                    overdue=self._overdue(gauge, at),
                    at=to_text(at),
                )
            )
        try:
            verdict = inspect(
                self._writer,
                self._bench,
                sitting.tag,
                _observations(sitting),
                readings,
                inspector=sitting.inspector,
                at=sitting.end,
                day=shop_day(sitting.end, self._catalogue.zone),
                stopped=sitting.stopped,
            )
        except CoretrackError as error:
            for row in sitting.rows:
                job.reject_for(row, error)
            return
        item: dict[str, Any] = {
            "core": sitting.tag,
            "inspector": sitting.inspector,
            "grade": verdict.grade,
            "because": verdict.sentence,
            "operations": list(verdict.operations),
            "missing": list(verdict.missing),
            "readings": [reading.as_detail() for reading in readings],
        }
        for place, row in enumerate(sitting.rows):
            job.accept(row, item, listed=place == 0)

    def _rework(self, job: Work, row: Row, tag: str, at: datetime) -> None:
        values = job.values
        try:
            facts = finish_rework(
                self._writer,
                self._bench,
                tag,
                values.code(row, "operation"),
                minutes=values.number(row, "minutes", required=False),
                at=at,
                day=shop_day(at, self._catalogue.zone),
                person=values.text(row, "inspector") or self._writer.by,
                note=values.text(row, "note"),
            )
        except (RowProblem, CoretrackError) as error:
            job.reject_for(row, error)
            return
        job.accept(
            row, {"core": tag, "operation": values.code(row, "operation"), "now": facts.state}
        )

    def _overdue(self, code: str, at: datetime) -> bool:
        gauge = self._gauges.get(code.casefold())
        if gauge is None or not gauge.due_on:
            return False
        return gauge.due_on < shop_day(at, self._catalogue.zone).isoformat()


class _Places:
    """Numbers the readings of each check of a sitting."""

    def __init__(self) -> None:
        self._last: dict[str, int] = {}

    def next(self, check: str) -> int:
        self._last[check] = self._last.get(check, 0) + 1
        return self._last[check]


def _observations(sitting: _Sitting) -> list[Observation]:
    """Return a sitting's findings per check; of several results of one check the last counts."""
    by_check: dict[str, list[Found]] = {}
    for _, _, one in sitting.found:
        by_check.setdefault(one.check.code, []).append(one)
    return [
        Observation(
            code,
            values=tuple(one.value for one in found if one.value is not None),
            result=found[-1].result,
            detail="; ".join(one.detail for one in found if one.detail),
        )
        for code, found in by_check.items()
    ]


def _digits(mark: str) -> str:
    """Return a mark without the blanks and dashes people put into a tag."""
    return mark.replace(" ", "").replace("-", "")
