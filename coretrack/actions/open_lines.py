"""Open core lines: what customers still owe, until when, and what became of each line."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, datetime

from coretrack.actions.desk_day import DeskDay, days_since, desk_day
from coretrack.actions.dock import window_of
from coretrack.actions.line_words import window_words
from coretrack.errors import NotFound
from coretrack.figures.lifecycle import CoreFacts
from coretrack.figures.money import Money, to_decimal
from coretrack.figures.plain_words import counted
from coretrack.figures.trade_objects import Line
from coretrack.figures.windows import due_date
from coretrack.paper.cells import to_csv
from coretrack.records import core_queries, list_queries, queries
from coretrack.records.database import connection
from coretrack.records.happenings import history

MOST_SHOWN = 300
"""Lines on one page; the totals and the CSV file hold all of them."""

ENDINGS = ("waived", "forfeited")
"""Ways to end a line without a core: the owner gives it up, or it is past due and lost."""


@dataclass(frozen=True)
class Standing:
    """How much of a window is used up, in words; `tone` is good, wait, ask or stop.

    `days_left` counts to the last day, which is inside; below zero it is past due, `None` without
    a window.
    """

    words: str
    tone: str
    days_left: int | None

    @property
    def past(self) -> bool:
        """Whether the last day is over."""
        return self.days_left is not None and self.days_left < 0


@dataclass(frozen=True)
class OwedLine:
    """A core line as the list shows it; `money` is the charge of the units still owed."""

    key: str
    invoice: str
    line: str
    customer: str
    customer_name: str
    number: str
    family: str
    sold_on: str
    age_days: int
    due_on: str
    standing: Standing
    owed: int
    quantity: int
    charge: Money
    money: Money
    mode: str


@dataclass(frozen=True)
class LineFilter:
    """Which open lines are asked for; empty means all. `past` leaves only those past due."""

    customer: str = ""
    family: str = ""
    past: bool = False


@dataclass(frozen=True)
class OpenLines:
    """The list: at most MOST_SHOWN `lines`, oldest first; the counts are of all that fit.

    `customers` are code and name, both it and `families` only those that owe something.
    """

    filter: LineFilter
    lines: tuple[OwedLine, ...]
    count: int
    units: int
    money: Money
    past_due: int
    past_money: Money
    customers: tuple[tuple[str, str], ...]
    families: tuple[str, ...]
    currency: str
    today: str

    @property
    def left_out(self) -> int:
        """How many lines fit and are not shown."""
        return self.count - len(self.lines)


@dataclass(frozen=True)
class LineEnding:
    """Units of a line that were waived or forfeited, when (the shop's day), by whom and why."""

    day: str
    what: str
    units: int
    money: Money
    by: str
    why: str


@dataclass(frozen=True)
class LineAnswer:
    """A core that answered the line."""

    tag: str
    outcome: str
    state: str
    credit: Money
    note: str
    delivery: str
    received_on: str


@dataclass(frozen=True)
class LineView:
    """One core line with everything that became of its units.

    `window` says the rule of the sale in words, `version` goes back with a form.
    """

    line: OwedLine
    credited: int
    credited_money: Money
    refused: int
    waived: int
    forfeited: int
    window: str
    cores: tuple[LineAnswer, ...]
    endings: tuple[LineEnding, ...]
    version: int
    currency: str


def standing(sold: date, due: date | None, today: date) -> Standing:
    """Return how a line stands today: half, four fifths or all of its window used, or past due.

    The steps are common practice, no source. The last day itself is inside.
    """
    if due is None:
        return Standing("no window", "good", None)
    left = (due - today).days
    if left < 0:
        return Standing(f"past due by {counted(-left, 'day')}", "stop", left)
    if left == 0:
        return Standing("due today, the last day", "ask", 0)
    used, window = (today - sold).days, (due - sold).days
    days = counted(left, "day")
    if used * 5 >= window * 4:
        return Standing(f"due soon, {days} left", "ask", left)
    if used * 2 >= window:
        return Standing(f"half the window used, {days} left", "wait", left)
    return Standing(f"in time, {days} left", "good", left)


def owed_line(line: Line, desk: DeskDay) -> OwedLine:
    """Return a core line as the lists show it."""
    sold = date.fromisoformat(line.sold_on)
    due = due_date(window_of(line), sold)
    return OwedLine(
        key=line.key,
        invoice=line.invoice,
        line=line.line,
        customer=line.customer,
        customer_name=desk.name(line.customer),
        number=line.number,
        family=line.family,
        sold_on=line.sold_on,
        age_days=days_since(line.sold_on, desk.today),
        due_on=due.isoformat() if due else "",
        standing=standing(sold, due, desk.today),
        owed=line.owed,
        quantity=line.quantity,
        charge=line.charge,
        money=line.charge * line.owed,
        mode=line.mode,
    )


def open_lines(wanted: LineFilter, now: datetime) -> OpenLines:
    """Return the open core lines that fit, oldest sale first."""
    with connection():
        desk = desk_day(now)
        found = _fitting(wanted, desk)
        owing = list_queries.lines_owing()
    past = [line for line in found if line.standing.past]
    return OpenLines(
        filter=wanted,
        lines=tuple(found[:MOST_SHOWN]),
        count=len(found),
        units=sum(line.owed for line in found),
        money=sum(line.money for line in found),
        past_due=len(past),
        past_money=sum(line.money for line in past),
        customers=tuple((code, desk.name(code)) for code in sorted({code for code, _ in owing})),
        families=tuple(sorted({family for _, family in owing})),
        currency=desk.shop.currency,
        today=desk.today.isoformat(),
    )


def _fitting(wanted: LineFilter, desk: DeskDay) -> list[OwedLine]:
    lines = queries.open_lines(wanted.customer, family=wanted.family)
    found = [owed_line(line, desk) for line in lines]
    return [line for line in found if line.standing.past] if wanted.past else found


def open_lines_csv(wanted: LineFilter, now: datetime) -> bytes:
    """Return all open core lines that fit as a CSV file; a spreadsheet program changes no text."""
    headings = (
        "invoice", "line", "customer", "customer name", "number", "family", "sold", "age days",
        "due", "standing", "units owed", "units sold", "charge each", "money owed", "charge mode",
    )  # fmt: skip
    with connection():
        found = _fitting(wanted, desk_day(now))
    return to_csv(headings, (_csv_row(line) for line in found))


def _csv_row(line: OwedLine) -> list[str | int | date | None]:
    return [
        line.invoice,
        line.line,
        line.customer,
        line.customer_name,
        line.number,
        line.family,
        date.fromisoformat(line.sold_on),
        line.age_days,
        date.fromisoformat(line.due_on) if line.due_on else None,
        line.standing.words,
        line.owed,
        line.quantity,
        f"{to_decimal(line.charge):.4f}",
        f"{to_decimal(line.money):.4f}",
        line.mode,
    ]


def line_view(key: str, now: datetime) -> LineView:
    """Return one core line, open or not; NotFound when there is none."""
    with connection():
        desk = desk_day(now)
        line = core_queries.line(key)
        if line is None:
            raise NotFound(f"There is no core line '{key}'.")
        events = history("line", key)
        cores = list_queries.cores_of_line(key)
    endings = [
        LineEnding(
            desk.day_of(each.at).isoformat(),
            each.event,
            each.detail["units"],
            each.detail.get("money", each.detail["units"] * line.charge),
            each.by,
            each.why,
        )
        for each in events
        if each.event in ENDINGS
    ]
    return LineView(
        line=owed_line(line, desk),
        credited=line.credited,
        credited_money=line.credited_money,
        refused=line.refused,
        waived=line.waived,
        forfeited=line.forfeited,
        window=window_words(window_of(line)),
        cores=tuple(_answer(core) for core in cores),
        endings=tuple(endings),
        version=len(events),
        currency=desk.shop.currency,
    )


def _answer(core: CoreFacts) -> LineAnswer:
    return LineAnswer(
        core.tag,
        core.acceptance,
        core.state,
        core.credit,
        core.credit_note,
        core.lot,
        core.received_on,
    )


def past_due(days: Iterable[list_queries.OwedOnDay], today: date) -> int:
    """Return how many open lines have a last day that is over."""
    return sum(
        day.lines
        for day in days
        if (today - date.fromisoformat(day.sold_on)).days > day.window_days
    )
