"""Bar codes and matrix codes read from a photo: every one that is found, never a silent choice.

The whole picture first; only where that shows nothing, the picture again with more contrast,
enlarged, and turned for bars that lie slantwise.
"""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass, replace
from itertools import pairwise
from typing import TYPE_CHECKING

from PIL import ImageOps
from PIL.Image import Resampling

from coretrack.figures.scan_text import printable, symbology_name
from coretrack.paper.photos import upright

if TYPE_CHECKING:
    from PIL.Image import Image
    from zxingcpp import Barcode

_MARK_LENGTH = 3
_BAR_FORMATS = "Code128,Code39,EAN13,EAN8,UPCA"
_FORMATS = f"{_BAR_FORMATS},DataMatrix,QRCode,MicroQRCode,PDF417,Aztec"
"""What stands on cores, their boxes and papers. Symbols without a check of their own that a
textured casting can pass for (Interleaved 2 of 5, Codabar, UPC-E) are not looked for."""

_BARS = ("]A", "]C", "]E")
"""Marks of the symbols that are rows of bars: Code 39, Code 128, EAN and UPC."""

_SHORTEST_UNCHECKED = 4
"""Signs of a Code 39 that is believed: it need not have a check character."""

_MOST_PIXELS = 16_000_000
_CLEAR_PIXELS = 3_000_000
_TURNED_PIXELS = 4_000_000
_SLANTS = (30, 60, 15, 45, 75)
"""Degrees, in the order tried. Bars of usual height are found within some 15 degrees of upright
and lying, low ones within ten; matrix codes are found however they lie."""

_FINE = 1200
_COARSER, _FINER = (0.5, 0.75), (1.5, 2.0)
"""How bars are scaled for a second reading, by whether they span more than so many pixels."""


@dataclass(frozen=True)
class Place:
    """Where in the upright photo a code is, from 0 (left, top) to 1 (right, bottom).

    Of bars it is the strip that was read, which may be lower than the bars are.
    """

    left: float
    top: float
    right: float
    bottom: float


@dataclass(frozen=True)
class FoundCode:
    """A code in a photo.

    `text` is what a scanner would send: the mark of ISO/IEC 15424 (]C1, ]d2 …), then the data with
    its separators (1D), so that `scan_reading.read_scan` understands it. `symbology` is the name.
    """

    text: str
    symbology: str
    place: Place

    @property
    def data(self) -> str:
        """The data alone, without the mark in front."""
        return self.text[_MARK_LENGTH:]

    @property
    def shown(self) -> str:
        """The data for a person: a blank for each sign that cannot be shown."""
        return printable(self.data)


@dataclass(frozen=True)
class _View:
    """A picture made from the photo by enlarging it `scale` times and turning it by `degrees`."""

    picture: Image
    photo: tuple[int, int]
    scale: float = 1.0
    degrees: int = 0
    formats: str = _FORMATS

    def in_photo(self, x: float, y: float) -> tuple[float, float]:
        """Return the photo's pixel behind a pixel of this view."""
        right, down = x - self.picture.width / 2, y - self.picture.height / 2
        angle = math.radians(self.degrees)
        across = right * math.cos(angle) - down * math.sin(angle)
        along = right * math.sin(angle) + down * math.cos(angle)
        return self.photo[0] / 2 + across / self.scale, self.photo[1] / 2 + along / self.scale


@dataclass(frozen=True)
class _Seen:
    """A code, its corners in the view, and how much it stands out in the photo.

    `weight` is its longest edge in pixels, less towards the rim.
    """

    code: FoundCode
    corners: tuple[tuple[float, float], ...]
    weight: float


def codes_in(content: bytes) -> tuple[FoundCode, ...]:
    """Return all codes in a photo, the largest and most central first; () when there is none.

    The same text in the same symbology counts once. Raises InvalidInput like `clean_photo`.
    """
    picture, _ = upright(content, grey=True)
    for view in _views(picture):
        seen = [_seen(each, view) for each in _read(view.picture, view.formats)]
        if seen:
            return _in_order([_read_again(each, view) for each in seen])
    return ()


def _in_order(seen: list[_Seen]) -> tuple[FoundCode, ...]:
    first: dict[str, FoundCode] = {}
    for each in sorted(seen, key=lambda one: (-one.weight, one.code.text)):
        first.setdefault(each.code.text, each.code)
    return tuple(first.values())


