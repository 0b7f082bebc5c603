"""A strip of photos for a paper: upright, small, several a row, each with its time and words.

Photos are redrawn before they go out: a phone's photo is turned by a mark in its file that PDF
readers ignore, is larger than the paper shows, and may carry the place where it was taken.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from io import BytesIO

from PIL import Image, ImageOps

from coretrack.paper.charge_sheet import WIDTH
from coretrack.paper.drawing import Box, Words
from coretrack.paper.page_flow import Picture, Row, RowMark, lines_of, moment_shown, text_rows

A_ROW = 3
GAP = 10.0
CELL = (WIDTH - (A_ROW - 1) * GAP) / A_ROW
TALLEST = 112.0
CAPTION = 7.0
CAPTION_LINES = 5

# About 280 dots an inch at the width printed: a crack that the photo shows stays visible.
PIXELS = 640
QUALITY = 85


@dataclass(frozen=True)
class PaperPhoto:
    """A photo as JPEG bytes, the moment it was taken (aware, in the shop's zone), what it shows."""

    jpeg: bytes
    taken_at: datetime
    what: str = ""


@dataclass(frozen=True)
class UprightPhoto:
    """A photo as printed: JPEG bytes without any data about it, and its size in pixels."""

    jpeg: bytes
    width: int
    height: int


def photo_rows(photos: Sequence[PaperPhoto], why_none: str = "") -> list[Row]:
    """Return the strip; without photos the reason for that, or nothing where none is given.

    A photo that cannot be read leaves its place empty and says so: the paper still goes out.
    """
    if not photos:
        return text_rows(f"No photo: {why_none}") if why_none.strip() else []
    starts = range(0, len(photos), A_ROW)
    return [_strip(photos[start : start + A_ROW]) for start in starts]


def upright(jpeg: bytes) -> UprightPhoto | None:
    """Return the photo turned upright and at most `PIXELS` long, `None` if it cannot be read."""
    try:
        with Image.open(BytesIO(jpeg), formats=["JPEG"]) as opened:
            opened.draft("RGB", (PIXELS, PIXELS))
            image = ImageOps.exif_transpose(opened).convert("RGB")
    except (OSError, SyntaxError, ValueError, Image.DecompressionBombError):
        return None
    image.thumbnail((PIXELS, PIXELS))
    # Only the picture is copied: where and by which device it was taken stays in the shop.
    bare = Image.new("RGB", image.size)
    bare.paste(image)
    buffer = BytesIO()
    bare.save(buffer, "JPEG", quality=QUALITY)
    return UprightPhoto(buffer.getvalue(), *bare.size)


def _strip(photos: Sequence[PaperPhoto]) -> Row:
    marks: list[RowMark] = []
    cells: list[tuple[float, float, list[str]]] = []
    for place, photo in enumerate(photos):
        x = place * (CELL + GAP)
        picture, height = _placed(photo, x)
        marks.append(picture)
        if isinstance(picture, Box):
            note = "This photo cannot be read."
            marks.append(Words(x + CELL / 2, height / 2 + 3, note, "soft", "middle", size=8))
        cells.append((x, height, _caption(photo)))
    tallest = max(height for _, height, _ in cells)
    for x, _, caption in cells:
        for number, line in enumerate(caption, start=1):
            y = 4 + tallest + 2 + number * (CAPTION + 1.4)
            marks.append(Words(x, y, line, "soft", size=CAPTION))
    captions = max(len(caption) for _, _, caption in cells) * (CAPTION + 1.4)
    return Row(4 + tallest + captions + 8, tuple(marks))


def _placed(photo: PaperPhoto, x: float) -> tuple[Picture | Box, float]:
    """Return the photo, or an empty frame, and how tall it is."""
    drawn = upright(photo.jpeg)
    if drawn is None:
        return Box(x, 4, CELL, TALLEST / 2, "mid", hollow=True), TALLEST / 2
    scale = min(CELL / drawn.width, TALLEST / drawn.height)
    width, height = drawn.width * scale, drawn.height * scale
    return Picture(x, 4, width, height, drawn.jpeg), height


def _caption(photo: PaperPhoto) -> list[str]:
    words = ": ".join(part for part in (moment_shown(photo.taken_at), photo.what.strip()) if part)
    lines = lines_of(words, CELL, CAPTION)
    if len(lines) > CAPTION_LINES:
        lines = [*lines[: CAPTION_LINES - 1], f"{lines[CAPTION_LINES - 1][:-2].rstrip()} …"]
    return lines
