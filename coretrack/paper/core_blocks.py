"""One judged core on a credit note or a notice of refusal: what it is, its arithmetic, its photos.

Everything is printed as it was judged; nothing is worked out here but whether it adds up.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import date, datetime

from coretrack.errors import InvalidInput
from coretrack.figures.credits import CreditLine
from coretrack.figures.money import Money
from coretrack.figures.plain_words import counted
from coretrack.figures.tags import show_tag
from coretrack.figures.wording import SAFETY
from coretrack.paper.charge_sheet import WIDTH
from coretrack.paper.drawing import Stroke, Words
from coretrack.paper.page_flow import (
    LEADING,
    SIZE,
    Row,
    exact,
    fact_rows,
    moment_shown,
    rule_row,
    side_by_side,
    text_rows,
)
from coretrack.paper.paper_photos import PaperPhoto, photo_rows

CAUTION = f"Neither credit nor refusal says that a core is fit for use. {SAFETY.partition('. ')[2]}"
"""The safety caution of both papers: the shop's usual one, begun with what they might suggest."""

_LEFT = 272.0
_RIGHT = WIDTH - _LEFT - 14
_AMOUNT = 62.0
_LABEL = 62.0


@dataclass(frozen=True)
class JudgedCore:
    """A core as judged at the dock. `arithmetic` adds up to `credit` exactly (ten-thousandths).

    Invoice, sale and criteria are those of the core line it answers; they are empty for a core
    that answers none. `criteria_version` is the one in force on the day of the sale. `judged_at`
    is aware and in the shop's zone. `reasons` are the faults noted, or why it is refused;
    `hold_until` is the last day a refused core is kept.
    """

    tag: str
    number_read: str
    arithmetic: tuple[CreditLine, ...]
    credit: Money
    delivery: str
    arrived: date
    judged_by: str
    judged_at: datetime | None = None
    family: str = ""
    serial: str = ""
    invoice: str = ""
    line: str = ""
    sold_on: date | None = None
    number_sold: str = ""
    charge: Money | None = None
    criteria_version: int | None = None
    reasons: tuple[str, ...] = ()
    hold_until: date | None = None
    photos: tuple[PaperPhoto, ...] = ()
    no_photo: str = ""

    def __post_init__(self) -> None:
        lines = sum(line.amount for line in self.arithmetic)
        if lines != self.credit:
            raise InvalidInput(
                f"The lines of core {show_tag(self.tag)} come to {exact(lines)}, its credit is"
                f" {exact(self.credit)}; judge it again."
            )


def core_block(core: JudgedCore, outcome: str, reasons_label: str, currency: str) -> list[Row]:
    """Return one core, to stay on one page; `outcome` is printed beside its tag."""
    head = Row(
        19,
        (
            Words(0, 12, show_tag(core.tag), bold=True, size=13),
            Words(_LEFT - 8, 12, outcome, "hue", "end", bold=True, size=10),
        ),
    )
    left = [head, *fact_rows(_facts(core, reasons_label), 0, _LEFT - 8, _LABEL)]
    right = [replace(head, marks=()), *_arithmetic(core, currency)]
    pictures = photo_rows(core.photos, core.no_photo)
    return [*side_by_side(left, right), *pictures, rule_row(4, 7)]


def sold_as(core: JudgedCore) -> str:
    """Return the invoice line and sale that a core answers, or that there is none."""
    if not core.invoice.strip():
        return "no open core charge of yours"
    parts = [f"invoice {core.invoice}"]
    parts += [f"line {core.line}"] if core.line.strip() else []
    parts += [f"sold {core.sold_on.isoformat()}"] if core.sold_on else []
    return ", ".join(parts)


def _facts(core: JudgedCore, reasons_label: str) -> list[tuple[str, str]]:
    judged = core.judged_by
    if core.judged_at is not None:
        judged = f"{core.judged_by}, {moment_shown(core.judged_at)}"
    criteria = ""
    if core.criteria_version is not None:
        criteria = f"version {core.criteria_version}, in force at the sale"
    return [
        ("Family", core.family),
        ("Number sold", core.number_sold),
        ("Number read", core.number_read.strip() or "none"),
        ("Serial", core.serial),
        ("Answers", sold_as(core)),
        ("Delivery", f"{core.delivery}, arrived {core.arrived.isoformat()}"),
        ("Judged by", judged),
        ("Criteria", criteria),
        (reasons_label, "; ".join(core.reasons)),
    ]


def _arithmetic(core: JudgedCore, currency: str) -> list[Row]:
    """Return the lines with their amounts at the right edge, and the credit under a rule."""
    x = _LEFT + 14
    rows: list[Row] = []
    if not core.arithmetic and core.charge is not None:
        rows += text_rows(f"Core charge {exact(core.charge)}", x=x, width=_RIGHT)
    for line in core.arithmetic:
        lines = text_rows(line.text, x=x, width=_RIGHT - _AMOUNT) or [Row(LEADING)]
        amount = Words(WIDTH, SIZE, exact(line.amount), anchor="end", size=SIZE)
        rows += [*lines[:-1], replace(lines[-1], marks=(*lines[-1].marks, amount))]
    credit = f"{exact(core.credit)} {currency}".strip()
    rule = Stroke(x, 2, WIDTH, 2, "mid", 0.6)
    total = Words(x, 12, "Credit", bold=True, size=10)
    amount = Words(WIDTH, 12, credit, anchor="end", bold=True, size=10)
    # Two rows as tall as those of the left column, whose lines would else stand apart.
    return [*rows, Row(LEADING, (rule, total, amount)), Row(LEADING)]


def cores_counted(cores: tuple[JudgedCore, ...]) -> str:
    """Return "6 cores of 2 deliveries", or "6 cores of delivery D-000031"."""
    deliveries = dict.fromkeys(core.delivery for core in cores)
    if len(deliveries) == 1:
        return f"{counted(len(cores), 'core')} of delivery {next(iter(deliveries))}"
    return f"{counted(len(cores), 'core')} of {len(deliveries):,} deliveries"
