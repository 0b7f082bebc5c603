"""Codes in phone photos: our own labels and makers' marks, read back sign for sign."""

from __future__ import annotations

from io import BytesIO

import pytest
import zxingcpp
from hypothesis import given, settings
from hypothesis import strategies as st
from label_reading import printed_pages, tag, tag_label
from made_photos import Shot, bench_top, laid, phone_jpeg, symbol
from PIL import Image, ImageDraw

from coretrack.errors import InvalidInput
from coretrack.figures.labels import RollStock, SheetStock
from coretrack.figures.scan_reading import read_scan
from coretrack.paper.label_files import layout_for, stock_named
from coretrack.paper.label_pdf import sheet_pdf
from coretrack.paper.label_png import roll_png
from coretrack.paper.photo_codes import FoundCode, codes_in
from coretrack.paper.photos import clean_photo, thumbnail

FORMATS = zxingcpp.BarcodeFormat
GS = "\x1d"
PHONE = bench_top(3000, 4000)
SMALL = bench_top(1500, 1100, seed=3)


def roll_label(serial: int, name: str = "roll-50x25") -> Image.Image:
    """Return a roll label as its printer burns it."""
    stock = stock_named(name)
    assert isinstance(stock, RollStock)
    content = roll_png(stock, layout_for(stock), tag_label(serial), 203)
    return Image.open(BytesIO(content)).convert("L")


def sheet_label(serial: int) -> Image.Image:
    """Return the first label of a printed sheet, cut out of the page."""
    stock = stock_named("letter-30")
    assert isinstance(stock, SheetStock)
    pdf = sheet_pdf(stock, layout_for(stock), [tag_label(serial)])
    [page] = printed_pages(pdf, 300, touched=False)
    left, top = round(0.19 * 300), round(0.5 * 300)
    return page.crop((left, top, left + round(2.625 * 300), top + 300))


def is_about(code: FoundCode, middle: tuple[float, float]) -> bool:
    """True when the code's place has its middle about there: bars fill the upper half of labels."""
    place = code.place
    assert 0 <= place.left < place.right <= 1
    assert 0 <= place.top < place.bottom <= 1
    return (
        abs((place.left + place.right) / 2 - middle[0]) < 0.1
        and abs((place.top + place.bottom) / 2 - middle[1]) < 0.1
    )


@pytest.mark.parametrize(
    "shot",
    [
        Shot(),
        Shot(90),
        Shot(180),
        Shot(7),
        Shot(skewed=True),
        Shot(7, skewed=True),
        Shot(90, skewed=True),
        Shot(-7, skewed=True, width=800, middle=(0.3, 0.7)),
    ],
    ids=str,
)
def test_a_label_in_a_phone_photo_reads_back_its_tag(shot: Shot) -> None:
    [code] = codes_in(phone_jpeg(laid(PHONE, roll_label(42), shot)))
    assert code.text == f"]C0{tag(42)}"
    assert (code.data, code.shown, code.symbology) == (tag(42), tag(42), "Code 128")
    assert read_scan(code.text).tag == tag(42)
    assert is_about(code, shot.middle)


@pytest.mark.parametrize("degrees", [20, 33, 45, 58, 72])
def test_a_label_that_lies_slantwise_is_found_where_it_is(degrees: int) -> None:
    shot = Shot(degrees, width=600, middle=(0.35, 0.6))
    [code] = codes_in(phone_jpeg(laid(SMALL, roll_label(77), shot), orientation=1))
    assert code.data == tag(77)
    assert is_about(code, shot.middle)


@pytest.mark.parametrize("name", ["roll-38x13", "roll-50x25", "roll-102x51"])
def test_every_roll_label_reads_back_from_a_photo_and_from_what_is_stored_of_it(name: str) -> None:
    photo = phone_jpeg(laid(SMALL, roll_label(1234, name), Shot(4, width=800, blur=0.6)))
    for content in (photo, clean_photo(photo).content):
        assert [code.data for code in codes_in(content)] == [tag(1234)]


def test_a_label_of_a_printed_sheet_reads_back() -> None:
    photo = phone_jpeg(laid(SMALL, sheet_label(99), Shot(5, skewed=True, width=900)), 6)
    assert [code.text for code in codes_in(photo)] == [f"]C0{tag(99)}"]


@pytest.mark.parametrize("orientation", range(1, 9))
def test_however_the_phone_was_held_the_place_is_that_in_the_upright_photo(
    orientation: int,
) -> None:
    shot = Shot(width=500, middle=(0.25, 0.3))
    [code] = codes_in(phone_jpeg(laid(SMALL, roll_label(5), shot), orientation))
    assert code.data == tag(5)
    assert is_about(code, shot.middle)


def test_bars_that_pass_for_another_number_in_a_small_photo_are_read_again() -> None:
    # At this size some lines of the slanting bars read 2300304235, with a check that fits.
    photo = clean_photo(phone_jpeg(laid(PHONE, roll_label(42), Shot(skewed=True))))
    assert [code.data for code in codes_in(photo.content)] == [tag(42)]


MAKERS = [
    (FORMATS.DataMatrix, "SN 7731-120/A42", False, "]d1"),
    (FORMATS.QRCode, "BODY 0 445 Prüf-7", False, "]Q1"),
    (FORMATS.DataMatrix, f"[)>\x1e06{GS}P7731-120{GS}S0042{GS}1TL7\x1e\x04", False, "]d1"),
    (FORMATS.QRCode, f"[)>\x1e06{GS}P7731-120{GS}S0042{GS}1TL7\x1e\x04", False, "]Q1"),
    (FORMATS.DataMatrix, "(01)09521234543213(21)ABC(10)L1", True, "]d2"),
    (FORMATS.QRCode, "(01)09521234543213(21)ABC(10)L1", True, "]Q3"),
    (FORMATS.Code128, "(01)09521234543213(21)ABC(10)L1", True, "]C1"),
]


