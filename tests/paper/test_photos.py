"""Photos before they are stored: upright, small, without a word about who took them where."""

from __future__ import annotations

import hashlib
import struct
import zlib
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from io import BytesIO

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from made_photos import noise, phone_jpeg
from PIL import Image, ImageCms, ImageDraw

from coretrack.errors import InvalidInput
from coretrack.paper.photo_kinds import held
from coretrack.paper.photos import clean_photo, thumbnail

RED, WHITE, BLUE = (220, 20, 20), (255, 255, 255), (20, 40, 200)


def saved(picture: Image.Image, kind: str = "PNG", **options: object) -> bytes:
    """Return a picture as the bytes of a file."""
    buffer = BytesIO()
    picture.save(buffer, kind, **options)
    return buffer.getvalue()


def shown(content: bytes) -> Image.Image:
    """Return a stored photo decoded."""
    picture = Image.open(BytesIO(content))
    picture.load()
    return picture


def close_to(pixel: object, wanted: tuple[int, int, int], by: int = 6) -> bool:
    """True when each colour of `pixel` is about as `wanted`: JPEG moves it a little."""
    assert isinstance(pixel, tuple)
    return all(abs(one - other) <= by for one, other in zip(pixel, wanted, strict=True))


def red_corner() -> Image.Image:
    """Return a picture that is wider than high, blue, with its upper left corner red."""
    picture = Image.new("RGB", (640, 480), BLUE)
    ImageDraw.Draw(picture).rectangle((0, 0, 159, 119), fill=RED)
    return picture


@pytest.mark.parametrize("orientation", range(1, 9))
def test_a_photo_is_stored_as_a_person_would_hold_it(orientation: int) -> None:
    photo = clean_photo(phone_jpeg(red_corner(), orientation, quality=95))
    assert (photo.width, photo.height) == (640, 480)
    picture = shown(photo.content)
    assert close_to(picture.getpixel((60, 60)), RED)
    for elsewhere in ((600, 60), (60, 440), (600, 440)):
        assert close_to(picture.getpixel(elsewhere), BLUE)


def test_nothing_but_the_picture_is_kept() -> None:
    content = phone_jpeg(red_corner(), 6)
    before = Image.open(BytesIO(content))
    assert before.getexif().get_ifd(0x8825), "the sample tells where it was taken"
    assert b"left-hand drawer" in content
    assert b"Invented Camera Works" in content
    photo = clean_photo(content)
    for kept in (photo.content, thumbnail(content)):
        after = shown(kept)
        assert not dict(after.getexif())
        assert {"exif", "icc_profile", "comment", "xmp", "mp"}.isdisjoint(after.info)
        assert b"Exif" not in kept
        assert b"drawer" not in kept
        assert b"Camera" not in kept


def test_the_words_in_a_png_are_not_kept() -> None:
    from PIL.PngImagePlugin import PngInfo

    words = PngInfo()
    words.add_text("Author", "somebody at bench three")
    words.add_itxt("XML:com.adobe.xmp", "<x>somebody</x>")
    photo = clean_photo(saved(red_corner(), "PNG", pnginfo=words))
    assert b"somebody" not in photo.content


def test_the_camera_s_clock_is_told_beside_the_photo() -> None:
    assert clean_photo(phone_jpeg(red_corner())).taken == "2025-03-04T10:15:30"
    assert clean_photo(phone_jpeg(red_corner(), taken="0000:00:00 00:00:00")).taken == ""
    assert clean_photo(saved(red_corner())).taken == ""


def test_the_fingerprint_is_of_the_stored_bytes_and_the_same_photo_gives_the_same_bytes() -> None:
    content = phone_jpeg(red_corner())
    photo = clean_photo(content)
    assert photo.sha256 == hashlib.sha256(photo.content).hexdigest()
    assert clean_photo(content) == photo


def test_a_large_photo_is_shrunk_and_a_small_one_never_enlarged() -> None:
    wide = clean_photo(phone_jpeg(Image.new("RGB", (4000, 3000), BLUE), 6))
    assert (wide.width, wide.height) == (1600, 1200)
    assert shown(wide.content).size == (1600, 1200)
    small = clean_photo(phone_jpeg(Image.new("RGB", (320, 200), BLUE)))
    assert (small.width, small.height) == (320, 200)
    strip = clean_photo(saved(Image.new("RGB", (9000, 2), BLUE)))
    assert (strip.width, strip.height) == (1600, 1)


