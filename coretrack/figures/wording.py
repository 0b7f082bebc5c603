"""Figures put into words, so that the screen, the paper and the terminal say the same.

A figure that is not known is a sentence here, never a zero.
"""

from __future__ import annotations

import math

from coretrack.figures.charge import ChargeAdvice, GoodBodyValue
from coretrack.figures.costing import CostRow
from coretrack.figures.money import Money, shown
from coretrack.figures.plain_words import counted, have, percent
from coretrack.figures.yields import Interval, YieldRow

NO_FIGURE = "no figure yet"
NONE_SUGGESTED = "none"

OWNER_DECIDES = "Nothing is changed by itself: the owner decides."

SAFETY = (
    "A keep verdict is not an approval for service. Cracked or thinned pressure-holding bodies and"
    " fuel at injection pressure injure people. Follow the standard, local codes and qualified"
    " people."
)

WASH_SAFETY = (
    "Hot caustic, acid and solvent burn, blind and poison; caustic on aluminium or zinc makes"
    " flammable hydrogen and eats the part. Goggles, shield, gloves, apron; never alone. Follow the"
    " makers' sheets of bath and machine, local codes and qualified people."
)
"""Common practice, no source: said where cores go into a wash and come out of it."""

WASH_LINE = "Caustic, acid, solvent burn and blind: goggles, shield, gloves, apron."
"""The same in one line, over the work; the whole stands below it."""

_ORIGINS = {"new body": "the price of a new body", "missed sale": "the margin of a missed sale"}


def sentence(text: str) -> str:
    """Return `text` with a capital first letter and one full stop."""
    text = text.strip().rstrip(".")
    return f"{text[:1].upper()}{text[1:]}." if text else ""


def rate(value: float | None) -> str:
    """Return a rate 0..1 as percent with one decimal, or that there is no figure.

    Only a true 0 or 1 may read "0.0 %" or "100.0 %".
    """
    if value is None or not math.isfinite(value):
        return NO_FIGURE
    return percent(value)


def rate_bounds(interval: Interval) -> str | None:
    """Return "64.2 … 74.0 %", or `None` while there are no bounds."""
    if interval.low is None or interval.high is None:
        return None
    return f"{rate(interval.low).removesuffix(' %')} … {rate(interval.high)}"


def rate_figure(value: float | None, interval: Interval) -> str:
    """Return "69.0 % (64.2 … 74.0 %)", or as much of it as is known.

    Both ends are shown: an interval is lopsided near 0 and 100 %, where one distance misleads.
    """
    between = rate_bounds(interval)
    return rate(value) if value is None or between is None else f"{rate(value)} ({between})"


def money_bounds(low: Money | None, high: Money | None) -> str | None:
    """Return "36.00 … 42.50", "at least 36.00", "at most 42.50", or `None` without any bound."""
    if low is not None and high is not None:
        return f"{shown(low)} … {shown(high)}"
    if low is not None:
        return f"at least {shown(low)}"
    return None if high is None else f"at most {shown(high)}"


def cost_figure(value: Money | None, low: Money | None, high: Money | None) -> str:
    """Return "39.26 (36.25 … 42.27)", or as much of it as is known."""
    between = money_bounds(low, high)
    if value is None:
        return NO_FIGURE if between is None else f"{NO_FIGURE}, {between}"
    if between is None:
        return shown(value)
    return f"{shown(value)} ({between})" if "…" in between else f"{shown(value)}, {between}"


def yield_line(row: YieldRow) -> str:
    """Return "69.0 % (64.2 … 74.0 %) of 320 decided cores", or why there is none."""
    if row.body_yield is None:
        return sentence(row.why or "no core of this group is decided yet, so there is no yield")
    decided = counted(row.counts.decided, "decided core")
    return f"{rate_figure(row.body_yield, row.interval)} of {decided}"


def open_deposits(lines: int, money: Money, currency: str = "") -> str:
    """Return what customers have laid down for cores that are not back yet, as a sentence."""
    amount = f"{shown(money)} {currency}".rstrip()
    return (
        f"Customers' deposits of {amount} are open (charges on cores not yet back), on"
        f" {counted(lines, 'core line')}."
    )


def source_lost_note(lost: int) -> str:
    """Return why sources and lots add up to less than the families, or nothing when they do not."""
    if not lost:
        return ""
    it = "it counts" if lost == 1 else "they count"
    return f"{have(lost, 'core')} lost the source: {it} in the table of families only"


SOURCES_MIX_FAMILIES = (
    "A source's cost is over all families it sent, so it says nothing about one of them."
)


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
    """Return "19.13 … 21.80", one amount where both ends agree, or that there is no figure."""
    low, high = advice.make_whole_low, advice.make_whole_high
    if advice.make_whole is None or low is None or high is None:
        return NO_FIGURE
    if high <= 0:
        return NONE_SUGGESTED
    first, last = shown(max(low, 0)), shown(high)
    return first if first == last else f"{first} … {last}"


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
    """Return the warnings of a family once each, without the one `charge_verdict` already gives.

    Those on the yield of all its cores say so, where the charge follows from returned cores only.
    """
    every = [text for text in advice.warnings if "make-whole range" not in text]
    if cost is not None:
        counts = cost.yields.counts
        apart = (advice.received, advice.decided, advice.good) != (
            counts.received,
            counts.decided,
            counts.good,
        )
        for text in cost.warnings:
            if text not in cost.yields.warnings:
                every.append(text)
            elif apart or counts.source_lost:
                every.append(text if "lost the source" in text else f"all cores: {text}")
    return tuple(dict.fromkeys(text.rstrip(".") for text in every))
