"""Type on labels: one typeface on every machine, its signs, and the size that fits.

The typeface (Vera) comes with reportlab on every system, so a PDF sheet and a roll printer's
picture show the same letters. Widths and lengths are in 1/10 000 mm, sizes in tenths of a point.
"""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import cache
from importlib.resources import files
from io import BytesIO

from PIL import ImageFont
from reportlab.pdfbase import pdfmetrics
from reportlab.pdfbase.ttfonts import TTFont

from coretrack.errors import InvalidInput
from coretrack.figures.labels import TENTHS_PER_INCH, UNITS_PER_INCH, in_mm
from coretrack.paper.barcodes import as_shown

ASCENT = 0.76
"""Height of the typeface's capitals and digits with their accents, as a share of its size."""

_FILES = {False: "Vera.ttf", True: "VeraBd.ttf"}
_STEP = 5

Measure = Callable[[str, int, bool], float]
"""Width in 1/10 000 mm of a text at a size in tenths of a point, bold or not."""


@dataclass(frozen=True)
class SetText:
    """One row of type that is known to fit its row."""

    text: str
    size: int
    bold: bool


@cache
def pdf_font(bold: bool) -> str:
    """Register the typeface with reportlab once and return the name to use in a PDF."""
    name = "LabelBold" if bold else "LabelPlain"
    pdfmetrics.registerFont(TTFont(name, BytesIO(_font_file(bold))))
    return name


@cache
def picture_font(bold: bool, size: int, dpi: int) -> ImageFont.FreeTypeFont:
    """Return the typeface for a picture of so many dots per inch."""
    return ImageFont.truetype(BytesIO(_font_file(bold)), size * dpi / TENTHS_PER_INCH)


def pdf_width(text: str, size: int, bold: bool) -> float:
    """Return the width of a text in a PDF."""
    points = pdfmetrics.stringWidth(text, pdf_font(bold), size / 10)
    return float(points) * UNITS_PER_INCH / 72


def picture_width(dpi: int) -> Measure:
    """Return a measure for pictures, whose letters sit on whole dots and run a little wider."""

    def measure(text: str, size: int, bold: bool) -> float:
        return picture_font(bold, size, dpi).getlength(text) * UNITS_PER_INCH / dpi

    return measure


def set_big_text(text: str, width: int, most: int, least: int, measure: Measure) -> SetText:
    """Return the big text of a label in one row, as large as fits, or refuse it.

    A sign that the typeface lacks is refused by name and place, for this text is read and typed.
    """
    if not text.strip():
        raise InvalidInput("The big text of a label is empty; it should show the tag or a name.")
    text = unicodedata.normalize("NFC", text)
    for place, sign in enumerate(text, start=1):
        if not _has_sign(sign):
            raise InvalidInput(
                f"{as_shown(text)} cannot be printed: sign {place} is "
                f"{unicodedata.name(sign, f'U+{ord(sign):04X}')}, which the label's type lacks. "
                "Use Latin letters, digits and keyboard signs."
            )
    for size in _sizes(most, least):
        if measure(text, size, True) <= width:
            return SetText(text, size, True)
    raise _too_wide(text, measure(text, least, True), width, least)


def set_shown(text: str, width: int, most: int, least: int, measure: Measure) -> list[SetText]:
    """Return the big text in one row, or in two of half the height where one is too narrow."""
    try:
        return [set_big_text(text, width, most, least, measure)]
    except InvalidInput as too_wide:
        half = most * 10 // 23
        if half < least or len(text) < 2:
            raise
        try:
            rows = [set_big_text(p, width, half, least, measure) for p in _halves(text)]
        except InvalidInput:
            raise too_wide from None
    size = min(row.size for row in rows)
    return [SetText(row.text, size, row.bold) for row in rows]


def _halves(text: str) -> tuple[str, str]:
    """Return a text in two parts, broken at the blank, dash or slash nearest to its middle."""
    middle = -(-len(text) // 2)
    quarter = len(text) // 4
    places = [
        found.end()
        for found in re.finditer(r"[\s/-]", text)
        if abs(found.end() - middle) <= quarter and found.end() < len(text)
    ]
    at = min(places, key=lambda place: abs(place - middle), default=middle)
    return text[:at].rstrip(), text[at:].lstrip()


def set_rows(
    lines: Sequence[str], rows: int, width: int, most: int, least: int, measure: Measure
) -> list[SetText]:
    """Return small lines set in at most `rows` rows, all of one size, or refuse them.

    Lines shrink first, then break at blanks and dashes; no line is cut short. Where there are more
    lines than the layout has rows, all stand one after another if they fit; else lines are left
    out from the last one on: put the one that matters most first. Signs that the typeface lacks
    lose their accent or become "?".
    """
    texts = [clean for line in lines if (clean := _with_known_signs(line))]
    attempts = [texts] if len(texts) <= rows else [[" · ".join(texts)], texts[:rows]]
    attempts += [texts[:number] for number in range(min(len(texts) - 1, rows), 0, -1)]
    for attempt in attempts:
        for size in _sizes(most, least):
            broken = [row for text in attempt for row in _broken(text, width, size, measure)]
            if len(broken) <= rows and all(measure(row, size, False) <= width for row in broken):
                return [SetText(row, size, False) for row in broken]
    widest = max(measure(row, least, False) for row in broken)
    if widest > width:
        raise _too_wide(max(attempt, key=len), widest, width, least)
    raise InvalidInput(
        f"{as_shown(' / '.join(attempt))} does not fit on the label: at {least / 10:g} pt, the "
        f"smallest size here, it takes {len(broken)} rows and there is room for {rows}. Shorten it "
        "or take a larger label."
    )


def _font_file(bold: bool) -> bytes:
    """Return the typeface's file as it ships inside reportlab."""
    return files("reportlab").joinpath("fonts", _FILES[bold]).read_bytes()


@cache
def _has_sign(sign: str) -> bool:
    """Return whether both weights of the typeface can show a sign."""
    return sign.isprintable() and all(
        ord(sign) in pdfmetrics.getFont(pdf_font(bold)).face.charToGlyph for bold in (False, True)
    )


def _with_known_signs(line: str) -> str:
    """Return a line on one row, with its unknown signs as their base letter or as "?"."""
    text = " ".join(unicodedata.normalize("NFC", line).split())
    return "".join(sign if _has_sign(sign) else _base_letter(sign) for sign in text)


def _base_letter(sign: str) -> str:
    """Return an accented letter without its accent, or "?"."""
    plain = unicodedata.normalize("NFKD", sign)[0]
    return plain if _has_sign(plain) else "?"


def _sizes(most: int, least: int) -> list[int]:
    """Return the type sizes to try, from the largest down in half points."""
    return [*range(most, least, -_STEP), least]


def _broken(text: str, width: int, size: int, measure: Measure) -> list[str]:
    """Return a text in rows no wider than `width` where blanks, dashes and slashes allow it."""
    rows = [""]
    for part in re.findall(r"[^\s/-]*[/-]+|[^\s/-]+\s*|\s+", text):
        if rows[-1] and measure((rows[-1] + part).rstrip(), size, False) > width:
            rows.append("")
        rows[-1] += part
    return [row.strip() for row in rows]


def _too_wide(text: str, wide: float, room: int, size: int) -> InvalidInput:
    """Return the refusal of a text that would have to be smaller than is legible."""
    return InvalidInput(
        f"{as_shown(text)} does not fit on the label: at {size / 10:g} pt, the smallest size here, "
        f"it is {in_mm(round(wide))} mm wide and there is room for {in_mm(room)} mm. Shorten it "
        "or take a wider label."
    )