@pytest.mark.parametrize("most_bytes", [400_000, 100_000, 20_000, 2_000])
def test_a_photo_of_pure_noise_still_keeps_to_its_bytes(most_bytes: int) -> None:
    photo = clean_photo(saved(noise(3, (1700, 900))), most_bytes=most_bytes)
    assert len(photo.content) <= most_bytes
    assert shown(photo.content).size == (photo.width, photo.height)


def test_a_thumbnail_fits_its_square() -> None:
    content = phone_jpeg(red_corner(), 6)
    picture = shown(thumbnail(content))
    assert picture.size == (240, 180)
    assert close_to(picture.getpixel((20, 20)), RED)
    assert shown(thumbnail(content, side=40)).size == (40, 30)


def dotted(mode: str, value: float | tuple[int, ...]) -> Image.Image:
    """Return a small picture of one colour."""
    return Image.new(mode, (40, 30), value)


@pytest.mark.parametrize(
    ("picture", "kind", "wanted"),
    [
        (dotted("CMYK", (0, 255, 255, 0)), "JPEG", (255, 0, 0)),
        (dotted("L", 90), "JPEG", (90, 90, 90)),
        (dotted("1", 1), "PNG", WHITE),
        (dotted("I;16", 0x8000), "PNG", (128, 128, 128)),
        (dotted("RGBA", (0, 0, 0, 0)), "PNG", WHITE),
        (dotted("RGBA", (255, 0, 0, 128)), "PNG", (255, 127, 127)),
        (dotted("LA", (0, 0)), "PNG", WHITE),
        (dotted("RGB", RED).quantize(4), "PNG", RED),
        (dotted("RGB", RED).quantize(4), "GIF", RED),
        (dotted("RGB", RED), "BMP", RED),
        (dotted("RGBA", (0, 0, 0, 0)), "WEBP", WHITE),
    ],
    ids=lambda value: getattr(value, "mode", None) or str(value),
)
def test_every_kind_of_colour_becomes_rgb_on_white(
    picture: Image.Image, kind: str, wanted: tuple[int, int, int]
) -> None:
    photo = clean_photo(saved(picture, kind))
    stored = shown(photo.content)
    assert (stored.format, stored.mode) == ("JPEG", "RGB")
    assert close_to(stored.getpixel((20, 15)), wanted)


def test_the_see_through_colour_of_a_palette_is_white() -> None:
    picture = Image.new("P", (40, 30), 0)
    picture.putpalette([0, 0, 0, *RED])
    ImageDraw.Draw(picture).rectangle((0, 0, 19, 29), fill=1)
    stored = shown(clean_photo(saved(picture, "PNG", transparency=0)).content)
    assert close_to(stored.getpixel((4, 15)), RED)
    assert close_to(stored.getpixel((36, 15)), WHITE)


def test_only_the_first_picture_of_a_moving_one_is_kept() -> None:
    for kind in ("GIF", "PNG", "WEBP"):
        moving = saved(
            Image.new("RGB", (50, 40), RED),
            kind,
            save_all=True,
            append_images=[Image.new("RGB", (50, 40), BLUE)],
            duration=100,
        )
        assert close_to(shown(clean_photo(moving).content).getpixel((25, 20)), RED, by=12)


def test_a_wide_colour_profile_is_turned_into_screen_colours_and_dropped() -> None:
    # The plain profile changes nothing.
    plain = ImageCms.ImageCmsProfile(ImageCms.createProfile("sRGB")).tobytes()
    photo = clean_photo(saved(red_corner(), "JPEG", quality=95, icc_profile=plain))
    assert close_to(shown(photo.content).getpixel((60, 60)), RED, by=8)
    # The Lab profile does not fit an RGB picture: it is left out, the photo is kept.
    lab = ImageCms.ImageCmsProfile(ImageCms.createProfile("LAB")).tobytes()
    for profile in (lab, b"no profile at all"):
        kept = clean_photo(saved(red_corner(), "JPEG", quality=95, icc_profile=profile))
        assert close_to(shown(kept.content).getpixel((60, 60)), RED, by=8)
        assert b"ICC_PROFILE" not in kept.content


def with_gamma_one() -> bytes:
    """Return an sRGB profile whose three curves are straight lines: every mid tone changes."""
    profile = bytearray(ImageCms.ImageCmsProfile(ImageCms.createProfile("sRGB")).tobytes())
    (count,) = struct.unpack_from(">I", profile, 128)
    for entry in range(count):
        name, place, _ = struct.unpack_from(">4sII", profile, 132 + 12 * entry)
        if name in (b"rTRC", b"gTRC", b"bTRC"):
            profile[place : place + 12] = b"curv" + bytes(8)
    return bytes(profile)


