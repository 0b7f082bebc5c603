"""The notice of refusal: why each core earns no credit, and how its owner gets it back."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date

from coretrack.errors import InvalidInput
from coretrack.figures.credits import ROUNDING
from coretrack.figures.tags import show_tag
from coretrack.paper.charge_sheet import WIDTH
from coretrack.paper.core_blocks import CAUTION, JudgedCore, core_block, cores_counted
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

AFTER_HOLD = (
    "A core that is not asked for by then becomes the shop's scrap and cannot be sent back."
)


@dataclass(frozen=True)
class RefusalNotice:
    """The refused cores of one customer, as finished values.

    `after_hold` says what becomes of a core after its last day in the hold bin. InvalidInput when
    there is no core, or one without a reason, with a credit or without its last day.
    """

    number: str
    day: date
    shop_name: str
    customer: str
    customer_code: str
    currency: str
    cores: tuple[JudgedCore, ...]
    contact: str = ""
    after_hold: str = AFTER_HOLD

    def __post_init__(self) -> None:
        if not self.cores:
            raise InvalidInput(f"Notice of refusal {self.number} has no core; refuse one first.")
        for core in self.cores:
            named = f"Core {show_tag(core.tag)} cannot stand on a notice of refusal:"
            if core.credit:
                raise InvalidInput(f"{named} {exact(core.credit)} is credited for it.")
            if not any(reason.strip() for reason in core.reasons):
                raise InvalidInput(f"{named} it needs the reason it is refused for.")
            if core.hold_until is None:
                raise InvalidInput(f"{named} it needs the last day it is kept in the hold bin.")


def refusal_notice_pdf(notice: RefusalNotice, page: str = "a4") -> bytes:
    """Return the notice as PDF bytes; `page` is a4 or letter (InvalidInput otherwise)."""
    paper = notice_paper(notice)
    about = About(paper.title, notice.shop_name, "Cores refused for credit")
    return flowing_pdf([paper], about, page)


def notice_paper(notice: RefusalNotice) -> Paper:
    """Return the notice as it flows down its pages, to be printed alone or among others."""
    title = f"Notice of refusal {notice.number}"
    who = named_with_code(notice.customer, notice.customer_code)
    again = running_head(f"{title}, {notice.day.isoformat()}, {who}")
    return Paper(f"{title}, {notice.shop_name}", _blocks(notice, title, who), again)


def _blocks(notice: RefusalNotice, title: str, who: str) -> Iterator[Block]:
    days = {core.hold_until for core in notice.cores if core.hold_until}
    facts = [
        ("Date", notice.day.isoformat()),
        ("Customer", who),
        ("Refused", cores_counted(notice.cores)),
        ("Kept until", _until(days)),
    ]
    yield [
        *heading(notice.shop_name, notice.contact, title),
        *fact_rows(facts, 0, WIDTH, 66, 10),
        rule_row(6, 8),
    ]
    for core in notice.cores:
        kept = "" if core.hold_until is None else f", kept until {core.hold_until.isoformat()}"
        yield core_block(core, f"refused{kept}", "Refused for", notice.currency)
    yield _what_now(notice, days)


def _until(days: set[date]) -> str:
    if len(days) == 1:
        return f"{next(iter(days)).isoformat()}, that day included"
    return "the day beside each core, that day included"


def _what_now(notice: RefusalNotice, days: set[date]) -> list[Row]:
    """Return how to get a core back, what happens otherwise, and the caution."""
    last = next(iter(days)).isoformat() if len(days) == 1 else "the day beside the core"
    ask = f"Tell us by {last}, and give the tag."
    if notice.contact.strip():
        ask = f"Tell us by {last} ({' '.join(notice.contact.split())}), and give the tag."
    back = (
        f"The cores above are yours. They are kept in the hold bin until {_until(days)}. {ask}"
        " You may fetch it, or have it sent at your own freight; it goes back as it is, neither"
        " tested nor repaired."
    )
    return [
        *text_rows("To get a core back", 11, bold=True),
        *text_rows(back, 9),
        *text_rows(notice.after_hold, 9),
        Row(4),
        *text_rows(f"Amounts in {notice.currency}. {ROUNDING}" if notice.currency else ROUNDING),
        *text_rows(CAUTION),
    ]
