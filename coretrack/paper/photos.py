"""What happens to a photo before it is stored: upright, small, sRGB on white, and nothing else in.

Everything is computed from the bytes; no setting of the picture library is read or changed, so
several threads may do this at once.
"""

from __future__ import annotations

import hashlib
import math
import struct
import zlib
from collections.abc import Callable
from dataclasses import dataclass
from io import BytesIO

from PIL import (
    BmpImagePlugin,
    GifImagePlugin,
    Image,
    ImageCms,
    JpegImagePlugin,
    PngImagePlugin,
    WebPImagePlugin,
)
from PIL.Image import Resampling, Transpose

from coretrack.paper.photo_kinds import (
    BMP,
    GIF,
    JPEG,
    PNG,
    WEBP,
    Held,
    carried,
    check_size,
    damaged,
    held,
)

LONGEST_SIDE = 1600
MOST_BYTES = 400_000
LEAST_BYTES = 2_000
"""No limit below this: a JPEG of a few pixels already takes some 600 bytes."""

_QUALITIES = (85, 75, 65, 55, 45, 35)
_SMALLER = 0.8
_THUMBNAIL_QUALITY = 75

# The classes themselves, not Image.open: that one warns of large pictures through the
# process-wide warnings filter. The size is checked here before any pixel is decoded.
_READERS: dict[str, Callable[[BytesIO], Image.Image]] = {
    JPEG: JpegImagePlugin.JpegImageFile,
    PNG: PngImagePlugin.PngImageFile,
    GIF: GifImagePlugin.GifImageFile,
    WEBP: WebPImagePlugin.WebPImageFile,
    BMP: BmpImagePlugin.BmpImageFile,
}
_BROKEN = (
    OSError,
    SyntaxError,
    ValueError,
    TypeError,
    LookupError,
    EOFError,
    ArithmeticError,
    AttributeError,
    AssertionError,
    RuntimeError,
    struct.error,
    zlib.error,
    Image.DecompressionBombError,
)
"""What the decoders raise on bytes that are not what they claim to be."""

# EXIF orientation (tag 0112): what turns the stored picture upright.
_UPRIGHT = {
    2: Transpose.FLIP_LEFT_RIGHT,
    3: Transpose.ROTATE_180,
    4: Transpose.FLIP_TOP_BOTTOM,
    5: Transpose.TRANSPOSE,
    6: Transpose.ROTATE_270,
    7: Transpose.TRANSVERSE,
    8: Transpose.ROTATE_90,
}


@dataclass(frozen=True)
class Photo:
    """A photo ready to be stored: `content` is a JPEG without notes, `sha256` is of its bytes.

    `taken` is what the camera's clock said, like 2025-03-04T10:15:30 (local, unchecked), or "".
    """

    content: bytes
    width: int
    height: int
    sha256: str
    taken: str = ""


def clean_photo(
    content: bytes, *, longest_side: int = LONGEST_SIDE, most_bytes: int = MOST_BYTES
) -> Photo:
    """Return the photo upright, at most `longest_side` pixels and `most_bytes` bytes, as JPEG.

    Of an animated picture the first frame is taken; a picture is never enlarged. Raises
    InvalidInput for what is no photo, is damaged, or has more than 40 megapixels.
    """
    if longest_side < 1 or most_bytes < LEAST_BYTES:
        raise ValueError(f"a photo needs a side of 1 and {LEAST_BYTES} bytes at least")
    picture, taken = upright(content, longest_side)
    stored, width, height = _within(_in_srgb(picture), most_bytes)
    return Photo(stored, width, height, hashlib.sha256(stored).hexdigest(), taken)


def thumbnail(content: bytes, side: int = 240) -> bytes:
    """Return a JPEG of at most `side` by `side` pixels; raises like `clean_photo`."""
    if side < 1:
        raise ValueError("a thumbnail needs a side of 1 at least")
    return _jpeg(_in_srgb(upright(content, side)[0]), _THUMBNAIL_QUALITY)


