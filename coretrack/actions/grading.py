"""Readings and finished rework by file, as gauges and benches export them, into verdicts.

Rows of one core and one inspector close together in time are one sitting; sittings and rework of
all files given together are taken in the order of time. A reading that must be asked back (out of
the plausible band, off by 25.4) goes to the rejects file with its question; the check stays open.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from datetime import date, datetime, timedelta
from decimal import Decimal
from functools import partial
from typing import Any

from coretrack.actions.bench_rows import BenchRows, Found
from coretrack.actions.imports import FileRequest, ImportAnswer, Progress, Work, run_imports
from coretrack.actions.inspecting import Bench, Reading, finish_rework, inspect
from coretrack.actions.lookups import Catalogue, KnownCores, shop_zone_name
from coretrack.errors import CoretrackError
from coretrack.figures.columns import Column
from coretrack.figures.cracks import read_told
from coretrack.figures.dates import shop_day
from coretrack.figures.lifecycle import CoreFacts
from coretrack.figures.observations import Observation
from coretrack.figures.rework_finish import MOST_MINUTES
from coretrack.figures.table import Row, Table
from coretrack.figures.table_values import RowProblem, Values
from coretrack.figures.tags import show_tag
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
    Column("reading", ("reading", "value", "result"), False, "reading"),
    Column("unit", ("unit", "units"), False, "text"),
    Column("operation", ("operation", "rework"), False, "code"),
    Column("minutes", ("minutes", "actual minutes"), False, "number", unit="min"),
    Column("note", ("note", "notes", "remark"), False, "text"),
)


@dataclass(frozen=True)
class _Entry:
    """One row that can be read: which core it speaks of, when, and whether it is rework."""

    job: Work
    row: Row
    tag: str
    at: datetime
    rework: bool


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
    place: tuple[bool, int]
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

    return run_imports(
        requests,
        "grade",
        by=by,
        now=now,
        prepare=prepare,
        work=work,
        again="a check that was measured again needs a time of its own",
    )


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
        self._cores = KnownCores(
            job.values.text(row, "core") for job in jobs for row in job.table.rows
        )
        self._reworked: dict[str, list[datetime]] = {}
        self._too_early: set[str] = set()

    def run(self) -> None:
        """Do everything the files tell, oldest first."""
        entries = [self._entries(job) for job in self._jobs]
        for entry in (entry for of_file in entries for entry in of_file if entry.rework):
            self._reworked.setdefault(entry.tag, []).append(entry.at)
        steps = [step for of_file in entries for step in self._steps(of_file)]
        steps.sort(key=lambda step: (step.at, step.place))
        for place, step in enumerate(steps):
            if self._progress:
                self._progress(place, len(steps))
            step.do()
        if self._progress:
            self._progress(len(steps), len(steps))

    def _note_before_arrival(self, job: Work, row: Row, core: CoreFacts, day: date) -> None:
        """Say that a core was not here yet: either day may be the wrong one, so it is stored."""
        if day.isoformat() < core.received_on and core.tag not in self._too_early:
            self._too_early.add(core.tag)
            job.notes.append(
                f"row {row.number}: core {show_tag(core.tag)} was received on "
                f"{core.received_on}, after {day.isoformat()}; check both days"
            )

    def _entries(self, job: Work) -> list[_Entry]:
        """Return a file's rows in the order of time; those that name no core are rejected."""
        entries = []
        for row in job.new_rows():
            try:
                entries.append(self._entry(job, row))
            except (RowProblem, CoretrackError) as error:
                job.reject_for(row, error)
        return sorted(entries, key=lambda entry: (entry.at, entry.row.number))

    def _entry(self, job: Work, row: Row) -> _Entry:
        values = job.values
        at = values.moment(row, "time", required=False) or self._now
        day = shop_day(at, self._catalogue.zone)
        core = self._cores.find(values.code(row, "core"), values.heading("core"), day)
        self._note_before_arrival(job, row, core, day)
        rework = bool(values.text(row, "operation"))
        if rework and values.text(row, "reading"):
            raise RowProblem(
                values.heading("reading"),
                values.text(row, "reading"),
                "this row names a finished rework too; write the reading in a row of its own",
            )
        return _Entry(job, row, core.tag, at, rework)

    def _steps(self, entries: Sequence[_Entry]) -> list[_Step]:
        """Return what a file's rows ask for; rows that cannot be read are rejected at once."""
        steps: list[_Step] = []
        sittings: dict[tuple[str, str], list[_Sitting]] = {}
        readers: dict[int, BenchRows] = {}
        for entry in entries:
            if entry.rework:
                do = partial(self._rework, entry)
                steps.append(_Step(entry.at, (False, entry.row.number), do))
                continue
            reader = readers.setdefault(id(entry.job), BenchRows(entry.job.values))
            try:
                self._collect(entry, reader, sittings)
            except (RowProblem, CoretrackError) as error:
                entry.job.reject_for(entry.row, error)
        for group in sittings.values():
            # At one moment finished rework comes first: what is read then was read after it.
            steps += [
                _Step(s.start, (True, s.rows[0].number), partial(self._sit, s)) for s in group
            ]
        return steps

    def _collect(
        self,
        entry: _Entry,
        reader: BenchRows,
        sittings: dict[tuple[str, str], list[_Sitting]],
    ) -> None:
        job, row, at = entry.job, entry.row, entry.at
        inspector = job.values.text(row, "inspector") or self._writer.by
        gauge = job.values.code(row, "gauge", required=False)
        core: CoreFacts = self._writer.get("core", entry.tag)
        found = reader.read(row, self._bench.plan_for(core))
        group = sittings.setdefault((entry.tag, inspector), [])
        if not group or reader.wide or self._apart(entry, group[-1].end):
            group.append(_Sitting(job, entry.tag, inspector, at, at))
        sitting = group[-1]
        sitting.end = at
        sitting.rows.append(row)
        self._note_gauge(job, gauge, at)
        sitting.found += [(gauge, at, one) for one in found]
        sitting.stopped |= "stopped" in job.values.text(row, "note").casefold()

    def _apart(self, entry: _Entry, end: datetime) -> bool:
        """Return whether a reading belongs to another sitting than the one that ended at `end`.

        It does after a longer pause, and when the core was reworked in between.
        """
        at = entry.at
        between = [m for m in self._reworked.get(entry.tag, ()) if end <= m <= at and end != at]
        return at - end > ONE_SITTING or bool(between)

    def _note_gauge(self, job: Work, code: str, at: datetime) -> None:
        if code and code.casefold() not in self._gauges:
            job.notes.append(f"gauge {code} is not in the register; its readings are kept")
        elif self._overdue(code, at):
            due = self._gauges[code.casefold()].due_on
            job.notes.append(
                f"gauge {code} was due to be checked by {due}; later readings are kept and stamped"
            )

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
                    detail=one.detail,
                    crack=read_told(one.detail).to_dict() if one.detail else {},
                )
            )
        try:
            with self._writer.attempt():
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
        pairs = zip(readings, sitting.found, strict=True)
        item: dict[str, Any] = {
            "core": sitting.tag,
            "inspector": sitting.inspector,
            "grade": verdict.grade,
            "because": verdict.sentence,
            "operations": list(verdict.operations),
            "missing": list(verdict.missing),
            "readings": [one.as_answer(found.check.unit) for one, (_, _, found) in pairs],
        }
        for place, row in enumerate(sitting.rows):
            job.accept(row, item, listed=place == 0)

    def _rework(self, entry: _Entry) -> None:
        job, row, values = entry.job, entry.row, entry.job.values
        try:
            with self._writer.attempt():
                facts = finish_rework(
                    self._writer,
                    self._bench,
                    entry.tag,
                    values.code(row, "operation"),
                    minutes=_minutes(values, row),
                    at=entry.at,
                    day=shop_day(entry.at, self._catalogue.zone),
                    person=values.text(row, "inspector") or self._writer.by,
                    note=values.text(row, "note"),
                )
        except (RowProblem, CoretrackError) as error:
            job.reject_for(row, error)
            return
        job.accept(
            row,
            {"core": entry.tag, "operation": values.code(row, "operation"), "now": facts.state},
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
    """Return a sitting's findings per check; of several results of one check the last counts.

    A crack indication counts whatever was written after it.
    """
    by_check: dict[str, list[Found]] = {}
    for _, _, one in sitting.found:
        by_check.setdefault(one.check.code, []).append(one)
    return [
        Observation(
            code,
            values=tuple(one.value for one in found if one.value is not None),
            result=_result(found),
            detail="; ".join(one.detail for one in found if one.detail),
        )
        for code, found in by_check.items()
    ]


def _result(found: Sequence[Found]) -> str:
    results = [one.result for one in found]
    return "indication" if "indication" in results else results[-1]


def _minutes(values: Values, row: Row) -> Decimal | None:
    """Return the minutes a pass of rework took; RowProblem for what nobody works."""
    minutes = values.number(row, "minutes", required=False)
    if minutes is not None and not 0 <= minutes <= MOST_MINUTES:
        raise RowProblem(
            values.heading("minutes"),
            values.text(row, "minutes"),
            f"one pass takes from 0 to {MOST_MINUTES} minutes",
        )
    return minutes
