"""Rows of type, rules and pictures flowing down pages, with a head and "page n of m" on each.

Used by the papers that go to a customer. What is printed lies inside both A4 and Letter. Lengths
are points, y runs downwards from a row's upper edge. The same rows always give the same bytes.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from datetime import datetime
from io import BytesIO
from itertools import zip_longest
from typing import Any

from coretrack.errors import InvalidInput
from coretrack.figures.money import CENT, Money, shown, to_decimal
from coretrack.paper.charge_sheet import HEIGHT, SHEETS, WIDTH, wrapped
from coretrack.paper.drawing import Box, Stroke, Words, paper_colour
from coretrack.paper.letters import printable

FOOT = 20.0
SIZE = 8.5
LEADING = 10.8

# A word of this many letters is no word; it is cut beforehand, for wrapping tries every length.
_LONGEST_WORD = 100


@dataclass(frozen=True)
class Picture:
    """A JPEG with its upper left corner at (x, y), at the size it is printed."""

    x: float
    y: float
    width: float
    height: float
    jpeg: bytes


RowMark = Words | Stroke | Box | Picture


@dataclass(frozen=True)
class Row:
    """A strip of the page that is never parted; its marks are placed from its upper left corner."""

    height: float
    marks: tuple[RowMark, ...] = ()


Block = Sequence[Row]
"""Rows that stay on one page, unless they are taller than a page."""


@dataclass(frozen=True)
class Paper:
    """One paper: its title for the foot of each page, and what flows down its pages.

    `continued` heads every page but the first.
    """

    title: str
    blocks: Iterable[Block]
    continued: Block = ()


@dataclass(frozen=True)
class About:
    """What the file says of itself."""

    title: str
    author: str
    subject: str


def flowing_pdf(papers: Iterable[Paper], about: About, page: str) -> bytes:
    """Return papers as PDF bytes on sheets `page`: a4 or letter (InvalidInput otherwise).

    Each begins on a page of its own and counts its own pages.
    """
    sizes = {name.casefold(): size for name, size in SHEETS.items()}
    if page.casefold() not in sizes:
        raise InvalidInput(f'Paper "{page}" is not known; use a4 or letter.')
    size = sizes[page.casefold()]
    from reportlab.pdfgen.canvas import Canvas

    buffer = BytesIO()
    # invariant: no clock and no random id in the file, so equal papers print equal bytes.
    canvas = Canvas(buffer, pagesize=size, invariant=1)
    canvas.setTitle(printable(about.title))
    canvas.setAuthor(printable(about.author))
    canvas.setSubject(printable(about.subject))
    left, top = (size[0] - WIDTH) / 2, size[1] - (size[1] - HEIGHT) / 2
    for paper in papers:
        pages = _paged(paper.blocks, paper.continued)
        for number, rows in enumerate(pages, start=1):
            foot = _foot(paper.title, f"Page {number} of {len(pages)}")
            pen = _Pen(canvas, left)
            for y, row in (*rows, (HEIGHT - FOOT, foot)):
                for mark in row.marks:
                    pen.draw(mark, top - y)
            canvas.showPage()
    canvas.save()
    return buffer.getvalue()


def height_of(block: Block) -> float:
    """Return how much of a page a block takes."""
    return sum(row.height for row in block)


def lines_of(words: str, width: float, size: float = SIZE, bold: bool = False) -> list[str]:
    """Return `words` wrapped to `width`; what was written on lines of its own stays so."""
    return [
        line
        for written in words.splitlines()
        for line in wrapped(_with_breaks(printable(written)), width, size, bold)
    ]


def text_rows(
    words: str,
    size: float = SIZE,
    *,
    x: float = 0.0,
    width: float = WIDTH,
    tone: str = "ink",
    bold: bool = False,
) -> list[Row]:
    """Return a paragraph, one row a line."""
    leading = size * LEADING / SIZE
    return [
        Row(leading, (Words(x, size, line, tone, bold=bold, size=size),))
        for line in lines_of(words, width, size, bold)
    ]


def fact_rows(
    facts: Iterable[tuple[str, str]], x: float, width: float, label: float, size: float = SIZE
) -> list[Row]:
    """Return "label  value" lines, the value wrapped; a fact without a value is left out."""
    rows: list[Row] = []
    for name, value in facts:
        lines = text_rows(value, size, x=x + label, width=width - label)
        if lines:
            named = Words(x, size, name, "soft", size=size)
            rows += [replace(lines[0], marks=(named, *lines[0].marks)), *lines[1:]]
    return rows


def side_by_side(left: Sequence[Row], right: Sequence[Row]) -> list[Row]:
    """Return two columns of rows as one, each as tall as the taller of its two."""
    nothing = Row(0.0)
    return [
        Row(max(one.height, other.height), (*one.marks, *other.marks))
        for one, other in zip_longest(left, right, fillvalue=nothing)
    ]


def rule_row(above: float, below: float, tone: str = "rule", thickness: float = 0.6) -> Row:
    """Return a line across the page with room above and below it."""
    return Row(above + below, (Stroke(0, above, WIDTH, above, tone, thickness),))


def heading(shop_name: str, contact: str, title: str) -> list[Row]:
    """Return the head of a first page: the shop at the left, the paper's name at the right."""
    named = text_rows(shop_name, 15, width=WIDTH * 0.55, bold=True)
    shop = [*named, *text_rows(contact, width=WIDTH * 0.55, tone="soft")]
    paper = [
        replace(row, marks=tuple(_at_right(mark) for mark in row.marks))
        for row in text_rows(title, 15, width=WIDTH * 0.42, bold=True)
    ]
    return [*side_by_side(shop, paper), rule_row(3, 9, "ink", 1.2)]


