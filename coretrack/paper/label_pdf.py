"""Label sheets and roll labels as PDF: vector bars on whole printer dots, at actual size."""

from __future__ import annotations

from collections.abc import Sequence

from coretrack.figures.labels import (
    Box,
    Label,
    Layout,
    RollStock,
    SheetStock,
    chosen_dpi,
    sheet_places,
)
from coretrack.paper.label_design import design_label
from coretrack.paper.label_page import LabelPage, refuse_nothing


def sheet_pdf(stock: SheetStock, layout: Layout, labels: Sequence[Label], first: int = 1) -> bytes:
    """Return a PDF of label sheets, beginning at free position `first` of the first page.

    Raises InvalidInput for a `first` outside the sheet or a label that cannot be printed
    (`label_design.printable` sorts those out beforehand). The same input gives the same bytes.
    """
    places = sheet_places(stock, len(labels), first)
    refuse_nothing(labels)
    paper = LabelPage(f"Labels, {stock.title}", stock.page_width, stock.page_height)
    page = 0
    paper.draw_gauge(stock)
    for label, place in zip(labels, places, strict=True):
        if place.page != page:
            page = place.page
            paper.turn()
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
    refuse_nothing(labels)
    paper = LabelPage(f"Labels, {stock.title}", stock.label_width, stock.label_height)
    box = Box(0, 0, stock.label_width, stock.label_height)
    for index, label in enumerate(labels):
        if index:
            paper.turn()
        paper.draw(design_label(stock, layout, label, resolution), box)
    return paper.finished()
