"""One roll label as a picture of black and white dots, exactly as the print head will burn it."""

from __future__ import annotations

from io import BytesIO

from PIL import Image, ImageDraw

from coretrack.figures.labels import (
    UNITS_PER_INCH,
    Label,
    Layout,
    RollStock,
    chosen_dpi,
    whole_dots,
)
from coretrack.paper.label_design import design_label
from coretrack.paper.label_text import picture_font, picture_width


def roll_png(stock: RollStock, layout: Layout, label: Label, dpi: int | None = None) -> bytes:
    """Return a one-bit PNG of a label, one pixel a printer dot, with its resolution written in.

    `dpi` is one of the stock's print heads; None takes its usual one. The picture is never larger
    than the label, so that no driver shrinks it. Raises InvalidInput for a label that does not fit.
    """
    resolution = chosen_dpi(stock, dpi)
    design = design_label(stock, layout, label, resolution, picture_width(resolution))
    width = whole_dots(stock.label_width, resolution)
    picture = Image.new("1", (width, whole_dots(stock.label_height, resolution)), 1)
    pen = ImageDraw.Draw(picture)
    top = round(design.bar_band.top * resolution / UNITS_PER_INCH)
    bottom = top + whole_dots(design.bar_band.height, resolution)
    dots = design.fit.module_dots
    for at, modules in design.bars.bars():
        left = design.fit.first_dot + at * dots
        pen.rectangle((left, top, left + modules * dots - 1, bottom - 1), fill=0)
    for placed in design.texts:
        text = placed.set_text
        font = picture_font(text.bold, text.size, resolution)
        left = round((width - font.getlength(text.text)) / 2)
        baseline = round(placed.baseline * resolution / UNITS_PER_INCH)
        pen.text((left, baseline), text.text, fill=0, font=font, anchor="ls")
    buffer = BytesIO()
    picture.save(buffer, "PNG", dpi=(resolution, resolution), optimize=True)
    return buffer.getvalue()