def running_head(words: str) -> list[Row]:
    """Return the head of the pages after the first."""
    return [*text_rows(words, 9.5, bold=True), rule_row(2, 8, "ink", 1.2)]


def moment_shown(at: datetime) -> str:
    """Return "2026-05-04 09:12 CEST (UTC+02:00)"; ValueError for a time without its zone."""
    offset = at.utcoffset()
    if offset is None:
        raise ValueError("a moment on paper needs its zone")
    name = at.tzname() or ""
    ahead = f"{at:%z}"
    from_utc = f"UTC{ahead[:3]}:{ahead[3:5]}" if offset else "UTC"
    zone = f"{name} ({from_utc})" if name.isalpha() and name != "UTC" else from_utc
    return f"{at:%Y-%m-%d %H:%M} {zone}"


def exact(amount: Money) -> str:
    """Return an amount as `money.shown` does, with four places where cents would hide a rest.

    Amounts that are added up on paper must add up for the reader as well.
    """
    return f"{to_decimal(amount):,.4f}" if amount % CENT else shown(amount)


def named_with_code(name: str, code: str) -> str:
    """Return "Name (CODE)", or the one that there is."""
    return f"{name} ({code})" if name.strip() and code.strip() else name or code


def _with_breaks(words: str) -> str:
    return " ".join(
        word[start : start + _LONGEST_WORD]
        for word in words.split()
        for start in range(0, len(word), _LONGEST_WORD)
    )


def _at_right(mark: RowMark) -> RowMark:
    return replace(mark, x=WIDTH, anchor="end") if isinstance(mark, Words) else mark


def _foot(title: str, number: str) -> Row:
    lines = lines_of(title, WIDTH - 80, 8)
    return Row(
        FOOT,
        (
            Stroke(0, 4, WIDTH, 4, "rule", 0.6),
            Words(0, 14, lines[0] if lines else "", "soft", size=8),
            Words(WIDTH, 14, number, "soft", "end", size=8),
        ),
    )


def _paged(blocks: Iterable[Block], continued: Block) -> list[list[tuple[float, Row]]]:
    """Return the rows of each page with where they begin."""
    pages: list[list[tuple[float, Row]]] = [[]]
    y = 0.0

    def place(row: Row) -> float:
        pages[-1].append((y, row))
        return y + row.height

    for block in blocks:
        turn = y > 0 and y + height_of(block) > HEIGHT - FOOT
        for row in block:
            if turn or y + row.height > HEIGHT - FOOT:
                pages.append([])
                y = 0.0
                for head in continued:
                    y = place(head)
                turn = False
            y = place(row)
    return pages


class _Pen:
    """Draws the marks of one page; colour and face are told to the page only where they change."""

    def __init__(self, canvas: Any, left: float) -> None:
        self._canvas = canvas
        self._left = left
        self._tone = ""
        self._face: tuple[str, float] = ("", 0.0)

    def draw(self, mark: RowMark, top: float) -> None:
        """Draw a mark whose row begins at `top`."""
        if isinstance(mark, Words):
            self._write(mark, top)
        elif isinstance(mark, Stroke):
            self._outline(mark.tone, mark.thickness, [2, 3] if mark.dashed else [])
            ends = (self._left + mark.x1, top - mark.y1, self._left + mark.x2, top - mark.y2)
            self._canvas.line(*ends)
        elif isinstance(mark, Box):
            self._outline(mark.tone, 0.6, [])
            self._fill(mark.tone)
            place = (self._left + mark.x, top - mark.y - mark.height)
            self._canvas.rect(*place, mark.width, mark.height, fill=int(not mark.hollow))
        else:
            from reportlab.lib.utils import ImageReader

            place = (self._left + mark.x, top - mark.y - mark.height)
            image = ImageReader(BytesIO(mark.jpeg))
            self._canvas.drawImage(image, *place, mark.width, mark.height)

    def _write(self, words: Words, top: float) -> None:
        self._fill(words.tone)
        face = ("Helvetica-Bold" if words.bold else "Helvetica", words.size)
        if face != self._face:
            self._canvas.setFont(*face)
            self._face = face
        place = (self._left + words.x, top - words.y, printable(words.text))
        if words.anchor == "end":
            self._canvas.drawRightString(*place)
        elif words.anchor == "middle":
            self._canvas.drawCentredString(*place)
        else:
            self._canvas.drawString(*place)

    def _fill(self, tone: str) -> None:
        if tone != self._tone:
            self._canvas.setFillColor(paper_colour(tone))
            self._tone = tone

    def _outline(self, tone: str, thickness: float, dash: list[int]) -> None:
        self._canvas.setStrokeColor(paper_colour(tone))
        self._canvas.setLineWidth(thickness)
        self._canvas.setDash(dash)
