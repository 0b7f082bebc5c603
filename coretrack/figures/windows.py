"""The return window of a core: how late it came, and what lateness takes off its charge.

The window runs from the day of the sale to the day the core arrived (the carrier's date where there
is one), never to the day somebody got round to judging it. The last day itself is inside.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, timedelta
from decimal import Decimal

from coretrack.errors import InvalidInput

AFTER_WINDOW = ("nothing", "full", "slide")
HUNDRED = Decimal(100)


@dataclass(frozen=True)
class WindowRule:
    """What a shop promised at the sale.

    `days` is the length of the window (`None`: no window, a core is never late). `after` says what
    is credited for a late core: "nothing", "full" (lateness has no effect) or "slide". A slide
    takes `slide_percent` of the charge off for each completed `slide_days` after the window, up to
    `slide_most` percent. A core that comes more than `nothing_after` days after the sale earns
    nothing, whatever `after` says (`None`: there is no such day).
    """

    days: int | None
    after: str = "nothing"
    slide_percent: Decimal = Decimal(0)
    slide_days: int = 7
    slide_most: Decimal = HUNDRED
    nothing_after: int | None = None

    def __post_init__(self) -> None:
        if self.days is not None and self.days < 0:
            raise InvalidInput(f"A window of {self.days} days makes no sense; use 0 or more.")
        if self.after not in AFTER_WINDOW:
            raise InvalidInput(
                f'After the window "{self.after}" is not known; use nothing, full or slide.'
            )
        if self.after == "slide" and not 0 < self.slide_percent <= HUNDRED:
            raise InvalidInput(
                f"A slide of {self.slide_percent} % a step makes no sense; use more than 0 and at"
                " most 100."
            )
        if self.after == "slide" and self.slide_days < 1:
            raise InvalidInput(
                f"A slide step of {self.slide_days} days makes no sense; use 1 day or more."
            )
        if self.after == "slide" and not self.slide_percent <= self.slide_most <= HUNDRED:
            raise InvalidInput(
                f"A slide of {self.slide_percent} % a step that stops at {self.slide_most} % makes"
                " no sense; let it stop at one step or more, and at 100 % at most."
            )
        if self.nothing_after is not None and self.nothing_after < (self.days or 0):
            raise InvalidInput(
                f"Nothing after day {self.nothing_after} is earlier than the window of"
                f" {self.days or 0} days; use a day that is not inside the window."
            )


@dataclass(frozen=True)
class Lateness:
    """How late a core came and the percentage of the full charge that costs; `text` says why.

    `percent` is 0..100 of the charge as sold, not of what other deductions left over.
    """

    days_late: int
    percent: Decimal
    text: str


IN_TIME = Lateness(0, Decimal(0), "")
"""A core for which no window counts."""


def due_date(rule: WindowRule, sold: date) -> date | None:
    """Return the last day on which a core still counts as in time; `None` without a window."""
    return None if rule.days is None else sold + timedelta(days=rule.days)


def lateness(rule: WindowRule, sold: date, arrived: date) -> Lateness:
    """Return what the window rule takes off for a core sold and arrived on these days.

    The slide counts completed steps only. A policy that reads "25 % a week after day 30, nothing
    left at day 60" keeps its word that way: 25 % are still left on day 57 and the last of it goes
    with the fourth full week, on day 58. Counting started weeks would leave nothing from day 52
    on, earlier than the customer was told.
    """
    due = due_date(rule, sold)
    if due is None or arrived <= due:
        return IN_TIME
    days_late = (arrived - due).days
    came = f"Arrived {_days(days_late)} after the window of {_days(rule.days or 0)}"
    if rule.nothing_after is not None and (arrived - sold).days > rule.nothing_after:
        last = f"nothing is credited after {_days(rule.nothing_after)} from the sale"
        return Lateness(days_late, HUNDRED, f"{came}: {last}")
    if rule.after == "full":
        return Lateness(days_late, Decimal(0), f"{came}; this shop credits late cores in full")
    if rule.after == "nothing":
        return Lateness(days_late, HUNDRED, f"{came}: nothing is credited after it")
    steps = days_late // rule.slide_days
    percent = min(rule.slide_most, steps * rule.slide_percent)
    slide = f"{came}, {_steps(steps, rule.slide_days)} at {rule.slide_percent.normalize():f} %"
    if percent < steps * rule.slide_percent:
        whole = rule.slide_most == HUNDRED
        most = f", but no more than {rule.slide_most.normalize():f} % in all"
        slide += ": nothing is left of it" if whole else most
    return Lateness(days_late, percent, slide)


def _steps(count: int, days: int) -> str:
    if days == 1:
        return _days(count)
    step = "week" if days == 7 else f"{days}-day step"
    return f"{count} full {step}" if count == 1 else f"{count} full {step}s"


def _days(count: int) -> str:
    return f"{count} day" if count == 1 else f"{count} days"
