"""Labels as SVG for the browser's own print dialogue: roll and sheet pages, their style sheet.

A page's user unit is one printer dot, so that bars are the same whole dots as in the PDF. There is
no style in the drawing itself; a page that forbids inline style shows and prints it all the same.
"""

from __future__ import annotations

from collections.abc import Sequence
from html import escape

from coretrack.figures.labels import (
    TENTHS_PER_INCH,
    UNITS_PER_INCH,
    Box,
    Label,
    Layout,
    RollStock,
    SheetStock,
    Stock,
    chosen_dpi,
    sheet_places,
)
from coretrack.paper.label_design import Design, design_label
from coretrack.paper.label_page import GAUGE_LENGTH, bar_spans, refuse_nothing
from coretrack.paper.label_text import SetText, pdf_width

FACES = "DejaVu Sans, Verdana, Arial, sans-serif"
"""The first that a computer has; `textLength` gives each the width that was measured."""

GAUGE_TEXT = "This line must measure 50 mm. If it does not, print again: scale 100, margins none."


def label_svg(stock: Stock, layout: Layout, label: Label, dpi: int | None = None) -> str:
    """Return one label as an SVG of its own size, to be seen on a page or printed from it.

    `dpi` is one of the stock's printers; None takes its usual one. Raises InvalidInput for a label
    that cannot be printed. All text is escaped: the result can stand in a page as it is.
    """
    resolution = chosen_dpi(stock, dpi)
    box = Box(0, 0, stock.label_width, stock.label_height)
    drawn = _drawn(design_label(stock, layout, label, resolution), box)
    return _svg(box.width, box.height, resolution, [drawn])


def roll_pages_svg(
    stock: RollStock, layout: Layout, labels: Sequence[Label], dpi: int | None = None
) -> list[str]:
    """Return one SVG a label, each a page of `print_page_css`."""
    refuse_nothing(labels)
    return [label_svg(stock, layout, label, dpi) for label in labels]


def sheet_pages_svg(
    stock: SheetStock,
    layout: Layout,
    labels: Sequence[Label],
    first: int = 1,
    dpi: int | None = None,
) -> list[str]:
    """Return one SVG a sheet, beginning at free position `first` of the first sheet.

    Raises InvalidInput for a `first` outside the sheet or a label that cannot be printed.
    """
    resolution = chosen_dpi(stock, dpi)
    places = sheet_places(stock, len(labels), first)
    refuse_nothing(labels)
    pages: list[list[str]] = [[] for _ in range(places[-1].page + 1)]
    for label, place in zip(labels, places, strict=True):
        design = design_label(stock, layout, label, resolution, label_left=place.box.left)
        pages[place.page].append(_drawn(design, place.box))
    gauge = _gauge(stock, resolution)
    return [_svg(stock.page_width, stock.page_height, resolution, [*page, gauge]) for page in pages]


def print_page_css(stock: Stock) -> str:
    """Return the style sheet of a page that holds a stock's SVG pages.

    Printed, each SVG is one sheet or one label of exactly its size without margins, and everything
    around them is left out; they must be siblings. Served as a file of its own, for inline style
    is forbidden.
    """
    width, height = _page_size(stock)
    return _CSS.replace("WIDTH", _mm(width)).replace("HEIGHT", _mm(height))


_CSS = """\
@page { size: WIDTHmm HEIGHTmm; margin: 0; }
.label-page { display: block; forced-color-adjust: none; }
@media screen {
  .label-page { max-width: 100%; height: auto; margin: 0.5rem 0; outline: 1px solid #767676; }
}
@media print {
  body :not(:has(.label-page), .label-page, .label-page *) { display: none !important; }
  :has(.label-page) {
    display: block !important;
    position: static !important;
    inline-size: auto !important;
    max-inline-size: none !important;
    block-size: auto !important;
    min-block-size: 0 !important;
    margin: 0 !important;
    padding: 0 !important;
    border: 0 !important;
    overflow: visible !important;
    background: none !important;
  }
  .label-page { break-inside: avoid; }
  .label-page + .label-page { break-before: page; }
}
"""


def _page_size(stock: Stock) -> tuple[int, int]:
    """Return width and height of what goes through the printer as one page."""
    if isinstance(stock, SheetStock):
        return stock.page_width, stock.page_height
    return stock.label_width, stock.label_height


def _svg(width: int, height: int, dpi: int, parts: Sequence[str]) -> str:
    """Return an SVG page of exactly that size around its parts."""
    dots = dpi / UNITS_PER_INCH
    return (
        f'<svg class="label-page" xmlns="http://www.w3.org/2000/svg" width="{_mm(width)}mm"'
        f' height="{_mm(height)}mm" viewBox="0 0 {_number(width * dots)} {_number(height * dots)}">'
        f'<rect width="100%" height="100%" fill="#fff"/>{"".join(parts)}</svg>'
    )


def _drawn(design: Design, box: Box) -> str:
    """Return a label's bars and text at their place of the page."""
    dots = design.fit.dpi / UNITS_PER_INCH
    top = _number((box.top + design.bar_band.top) * dots)
    height = _number(design.bar_band.height * dots)
    bars = "".join(
        f"M{_number(left)} {top}h{_number(width)}v{height}h-{_number(width)}z"
        for left, width in bar_spans(design)
    )
    middle = box.left + box.width / 2
    texts = [
        _text(placed.set_text, middle, box.top + placed.baseline, design.fit.dpi)
        for placed in design.texts
    ]
    return f'<path d="{bars}" fill="#000"/>{"".join(texts)}'


def _text(text: SetText, middle: float, baseline: float, dpi: int) -> str:
    """Return one row of type around a middle, as wide as it was measured whatever the face."""
    dots = dpi / UNITS_PER_INCH
    width = pdf_width(text.text, text.size, text.bold)
    weight = ' font-weight="bold"' if text.bold else ""
    return (
        f'<text x="{_number((middle - width / 2) * dots)}" y="{_number(baseline * dots)}"'
        f' font-family="{FACES}" font-size="{_number(text.size * dpi / TENTHS_PER_INCH)}"{weight}'
        f' textLength="{_number(width * dots)}" lengthAdjust="spacingAndGlyphs"'
        f' fill="#000">{escape(text.text)}</text>'
    )


def _gauge(stock: SheetStock, dpi: int) -> str:
    """Return the line that shows whether the page came out at its true size."""
    dots = dpi / UNITS_PER_INCH
    left = (stock.page_width - GAUGE_LENGTH) // 2
    point = UNITS_PER_INCH / 72
    level = _number(stock.gauge_top * dots)
    tick = _number(2.5 * point * dots)
    ends = "".join(
        f"M{_number(end * dots)} {level}m0 -{tick}v{_number(5 * point * dots)}"
        for end in (left, left + GAUGE_LENGTH)
    )
    line = f"M{_number(left * dots)} {level}h{_number(GAUGE_LENGTH * dots)}"
    thin = _number(0.4 * point * dots)
    words = _text(
        SetText(GAUGE_TEXT, 55, False),
        left + GAUGE_LENGTH / 2,
        stock.gauge_top + 7.5 * point,
        dpi,
    )
    return f'<path d="{line}{ends}" fill="none" stroke="#000" stroke-width="{thin}"/>{words}'


def _number(value: float) -> str:
    """Return a length in dots with at most three decimals: a thousandth of a dot is enough."""
    return f"{value:.3f}".rstrip("0").rstrip(".")


def _mm(units: int) -> str:
    """Return 1/10 000 mm as exact millimetres."""
    return f"{units / 10_000:.4f}".rstrip("0").rstrip(".")
