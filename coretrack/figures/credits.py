"""The credit for a returned core: its charge, less each deduction, line by line.

Common practice, no source: percentages are of the charge as sold, they add up, and no credit is
below zero or above the charge. The charge and the rules are those frozen at the sale.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from decimal import ROUND_HALF_UP, Decimal
from fractions import Fraction
from typing import Protocol

from coretrack.errors import InvalidInput
from coretrack.figures.money import CENT, Money, allocate, from_decimal
from coretrack.figures.windows import IN_TIME, Lateness

ACCEPT = "accept"
PART_CREDIT = "part credit"
REFUSE = "refuse"
EFFECTS = ("percent", "money", "refuse", "allowed", "warning")

ROUNDING = (
    "Percentages are of the full charge. They are added up first and rounded once, half-up to the"
    " cent."
)
"""The rounding rule, as printed under the arithmetic."""


class FaultLike(Protocol):
    """A fault ticked at the dock; `value` is percent of the charge or currency units."""

    @property
    def code(self) -> str: ...
    @property
    def name(self) -> str: ...
    @property
    def effect(self) -> str: ...
    @property
    def value(self) -> Decimal: ...
    @property
    def exclusive(self) -> bool: ...


@dataclass(frozen=True)
class CreditLine:
    """One line of the arithmetic; what is taken off is negative, a remark is zero."""

    text: str
    amount: Money


@dataclass(frozen=True)
class CreditResult:
    """Acceptance of one core at the dock. The lines add up exactly to `credit`.

    `outcome` is accept, part credit or refuse. `reasons` is empty only for a core accepted with
    nothing noted; a refusal always has one.
    """

    outcome: str
    credit: Money
    lines: tuple[CreditLine, ...]
    reasons: tuple[str, ...] = ()


@dataclass(frozen=True)
class _Deduction:
    text: str
    amount: Money


def credit(
    charge: Money, faults: Sequence[FaultLike], lateness: Lateness = IN_TIME
) -> CreditResult:
    """Return the credit for a core with these faults, and how it was reached.

    `charge` is what the customer paid as core charge (ten-thousandths). An exclusive deduction
    never adds to the others: the largest exclusive one replaces all of them, unless they already
    come to more, so that one more fault can never raise a credit. Refusing faults leave nothing
    whatever else was found. A core with nothing left is a refusal: it is the customer's until its
    hold date. InvalidInput names a charge or fault that cannot be used.
    """
    if charge < 0:
        raise InvalidInput("A core charge below zero cannot be credited; check the sale line.")
    for fault in faults:
        _check_fault(fault)
    refusing = tuple(_named(fault) for fault in faults if fault.effect == "refuse")
    if refusing:
        return refuse(charge, "; ".join(refusing))
    lines = [CreditLine("Core charge", charge)]
    taken, passed_over = _deductions(charge, faults)
    lines += [CreditLine(deduction.text, -deduction.amount) for deduction in taken]
    late = _percent_of(charge, lateness.percent)
    if lateness.text:
        lines.append(CreditLine(lateness.text, -late))
    too_much = sum(deduction.amount for deduction in taken) + late - charge
    if too_much > 0:
        lines.append(CreditLine("No more than the charge is taken off", too_much))
    lines += [CreditLine(text, 0) for text in (*passed_over, *_remarks(faults))]
    amount = sum(line.amount for line in lines)
    return CreditResult(
        _outcome(charge, amount), amount, tuple(lines), _reasons(faults, lateness, charge - amount)
    )


def refuse(charge: Money, reason: str) -> CreditResult:
    """Return a refusal of credit; InvalidInput unless a reason is given."""
    if charge < 0:
        raise InvalidInput("A core charge below zero cannot be refused; check the sale line.")
    if not reason.strip():
        raise InvalidInput(
            "A refusal needs a reason: tick the fault or write what is wrong with the core."
        )
    why = reason.strip()
    lines = (CreditLine("Core charge", charge), CreditLine(f"Refused: {why}", -charge))
    return CreditResult(REFUSE, 0, lines, (why,))


def _check_fault(fault: FaultLike) -> None:
    if not _named(fault):
        raise InvalidInput("A fault has neither a code nor a name; give it one in the family.")
    if fault.effect not in EFFECTS:
        raise InvalidInput(
            f'Fault "{_named(fault)}" has the effect "{fault.effect}"; use percent, money, refuse,'
            " allowed or warning."
        )
    if fault.effect == "percent" and not (fault.value.is_finite() and 0 <= fault.value <= 100):
        raise InvalidInput(
            f'Fault "{_named(fault)}" takes {fault.value} % off; use 0 to 100 percent.'
        )
    if fault.effect == "money" and not (fault.value.is_finite() and fault.value >= 0):
        raise InvalidInput(
            f'Fault "{_named(fault)}" takes {fault.value} off; use an amount of 0 or more.'
        )


def _named(fault: FaultLike) -> str:
    return fault.name.strip() or fault.code.strip()


def _percent_of(charge: Money, percent: Decimal) -> Money:
    """Return `percent` of `charge` rounded half-up to the cent, never more than the charge."""
    return charge if percent >= 100 else min(charge, _rounded(charge, percent))


def _rounded(charge: Money, percent: Decimal) -> Money:
    exact = Decimal(charge) * percent / 100 / CENT
    return int(exact.quantize(Decimal(1), ROUND_HALF_UP)) * CENT


def _fixed(fault: FaultLike) -> Money:
    try:
        return from_decimal(fault.value)
    except ValueError as problem:
        raise InvalidInput(f'Fault "{_named(fault)}": {problem}; use at most 4 places.') from None


def _percent_text(fault: FaultLike) -> str:
    return f"{_named(fault)}: {fault.value.normalize():f} % of the charge"


def _ordinary(charge: Money, faults: Sequence[FaultLike]) -> list[_Deduction]:
    """Return the deductions that add up, in the order ticked.

    The percentages share one rounded total: three thirds of a charge must take all of it, which
    three separately rounded lines would miss by a cent.
    """
    counted = [f for f in faults if f.effect in ("percent", "money") and not f.exclusive]
    percents = [fault.value for fault in counted if fault.effect == "percent"]
    shares = iter(_shares(charge, percents))
    return [
        _Deduction(_percent_text(fault), next(shares))
        if fault.effect == "percent"
        else _Deduction(_named(fault), _fixed(fault))
        for fault in counted
    ]


def _shares(charge: Money, percents: Sequence[Decimal]) -> list[Money]:
    total = sum(percents, Decimal(0))
    if not total:
        return [0] * len(percents)
    amount = _percent_of(charge, total)
    if total > 100:
        # Each line still shows its own size; the sum is held to the charge by a line of its own.
        amount = max(charge, _rounded(charge, total))
    return allocate(amount, [Fraction(percent) for percent in percents], CENT)


def _deductions(
    charge: Money, faults: Sequence[FaultLike]
) -> tuple[list[_Deduction], tuple[str, ...]]:
    """Return what is taken off, and a remark for each deduction that gave way to another."""
    ordinary = _ordinary(charge, faults)
    exclusive = [
        _Deduction(_percent_text(fault), _percent_of(charge, fault.value))
        if fault.effect == "percent"
        else _Deduction(_named(fault), _fixed(fault))
        for fault in faults
        if fault.exclusive and fault.effect in ("percent", "money")
    ]
    if not exclusive:
        return ordinary, ()
    largest = max(exclusive, key=lambda deduction: deduction.amount)
    if largest.amount < sum(deduction.amount for deduction in ordinary):
        remark = "not added, the others come to more"
        return ordinary, tuple(f"{item.text}: {remark}" for item in exclusive)
    left = ordinary + [deduction for deduction in exclusive if deduction is not largest]
    return [largest], tuple(f"{item.text}: not added, {largest.text} replaces it" for item in left)


def _remarks(faults: Sequence[FaultLike]) -> tuple[str, ...]:
    words = {"allowed": "allowed, nothing taken off", "warning": "noted, nothing taken off"}
    return tuple(f"{_named(f)}: {words[f.effect]}" for f in faults if f.effect in words)


def _outcome(charge: Money, amount: Money) -> str:
    if amount == charge:
        return ACCEPT
    return PART_CREDIT if amount > 0 else REFUSE


def _reasons(faults: Sequence[FaultLike], lateness: Lateness, taken_off: Money) -> tuple[str, ...]:
    names = tuple(_named(f) for f in faults if f.effect in ("percent", "money", "warning"))
    late = (lateness.text,) if lateness.percent > 0 and taken_off > 0 else ()
    return names + late
