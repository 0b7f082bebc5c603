"""What all file imports share: preview, rows that were done before, rejects, one transaction.

An import reads the whole file, tries every row, and stores all good rows in one transaction; the
others go to a rejects file that names row, column, value and what would be right. A file or row
that comes again changes nothing and says so.
"""

from __future__ import annotations

import hashlib
from collections import Counter
from collections.abc import Callable, Mapping, Sequence
from contextlib import suppress
from dataclasses import dataclass, field
from datetime import datetime
from typing import Any

from coretrack.actions.upkeep import seal_if_due
from coretrack.errors import CoretrackError, InvalidInput, Unavailable
from coretrack.figures.history import canonical
from coretrack.figures.table import Row, Table
from coretrack.figures.table_values import RowProblem, Values
from coretrack.paper.incoming import read_table
from coretrack.records.writer import Writer, writing

RowAction = Callable[[Row], dict[str, Any] | None]
"""Tries one row: what was understood (may be filled in later), or None when it is known already."""

Progress = Callable[[int, int], None]
"""Told how many rows are done, of how many."""


@dataclass(frozen=True)
class FileRequest:
    """A file to import and how to read it.

    `hidden`: what to do with rows a filter hides: "include", "skip" or None (ask). `dates` is
    "day first" or "month first" where the file does not tell; `decimal` is "." or ",".
    """

    name: str
    content: bytes
    preview: bool = False
    hidden: str | None = None
    dates: str | None = None
    decimal: str | None = None
    sheet: str | None = None


@dataclass(frozen=True)
class RejectedRow:
    """A row that was not stored: its number in the file, the column, the value, and why."""

    row: int
    column: str
    value: str
    why: str


@dataclass(frozen=True)
class ImportAnswer:
    """What an import did, or would do (`preview`).

    `stored` rows are new, `already` were done before, `rejected` were not stored. `items` says per
    stored row what was understood; `notes` are said aloud.
    """

    action: str
    file: str
    preview: bool
    rows: int
    stored: int
    already: int
    rejected: tuple[RejectedRow, ...]
    notes: tuple[str, ...]
    items: tuple[Mapping[str, Any], ...]
    hidden_rows: int = 0

    def to_dict(self) -> dict[str, Any]:
        """Return the answer for JSON."""
        return {
            "action": self.action,
            "file": self.file,
            "preview": self.preview,
            "rows": self.rows,
            "hidden_rows": self.hidden_rows,
            "stored": self.stored,
            "already": self.already,
            "rejected": [
                {"row": r.row, "column": r.column, "value": r.value, "why": r.why}
                for r in self.rejected
            ],
            "notes": list(self.notes),
            "items": [dict(item) for item in self.items],
        }


class _PreviewEnds(Exception):
    """Rolls a preview back."""


@dataclass
class Work:
    """One import under way: the writer, the values of its table, and what came of each row.

    `said` is what was told beside the file and counts where a row says nothing itself. `taken`
    are the rows tried already by files that come in together.
    """

    writer: Writer
    table: Table
    values: Values
    action: str
    said: Mapping[str, str]
    taken: set[str]
    progress: Progress | None = None
    notes: list[str] = field(default_factory=list)
    rejected: list[RejectedRow] = field(default_factory=list)
    items: list[dict[str, Any]] = field(default_factory=list)
    stored: int = 0
    already: int = 0

    def __post_init__(self) -> None:
        self._keys = _row_keys(self.table, self.values, self.action, self.said)

    def each_row(self, act: RowAction) -> None:
        """Let `act` try every row that was not done before; what it raises rejects the row."""
        rows = self.new_rows()
        for place, row in enumerate(rows):
            if self.progress:
                self.progress(place, len(rows))
            try:
                with self.writer.attempt():
                    item = act(row)
            except (RowProblem, CoretrackError) as error:
                self.reject_for(row, error)
            else:
                self.accept(row, item)
        if self.progress:
            self.progress(len(rows), len(rows))

    def new_rows(self) -> list[Row]:
        """Return the rows to try: those not done before; rows that cannot be read are rejected."""
        done = self.writer.answers(list(self._keys.values()))
        rows: list[Row] = []
        for row in self.table.rows:
            key = self._keys[row.number]
            if key in done or key in self.taken:
                self.already += 1
            elif row.problem:
                self.reject(row, "", "", row.problem)
            elif problem := self.values.problem(row):
                self.reject_for(row, problem)
            else:
                self.taken.add(key)
                rows.append(row)
        return rows

    def accept(self, row: Row, item: dict[str, Any] | None, *, listed: bool = True) -> None:
        """Note that `row` is stored (or, with no item, was known already)."""
        if item is None:
            self.already += 1
        else:
            self.stored += 1
            if listed:
                item["row"] = row.number
                self.items.append(item)
        self.writer.remember(self._keys[row.number], "stored")

    def reject(self, row: Row, column: str, value: str, why: str) -> None:
        """Note that `row` was not stored."""
        self.rejected.append(RejectedRow(row.number, column, value, why))

    def take_back(self, row: Row, item: dict[str, Any], why: str) -> None:
        """Reject a row that was accepted, before anything of it was stored."""
        self.stored -= 1
        self.items.remove(item)
        self.writer.forget(self._keys[row.number])
        self.reject(row, "", "", why)

    def reject_for(self, row: Row, error: RowProblem | CoretrackError) -> None:
        """Note that `row` was not stored because of `error`, blaming the column it names."""
        if isinstance(error, RowProblem):
            self.reject(row, error.column, error.value, str(error))
            return
        column, value = "", ""
        for key in error.fields:
            if self.values.has(key):
                column, value = self.values.heading(key), self.values.text(row, key)
                break
        self.reject(row, column, value, error.message)


