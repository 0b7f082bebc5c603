"""Monday lines about the work: cores in, decided, yield, reasons, rework queue, trust in readings.

Lines 1, 2, 3, 5, 13 and 14 of the sheet. Lists of weeks run oldest first and end with this week.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from coretrack.figures.monday import (
    DAYS,
    MONEY,
    SHARE,
    MondayFigure,
    MondayLine,
    bounded_figure,
    counted_figure,
    monday_line,
    plain_figure,
    share_figure,
)
from coretrack.figures.money import Money
from coretrack.figures.plain_words import are, counted
from coretrack.figures.weekly import figure_change, share_change, week_change
from coretrack.figures.yields import YieldRow

TOP_REASONS = 5
CORES = "cores"


@dataclass(frozen=True)
class DockWeek:
    """What came in during one week: cores received, and of them accepted, denied, unknown."""

    received: int
    accepted: int
    denied: int
    unknown: int


def cores_in_line(weeks: Sequence[DockWeek]) -> MondayLine:
    """Return line 1; the last week is this one. ValueError without a week."""
    if not weeks:
        raise ValueError("the sheet is about a week: give this week at least")
    now, before = weeks[-1], weeks[:-1]
    figures = tuple(
        counted_figure(
            name, CORES, week_change(getattr(now, field), [getattr(w, field) for w in before])
        )
        for name, field in (
            ("in", "received"),
            ("accepted", "accepted"),
            ("denied", "denied"),
            ("unknown", "unknown"),
        )
    )
    return monday_line(1, "cores_in", "Cores in", figures, "no week")


@dataclass(frozen=True)
class StageQueue:
    """Cores waiting before one stage; `oldest_days` is `None` when none waits."""

    name: str
    waiting: int
    oldest_days: int | None


def decided_line(decided: Sequence[int], stages: Sequence[StageQueue]) -> MondayLine:
    """Return line 2: cores decided by week, then who waits where and since when."""
    if not decided:
        raise ValueError("the sheet is about a week: give this week at least")
    figures = [counted_figure("decided", CORES, week_change(decided[-1], decided[:-1]))]
    for stage in stages:
        told = "counted, not estimated"
        figures.append(plain_figure(f"{stage.name}: waiting", CORES, stage.waiting, told))
        figures.append(
            plain_figure(
                f"{stage.name}: oldest", DAYS, stage.oldest_days, told, "no core waits there"
            )
        )
    return monday_line(2, "decided", "Decided and waiting", tuple(figures), "nothing decided")


@dataclass(frozen=True)
class FamilyYield:
    """A family's yield now and over the thirteen weeks before; the two share no core."""

    name: str
    now: YieldRow
    before: YieldRow


def yields_line(families: Sequence[FamilyYield]) -> MondayLine:
    """Return line 3: the yield of each family, in the order given."""
    figures = tuple(_yield_figure(family) for family in families)
    return monday_line(3, "yields", "Yield by family", figures, "no family has a core yet")


def _yield_figure(family: FamilyYield) -> MondayFigure:
    now, before = family.now, family.before
    change = figure_change(before.body_yield, before.interval, now.body_yield, now.interval)
    told = f"of {are(now.counts.decided, 'core')} decided"
    if now.counts.open:
        told += f", {now.counts.open:,} still open"
    if change.clear is not None:
        told += ", changed beyond chance" if change.clear else ", no change beyond chance"
    elif change.why:
        told += f"; {change.why}"
    return bounded_figure(family.name, SHARE, now.body_yield, now.interval, change, told, now.why)


@dataclass(frozen=True)
class ReasonWeek:
    """A scrap reason: pieces and money of this week, and the pieces of the weeks before.

    `decided` are all cores decided in the week, `before` pairs of (pieces, decided) by week.
    """

    name: str
    pieces: int
    money: Money
    decided: int
    before: tuple[tuple[int, int], ...] = ()


def scrap_reasons_line(reasons: Sequence[ReasonWeek]) -> MondayLine:
    """Return line 5: the five reasons that took most money, each with how its share moved.

    The figure is money; its change is left out because money moves with the cores that came, and
    `sure` says instead how the share of cores with the reason moved.
    """
    top = sorted(reasons, key=lambda r: (-r.money, -r.pieces, r.name))[:TOP_REASONS]
    figures = []
    for reason in top:
        moved = share_change((reason.pieces, reason.decided), reason.before)
        told = f"{counted(reason.pieces, 'core')}; {moved.sentence}"
        figures.append(
            MondayFigure(
                reason.name, reason.money, MONEY, told,
                stands_out=moved.clear if moved.change is not None else None,
            )
        )  # fmt: skip
    return monday_line(
        5, "scrap_reasons", "Why we scrap, in money", tuple(figures), "no core was scrapped"
    )


@dataclass(frozen=True)
class ReworkWeek:
    """Cores waiting for rework, (passed, decided) by week with this week last, and its cost.

    `cost` is what the week's attempts cost with their re-inspection, `before` the weeks before.
    """

    queue: int
    passes: tuple[tuple[int, int], ...]
    cost: Money
    before: tuple[Money, ...] = ()


def rework_line(rework: ReworkWeek) -> MondayLine:
    """Return line 13: the queue, the share of reworks that pass, and what they cost."""
    passes = rework.passes or ((0, 0),)
    moved = share_change(passes[-1], passes[:-1], "rework")
    figures = (
        plain_figure("waiting", CORES, rework.queue, "counted, not estimated"),
        share_figure("passed", moved),
        counted_figure("cost", MONEY, week_change(rework.cost, rework.before, money=True)),
    )
    return monday_line(13, "rework", "Rework", figures, "no rework yet")


@dataclass(frozen=True)
class TrustWeek:
    """Gauges overdue and due soon, blind second looks, and cores that lost their source.

    `agreed` of `looked` second looks said the same as the first; `lost` by week, this week last.
    """

    gauges_overdue: int
    gauges_due: int
    agreed: int
    looked: int
    before: tuple[tuple[int, int], ...] = ()
    lost: tuple[int, ...] = (0,)


def trust_line(trust: TrustWeek) -> MondayLine:
    """Return line 14: can the week's readings be believed?"""
    told = "counted, not estimated"
    moved = share_change((trust.agreed, trust.looked), trust.before, "second look")
    figures = (
        plain_figure("gauges overdue", "gauges", trust.gauges_overdue, told),
        plain_figure("gauges due soon", "gauges", trust.gauges_due, told),
        share_figure("inspectors agree", moved),
        counted_figure("source lost", CORES, week_change(trust.lost[-1], trust.lost[:-1])),
    )
    return monday_line(14, "trust", "Gauges, agreement, lost sources", figures, "nothing to say")
