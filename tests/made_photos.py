"""Synthetic phone photos: a label or code lying on a noisy bench top, as a JPEG with EXIF."""

from __future__ import annotations

import random
from dataclasses import dataclass
from io import BytesIO

import numpy as np
import zxingcpp
from PIL import Image, ImageFilter
from PIL.Image import Resampling, Transform

HELD_TURNED = 6
"""The EXIF orientation of a phone held upright: the stored picture lies on its side."""

_STORED = {
    1: None,
    2: Image.Transpose.FLIP_LEFT_RIGHT,
    3: Image.Transpose.ROTATE_180,
    4: Image.Transpose.FLIP_TOP_BOTTOM,
    5: Image.Transpose.TRANSPOSE,
    6: Image.Transpose.ROTATE_90,
    7: Image.Transpose.TRANSVERSE,
    8: Image.Transpose.ROTATE_270,
}
"""How a phone stores an upright picture for each orientation it then writes beside it."""


@dataclass(frozen=True)
class Shot:
    """How a code was photographed: degrees turned, skew and width of its paper, blur in pixels."""

    degrees: float = 0
    skewed: bool = False
    width: int = 1500
    blur: float = 1.2
    middle: tuple[float, float] = (0.5, 0.5)


def bench_top(width: int = 3000, height: int = 4000, seed: int = 7) -> Image.Image:
    """Return a background of scratched steel: patches of light, streaks and sensor noise."""
    numbers = np.random.default_rng(seed)
    patches = Image.fromarray(numbers.integers(60, 170, (24, 18), dtype=np.uint8))
    streaks = Image.fromarray(numbers.integers(0, 60, (height // 8, 12), dtype=np.uint8))
    base = np.asarray(patches.resize((width, height), Resampling.BICUBIC), dtype=np.int16)
    base = base + np.asarray(streaks.resize((width, height), Resampling.BILINEAR))
    noise = numbers.normal(0, 12, (height, width)).astype(np.int16)
    grey = np.clip(base + noise - 20, 0, 255)
    colours = np.stack((grey, grey * 0.97, grey * 0.9), axis=-1).astype(np.uint8)
    return Image.fromarray(colours)


def laid(background: Image.Image, paper: Image.Image, shot: Shot) -> Image.Image:
    """Return `background` with `paper` (white, black bars) lying on it as `shot` tells."""
    height = round(paper.height * shot.width / paper.width)
    paper = paper.convert("L").resize((shot.width, height), Resampling.LANCZOS)
    # Paper in shop light is neither white nor black.
    paper = paper.point(lambda grey: 45 + grey * 0.72)
    cover = Image.new("L", paper.size, 255)
    if shot.skewed:
        paper, cover = _seen_aslant(paper), _seen_aslant(cover)
    paper, cover = (
        each.rotate(shot.degrees, Resampling.BICUBIC, expand=True) for each in (paper, cover)
    )
    corner = (
        round(background.width * shot.middle[0] - paper.width / 2),
        round(background.height * shot.middle[1] - paper.height / 2),
    )
    photo = background.copy()
    photo.paste(Image.merge("RGB", (paper,) * 3), corner, cover)
    return photo.filter(ImageFilter.GaussianBlur(shot.blur))


def _seen_aslant(paper: Image.Image) -> Image.Image:
    """Return `paper` as seen from its left front: right and top edges are further away."""
    width, height = paper.size
    near, far = (0.0, 0.06 * height), (0.92 * width, 0.0)
    corners = (near, (0.04 * width, height * 1.0), (1.0 * width, 0.9 * height), far)
    return paper.transform(
        (width, height), Transform.PERSPECTIVE, _perspective(corners, width, height), 3
    )


def _perspective(
    corners: tuple[tuple[float, float], ...], width: int, height: int
) -> tuple[float, ...]:
    """Return the coefficients that put a picture's corners (left top, then downwards) there."""
    origin = ((0, 0), (0, height), (width, height), (width, 0))
    rows, wanted = [], []
    for (x, y), (u, v) in zip(corners, origin, strict=True):
        rows.append([x, y, 1, 0, 0, 0, -u * x, -u * y])
        rows.append([0, 0, 0, x, y, 1, -v * x, -v * y])
        wanted += [u, v]
    return tuple(float(each) for each in np.linalg.solve(np.array(rows), np.array(wanted)))


def phone_jpeg(
    upright: Image.Image,
    orientation: int = HELD_TURNED,
    quality: int = 60,
    taken: str = "2025:03:04 10:15:30",
) -> bytes:
    """Return what a phone would store: turned, with EXIF that tells place, camera and clock."""
    turn = _STORED[orientation]
    stored = upright if turn is None else upright.transpose(turn)
    exif = Image.Exif()
    exif[0x0112] = orientation
    exif[0x010F] = "Invented Camera Works"
    exif.get_ifd(0x8769)[0x9003] = taken
    gps = exif.get_ifd(0x8825)
    gps[1], gps[2], gps[3], gps[4] = "N", (48.0, 12.0, 30.5), "E", (11.0, 34.0, 12.25)
    buffer = BytesIO()
    stored.save(buffer, "JPEG", quality=quality, exif=exif, comment=b"kept in the left-hand drawer")
    return buffer.getvalue()


def symbol(text: str, kind: zxingcpp.BarcodeFormat, *, gs1: bool = False) -> Image.Image:
    """Return a symbol with quiet zones, four dots a module; GS1 data stands in brackets."""
    made = zxingcpp.create_barcode(text, kind, **({"gs1": True} if gs1 else {}))
    return Image.fromarray(np.array(zxingcpp.write_barcode_to_image(made, scale=4)))


def noise(seed: int, size: tuple[int, int]) -> Image.Image:
    """Return a colour picture of nothing but noise, which no JPEG makes small."""
    numbers = random.Random(seed)
    return Image.frombytes("RGB", size, numbers.randbytes(size[0] * size[1] * 3))
