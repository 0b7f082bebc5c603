"""The card that travels with a wash basket: its slot map, its count, and what hurts in the wash.

Common practice, no source: labels do not live through a hot wash, so the map on the card is what
says which core lies in which slot until each is labelled again.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import datetime

from coretrack.errors import InvalidInput
from coretrack.figures.plain_words import counted
from coretrack.figures.tags import show_tag
from coretrack.figures.wording import WASH_SAFETY
from coretrack.paper.barcodes import encode_code128
from coretrack.paper.charge_sheet import WIDTH
from coretrack.paper.drawing import Box, Stroke, Words
from coretrack.paper.page_flow import (
    About,
    Block,
    Paper,
    Row,
    RowMark,
    fact_rows,
    flowing_pdf,
    heading,
    lines_of,
    moment_shown,
    rule_row,
    running_head,
    text_rows,
)

COLUMNS = 4
_CELL = WIDTH / COLUMNS
_CELL_HEIGHT = 46.0
_MODULE = 1.1
"""Points a bar module: 0.39 mm, to be read off a wet card at arm's length."""

_BAR_HEIGHT = 42.0
KEEP_ORDER = (
    "Nothing is put into a slot or taken out of one after this card is printed. If the basket tips"
    " or slots are mixed up, do not sort by guess: stop and say so at the bench."
)


@dataclass(frozen=True)
class TravellerSlot:
    """One core of the basket; `metal_tag` is 0 without one."""

    slot: int
    tag: str
    number: str = ""
    family: str = ""
    metal_tag: int = 0


@dataclass(frozen=True)
class Traveller:
    """A basket's card as finished values; `made_at` is aware and in the shop's zone.

    `basket_code` is the code on the basket's own card, printed as bars: scanned after the wash it
    opens this wash. `families` are name and count.
    """

    shop_name: str
    basket: str
    basket_code: str
    wash: str
    slots: tuple[TravellerSlot, ...]
    families: tuple[tuple[str, int], ...]
    made_by: str
    made_at: datetime

    def __post_init__(self) -> None:
        if not self.slots:
            raise InvalidInput(
                f"Nothing lies in {self.basket}; scan its cores before the card is printed."
            )


def traveller_pdf(card: Traveller, page: str = "a4") -> bytes:
    """Return the card as PDF bytes; `page` is a4 or letter (InvalidInput otherwise)."""
    title = f"Basket card {card.wash}, {card.basket}"
    about = About(f"{title}, {card.shop_name}", card.shop_name, "Slot map of a wash basket")
    return flowing_pdf([Paper(title, _blocks(card), running_head(title))], about, page)


def _blocks(card: Traveller) -> Iterator[Block]:
    yield heading(card.shop_name, "", f"Wash {card.wash}")
    yield _head(card)
    yield [*text_rows(KEEP_ORDER, 9.5, bold=True), Row(8)]
    filled = {slot.slot: slot for slot in card.slots}
    last = max(filled)
    for first in range(1, last + 1, COLUMNS):
        numbers = range(first, min(first + COLUMNS, last + 1))
        yield [_map_row([(number, filled.get(number)) for number in numbers])]
    yield [Row(8), *text_rows(WASH_SAFETY, 9), Row(4)]
    yield _signatures(len(card.slots))


def _head(card: Traveller) -> list[Row]:
    """Return the basket's name, its bars, how many cores lie in it and of what."""
    bars = encode_code128(card.basket_code)
    left = WIDTH - bars.modules * _MODULE - 12
    marks: list[RowMark] = [
        Box(left + at * _MODULE, 4, width * _MODULE, _BAR_HEIGHT, "ink")
        for at, width in bars.bars()
    ]
    middle = left + bars.modules * _MODULE / 2
    digits = show_tag(card.basket_code)
    marks.append(Words(middle, _BAR_HEIGHT + 15, digits, anchor="middle", size=9))
    name = lines_of(card.basket, left - 24, 22, bold=True)[:1]
    marks.append(Words(0, 24, name[0] if name else "", bold=True, size=22))
    count = f"{counted(len(card.slots), 'core')} in it"
    marks.append(Words(0, 50, count, bold=True, size=16))
    families = "; ".join(f"{name}: {count}" for name, count in card.families)
    facts = [("Families", families), ("As of", f"{moment_shown(card.made_at)}, {card.made_by}")]
    return [Row(64, tuple(marks)), *fact_rows(facts, 0, WIDTH, 60, 10), rule_row(6, 8)]


def _map_row(cells: Sequence[tuple[int, TravellerSlot | None]]) -> Row:
    """Return one row of the slot map; an empty slot is crossed out so that nothing joins it."""
    marks: list[RowMark] = []
    for column, (number, slot) in enumerate(cells):
        x = column * _CELL
        marks.append(Box(x, 0, _CELL, _CELL_HEIGHT, "ink", hollow=True))
        marks.append(Words(x + 5, 20, str(number), bold=True, size=18))
        if slot is None:
            marks.append(Stroke(x + 34, 8, x + _CELL - 8, _CELL_HEIGHT - 8, "soft", 0.8))
            marks.append(Words(x + 34, _CELL_HEIGHT - 8, "empty", "soft", size=8.5))
            continue
        marks.append(Words(x + 34, 14, show_tag(slot.tag), bold=True, size=11))
        worn = f"metal tag {slot.metal_tag}" if slot.metal_tag else ""
        for y, words in ((26, slot.number or "no number"), (36, slot.family), (44, worn)):
            line = lines_of(words, _CELL - 38, 8)
            marks.append(Words(x + 34, y, line[0] if line else "", "soft", size=8))
    return Row(_CELL_HEIGHT, tuple(marks))


def _signatures(count: int) -> list[Row]:
    half = (WIDTH - 20) / 2
    marks: list[RowMark] = []
    said = (f"{count} went in (name, time)", "Came out: how many (name, time)")
    for x, words in ((0.0, said[0]), (half + 20, said[1])):
        marks.append(Stroke(x, 30, x + half, 30, "ink", 0.8))
        marks.append(Words(x, 41, words, "soft", size=9))
    return [Row(46, tuple(marks))]
