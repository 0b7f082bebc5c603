"""Labels as SVG: bars on whole printer dots, text that keeps its width, no style inside."""

from __future__ import annotations

import re
from xml.etree import ElementTree

import pytest
from hypothesis import given
from hypothesis import strategies as st
from label_reading import tag, tag_label

from coretrack.errors import InvalidInput
from coretrack.figures.labels import Label, RollStock, SheetStock, Stock
from coretrack.paper.barcodes import encode_code128
from coretrack.paper.label_files import layout_for, load_stocks, stock_named
from coretrack.paper.label_svg import label_svg, print_page_css, roll_pages_svg, sheet_pages_svg

SPACE = "{http://www.w3.org/2000/svg}"
STOCKS = list(load_stocks().values())
PRINTERS = [(stock, dpi) for stock in STOCKS for dpi in stock.dpi]
NAMES = [f"{stock.name}-{dpi}" for stock, dpi in PRINTERS]


def sheet(name: str) -> SheetStock:
    stock = stock_named(name)
    assert isinstance(stock, SheetStock)
    return stock


def roll(name: str) -> RollStock:
    stock = stock_named(name)
    assert isinstance(stock, RollStock)
    return stock


def bars_in(svg: ElementTree.Element) -> list[tuple[float, float]]:
    """Return left edge and width of every bar, in the drawing's order."""
    return [
        (float(left), float(width))
        for path in svg.iter(f"{SPACE}path")
        if path.get("fill") == "#000"
        for left, width in re.findall(r"M([\d.]+) [\d.]+h([\d.]+)v", path.get("d") or "")
    ]


def rows_in(svg: ElementTree.Element) -> list[str]:
    return [text.text or "" for text in svg.iter(f"{SPACE}text")]


@pytest.mark.parametrize(("stock", "dpi"), PRINTERS, ids=NAMES)
def test_each_bar_is_its_whole_dots_less_the_inset(stock: Stock, dpi: int) -> None:
    label = tag_label(42)
    bars = bars_in(ElementTree.fromstring(label_svg(stock, layout_for(stock), label, dpi)))
    wanted = list(encode_code128(label.code).bars())
    dots = round(bars[0][1] + 0.15) // wanted[0][1]
    first = bars[0][0] - 0.075
    assert dots >= 2
    assert first == int(first)
    assert len(bars) == len(wanted)
    for (left, width), (at, modules) in zip(bars, wanted, strict=True):
        assert left == pytest.approx(first + at * dots + 0.075, abs=0.001)
        assert width == pytest.approx(modules * dots - 0.15, abs=0.001)


@pytest.mark.parametrize(("stock", "dpi"), PRINTERS, ids=NAMES)
def test_a_unit_of_the_drawing_is_a_dot_and_its_size_the_labels(stock: Stock, dpi: int) -> None:
    svg = ElementTree.fromstring(label_svg(stock, layout_for(stock), tag_label(42), dpi))
    left, top, across, down = map(float, svg.attrib["viewBox"].split())
    assert (left, top) == (0, 0)
    for name, dots, units in (
        ("width", across, stock.label_width),
        ("height", down, stock.label_height),
    ):
        assert svg.attrib[name].endswith("mm")
        assert float(svg.attrib[name].removesuffix("mm")) == units / 10_000
        assert dots * 25.4 / dpi == pytest.approx(units / 10_000, abs=0.0001)


@pytest.mark.parametrize(("stock", "dpi"), PRINTERS, ids=NAMES)
def test_text_has_the_width_it_was_measured_with_and_stays_in_the_drawing(
    stock: Stock, dpi: int
) -> None:
    label = Label(tag(42), "Kessel Yard Injectors", ("Łukasz & Søn <INJ-17>",))
    svg = ElementTree.fromstring(label_svg(stock, layout_for(stock), label, dpi))
    _, _, across, down = map(float, svg.attrib["viewBox"].split())
    rows = list(svg.iter(f"{SPACE}text"))
    assert " ".join(rows_in(svg)) == "Kessel Yard Injectors Łukasz & Søn <INJ-17>"
    for row in rows:
        left, width = float(row.attrib["x"]), float(row.attrib["textLength"])
        assert row.get("lengthAdjust") == "spacingAndGlyphs"
        assert left >= 0
        assert left + width <= across
        assert float(row.attrib["y"]) < down


