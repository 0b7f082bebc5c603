"""A page of labels or cards as PDF: vector bars on whole printer dots, at actual size."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from io import BytesIO
from typing import Any

from reportlab.pdfgen.canvas import Canvas

from coretrack.errors import InvalidInput
from coretrack.figures.labels import UNITS_PER_INCH, UNITS_PER_MM, Box, Label, SheetStock
from coretrack.paper.label_design import Design
from coretrack.paper.label_text import SetText, pdf_font

INSET_DOTS = 0.15
"""Each bar is this much narrower than its dots. An edge exactly on a dot boundary may be drawn
a dot too wide by a printer that blackens every dot it touches, and such bars do not read."""

GAUGE_LENGTH = 50 * UNITS_PER_MM
GAUGE_TEXT = "This line must measure 50 mm. If it does not, print again at actual size (100 %)."

_CUT_MARK = (10_000, 35_000)
"""Where a cutting mark begins and ends, measured away from the cards."""


def refuse_nothing(labels: Sequence[Label]) -> None:
    """Refuse an empty batch; an empty sheet is a jam nobody asked for."""
    if not labels:
        raise InvalidInput("There is no label to print; choose at least one core or code.")


def bar_spans(design: Design) -> Iterator[tuple[float, float]]:
    """Yield each bar as (left edge, width) in dots from the left of the page or the label."""
    fit = design.fit
    for at, modules in design.bars.bars():
        left = fit.first_dot + at * fit.module_dots + INSET_DOTS / 2
        yield left, modules * fit.module_dots - INSET_DOTS


class LabelPage:
    """A PDF being drawn, page by page; lengths are 1/10 000 mm from the top left corner."""

    def __init__(self, title: str, width: int, height: int) -> None:
        self.buffer = BytesIO()
        self.height = height
        self.canvas: Any = Canvas(
            self.buffer, pagesize=(points(width), points(height)), invariant=1, pageCompression=1
        )
        self.canvas.setViewerPreference("PrintScaling", "None")
        self.canvas.setTitle(title)
        self.canvas.setSubject("Print at actual size (100 %)")
        self.canvas.setAuthor("")
        self.canvas.setCreator("coretrack")

    def draw(self, design: Design, box: Box) -> None:
        """Draw a label into its box of the page."""
        self._draw_bars(design, box)
        for placed in design.texts:
            self.write(placed.set_text, box.left + box.width / 2, box.top + placed.baseline)

    def _draw_bars(self, design: Design, box: Box) -> None:
        """Draw the bars as one path; its unit across is a dot, so that edges are exact."""
        canvas = self.canvas
        canvas.saveState()
        level = self.height - box.top - design.bar_band.bottom
        canvas.transform(72 / design.fit.dpi, 0, 0, 1, 0, points(level))
        path = canvas.beginPath()
        height = points(design.bar_band.height)
        for left, width in bar_spans(design):
            path.rect(left, 0, width, height)
        canvas.drawPath(path, stroke=0, fill=1)
        canvas.restoreState()

    def write(self, text: SetText, middle: float, baseline: float) -> None:
        """Write one row of type around a middle."""
        self.canvas.setFont(pdf_font(text.bold), text.size / 10)
        self.canvas.drawCentredString(points(middle), self._level(baseline), text.text)

    def write_left(self, text: SetText, left: float, baseline: float) -> None:
        """Write one row of type that begins at `left`."""
        self.canvas.setFont(pdf_font(text.bold), text.size / 10)
        self.canvas.drawString(points(left), self._level(baseline), text.text)

    def frame(self, box: Box) -> None:
        """Draw a hairline around a box."""
        self.canvas.setLineWidth(0.4)
        level = self._level(box.bottom)
        self.canvas.rect(points(box.left), level, points(box.width), points(box.height))

    def line(self, left: float, top: float, right: float, bottom: float) -> None:
        """Draw a hairline from one point to another."""
        self.canvas.setLineWidth(0.4)
        self.canvas.line(points(left), self._level(top), points(right), self._level(bottom))

    def draw_gauge(self, stock: SheetStock) -> None:
        """Draw the line that shows whether the page came out at its true size."""
        left = (stock.page_width - GAUGE_LENGTH) // 2
        right = left + GAUGE_LENGTH
        top = stock.gauge_top
        tick = round(2.5 * UNITS_PER_INCH / 72)
        self.line(left, top, right, top)
        for end in (left, right):
            self.line(end, top - tick, end, top + tick)
        baseline = top + 3 * tick
        self.write(SetText(GAUGE_TEXT, 55, False), (left + right) / 2, baseline)

    def draw_cut_marks(self, stock: SheetStock) -> None:
        """Draw short lines outside the cards at the edges of every column and row."""
        near, far = _CUT_MARK
        first, last = stock.box_of(1), stock.box_of(stock.places)
        for column in range(stock.columns):
            box = stock.box_of(column + 1)
            for edge in (box.left, box.right):
                self.line(edge, first.top - far, edge, first.top - near)
                self.line(edge, last.bottom + near, edge, last.bottom + far)
        for row in range(stock.rows):
            box = stock.box_of(row * stock.columns + 1)
            for edge in (box.top, box.bottom):
                self.line(first.left - far, edge, first.left - near, edge)
                self.line(last.right + near, edge, last.right + far, edge)

    def turn(self) -> None:
        """End this page and begin the next."""
        self.canvas.showPage()

    def finished(self) -> bytes:
        """Close the PDF and return it."""
        self.canvas.save()
        return self.buffer.getvalue()

    def _level(self, top: float) -> float:
        """Return a length from the top of the page as points from its bottom."""
        return points(self.height - top)


def points(units: float) -> float:
    """Return 1/10 000 mm in points."""
    return units * 72 / UNITS_PER_INCH
