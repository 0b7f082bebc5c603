"""What the bytes of a photo are, without decoding them: its kind, its size, how it was held.

JPEG, PNG and GIF are copied part by part, so that only what draws the picture reaches the decoder:
no maker's notes, no second picture, no text. EXIF is read here and no further than the two facts
that matter. The layouts are those of JPEG (ITU-T T.81), EXIF 2.3, PNG, GIF89a and WebP (RFC 9649);
marker and tag numbers from memory.
"""

from __future__ import annotations

import re
import struct
from dataclasses import dataclass
from datetime import datetime

from coretrack.errors import InvalidInput

JPEG, PNG, GIF, WEBP, BMP = "JPEG", "PNG", "GIF", "WebP", "BMP"
MOST_MEGAPIXELS = 40
MOST_PIXELS = MOST_MEGAPIXELS * 1_000_000
MOST_SCANS = 100
"""Passes over one JPEG: a progressive photo has about ten; thousands would only keep us busy."""

_AGAIN = "Take a photo, or choose a JPEG or PNG picture."
_TO_JPEG = "Set the phone camera to JPEG (most compatible) and take the photo again."
_SAVE_AS_JPEG = "Save it as JPEG and choose that file."
_FILM = "Take a still photo instead."
_PHONE_PICTURES = (b"heic", b"heix", b"heim", b"heis", b"hevc", b"hevx", b"mif1", b"msf1", b"avif")
_FOREIGN = (
    (b"%PDF-", "a PDF document", _AGAIN),
    (b"II*\x00", "a TIFF or camera raw picture", _SAVE_AS_JPEG),
    (b"MM\x00*", "a TIFF or camera raw picture", _SAVE_AS_JPEG),
    (b"\xff\x0a", "a JPEG XL picture", _SAVE_AS_JPEG),
    (b"\x00\x00\x00\x0cJXL ", "a JPEG XL picture", _SAVE_AS_JPEG),
    (b"8BPS", "a layered picture of a drawing program", _SAVE_AS_JPEG),
    (b"PK\x03\x04", "a zip archive, a workbook or a document", _AGAIN),
    (b"\xd0\xcf\x11\xe0", "an old office document", _AGAIN),
    (b"\x1aE\xdf\xa3", "a film", _FILM),
)


@dataclass(frozen=True)
class Carried:
    """What is handed to the decoder: `kind`, the bytes, and the EXIF block that was taken out."""

    kind: str
    content: bytes
    exif: bytes = b""


@dataclass(frozen=True)
class Held:
    """How a photo was held and when: EXIF orientation 1 to 8, and the camera's clock or "".

    `taken` is local time as the camera's clock said it, like 2025-03-04T10:15:30.
    """

    orientation: int = 1
    taken: str = ""


def damaged() -> InvalidInput:
    """Return the refusal of a photo whose bytes end early or make no sense."""
    return InvalidInput("The photo is cut off or damaged. Take it again, or send it again.")


def check_size(width: int, height: int) -> None:
    """InvalidInput for a picture of no pixels, or of more than are ever decoded."""
    if width < 1 or height < 1:
        raise damaged()
    if width * height > MOST_PIXELS:
        raise InvalidInput(
            f"The photo has {width * height / 1_000_000:.1f} megapixels ({width} × {height}); at "
            f"most {MOST_MEGAPIXELS} are taken. Set the phone camera to a smaller picture "
            "(12 megapixels are plenty) and take it again."
        )


def carried(content: bytes) -> Carried:
    """Return what of `content` draws the picture; InvalidInput says what it is if not a photo."""
    if not content:
        raise InvalidInput(f"The photo is empty: the file holds no bytes. {_AGAIN}")
    if content.startswith(b"\xff\xd8\xff"):
        return _jpeg(content)
    if content.startswith(b"\x89PNG\r\n\x1a\n"):
        return _png(content)
    if content.startswith((b"GIF87a", b"GIF89a")):
        check_size(*_gif_extent(content))
        return Carried(GIF, content)
    if content[:4] == b"RIFF" and content[8:12] == b"WEBP":
        check_size(*_webp_size(content))
        return Carried(WEBP, content)
    if content.startswith(b"BM"):
        return Carried(BMP, content)
    what, instead = _foreign(content)
    raise InvalidInput(f"This is {what}, which is not read as a photo here. {instead}")


def _foreign(content: bytes) -> tuple[str, str]:
    """Return what a file that is no photo looks like, and what to do instead."""
    for mark, what, instead in _FOREIGN:
        if content.startswith(mark):
            return what, instead
    if content[4:8] == b"ftyp":
        brand = content[8:12]
        if brand in _PHONE_PICTURES:
            return f"a picture in a newer phone format ({_format_name(brand)})", _TO_JPEG
        return "a film", _FILM
    start = content[:1024].lstrip(b"\xef\xbb\xbf \t\r\n")
    if start.startswith(b"<"):
        return ("a drawing (SVG)" if b"<svg" in start else "a web page or XML file"), _AGAIN
    if not re.search(rb"[\x00-\x08\x0e-\x1a\x7f]", content[:1024]):
        return "a text", _AGAIN
    return "no picture of a known kind", _AGAIN


def _format_name(brand: bytes) -> str:
    return "AVIF" if brand == b"avif" else "HEIC"