def _row_keys(table: Table, values: Values, action: str, said: Mapping[str, str]) -> dict[int, str]:
    """Return a key a row: what it says, what it is imported as, and which of equal rows it is.

    A file saved anew (as a workbook, its columns in another order, 22.00 as 22) keeps its keys.
    """
    seen: Counter[str] = Counter()
    keys: dict[int, str] = {}
    for row in table.rows:
        words = {name: value for name, value in said.items() if value} | values.words(row)
        body = canonical([action, words])
        seen[body] += 1
        digest = hashlib.sha256(f"{body}\n{seen[body]}".encode()).hexdigest()
        keys[row.number] = f"row:{digest}"
    return keys


def run_import(
    request: FileRequest,
    action: str,
    *,
    by: str,
    now: datetime,
    prepare: Callable[[Table], Values],
    work: Callable[[Work], None],
    said: Mapping[str, str] | None = None,
    again: str = "",
    progress: Progress | None = None,
) -> ImportAnswer:
    """Import one file: `prepare` finds its columns, `work` acts on its rows in one transaction.

    `said` is what was told beside the file (source, lot), by the names of the columns that could
    say it too: the same rows said otherwise are other rows. `again` tells how to bring in rows that
    only look as if they had been imported before.
    """

    def work_on_one(jobs: Sequence[Work]) -> None:
        jobs[0].progress = progress
        work(jobs[0])

    return run_imports(
        [request],
        action,
        by=by,
        now=now,
        prepare=lambda _request, table: prepare(table),
        work=work_on_one,
        said=said,
        again=again,
    )[0]


def run_imports(
    requests: Sequence[FileRequest],
    action: str,
    *,
    by: str,
    now: datetime,
    prepare: Callable[[FileRequest, Table], Values],
    work: Callable[[Sequence[Work]], None],
    said: Mapping[str, str] | None = None,
    again: str = "",
) -> list[ImportAnswer]:
    """Import several files in one transaction; `work` gets those that are not known already."""
    told = dict(said or {})
    preview = any(request.preview for request in requests)
    answers: dict[int, ImportAnswer] = {}
    tables = [_table(request) for request in requests]
    try:
        with writing(by, now, "import") as writer:
            jobs: dict[int, Work] = {}
            keys: dict[int, str] = {}
            taken: set[str] = set()
            for place, (request, table) in enumerate(zip(requests, tables, strict=True)):
                key = _file_key(request, action, told)
                earlier = writer.find("file", key)
                if earlier is not None and not earlier.answer["rejected"]:
                    when = f"was imported before ({earlier.answer['at']})"
                    answers[place] = _nothing_new(request, action, table, when, again)
                    continue
                if key in keys.values():
                    answers[place] = _nothing_new(request, action, table, "is given twice here")
                    continue
                keys[place] = key
                values = prepare(request, table)
                values.today = now.astimezone(values.zone).date()
                job = Work(writer, table, values, action, told, taken)
                job.notes += [*table.notes, *values.notes()]
                jobs[place] = job
            if jobs:
                work(list(jobs.values()))
            for place, job in jobs.items():
                answers[place] = _answer(requests[place], action, job, again)
            if preview:
                writer.flush()
                raise _PreviewEnds
            for place in jobs:
                _remember_file(writer, keys[place], requests[place], answers[place], now)
    except _PreviewEnds:
        pass
    if not preview:
        # The rows are stored; a seal that fails now (no room) is made up for by the next import.
        with suppress(Unavailable):
            seal_if_due(now)
    return [answers[place] for place in range(len(requests))]


