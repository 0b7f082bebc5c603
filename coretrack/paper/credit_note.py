"""The credit note: what is credited for each core and how it was reached. Facts only, no tax."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date

from coretrack.errors import InvalidInput
from coretrack.figures.credits import ROUNDING
from coretrack.figures.money import Money
from coretrack.paper.charge_sheet import WIDTH
from coretrack.paper.core_blocks import CAUTION, JudgedCore, core_block, cores_counted
from coretrack.paper.drawing import Words
from coretrack.paper.page_flow import (
    About,
    Block,
    Paper,
    Row,
    exact,
    fact_rows,
    flowing_pdf,
    heading,
    named_with_code,
    rule_row,
    running_head,
    text_rows,
)

WHAT_IT_IS = (
    "This note states what is credited and why. It is no tax document and no entry in the books."
)


@dataclass(frozen=True)
class CreditNote:
    """The credited cores of one customer, as finished values; `total` is in ten-thousandths.

    InvalidInput when there is no core or the credits do not add up to the total.
    """

    number: str
    day: date
    shop_name: str
    customer: str
    customer_code: str
    currency: str
    cores: tuple[JudgedCore, ...]
    total: Money
    contact: str = ""

    def __post_init__(self) -> None:
        if not self.cores:
            raise InvalidInput(f"Credit note {self.number} has no core; credit one first.")
        credits = sum(core.credit for core in self.cores)
        if credits != self.total:
            raise InvalidInput(
                f"The cores of credit note {self.number} come to {exact(credits)}, its total is"
                f" {exact(self.total)}; make the note again."
            )


def credit_note_pdf(note: CreditNote, page: str = "a4") -> bytes:
    """Return the note as PDF bytes; `page` is a4 or letter (InvalidInput otherwise)."""
    paper = note_paper(note)
    about = About(paper.title, note.shop_name, "Credit for returned cores")
    return flowing_pdf([paper], about, page)


def note_paper(note: CreditNote) -> Paper:
    """Return the note as it flows down its pages, to be printed alone or among others."""
    title = f"Credit note {note.number}"
    who = named_with_code(note.customer, note.customer_code)
    again = running_head(f"{title}, {note.day.isoformat()}, {who}")
    return Paper(f"{title}, {note.shop_name}", _blocks(note, title, who), again)


def _blocks(note: CreditNote, title: str, who: str) -> Iterator[Block]:
    total = f"{exact(note.total)} {note.currency}".strip()
    facts = [
        ("Date", note.day.isoformat()),
        ("Customer", who),
        ("For", cores_counted(note.cores)),
        ("Credited", total),
    ]
    yield [
        *heading(note.shop_name, note.contact, title),
        *fact_rows(facts, 0, WIDTH, 66, 10),
        rule_row(6, 8),
    ]
    for core in note.cores:
        yield core_block(core, _outcome(core), "Noted", note.currency)
    yield [
        Row(
            24,
            (
                Words(0, 14, f"Total credit for {cores_counted(note.cores)}", bold=True, size=11),
                Words(WIDTH, 14, total, anchor="end", bold=True, size=14),
            ),
        ),
        *text_rows(f"Amounts in {note.currency}. {ROUNDING}" if note.currency else ROUNDING),
        *text_rows(WHAT_IT_IS),
        *text_rows(CAUTION),
    ]


def _outcome(core: JudgedCore) -> str:
    if core.charge is None:
        return ""
    return "credited in full" if core.credit == core.charge else "credited in part"
