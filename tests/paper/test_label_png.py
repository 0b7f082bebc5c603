"""Roll labels as pictures: dot-exact, at the print head's resolution, read by another reader."""

from __future__ import annotations

from io import BytesIO

import pytest
from label_reading import bar_runs, read_png, tag_label
from PIL import Image

from coretrack.errors import InvalidInput
from coretrack.figures.labels import Label, RollStock
from coretrack.paper.barcodes import encode_code128
from coretrack.paper.label_design import printable
from coretrack.paper.label_files import layout_for, load_stocks
from coretrack.paper.label_png import roll_png

ROLLS = [stock for stock in load_stocks().values() if isinstance(stock, RollStock)]
HEADS = [(stock, dpi) for stock in ROLLS for dpi in stock.dpi]
NAMES = [f"{stock.name}-{dpi}" for stock, dpi in HEADS]


@pytest.mark.parametrize(("stock", "dpi"), HEADS, ids=NAMES)
def test_a_label_picture_reads_exactly(stock: RollStock, dpi: int) -> None:
    codes = ["990012", "999999", "B504", "00420", "A/B", "..", "12345678901234", "9" * 22, "9" * 59]
    labels = [tag_label(42), *(Label(code, code[:10]) for code in codes)]
    good = printable(stock, layout_for(stock), labels, dpi).good
    assert len(good) >= 8
    for label in good:
        assert read_png(roll_png(stock, layout_for(stock), label, dpi)) == [label.code]


@pytest.mark.parametrize(("stock", "dpi"), HEADS, ids=NAMES)
def test_a_picture_has_one_bit_a_dot_and_its_resolution(stock: RollStock, dpi: int) -> None:
    picture = Image.open(BytesIO(roll_png(stock, layout_for(stock), tag_label(42), dpi)))
    assert picture.mode == "1"
    assert picture.info["dpi"] == pytest.approx((dpi, dpi), abs=0.02)
    assert picture.size == (
        stock.label_width * dpi // 254_000,
        stock.label_height * dpi // 254_000,
    )


@pytest.mark.parametrize(("stock", "dpi"), HEADS, ids=NAMES)
def test_each_bar_is_its_whole_dots_and_the_quiet_zones_are_blank(
    stock: RollStock, dpi: int
) -> None:
    label = tag_label(42)
    picture = Image.open(BytesIO(roll_png(stock, layout_for(stock), label, dpi))).convert("L")
    runs = bar_runs(picture)
    top = picture.point(lambda grey: 255 - grey).getbbox()[1]
    bars_only = (0, top, picture.width, top + 5 * dpi * 10 // 254)
    assert bar_runs(picture.crop(bars_only).rotate(180)) == runs[::-1], "bars are 5 mm high"
    bars = encode_code128(label.code)
    dots = runs[1] // bars.widths[0]
    assert dots * 25.4 / dpi >= 0.25
    assert runs[1:-1] == [width * dots for width in bars.widths]
    assert min(runs[0], runs[-1]) >= 10 * dots


def test_the_smallest_label_takes_one_small_row_and_the_big_text() -> None:
    stock = next(stock for stock in ROLLS if stock.name == "roll-38x13")
    with_rows = roll_png(stock, layout_for(stock), tag_label(42))
    bare = roll_png(stock, layout_for(stock), Label(tag_label(42).code, tag_label(42).shown))
    assert with_rows != bare
    assert read_png(with_rows) == read_png(bare) == ["1000004235"]


def test_the_same_label_gives_the_same_bytes() -> None:
    stock = ROLLS[0]
    first = roll_png(stock, layout_for(stock), tag_label(42))
    assert first == roll_png(stock, layout_for(stock), tag_label(42))


def test_a_resolution_the_roll_is_not_made_for_is_refused() -> None:
    with pytest.raises(InvalidInput, match="203 or 300 dpi, not 600"):
        roll_png(ROLLS[0], layout_for(ROLLS[0]), tag_label(42), 600)
