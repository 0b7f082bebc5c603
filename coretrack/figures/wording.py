"""Figures put into words, so that the screen, the paper and the terminal say the same.

A figure that is not known is a sentence here, never a zero.
"""

from __future__ import annotations

import math
from decimal import ROUND_CEILING, ROUND_FLOOR, ROUND_HALF_UP, Decimal

from coretrack.figures.charge import ChargeAdvice, GoodBodyValue
from coretrack.figures.costing import CostRow
from coretrack.figures.money import Money, shown
from coretrack.figures.yields import Interval, YieldRow

NO_FIGURE = "no figure yet"
NONE_SUGGESTED = "none"

OWNER_DECIDES = "Nothing is changed by itself: the owner decides."

SAFETY = (
    "A keep verdict is not an approval for service. Cracked or thinned pressure-holding bodies and"
    " fuel at injection pressure injure people. Follow the standard, local codes and qualified"
    " people."
)

_ORIGINS = {"new body": "the price of a new body", "missed sale": "the margin of a missed sale"}
_POINT = Decimal("0.01")
_TENTH = Decimal("0.001")


def sentence(text: str) -> str:
    """Return `text` with a capital first letter and one full stop."""
    text = text.strip().rstrip(".")
    return f"{text[:1].upper()}{text[1:]}." if text else ""


def rate(value: float | None) -> str:
    """Return a rate 0..1 as whole percent; tenths where whole percent would say 0 or 100.

    Only a true 0 or 1 may read "0 %" or "100 %".
    """
    if value is None or not math.isfinite(value):
        return NO_FIGURE
    # By way of its text: 0.996 is a hair less than 0.996 as a binary float.
    exact = Decimal(str(value))
    whole = exact.quantize(_POINT, ROUND_HALF_UP)
    if whole == 1 and exact < 1:
        return f"{exact.quantize(_TENTH, ROUND_FLOOR) * 100:.1f} %"
    if whole == 0 and exact > 0:
        return f"{exact.quantize(_TENTH, ROUND_CEILING) * 100:.1f} %"
    return f"{whole * 100:.0f} %"


def rate_bounds(interval: Interval) -> str | None:
    """Return "64 to 74 %", or `None` while there are no bounds."""
    if interval.low is None or interval.high is None:
        return None
    return f"{rate(interval.low).removesuffix(' %')} to {rate(interval.high)}"


def rate_spread(value: float | None, interval: Interval) -> str | None:
    """Return "± 5", the wider side of the interval in points, rounded up; `None` without one."""
    if value is None or interval.low is None or interval.high is None:
        return None
    wider = Decimal(max(interval.high - value, value - interval.low, 0.0))
    # A guard against 0.05 being stored as 0.05000000000000000277 and shown as 6 points.
    points = (wider - Decimal("1e-9")).quantize(_POINT, ROUND_CEILING) * 100
    return f"± {max(points, Decimal(0)):.0f}"


def money_spread(value: Money | None, low: Money | None, high: Money | None) -> str | None:
    """Return "± 1.90", the wider side of the interval; `None` when any of the three is unknown."""
    if value is None or low is None or high is None:
        return None
    return f"± {shown(max(high - value, value - low, 0))}"


def cost_figure(value: Money | None, low: Money | None, high: Money | None) -> str:
    """Return "39.26 ± 3.01", or as much of it as is known."""
    if value is None:
        return NO_FIGURE if low is None else f"{NO_FIGURE}, at least {shown(low)}"
    spread = money_spread(value, low, high)
    if spread is not None:
        return f"{shown(value)} {spread}"
    return shown(value) if low is None else f"{shown(value)}, at least {shown(low)}"


def yield_line(row: YieldRow) -> str:
    """Return "69 % ± 5 of 320 decided cores", or why there is none."""
    if row.body_yield is None:
        return sentence(row.why or "no core of this group is decided yet, so there is no yield")
    spread = rate_spread(row.body_yield, row.interval)
    counted = f"{row.counts.decided:,} decided " + ("core" if row.counts.decided == 1 else "cores")
    return f"{rate(row.body_yield)}{'' if spread is None else ' ' + spread} of {counted}"


def cost_counted(advice: ChargeAdvice, cost: CostRow | None) -> str:
    """Return "n 225 decided, 180 good": the cores that the cost per good body is made of."""
    if cost is None:
        return f"n {advice.decided:,} decided, {advice.good:,} good"
    counts = cost.yields.counts
    return f"n {counts.decided:,} decided, {counts.good:,} good"


def returns_line(advice: ChargeAdvice, cost: CostRow | None) -> str:
    """Return which cores the charge follows from, where those are not all of the family's."""
    if cost is None or advice.body_yield is None:
        return ""
    if advice.decided == cost.yields.counts.decided:
        return ""
    return (
        f"The charge follows from returned cores alone: {rate(advice.body_yield)} of "
        f"{advice.decided:,} decided."
    )


def charge_range(advice: ChargeAdvice) -> str:
    """Return "19.13 to 21.80", one amount where both ends agree, or that there is no figure."""
    low, high = advice.make_whole_low, advice.make_whole_high
    if advice.make_whole is None or low is None or high is None:
        return NO_FIGURE
    if high <= 0:
        return NONE_SUGGESTED
    first, last = shown(max(low, 0)), shown(high)
    return first if first == last else f"{first} to {last}"


def charge_verdict(advice: ChargeAdvice) -> str:
    """Return one sentence that sets today's charge against the make-whole range."""
    low, high, today = advice.make_whole_low, advice.make_whole_high, advice.charge_today
    if advice.make_whole is None or low is None or high is None:
        why = advice.why or "no core is decided yet or the value of a good body is not known"
        return f"No charge is suggested: {why.rstrip('.')}."
    if high <= 0:
        return "At this yield a returned core costs more than it brings in: no charge is suggested."
    if today is None:
        return "No charge is set for this family today."
    if today < low:
        return f"Today's charge is {shown(low - today)} below the range."
    if today > high:
        return f"Today's charge is {shown(today - high)} above the range."
    return "Today's charge lies inside the range."


def good_body_origin(value: GoodBodyValue | None) -> str:
    """Return where the value of a good body came from, as a sentence."""
    if value is None:
        return (
            "The value of a good body is not known: give a new body's price, a bought lot or the"
            " margin of a missed sale."
        )
    detail = value.detail.strip().rstrip(".")
    if detail:
        return f"A good body is worth {shown(value.amount)}: {detail}."
    origin = _ORIGINS.get(value.origin, value.origin)
    return f"A good body is worth {shown(value.amount)}, from {origin}."


def other_warnings(advice: ChargeAdvice, cost: CostRow | None = None) -> tuple[str, ...]:
    """Return the warnings of a family once each, without the one `charge_verdict` already gives."""
    every = dict.fromkeys((*advice.warnings, *(() if cost is None else cost.warnings)))
    return tuple(text.rstrip(".") for text in every if "make-whole range" not in text)