@given(st.text(st.characters(codec="utf-8"), min_size=1, max_size=8))
def test_no_text_can_break_the_drawing_or_bring_in_elements(text: str) -> None:
    stock = stock_named("roll-102x51")
    try:
        svg = label_svg(stock, layout_for(stock), Label(tag(42), f"A{text}", (text,)))
    except InvalidInput:
        return
    drawing = ElementTree.fromstring(svg)
    assert {each.tag for each in drawing.iter()} <= {
        f"{SPACE}{name}" for name in ("svg", "rect", "path", "text")
    }


def test_there_is_no_style_for_a_strict_page_to_refuse() -> None:
    stock = sheet("a4-24")
    for page in sheet_pages_svg(stock, layout_for(stock), [tag_label(n) for n in range(30)]):
        for each in ElementTree.fromstring(page).iter():
            assert each.tag != f"{SPACE}style"
            assert not {name for name in each.attrib if name == "style" or name.startswith("on")}


def test_labels_lie_in_the_places_from_the_first_free_one() -> None:
    stock = sheet("letter-30")
    labels = [tag_label(serial) for serial in range(42, 72)]
    pages = [
        ElementTree.fromstring(page)
        for page in sheet_pages_svg(stock, layout_for(stock), labels, first=5)
    ]
    shown = [[row for row in rows_in(page) if re.fullmatch(r"[\d ]{12}", row)] for page in pages]
    assert shown[0] == [label.shown for label in labels[:26]]
    assert shown[1] == [label.shown for label in labels[26:]]
    # Place 5 is the middle column of the second row: its middle is 4.7625 + 69.85 + 33.3375 mm.
    first = next(text for text in pages[0].iter(f"{SPACE}text") if text.text == labels[0].shown)
    middle = float(first.attrib["x"]) + float(first.attrib["textLength"]) / 2
    assert middle * 25.4 / 300 == pytest.approx(107.95, abs=0.01)
    assert 12.7 + 25.4 < float(first.attrib["y"]) * 25.4 / 300 < 12.7 + 50.8


def test_every_sheet_carries_a_line_of_exactly_50_mm() -> None:
    stock = sheet("a4-24")
    for page in sheet_pages_svg(stock, layout_for(stock), [tag_label(n) for n in range(30)]):
        assert "must measure 50 mm" in page
        (line,) = re.findall(r'd="M[\d.]+ [\d.]+h([\d.]+)M[^"]*" fill="none"', page)
        assert float(line) * 25.4 / 300 == pytest.approx(50, abs=0.001)


def test_a_roll_has_one_drawing_a_label() -> None:
    stock = roll("roll-50x25")
    labels = [tag_label(42), tag_label(43)]
    pages = roll_pages_svg(stock, layout_for(stock), labels, 300)
    assert pages == [label_svg(stock, layout_for(stock), label, 300) for label in labels]


def test_what_cannot_be_printed_is_refused_as_on_paper() -> None:
    small, page = roll("roll-50x25"), sheet("letter-30")
    with pytest.raises(InvalidInput, match="203 or 300 dpi, not 600"):
        label_svg(small, layout_for(small), tag_label(42), 600)
    with pytest.raises(InvalidInput, match="no label"):
        roll_pages_svg(small, layout_for(small), [])
    with pytest.raises(InvalidInput, match="no label"):
        sheet_pages_svg(page, layout_for(page), [])
    with pytest.raises(InvalidInput, match="1 to 30"):
        sheet_pages_svg(page, layout_for(page), [tag_label(42)], first=31)
    with pytest.raises(InvalidInput, match=r"It fits on .*roll-102x51"):
        label_svg(small, layout_for(small), Label("9" * 40, "nines"))


@pytest.mark.parametrize(
    ("name", "size"),
    [
        ("roll-50x25", "50mm 25mm"),
        ("roll-102x51", "101.6mm 50.8mm"),
        ("a4-24", "210mm 297mm"),
        ("letter-30", "215.9mm 279.4mm"),
    ],
)
def test_the_style_sheet_asks_for_the_stocks_own_page_without_margins(name: str, size: str) -> None:
    assert f"@page {{ size: {size}; margin: 0; }}" in print_page_css(stock_named(name))