@pytest.mark.parametrize(("kind", "text", "is_gs1", "mark"), MAKERS)
@pytest.mark.parametrize("degrees", [0, 7, 90, 137])
def test_a_maker_s_mark_reads_back_with_its_separators(
    kind: zxingcpp.BarcodeFormat, text: str, is_gs1: bool, mark: str, degrees: int
) -> None:
    width = 900 if kind == FORMATS.Code128 else 320
    photo = phone_jpeg(laid(SMALL, symbol(text, kind, gs1=is_gs1), Shot(degrees, width=width)), 1)
    [code] = codes_in(photo)
    wanted = f"010952123454321321ABC{GS}10L1" if is_gs1 else text
    assert code.text == mark + wanted
    scan = read_scan(code.text)
    assert scan.sure
    if is_gs1:
        assert (scan.kind, scan.gtin, scan.serial) == ("gs1", "09521234543213", "ABC")
        assert scan.lot == "L1"
    if text.startswith("[)>"):
        assert (scan.kind, scan.serial, scan.numbers) == ("format 06", "0042", ("7731-120",))
        assert GS not in code.shown


def test_all_codes_are_returned_the_large_and_central_one_first() -> None:
    mark = symbol("SN-0042", FORMATS.DataMatrix)
    photo = laid(SMALL, roll_label(1), Shot(width=600, blur=0))
    photo = laid(photo, roll_label(2), Shot(width=400, blur=0, middle=(0.2, 0.15)))
    photo = laid(photo, mark, Shot(width=110, blur=0.5, middle=(0.85, 0.85)))
    codes = codes_in(phone_jpeg(photo))
    assert [code.data for code in codes] == [tag(1), tag(2), "SN-0042"]
    assert [code.symbology for code in codes] == ["Code 128", "Code 128", "Data Matrix"]


def test_of_two_labels_of_one_size_the_one_in_the_middle_comes_first() -> None:
    for first, second in ((1, 2), (2, 1)):
        photo = laid(SMALL, roll_label(first), Shot(width=400, blur=0, middle=(0.5, 0.5)))
        photo = laid(photo, roll_label(second), Shot(width=400, blur=0.5, middle=(0.5, 0.15)))
        assert [code.data for code in codes_in(phone_jpeg(photo))] == [tag(first), tag(second)]


def test_the_same_label_twice_is_one_answer() -> None:
    photo = laid(SMALL, roll_label(8), Shot(width=400, blur=0, middle=(0.5, 0.25)))
    photo = laid(photo, roll_label(8), Shot(width=400, blur=0.5, middle=(0.5, 0.75)))
    assert [code.data for code in codes_in(phone_jpeg(photo))] == [tag(8)]


def test_two_different_rows_of_bars_on_one_paper_are_both_returned() -> None:
    paper = Image.new("L", (500, 240), 255)
    paper.paste(roll_label(3, "roll-50x25").crop((0, 0, 400, 90)), (40, 10))
    paper.paste(roll_label(4, "roll-50x25").crop((0, 0, 400, 90)), (40, 120))
    codes = codes_in(phone_jpeg(laid(SMALL, paper, Shot(2, width=900, blur=0.6)), 1))
    assert sorted(code.data for code in codes) == [tag(3), tag(4)]


def test_a_faint_and_small_label_is_found_at_the_second_look() -> None:
    faint = roll_label(6).point(lambda grey: 100 + grey // 12)
    sheet = Image.new("L", (900, 700), 118)
    sheet.paste(faint, (220, 230))
    buffer = BytesIO()
    sheet.save(buffer, "PNG")
    assert [code.data for code in codes_in(buffer.getvalue())] == [tag(6)]


@pytest.mark.parametrize("seed", range(2))
def test_a_photo_without_codes_gives_none(seed: int) -> None:
    photo = bench_top(1500, 1100, seed=20 + seed)
    pen = ImageDraw.Draw(photo)
    for cut in range(12):
        # Cooling fins and a stamped number look a little like bars.
        pen.rectangle((300 + 40 * cut, 300, 316 + 40 * cut, 600), fill=(60, 60, 60))
    pen.text((400, 700), "7731-120 INJ 17", fill=(20, 20, 20), font_size=60)
    assert codes_in(phone_jpeg(photo)) == ()


def test_what_is_too_small_to_read_gives_none_and_no_guess() -> None:
    photo = phone_jpeg(laid(SMALL, roll_label(42), Shot(width=500)), 1)
    assert codes_in(thumbnail(photo, side=90)) == ()


def test_what_is_no_photo_is_refused_like_any_photo() -> None:
    with pytest.raises(InvalidInput, match="a PDF document"):
        codes_in(b"%PDF-1.7")


@given(st.binary(max_size=300))
@settings(max_examples=100, deadline=None)
def test_bytes_of_any_kind_are_refused_in_words_or_read(content: bytes) -> None:
    try:
        codes = codes_in(content)
    except InvalidInput:
        return
    assert all(isinstance(code, FoundCode) for code in codes)


@given(
    st.text(st.characters(min_codepoint=0x20, max_codepoint=0x7E), min_size=1, max_size=24),
    st.sampled_from(["DataMatrix", "QRCode"]),
)
@settings(max_examples=60, deadline=None)
def test_any_printable_serial_comes_back_sign_for_sign(serial: str, kind: str) -> None:
    paper = symbol(serial, getattr(FORMATS, kind))
    photo = laid(Image.new("RGB", (420, 420), (150, 145, 140)), paper, Shot(7, width=240, blur=0.6))
    assert [code.data for code in codes_in(phone_jpeg(photo))] == [serial]
