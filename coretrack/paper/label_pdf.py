"""Label sheets and roll labels as PDF: vector bars on whole printer dots, at actual size."""

from __future__ import annotations

from collections.abc import Sequence
from io import BytesIO
from typing import Any

from reportlab.pdfgen.canvas import Canvas

from coretrack.errors import InvalidInput
from coretrack.figures.labels import (
    UNITS_PER_INCH,
    UNITS_PER_MM,
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
from coretrack.paper.label_text import pdf_font

INSET_DOTS = 0.15
"""Each bar is this much narrower than its dots. An edge exactly on a dot boundary may be drawn
a dot too wide by a printer that blackens every dot it touches, and such bars do not read."""

GAUGE_LENGTH = 50 * UNITS_PER_MM
_GAUGE_TEXT = "This line must measure 50 mm. If it does not, print again at actual size (100 %)."


def sheet_pdf(stock: SheetStock, layout: Layout, labels: Sequence[Label], first: int = 1) -> bytes:
    """Return a PDF of label sheets, beginning at free position `first` of the first page.

    Raises InvalidInput for a `first` outside the sheet or a label that cannot be printed
    (`label_design.printable` sorts those out beforehand). The same input gives the same bytes.
    """
    places = sheet_places(stock, len(labels), first)
    _refuse_nothing(labels)
    paper = _Paper(stock, stock.page_width, stock.page_height)
    page = 0
    paper.draw_gauge(stock)
    for label, place in zip(labels, places, strict=True):
        if place.page != page:
            page = place.page
            paper.canvas.showPage()
            paper.draw_gauge(stock)
        design = design_label(stock, layout, label, stock.dpi[0], label_left=place.box.left)
        paper.draw(design, place.box)
    return paper.finished()


def roll_pdf(
    stock: RollStock, layout: Layout, labels: Sequence[Label], dpi: int | None = None
) -> bytes:
    """Return a PDF with one label a page, the page as large as the label.

    `dpi` is the print head, one of the stock's; None takes its usual one.
    """
    resolution = chosen_dpi(stock, dpi)
    _refuse_nothing(labels)
    paper = _Paper(stock, stock.label_width, stock.label_height)
    box = Box(0, 0, stock.label_width, stock.label_height)
    for index, label in enumerate(labels):
        if index:
            paper.canvas.showPage()
        paper.draw(design_label(stock, layout, label, resolution), box)
    return paper.finished()


def _refuse_nothing(labels: Sequence[Label]) -> None:
    """Refuse an empty batch; an empty sheet is a jam nobody asked for."""
    if not labels:
        raise InvalidInput("There is no label to print; choose at least one core or code.")


class _Paper:
    """A PDF being drawn, in points from the lower left corner."""

    def __init__(self, stock: Stock, width: int, height: int) -> None:
        self.buffer = BytesIO()
        self.height = height
        self.canvas: Any = Canvas(
            self.buffer, pagesize=(_points(width), _points(height)), invariant=1, pageCompression=1
        )
        self.canvas.setViewerPreference("PrintScaling", "None")
        self.canvas.setTitle(f"Labels, {stock.title}")
        self.canvas.setSubject("Print at actual size (100 %)")
        self.canvas.setAuthor("")
        self.canvas.setCreator("coretrack")

    def draw(self, design: Design, box: Box) -> None:
        """Draw a label into its box of the page."""
        self._draw_bars(design, box)
        middle = _points(box.left) + _points(box.width) / 2
        for placed in design.texts:
            text = placed.set_text
            self.canvas.setFont(pdf_font(text.bold), text.size / 10)
            baseline = _points(self.height - box.top - placed.baseline)
            self.canvas.drawCentredString(middle, baseline, text.text)

    def _draw_bars(self, design: Design, box: Box) -> None:
        """Draw the bars as one path; its unit across is a dot, so that edges are exact."""
        fit = design.fit
        bottom = self.height - box.top - design.bar_band.bottom
        canvas = self.canvas
        canvas.saveState()
        canvas.transform(72 / fit.dpi, 0, 0, 1, 0, _points(bottom))
        path = canvas.beginPath()
        height = _points(design.bar_band.height)
        for at, width in design.bars.bars():
            left = fit.first_dot + at * fit.module_dots + INSET_DOTS / 2
            path.rect(left, 0, width * fit.module_dots - INSET_DOTS, height)
        canvas.drawPath(path, stroke=0, fill=1)
        canvas.restoreState()

    def draw_gauge(self, stock: SheetStock) -> None:
        """Draw the line that shows whether the page came out at its true size."""
        canvas = self.canvas
        left = _points((stock.page_width - GAUGE_LENGTH) // 2)
        right = left + _points(GAUGE_LENGTH)
        level = _points(stock.page_height - stock.gauge_top)
        canvas.setLineWidth(0.4)
        canvas.line(left, level, right, level)
        for end in (left, right):
            canvas.line(end, level - 2.5, end, level + 2.5)
        canvas.setFont(pdf_font(False), 5.5)
        canvas.drawCentredString((left + right) / 2, level - 7.5, _GAUGE_TEXT)

    def finished(self) -> bytes:
        """Close the PDF and return it."""
        self.canvas.save()
        return self.buffer.getvalue()


def _points(units: int) -> float:
    """Return 1/10 000 mm in points."""
    return units * 72 / UNITS_PER_INCH