def test_the_colours_follow_the_profile() -> None:
    # 128 of 255 in linear light is 188 on an sRGB screen (IEC 61966-2-1, worked out by hand:
    # 1.055 × 0.502^(1/2.4) − 0.055 = 0.736).
    picture = Image.new("RGB", (40, 30), (128, 128, 128))
    photo = clean_photo(saved(picture, "JPEG", quality=95, icc_profile=with_gamma_one()))
    assert close_to(shown(photo.content).getpixel((20, 15)), (188, 188, 188), by=3)


SHOT = phone_jpeg(noise(1, (300, 200)))


@pytest.mark.parametrize(
    ("content", "told"),
    [
        (b"", "photo is empty"),
        (b"%PDF-1.7\n%\xe2\xe3", "a PDF document"),
        (b"\x00\x00\x00\x18ftypheic\x00\x00\x00\x00", r"\(HEIC\).*JPEG \(most compatible\)"),
        (b"\x00\x00\x00\x18ftypmif1\x00\x00\x00\x00", r"\(HEIC\).*JPEG \(most compatible\)"),
        (b"\x00\x00\x00\x1cftypavif\x00\x00\x00\x00", r"\(AVIF\).*JPEG \(most compatible\)"),
        (b"\x00\x00\x00\x18ftypisom\x00\x00\x00\x00", "a film.*still photo"),
        (b"II*\x00\x08\x00\x00\x00", "TIFF or camera raw.*Save it as JPEG"),
        (b"PK\x03\x04\x14\x00", "zip archive"),
        (b"\xef\xbb\xbf<svg xmlns='x'/>", r"a drawing \(SVG\)"),
        (b"<!doctype html><p>Sign in", "a web page"),
        (b"Invoice;Date\n1;2\n", "a text"),
        (bytes(range(256)), "no picture of a known kind"),
    ],
)
def test_what_is_no_photo_is_named_with_what_to_do(content: bytes, told: str) -> None:
    for job in (clean_photo, thumbnail):
        with pytest.raises(InvalidInput, match=told):
            job(content)


