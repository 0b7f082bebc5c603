"""Prints label papers to pictures and reads them with a reader that is not the encoder's."""

from __future__ import annotations

import subprocess
from io import BytesIO
from pathlib import Path
from tempfile import TemporaryDirectory

import zxingcpp
from PIL import Image
from stdnum.iso7064 import mod_97_10
from tools import needs_tool

from coretrack.figures.labels import Label


def tag(serial: int, site: int = 1) -> str:
    """Return a valid core tag: site digit, seven-digit serial, two check digits."""
    payload = f"{site}{serial:07d}"
    return payload + mod_97_10.calc_check_digits(payload)


def tag_label(serial: int) -> Label:
    """Return a core's label with two small lines."""
    text = tag(serial)
    shown = f"{text[:4]} {text[4:8]} {text[8:]}"
    return Label(text, shown, ("INJ-17 body · 7731-120", "2025-03-04 · Kessel Yard"))


def printed_pages(pdf: bytes, dpi: float, *, touched: bool) -> list[Image.Image]:
    """Return a PDF's pages as a printer's dots.

    `touched` blackens every dot that a bar touches, as some drivers do; else edges are greyed.
    """
    with TemporaryDirectory() as folder:
        source = Path(folder, "labels.pdf")
        source.write_bytes(pdf)
        edges = ["-aaVector", "no", "-aa", "no"] if touched else []
        subprocess.run(
            [needs_tool("pdftoppm"), "-gray", "-r", str(dpi), *edges, source, Path(folder, "page")],
            check=True,
        )
        return [_loaded(path) for path in sorted(Path(folder).glob("page*.pgm"))]


def read_middles(picture: Image.Image, dpi: float) -> list[tuple[str, float, float]]:
    """Return each Code 128 symbol's text and the middle of its bars, in mm right and down."""
    found = zxingcpp.read_barcodes(picture, formats=zxingcpp.BarcodeFormat.Code128)
    middles = []
    for each in found:
        corners = (each.position.top_left, each.position.bottom_right)
        across = sum(corner.x for corner in corners) / 2 * 25.4 / dpi
        down = sum(corner.y for corner in corners) / 2 * 25.4 / dpi
        middles.append((each.text, across, down))
    return middles


def read_all(picture: Image.Image) -> list[str]:
    """Return the texts of all Code 128 symbols in a picture, sorted."""
    return sorted(text for text, _, _ in read_middles(picture, 203))


def read_png(data: bytes) -> list[str]:
    """Return the texts of all symbols in a PNG."""
    return read_all(Image.open(BytesIO(data)).convert("L"))


def bar_runs(picture: Image.Image) -> list[int]:
    """Return the widths in dots of white and black runs across the first row that has a bar.

    The first and the last run are the white margins.
    """
    box = picture.point(lambda grey: 255 if grey < 128 else 0).getbbox()
    assert box is not None, "the picture is blank"
    # Two dots down: an upper edge between two dots may be grey.
    row = picture.crop((0, box[1] + 2, picture.width, box[1] + 3))
    runs = [0]
    white = True
    for grey in row.tobytes():
        if (grey >= 128) is not white:
            runs.append(0)
            white = not white
        runs[-1] += 1
    return runs


def _loaded(path: Path) -> Image.Image:
    """Return a picture that no longer needs its file."""
    with Image.open(path) as picture:
        return picture.copy()
