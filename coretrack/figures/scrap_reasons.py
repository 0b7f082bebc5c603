"""Why we scrap: reasons in pieces and in money, only reason against with others.

A core may fail several checks. Fixing one of them rescues only the cores for which it was the only
reason, so these are counted apart. In a Pareto every piece and all money must stand once: a core
with three reasons gives a third of itself to each, its money split exactly. Cores scrapped without
a recorded reason, and checks never made because the bench stopped earlier, stand apart: what was
not measured is neither good nor bad. Derived; counts and money are exact.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction

from coretrack.figures.money import Money, allocate
from coretrack.figures.plain_words import counted, have, percent

NOTHING_SCRAPPED = "nothing has been scrapped yet"

NO_REASON = "no reason recorded"
"""The name of the line for cores scrapped without one."""


@dataclass(frozen=True)
class ScrapCase:
    """One scrapped core: the checks it failed, the money lost on it, the checks not made.

    `money` is what was put into it less what its metal brought, ten-thousandths; a core whose scrap
    pays has less than nothing lost.
    """

    name: str
    reasons: tuple[str, ...]
    money: Money
    unmeasured: tuple[str, ...] = ()


@dataclass(frozen=True)
class ReasonRow:
    """One reason. `cores` failed it, of which for `only` it was the sole one; `with_others` rest.

    `pieces` and `money` are its part of all scrap (shared out, so that all rows add up),
    `cumulative` the share of all money up to and with this row, 0..1, `None` where there is none to
    share. `only_money` was lost on the cores for which it is the only reason. Fixing the reason
    would rescue `rescued_least` cores for sure and `rescued_most` at best: the difference are cores
    on which other checks were never made.
    """

    reason: str
    cores: int
    only: int
    with_others: int
    pieces: Fraction
    money: Money
    only_money: Money
    rescued_least: int
    rescued_most: int
    unmeasured: int
    cumulative: float | None = None


@dataclass(frozen=True)
class Pareto:
    """All reasons, most money first; `without_reason` is the line of cores that have none.

    `unmeasured` counts, for every check that was left out on some scrapped core, those cores.
    `other_share` is how much of all scrap is put down to a catch-all reason. Nothing scrapped: no
    rows, and `why`.
    """

    rows: tuple[ReasonRow, ...]
    without_reason: ReasonRow | None
    unmeasured: tuple[tuple[str, int], ...]
    cores: int
    money: Money
    other_share: float | None
    sentence: str
    why: str | None = None


def reason_pareto(cases: Iterable[ScrapCase], catch_all: Collection[str] = ("other",)) -> Pareto:
    """Return the reasons of scrap, most money first, then most pieces, then by name.

    `pieces` of all rows and of `without_reason` add up to the cores, `money` to the money.
    ValueError when a core names a reason twice, or one that was not measured.
    """
    told = list(cases)
    for case in told:
        if len(set(case.reasons)) < len(case.reasons):
            raise ValueError(f"core {case.name} names a reason twice")
        both = set(case.reasons) & set(case.unmeasured)
        if both:
            raise ValueError(f"core {case.name} fails {min(both)}, which was not measured")
    missed: dict[str, int] = {}
    for case in told:
        for check in case.unmeasured:
            missed[check] = missed.get(check, 0) + 1
    unmeasured = tuple(sorted(missed.items(), key=lambda item: (-item[1], item[0])))
    total = sum(case.money for case in told)
    if not told:
        return Pareto((), None, (), 0, 0, None, NOTHING_SCRAPPED, NOTHING_SCRAPPED)
    parts = _parts(told)
    names = sorted({reason for case in told for reason in case.reasons})
    rows = [_row(name, told, parts, missed.get(name, 0)) for name in names]
    rows.sort(key=lambda row: (-row.money, -row.pieces, row.reason))
    bare = [case for case in told if not case.reasons]
    without = _row(NO_REASON, told, parts, 0) if bare else None
    other = sum((row.pieces for row in rows if row.reason in catch_all), Fraction(0))
    return Pareto(
        rows=_cumulated(rows, total),
        without_reason=without,
        unmeasured=unmeasured,
        cores=len(told),
        money=total,
        other_share=float(other / len(told)),
        sentence=_sentence(rows, without, total, len(told)),
    )


def _parts(cases: Sequence[ScrapCase]) -> list[dict[str, tuple[Fraction, Money]]]:
    """Return, per core, each reason's part of the piece and of the money."""
    parts = []
    for case in cases:
        names = case.reasons or (NO_REASON,)
        shares = allocate(case.money, [1] * len(names))
        piece = Fraction(1, len(names))
        parts.append({name: (piece, money) for name, money in zip(names, shares, strict=True)})
    return parts


def _row(
    name: str,
    cases: Sequence[ScrapCase],
    parts: Sequence[dict[str, tuple[Fraction, Money]]],
    missed: int,
) -> ReasonRow:
    mine = [(case, part[name]) for case, part in zip(cases, parts, strict=True) if name in part]
    only = [case for case, _ in mine if len(case.reasons) <= 1]
    # Nothing can be fixed about a reason that is not known.
    least = sum(not case.unmeasured for case in only) if name != NO_REASON else 0
    return ReasonRow(
        reason=name,
        cores=len(mine),
        only=len(only),
        with_others=len(mine) - len(only),
        pieces=sum((piece for _, (piece, _) in mine), Fraction(0)),
        money=sum(money for _, (_, money) in mine),
        only_money=sum(case.money for case in only),
        rescued_least=least,
        rescued_most=len(only) if name != NO_REASON else 0,
        unmeasured=missed,
    )


def _cumulated(rows: Sequence[ReasonRow], total: Money) -> tuple[ReasonRow, ...]:
    """Return the rows with their running share of the money, where all of it is a loss."""
    if total <= 0 or any(row.money < 0 for row in rows):
        return tuple(rows)
    running, told = 0, []
    for row in rows:
        running += row.money
        told.append(replace(row, cumulative=running / total))
    return tuple(told)


def _sentence(
    rows: Sequence[ReasonRow], without: ReasonRow | None, total: Money, cores: int
) -> str:
    if not rows:
        return f"{have(cores, 'scrapped core')} no recorded reason"
    first = rows[0]
    share = ""
    if 0 < first.money <= total:
        share = f", {percent(Fraction(first.money, total))} of the money"
    text = (
        f"{first.reason} leads: {first.cores} of {counted(cores, 'scrapped core')}{share}; it is"
        f" the only reason on {first.only}"
    )
    if without is not None:
        text += f". {have(without.cores, 'core')} no recorded reason"
    return text