def _table(request: FileRequest) -> Table:
    include = {None: None, "include": True, "skip": False}[request.hidden]
    table = read_table(request.name, request.content, sheet=request.sheet, include_hidden=include)
    if table.asks_about_hidden_rows and not request.preview:
        raise InvalidInput(
            f"{request.name}: {len(table.rows)} rows, {table.hidden_rows} of them hidden by a "
            "filter. Say whether hidden rows count: --hidden include or --hidden skip."
        )
    return table


def _file_key(request: FileRequest, action: str, said: Mapping[str, str]) -> str:
    told = canonical([action, said, request.hidden, request.dates, request.decimal, request.sheet])
    return hashlib.sha256(told.encode() + b"\n" + request.content).hexdigest()


def _nothing_new(
    request: FileRequest, action: str, table: Table, when: str, again: str = ""
) -> ImportAnswer:
    note = _joined(f"this very file {when}: nothing was changed", again)
    rows = len(table.rows)
    return ImportAnswer(action, request.name, request.preview, rows, 0, rows, (), (note,), ())


def _joined(note: str, more: str) -> str:
    return f"{note}; {more}" if more else note


def _answer(request: FileRequest, action: str, job: Work, again: str) -> ImportAnswer:
    notes = list(dict.fromkeys(job.notes))
    if job.values.ahead:
        rows = ", ".join(str(number) for number in sorted(job.values.ahead)[:5])
        notes.append(f"dated after today, check the dates: {len(job.values.ahead)} rows ({rows} …)")
    if job.already:
        note = f"{job.already} rows were imported before: nothing was changed for them"
        notes.append(_joined(note, again))
    if job.table.asks_about_hidden_rows:
        notes.append("hidden rows are shown here; say --hidden include or --hidden skip to import")
    return ImportAnswer(
        action,
        request.name,
        request.preview,
        len(job.table.rows),
        job.stored,
        job.already,
        tuple(sorted(job.rejected, key=lambda reject: reject.row)),
        tuple(notes),
        tuple(job.items),
        job.table.hidden_rows,
    )


def _remember_file(
    writer: Writer, key: str, request: FileRequest, answer: ImportAnswer, now: datetime
) -> None:
    summary = {
        "rows": answer.rows,
        "stored": answer.stored,
        "already": answer.already,
        "rejected": len(answer.rejected),
        "at": now.date().isoformat(),
    }
    known = writer.find("file", key)
    fields = {"key": key, "name": request.name, "action": answer.action, "answer": summary}
    same = known is not None and known.answer["rejected"] == summary["rejected"]
    if answer.stored or not same:
        writer.event("file", key, "set", fields)


@dataclass(frozen=True)
class RejectsFile:
    """The rejected rows as they stood, with column, value and why; `ending` is .csv or .xlsx."""

    ending: str
    content: bytes


def rejects_of(request: FileRequest, answer: ImportAnswer) -> RejectsFile:
    """Return the rejects file of an import, of the same kind as the file that came in.

    A workbook's damaged cells stay damaged in it, so that only corrected rows come in later.
    """
    from coretrack.paper.rejects import Reject, rejects_file

    with_hidden = {None: None, "include": True, "skip": False}[request.hidden]
    table = read_table(
        request.name, request.content, sheet=request.sheet, include_hidden=with_hidden
    )
    rejects = [Reject(r.row, r.column, r.value, r.why) for r in answer.rejected]
    return RejectsFile(f".{table.kind}", rejects_file(rejects, table, table.kind))
