"""The Monday sheet: fourteen lines an owner reads in one go, each with its change and how sure.

The lines are put together in `monday_work` and `monday_money` from the figures of the week; here is
only their shape. Nothing on the sheet is ever a zero for something that is not known.
"""

from __future__ import annotations

from dataclasses import dataclass, fields
from datetime import date
from fractions import Fraction

from coretrack.figures.intervals import Interval
from coretrack.figures.money import Money, shown, whole
from coretrack.figures.plain_words import percent
from coretrack.figures.two_rates import RateChange, points
from coretrack.figures.weekly import FigureChange, WeekChange

SHARE, MONEY, DAYS = "share", "money", "days"
"""Units that are written in their own way; any other unit is the noun that is counted."""

DASH = "–"

Value = int | float | Fraction


@dataclass(frozen=True)
class MondayFigure:
    """One figure of a line.

    `value` is a share 0..1, money in ten-thousandths, or a count of `unit`; `None`, with `why`,
    while it is not known. `low` and `high` are its 95 % bounds where it has any. `change` is
    against the thirteen weeks before (a share's in shares), `None` where there is nothing to hold
    it against. `stands_out` says whether it is more than chance or the usual scatter. `sure` says
    in one plain sentence how sure all that is.
    """

    name: str
    value: Value | None
    unit: str
    sure: str
    low: Value | None = None
    high: Value | None = None
    change: Value | None = None
    stands_out: bool | None = None
    why: str | None = None

    @property
    def shown(self) -> str:
        """The value as it stands on the sheet."""
        return written(self.value, self.unit)

    @property
    def shown_change(self) -> str:
        """The change with its sign: "+3.1 points", "-2.40"; a dash when it is not known."""
        if self.change is None:
            return DASH
        if self.unit == SHARE:
            return f"{points(float(self.change))} points"
        moved: Value = self.change
        amount = written(moved if moved >= 0 else -moved, self.unit)
        if amount in ("0", "0.00", "0.0"):
            return amount
        return f"{'+' if self.change > 0 else '−'}{amount}"

    @property
    def shown_bounds(self) -> str | None:
        """The bounds as "58.1 % to 70.2 %"; `None` where the figure has none."""
        if self.low is None and self.high is None:
            return None
        return f"{written(self.low, self.unit)} to {written(self.high, self.unit)}"


@dataclass(frozen=True)
class MondayLine:
    """One of the fourteen lines; its first figure is the one that counts.

    `sure` is its sentence; `why` says why the line has nothing to show at all.
    """

    number: int
    key: str
    title: str
    figures: tuple[MondayFigure, ...]
    sure: str
    why: str | None = None

    @property
    def value(self) -> Value | None:
        """The first figure's value."""
        return self.figures[0].value if self.figures else None

    @property
    def change(self) -> Value | None:
        """The first figure's change against the thirteen weeks before."""
        return self.figures[0].change if self.figures else None

    @property
    def stands_out(self) -> bool:
        """Whether any figure of the line changed more than it usually does."""
        return any(figure.stands_out for figure in self.figures)


@dataclass(frozen=True)
class MondaySheet:
    """The fourteen lines of one week, `week_from` to `week_to`, both included."""

    week_from: date
    week_to: date
    cores_in: MondayLine
    decided: MondayLine
    yields: MondayLine
    cost: MondayLine
    scrap_reasons: MondayLine
    coverage: MondayLine
    returns: MondayLine
    open_lines: MondayLine
    credits: MondayLine
    charges: MondayLine
    lots: MondayLine
    stock: MondayLine
    rework: MondayLine
    trust: MondayLine

    def __post_init__(self) -> None:
        for place, line in enumerate(self.lines, start=1):
            if line.number != place:
                raise ValueError(f"line {line.number} stands in the place of line {place}")

    @property
    def lines(self) -> tuple[MondayLine, ...]:
        """All lines in their order."""
        found = (getattr(self, field.name) for field in fields(self))
        return tuple(line for line in found if isinstance(line, MondayLine))

    @property
    def standing_out(self) -> tuple[MondayLine, ...]:
        """The lines to look at first."""
        return tuple(line for line in self.lines if line.stands_out)


def monday_line(
    number: int, key: str, title: str, figures: tuple[MondayFigure, ...], nothing: str
) -> MondayLine:
    """Return a line whose sentence is its first figure's; `nothing` says why there is none."""
    known = [figure for figure in figures if figure.value is not None]
    if not known:
        why = next((figure.why for figure in figures if figure.why), nothing)
        return MondayLine(number, key, title, figures, why, why)
    return MondayLine(number, key, title, figures, known[0].sure)


def counted_figure(name: str, unit: str, change: WeekChange) -> MondayFigure:
    """Return a figure of a week's count or money against the weeks before."""
    return MondayFigure(
        name=name,
        value=change.value,
        unit=unit,
        sure=change.sentence,
        change=change.change,
        stands_out=change.unusual,
    )


def share_figure(name: str, change: RateChange) -> MondayFigure:
    """Return a figure of this week's share against the weeks before."""
    now = change.second
    return MondayFigure(
        name=name,
        value=now.rate,
        unit=SHARE,
        sure=change.sentence,
        low=now.interval.low,
        high=now.interval.high,
        change=change.change,
        stands_out=change.clear if change.change is not None else None,
        why=None if now.rate is not None else (change.why or now.interval.why),
    )


def bounded_figure(
    name: str,
    unit: str,
    value: Value | None,
    interval: Interval,
    change: FigureChange | None,
    sure: str,
    why: str | None = None,
) -> MondayFigure:
    """Return a figure that has an interval of its own."""
    return MondayFigure(
        name=name,
        value=value,
        unit=unit,
        sure=sure,
        low=interval.low,
        high=interval.high,
        change=change.change if change else None,
        stands_out=change.clear if change else None,
        why=why if value is None else None,
    )


def plain_figure(
    name: str, unit: str, value: Value | None, sure: str, why: str | None = None
) -> MondayFigure:
    """Return a figure that is counted, not estimated, and has nothing to be held against."""
    return MondayFigure(name, value, unit, sure, why=why if value is None else None)


def written(value: Value | None, unit: str) -> str:
    """Return a value in its unit: "64.2 %", "41.20", "3 days", "17"; a dash when unknown."""
    if value is None:
        return DASH
    if unit == SHARE:
        return percent(value if isinstance(value, Fraction) else float(value))
    if unit == MONEY:
        amount: Money = whole(Fraction(value))
        return shown(amount)
    if isinstance(value, int) or value == int(value):
        return f"{int(value):,}"
    return f"{float(value):,.1f}"
