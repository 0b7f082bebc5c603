"""Spreadsheets that somebody brings, made cell by cell, and what the terminal says of them."""

from __future__ import annotations

import io
import zipfile
from collections.abc import Callable, Mapping, Sequence
from pathlib import Path
from typing import Any, Protocol

from openpyxl import Workbook
from openpyxl.worksheet.worksheet import Worksheet

FILES = Path(__file__).parent / "cases" / "files"
SHEET = "xl/worksheets/sheet1.xml"
BOUGHT = ("--source", "MERE", "--price", "10")


class Shop(Protocol):
    """What is needed of the shop at the counter (see tests/cases/conftest.py)."""

    folder: Path

    def json(self, *words: str | Path, exit_code: int | None = 0) -> Any: ...

    def run(self, *words: str | Path, exit_code: int | None = 0) -> Any: ...

    def events(self) -> int: ...


def case_file(name: str) -> bytes:
    """Return the file of a case as it came."""
    return (FILES / name).read_bytes()


def workbook(
    rows: Sequence[Sequence[object]],
    formats: Mapping[str, str] | None = None,
    *,
    prepare: Callable[[Workbook, Worksheet], None] | None = None,
    edit: Callable[[bytes], bytes] | None = None,
) -> bytes:
    """Return an .xlsx file: `formats` by cell, `edit` for the raw XML of the (first) sheet."""
    book = Workbook()
    sheet = book.active
    assert sheet is not None
    for row in rows:
        sheet.append(row)
    for place, number_format in (formats or {}).items():
        sheet[place].number_format = number_format
    if prepare:
        prepare(book, sheet)
    stream = io.BytesIO()
    book.save(stream)
    if edit is None:
        return stream.getvalue()
    edited = io.BytesIO()
    with zipfile.ZipFile(stream) as source, zipfile.ZipFile(edited, "w") as target:
        for part in source.namelist():
            content = source.read(part)
            target.writestr(part, edit(content) if part == SHEET else content)
    return edited.getvalue()


def column(heading: str, *values: object, formats: Sequence[str | None] = ()) -> bytes:
    """Return a workbook of serials S1, S2, … and one more column."""
    rows = [["serial", heading], *([f"S{place}", value] for place, value in enumerate(values, 1))]
    dress = {f"B{place}": code for place, code in enumerate(formats, 2) if code}
    return workbook(rows, dress)


def csv_column(heading: str, *values: str) -> str:
    """Return a CSV file with semicolons: serials S1, S2, … and one more column, in quotes."""
    lines = [f"serial;{heading}"]
    lines += [f'S{n};"{value.replace(chr(34), chr(34) * 2)}"' for n, value in enumerate(values, 1)]
    return "\n".join(lines) + "\n"


def brought(shop: Shop, name: str, content: bytes | str) -> Path:
    """Put a file into the shop's folder."""
    path = shop.folder / name
    path.write_bytes(content.encode() if isinstance(content, str) else content)
    return path


def intake(shop: Shop, name: str, content: bytes | str, *options: str) -> Any:
    """Return the answer of `coretrack intake … --json` for a lot bought at 10.00 a piece.

    Unless told otherwise the lot is called as its file, so that a shop may receive several.
    """
    lot = () if "--lot" in options else ("--lot", name)
    return shop.json("intake", brought(shop, name, content), *BOUGHT, *lot, *options)


def refused(shop: Shop, name: str, content: bytes | str, *options: str) -> str:
    """Return why `coretrack intake` refuses the whole file; nothing may have happened."""
    before = shop.events()
    path = brought(shop, name, content)
    done = shop.run("intake", path, *BOUGHT, *options, exit_code=1)
    assert shop.events() == before, "a refused file changed something"
    assert done.stderr.startswith("Error: ")
    return str(done.stderr)


def by_serial(answer: Any, field: str) -> dict[str, Any]:
    """Return one field of every stored core by its serial."""
    return {item["serial"]: item[field] for item in answer["items"]}


def why(answer: Any) -> dict[int, str]:
    """Return why rows were rejected, by row."""
    return {reject["row"]: reject["why"] for reject in answer["rejected"]}


def stated(answer: Any) -> dict[str, tuple[str, str]]:
    """Return value and unit of the one measurement the file states for each core."""
    found = {}
    for item in answer["items"]:
        [one] = item["stated"]
        found[item["serial"]] = (one["value"], one["unit"])
    return found
