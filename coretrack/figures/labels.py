"""Label stocks, layouts and where everything lies on them; geometry only, nothing is drawn here.

Lengths are whole counts of 1/10 000 mm (`UNITS_PER_MM`), so that both 66 mm and 3/16 in are exact.
Type sizes are whole tenths of a point. A dot is one printer dot, 25.4 mm / dpi.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction

from coretrack.errors import InvalidInput

UNITS_PER_MM = 10_000
UNITS_PER_INCH = 254_000
TENTHS_PER_INCH = 720
"""Tenths of a point in an inch; a point is 1/72 in."""

QUIET_MODULES = 10
"""Blank modules beside the bars, each side (GS1 General Specifications release 18, 5.4.4)."""

LEAST_BAR_HEIGHT = 5 * UNITS_PER_MM
"""Common practice for hand scanning: 5 mm or 15 % of the bars' length, whichever is more."""

LEAST_TEXT = 50
"""Tenths of a point under which text on a label is not legible; common practice, no source."""


@dataclass(frozen=True)
class Label:
    """One label: `code` is what the bars hold, `shown` the big text, `lines` the small ones."""

    code: str
    shown: str
    lines: tuple[str, ...] = ()


@dataclass(frozen=True)
class Box:
    """A rectangle in 1/10 000 mm, measured right and down from a top left corner."""

    left: int
    top: int
    width: int
    height: int

    @property
    def right(self) -> int:
        """Return the distance of the right edge from the corner."""
        return self.left + self.width

    @property
    def bottom(self) -> int:
        """Return the distance of the lower edge from the corner."""
        return self.top + self.height


@dataclass(frozen=True)
class SheetStock:
    """Labels on a page: `dpi` is the grid the bars are laid on, `module_*` their width limits."""

    name: str
    title: str
    layout: str
    label_width: int
    label_height: int
    dpi: tuple[int, ...]
    module_least: int
    module_most: int
    page_width: int
    page_height: int
    columns: int
    rows: int
    pitch_x: int
    pitch_y: int
    margin_left: int
    margin_top: int
    gauge_top: int

    def __post_init__(self) -> None:
        _check_label_size(self)
        if self.columns < 1 or self.rows < 1:
            raise InvalidInput(f"Stock '{self.name}': columns and rows must be 1 or more.")
        if self.pitch_x < self.label_width or self.pitch_y < self.label_height:
            raise InvalidInput(
                f"Stock '{self.name}': labels overlap; the pitch must be at least "
                "the label's width and height."
            )
        last = self.box_of(self.places)
        if (
            self.margin_left < 0
            or self.margin_top < 0
            or (last.right > self.page_width or last.bottom > self.page_height)
        ):
            raise InvalidInput(
                f"Stock '{self.name}': the labels reach {in_mm(last.right)} x "
                f"{in_mm(last.bottom)} mm, past the page of {in_mm(self.page_width)} x "
                f"{in_mm(self.page_height)} mm."
            )

    @property
    def places(self) -> int:
        """Return how many labels one page holds."""
        return self.columns * self.rows

    def box_of(self, position: int) -> Box:
        """Return the box on the page of a position, counted from 1 row by row."""
        row, column = divmod(position - 1, self.columns)
        return Box(
            self.margin_left + column * self.pitch_x,
            self.margin_top + row * self.pitch_y,
            self.label_width,
            self.label_height,
        )


@dataclass(frozen=True)
class RollStock:
    """Single labels from a roll; `dpi` lists the print heads it is cut for, the usual one first."""

    name: str
    title: str
    layout: str
    label_width: int
    label_height: int
    dpi: tuple[int, ...]
    module_least: int
    module_most: int

    def __post_init__(self) -> None:
        _check_label_size(self)


Stock = SheetStock | RollStock


@dataclass(frozen=True)
class Layout:
    """What stands on a label from the top down: bars, the big text, `rows` rows of small text."""

    name: str
    title: str
    padding_x: int
    padding_y: int
    gap: int
    bar_height_most: int
    shown_most: int
    shown_least: int
    rows: int
    row_most: int
    row_least: int

    def __post_init__(self) -> None:
        if min(self.shown_least, self.row_least) < LEAST_TEXT:
            raise InvalidInput(f"Layout '{self.name}': text under 5 pt cannot be read on a label.")
        if self.shown_most < self.shown_least or self.row_most < self.row_least:
            raise InvalidInput(f"Layout '{self.name}': a largest type size lies under its least.")
        if min(self.padding_x, self.padding_y, self.gap, self.rows) < 0:
            raise InvalidInput(f"Layout '{self.name}': padding, gap and rows cannot be negative.")


@dataclass(frozen=True)
class Place:
    """Where one label of a batch goes: page from 0, position from 1, and its box on the page."""

    page: int
    position: int
    box: Box


@dataclass(frozen=True)
class BarFit:
    """Bars laid on the dot grid: `first_dot` is counted from the page's or the label's left."""

    dpi: int
    module_dots: int
    first_dot: int

    def module_width(self) -> Fraction:
        """Return the module width in mm."""
        return Fraction(self.module_dots * UNITS_PER_INCH, self.dpi * UNITS_PER_MM)


@dataclass(frozen=True)
class Arrangement:
    """Bands of a label, measured from the label's own top left corner."""

    bars: Box
    shown: Box
    rows: tuple[Box, ...]


def in_units(millimetres: Decimal) -> int:
    """Return millimetres as a whole count of 1/10 000 mm, or raise ValueError if it is not one."""
    units = millimetres * UNITS_PER_MM
    if units != units.to_integral_value():
        raise ValueError(f"{millimetres} mm is finer than 1/10 000 mm")
    return int(units)