def _jpeg(content: bytes) -> Carried:
    """Copy a JPEG but for its notes; the colour profile stays until the colours are converted."""
    kept, exif, at = [content[:2]], b"", 2
    while (at := content.find(b"\xff", at)) >= 0 and at + 4 <= len(content):
        marker = content[at + 1]
        if marker == 0xFF:
            at += 1
            continue
        if marker in (0x00, 0x01) or 0xD0 <= marker <= 0xD8:
            at += 2
            continue
        if marker == 0xDA:
            _check_scans(content, at)
            return Carried(JPEG, b"".join((*kept, content[at:])), exif)
        end = at + 2 + int.from_bytes(content[at + 2 : at + 4], "big")
        segment = content[at:end]
        if marker == 0xE1 and segment[4:10] == b"Exif\x00\x00":
            exif = exif or segment[10:]
        if _draws_jpeg(marker, segment):
            kept.append(segment)
        at = max(end, at + 4)
    raise damaged()


def _draws_jpeg(marker: int, segment: bytes) -> bool:
    """True for tables and frames, and the three notes (JFIF, Adobe, ICC) that tell colours."""
    if marker == 0xE2:
        return segment[4:16] == b"ICC_PROFILE\x00"
    return marker in (0xE0, 0xEE) or not (0xE0 <= marker <= 0xEF or marker == 0xFE)


def _check_scans(content: bytes, first: int) -> None:
    end = content.find(b"\xff\xd9", first)
    if content.count(b"\xff\xda", first, end if end >= 0 else len(content)) > MOST_SCANS:
        raise damaged()


_DRAWING_CHUNKS = (b"IHDR", b"PLTE", b"tRNS", b"iCCP", b"IDAT", b"IEND")


def _png(content: bytes) -> Carried:
    """Copy a PNG but for its notes and the further frames of an animated one."""
    kept, exif, at = [content[:8]], b"", 8
    while at + 8 <= len(content):
        length = int.from_bytes(content[at : at + 4], "big")
        name, end = content[at + 4 : at + 8], at + 12 + length
        if name in _DRAWING_CHUNKS:
            kept.append(content[at:end])
        elif name == b"eXIf":
            exif = content[at + 8 : end - 4]
        at = end
    return Carried(PNG, b"".join(kept), exif)


def _gif_extent(content: bytes) -> tuple[int, int]:
    """Return the pixels that the screen and the first frame of a GIF span."""
    if len(content) < 13:
        raise damaged()
    width, height, flags = struct.unpack_from("<HHB", content, 6)
    at = 13 + _gif_colours(flags)
    while content[at : at + 1] == b"!":
        at += 2
        while at < len(content) and content[at]:
            at += 1 + content[at]
        at += 1
    if content[at : at + 1] != b"," or at + 10 > len(content):
        raise damaged()
    left, top, across, down = struct.unpack_from("<HHHH", content, at + 1)
    return max(width, left + across), max(height, top + down)


def _gif_colours(flags: int) -> int:
    return 3 << (flags & 7) + 1 if flags & 0x80 else 0


def _webp_size(content: bytes) -> tuple[int, int]:
    """Return width and height as the first part of a WebP states them."""
    kind = content[12:16]
    if len(content) < 30:
        raise damaged()
    if kind == b"VP8X":
        return (
            1 + int.from_bytes(content[24:27], "little"),
            1 + int.from_bytes(content[27:30], "little"),
        )
    if kind == b"VP8L":
        bits = int.from_bytes(content[21:25], "little")
        return 1 + (bits & 0x3FFF), 1 + (bits >> 14 & 0x3FFF)
    if kind == b"VP8 ":
        width, height = struct.unpack_from("<HH", content, 26)
        return width & 0x3FFF, height & 0x3FFF
    raise damaged()


_ORIENTATION, _CHANGED, _DETAILS, _TAKEN = 0x0112, 0x0132, 0x8769, 0x9003
_CLOCK = re.compile(rb"(\d{4}):(\d\d):(\d\d) (\d\d):(\d\d):(\d\d)")


def held(exif: bytes) -> Held:
    """Return what an EXIF block says of the camera; what cannot be read counts as not said."""
    block = exif.removeprefix(b"Exif\x00\x00")
    order = {b"II": "<", b"MM": ">"}.get(block[:2])
    if order is None or len(block) < 8:
        return Held()
    first = _entries(block, order, int(struct.unpack_from(f"{order}I", block, 4)[0]))
    details = _entries(block, order, _whole(first.get(_DETAILS, b""), order))
    orientation = _whole(first.get(_ORIENTATION, b""), order)
    said = details.get(_TAKEN) or first.get(_CHANGED) or b""
    at = _whole(said, order)
    return Held(
        orientation if 1 <= orientation <= 8 else 1,
        _clock(block[at : at + 19]),
    )


def _entries(block: bytes, order: str, at: int) -> dict[int, bytes]:
    """Return type and value field of each entry of the EXIF directory at `at`, by its tag."""
    if not 8 <= at <= len(block) - 2:
        return {}
    (count,) = struct.unpack_from(f"{order}H", block, at)
    starts = range(at + 2, min(at + 2 + 12 * count, len(block) - 11), 12)
    entries: dict[int, bytes] = {}
    for start in starts:
        (tag,) = struct.unpack_from(f"{order}H", block, start)
        entries.setdefault(tag, block[start + 2 : start + 4] + block[start + 8 : start + 12])
    return entries


def _whole(entry: bytes, order: str) -> int:
    """Return the number (short or long) or the place of a longer value that an entry states."""
    if len(entry) != 6:
        return 0
    (kind,) = struct.unpack_from(f"{order}H", entry)
    return int(struct.unpack_from(f"{order}H" if kind == 3 else f"{order}I", entry, 2)[0])


def _clock(text: bytes) -> str:
    """Return the camera's clock as ISO text, or "" when it was never set."""
    found = _CLOCK.fullmatch(text)
    if found is None:
        return ""
    year, month, day, hour, minute, second = (part.decode() for part in found.groups())
    said = f"{year}-{month}-{day}T{hour}:{minute}:{second}"
    try:
        datetime.fromisoformat(said)
    except ValueError:
        return ""
    return said
