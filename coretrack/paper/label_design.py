"""A label worked out before it is drawn: its bars on the dot grid and its text in size and place.

The sheet, the roll's PDF and the roll's picture draw the same design. A label that cannot be
printed right is refused here, with what would fit.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from fractions import Fraction

from coretrack.errors import InvalidInput
from coretrack.figures.labels import (
    QUIET_MODULES,
    UNITS_PER_INCH,
    BarFit,
    Box,
    Label,
    Layout,
    SheetStock,
    Stock,
    arrange,
    chosen_dpi,
    fit_bars,
    in_mm,
    module_limits,
    most_modules,
    stocks_with_room,
    text_units,
)
from coretrack.paper.barcodes import Bars, as_shown, encode_code128
from coretrack.paper.label_files import layout_named, load_stocks
from coretrack.paper.label_text import (
    ASCENT,
    Measure,
    SetText,
    pdf_width,
    picture_width,
    set_rows,
    set_shown,
)


@dataclass(frozen=True)
class PlacedText:
    """A row of text with its baseline, measured down from the label's top in 1/10 000 mm."""

    set_text: SetText
    baseline: int


@dataclass(frozen=True)
class Design:
    """A label ready to draw; `bar_band` and the baselines are measured from its own top left."""

    bars: Bars
    fit: BarFit
    bar_band: Box
    texts: tuple[PlacedText, ...]


@dataclass(frozen=True)
class Refused:
    """A label of a batch that cannot be printed, and why."""

    label: Label
    why: str


@dataclass(frozen=True)
class Printable:
    """A batch sorted before printing, both parts in the batch's own order."""

    good: tuple[Label, ...]
    refused: tuple[Refused, ...]


def design_label(
    stock: Stock,
    layout: Layout,
    label: Label,
    dpi: int,
    measure: Measure = pdf_width,
    label_left: int = 0,
) -> Design:
    """Return the design of one label, or raise InvalidInput that says what would fit.

    `label_left` is where the label begins on its page (1/10 000 mm), for the dot grid runs
    through the page.
    """
    bars = _checked_bars(label.code)
    fit = fit_bars(bars.modules, stock, layout, dpi, label_left)
    if fit is None:
        raise InvalidInput(_no_room(bars, stock, layout, dpi))
    width = stock.label_width - 2 * layout.padding_x
    big = set_shown(label.shown, width, layout.shown_most, layout.shown_least, measure)
    rows = set_rows(label.lines, layout.rows, width, layout.row_most, layout.row_least, measure)
    length = Fraction(bars.modules * fit.module_dots * UNITS_PER_INCH, dpi)
    bands = arrange(stock, layout, len(rows), length)
    places = [*_parted(bands.shown, len(big)), *bands.rows]
    texts = [
        PlacedText(text, _baseline(text, band))
        for text, band in zip([*big, *rows], places, strict=True)
    ]
    return Design(bars, fit, bands.bars, tuple(texts))


def printable(
    stock: Stock, layout: Layout, labels: Iterable[Label], dpi: int | None = None
) -> Printable:
    """Sort a batch into the labels that can be printed on a stock and those refused, with why.

    Printing the good ones afterwards does not fail, neither as PDF nor as picture.
    """
    resolution = chosen_dpi(stock, dpi)
    measures: list[Measure] = [pdf_width]
    if not isinstance(stock, SheetStock):
        measures.append(picture_width(resolution))
    good: list[Label] = []
    refused: list[Refused] = []
    for label in labels:
        try:
            for measure in measures:
                design_label(stock, layout, label, resolution, measure)
        except InvalidInput as error:
            refused.append(Refused(label, error.message))
        else:
            good.append(label)
    return Printable(tuple(good), tuple(refused))


def _checked_bars(code: str) -> Bars:
    """Return the bars of a code that also survives the reader's way into a form."""
    if code != code.strip():
        raise InvalidInput(
            f"{as_shown(code)} begins or ends with a blank, which is lost when it is scanned; "
            "leave the blank out."
        )
    return encode_code128(code)


def _parted(band: Box, rows: int) -> list[Box]:
    """Return a band parted into rows of equal height."""
    height = band.height // rows
    return [Box(band.left, band.top + n * height, band.width, height) for n in range(rows)]


def _baseline(text: SetText, band: Box) -> int:
    """Return the baseline of a row that stands in the middle of its band."""
    spare = max(0, band.height - text_units(text.size))
    return band.top + spare // 2 + round(text_units(text.size) * ASCENT)


def _no_room(bars: Bars, stock: Stock, layout: Layout, dpi: int) -> str:
    """Return the refusal of bars that are too long for a stock, with what would fit."""
    least, _ = module_limits(stock, dpi)
    length = Fraction((bars.modules + 2 * QUIET_MODULES) * least * UNITS_PER_INCH, dpi)
    words = (most_modules(stock, layout, dpi) - 35) // 11
    room = (
        f"which has room for {2 * words} digits or {words} letters"
        if words > 0
        else "which has no room for bars at all"
    )
    others = stocks_with_room(
        bars.modules, [(each, layout_named(each.layout)) for each in load_stocks().values()]
    )
    advice = f"It fits on {', '.join(others)}." if others else "Take a shorter text."
    return (
        f"The bars of {as_shown(bars.text)} with their blank margins are {in_mm(length)} mm long, "
        f"too long for '{stock.name}', {room}. {advice}"
    )