def _views(picture: Image) -> Iterator[_View]:
    """Yield the pictures to look at, one after the other, each of bounded size."""
    yield _scaled(picture, min(1.0, _scale_to(picture, _MOST_PIXELS)))
    clear = _scaled(picture, min(2.0, _scale_to(picture, _CLEAR_PIXELS)))
    yield replace(clear, picture=ImageOps.autocontrast(clear.picture, cutoff=2))
    finer = _scaled(picture, min(2.0, _scale_to(picture, _TURNED_PIXELS)))
    contrast = ImageOps.autocontrast(finer.picture, cutoff=2)
    for degrees in _SLANTS:
        turned = contrast.rotate(degrees, Resampling.BILINEAR, expand=True, fillcolor=255)
        yield replace(finer, picture=turned, degrees=degrees, formats=_BAR_FORMATS)


def _scale_to(picture: Image, pixels: int) -> float:
    return math.sqrt(pixels / (picture.width * picture.height))


def _scaled(picture: Image, scale: float) -> _View:
    if scale == 1.0:
        return _View(picture, picture.size)
    width, height = (max(1, round(side * scale)) for side in picture.size)
    return _View(picture.resize((width, height), Resampling.BICUBIC), picture.size, scale)


def _read(picture: Image, formats: str) -> list[Barcode]:
    # Loaded here: only who reads a photo waits for the reader.
    import zxingcpp

    found = zxingcpp.read_barcodes(
        picture,
        formats=zxingcpp.barcode_formats_from_str(formats),
        text_mode=zxingcpp.TextMode.Plain,
    )
    return [each for each in found if _believed(each)]


def _believed(found: Barcode) -> bool:
    if found.symbology_identifier.startswith("]A"):
        return len(found.text) >= _SHORTEST_UNCHECKED
    return bool(found.text)


def _seen(found: Barcode, view: _View) -> _Seen:
    spot = found.position
    corners = tuple(
        (corner.x, corner.y)
        for corner in (spot.top_left, spot.top_right, spot.bottom_right, spot.bottom_left)
    )
    inside = [view.in_photo(*corner) for corner in corners]
    width, height = view.photo
    across = [min(1.0, max(0.0, x / width)) for x, _ in inside]
    down = [min(1.0, max(0.0, y / height)) for _, y in inside]
    place = Place(min(across), min(down), max(across), max(down))
    middle = ((place.left + place.right) / 2, (place.top + place.bottom) / 2)
    edge = max(math.dist(*pair) for pair in pairwise(inside))
    mark = found.symbology_identifier
    code = FoundCode(mark + found.text, symbology_name(mark), place)
    return _Seen(code, corners, edge * (1 - math.dist(middle, (0.5, 0.5))))


def _read_again(seen: _Seen, view: _View) -> _Seen:
    """Return `seen` with the text that most readings of the same bars agree on.

    Bars of few pixels are now and then taken for other digits whose check happens to fit. Another
    text replaces the first only when it was read more often; matrix codes correct themselves.
    """
    if not seen.code.text.startswith(_BARS):
        return seen
    readings = Counter({seen.code.text: 1})
    strip = view.picture.crop(_around(seen.corners, view.picture.size))
    long = max(strip.size) > _FINE
    for scale in _COARSER if long else _FINER:
        again = _read(_scaled(strip, scale).picture, _BAR_FORMATS)
        readings.update({each.symbology_identifier + each.text for each in again})
    [(text, times)] = readings.most_common(1)
    if times == readings[seen.code.text]:
        return seen
    symbology = symbology_name(text[:_MARK_LENGTH])
    return replace(seen, code=replace(seen.code, text=text, symbology=symbology))


def _around(
    corners: tuple[tuple[float, float], ...], size: tuple[int, int]
) -> tuple[int, int, int, int]:
    """Return the box round a strip of bars: room for its quiet zones, none for other codes."""
    (left, top), (right, bottom) = corners[:2]
    side, end = 0.15 * abs(right - left), 0.15 * abs(bottom - top)
    seam = 0.03 * math.dist(*corners[:2])
    across, down = [x for x, _ in corners], [y for _, y in corners]
    return (
        max(0, round(min(across) - side - seam)),
        max(0, round(min(down) - end - seam)),
        min(size[0], round(max(across) + side + seam) + 1),
        min(size[1], round(max(down) + end + seam) + 1),
    )
