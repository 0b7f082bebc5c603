"""The one writer of cells, for workbooks and CSV: text stays text, numbers stay numbers.

In a workbook every text is stored as a text cell in the format "@"; one that begins like a formula
(= + - @ tab return) is marked as quoted besides, so that editing the cell cannot start it either.
Only a `Formula` becomes a formula. Numbers and dates are real ones. In CSV, which has no types, a
text that a spreadsheet program would run or turn into a number or date is written ="…" (see
`guarded_text`), which `read_table` reverses exactly; control characters become their picture signs.
"""

from __future__ import annotations

import csv
import io
import math
import re
import zipfile
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime, time
from decimal import Decimal
from typing import Any
from xml.sax.saxutils import escape

from openpyxl import Workbook
from openpyxl.cell.cell import WriteOnlyCell
from openpyxl.styles import Alignment, Font, PatternFill

from coretrack.errors import InvalidInput
from coretrack.figures.table import column_letters
from coretrack.paper.guarded_text import guarded, starts_like_formula

CSV_WARNING = (
    "Spreadsheet programs change codes when they open a CSV file (00420 becomes 420, 3-1 a date). "
    'Such codes are written ="00420" here and come back unchanged; the .xlsx file needs no such '
    "care."
)
"""To be said beside every CSV that leaves."""

LONGEST_TEXT = 32_767
"""Characters that fit into one cell of a workbook (ECMA-376)."""

TEXT_FORMAT = "@"
DATE_FORMAT = "yyyy-mm-dd"
MOMENT_FORMAT = "yyyy-mm-dd hh:mm"
TIME_FORMAT = "hh:mm"
_LONGEST_AS_TEXT = 255  # longer texts in the format "@" are shown as ##### (from memory)
_MOST_DIGITS = 15
_NOT_XML = re.compile(r"[\x00-\x08\x0b-\x1f\ufffe\uffff]")
_LOOKS_ESCAPED = re.compile(r"_(?=x[0-9A-Fa-f]{4}_)")
_CONTROL = re.compile(r"[\x00-\x08\x0b-\x0c\x0e-\x1f\x7f]")
_SURROGATE = re.compile(r"[\ud800-\udfff]")
_HEADING_FONT = Font(bold=True)
_HEADING_FILL = PatternFill("solid", fgColor="FFE7E9EC")
_HEADING_ALIGNMENT = Alignment(wrap_text=True, vertical="top")


@dataclass(frozen=True)
class Formula:
    """A formula, such as `=B2/C2`, and the value it has now (shown where nothing recalculates)."""

    text: str
    value: Decimal | int | None = None

    def __post_init__(self) -> None:
        if not self.text.startswith("=") or len(self.text) < 2:
            raise ValueError(f"a formula begins with '=' and goes on: {self.text!r}")


@dataclass(frozen=True)
class Shown:
    """A value with a number format of its own, such as "0%"."""

    value: Decimal | float | int | date | datetime | Formula | None
    number_format: str


@dataclass(frozen=True)
class SheetError:
    """An error value of a sheet, such as #N/A, given back as it came."""

    text: str


Value = str | int | float | Decimal | bool | date | datetime | time | Formula | Shown | SheetError
"""What a cell may hold; None beside it is an empty cell."""


@dataclass(frozen=True, slots=True)
class _Prepared:
    """A checked cell: openpyxl's value, its data type ("" lets openpyxl tell), format and dress."""

    value: Any
    data_type: str = ""
    number_format: str | None = None
    quoted: bool = False
    heading: bool = False


class WorkbookWriter:
    """Collects sheets and returns the workbook's bytes.

    Every value is checked when it is given, so that nothing can fail halfway through the file.
    """

    def __init__(self) -> None:
        self._sheets: list[SheetWriter] = []

    def add_sheet(
        self, title: str, *, widths: Sequence[float | None] = (), freeze: bool = True
    ) -> SheetWriter:
        """Return a writer for a new sheet; `widths` are in characters, column by column."""
        taken = [sheet.title for sheet in self._sheets]
        sheet = SheetWriter(sheet_title(title, taken), widths, freeze)
        self._sheets.append(sheet)
        return sheet

    def finish(self) -> bytes:
        """Return the .xlsx file."""
        workbook = Workbook(write_only=True)
        for sheet in self._sheets:
            sheet.put_into(workbook)
        stream = io.BytesIO()
        workbook.save(stream)
        values = [sheet.formula_values for sheet in self._sheets]
        return _with_formula_values(stream.getvalue(), values)


