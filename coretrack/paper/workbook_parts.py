"""Opens an .xlsx package safely: size limits, no document types, sheets, styles, shared texts.

ECMA-376 part 2 (open packaging) forbids document type declarations in a part. Refusing them shuts
out entity expansion and external entities whatever the expat behind Python does.
"""

from __future__ import annotations

import io
import posixpath
import re
import zipfile
import zlib
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from datetime import datetime
from xml.parsers import expat

from openpyxl.styles.numbers import BUILTIN_FORMATS, is_date_format, is_timedelta_format
from openpyxl.utils.datetime import MAC_EPOCH, WINDOWS_EPOCH

from coretrack.errors import InvalidInput
from coretrack.paper.file_kinds import (
    MOST_PART_BYTES,
    MOST_PARTS,
    MOST_UNPACKED_BYTES,
    SAVE_AS,
    refuse,
)

Attributes = Mapping[str, str]
StartHandler = Callable[[str, dict[str, str]], None]
EndHandler = Callable[[str], None]
TextHandler = Callable[[str], None]

_MOST_SHARED_TEXTS = 3_000_000
_EAST_ASIAN_DATES = frozenset((*range(27, 37), *range(50, 59)))
_NOT_FORMAT_SIGNS = re.compile(r'".*?"|\[[^\]]*\]|\\.|_.')
_FRACTION = re.compile(r"[?#0]/[?#0-9]")
_SCIENTIFIC = re.compile(r"[0#?][eE][+-]")
_ESCAPED = re.compile(r"_x([0-9A-Fa-f]{4})_")
_PACKAGE_ERRORS = (
    zipfile.BadZipFile,
    zlib.error,
    EOFError,
    RuntimeError,
    NotImplementedError,
    OSError,
)


@dataclass(frozen=True)
class SheetEntry:
    """One sheet of the workbook: its name, whether it is hidden, and where its part is."""

    name: str
    hidden: bool
    part: str


@dataclass(frozen=True)
class NumberLook:
    """How a cell's number format dresses a number.

    `kind` is "", "date", "duration", "percent", "fraction" or "scientific"; `zeros` is the width
    of a format like 00000, which shows 420 as 00420.
    """

    kind: str = ""
    zeros: int = 0


PLAIN = NumberLook()


class Package:
    """The parts of one workbook, read one at a time within the size limits."""

    def __init__(self, name: str, content: bytes) -> None:
        self.name = name
        try:
            self._archive = zipfile.ZipFile(io.BytesIO(content))
        except (*_PACKAGE_ERRORS, ValueError) as error:
            raise self.damaged() from error
        entries = self._archive.infolist()
        self._check_sizes(entries)
        self._names = {self._key(entry.filename): entry for entry in entries}

    @staticmethod
    def _key(part: str) -> str:
        return part.replace("\\", "/").lstrip("/").lower()

    def _check_sizes(self, entries: list[zipfile.ZipInfo]) -> None:
        largest = max((entry.file_size for entry in entries), default=0)
        total = sum(entry.file_size for entry in entries)
        megabyte = 1024 * 1024
        if len(entries) > MOST_PARTS or largest > MOST_PART_BYTES or total > MOST_UNPACKED_BYTES:
            raise InvalidInput(
                f"{self.name} unpacks to {total // megabyte:,} MB in {len(entries):,} parts; at "
                f"most {MOST_UNPACKED_BYTES // megabyte} MB ({MOST_PART_BYTES // megabyte} MB for "
                "one part) are read. Save only the sheet with the table as CSV."
            )

    def damaged(self, part: str = "") -> InvalidInput:
        """Return the error for a workbook that cannot be unpacked or holds broken XML."""
        where = f" (part {part})" if part else ""
        return refuse(self.name, f"a damaged or cut-off workbook{where}", f"open it, {SAVE_AS}")

    def has(self, part: str) -> bool:
        """Return whether the package holds `part`."""
        return self._key(part) in self._names

    def parse(
        self,
        part: str,
        start: StartHandler,
        end: EndHandler | None = None,
        text: TextHandler | None = None,
    ) -> None:
        """Feed `part` to the handlers as it is unpacked; element names come without prefix."""
        entry = self._names.get(self._key(part))
        if entry is None:
            raise self.damaged(part)
        if entry.flag_bits & 1:
            raise refuse(self.name, "locked with a password", f"take the password off, {SAVE_AS}")
        parser = expat.ParserCreate()
        parser.buffer_text = True
        parser.StartDoctypeDeclHandler = self._refuse_document_type
        parser.StartElementHandler = _without_prefix(start)
        if end is not None:
            parser.EndElementHandler = _end_without_prefix(end)
        if text is not None:
            parser.CharacterDataHandler = text
        try:
            with self._archive.open(entry) as stream:
                parser.ParseFile(stream)
        except (*_PACKAGE_ERRORS, expat.ExpatError) as error:
            raise self.damaged(part) from error

    def _refuse_document_type(self, *_details: object) -> None:
        raise refuse(
            self.name, "a workbook with a document type declaration inside", f"open it, {SAVE_AS}"
        )