def upright(
    content: bytes, longest_side: int | None = None, *, grey: bool = False
) -> tuple[Image.Image, str]:
    """Return the picture as a person would hold it, and what the camera's clock said or "".

    Its mode is L, RGB or CMYK (always L if `grey`), transparent parts are white, a colour profile
    stays in `info`. `longest_side` only ever shrinks. Raises InvalidInput like `clean_photo`.
    """
    source, camera = _opened(content)
    try:
        target = _target(source.size, longest_side)
        if target != source.size or grey:
            # A JPEG decoder can leave out detail that would be thrown away in the next line.
            source.draft("L" if grey else source.mode, target)
        source.load()
        picture = _plain_mode(source)
        if picture.size != target:
            picture = picture.resize(target, Resampling.LANCZOS, reducing_gap=3.0)
        picture = _on_white(picture)
        if grey:
            picture = picture.convert("L")
    except _BROKEN as error:
        raise damaged() from error
    turn = _UPRIGHT.get(camera.orientation)
    if turn is not None:
        picture = picture.transpose(turn)
    profile = source.info.get("icc_profile")
    picture.info = {"icc_profile": profile} if profile else {}
    return picture, camera.taken


def _opened(content: bytes) -> tuple[Image.Image, Held]:
    """Return the picture with no pixel decoded yet, and how the camera was held."""
    parts = carried(content)
    try:
        source = _READERS[parts.kind](BytesIO(parts.content))
    except _BROKEN as error:
        raise damaged() from error
    check_size(*source.size)
    exif = source.info.get("exif") if parts.kind == WEBP else parts.exif
    return source, held(exif or b"")


def _target(size: tuple[int, int], longest_side: int | None) -> tuple[int, int]:
    """Return `size` shrunk so that neither side is longer than `longest_side`."""
    longest = max(size)
    if longest_side is None or longest <= longest_side:
        return size
    width, height = (max(1, round(side * longest_side / longest)) for side in size)
    return width, height


def _plain_mode(picture: Image.Image) -> Image.Image:
    """Return `picture` in L, LA, RGB, RGBA or CMYK, which can be shrunk without false colours."""
    mode = picture.mode
    if mode in ("I", "F") or mode.startswith("I;16"):
        # Sixteen bits a pixel: the upper eight are kept (a plain conversion would cut at 255).
        return picture.convert("I").point(lambda grey: grey * (1 / 256)).convert("L")
    if "transparency" in picture.info:
        return picture.convert("RGBA")
    if mode in ("L", "LA", "RGB", "RGBA", "CMYK"):
        return picture
    if mode == "1":
        return picture.convert("L")
    return picture.convert("RGBA" if mode in ("PA", "RGBa") else "RGB")


def _on_white(picture: Image.Image) -> Image.Image:
    """Return `picture` without transparency, laid on white."""
    if picture.mode not in ("LA", "RGBA"):
        return picture
    alpha = picture.getchannel("A")
    sheet = Image.new(picture.mode[:-1], picture.size, "white")
    sheet.paste(picture.convert(sheet.mode), mask=alpha)
    return sheet


def _in_srgb(picture: Image.Image) -> Image.Image:
    """Return `picture` as RGB in the sRGB colours every screen shows, its profile dropped.

    A profile that cannot be used is left out: slightly wrong colours are better than no photo.
    """
    profile = picture.info.pop("icc_profile", None)
    if profile:
        try:
            source = ImageCms.ImageCmsProfile(BytesIO(profile))
            told = ImageCms.profileToProfile(
                picture, source, ImageCms.createProfile("sRGB"), outputMode="RGB"
            )
        except (ImageCms.PyCMSError, *_BROKEN):
            told = None
        if told is not None:
            told.info = {}
            return told
    return picture.convert("RGB")


def _within(picture: Image.Image, most_bytes: int) -> tuple[bytes, int, int]:
    """Return the JPEG and its size: quality falls first, then the picture shrinks."""
    while True:
        for quality in _QUALITIES:
            stored = _jpeg(picture, quality)
            if len(stored) <= most_bytes:
                return stored, picture.width, picture.height
        # Bytes go about with the area; the last little step is left to quality.
        scale = min(_SMALLER, math.sqrt(most_bytes / len(stored)))
        smaller = _target(picture.size, max(1, int(max(picture.size) * scale)))
        picture = picture.resize(smaller, Resampling.LANCZOS)


def _jpeg(picture: Image.Image, quality: int) -> bytes:
    buffer = BytesIO()
    picture.save(buffer, "JPEG", quality=quality, optimize=True)
    return buffer.getvalue()
