"""What the templates of labels and cards are given, and the small picture of a half-used sheet."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

from markupsafe import Markup, escape

from coretrack.actions.cards import PLACE_KINDS, CardChoices
from coretrack.actions.station_labels import LabelPages, LabelRun, StockChoice
from coretrack.actions.station_settings import StationSettings

PAPERS = (StockChoice("a4", "A4"), StockChoice("letter", "US Letter"))
"""The sizes of paper that there is something laid out for."""


@dataclass(frozen=True)
class SheetPicture:
    """A sheet stock with its picture: which places are used and which one is free next."""

    name: str
    picture: Markup


@dataclass(frozen=True)
class LabelsPage:
    """labels/home.html: what to print, on which stock, from which place.

    `typed` holds what was typed; `by_command` says that the shop has a print command; `back` is the
    page the person came from.
    """

    title: str
    stocks: tuple[StockChoice, ...]
    stock: str
    sheets: tuple[SheetPicture, ...]
    by_command: bool
    owner: bool
    typed: Mapping[str, str]
    message: str = ""
    problems: Mapping[str, str] = field(default_factory=dict)
    back: str = ""


@dataclass(frozen=True)
class PrintPage:
    """labels/print.html: the print pages of a batch and nothing else that is printed."""

    title: str
    labels: LabelPages
    pages: tuple[Markup, ...]
    back: str = ""


@dataclass(frozen=True)
class SentPage:
    """labels/sent.html: what was sent to the printer by the print command."""

    title: str
    run: LabelRun
    count: int
    back: str = ""


@dataclass(frozen=True)
class SettingsPage:
    """labels/settings.html; `command` is the print command, one argument a line, as typed."""

    title: str
    typed: Mapping[str, str]
    stocks: tuple[StockChoice, ...]
    sheets: tuple[StockChoice, ...]
    papers: tuple[StockChoice, ...] = PAPERS
    message: str = ""
    problems: Mapping[str, str] = field(default_factory=dict)


@dataclass(frozen=True)
class CardsPage:
    """labels/cards.html; `typed` are the numbers of the places made last."""

    title: str
    choices: CardChoices
    owner: bool
    typed: Mapping[str, str]
    kinds: tuple[str, ...] = PLACE_KINDS
    message: str = ""
    problems: Mapping[str, str] = field(default_factory=dict)


FIELDS = (
    "print_command",
    "label_stock",
    "sheet_stock",
    "paper_size",
    "hold_days",
    "idle_minutes",
    "second_look_percent",
)
"""The fields of the owner's settings, called as they are stored."""


def settings_typed(settings: StationSettings) -> dict[str, str]:
    """Return the settings as the form shows them."""
    return {
        "print_command": "\n".join(settings.print_command),
        "label_stock": settings.label_stock,
        "sheet_stock": settings.sheet_stock,
        "paper_size": settings.paper_size,
        "hold_days": str(settings.hold_days),
        "idle_minutes": str(settings.idle_minutes),
        "second_look_percent": settings.second_look_percent,
    }


def sheet_pictures(stocks: Sequence[StockChoice]) -> tuple[SheetPicture, ...]:
    """Return the pictures of the sheets among these stocks."""
    return tuple(SheetPicture(each.name, _picture(each)) for each in stocks if each.places)


_CELL, _GAP = 14, 2


def _picture(stock: StockChoice) -> Markup:
    """Return a sheet as SVG: used places crossed out, the first free one filled with its number."""
    rows = -(-stock.places // stock.columns)
    width = stock.columns * (2 * _CELL + _GAP) + _GAP
    height = rows * (_CELL + _GAP) + _GAP
    words = f"{stock.title}: place {stock.next_free} of {stock.places} is the first free one"
    parts = [_place(stock, number) for number in range(1, stock.places + 1)]
    return Markup(
        '<svg class="sheet" role="img" viewBox="0 0 {} {}" width="{}" height="{}"'
        ' aria-label="{}">{}</svg>'
    ).format(width, height, width, height, escape(words), Markup("").join(parts))


def _place(stock: StockChoice, number: int) -> Markup:
    row, column = divmod(number - 1, stock.columns)
    left = _GAP + column * (2 * _CELL + _GAP)
    top = _GAP + row * (_CELL + _GAP)
    right, bottom = left + 2 * _CELL, top + _CELL
    box = Markup('<rect class="{}" x="{}" y="{}" width="{}" height="{}"/>')
    if number < stock.next_free:
        crossed = Markup('<path class="used" d="M{} {}L{} {}"/>').format(left, bottom, right, top)
        return box.format("used", left, top, 2 * _CELL, _CELL) + crossed
    if number == stock.next_free:
        text = Markup('<text class="next" x="{}" y="{}" text-anchor="middle">{}</text>')
        return box.format("next", left, top, 2 * _CELL, _CELL) + text.format(
            left + _CELL, bottom - 3, number
        )
    return box.format("free", left, top, 2 * _CELL, _CELL)
