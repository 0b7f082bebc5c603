"""The core charge on one scale, and what becomes of it when an input is tried out.

The scale holds the make-whole range, floor, broker's price, ceiling, a new body's price and today's
charge, so that one look tells which lies above which. Trying something out stores nothing.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from decimal import Decimal
from fractions import Fraction
from typing import Any

from coretrack.errors import InvalidInput
from coretrack.figures.charge import ChargeAdvice, ChargeInputs, charge_advice
from coretrack.figures.costing import CostRow
from coretrack.figures.good_bodies import GoodBodyValue
from coretrack.figures.money import CENT, UNIT, Money, shown
from coretrack.figures.plain_words import percent
from coretrack.figures.yields import YieldRow

MOST_STEPS = 8
"""More marked steps than this do not stand side by side on a phone."""

TRIED = "tried out"


@dataclass(frozen=True)
class Mark:
    """One thing on the scale; `low` and `high` (ten-thousandths) only where it has a range.

    `amount` is `None`, with `why`, when it is not known: it then stands beside the scale.
    """

    kind: str
    label: str
    amount: Money | None
    low: Money | None = None
    high: Money | None = None
    why: str | None = None


@dataclass(frozen=True)
class ChargeScale:
    """A money scale from `low` to `high` in steps of `step` (ten-thousandths), with its marks.

    `low`, `high` and `step` are `None`, with `why`, when no mark has an amount.
    """

    low: Money | None
    high: Money | None
    step: Money | None
    marks: tuple[Mark, ...]
    why: str | None = None

    def position(self, amount: Money) -> float:
        """Return where `amount` lies, 0 at the low end and 1 at the high one.

        ValueError without a scale.
        """
        if self.low is None or self.high is None:
            raise ValueError("there is no scale: no amount is known")
        return (amount - self.low) / (self.high - self.low)

    def ticks(self) -> tuple[Money, ...]:
        """Return the amounts that are written on the scale, none without a scale."""
        if self.low is None or self.high is None or self.step is None:
            return ()
        return tuple(range(self.low, self.high + 1, self.step))


def charge_scale(advice: ChargeAdvice) -> ChargeScale:
    """Return the scale of one family, marks in the order they are read."""
    marks = (
        Mark(
            "make-whole", "make-whole charge", advice.make_whole,
            advice.make_whole_low, advice.make_whole_high,
            advice.why if advice.make_whole is None else None,
        ),
        _mark("floor", "floor", advice.floor, "no price that a customer gets elsewhere is entered"),
        _mark("broker", "a broker pays", advice.broker_price, "no broker's price is entered"),
        _mark("ceiling", "ceiling", advice.ceiling, "no open-market price is entered"),
        _mark("new body", "new body", advice.new_body_price, "no price of a new body is entered"),
        _mark("today", "charge today", advice.charge_today, "no charge is set for today"),
    )  # fmt: skip
    amounts = [
        amount
        for mark in marks
        for amount in (mark.amount, mark.low, mark.high)
        if amount is not None
    ]
    if not amounts:
        return ChargeScale(None, None, None, marks, "nothing of the charge is known yet")
    # Money is read from zero on; without it, two charges a cent apart look worlds apart.
    least, most = min(0, *amounts), max(0, *amounts)
    step = _step(most - least)
    low, high = least // step * step, -(-most // step) * step
    return ChargeScale(low, max(high, low + step), step, marks)


def _mark(kind: str, label: str, amount: Money | None, why: str) -> Mark:
    return Mark(kind, label, amount, why=why if amount is None else None)


def _step(reach: Money) -> Money:
    """Return the smallest of 1, 2, 5 × 10ⁿ (a cent at least) that needs few enough steps."""
    power = CENT
    while True:
        for digit in (1, 2, 5):
            # One step less, because both ends are rounded outward.
            if reach <= digit * power * (MOST_STEPS - 1):
                return digit * power
        power *= 10


NAMES = {
    "processing": "processing per core",
    "scrap_recovery": "scrap brings, per core",
    "sourcing": "sourcing elsewhere",
    "outside_value": "what the customer gets elsewhere",
    "bother": "bother of sending",
    "credit_chance": "chance of being credited",
    "broker_price": "broker's price",
    "open_market_price": "open-market price",
    "trader_bother": "trader's bother",
    "new_body_price": "price of a new body",
    "charge_today": "charge",
    "good_body": "value of a good body",
    "body_yield": "yield of returns",
}
"""What the inputs that can be tried out are called."""


@dataclass(frozen=True)
class TriedInput:
    """One input before and as tried, as text."""

    name: str
    before: str
    tried: str


@dataclass(frozen=True)
class ChargeTrial:
    """The advice as it stands and as it would be; nothing of it is stored.

    `moved` is the change of the make-whole charge, `None` while one of the two is unknown.
    """

    now: ChargeAdvice
    tried: ChargeAdvice
    changes: tuple[TriedInput, ...]
    moved: Money | None
    sentence: str


def try_charge(
    family: str,
    family_name: str,
    yields: YieldRow,
    good_body: GoodBodyValue | None,
    inputs: ChargeInputs,
    changes: Mapping[str, Money | Decimal | Fraction],
    cost: CostRow | None = None,
) -> ChargeTrial:
    """Return the advice with `changes`, keys of `NAMES`, in the place of what is known.

    Amounts are money, `credit_chance` and `body_yield` shares. InvalidInput for an unknown key, an
    amount that is no whole count, or a share outside 0..1 (a chance of 0 included).
    """
    _check(changes)
    now = charge_advice(family, family_name, yields, good_body, inputs, cost)
    body, tried_yield = good_body, None
    values = dict(changes)
    if "good_body" in values:
        body = GoodBodyValue(int(values.pop("good_body")), TRIED, "a value tried out")
    if "body_yield" in values:
        tried_yield = Fraction(values.pop("body_yield"))
    typed: dict[str, Any] = {
        name: _decimal(value) if name == "credit_chance" else int(value)
        for name, value in values.items()
    }
    tried_inputs = replace(inputs, **typed)
    tried = charge_advice(family, family_name, yields, body, tried_inputs, cost, tried_yield)
    told = tuple(
        TriedInput(NAMES[name], _before(name, now, inputs), _text(name, value))
        for name, value in changes.items()
    )
    moved = None
    if now.make_whole is not None and tried.make_whole is not None:
        moved = tried.make_whole - now.make_whole
    return ChargeTrial(now, tried, told, moved, _sentence(now, tried, moved))


def _check(changes: Mapping[str, Money | Decimal | Fraction]) -> None:
    for name, value in changes.items():
        if name not in NAMES:
            raise InvalidInput(f"'{name}' cannot be tried out; use one of {', '.join(NAMES)}")
        if name in ("credit_chance", "body_yield"):
            if not 0 <= value <= 1 or (name == "credit_chance" and value == 0):
                raise InvalidInput(f"The {NAMES[name]} lies between 0 and 1; {value} does not.")
        elif Fraction(value).denominator != 1:
            raise InvalidInput(f"The {NAMES[name]} is an amount of money; {value} is not.")


def _decimal(value: Money | Decimal | Fraction) -> Decimal:
    exact = Fraction(value)
    return Decimal(exact.numerator) / Decimal(exact.denominator)


def _before(name: str, now: ChargeAdvice, inputs: ChargeInputs) -> str:
    if name == "good_body":
        return shown(now.good_body.amount if now.good_body else None)
    if name == "body_yield":
        return "–" if now.body_yield is None else percent(now.body_yield)
    return _text(name, getattr(inputs, name))


def _text(name: str, value: Money | Decimal | Fraction | None) -> str:
    if value is None:
        return "–"
    if name in ("credit_chance", "body_yield"):
        return percent(Fraction(value))
    return shown(int(value))


def _sentence(now: ChargeAdvice, tried: ChargeAdvice, moved: Money | None) -> str:
    if moved is None:
        return f"no make-whole charge to compare: {tried.why or now.why}"
    if abs(moved) < UNIT // 200:
        return f"the make-whole charge stays at {shown(now.make_whole)}"
    way = "rises" if moved > 0 else "falls"
    return (
        f"the make-whole charge {way} by {shown(abs(moved))},"
        f" from {shown(now.make_whole)} to {shown(tried.make_whole)}; nothing is stored"
    )