@pytest.mark.parametrize("kind", ["JPEG", "PNG", "GIF", "WEBP", "BMP"])
def test_a_cut_off_photo_is_refused_wherever_it_was_cut(kind: str) -> None:
    content = saved(noise(2, (120, 80)), kind)
    clean_photo(content)
    for kept in (3, 20, len(content) // 3, len(content) * 9 // 10):
        with pytest.raises(InvalidInput):
            clean_photo(content[:kept])


def png_of(width: int, height: int) -> bytes:
    """Return a PNG that states a size and holds a few bytes that unpack into very many."""

    def chunk(name: bytes, data: bytes) -> bytes:
        check = zlib.crc32(name + data)
        return len(data).to_bytes(4, "big") + name + data + check.to_bytes(4, "big")

    head = struct.pack(">IIBBBBB", width, height, 8, 2, 0, 0, 0)
    rows = chunk(b"IDAT", zlib.compress(bytes(100_000)))
    return b"\x89PNG\r\n\x1a\n" + chunk(b"IHDR", head) + rows + chunk(b"IEND", b"")


def jpeg_of(width: int, height: int) -> bytes:
    """Return a small JPEG whose header claims another size."""
    content = bytearray(saved(Image.new("RGB", (16, 16), RED), "JPEG"))
    struct.pack_into(">HH", content, content.index(b"\xff\xc0") + 5, height, width)
    return bytes(content)


def gif_of(width: int, height: int) -> bytes:
    """Return a small GIF whose only frame claims another size than its screen."""
    content = bytearray(saved(Image.new("P", (16, 16)), "GIF"))
    struct.pack_into("<HH", content, content.index(b",\x00\x00\x00\x00") + 5, width, height)
    return bytes(content)


def webp_of(width: int, height: int) -> bytes:
    """Return the head of a WebP that states a size in the extended way."""
    sizes = (width - 1).to_bytes(3, "little") + (height - 1).to_bytes(3, "little")
    return b"RIFF\x20\x00\x00\x00WEBPVP8X\x0a\x00\x00\x00\x00\x00\x00\x00" + sizes + bytes(8)


def bmp_of(width: int, height: int) -> bytes:
    """Return a small BMP whose header claims another size."""
    content = bytearray(saved(Image.new("RGB", (4, 4)), "BMP"))
    struct.pack_into("<ii", content, 18, width, height)
    return bytes(content)


@pytest.mark.parametrize("made", [png_of, jpeg_of, gif_of, webp_of, bmp_of])
@pytest.mark.parametrize("size", [(8000, 5001), (10_000, 10_000), (16_000, 16_000)])
def test_too_many_pixels_are_refused_before_any_is_decoded(
    made: Callable[[int, int], bytes], size: tuple[int, int]
) -> None:
    content = made(*size)
    with pytest.raises(InvalidInput) as refusal:
        clean_photo(content)
    assert f"{size[0]} × {size[1]}" in refusal.value.message
    assert "at most 40" in refusal.value.message
    assert "12 megapixels" in refusal.value.message


def test_exactly_forty_megapixels_are_taken() -> None:
    photo = clean_photo(saved(Image.new("1", (8000, 5000), 1)))
    assert (photo.width, photo.height) == (1600, 1000)


def test_a_jpeg_of_endless_passes_is_refused() -> None:
    content = saved(red_corner(), "JPEG", progressive=True)
    clean_photo(content)
    scan = content.rindex(b"\xff\xda")
    endless = content[:scan] + content[scan:-2] * 200 + content[-2:]
    with pytest.raises(InvalidInput, match="cut off or damaged"):
        clean_photo(endless)


def test_sizes_that_make_no_sense_are_the_caller_s_mistake() -> None:
    for wrong in ({"longest_side": 0}, {"most_bytes": 100}):
        with pytest.raises(ValueError, match="at least"):
            clean_photo(SHOT, **wrong)
    with pytest.raises(ValueError, match="at least"):
        thumbnail(SHOT, side=0)


def test_many_photos_at_once_come_out_as_they_do_one_by_one() -> None:
    shots = [phone_jpeg(noise(seed, (320, 240)), 1 + seed) for seed in range(8)]
    alone = [clean_photo(shot) for shot in shots]
    with ThreadPoolExecutor(4) as workers:
        assert list(workers.map(clean_photo, shots)) == alone


@given(st.binary(max_size=400))
@settings(max_examples=150, deadline=None)
def test_bytes_of_any_kind_are_refused_in_words_or_taken(content: bytes) -> None:
    try:
        photo = clean_photo(content)
    except InvalidInput:
        return
    assert shown(photo.content).size == (photo.width, photo.height)


WHOLE = {
    kind: saved(noise(5, (24, 18)), kind) for kind in ("JPEG", "PNG", "GIF", "WEBP", "BMP")
} | {
    "phone": phone_jpeg(noise(5, (24, 18))),
    "progressive": saved(red_corner(), "JPEG", progressive=True),
}


@given(
    st.sampled_from(sorted(WHOLE)),
    st.lists(st.tuples(st.integers(0, 10_000), st.integers(0, 255)), min_size=1, max_size=6),
    st.integers(0, 300),
)
@settings(max_examples=300, deadline=None)
def test_a_photo_with_wrong_bytes_in_it_is_refused_in_words_or_taken(
    kind: str, changes: list[tuple[int, int]], cut: int
) -> None:
    content = bytearray(WHOLE[kind])
    for at, value in changes:
        content[at % len(content)] = value
    try:
        photo = clean_photo(bytes(content[: len(content) - cut]))
    except InvalidInput:
        return
    assert shown(photo.content).size == (photo.width, photo.height)


@given(
    st.binary(max_size=200),
    st.sampled_from([b"II*\x00\x08\x00\x00\x00", b"MM\x00*\x00\x00\x00\x08", b""]),
)
@settings(max_examples=200, deadline=None)
def test_a_damaged_exif_block_says_nothing_instead_of_failing(tail: bytes, head: bytes) -> None:
    camera = held(head + tail)
    assert 1 <= camera.orientation <= 8
    assert camera.taken == "" or len(camera.taken) == len("2025-03-04T10:15:30")


def test_exif_is_read_in_both_byte_orders_and_from_a_png_and_a_webp() -> None:
    for order, mark in (("<", b"II*\x00"), (">", b"MM\x00*")):
        entry = struct.pack(f"{order}HHIHH", 0x0112, 3, 1, 8, 0)
        block = mark + struct.pack(f"{order}IH", 8, 1) + entry + bytes(4)
        assert held(block).orientation == 8
        assert held(b"Exif\x00\x00" + block).orientation == 8
        for kind in ("PNG", "WEBP"):
            photo = clean_photo(saved(red_corner(), kind, exif=b"Exif\x00\x00" + block))
            assert (photo.width, photo.height) == (480, 640)
