"""The credit for a returned core: its charge, less each deduction, line by line.

Common practice, no source: percentages are of the charge as sold, they add up, and no credit is
below zero or above the charge. The charge and the rules are those frozen at the sale.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction
from typing import Protocol

from coretrack.errors import InvalidInput
from coretrack.figures.money import CENT, Money, allocate, from_decimal, whole
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
    """A fault ticked at the dock; `value` is percent of the charge or currency units.

    `parts` says for how many parts of the core that percentage stands (0: not counted in parts).
    `each`: it counts as often as it is ticked; any other fault counts once.
    """

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
    @property
    def parts(self) -> int: ...
    @property
    def each(self) -> bool: ...


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
class _Ticked:
    """A fault and how often it counts."""

    fault: FaultLike
    times: int = 1

    @property
    def deducts(self) -> bool:
        return self.fault.effect in ("percent", "money")


@dataclass(frozen=True)
class _Deduction:
    """Percent of the charge or money, whichever is not zero."""

    text: str
    percent: Decimal
    fixed: Money


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
    ticked = _counted(faults)
    refusing = tuple(_named(item.fault) for item in ticked if item.fault.effect == "refuse")
    if refusing:
        return refuse(charge, "; ".join(refusing))
    taken, passed_over = _chosen(charge, ticked, lateness.percent)
    if lateness.text or lateness.percent:
        taken.append(_Deduction(lateness.text or "Arrived late", lateness.percent, 0))
    amounts = _amounts(charge, taken)
    lines = [CreditLine("Core charge", charge)]
    lines += [CreditLine(item.text, -amount) for item, amount in zip(taken, amounts, strict=True)]
    too_much = sum(amounts) - charge
    if too_much > 0:
        lines.append(CreditLine("No more than the charge is taken off", too_much))
    lines += [CreditLine(text, 0) for text in (*passed_over, *_remarks(ticked))]
    left = sum(line.amount for line in lines)
    return CreditResult(
        _outcome(charge, left), left, tuple(lines), _reasons(ticked, lateness, charge - left)
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


def effect_words(fault: FaultLike, currency: str = "") -> str:
    """Return what ticking a fault does to the credit, for the list it is ticked in."""
    words = {"refuse": "no credit", "allowed": "allowed", "warning": "noted only"}
    if fault.effect in words:
        return words[fault.effect]
    if fault.effect == "percent":
        share = f"{_plain(fault.value)} %"
        off = f"{_parts(fault.parts)} off ({share})" if fault.parts else f"{share} off"
    else:
        amount = _amount_text(fault.value)
        off = f"{amount} {currency} off" if currency else f"{amount} off"
    if fault.each:
        off += " each"
    return f"{off}, not added to others" if fault.exclusive else off


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


def _counted(faults: Sequence[FaultLike]) -> list[_Ticked]:
    """Return each fault once, in the order first ticked, with how often it counts."""
    seen: list[FaultLike] = []
    for fault in faults:
        if fault not in seen:
            seen.append(fault)
    return [_Ticked(fault, faults.count(fault) if fault.each else 1) for fault in seen]


def _named(fault: FaultLike) -> str:
    return fault.name.strip() or fault.code.strip()


def _plain(value: Decimal) -> str:
    return f"{value.normalize():f}"


def _parts(count: int) -> str:
    return "1 part" if count == 1 else f"{count} parts"


def _amount_text(value: Decimal) -> str:
    """Return currency units with two places, or with all of them where two are not enough."""
    cents = value.quantize(Decimal("0.01"))
    return f"{cents:f}" if cents == value else _plain(value)


def _deduction(ticked: _Ticked) -> _Deduction:
    fault, name = ticked.fault, _named(ticked.fault)
    many = f"{ticked.times} at " if ticked.times > 1 else ""
    if fault.effect == "percent":
        share = f"{_plain(fault.value)} % of the charge"
        each = f"{_parts(fault.parts)} ({share})" if fault.parts else share
        return _Deduction(f"{name}: {many}{each}", fault.value * ticked.times, 0)
    text = f"{name}: {many}{_amount_text(fault.value)}" if many else name
    try:
        return _Deduction(text, Decimal(0), from_decimal(fault.value) * ticked.times)
    except ValueError as problem:
        raise InvalidInput(f'Fault "{name}": {problem}; use at most 4 places.') from None


def _percent_of(charge: Money, percent: Decimal) -> Money:
    """Return `percent` of `charge` rounded half-up to the cent.

    Below 100 % it is never more than the charge, and from there on never less: a charge finer than
    a cent must not round away from it.
    """
    rounded = whole(Fraction(charge) * Fraction(percent) / 100 / CENT) * CENT
    return max(charge, rounded) if percent >= 100 else min(charge, rounded)


def _total(charge: Money, deductions: Sequence[_Deduction], late: Decimal) -> Money:
    """Return what these deductions and lateness take off together, before the cap."""
    percent = sum((item.percent for item in deductions), late)
    return _percent_of(charge, percent) + sum(item.fixed for item in deductions)


def _amounts(charge: Money, deductions: Sequence[_Deduction]) -> list[Money]:
    """Return the amount of each line.

    All percentages share one rounded total: three thirds of a charge must take all of it, which
    three separately rounded lines would miss by a cent. Beyond 100 % each line still shows its own
    size; the sum is held to the charge by a line of its own.
    """
    total = sum((item.percent for item in deductions), Decimal(0))
    if not total:
        return [item.fixed for item in deductions]
    weights = [Fraction(item.percent) for item in deductions]
    shares = allocate(_percent_of(charge, total), weights, CENT)
    return [share + item.fixed for share, item in zip(shares, deductions, strict=True)]


def _chosen(
    charge: Money, ticked: Sequence[_Ticked], late: Decimal
) -> tuple[list[_Deduction], tuple[str, ...]]:
    """Return what is taken off, and a remark for each deduction that gave way to another.

    Compared is what would be taken off in the end, lateness included: rounding must not let one
    more fault leave a cent more.
    """
    ordinary = [_deduction(t) for t in ticked if t.deducts and not t.fault.exclusive]
    exclusive = [_deduction(t) for t in ticked if t.deducts and t.fault.exclusive]
    if not exclusive:
        return ordinary, ()
    largest = max(exclusive, key=lambda item: _total(charge, [item], late))
    if _total(charge, [largest], late) < _total(charge, ordinary, late):
        remark = "not added, the others come to more"
        return ordinary, tuple(f"{item.text}: {remark}" for item in exclusive)
    left = ordinary + [item for item in exclusive if item is not largest]
    return [largest], tuple(f"{item.text}: not added, {largest.text} replaces it" for item in left)


def _remarks(ticked: Sequence[_Ticked]) -> tuple[str, ...]:
    words = {"allowed": "allowed, nothing taken off", "warning": "noted, nothing taken off"}
    return tuple(
        f"{_named(item.fault)}: {words[item.fault.effect]}"
        for item in ticked
        if item.fault.effect in words
    )


def _outcome(charge: Money, amount: Money) -> str:
    if amount == charge:
        return ACCEPT
    return PART_CREDIT if amount > 0 else REFUSE


def _reasons(ticked: Sequence[_Ticked], lateness: Lateness, taken_off: Money) -> tuple[str, ...]:
    names = tuple(
        f"{_named(item.fault)} ({item.times})" if item.times > 1 else _named(item.fault)
        for item in ticked
        if item.deducts or item.fault.effect == "warning"
    )
    late = (lateness.text,) if lateness.percent > 0 and taken_off > 0 else ()
    return names + late