class SheetWriter:
    """Takes one sheet row by row."""

    def __init__(self, title: str, widths: Sequence[float | None], freeze: bool) -> None:
        self.title = title
        self.formula_values: dict[str, str] = {}
        self._widths = tuple(widths)
        self._freeze = freeze
        self._rows: list[list[_Prepared | None]] = []

    def write_heading(self, headings: Sequence[str]) -> None:
        """Add the heading row, bold on grey."""
        self._rows.append([replace(_text_cell(heading), heading=True) for heading in headings])

    def write_row(self, row: Sequence[Value | None], formats: Sequence[str | None] = ()) -> None:
        """Add one row; `formats` are number formats by column, `None` for the usual one.

        ValueError for numbers that are not finite and times with a zone, InvalidInput for texts
        that no cell can hold.
        """
        wanted = [*formats, *[None] * (len(row) - len(formats))]
        cells = [_prepared(value, wanted[place]) for place, value in enumerate(row)]
        self._rows.append(cells)
        for place, value in enumerate(row):
            formula = value.value if isinstance(value, Shown) else value
            if isinstance(formula, Formula) and formula.value is not None:
                name = f"{column_letters(place + 1)}{len(self._rows)}"
                self.formula_values[name] = format(plain_number(formula.value), "f")

    def put_into(self, workbook: Any) -> None:
        """Write the sheet into an openpyxl workbook in write-only mode."""
        sheet = workbook.create_sheet(self.title)
        for index, width in enumerate(self._widths, start=1):
            if width is not None:
                sheet.column_dimensions[column_letters(index)].width = width
        if self._freeze:
            sheet.freeze_panes = "A2"
        for row in self._rows:
            sheet.append([None if cell is None else _openpyxl_cell(sheet, cell) for cell in row])


def _openpyxl_cell(sheet: Any, prepared: _Prepared) -> Any:
    cell = WriteOnlyCell(sheet, prepared.value)
    if prepared.data_type:
        cell.data_type = prepared.data_type
    if prepared.number_format:
        cell.number_format = prepared.number_format
    if prepared.quoted:
        cell.quotePrefix = True
    if prepared.heading:
        cell.font, cell.fill, cell.alignment = _HEADING_FONT, _HEADING_FILL, _HEADING_ALIGNMENT
    return cell


def _prepared(value: Value | None, number_format: str | None) -> _Prepared | None:
    if isinstance(value, Shown):
        return _prepared(value.value, value.number_format)
    if value is None:
        return None
    if isinstance(value, str):
        return _text_cell(value)
    if isinstance(value, SheetError):
        return _Prepared(stored_text(value.text), "e")
    if isinstance(value, Formula):
        return _Prepared(value.text, "f", number_format)
    if isinstance(value, bool):
        return _Prepared(value)
    if isinstance(value, date | time):
        return _dated_cell(value, number_format)
    number = plain_number(value)
    if _too_long(number) and not isinstance(value, float):
        return _text_cell(format(number, "f"))
    return _Prepared(number, "n", number_format)


def _text_cell(text: str) -> _Prepared:
    # openpyxl takes "=…" for a formula and "#N/A" for an error; here it is text all the same.
    number_format = TEXT_FORMAT if len(text) <= _LONGEST_AS_TEXT else None
    return _Prepared(stored_text(text), "s", number_format, quoted=starts_like_formula(text))


def _dated_cell(value: date | datetime | time, number_format: str | None) -> _Prepared:
    if isinstance(value, datetime | time) and value.tzinfo is not None:
        raise ValueError("a spreadsheet knows no time zones; give the shop's own clock time")
    if isinstance(value, datetime):
        return _Prepared(value, "d", number_format or MOMENT_FORMAT)
    if isinstance(value, time):
        return _Prepared(value, "d", number_format or TIME_FORMAT)
    return _Prepared(value, "d", number_format or DATE_FORMAT)


def plain_number(value: int | float | Decimal) -> Decimal:
    """Return the number exactly, never a negative zero; ValueError when it is not finite."""
    if not math.isfinite(value):
        raise ValueError(f"{value} is no number that a cell can hold")
    number = Decimal(repr(value)) if isinstance(value, float) else Decimal(value)
    return abs(number) if number == 0 else number


def _too_long(number: Decimal) -> bool:
    """More digits than a number cell keeps: written as text, so that none is lost."""
    digits = number.normalize().as_tuple()
    return len(digits.digits) > _MOST_DIGITS or number.adjusted() >= _MOST_DIGITS


