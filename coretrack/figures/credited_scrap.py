"""Credited at the dock, scrapped at the bench: how much, for what, and which dock line is too soft.

The dock judges a dirty core by eye, the bench a washed body with gauges: that some credited cores
scrap is part of the trade. What costs money needlessly is scrap for a reason that could be seen at
the dock. Shares with Wilson's interval over decided cores only. Derived.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping
from dataclasses import dataclass

from coretrack.figures.intervals import WILSON, Interval, check_level, wilson
from coretrack.figures.money import Money
from coretrack.figures.plain_words import counted, percent, plural
from coretrack.figures.scrap_reasons import Pareto, ReasonRow, ScrapCase, reason_pareto

LEAST_SOFT = 5
"""A line with fewer cores let through is not called soft (the shop's own habit)."""


@dataclass(frozen=True)
class CreditedCore:
    """A core that was credited. `scrapped` is `None` while the bench has not decided."""

    name: str
    credit: Money
    scrapped: bool | None
    reasons: tuple[str, ...] = ()
    unmeasured: tuple[str, ...] = ()


@dataclass(frozen=True)
class DockLine:
    """One reason that can be seen at the dock: what slipped through against what was refused.

    `row` has pieces and credit money. `missed` of `met` cores that had this fault were credited all
    the same: missed / (missed + refused), with its interval. `soft` when at least 5 slipped through
    and the low end of that share is above one half.
    """

    reason: str
    row: ReasonRow
    refused: int
    missed: int
    met: int
    share: float
    interval: Interval
    soft: bool


@dataclass(frozen=True)
class CreditedScrap:
    """Credited cores that the bench scrapped.

    `share` is scrapped / decided of the credited cores, `money` the credit paid on the scrapped
    ones, `paid` on all decided ones. `visible` counts those with a reason the dock can see, and
    `visible_money` their credit. `lines` are these reasons, most credit lost on it alone first.
    """

    credited: int
    decided: int
    open: int
    scrapped: int
    share: float | None
    interval: Interval
    paid: Money
    money: Money
    visible: int
    visible_money: Money
    reasons: Pareto
    lines: tuple[DockLine, ...]
    sentence: str
    why: str | None = None


def credited_scrap(
    cores: Iterable[CreditedCore],
    visible: Collection[str],
    refused: Mapping[str, int],
    level: float = 0.95,
) -> CreditedScrap:
    """Return what became of credited cores.

    `visible` are the reasons that the dock's own lines cover, under the bench's names; `refused`
    how many cores the dock refused for each. Cores not decided yet stand in `open`. None decided:
    no share, and `why`. ValueError for a negative count of refused cores.
    """
    check_level(level)
    if any(number < 0 for number in refused.values()):
        raise ValueError("a count of refused cores cannot be negative")
    told = list(cores)
    decided = [core for core in told if core.scrapped is not None]
    gone = [core for core in decided if core.scrapped]
    seen = [core for core in gone if set(core.reasons) & set(visible)]
    pareto = reason_pareto(
        ScrapCase(core.name, core.reasons, core.credit, core.unmeasured) for core in gone
    )
    lines = [
        _line(row, refused.get(row.reason, 0), level)
        for row in pareto.rows
        if row.reason in visible
    ]
    lines.sort(key=lambda line: (-line.row.only_money, -line.row.cores, line.reason))
    why = None if decided else "no credited core has been decided yet"
    return CreditedScrap(
        credited=len(told),
        decided=len(decided),
        open=len(told) - len(decided),
        scrapped=len(gone),
        share=len(gone) / len(decided) if decided else None,
        interval=(
            wilson(len(gone), len(decided), level)
            if decided
            else Interval(None, None, WILSON, level, why)
        ),
        paid=sum(core.credit for core in decided),
        money=sum(core.credit for core in gone),
        visible=len(seen),
        visible_money=sum(core.credit for core in seen),
        reasons=pareto,
        lines=tuple(lines),
        sentence=why or _sentence(len(gone), len(decided), len(seen), lines),
        why=why,
    )


def _line(row: ReasonRow, refused: int, level: float) -> DockLine:
    met = row.cores + refused
    interval = wilson(row.cores, met, level)
    soft = row.cores >= LEAST_SOFT and (interval.low or 0.0) > 0.5
    return DockLine(row.reason, row, refused, row.cores, met, row.cores / met, interval, soft)


def _sentence(gone: int, decided: int, seen: int, lines: list[DockLine]) -> str:
    text = (
        f"{percent(gone / decided)} of {counted(decided, 'credited core')} were scrapped later"
        f" ({gone}); {seen} of them for a reason that can be seen at the dock"
    )
    soft = [line for line in lines if line.soft]
    if not soft:
        return text
    told = ", ".join(f"{line.reason} ({line.missed} of {line.met} credited)" for line in soft)
    noun = "line" if len(soft) == 1 else plural("line")
    return f"{text}. Is the dock's {noun} on {told} too soft?"
