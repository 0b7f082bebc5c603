"""Tells what a file really is from its first bytes; the name only appears in messages."""

from __future__ import annotations

import io
import re
import zipfile

from coretrack.errors import InvalidInput

MOST_MEGABYTES = 50
MOST_BYTES = MOST_MEGABYTES * 1024 * 1024
MOST_PART_BYTES = 200 * 1024 * 1024
MOST_UNPACKED_BYTES = 500 * 1024 * 1024
MOST_PARTS = 20_000

WORKBOOK = "xlsx"
TEXT_TABLE = "csv"

SAVE_AS = "save as .xlsx or CSV and try again"
_INTO_SHEET = f"put the table into a spreadsheet, {SAVE_AS}"

_COMPOUND = b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1"
_MARKS: tuple[tuple[bytes, str], ...] = (
    (b"\x89PNG", "a PNG picture"),
    (b"\xff\xd8\xff", "a JPEG picture"),
    (b"GIF8", "a GIF picture"),
    (b"II*\x00", "a TIFF picture"),
    (b"MM\x00*", "a TIFF picture"),
    (b"\x1f\x8b", "a gzip archive"),
    (b"7z\xbc\xaf\x27\x1c", "a 7z archive"),
    (b"Rar!\x1a\x07", "a rar archive"),
    (b"\xfd7zXZ\x00", "an xz archive"),
    (b"{\\rtf", "a rich text document"),
    (b"SQLite format 3\x00", "an SQLite database"),
    (b"\x09\x08\x10\x00", "an old binary Excel workbook (.xls)"),
    (b"\x09\x04\x06\x00", "an old binary Excel workbook (.xls)"),
    (b"\x09\x02\x06\x00", "an old binary Excel workbook (.xls)"),
    (b"\x09\x00\x04\x00", "an old binary Excel workbook (.xls)"),
)
_JSON = re.compile(r'(?:\{\s*(?:"[^"]*"\s*:|\}\s*\Z)|\[\s*(?:[\[{"\]]|-?\d[\d.]*\s*[,\]]))')
_SYLK = re.compile(r"id;p\w*(?:;[^\n]*)?\r?\n[a-z];")
_DIF = re.compile(r"table\r?\n0,1\r?\n")
_BYTE_ORDER_MARKS = (
    (b"\xef\xbb\xbf", "utf-8"),
    (b"\xff\xfe\x00\x00", "utf-32-le"),
    (b"\x00\x00\xfe\xff", "utf-32-be"),
    (b"\xff\xfe", "utf-16-le"),
    (b"\xfe\xff", "utf-16-be"),
)


def refuse(name: str, what: str, instead: str = SAVE_AS) -> InvalidInput:
    """Return the error for a file that is `what` and cannot be read as a table."""
    return InvalidInput(f"{name} is {what}; {instead}.")


def byte_order_mark(content: bytes) -> tuple[int, str] | None:
    """Return the length of a leading byte-order mark and the encoding it announces."""
    for mark, encoding in _BYTE_ORDER_MARKS:
        if content.startswith(mark):
            return len(mark), encoding
    return None


def kind_of(name: str, content: bytes) -> str:
    """Return "xlsx" or "csv" by what the bytes are; InvalidInput names any other kind."""
    if len(content) > MOST_BYTES:
        size = len(content) / (1024 * 1024)
        raise InvalidInput(
            f"{name} is {size:.0f} MB; at most {MOST_MEGABYTES} MB are read. "
            "Split it into smaller files, or take out columns and sheets that are not needed."
        )
    if not content.strip():
        raise InvalidInput(f"{name} is empty; choose the file with the table in it.")
    if content.startswith(_COMPOUND):
        raise refuse(name, *_compound_kind(content))
    if content.startswith((b"PK\x03\x04", b"PK\x05\x06")):
        return _zip_kind(name, content)
    what = _foreign_kind(content) or _markup_kind(content)
    if what:
        raise refuse(name, what)
    return TEXT_TABLE


def _compound_kind(content: bytes) -> tuple[str, str]:
    def holds(entry: str) -> bool:
        return entry.encode("utf-16-le") in content

    if holds("EncryptedPackage"):
        return "a workbook locked with a password", f"take the password off, {SAVE_AS}"
    if holds("Workbook") or holds("Book"):
        return "an old binary Excel workbook (.xls)", SAVE_AS
    if holds("WordDocument"):
        return "an old text document (.doc)", _INTO_SHEET
    return "an old office document", SAVE_AS


def _zip_kind(name: str, content: bytes) -> str:
    try:
        with zipfile.ZipFile(io.BytesIO(content)) as archive:
            parts = {part.filename.lower() for part in archive.infolist()[:MOST_PARTS]}
            is_open_document = "mimetype" in parts and "content.xml" in parts
    except (zipfile.BadZipFile, ValueError, OSError, NotImplementedError) as error:
        raise refuse(name, "a damaged or cut-off workbook or zip archive") from error
    if is_open_document:
        raise InvalidInput(f"{name}: OpenDocument is not read here, save as .xlsx or CSV.")
    if any(part.startswith("index/") and part.endswith(".iwa") for part in parts):
        raise refuse(name, "a tablet or Mac spreadsheet of another format (.numbers)")
    if "xl/workbook.bin" in parts:
        raise refuse(name, "a binary Excel workbook (.xlsb)")
    if "[content_types].xml" in parts and any(p.startswith("xl/") for p in parts):
        return WORKBOOK
    if any(part.startswith("word/") for part in parts):
        raise refuse(name, "a text document (.docx)", _INTO_SHEET)
    if any(part.startswith("ppt/") for part in parts):
        raise refuse(name, "a presentation (.pptx)", _INTO_SHEET)
    raise refuse(name, "a zip archive", f"unpack it and choose the table inside, or {SAVE_AS}")


def _foreign_kind(content: bytes) -> str | None:
    for mark, what in _MARKS:
        if content.startswith(mark):
            return what
    if b"%PDF-" in content[:1024]:
        return "a PDF document"
    if content[:4] == b"RIFF" and content[8:12] == b"WEBP":
        return "a WebP picture"
    if content[4:8] == b"ftyp":
        return "a photo or film (HEIC, MP4)"
    if content[:2] == b"BM" and int.from_bytes(content[2:6], "little") == len(content):
        return "a BMP picture"
    return None


def _markup_kind(content: bytes) -> str | None:
    mark = byte_order_mark(content)
    start, encoding = mark or (0, "latin-1")
    head = content[start : start + 4096].decode(encoding, errors="ignore").lstrip().casefold()
    if head.startswith(("<!doctype html", "<html", "<table", "<head", "<body", "<meta", "<div")):
        return "a web page (an HTML table), not a workbook"
    if head.startswith(("<?xml", "<workbook", "<!--")):
        if "<html" in head:
            return "a web page (an HTML table), not a workbook"
        if "office:spreadsheet" in head:
            return "an XML spreadsheet of the old kind (2003)"
        if "opendocument.spreadsheet" in head:
            return "a flat OpenDocument spreadsheet (.fods)"
        return "an XML document"
    if _JSON.match(head):
        return "a JSON document"
    if _SYLK.match(head):
        return "a spreadsheet in the old SYLK format (.slk)"
    if _DIF.match(head):
        return "a spreadsheet in the old DIF format (.dif)"
    if head.startswith("mime-version:"):
        return "a web page saved in one file (.mht), not a workbook"
    return None
