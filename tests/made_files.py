"""Tables and workbooks made for tests of reading."""

from __future__ import annotations

import io
import zipfile
from pathlib import Path

from openpyxl import Workbook

from coretrack.figures.table import Table
from coretrack.paper.incoming import read_table

FILES = Path(__file__).resolve().parent / "cases" / "files"
SHEET_PART = "xl/worksheets/sheet1.xml"


def case_bytes(name: str) -> bytes:
    """Return a file of the awkward cases."""
    return (FILES / name).read_bytes()


def texts(table: Table) -> list[list[str]]:
    """Return what a person sees in the table's cells."""
    return [[cell.text for cell in row.cells] for row in table.rows]


def read_text(text: str, encoding: str = "utf-8") -> Table:
    """Return `text` read as a CSV file."""
    return read_table("cores.csv", text.encode(encoding))


def saved(workbook: Workbook) -> bytes:
    """Return the workbook's file."""
    stream = io.BytesIO()
    workbook.save(stream)
    return stream.getvalue()


def sheet_of(*rows: list[object]) -> bytes:
    """Return a workbook's file with these rows on its only sheet."""
    workbook = Workbook()
    for row in rows:
        workbook.active.append(row)
    return saved(workbook)


def edited(content: bytes, part: str, old: str, new: str) -> bytes:
    """Return the workbook with one piece of a part's XML replaced."""
    stream = io.BytesIO()
    with zipfile.ZipFile(io.BytesIO(content)) as source, zipfile.ZipFile(stream, "w") as target:
        for entry in source.infolist():
            data = source.read(entry)
            if entry.filename == part:
                assert old in data.decode()
                data = data.decode().replace(old, new).encode()
            target.writestr(entry.filename, data)
    return stream.getvalue()


def zipped(**parts: bytes) -> bytes:
    """Return a zip archive of these parts."""
    stream = io.BytesIO()
    with zipfile.ZipFile(stream, "w") as archive:
        for name, data in parts.items():
            archive.writestr(name, data)
    return stream.getvalue()