def stored_text(text: str) -> str:
    """Return `text` as a workbook stores it: what XML cannot hold is escaped as _x0001_.

    ECMA-376, ST_Xstring; text that merely looks like such an escape is escaped too. InvalidInput
    for half a character (a lone surrogate) and for text that does not fit a cell.
    """
    _refuse_half_characters(text)
    escaped = _LOOKS_ESCAPED.sub("_x005F_", text)
    escaped = _NOT_XML.sub(lambda found: f"_x{ord(found.group()):04X}_", escaped)
    # openpyxl would cut the rest off without a word.
    if len(escaped) > LONGEST_TEXT:
        raise InvalidInput(
            f"A text of {len(text):,} characters does not fit into a cell ({LONGEST_TEXT:,} at "
            f"most); it begins '{text[:40]}'."
        )
    return escaped


def _refuse_half_characters(text: str) -> None:
    if _SURROGATE.search(text):
        shown = _SURROGATE.sub("\ufffd", text)[:40]
        raise InvalidInput(f"The text '{shown}' holds half a character; type it again.")


def sheet_title(title: str, taken: Iterable[str] = ()) -> str:
    """Return `title` as a sheet may be called: 31 characters, no []:*?/\\, not there twice."""
    clean = re.sub(r"[\[\]:*?/\\\x00-\x1f]", " ", title)
    base = " ".join(clean.split()).strip("'")[:31].rstrip() or "Sheet"
    used = {name.casefold() for name in taken}
    name, number = base, 2
    while name.casefold() in used:
        ending = f" {number}"
        name, number = base[: 31 - len(ending)] + ending, number + 1
    return name


def _with_formula_values(content: bytes, values: Sequence[Mapping[str, str]]) -> bytes:
    """Put the formulas' values beside them: openpyxl writes none, and a preview shows nothing."""
    if not any(values):
        return content
    stream = io.BytesIO()
    with (
        zipfile.ZipFile(io.BytesIO(content)) as source,
        zipfile.ZipFile(stream, "w", zipfile.ZIP_DEFLATED) as target,
    ):
        for entry in source.infolist():
            data = source.read(entry)
            found = re.fullmatch(r"xl/worksheets/sheet(\d+)\.xml", entry.filename)
            if found:
                data = _filled(data.decode("utf-8"), values[int(found.group(1)) - 1]).encode()
            target.writestr(entry, data)
    return stream.getvalue()


_FORMULA_CELL = re.compile(r'(<c r="([A-Z]+\d+)"[^>]*><f>[^<]*</f>)<v\s*(?:/>|></v>)')


def _filled(xml: str, values: Mapping[str, str]) -> str:
    def fill(found: re.Match[str]) -> str:
        value = values.get(found.group(2))
        return found.group() if value is None else f"{found.group(1)}<v>{escape(value)}</v>"

    return _FORMULA_CELL.sub(fill, xml)


def to_csv(headings: Sequence[str], rows: Iterable[Sequence[Value | None]]) -> bytes:
    """Return a CSV file: UTF-8 with its mark, commas, points in numbers, ISO dates."""
    text = io.StringIO()
    writer = csv.writer(text, lineterminator="\r\n")
    writer.writerow([csv_text(heading) for heading in headings])
    for row in rows:
        writer.writerow([csv_text(value) for value in row])
    return b"\xef\xbb\xbf" + text.getvalue().encode("utf-8")


def csv_text(value: Value | None) -> str:
    """Return one value as a CSV field (not yet quoted)."""
    if isinstance(value, Shown):
        value = value.value
    if isinstance(value, Formula):
        if value.value is None:
            raise ValueError(f"the formula {value.text} has no value to write into a CSV file")
        value = value.value
    if value is None:
        return ""
    if isinstance(value, SheetError):
        return value.text
    if isinstance(value, str):
        _refuse_half_characters(value)
        return guarded(_CONTROL.sub(_picture, value))
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, datetime):
        return value.isoformat(" ", timespec="minutes" if value.second == 0 else "seconds")
    if isinstance(value, date | time):
        return value.isoformat()
    number = plain_number(value)
    text = format(number, "f")
    return guarded(text) if _too_long(number) and not isinstance(value, float) else text


def _picture(found: re.Match[str]) -> str:
    code = ord(found.group())
    return "\u2421" if code == 0x7F else chr(0x2400 + code)
