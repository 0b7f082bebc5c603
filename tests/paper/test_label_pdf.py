"""Label sheets and roll labels as PDF, printed to dots and read by an independent reader."""

from __future__ import annotations

import re
from io import BytesIO

import pytest
from label_reading import bar_runs, printed_pages, read_all, read_middles, tag, tag_label
from pypdf import PdfReader

from coretrack.errors import InvalidInput
from coretrack.figures.labels import Label, RollStock, SheetStock
from coretrack.paper.barcodes import encode_code128
from coretrack.paper.label_design import printable
from coretrack.paper.label_files import layout_for, load_stocks, stock_named
from coretrack.paper.label_pdf import roll_pdf, sheet_pdf

SHEETS = [name for name, stock in load_stocks().items() if isinstance(stock, SheetStock)]
ROLLS = [name for name, stock in load_stocks().items() if isinstance(stock, RollStock)]


def sheet(name: str) -> SheetStock:
    stock = stock_named(name)
    assert isinstance(stock, SheetStock)
    return stock


def roll(name: str) -> RollStock:
    stock = stock_named(name)
    assert isinstance(stock, RollStock)
    return stock


def tags(count: int) -> list[Label]:
    return [tag_label(serial) for serial in range(42, 42 + count)]


def longest_digits(stock: SheetStock | RollStock) -> Label:
    """Return the label with the longest row of nines that the stock takes."""
    for count in range(60, 0, -2):
        label = Label("9" * count, "nines", ())
        if printable(stock, layout_for(stock), [label]).good:
            return label
    raise AssertionError(f"{stock.name} takes no digits")


@pytest.mark.parametrize("touched", [False, True], ids=["greyed", "touched"])
@pytest.mark.parametrize("dpi", [203, 300])
@pytest.mark.parametrize("name", SHEETS)
def test_every_label_of_a_sheet_reads_also_when_the_page_was_shrunk(
    name: str, dpi: int, touched: bool
) -> None:
    stock = sheet(name)
    labels = [*tags(stock.places - 1), longest_digits(stock)]
    pdf = sheet_pdf(stock, layout_for(stock), labels)
    for scale in (1, 0.97, 0.94):
        (page,) = printed_pages(pdf, dpi * scale, touched=touched)
        assert read_all(page) == sorted(label.code for label in labels), scale


@pytest.mark.parametrize("touched", [False, True], ids=["greyed", "touched"])
@pytest.mark.parametrize("dpi", [203, 300])
@pytest.mark.parametrize("name", ROLLS)
def test_every_roll_label_reads_at_the_print_heads_resolution(
    name: str, dpi: int, touched: bool
) -> None:
    stock = roll(name)
    labels = [tag_label(42), longest_digits(stock), Label("990012", "99 0012"), Label("A/B", "A/B")]
    labels = list(printable(stock, layout_for(stock), labels, dpi).good)
    assert len(labels) >= 3
    pages = printed_pages(roll_pdf(stock, layout_for(stock), labels, dpi), dpi, touched=touched)
    assert [read_all(page) for page in pages] == [[label.code] for label in labels]


@pytest.mark.parametrize("dpi", [203, 300])
@pytest.mark.parametrize("name", ROLLS)
def test_no_bar_gains_a_dot_on_a_printer_that_blackens_what_it_touches(name: str, dpi: int) -> None:
    stock = roll(name)
    labels = [*tags(5), longest_digits(stock)]
    pages = printed_pages(roll_pdf(stock, layout_for(stock), labels, dpi), dpi, touched=True)
    for label, page in zip(labels, pages, strict=True):
        widths = encode_code128(label.code).widths
        runs = bar_runs(page)
        dots = runs[1] // widths[0]
        assert dots * 25.4 / dpi >= 0.25
        assert runs[1:-1] == [width * dots for width in widths]
        assert min(runs[0], runs[-1]) >= 10 * dots


def test_fifty_nine_nines_fit_the_widest_roll_at_both_resolutions() -> None:
    stock = roll("roll-102x51")
    label = Label("9" * 59, "59 nines")
    for dpi in (203, 300):
        (page,) = printed_pages(roll_pdf(stock, layout_for(stock), [label], dpi), dpi, touched=True)
        assert read_all(page) == ["9" * 59]


