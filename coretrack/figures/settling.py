"""What a judged core settles: money to bill or to give back, or a unit instead of money.

Common practice, no source. Up front, the charge was paid and the credit is given back. Billed
later, nothing was paid yet, and only what the core does not earn is billed. Core first, the core
came before the unit: it counts as one unit of its core group and is never cashed.
"""

from __future__ import annotations

from dataclasses import dataclass

from coretrack.errors import InvalidInput
from coretrack.figures.credits import REFUSE, CreditResult
from coretrack.figures.money import Money, shown


@dataclass(frozen=True)
class UnitCredit:
    """A core credited in kind: `units` is 1 or 0, `bill` the deductions still to be paid."""

    units: int
    bill: Money
    reasons: tuple[str, ...] = ()


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
