"""Credit notes and notices of refusal in one PDF, each with its own pages, heads and page count."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from io import BytesIO
from typing import Any

from coretrack.errors import InvalidInput
from coretrack.paper import credit_note, refusal_notice
from coretrack.paper.charge_sheet import HEIGHT, SHEETS, WIDTH
from coretrack.paper.credit_note import CreditNote
from coretrack.paper.letters import printable
from coretrack.paper.page_flow import (
    FOOT,
    Block,
    _draw,
    _foot,
    _paged,
    named_with_code,
    running_head,
)
from coretrack.paper.refusal_notice import RefusalNotice


@dataclass(frozen=True)
class _Part:
    """One paper of the bundle: its name, its blocks, the head of its further pages."""

    title: str
    blocks: Iterable[Block]
    continued: Block


def bundle_pdf(
    title: str,
    shop_name: str,
    notes: Sequence[CreditNote],
    notices: Sequence[RefusalNotice],
    page: str = "a4",
) -> bytes:
    """Return all these papers as one PDF, notes first; equal papers give equal bytes.

    `page` is a4 or letter. InvalidInput for another one and when there is no paper.
    """
    sizes = {name.casefold(): size for name, size in SHEETS.items()}
    if page.casefold() not in sizes:
        raise InvalidInput(f'Paper "{page}" is not known; use a4 or letter.')
    parts = [*(_note(note) for note in notes), *(_notice(notice) for notice in notices)]
    if not parts:
        raise InvalidInput("There is no paper to print: no credit note and no notice of refusal.")
    from reportlab.pdfgen.canvas import Canvas

    size = sizes[page.casefold()]
    buffer = BytesIO()
    # invariant: no clock and no random id in the file, as in each paper by itself.
    canvas = Canvas(buffer, pagesize=size, invariant=1)
    canvas.setTitle(printable(title))
    canvas.setAuthor(printable(shop_name))
    canvas.setSubject("Credit notes and notices of refusal")
    origin = ((size[0] - WIDTH) / 2, size[1] - (size[1] - HEIGHT) / 2)
    for part in parts:
        _print(canvas, part, origin)
    canvas.save()
    return buffer.getvalue()


def _print(canvas: Any, part: _Part, origin: tuple[float, float]) -> None:
    pages = _paged(part.blocks, part.continued)
    for number, rows in enumerate(pages, start=1):
        foot = _foot(part.title, f"Page {number} of {len(pages)}")
        for y, row in (*rows, (HEIGHT - FOOT, foot)):
            for mark in row.marks:
                _draw(canvas, mark, origin[0], origin[1] - y)
        canvas.showPage()


def _note(note: CreditNote) -> _Part:
    title, who = f"Credit note {note.number}", named_with_code(note.customer, note.customer_code)
    again = running_head(f"{title}, {note.day.isoformat()}, {who}")
    return _Part(f"{title}, {note.shop_name}", credit_note._blocks(note, title, who), again)


def _notice(notice: RefusalNotice) -> _Part:
    title = f"Notice of refusal {notice.number}"
    who = named_with_code(notice.customer, notice.customer_code)
    again = running_head(f"{title}, {notice.day.isoformat()}, {who}")
    return _Part(f"{title}, {notice.shop_name}", refusal_notice._blocks(notice, title, who), again)