def in_mm(units: int | Fraction) -> str:
    """Return a length for a message: millimetres with one decimal place."""
    tenths = round(Fraction(units) * 10 / UNITS_PER_MM)
    return f"{tenths // 10}.{tenths % 10}"


def text_units(tenths: int | Fraction) -> int:
    """Return a length of tenths of a point in 1/10 000 mm, rounded up."""
    return -(-Fraction(tenths) * UNITS_PER_INCH // TENTHS_PER_INCH)


def whole_dots(units: int, dpi: int) -> int:
    """Return how many whole dots lie within a length."""
    return units * dpi // UNITS_PER_INCH


def sheet_places(stock: SheetStock, count: int, first: int = 1) -> list[Place]:
    """Return a place for each of `count` labels, beginning at free position `first` of page one.

    Every label gets exactly one place. A `first` outside the sheet is refused with the range.
    """
    if not 1 <= first <= stock.places:
        raise InvalidInput(
            f"The first free place must be 1 to {stock.places} on '{stock.name}', not {first}.",
            {"first": f"1 to {stock.places}"},
        )
    places = []
    for index in range(first - 1, first - 1 + count):
        page, position = divmod(index, stock.places)
        places.append(Place(page, position + 1, stock.box_of(position + 1)))
    return places


def chosen_dpi(stock: Stock, dpi: int | None) -> int:
    """Return `dpi` if the stock is made for it, its usual one for None, else refuse."""
    if dpi is None:
        return stock.dpi[0]
    if dpi not in stock.dpi:
        known = " or ".join(str(each) for each in stock.dpi)
        raise InvalidInput(
            f"'{stock.name}' is laid out for {known} dpi, not {dpi}.", {"dpi": known}
        )
    return dpi


def module_limits(stock: Stock, dpi: int) -> tuple[int, int]:
    """Return the least and most whole dots a module may have; two dots are always the least."""
    least = max(2, -(-stock.module_least * dpi // UNITS_PER_INCH))
    return least, max(least, whole_dots(stock.module_most, dpi))


def most_modules(stock: Stock, layout: Layout, dpi: int) -> int:
    """Return how many modules of bars the label has room for beside both quiet zones."""
    least, _ = module_limits(stock, dpi)
    # A label that starts between two dots loses up to one dot on each side.
    lost = 2 if isinstance(stock, SheetStock) else 0
    room = whole_dots(stock.label_width - 2 * layout.padding_x, dpi) - lost
    return room // least - 2 * QUIET_MODULES


def fit_bars(
    modules: int, stock: Stock, layout: Layout, dpi: int, label_left: int = 0
) -> BarFit | None:
    """Return the widest whole-dot bars that fit, middle of the label, or None if none do.

    Width and start are whole dots from the page's left edge, the quiet zones lie inside the
    label's padding. `label_left` is where the label begins on its page.
    """
    if modules > most_modules(stock, layout, dpi):
        return None
    least, most = module_limits(stock, dpi)
    left = -(-(label_left + layout.padding_x) * dpi // UNITS_PER_INCH)
    right = whole_dots(label_left + stock.label_width - layout.padding_x, dpi)
    module_dots = min(most, max(least, (right - left) // (modules + 2 * QUIET_MODULES)))
    return BarFit(dpi, module_dots, left + (right - left - modules * module_dots) // 2)


def arrange(stock: Stock, layout: Layout, rows: int, bars_length: int | Fraction) -> Arrangement:
    """Return the bands of a label whose bars are `bars_length` long (1/10 000 mm).

    The bars get the height that text and padding leave, up to the layout's most; what is then
    left over goes above and below in equal parts. A label too low for bars of 5 mm or 15 % of
    their length is refused.
    """
    width = stock.label_width - 2 * layout.padding_x
    shown = text_units(layout.shown_most)
    row = text_units(Fraction(layout.row_most * 115, 100))
    room = stock.label_height - 2 * layout.padding_y - layout.gap - shown - rows * row
    least = max(LEAST_BAR_HEIGHT, -(-Fraction(bars_length) * 15 // 100))
    if room < least:
        raise InvalidInput(
            f"Layout '{layout.name}' leaves {in_mm(max(room, 0))} mm for the bars on "
            f"'{stock.name}'; {in_mm(least)} mm are needed. Take a higher label or another layout."
        )
    height = max(least, min(room, layout.bar_height_most))
    top = layout.padding_y + (room - height) // 2
    bars = Box(layout.padding_x, top, width, height)
    big = Box(layout.padding_x, bars.bottom + layout.gap, width, shown)
    return Arrangement(
        bars,
        big,
        tuple(Box(layout.padding_x, big.bottom + n * row, width, row) for n in range(rows)),
    )


def stocks_with_room(modules: int, candidates: Sequence[tuple[Stock, Layout]]) -> list[str]:
    """Return the names of the stocks whose usual layout has room for that many modules."""
    return [
        stock.name
        for stock, layout in candidates
        if all(modules <= most_modules(stock, layout, dpi) for dpi in stock.dpi)
    ]


def _check_label_size(stock: Stock) -> None:
    """Refuse a stock without a size, a print resolution or sensible module widths."""
    if stock.label_width <= 0 or stock.label_height <= 0:
        raise InvalidInput(f"Stock '{stock.name}': a label needs a width and a height in mm.")
    if not stock.dpi or min(stock.dpi) < 100:
        raise InvalidInput(f"Stock '{stock.name}': dpi must list 100 or more, such as [203, 300].")
    if not 0 < stock.module_least <= stock.module_most:
        raise InvalidInput(
            f"Stock '{stock.name}': module_least must be over 0 mm and no more than module_most."
        )
