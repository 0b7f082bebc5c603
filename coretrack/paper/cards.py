"""The shop's code cards as PDF: badges, cards of bins, baskets and racks, and bench code sheets."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from coretrack.errors import InvalidInput
from coretrack.figures.labels import UNITS_PER_MM, Box, Label, Layout, SheetStock, sheet_places
from coretrack.figures.tags import (
    ORDERS,
    BadCode,
    ShopCode,
    is_own_code,
    make_shop_code,
    parse_shop_code,
    show_tag,
)
from coretrack.figures.wording import SAFETY
from coretrack.paper.label_design import Design, design_label
from coretrack.paper.label_files import layout_named, load_stocks, stock_named
from coretrack.paper.label_page import LabelPage
from coretrack.paper.label_text import SetText, pdf_width, set_big_text, set_rows

PLACE_KINDS = ("bin", "basket", "rack")

CARDS = "a4-cards-10"
"""The stock that cards are printed on where no other is asked for."""


@dataclass(frozen=True)
class BadgeCard:
    """A person's badge: `code` is what signs in; the PIN stands on no paper."""

    name: str
    role: str
    code: str


@dataclass(frozen=True)
class PlaceCard:
    """The card of a place for cores; `kind` is bin, basket or rack, as its code says too."""

    name: str
    code: str
    kind: str


@dataclass(frozen=True)
class NamedCode:
    """A code of a bench sheet with the words that say what it does."""

    words: str
    code: str


@dataclass(frozen=True)
class CodeGroup:
    """Codes of a bench sheet that stand together under a title."""

    title: str
    codes: tuple[NamedCode, ...]


def badge_cards(people: Sequence[BadgeCard], stock: str = CARDS, first: int = 1) -> bytes:
    """Return a PDF of badges on a card stock, beginning at free place `first`.

    Raises InvalidInput that names the person whose card cannot be printed, and why.
    """
    labels = []
    for card in people:
        code = _checked(card.code, ("badge",), f"The badge of {card.name}")
        labels.append(Label(code.text, card.name, (card.role, f"Badge {show_tag(code.text)}")))
    return _cards("Badges", stock, layout_named("badge"), labels, first)


def place_cards(cards: Sequence[PlaceCard], stock: str = CARDS, first: int = 1) -> bytes:
    """Return a PDF of cards of bins, baskets and racks, their names to be read from 2 m.

    Raises InvalidInput that names the card that cannot be printed, and why.
    """
    labels = []
    for card in cards:
        kinds = (card.kind,) if card.kind in PLACE_KINDS else PLACE_KINDS
        code = _checked(card.code, kinds, f"The card of {card.name}")
        if card.kind != code.kind:
            raise InvalidInput(
                f"The card of {card.name}: '{card.kind}' is no kind of place; "
                f"it is {_listed(PLACE_KINDS)}.",
                {"kind": _listed(PLACE_KINDS)},
            )
        labels.append(Label(code.text, card.name, (card.kind.capitalize(), show_tag(code.text))))
    return _cards("Places", stock, layout_named("place-card"), labels, first)


def order_codes(orders: Iterable[str] = tuple(ORDERS)) -> tuple[NamedCode, ...]:
    """Return the codes of orders with their own words, for a group of a bench sheet.

    Raises InvalidInput for an order that does not exist.
    """
    try:
        return tuple(NamedCode(each.capitalize(), make_shop_code("order", each)) for each in orders)
    except BadCode as error:
        raise InvalidInput(str(error)) from error


def code_sheet(title: str, groups: Sequence[CodeGroup], page: str = "a4") -> bytes:
    """Return a bench sheet of codes as PDF; `page` is a4 or letter.

    Bars keep 20 mm of distance to their neighbours across and down, so that a hand scanner aimed
    at one does not take the next. A group's title never stands alone at the foot of a page.
    Raises InvalidInput that names the code whose words or bars do not fit.
    """
    if page not in _ROWS_OF:
        raise InvalidInput(
            f"There is no page '{page}'; it is a4 or letter.", {"page": "a4, letter"}
        )
    filled = [group for group in groups if group.codes]
    if not filled:
        raise InvalidInput("There is no code to print; choose at least one order or reason.")
    return _CodeSheet(title, _ROWS_OF[page]).printed(filled)


def _checked(text: str, kinds: Sequence[str], whose: str) -> ShopCode:
    """Return a shop code of one of these kinds, or refuse it by whose card it is."""
    try:
        code = parse_shop_code(text)
    except BadCode as error:
        raise InvalidInput(f"{whose}: {error}", {"code": f"a {_listed(kinds)} code"}) from error
    if code.kind not in kinds:
        raise InvalidInput(
            f"{whose}: '{show_tag(text)}' is a {code.kind} code, not a {_listed(kinds)} code.",
            {"code": f"a {_listed(kinds)} code"},
        )
    return code


def _listed(kinds: Sequence[str]) -> str:
    """Return kinds as words: "bin, basket or rack"."""
    return " or ".join(filter(None, (", ".join(kinds[:-1]), kinds[-1])))


def _cards(
    title: str, stock_name: str, layout: Layout, labels: Sequence[Label], first: int
) -> bytes:
    """Return cards with marks to cut along, for plain card as well as for perforated sheets."""
    stock = _card_stock(stock_name)
    if not labels:
        raise InvalidInput("There is no card to print; choose at least one.")
    paper = LabelPage(title, stock.page_width, stock.page_height)
    page = -1
    for label, place in zip(labels, sheet_places(stock, len(labels), first), strict=True):
        if place.page != page:
            if page >= 0:
                paper.turn()
            page = place.page
            paper.draw_gauge(stock)
            paper.draw_cut_marks(stock)
        paper.draw(_named_design(stock, layout, label, place.box.left), place.box)
    return paper.finished()


