"""Reads CSV bytes: encoding, separator, quotes and row numbers, with nothing guessed in silence."""

from __future__ import annotations

import csv
import io
import re
from collections.abc import Iterator
from dataclasses import dataclass

from coretrack.errors import InvalidInput
from coretrack.figures.table import Row
from coretrack.paper.file_kinds import SAVE_AS, byte_order_mark, refuse
from coretrack.paper.guarded_text import unguarded
from coretrack.paper.reading_limits import Allowance, empty_cell, some, text_cell, trimmed

SEPARATORS = (",", ";", "\t", "|")
_SEPARATOR_NAMES = {",": "comma", ";": "semicolon", "\t": "tab", "|": "bar"}
_SEPARATOR_LINE = re.compile(r'\A"?sep=([^\w\s"]|\t)"?\1*[ \t]*(?:\r\n|\r|\n|\Z)', re.IGNORECASE)
_LOST_LETTERS = re.compile(
    r"Â[\u0080-\u00bf]|Ã[\u0080-\u009f\u00a1-\u00bf\u0152-\u2122]|â€[\u0080-\u2122]"
)
"""What UTF-8 text looks like when it is read as Windows-1252: Ã« for ë, Â± for ±."""
_CONTROL = re.compile(r"[\x00-\x08\x0b\x0e-\x1f\x7f]")
_SAMPLE_RECORDS = 60


@dataclass(frozen=True)
class CsvTable:
    """What a CSV file held, before the headings are checked."""

    headings: tuple[str, ...]
    rows: tuple[Row, ...]
    encoding: str
    notes: tuple[str, ...]
    heading_row: int


@dataclass(frozen=True)
class _Record:
    number: int
    line: int
    fields: list[str]


def read_csv(name: str, content: bytes) -> CsvTable:
    """Read CSV `content`; InvalidInput names the file, the line and what would be right."""
    text, encoding, notes = decode(name, content)
    _refuse_binary(name, text)
    said = list(notes)
    text, separator = _separator_line(text)
    first_line = 1
    if separator is None:
        separator = detect_separator(text)
    else:
        first_line = 2
        said.append(f"a sep= line sets the separator: {_separator_name(separator)}")
    allowance = Allowance(name)
    headings: tuple[str, ...] = ()
    heading_row = 0
    rows: list[Row] = []
    short: list[int] = []
    for record in _records(name, text, separator, first_line):
        if not any(trimmed(value) for value in record.fields):
            continue
        if not headings:
            headings = _headings(record.fields)
            heading_row = record.number
            allowance.check_width(len(headings))
            continue
        allowance.take(max(len(headings), len(record.fields)))
        if len(record.fields) < len(headings):
            short.append(record.number)
        rows.append(_row(record, headings, separator))
    if not headings:
        raise InvalidInput(f"{name} is empty; the first row must hold the headings.")
    if short:
        rows_named = some([str(number) for number in short])
        said.append(
            f"rows with fewer cells than headings ({rows_named}): the missing cells count as empty"
        )
    return CsvTable(headings, tuple(rows), encoding, tuple(said), heading_row)


def decode(name: str, content: bytes) -> tuple[str, str, tuple[str, ...]]:
    """Return the text, its encoding and what to say about it.

    A byte-order mark decides; without one UTF-8 is tried strictly, then Windows-1252 strictly, so
    that the five bytes it leaves undefined are refused instead of turned into other letters.
    """
    mark = byte_order_mark(content)
    if mark:
        length, encoding = mark
        try:
            text = content[length:].decode(encoding)
        except UnicodeDecodeError as error:
            raise InvalidInput(
                f"{name} says it is {encoding.upper()} but line "
                f"{_line_of(content, error.start + length)} is not; {SAVE_AS} (CSV UTF-8)."
            ) from error
        spoken = "UTF-8" if encoding == "utf-8" else encoding.upper()
        notes = () if encoding == "utf-8" else (f"read as {spoken}",)
        return text.lstrip("\ufeff"), encoding, notes
    try:
        text = content.decode("utf-8")
    except UnicodeDecodeError:
        return _decode_windows(name, content)
    said = []
    if "\ufffd" in text:
        said.append(
            "some letters were lost before the file came here (the sign \ufffd stands there)"
        )
    wrong = _LOST_LETTERS.search(text)
    if wrong:
        line = text.count("\n", 0, wrong.start()) + 1
        said.append(
            f"line {line} holds '{wrong.group()}', which looks like letters that were garbled "
            "before the file came here; check Ø, µ, ± and accents"
        )
    return text, "utf-8", tuple(said)


def _decode_windows(name: str, content: bytes) -> tuple[str, str, tuple[str, ...]]:
    try:
        text = content.decode("cp1252")
    except UnicodeDecodeError as error:
        raise InvalidInput(
            f"{name}, line {_line_of(content, error.start)}: the byte "
            f"{content[error.start]:02X} (hex) is no letter in UTF-8 nor in Windows-1252; "
            "save the file as CSV UTF-8 or as .xlsx."
        ) from error
    wrong = _LOST_LETTERS.search(text)
    if wrong:
        line = text.count("\n", 0, wrong.start()) + 1
        raise InvalidInput(
            f"{name} mixes two encodings: line {line} is UTF-8 and other lines are not; save the "
            "file as CSV UTF-8 or as .xlsx."
        )
    return text, "windows-1252", ("read as Windows-1252; check letters such as Ø, µ and ±",)