def test_labels_lie_in_the_places_from_the_first_free_one() -> None:
    stock = sheet("letter-30")
    labels = tags(25)
    pages = printed_pages(sheet_pdf(stock, layout_for(stock), labels, first=8), 150, touched=False)
    assert len(pages) == 2
    found: dict[tuple[int, int], str] = {}
    for number, page in enumerate(pages):
        for text, across, down in read_middles(page, 150):
            column = int((across - 4.7625) // 69.85)
            row = int((down - 12.7) // 25.4)
            found[number, row * 3 + column + 1] = text
    wanted = [(0, position) for position in range(8, 31)] + [(1, 1), (1, 2)]
    assert found == dict(zip(wanted, [label.code for label in labels], strict=True))


@pytest.mark.parametrize("first", [0, 31])
def test_a_first_place_outside_the_sheet_is_refused_with_the_range(first: int) -> None:
    stock = sheet("letter-30")
    with pytest.raises(InvalidInput, match="1 to 30"):
        sheet_pdf(stock, layout_for(stock), tags(25), first)


def test_an_empty_batch_is_refused() -> None:
    with pytest.raises(InvalidInput, match="no label"):
        sheet_pdf(sheet("a4-24"), layout_for(sheet("a4-24")), [])
    with pytest.raises(InvalidInput, match="no label"):
        roll_pdf(roll("roll-50x25"), layout_for(roll("roll-50x25")), [])


@pytest.mark.parametrize("name", SHEETS)
def test_a_sheet_asks_for_no_scaling_and_carries_a_gauge_line(name: str) -> None:
    stock = sheet(name)
    reader = PdfReader(BytesIO(sheet_pdf(stock, layout_for(stock), tags(stock.places + 1))))
    assert reader.trailer["/Root"]["/ViewerPreferences"]["/PrintScaling"] == "/None"
    assert len(reader.pages) == 2
    for page in reader.pages:
        assert "must measure 50 mm" in page.extract_text()
        width = 50 * 72 / 25.4
        lines = re.findall(
            r"([\d.]+) ([\d.]+) m ([\d.]+) ([\d.]+) l S", page.get_contents().get_data().decode()
        )
        assert any(
            abs(float(x1) - float(x0) - width) < 0.001 and y0 == y1 for x0, y0, x1, y1 in lines
        )
    size = reader.pages[0].mediabox
    assert float(size.width) == pytest.approx(stock.page_width * 72 / 254_000)
    assert reader.metadata is not None
    assert reader.metadata.title == f"Labels, {stock.title}"


def test_a_roll_labels_page_is_the_label() -> None:
    stock = roll("roll-50x25")
    reader = PdfReader(BytesIO(roll_pdf(stock, layout_for(stock), tags(3))))
    assert len(reader.pages) == 3
    assert float(reader.pages[0].mediabox.width) == pytest.approx(50 * 72 / 25.4)
    assert float(reader.pages[0].mediabox.height) == pytest.approx(25 * 72 / 25.4)
    assert reader.trailer["/Root"]["/ViewerPreferences"]["/PrintScaling"] == "/None"


def test_the_same_labels_give_the_same_bytes() -> None:
    stock = sheet("a4-24")
    once = sheet_pdf(stock, layout_for(stock), tags(30))
    assert once == sheet_pdf(stock, layout_for(stock), tags(30))


def test_text_stays_inside_the_label_and_clear_of_the_bars() -> None:
    stock = roll("roll-50x25")
    part = "7731-120-123-REV-C-LONG-PART-NUMBER-30"
    label = Label("1234567890123456789012", "1234 5678 9012 3456 7890 12", (part, "Łukasz – Ω"))
    pdf = roll_pdf(stock, layout_for(stock), [label])
    (page,) = printed_pages(pdf, 203, touched=False)
    assert read_all(page) == [label.code]
    ink = page.point(lambda grey: 255 if grey < 200 else 0).getbbox()
    assert ink is not None
    assert ink[0] >= 2
    assert ink[1] >= 2
    assert ink[2] <= page.width - 2
    assert ink[3] <= page.height - 2
    text = PdfReader(BytesIO(pdf)).pages[0].extract_text()
    assert part in text.replace("\n", "")
    assert "Łukasz" in text


def test_bars_too_long_for_a_stock_are_refused_with_what_would_fit() -> None:
    stock = roll("roll-50x25")
    label = Label("7731-120-123-REV-C-LONG-PART-NUMBER-30", "7731-120")
    with pytest.raises(InvalidInput) as refusal:
        roll_pdf(stock, layout_for(stock), [label])
    # 48.8 mm hold 390 dots, 195 modules of two dots; less 20 quiet ones and 35 for start, check
    # and stop, twelve words of 11 modules are left.
    assert "room for 24 digits or 12 letters" in refusal.value.message
    fitting = [Label("9" * 24, "24"), Label("A" * 12, "12")]
    too_long = [Label("9" * 26, "26"), Label("A" * 13, "13")]
    assert printable(stock, layout_for(stock), [*fitting, *too_long]).good == tuple(fitting)
    with pytest.raises(InvalidInput, match=r"It fits on .*roll-102x51"):
        roll_pdf(stock, layout_for(stock), [Label("9" * 40, "nines")])


def test_one_bad_label_does_not_stop_the_others_of_a_batch() -> None:
    stock = sheet("letter-30")
    bad = [
        Label("CT-00\u04121", "CT-001"),
        Label("Córdoba-7", "7"),
        Label(" 12", "12"),
        Label("12", "   "),
        Label("12", "\u0412-12"),
        Label("12", "W" * 70),
        Label("12", "12", ("unbroken" * 20,)),
        Label("12", "12", ("many words " * 20,)),
    ]
    good = tags(2)
    sorted_out = printable(stock, layout_for(stock), [good[0], *bad, good[1]])
    assert list(sorted_out.good) == good
    assert [refused.label for refused in sorted_out.refused] == bad
    reasons = [refused.why for refused in sorted_out.refused]
    assert "sign 6 is 'В' (CYRILLIC CAPITAL LETTER VE)" in reasons[0]
    assert "sign 2 is 'ó'" in reasons[1]
    assert "blank" in reasons[2]
    assert "empty" in reasons[3]
    assert "sign 1 is CYRILLIC CAPITAL LETTER VE" in reasons[4]
    assert "room for 62.7 mm" in reasons[5]
    assert "mm wide" in reasons[6]
    assert "rows and there is room for 2" in reasons[7]
    (page,) = printed_pages(
        sheet_pdf(stock, layout_for(stock), sorted_out.good), 203, touched=False
    )
    assert read_all(page) == [tag(42), tag(43)]
