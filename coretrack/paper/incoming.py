"""Bytes of a file → one table; the content decides what it is, never the name.

Everything done on the way that a person could want otherwise is said in the table's notes.
"""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Sequence
from dataclasses import replace

from coretrack.errors import InvalidInput
from coretrack.figures.table import Cell, Row, Table, column_letters
from coretrack.paper.csv_tables import read_csv
from coretrack.paper.file_kinds import MOST_BYTES, MOST_MEGABYTES, WORKBOOK, kind_of
from coretrack.paper.sheet_tables import read_sheet

__all__ = ["MOST_BYTES", "MOST_MEGABYTES", "Cell", "Row", "Table", "read_table", "safe_name"]

_WORKBOOK_ENDINGS = (".xlsx", ".xlsm", ".xltx", ".xltm")
_TEXT_ENDINGS = (".csv", ".txt", ".tsv", ".tab")


def read_table(
    name: str,
    content: bytes,
    *,
    sheet: str | None = None,
    include_hidden: bool | None = None,
) -> Table:
    """Read the table in a workbook or CSV file called `name`.

    The first filled row holds the headings. `sheet` names a workbook's sheet; without it the first
    visible one that holds anything is read. `include_hidden` says what to do with rows a filter
    hides: `None` keeps them, marked, and leaves the question open (`asks_about_hidden_rows`),
    `True` keeps them, `False` leaves them out. InvalidInput names the file, place and remedy.
    """
    name = safe_name(name)
    if kind_of(name, content) == WORKBOOK:
        table = _from_workbook(name, content, sheet)
    else:
        if sheet is not None:
            raise InvalidInput(f"{name} is a CSV file and has no sheet '{sheet}'.")
        table = _from_csv(name, content)
    _refuse_same_headings(name, table.headings)
    if not table.rows:
        table = replace(table, notes=(*table.notes, "there are headings, but no row under them"))
    return _with_hidden_rows(table, include_hidden)


def safe_name(name: str) -> str:
    """Return the last part of a file's name, without signs that could break a message."""
    leaf = name.replace("\\", "/").rpartition("/")[2]
    shown = "".join(sign for sign in leaf if sign.isprintable()).strip()
    return shown[:120] or "the file"


def _from_csv(name: str, content: bytes) -> Table:
    read = read_csv(name, content)
    notes = list(read.notes)
    if name.lower().endswith((*_WORKBOOK_ENDINGS, ".xls", ".ods")):
        notes.insert(0, "the name says workbook, but it is a CSV text; read as that")
    return Table(
        name,
        read.headings,
        read.rows,
        kind="csv",
        encoding=read.encoding,
        notes=(*notes, *_nameless_columns(read.headings, read.rows)),
        heading_row=read.heading_row,
    )


def _from_workbook(name: str, content: bytes, sheet: str | None) -> Table:
    read = read_sheet(name, content, sheet)
    notes = list(read.notes)
    if name.lower().endswith(_TEXT_ENDINGS):
        notes.insert(0, "the name says CSV, but it is an .xlsx workbook; read as that")
    return Table(
        name,
        read.headings,
        read.rows,
        kind="xlsx",
        notes=tuple(notes),
        hidden_rows=sum(row.hidden for row in read.rows),
        sheet=read.sheet,
        heading_row=read.heading_row,
        other_sheets=read.other_sheets,
    )


def _nameless_columns(headings: Sequence[str], rows: Sequence[Row]) -> list[str]:
    nameless = [
        column_letters(index)
        for index, heading in enumerate(headings, start=1)
        if not heading and any(not row.cells[index - 1].is_empty for row in rows)
    ]
    return [f"columns without a heading are not read: {', '.join(nameless)}"] if nameless else []


def _refuse_same_headings(name: str, headings: Sequence[str]) -> None:
    """Two equal headings: nobody can know which column is meant, so nothing is read."""
    seen: dict[str, int] = {}
    for index, heading in enumerate(headings, start=1):
        folded = _one_spelling(heading)
        if folded and folded in seen:
            first = column_letters(seen[folded])
            raise InvalidInput(
                f"{name}: columns {first} and {column_letters(index)} have the same heading "
                f"'{heading}'; rename or take out one of them, so that it is clear which is meant.",
                {heading: f"stands over columns {first} and {column_letters(index)}"},
            )
        seen.setdefault(folded, index)


def _one_spelling(heading: str) -> str:
    """Case, blanks and underscores do not make another heading; signs do (`tol +`, `tol -`)."""
    plain = unicodedata.normalize("NFKC", heading).casefold()
    kept = "".join(sign for sign in plain if unicodedata.category(sign) != "Cf")
    return re.sub(r"[\s_]+", "", kept) or kept


def _with_hidden_rows(table: Table, include_hidden: bool | None) -> Table:
    if not table.hidden_rows:
        return replace(table, hidden_rows_decided=include_hidden is not None)
    count = len(table.rows)
    noun = "row" if count == 1 else "rows"
    said = f"{count} {noun}, {table.hidden_rows} of them hidden"
    if include_hidden is False:
        shown = tuple(row for row in table.rows if not row.hidden)
        notes = (*table.notes, f"{said}; the hidden ones are left out")
        return replace(table, rows=shown, notes=notes, hidden_rows_decided=True)
    if include_hidden:
        notes = (*table.notes, f"{said}; all are read")
        return replace(table, notes=notes, hidden_rows_decided=True)
    return replace(table, notes=(*table.notes, said))
