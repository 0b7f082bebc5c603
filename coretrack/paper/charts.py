"""The shop's charts as plain geometry, made once and drawn twice: on the page and on paper.

Every row has its own line and every amount stands beside its mark, so no labels can collide.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import floor, log10

from coretrack.figures.charge import ChargeAdvice
from coretrack.figures.costing import LOST_TO_SCRAP, SCRAPPED_CORES, CostRow
from coretrack.figures.money import UNIT, Money, shown
from coretrack.figures.plain_words import counted
from coretrack.figures.wording import rate, rate_bounds, rate_figure
from coretrack.figures.yields import YieldRow
from coretrack.paper.drawing import SIZE, Box, Chart, Dot, Mark, Stroke, Words, fitted, text_width

NARROW = 460.0
"""Below this width row names stand above their marks instead of beside them."""


def charge_scale(advice: ChargeAdvice, width: float = 560.0) -> Chart:
    """Return one scale with the make-whole range, floor, broker price, ceiling and today's charge.

    A new part's price far beyond the rest is drawn at the edge behind a break and says so, since
    it would squeeze everything else into a corner.
    """
    rows = _priced_rows(advice)
    low, high = _shown_range(advice)
    ends = [amount for amount in (low, high) if amount is not None]
    title = f"Core charge for {advice.family_name}"
    if not rows:
        return Chart(width, 0, title, "No price and no range is known yet.")
    others = [amount for name, amount, _ in rows if name != _NEW_PART] + ends
    known = [amount for _, amount, _ in rows] + ends
    top, beyond = _scale_top(advice.new_body_price, others)
    bottom = min(0, *known)
    texts = [_row_text(advice, name, amount, beyond) for name, amount, _ in rows]
    left = max(text_width(name, bold=kind != "price") for name, _, kind in rows) + 10
    # The text beside each mark must end inside the picture: the tightest row sets the scale.
    right = width
    for (name, amount, kind), text in zip(rows, texts, strict=True):
        if not (beyond and name == _NEW_PART):
            last = high if kind == "range" and high is not None else amount
            room = width - left - text_width(text, bold=kind != "price") - 10
            right = min(right, left + room * (top - bottom) / max(last - bottom, 1))
    spot = _Scale(bottom, top, left, right)
    marks: list[Mark] = []
    height = _PRICE_PITCH * len(rows) + 4
    if low is not None and high is not None:
        start, end = spot(low), spot(high)
        marks.append(Box(start, 0, max(end - start, 1.5), height, "band"))
    for index, ((name, amount, kind), text) in enumerate(zip(rows, texts, strict=True)):
        middle = _PRICE_PITCH * index + 9.5
        off = beyond and name == _NEW_PART
        marks += _price_row(name, text, kind, middle, right if off else spot(amount), left, off)
        if kind == "range" and low is not None and high is not None:
            marks += _range_row(spot(low), spot(amount), spot(high), middle, text)
    marks += _axis(spot, height + 2)
    said = "; ".join(f"{row[0]} {text}" for row, text in zip(rows, texts, strict=True))
    return Chart(width, height + 18, title, said + ".", tuple(marks))


_PRICE_PITCH = 15.0
_NEW_PART = "New part"
_RANGE = "Make-whole range"


def _shown_range(advice: ChargeAdvice) -> tuple[Money | None, Money | None]:
    """Return the range as far as it lies above nothing: no charge can be negative."""
    low, high = advice.make_whole_low, advice.make_whole_high
    if advice.make_whole is None or low is None or high is None or high <= 0:
        return None, None
    return max(low, 0), high


def _priced_rows(advice: ChargeAdvice) -> list[tuple[str, Money, str]]:
    """Return (name, amount, kind) of every price that is known, cheapest first."""
    low, high = _shown_range(advice)
    middle = None if low is None or high is None else max(advice.make_whole or 0, low)
    every = (
        ("Broker pays", advice.broker_price, "price"),
        ("Floor", advice.floor, "price"),
        (_RANGE, middle, "range"),
        ("Today's charge", advice.charge_today, "today"),
        ("Ceiling", advice.ceiling, "price"),
        (_NEW_PART, advice.new_body_price, "price"),
    )
    rows = [(name, amount, kind) for name, amount, kind in every if amount is not None]
    return sorted(rows, key=lambda row: row[1])


def _scale_top(new: Money | None, others: Sequence[Money]) -> tuple[Money, bool]:
    """Return where the scale ends, and whether the price of a new part lies beyond it."""
    if new is not None and others and 0 < max(others) * 16 < new * 10:
        return max(others) * 11 // 10, True
    return max(*others, new or 0, 1), False


def _row_text(advice: ChargeAdvice, name: str, amount: Money, beyond: bool) -> str:
    low, high = _shown_range(advice)
    if name == _RANGE and low is not None and high is not None and low != high:
        return f"{shown(low)} … {shown(high)}"
    return f"{shown(amount)} (off this scale)" if beyond and name == _NEW_PART else shown(amount)


def _price_row(
    name: str, text: str, kind: str, middle: float, x: float, left: float, off: bool
) -> list[Mark]:
    bold = kind != "price"
    tone = "hue" if kind == "range" else "ink"
    marks: list[Mark] = [Words(0, middle + 4, name, tone, bold=bold)]
    guide = x - text_width(text) - 26 if off else x - 5
    if guide - left > 2:
        marks.append(Stroke(left, middle, guide, middle, "rule", 0.8, dashed=True))
    if off:
        marks.append(Words(x - 20, middle + 4, text, tone, "end"))
        marks += [
            Stroke(x - 14 + shift, middle + 4, x - 10 + shift, middle - 4, "soft")
            for shift in (0, 4)
        ]
    if kind == "today":
        marks.append(Dot(x, middle, 5, "ink"))
    elif kind == "price":
        marks.append(Stroke(x, middle - 6, x, middle + 6, "ink", 2))
    if kind != "range" and not off:
        marks.append(Words(x + 9, middle + 4, text, tone, bold=bold))
    return marks


def _range_row(low: float, middle: float, high: float, y: float, text: str) -> list[Mark]:
    return [
        Box(low, y - 4, max(high - low, 1.5), 8, "hue"),
        Stroke(middle, y - 7, middle, y + 7, "hue", 2),
        Words(high + 9, y + 4, text, "hue", bold=True),
    ]


class _Scale:
    """Maps money onto x, straight and proportional."""

    def __init__(self, low: Money, high: Money, left: float, right: float) -> None:
        self.low, self.high, self.left, self.right = low, high, left, right

    def __call__(self, amount: Money) -> float:
        share = (amount - self.low) / (self.high - self.low)
        return self.left + (self.right - self.left) * share

    def ticks(self) -> list[Money]:
        """Return up to five round amounts (1, 2 or 5 times a power of ten) inside the scale."""
        span = (self.high - self.low) / UNIT
        rough = span / 4
        power = 10.0 ** floor(log10(rough))
        factor = next(f for f in (1, 2, 5, 10) if f * power >= rough)
        step = max(1, round(factor * power * UNIT))
        first = -(-self.low // step) * step
        return list(range(first, self.high + 1, step))


def _axis(scale: _Scale, y: float) -> list[Mark]:
    marks: list[Mark] = [Stroke(scale.left, y, scale.right, y, "rule")]
    for amount in scale.ticks():
        x = scale(amount)
        whole = amount % UNIT == 0
        text = f"{amount // UNIT:,}" if whole else shown(amount)
        marks.append(Stroke(x, y, x, y + 3, "rule"))
        marks.append(Words(x, y + 14, text, "soft", "middle", size=SIZE - 2))
    return marks


def waterfall(row: CostRow, width: float = 560.0) -> Chart:
    """Return the cost per good body built up step by step; the last bar is their sum.

    Before the money that went into scrapped cores a bar shows what one core costs by itself.
    """
    title = f"{WATERFALL_TITLE}: {row.group}"
    if row.cost_per_good_body is None or not row.waterfall:
        return Chart(width, 0, title, row.why or "There is no cost per good body yet.")
    bars = _bars(row)
    every = [amount for bar in bars for amount in (bar.start, bar.end)]
    left = min(
        max(text_width(bar.name, bold=bar.kind == "total") for bar in bars) + 8, width * 0.44
    )
    right = width - text_width(shown(max(every)), bold=True) - 8
    spot = _Scale(min(0, *every), max(*every, 1), left, right)
    marks: list[Mark] = []
    for index, bar in enumerate(bars):
        marks += _bar_marks(bar, spot, _PITCH * index, left)
        if index + 1 < len(bars):
            x, y = spot(bar.end), _PITCH * index
            marks.append(Stroke(x, y + 13, x, y + _PITCH + 2, "soft", 0.7))
    said = "; ".join(f"{bar.name} {shown(bar.end - bar.start)}" for bar in bars)
    return Chart(width, _PITCH * len(bars) + 2, title, f"{said}.", tuple(marks))


WATERFALL_TITLE = "Cost of one core, then of a good body"

_TOTAL = "A good body"
_ONE_CORE = "One core"
_SHORT = {LOST_TO_SCRAP: "Scrapped (÷ yield)"}
_PITCH = 14.0


@dataclass(frozen=True)
class _Bar:
    name: str
    kind: str
    start: Money
    end: Money


def _bars(row: CostRow) -> list[_Bar]:
    bars: list[_Bar] = []
    so_far = 0
    for step in row.waterfall:
        if step.of == SCRAPPED_CORES and bars:
            bars.append(_Bar(_ONE_CORE, "subtotal", 0, so_far))
        after = so_far + step.amount
        name = _SHORT.get(step.name, step.name[:1].upper() + step.name[1:])
        bars.append(_Bar(name, "step", so_far, after))
        so_far = after
    return [*bars, _Bar(_TOTAL, "total", 0, so_far)]


def _bar_marks(bar: _Bar, spot: _Scale, y: float, left: float) -> list[Mark]:
    x1, x2 = sorted((spot(bar.start), spot(bar.end)))
    tone = {"step": "mid", "subtotal": "soft", "total": "hue"}[bar.kind]
    words = "hue" if bar.kind == "total" else "ink"
    bold = bar.kind != "step"
    return [
        Words(0, y + 11, fitted(bar.name, left - 4), words, bold=bold),
        Box(x1, y + 2, max(x2 - x1, 0.8), 11, tone, hollow=bar.end < bar.start),
        Words(x2 + 6, y + 11, shown(bar.end - bar.start), words, bold=bold),
    ]


def yield_dots(rows: Sequence[YieldRow], width: float = 560.0, title: str = "Yield") -> Chart:
    """Return one line a group: the yield as a dot, its interval as a bar, on 0 to 100 %."""
    if not rows:
        return Chart(width, 0, title, "There is nothing to show yet.")
    stacked = width < NARROW
    values = [_yield_value(row) for row in rows]
    room = max(text_width(text, bold=True) for text in values) + 12
    left = 2.0 if stacked else min(max(text_width(r.group) for r in rows) + 12, width * 0.38)
    # On a phone the figure stands above the bar, beside the name, and the bar has the whole width.
    right = width - 6 if stacked else width - room
    pitch, drop = (32.0, 24.0) if stacked else (19.0, 11.0)
    height = pitch * len(rows) + 2
    marks: list[Mark] = []
    for percent in (0, 25, 50, 75, 100):
        x = left + (right - left) * percent / 100
        marks.append(Stroke(x, 0, x, height, "rule", 0.6))
        anchor = {0: "start", 100: "end"}.get(percent, "middle")
        marks.append(Words(x, height + 12, f"{percent} %", "soft", anchor, size=SIZE - 2))
    for index, (row, text) in enumerate(zip(rows, values, strict=True)):
        y = pitch * index + drop
        name = (0.0, y - 10) if stacked else (0.0, y + 4)
        marks.append(Words(*name, fitted(row.group, width - room if stacked else left - 8)))
        marks += _yield_marks(row, y, left, right)
        spot = (width, y - 10, "end") if stacked else (right + 12, y + 4, "start")
        known = row.body_yield is not None
        marks.append(Words(*spot[:2], text, anchor=spot[2], bold=known))
    said = "; ".join(_yield_said(row, text) for row, text in zip(rows, values, strict=True))
    return Chart(width, height + 16, title, said + ".", tuple(marks))


def _yield_value(row: YieldRow) -> str:
    if row.body_yield is None:
        return "no figure yet"
    return rate_figure(row.body_yield, row.interval)


def _yield_said(row: YieldRow, text: str) -> str:
    between = rate_bounds(row.interval)
    if row.body_yield is None or between is None:
        return f"{row.group} {text}"
    decided = counted(row.counts.decided, "decided core")
    return f"{row.group} {rate(row.body_yield)}, 95 % interval {between}, of {decided}"


def _yield_marks(row: YieldRow, y: float, left: float, right: float) -> list[Mark]:
    if row.body_yield is None:
        return []
    span = right - left
    marks: list[Mark] = []
    if row.interval.low is not None and row.interval.high is not None:
        low, high = left + span * row.interval.low, left + span * row.interval.high
        marks.append(Stroke(low, y, high, y, "hue", 3))
        marks += [Stroke(x, y - 4, x, y + 4, "hue", 1.5) for x in (low, high)]
    marks.append(Dot(left + span * row.body_yield, y, 4, "ink"))
    return marks
