"""The receipt handed over at the counter: so many pieces are here, counted, not yet judged.

Common practice, no source: given before judging, it settles how many came and when. What stands on
it fits half a sheet; cores that are judged already are listed in the lower half.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import date, datetime

from reportlab.pdfbase.pdfmetrics import stringWidth

from coretrack.errors import InvalidInput
from coretrack.figures.plain_words import counted
from coretrack.figures.tags import show_tag
from coretrack.paper.charge_sheet import WIDTH
from coretrack.paper.drawing import Stroke, Words
from coretrack.paper.page_flow import (
    About,
    Block,
    Paper,
    Row,
    fact_rows,
    flowing_pdf,
    heading,
    height_of,
    lines_of,
    moment_shown,
    named_with_code,
    rule_row,
    running_head,
    side_by_side,
    text_rows,
)

# Half a sheet less the upper margin; the same for A4 and Letter, whose halves and margins differ.
HALF = 370.0
NOT_JUDGED = "not yet judged"
WHAT_NEXT = (
    "What happens next: each core is judged by the terms of the sale it answers. A credit note or a"
    " notice of refusal, with the reasons, follows for each. This receipt is no credit."
)

_SIZE = 10.0
_BIG = 56.0
_LABEL = 66.0
_COLUMN = (WIDTH - 20) / 2
_TABLE = (0.0, 110.0, 260.0)


@dataclass(frozen=True)
class ReceiptCore:
    """A core of the delivery as far as it is judged; an empty `outcome` is not yet judged."""

    tag: str
    number: str
    outcome: str = ""


@dataclass(frozen=True)
class Receipt:
    """What was counted at the counter, as finished values.

    `pieces` is what the shop counted, `pieces_on_paper` what the customer's paper says (None when
    it says nothing). `received_at` is aware and in the shop's zone. `reference` is the customer's
    own paper. `cores` is empty for the receipt that is given before judging.
    """

    shop_name: str
    delivery: str
    customer: str
    customer_code: str
    pieces: int
    arrived: date
    received_by: str
    received_at: datetime
    reference: str = ""
    carrier: str = ""
    note: str = ""
    contact: str = ""
    pieces_on_paper: int | None = None
    cores: tuple[ReceiptCore, ...] = ()

    def __post_init__(self) -> None:
        if self.pieces < 1:
            raise InvalidInput(
                f"A receipt for {counted(self.pieces, 'piece')} says nothing; count what came in.",
                {"pieces": "1 or more"},
            )

    @property
    def judged(self) -> int:
        """How many of the pieces are judged."""
        return sum(1 for core in self.cores if core.outcome.strip())


def receipt_pdf(receipt: Receipt, page: str = "a4") -> bytes:
    """Return the receipt as PDF bytes; `page` is a4 or letter (InvalidInput otherwise)."""
    title = f"Receipt {receipt.delivery}"
    about = About(f"{title}, {receipt.shop_name}", receipt.shop_name, "Pieces received and counted")
    who = named_with_code(receipt.customer, receipt.customer_code)
    again = running_head(f"{title}, {who}")
    if receipt.cores:
        again = [*again, *_table_head()]
    return flowing_pdf([Paper(about.title, _blocks(receipt), again)], about, page)


def _blocks(receipt: Receipt) -> Iterator[Block]:
    parts: list[Sequence[Row]] = [
        heading(receipt.shop_name, receipt.contact, f"Receipt {receipt.delivery}"),
        _count(receipt),
        side_by_side(*_facts(receipt)),
    ]
    if receipt.note.strip():
        parts.append([Row(4), *fact_rows([("Note", receipt.note)], 0, WIDTH, _LABEL, _SIZE)])
    parts.append([Row(10), *text_rows(WHAT_NEXT, 9)])
    signatures = _signatures(receipt)
    yield from parts
    used = sum(height_of(part) for part in parts) + height_of(signatures)
    # Signed at the foot of the half sheet; a long note pushes the lines further down.
    yield [Row(max(0.0, HALF - 12 - used)), *signatures]
    if used <= HALF - 12:
        yield [Row(12, (Stroke(-40, 12, WIDTH + 40, 12, "rule", 0.5, dashed=True),))]
    if receipt.cores:
        yield [Row(14), *text_rows(_judged_so_far(receipt), 12, bold=True), Row(3), *_table_head()]
        for core in receipt.cores:
            yield _core(core)
    remaining = receipt.pieces - len(receipt.cores)
    if receipt.cores and remaining > 0:
        yield [Row(4), *text_rows(f"Not listed yet: {counted(remaining, 'piece')}.", 9)]


def _count(receipt: Receipt) -> list[Row]:
    """Return the counted number in large type and the sentence that goes with it."""
    number = f"{receipt.pieces:,}"
    state = f"counted, {NOT_JUDGED}"
    if receipt.judged:
        state = f"counted; {receipt.judged:,} of them judged so far"
    pieces = counted(receipt.pieces, "piece")
    beside = stringWidth(number, "Helvetica-Bold", _BIG) + 18
    room = WIDTH - beside
    said = text_rows(f"{pieces} received from you, {state}", 14, x=beside, width=room, bold=True)
    if receipt.pieces_on_paper not in (None, receipt.pieces):
        on_paper = f"Your paper says {receipt.pieces_on_paper:,}; we counted {receipt.pieces:,}."
        said += text_rows(on_paper, 11, x=beside, width=room, bold=True)
    big = [Row(0, (Words(0, 42, number, bold=True, size=_BIG),))]
    # The sentence stands in the middle of the number's height, or runs on below it.
    above = max(4.0, (50 - height_of(said)) / 2)
    below = max(8.0, 60 - above - height_of(said))
    return [*big, Row(above), *said, Row(below)]


def _facts(receipt: Receipt) -> tuple[list[Row], list[Row]]:
    left = [
        ("Delivery", receipt.delivery),
        ("Customer", named_with_code(receipt.customer, receipt.customer_code)),
        ("Your paper", receipt.reference),
        ("Carrier", receipt.carrier),
    ]
    right = [
        ("Arrived", receipt.arrived.isoformat()),
        ("Received", moment_shown(receipt.received_at)),
        ("Received by", receipt.received_by),
    ]
    return (
        fact_rows(left, 0, _COLUMN, _LABEL, _SIZE),
        fact_rows(right, _COLUMN + 20, _COLUMN, _LABEL, _SIZE),
    )


def _signatures(receipt: Receipt) -> list[Row]:
    other = _COLUMN + 20
    lines = (
        Stroke(0, 44, _COLUMN, 44, "ink", 0.8),
        Stroke(other, 44, other + _COLUMN, 44, "ink", 0.8),
    )
    by = lines_of(f"Received by {receipt.received_by}", _COLUMN, 9)[0]
    captions = (
        Words(0, 55, by, "soft", size=9),
        Words(other, 55, "Handed over by (name, signature)", "soft", size=9),
    )
    return [Row(58, (*lines, *captions))]


def _judged_so_far(receipt: Receipt) -> str:
    return f"Judged so far: {receipt.judged:,} of {receipt.pieces:,}"


def _table_head() -> list[Row]:
    names = zip(_TABLE, ("Tag", "Number", "Outcome"), strict=True)
    return [Row(13, tuple(Words(x, 9, name, "soft", size=9) for x, name in names)), rule_row(0, 3)]


def _core(core: ReceiptCore) -> list[Row]:
    """Return one row of the list; each cell wraps within its column."""
    ends = (*_TABLE[1:], WIDTH + 8)
    cells = (show_tag(core.tag), core.number, core.outcome.strip() or NOT_JUDGED)
    columns = [
        text_rows(words, 9.5, x=x, width=end - x - 8, bold=x == 0)
        for x, end, words in zip(_TABLE, ends, cells, strict=True)
    ]
    rows = side_by_side(side_by_side(columns[0], columns[1]), columns[2])
    return [*rows, rule_row(2, 3)]