def _without_prefix(handler: StartHandler) -> StartHandler:
    def start(name: str, attributes: dict[str, str]) -> None:
        handler(name.rpartition(":")[2] if ":" in name else name, attributes)

    return start


def _end_without_prefix(handler: EndHandler) -> EndHandler:
    def end(name: str) -> None:
        handler(name.rpartition(":")[2] if ":" in name else name)

    return end


def unescaped(text: str) -> str:
    """Undo the workbook format's escapes (_x000D_ for a carriage return; ECMA-376, ST_Xstring)."""
    if "_x" not in text:
        return text
    return _ESCAPED.sub(lambda found: chr(int(found.group(1), 16)), text)


@dataclass(frozen=True)
class Workbook:
    """What must be known before a sheet can be read."""

    package: Package
    sheets: tuple[SheetEntry, ...]
    looks: tuple[NumberLook, ...]
    texts: tuple[str, ...]
    epoch: datetime


def open_workbook(name: str, content: bytes) -> Workbook:
    """Return the workbook's sheets, number formats and shared texts; InvalidInput if damaged."""
    package = Package(name, content)
    roots = _relations(package, "_rels/.rels", "")
    main = next((part for kind, part in roots.values() if kind == "officeDocument"), "")
    if not package.has(main):
        main = "xl/workbook.xml"
    relations = _relations(package, _relations_part(main), posixpath.dirname(main))
    sheets, epoch = _sheets(package, main, relations)
    if not sheets:
        raise refuse(name, "a workbook without any sheet of cells")
    parts = {kind: part for kind, part in relations.values() if kind in {"styles", "sharedStrings"}}
    styles, shared = parts.get("styles", ""), parts.get("sharedStrings", "")
    return Workbook(
        package,
        sheets,
        _looks(package, styles) if package.has(styles) else (),
        _shared_texts(package, shared) if package.has(shared) else (),
        epoch,
    )


def _relations_part(part: str) -> str:
    folder, leaf = posixpath.split(part)
    return posixpath.join(folder, "_rels", leaf + ".rels")


def _relations(package: Package, part: str, folder: str) -> dict[str, tuple[str, str]]:
    """Return relation id → (kind, part)."""
    found: dict[str, tuple[str, str]] = {}
    if not package.has(part):
        return found

    def start(element: str, attributes: dict[str, str]) -> None:
        if element != "Relationship" or attributes.get("TargetMode") == "External":
            return
        target = attributes.get("Target", "").replace("\\", "/")
        kind = attributes.get("Type", "").rpartition("/")[2]
        path = target if target.startswith("/") else posixpath.join(folder, target)
        found[attributes.get("Id", "")] = (kind, posixpath.normpath(path).lstrip("/"))

    package.parse(part, start)
    return found


