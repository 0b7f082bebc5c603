"""What a judged core settles: money to bill or to give back, or a unit instead of money.

Common practice, no source. Up front, the charge was paid and the credit is given back. Billed
later, nothing was paid yet, and only what the core does not earn is billed. Core first, the core
came before the unit: it counts as one unit of its core group and is never cashed.
"""

from __future__ import annotations

from calendar import monthrange
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

from coretrack.errors import InvalidInput
from coretrack.figures.credits import REFUSE, CreditResult
from coretrack.figures.money import Money, shown


@dataclass(frozen=True)
class UnitCredit:
    """A core credited in kind: `units` is 1 or 0, `bill` the deductions still to be paid."""

    units: int
    bill: Money
    reasons: tuple[str, ...] = ()


@dataclass(frozen=True)
class UnitAccount:
    """Units of one customer and core group: `left` to draw on, `lapsed` unused.

    `next_lapse` is the last day of the unit that lapses first; `None` when none is left.
    """

    left: int
    lapsed: int
    next_lapse: date | None


def balance(charge: Money, credited: Money, paid: Money) -> Money:
    """Return what the customer still owes for one core; below zero it is given back.

    `charge` is the core charge of the sale, `credited` what the core earned of it, `paid` what was
    billed and paid of the charge so far: all of it up front, nothing while it is billed later.
    """
    if not 0 <= credited <= charge:
        raise InvalidInput("A credit lies between nothing and the core charge; check the sale.")
    if paid < 0:
        raise InvalidInput("What was paid cannot be below zero; check the sale.")
    return charge - credited - paid


def balance_words(amount: Money, currency: str = "") -> str:
    """Return a balance in words, such as "7.50 EUR to bill"."""
    if not amount:
        return "nothing to pay"
    money = f"{shown(abs(amount))} {currency}".rstrip()
    return f"{money} to bill" if amount > 0 else f"{money} to give back"


def in_kind(charge: Money, result: CreditResult) -> UnitCredit:
    """Return what a core earns that counts as a unit instead of money.

    Half a unit is of no use to anybody: a core that is not refused counts whole, and its
    deductions, worked out on the `charge` of its family, are billed. A refused one counts nothing
    and nothing is billed. Our own reading; policies only say that the credit is in kind.
    """
    if result.outcome == REFUSE:
        return UnitCredit(0, 0, result.reasons)
    return UnitCredit(1, balance(charge, result.credit, 0), result.reasons)


def last_day(earned: date, months: int) -> date:
    """Return the last day on which a unit earned on `earned` can be drawn.

    The same day of the month, `months` later, or the last day of a shorter month.
    """
    if months < 1:
        raise InvalidInput(f"Units that lapse after {months} months make no sense; use 1 or more.")
    year, month = divmod(earned.year * 12 + earned.month - 1 + months, 12)
    return date(year, month + 1, min(earned.day, monthrange(year, month + 1)[1]))


def unit_account(
    earned: Sequence[date], drawn: Sequence[date], on: date, months: int
) -> UnitAccount:
    """Return how many units are left on the day `on`, the oldest drawn first.

    InvalidInput when a unit was drawn on a day on which none was left.
    """
    banked = sorted(day for day in earned if day <= on)
    lapsed = 0
    for day in sorted(day for day in drawn if day <= on):
        while banked and last_day(banked[0], months) < day:
            banked.pop(0)
            lapsed += 1
        if not banked or banked[0] > day:
            raise InvalidInput(
                f"On {day.isoformat()} no unit was left to draw on; charge this one as usual."
            )
        banked.pop(0)
    alive = [last for day in banked if (last := last_day(day, months)) >= on]
    return UnitAccount(len(alive), lapsed + len(banked) - len(alive), min(alive, default=None))
