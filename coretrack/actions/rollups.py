"""Yield and cost roll-ups from the tallies, by whatever a person can group by."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date
from decimal import Decimal

from coretrack.errors import InvalidInput
from coretrack.figures.costing import CostParts, CostRow, cost_row
from coretrack.figures.lifecycle import COST_PARTS
from coretrack.figures.rates import RateBook
from coretrack.figures.tallies import COMEBACKS, COUNTERS, GROUPINGS, RETURNS
from coretrack.figures.trade_objects import Family
from coretrack.figures.yields import Batch, Counts, YieldRow, yield_row
from coretrack.records import queries
from coretrack.records.database import connection

OFFERED = tuple(name for name in GROUPINGS if name != "batch")
"""What a person can roll up by."""

_Tally = tuple[str, str, str, dict[str, int]]


@dataclass(frozen=True)
class Question:
    """What to roll up: by which grouping, for one family or all, for months `YYYY-MM`."""

    by: str = "family"
    family: str | None = None
    first_month: str | None = None
    last_month: str | None = None


def yields(question: Question) -> list[YieldRow]:
    """Return the yield of every group of the question, in the group's order."""
    return [row.yields for row in costs(question)]


def costs(question: Question) -> list[CostRow]:
    """Return yield and cost per good body of every group; NotFound for an unknown family."""
    if question.by not in OFFERED:
        raise InvalidInput(f"'{question.by}' is not a grouping; use one of {', '.join(OFFERED)}.")
    with connection():
        known = {family.key: family for family in queries.families()}
        if question.family and question.family not in known:
            raise InvalidInput(
                f"There is no family '{question.family}'; known: {', '.join(known) or 'none yet'}."
            )
        months = (question.first_month, question.last_month)
        tallies = queries.tallies(question.by, question.family, months)
        missing = missing_rates()
        kinds = {lot.key: lot.kind for lot in queries.lots()} if question.by == "lot" else {}
        spread = _Spread(queries.tallies("batch", question.family, months), tallies, question.by)
    groups: dict[str, list[_Tally]] = {}
    for tally in tallies:
        if any(tally[3].values()):
            # A plan's number says nothing without its family.
            name = f"{tally[0]}/{tally[1]}" if question.by == "plan" and tally[1] else tally[1]
            groups.setdefault(name, []).append(tally)
    if question.by == "family":
        for key in known:
            if question.family in (None, key):
                groups.setdefault(key, [])
    return [
        _of_kind(
            kinds.get(group),
            _row(
                group,
                groups[group],
                spread.of(group),
                _standard(groups[group], group, known),
                missing,
            ),
        )
        for group in sorted(groups)
    ]


def missing_rates() -> tuple[str, ...]:
    """Return the rates that the shop has set for no day: what they would cost is in no figure.

    A step that has its minutes needs no consumables, and the other way round.
    """
    missing = RateBook.of(queries.rates()).missing(date.max)
    return tuple(item for item in missing if _partner(item) in (None, *missing))


def _partner(item: str) -> str | None:
    """Return the other rate of a step, as wash_consumables of wash_minutes."""
    step, _, what = item.rpartition("_")
    other = {"minutes": "consumables", "consumables": "minutes"}.get(what)
    return f"{step}_{other}" if other else None


def _of_kind(kind: str | None, row: CostRow) -> CostRow:
    return row if kind is None else replace(row, yields=replace(row.yields, kind=kind))


def _row(
    group: str,
    tallies: Sequence[_Tally],
    batches: Sequence[Batch],
    standard: Decimal | None,
    missing: Sequence[str],
) -> CostRow:
    totals: Counter[str] = Counter()
    for _, _, _, numbers in tallies:
        totals.update(numbers)
    counts = Counts(**{name: totals[name] for name in COUNTERS})
    parts = CostParts(**{name: totals[name] for name in COST_PARTS})
    yields = yield_row(shown_group(group), counts, batches)
    return cost_row(yields, parts, batches, standard, missing)


def shown_group(group: str) -> str:
    """Return a group's name for a person; the empty group is the cores not inspected yet."""
    return group or "not inspected yet"


def _standard(tallies: Sequence[_Tally], group: str, known: Mapping[str, Family]) -> Decimal | None:
    """Return the standard yield, when all the group's cores share one family."""
    codes = {family for family, _, _, _ in tallies} or {group}
    if len(codes) != 1:
        return None
    family = known.get(codes.pop())
    return Decimal(family.standard_yield) if family and family.standard_yield else None


class _Spread:
    """The batches a group's cores came in: what the lot-to-lot spread is judged from.

    A batch is a purchased lot or one month of returns. Groups that cut across batches (numbers,
    plans, inspectors, months) carry none: their spread is not tested.
    """

    def __init__(self, batches: Iterable[_Tally], tallies: Iterable[_Tally], by: str) -> None:
        self._groups: dict[str, dict[str, Counter[str]]] = {}
        if by == "family":
            for family, value, month, numbers in batches:
                name = f"{value} {month}" if value in (RETURNS, COMEBACKS) else value
                self._add(family, name, numbers)
        elif by == "source":
            lots = {lot.key: lot.source for lot in queries.lots("purchase")}
            for _, value, _, numbers in batches:
                if value in lots:
                    self._add(lots[value], value, numbers)
            bought = set(self._groups)
            for _, source, month, numbers in tallies:
                if source not in bought:
                    self._add(source, month, numbers)

    def _add(self, group: str, name: str, numbers: dict[str, int]) -> None:
        self._groups.setdefault(group, {}).setdefault(name, Counter()).update(numbers)

    def of(self, group: str) -> tuple[Batch, ...]:
        """Return the group's batches that have decided cores."""
        return tuple(
            Batch(
                name,
                numbers["decided"],
                numbers["kept_first_pass"] + numbers["kept_after_rework"],
                sum(numbers[part] for part in COST_PARTS) - 2 * numbers["recovery"],
            )
            for name, numbers in sorted(self._groups.get(group, {}).items())
            if numbers["decided"]
        )
