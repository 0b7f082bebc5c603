"""Code 128 bars read exactly as their text, or there are none."""

from __future__ import annotations

import string
from itertools import pairwise

import pytest
import zxingcpp
from barcode import Code128
from hypothesis import given
from hypothesis import strategies as st
from label_reading import read_all, tag
from PIL import Image, ImageDraw

from coretrack.errors import InvalidInput
from coretrack.paper import barcodes
from coretrack.paper.barcodes import Bars, decode_code128, encode_code128

PRINTABLE = st.text(st.characters(min_codepoint=32, max_codepoint=126), min_size=1, max_size=80)
DIGITS = st.text(string.digits, min_size=1, max_size=40)


def picture_of(bars: Bars) -> Image.Image:
    picture = Image.new("L", ((bars.modules + 20) * 3, 60), 255)
    pen = ImageDraw.Draw(picture)
    for at, width in bars.bars():
        pen.rectangle(((at + 10) * 3, 5, (at + 10 + width) * 3 - 1, 54), fill=0)
    return picture


@given(PRINTABLE)
def test_any_printable_text_decodes_to_itself(text: str) -> None:
    assert decode_code128(encode_code128(text).widths) == text


@given(DIGITS)
def test_any_digits_read_back_by_an_outside_reader(text: str) -> None:
    assert read_all(picture_of(encode_code128(text))) == [text]


@given(st.text(st.characters(min_codepoint=33, max_codepoint=126), min_size=1, max_size=20))
def test_any_short_text_reads_back_by_an_outside_reader(text: str) -> None:
    assert read_all(picture_of(encode_code128(text))) == [text]


@pytest.mark.parametrize("text", ["999999", "9999", "990012", "9" * 59, "99", "9951", "99A"])
def test_a_leading_99_stays_in_the_bars(text: str) -> None:
    assert read_all(picture_of(encode_code128(text))) == [text]


def test_the_first_encoder_alone_would_lose_a_leading_99(monkeypatch: pytest.MonkeyPatch) -> None:
    # Should this fail, python-barcode has been mended and the second encoder is only for length.
    modules = Code128("9951").build()[0]
    assert len(modules) == 46
    monkeypatch.setattr(barcodes, "_second_widths", barcodes._first_widths)
    with pytest.raises(InvalidInput, match="read back"):
        encode_code128("9951")


@pytest.mark.parametrize("text", ["B504", "P7731", "00420", "004206", "B504K1", "7731/120 A?B#1"])
def test_ids_that_other_symbologies_mangle_read_exactly(text: str) -> None:
    assert read_all(picture_of(encode_code128(text))) == [text]


def test_a_tag_takes_ninety_modules() -> None:
    assert tag(42) == "1000004235"
    assert encode_code128("1000004235").modules == 90


def test_a_letter_before_digits_takes_no_word_too_many() -> None:
    assert encode_code128("A123456789").modules == 112


@pytest.mark.parametrize(
    ("text", "sign", "place"),
    [
        ("Córdoba-7", "LATIN SMALL LETTER O WITH ACUTE", 2),
        ("caño", "LATIN SMALL LETTER N WITH TILDE", 3),
        ("côte", "LATIN SMALL LETTER O WITH CIRCUMFLEX", 2),
        ("Pròva", "LATIN SMALL LETTER O WITH GRAVE", 3),
        ("CT-00\u04121", "CYRILLIC CAPITAL LETTER VE", 6),
        ("12²", "SUPERSCRIPT TWO", 3),
        ("A\t1", "control character U+0009", 2),
        ("A\x7f", "control character U+007F", 2),
        ("A\u200b1", "ZERO WIDTH SPACE", 2),
    ],
)
def test_a_sign_that_bars_cannot_hold_is_named_with_its_place(
    text: str, sign: str, place: int
) -> None:
    with pytest.raises(InvalidInput) as refusal:
        encode_code128(text)
    assert sign in refusal.value.message
    assert f"sign {place} " in refusal.value.message


def test_an_accent_is_refused_with_the_letter_to_use() -> None:
    with pytest.raises(InvalidInput, match="Use 'o'"):
        encode_code128("Córdoba-7")


@given(st.text(min_size=1, max_size=30).filter(lambda text: not text.isascii()))
def test_no_text_beyond_ascii_gets_bars(text: str) -> None:
    with pytest.raises(InvalidInput, match="sign"):
        encode_code128(text)


def test_nothing_and_too_much_are_refused() -> None:
    with pytest.raises(InvalidInput, match="no text"):
        encode_code128("")
    with pytest.raises(InvalidInput, match="81 signs is too long for bars; 80"):
        encode_code128("8" * 81)
    assert encode_code128("8" * 80).text == "8" * 80


@given(PRINTABLE, st.data())
def test_one_changed_width_never_decodes_to_another_text(text: str, data: st.DataObject) -> None:
    widths = list(encode_code128(text).widths)
    at = data.draw(st.integers(0, len(widths) - 1))
    widths[at] += data.draw(st.sampled_from([-1, 1]))
    with pytest.raises(ValueError, match=r"bars|word"):
        decode_code128(tuple(widths))


def test_the_decoder_follows_shift_and_set_a_and_refuses_function_codes() -> None:
    def widths(words: list[int]) -> tuple[int, ...]:
        body = "".join(barcodes.WIDTHS[word] for word in [*words, barcodes.check_word(words)])
        return tuple(int(width) for width in body + barcodes.STOP_WIDTHS)

    # Start A, P, shift, then one sign of set B (a small p), then set A again.
    assert decode_code128(widths([103, 48, 98, 80, 48])) == "PpP"
    assert decode_code128(widths([103, 48, 64])) == "P\0"
    assert decode_code128(widths([105, 12, 101, 33, 100, 65, 99, 34])) == "12Aa34"
    with pytest.raises(ValueError, match="no text"):
        decode_code128(widths([105, 102, 12]))
    with pytest.raises(ValueError, match="start word"):
        decode_code128(widths([12, 34]))


@given(PRINTABLE.filter(lambda text: text == text.strip() and len(text) < 30))
def test_an_independent_encoder_is_decoded_too(text: str) -> None:
    symbol = zxingcpp.create_barcode(text, zxingcpp.BarcodeFormat.Code128)
    row = Image.fromarray(symbol.to_image(scale=1, add_quiet_zones=False)).convert("L")
    dots = [row.getpixel((column, 0)) for column in range(row.width)]
    widths = [1]
    for before, now in pairwise(dots):
        if before == now:
            widths[-1] += 1
        else:
            widths.append(1)
    assert decode_code128(tuple(widths)) == text