def _line_of(content: bytes, position: int) -> int:
    return content.count(b"\n", 0, position) + 1


def _refuse_binary(name: str, text: str) -> None:
    found = _CONTROL.search(text)
    if found is None:
        return
    line = text.count("\n", 0, found.start()) + 1
    sign = ord(found.group())
    if sign == 0:
        message = "holds NUL bytes: it is damaged, or UTF-16 without its mark"
        raise refuse(f"{name}, line {line},", f"no plain table: it {message}")
    raise InvalidInput(
        f"{name}, line {line}: the control character {sign:02X} (hex) has no place in a table; "
        f"take it out, or {SAVE_AS}."
    )


def _separator_line(text: str) -> tuple[str, str | None]:
    found = _SEPARATOR_LINE.match(text)
    if found is None:
        return text, None
    return text[found.end() :], found.group(1)


def _separator_name(separator: str) -> str:
    return _SEPARATOR_NAMES.get(separator, separator)


def detect_separator(text: str) -> str:
    """Return comma, semicolon, tab or bar: the one that splits heading and rows alike."""
    best = ""
    best_score: tuple[float, int] = (0.0, 1)
    single: list[tuple[int, str]] = []
    for separator in SEPARATORS:
        widths = _sample_widths(text, separator)
        if not widths:
            continue
        if widths[0] == 1:
            single.append((sum(width > 1 for width in widths), separator))
            continue
        alike = sum(width == widths[0] for width in widths[1:]) / max(len(widths) - 1, 1)
        score = (round(alike, 1), widths[0])
        if not best or score > best_score:
            best, best_score = separator, score
    if best:
        return best
    return min(single, key=lambda pair: pair[0])[1] if single else ","


def _sample_widths(text: str, separator: str) -> list[int]:
    widths: list[int] = []
    sample = io.StringIO(text[:200_000], newline="")
    try:
        for fields in csv.reader(sample, delimiter=separator, skipinitialspace=True):
            if any(trimmed(value) for value in fields):
                widths.append(len(fields))
            if len(widths) >= _SAMPLE_RECORDS:
                break
    except csv.Error:
        pass
    return widths


def _records(name: str, text: str, separator: str, first_line: int) -> Iterator[_Record]:
    reader = csv.reader(
        io.StringIO(text, newline=""),
        delimiter=separator,
        skipinitialspace=True,
        strict=True,
    )
    number = 0
    while True:
        line = reader.line_num + first_line
        number += 1
        try:
            fields = next(reader)
        except StopIteration:
            return
        except csv.Error as error:
            raise _quote_error(name, number, line, str(error)) from error
        yield _Record(number, line, fields)


def _quote_error(name: str, number: int, line: int, reason: str) -> InvalidInput:
    where = f"row {number}" if number == line else f"row {number} (line {line} of the file)"
    if "field larger" in reason:
        what = "a cell there never ends; is a closing quote missing?"
    elif "expected after" in reason:
        what = 'a quote there closes too early; a quote inside a quoted cell is written twice ("").'
    else:
        what = "a quote opened there is never closed; close it or take it out."
    return InvalidInput(f"{name}, {where}: {what}")


def _headings(fields: list[str]) -> tuple[str, ...]:
    names = [" ".join(trimmed(value).split()) for value in fields]
    while names and not names[-1]:
        names.pop()
    return tuple(names)


def _row(record: _Record, headings: tuple[str, ...], separator: str) -> Row:
    cells = [
        text_cell(unguarded(value), record.number, column)
        for column, value in enumerate(record.fields, start=1)
    ]
    while len(cells) > len(headings) and cells[-1].is_empty:
        cells.pop()
    cells.extend(
        empty_cell(record.number, column) for column in range(len(cells) + 1, len(headings) + 1)
    )
    problem = None
    if len(cells) > len(headings):
        problem = (
            f"row {record.number} has {len(cells)} cells, but there are {len(headings)} headings; "
            f"put a cell that holds a {_separator_name(separator)} into quotes"
        )
    elif _swallowed_rows(record.fields, headings, separator):
        problem = (
            f"row {record.number}: a quoted cell runs over several lines that look like rows of "
            "their own; is a closing quote missing?"
        )
    return Row(record.number, tuple(cells), problem=problem)


def _swallowed_rows(fields: list[str], headings: tuple[str, ...], separator: str) -> bool:
    """A stray opening quote joins rows up to the next quote without any error in the format."""
    broken = [value for value in fields if "\n" in value or "\r" in value]
    if not broken or len(headings) < 2:
        return False
    return len(fields) < len(headings) or any(
        line.count(separator) >= len(headings) - 1
        for value in broken
        for line in value.splitlines()[1:-1]
    )