def _card_stock(name: str) -> SheetStock:
    """Return the sheet of cards of that name, or refuse it with those there are."""
    stock = stock_named(name)
    if isinstance(stock, SheetStock) and stock.layout == "code-card":
        return stock
    known = " or ".join(name for name, each in load_stocks().items() if each.layout == "code-card")
    raise InvalidInput(f"'{name}' is no sheet of cards; take {known}.", {"stock": known})


def _named_design(stock: SheetStock, layout: Layout, label: Label, left: int) -> Design:
    """Return a card's design; a refusal names what is on the card."""
    try:
        return design_label(stock, layout, label, stock.dpi[0], label_left=left)
    except InvalidInput as error:
        if label.shown in error.message:
            raise
        raise InvalidInput(f"{label.shown}: {error.message}", error.fields) from error


def _row_stock(page: str, title: str, width: int, height: int, margin: int) -> SheetStock:
    """Return one row of a code sheet: two codes side by side, each as wide as a card."""
    cell = 88 * UNITS_PER_MM
    return SheetStock(
        name=f"bench sheet {page}",
        title=title,
        layout="bench-code",
        label_width=cell,
        label_height=_CELL,
        dpi=(300,),
        module_least=3_300,
        module_most=5_100,
        page_width=width,
        page_height=height,
        columns=2,
        rows=1,
        pitch_x=cell + 10 * UNITS_PER_MM,
        pitch_y=_PITCH,
        margin_left=margin,
        margin_top=12 * UNITS_PER_MM,
        gauge_top=height - 9 * UNITS_PER_MM,
    )


_CELL = 28 * UNITS_PER_MM
_PITCH = 32 * UNITS_PER_MM
"""Cells are 4 mm apart and bars at most 11 mm high: over 20 mm from bars to bars."""

_TITLE = 12 * UNITS_PER_MM
_PAGE_WORDS = 25 * UNITS_PER_MM
"""The room of the page's number beside the title."""

_HEADING = 8 * UNITS_PER_MM
_FOOT = 20 * UNITS_PER_MM
"""What the foot takes: the caution and the gauge line."""

_ROWS_OF = {
    "a4": _row_stock("a4", "A4", 2_100_000, 2_970_000, 120_000),
    "letter": _row_stock("letter", "US Letter", 2_159_000, 2_794_000, 149_500),
}


@dataclass(frozen=True)
class _Row:
    """A row of one or two codes, and the heading above it where it begins a group or a page."""

    heading: str
    codes: tuple[NamedCode, ...]


class _CodeSheet:
    """A bench sheet: rows of codes that run down its pages."""

    def __init__(self, title: str, stock: SheetStock) -> None:
        self.stock = stock
        self.layout = layout_named(stock.layout)
        self.width = stock.box_of(2).right - stock.margin_left
        room = self.width - _PAGE_WORDS
        self.title = set_big_text(title, room, 200, 90, pdf_width)
        self.caution = set_rows([SAFETY], 3, self.width, 70, 60, pdf_width)
        self.paper = LabelPage(title, stock.page_width, stock.page_height)

    def printed(self, groups: Sequence[CodeGroup]) -> bytes:
        """Return the PDF."""
        pages = self._paged(groups)
        for number, rows in enumerate(pages, start=1):
            if number > 1:
                self.paper.turn()
            self._draw_ends(f"Page {number} of {len(pages)}" if len(pages) > 1 else "")
            top = self.stock.margin_top + _TITLE
            for row in rows:
                top = self._draw_row(row, top)
        return self.paper.finished()

    def _paged(self, groups: Sequence[CodeGroup]) -> list[list[_Row]]:
        """Return the rows of each page; a group that runs over says so on its next page."""
        pages: list[list[_Row]] = [[]]
        top = self.stock.margin_top + _TITLE
        end = self.stock.page_height - _FOOT
        for group in groups:
            for at in range(0, len(group.codes), 2):
                heading = "" if at else group.title
                if top + _height(heading) > end:
                    pages.append([])
                    top = self.stock.margin_top + _TITLE
                    heading = f"{group.title}, continued" if at else group.title
                pages[-1].append(_Row(heading, group.codes[at : at + 2]))
                top += _height(heading)
        return pages

    def _draw_ends(self, page_words: str) -> None:
        """Draw what stands above and below the codes of a page."""
        left = self.stock.margin_left
        self.paper.write_left(self.title, left, self.stock.margin_top + 65_000)
        foot = self.stock.page_height - _FOOT + 20_000
        for row in self.caution:
            foot += 30_000
            self.paper.write_left(row, left, foot)
        page_left = left + self.width - round(pdf_width(page_words, 80, False))
        self.paper.write_left(
            SetText(page_words, 80, False), page_left, self.stock.margin_top + 65_000
        )
        self.paper.draw_gauge(self.stock)

    def _draw_row(self, row: _Row, top: int) -> int:
        """Draw a row of codes from `top` down and return where the next one begins."""
        if row.heading:
            heading = set_big_text(row.heading, self.width, 130, 80, pdf_width)
            self.paper.write_left(heading, self.stock.margin_left, top + 45_000)
            top += _HEADING
        for column, named in enumerate(row.codes, start=1):
            place = self.stock.box_of(column)
            box = Box(place.left, top, place.width, place.height)
            digits = show_tag(named.code) if is_own_code(named.code) else named.code
            label = Label(named.code, named.words, (digits,))
            self.paper.frame(box)
            self.paper.draw(_named_design(self.stock, self.layout, label, box.left), box)
        return top + _PITCH


def _height(heading: str) -> int:
    """Return what a row takes of the page, with its heading where it has one."""
    return _PITCH + (_HEADING if heading else 0)
