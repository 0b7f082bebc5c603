"""Deposits still owed by age, what falls due next, what was forfeited, and cores beyond the sales.

Every exchange sale opens a line; it closes by core, refusal, waiver or forfeiture. Age runs from
the day of the sale, reminders by the share of the window that is gone. Common practice, no source.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, timedelta

from coretrack.figures.money import Money, shown
from coretrack.figures.plain_words import are, counted, percent

AGE_EDGES = (30, 60, 90)
"""Last day of each age class but the last, which is open."""

STAGES = (50, 80, 100)
"""Percent of the window after which a customer is reminded."""


@dataclass(frozen=True)
class OpenLine:
    """One line with `units` still owed at `charge` each (ten-thousandths).

    `window_days` is `None` when the sale has no window. `billed` is false where the charge was not
    paid yet: no money of the customer is held then.
    """

    line: str
    customer: str
    family: str
    sold_on: date
    window_days: int | None
    units: int
    charge: Money
    billed: bool = True

    @property
    def due_on(self) -> date | None:
        """The last day on which the core counts as in time."""
        if self.window_days is None:
            return None
        return self.sold_on + timedelta(days=self.window_days)

    @property
    def money(self) -> Money:
        """What the units still owed carry in core charges."""
        return self.units * self.charge


@dataclass(frozen=True)
class AgeClass:
    """Lines sold `least` to `most` days ago (`most` `None`: older still), units and money."""

    least: int
    most: int | None
    lines: int
    units: int
    money: Money

    @property
    def label(self) -> str:
        """The class as "31 to 60 days", "over 90 days"."""
        if self.most is None:
            return f"over {self.least - 1} days"
        return f"{self.least} to {self.most} days"


@dataclass(frozen=True)
class OwedSheet:
    """Deposits owed on one day. The classes add up to `units` and `money`.

    `held` is the money of it that customers have paid; `past_due` those whose window is over;
    `oldest_days` is `None`, and `why` says so, when nothing is owed.
    """

    on: date
    lines: int
    units: int
    money: Money
    held: Money
    past_due_lines: int
    past_due_units: int
    past_due_money: Money
    oldest_days: int | None
    ages: tuple[AgeClass, ...]
    sentence: str
    why: str | None = None


def owed_sheet(
    lines: Iterable[OpenLine], today: date, edges: Sequence[int] = AGE_EDGES
) -> OwedSheet:
    """Return what is owed on `today`; lines without units left are not counted.

    ValueError for a sale after today, negative units, or edges that do not rise.
    """
    open_lines = [line for line in lines if line.units]
    for line in open_lines:
        if line.sold_on > today or line.units < 0:
            raise ValueError(f"line {line.line}: sold {line.sold_on}, {line.units} units cannot be")
    if list(edges) != sorted(set(edges)):
        raise ValueError("age classes rise from one to the next")
    late = [line for line in open_lines if line.due_on is not None and line.due_on < today]
    ages = [(today - line.sold_on).days for line in open_lines]
    money = sum(line.money for line in open_lines)
    return OwedSheet(
        on=today,
        lines=len(open_lines),
        units=sum(line.units for line in open_lines),
        money=money,
        held=sum(line.money for line in open_lines if line.billed),
        past_due_lines=len(late),
        past_due_units=sum(line.units for line in late),
        past_due_money=sum(line.money for line in late),
        oldest_days=max(ages) if ages else None,
        ages=_classes(open_lines, ages, edges),
        sentence=_owed_told(open_lines, late, money),
        why=None if open_lines else "no core is owed",
    )


def _classes(
    lines: Sequence[OpenLine], ages: Sequence[int], edges: Sequence[int]
) -> tuple[AgeClass, ...]:
    starts = [0, *(edge + 1 for edge in edges)]
    ends: list[int | None] = [*edges, None]
    found = []
    for least, most in zip(starts, ends, strict=True):
        inside = [
            line
            for line, age in zip(lines, ages, strict=True)
            if age >= least and (most is None or age <= most)
        ]
        units, money = sum(i.units for i in inside), sum(i.money for i in inside)
        found.append(AgeClass(least, most, len(inside), units, money))
    return tuple(found)


def _owed_told(lines: Sequence[OpenLine], late: Sequence[OpenLine], money: Money) -> str:
    if not lines:
        return "no core is owed"
    units = sum(line.units for line in lines)
    told = f"{are(units, 'core')} owed with {shown(money)} of deposits"
    if not late:
        return f"{told}, none past its window"
    late_money = sum(line.money for line in late)
    return f"{told}, {sum(line.units for line in late):,} of them past due ({shown(late_money)})"


@dataclass(frozen=True)
class Reminder:
    """A line that has reached a stage of its window it was not reminded of; `percent` of it."""

    line: OpenLine
    percent: int
    due_on: date
    days_left: int
    sentence: str


def reminders(
    lines: Iterable[OpenLine],
    today: date,
    reminded: Mapping[str, int] | None = None,
    stages: Sequence[int] = STAGES,
) -> tuple[Reminder, ...]:
    """Return the lines to chase, the most pressing first, each at its latest stage only.

    `reminded` maps a line to the stage (percent) it was last reminded of. Lines without a window or
    without units left are never chased.
    """
    done = reminded or {}
    found = []
    for line in lines:
        due = line.due_on
        if due is None or line.window_days is None or not line.units:
            continue
        gone = (today - line.sold_on).days
        reached = [stage for stage in stages if gone * 100 >= stage * line.window_days]
        if reached and reached[-1] > done.get(line.line, 0):
            left = (due - today).days
            found.append(Reminder(line, reached[-1], due, left, _reminder_told(line, left)))
    return tuple(sorted(found, key=lambda r: (r.days_left, -r.line.money, r.line.line)))


def _reminder_told(line: OpenLine, left: int) -> str:
    cores = f"{counted(line.units, 'core')} of {line.customer}, {shown(line.money)}"
    if left < 0:
        return f"{cores}: {counted(-left, 'day')} past due"
    if left == 0:
        return f"{cores}: due today"
    return f"{cores}: due in {counted(left, 'day')}"


@dataclass(frozen=True)
class Settled:
    """How one unit of a line was closed: "credited", "refused", "waived" or "forfeited".

    `charge` is the unit's core charge, `credit` what was given of it.
    """

    how: str
    on: date
    charge: Money
    credit: Money = 0


@dataclass(frozen=True)
class SettledSheet:
    """Closed units of a period: credits, refusals, waivers and forfeits, in pieces and money.

    `credit_share` is phi, credits over charges of the credited units (0..1), `None` with `why`
    while none was credited. `forfeited_money` is the deposits that stay with the shop; what it is
    for the books is the accountant's question.
    """

    credited: int
    credits: Money
    credit_share: float | None
    refused: int
    waived: int
    forfeited: int
    forfeited_money: Money
    sentence: str
    why: str | None = None


def settled_sheet(units: Iterable[Settled], first: date, last: date) -> SettledSheet:
    """Return what was closed from `first` to `last`, both included.

    ValueError for another way of closing, or a credit above its charge.
    """
    ways: dict[str, list[Settled]] = {w: [] for w in ("credited", "refused", "waived", "forfeited")}
    for unit in units:
        if unit.how not in ways:
            raise ValueError(f"a line is not closed by '{unit.how}'; use {', '.join(ways)}")
        if not 0 <= unit.credit <= unit.charge:
            raise ValueError("a credit lies between nothing and the core charge")
        if first <= unit.on <= last:
            ways[unit.how].append(unit)
    credits = sum(unit.credit for unit in ways["credited"])
    charges = sum(unit.charge for unit in ways["credited"])
    share = credits / charges if charges else None
    forfeits = sum(unit.charge for unit in ways["forfeited"])
    told = f"{counted(len(ways['credited']), 'core')} credited with {shown(credits)}"
    if share is not None:
        told += f", {percent(share)} of their charges"
    told += f"; {counted(len(ways['forfeited']), 'deposit')} forfeited ({shown(forfeits)})"
    why = None if share is not None else "no core with a charge was credited in this time"
    return SettledSheet(
        len(ways["credited"]), credits, share, len(ways["refused"]), len(ways["waived"]),
        len(ways["forfeited"]), forfeits, told, why,
    )  # fmt: skip


@dataclass(frozen=True)
class ExcessSheet:
    """Cores handed in beyond what was sold: how many wait, how many were bought, since when."""

    waiting: int
    bought: int
    bought_money: Money
    oldest_days: int | None
    sentence: str


def excess_sheet(
    waiting_since: Iterable[date], bought: int, bought_money: Money, today: date
) -> ExcessSheet:
    """Return the excess cores on `today`; `bought` of them became the shop's for a price."""
    ages = [(today - since).days for since in waiting_since]
    told = "no excess core waits" if not ages else f"{are(len(ages), 'excess core')} waiting"
    if ages:
        told += f", the oldest for {counted(max(ages), 'day')}"
    if bought:
        told += f"; {counted(bought, 'excess core')} bought for {shown(bought_money)}"
    return ExcessSheet(len(ages), bought, bought_money, max(ages) if ages else None, told)
