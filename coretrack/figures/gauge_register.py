"""Where a gauge stands on a day: in order, due soon, overdue, out of use; and when it is due next.

Due dates and recall by the last good check: common practice, no source.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, timedelta

from coretrack.figures.plain_words import counted
from coretrack.figures.trade_objects import Gauge

SOON_DAYS = 14
"""So many days before its check falls due a gauge is told to be due soon."""

LONGEST_INTERVAL = 3650


@dataclass(frozen=True)
class GaugeStanding:
    """A gauge's standing in words with its shape (good, wait, ask, stop); `rank` sorts worst first.

    `overdue` says that readings are stamped.
    """

    words: str
    chip: str
    rank: int
    overdue: bool = False


def gauge_standing(gauge: Gauge, today: date) -> GaugeStanding:
    """Return where `gauge` stands on the shop's day `today`; the due day itself is still good."""
    days = (date.fromisoformat(gauge.due_on) - today).days if gauge.due_on else None
    overdue = days is not None and days < 0
    if gauge.out_of_use:
        return GaugeStanding("out of use", "stop", 0, overdue)
    if days is None:
        return GaugeStanding("no due date", "ask", 2)
    if overdue:
        return GaugeStanding(f"overdue by {counted(-days, 'day')}", "stop", 1, True)
    if days <= SOON_DAYS:
        words = "due today" if days == 0 else f"due in {counted(days, 'day')}"
        return GaugeStanding(words, "wait", 3)
    return GaugeStanding("in order", "good", 4)


def next_due(checked_on: date, interval_days: int) -> date | None:
    """Return the day of the next check, `None` where no interval is set."""
    return checked_on + timedelta(days=interval_days) if interval_days else None