def _sheets(
    package: Package, main: str, relations: dict[str, tuple[str, str]]
) -> tuple[tuple[SheetEntry, ...], datetime]:
    sheets: list[SheetEntry] = []
    epoch = [WINDOWS_EPOCH]

    def start(element: str, attributes: dict[str, str]) -> None:
        if element == "workbookPr" and attributes.get("date1904") in {"1", "true"}:
            epoch[0] = MAC_EPOCH
        if element != "sheet":
            return
        relation = next(
            (value for key, value in attributes.items() if key.rpartition(":")[2] == "id"), ""
        )
        kind, part = relations.get(relation, ("", ""))
        if kind == "worksheet" and package.has(part):
            hidden = attributes.get("state", "visible") != "visible"
            sheets.append(SheetEntry(attributes.get("name", ""), hidden, part))

    package.parse(main, start)
    return tuple(sheets), epoch[0]


def _looks(package: Package, part: str) -> tuple[NumberLook, ...]:
    codes: dict[int, str] = {}
    used: list[int] = []
    inside = {"cellXfs": False}

    def start(element: str, attributes: dict[str, str]) -> None:
        if element == "numFmt":
            number = attributes.get("numFmtId", "")
            if number.isdigit():
                codes[int(number)] = attributes.get("formatCode", "")
        elif element == "cellXfs":
            inside["cellXfs"] = True
        elif element == "xf" and inside["cellXfs"]:
            number = attributes.get("numFmtId", "0")
            used.append(int(number) if number.isdigit() else 0)

    def end(element: str) -> None:
        if element == "cellXfs":
            inside["cellXfs"] = False

    package.parse(part, start, end)
    known: dict[int, NumberLook] = {}
    for number in used:
        if number not in known:
            known[number] = number_look(number, codes.get(number))
    return tuple(known[number] for number in used)


def number_look(number: int, code: str | None) -> NumberLook:
    """Return how the format `number` (with its own `code`, if it has one) dresses a number."""
    if code is None:
        if number in _EAST_ASIAN_DATES:
            return NumberLook("date")
        code = str(BUILTIN_FORMATS.get(number, "General"))
    first = code.split(";")[0]
    if first.strip().casefold() in {"", "general", "standard", "@"}:
        return PLAIN
    if is_timedelta_format(first):
        return NumberLook("duration")
    bare = _NOT_FORMAT_SIGNS.sub("", first)
    if "%" in bare:
        return NumberLook("percent")
    if _SCIENTIFIC.search(bare):
        return NumberLook("scientific")
    if is_date_format(first):
        return NumberLook("date")
    if _FRACTION.search(bare):
        return NumberLook("fraction")
    if len(bare) > 1 and set(bare) == {"0"}:
        return NumberLook(zeros=len(bare))
    return PLAIN


def _shared_texts(package: Package, part: str) -> tuple[str, ...]:
    texts: list[str] = []
    pieces: list[str] = []
    state = {"reading": False, "phonetic": False}

    def start(element: str, _attributes: dict[str, str]) -> None:
        if element == "si":
            pieces.clear()
        elif element == "rPh":
            state["phonetic"] = True
        elif element == "t":
            state["reading"] = not state["phonetic"]

    def end(element: str) -> None:
        if element == "si":
            texts.append(unescaped("".join(pieces)))
            if len(texts) > _MOST_SHARED_TEXTS:
                raise InvalidInput(
                    f"{package.name} holds more than {_MOST_SHARED_TEXTS:,} texts; save only the "
                    "sheet with the table as CSV."
                )
        elif element == "rPh":
            state["phonetic"] = False
        elif element == "t":
            state["reading"] = False

    def text(data: str) -> None:
        if state["reading"]:
            pieces.append(data)

    package.parse(part, start, end, text)
    return tuple(texts)
