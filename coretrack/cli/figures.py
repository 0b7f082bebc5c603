"""yield, cost, charge: the figures."""

from __future__ import annotations

import re
from collections.abc import Callable, Sequence
from typing import TYPE_CHECKING, Any, TypeVar

import click

from coretrack.cli.context import (
    Station,
    json_option,
    pass_station,
    print_json,
    print_table,
)
from coretrack.errors import InvalidInput

if TYPE_CHECKING:
    from coretrack.actions.rollups import Question
    from coretrack.figures.costing import CostRow
    from coretrack.figures.intervals import Interval
    from coretrack.figures.yields import YieldRow

UNKNOWN = "–"

MOST_ALIKE = 12
"""What is to be said of more groups than this is said once, with their number."""

_Row = TypeVar("_Row")
_BY = ("family", "source", "lot", "number", "month", "plan", "inspector")


def register(group: click.Group) -> None:
    """Add this module's commands."""
    for command in (show_yield, show_cost, show_charge):
        group.add_command(command)


def _question_options(function: Callable[..., Any]) -> Callable[..., Any]:
    for option in (
        json_option,
        click.option(
            "--all", "every", is_flag=True, help="By lot: deliveries of returns too, not only sums."
        ),
        click.option("--to", "last_month", metavar="YYYY-MM", help="Last month received."),
        click.option("--from", "first_month", metavar="YYYY-MM", help="First month received."),
        click.option("--family", metavar="F", help="One family only."),
        click.option(
            "--by", type=click.Choice(_BY), default="family", show_default=True, help="Grouping."
        ),
    ):
        function = option(function)
    return function


def _question(
    by: str, family: str | None, first_month: str | None, last_month: str | None
) -> Question:
    from coretrack.actions.rollups import Question

    for name, month in (("--from", first_month), ("--to", last_month)):
        if month and not re.fullmatch(r"\d{4}-(0[1-9]|1[0-2])", month):
            raise InvalidInput(
                f"{name} {month!r} is not a month; write it like 2026-05. "
                "Cores are counted by the month they were received."
            )
    if first_month and last_month and first_month > last_month:
        raise InvalidInput(f"--from {first_month} lies after --to {last_month}.")
    return Question(by, family, first_month, last_month)


@click.command("yield")
@_question_options
@pass_station
def show_yield(station: Station, /, by: str, every: bool, as_json: bool, **asked: Any) -> None:
    """Good bodies over decided cores, with how sure that is."""
    station.open()
    from coretrack.actions import answers, rollups

    rows = rollups.yields(_question(by, **asked))
    if as_json:
        print_json([answers.yield_answer(row) for row in rows])
        return
    if not rows:
        click.echo("No cores received yet.")
        return
    rows, hidden = _listed(rows, every, lambda row: row)
    print_table(
        [
            {
                "group": row.group,
                "received": f"{row.counts.received:,}",
                "decided": str(row.counts.decided),
                "open": str(row.counts.open),
                "kept": str(row.counts.kept_first_pass),
                "reworked": str(row.counts.kept_after_rework),
                "scrapped": str(row.counts.scrapped),
                "first": rate_cell(row.first_pass_yield),
                "yield": rate_cell(row.body_yield),
                "range": rates_cell(row.interval),
            }
            for row in rows
        ],
        [
            ("group", by, "left"),
            ("received", "received", "right"),
            ("decided", "decided", "right"),
            ("open", "open", "right"),
            ("kept", "kept first pass", "right"),
            ("reworked", "kept after rework", "right"),
            ("scrapped", "scrapped", "right"),
            ("first", "first pass", "right"),
            ("yield", "yield", "right"),
            ("range", "95 % range", "right"),
        ],
    )
    print_notes([(row.group, (*row.warnings, *_some(row.why))) for row in rows])
    _print_hidden(hidden)


@click.command("cost")
@_question_options
@pass_station
def show_cost(station: Station, /, by: str, every: bool, as_json: bool, **asked: Any) -> None:
    """What a good body costs: everything spent on all decided cores over the few that live."""
    station.open()
    from coretrack.actions import answers, rollups

    rows = rollups.costs(_question(by, **asked))
    if as_json:
        print_json([answers.cost_answer(row) for row in rows])
        return
    if not rows:
        click.echo("No cores received yet.")
        return
    rows, hidden = _listed(rows, every, lambda row: row.yields)
    _print_costs(rows, by)
    _print_hidden(hidden)


def _print_costs(rows: list[CostRow], by: str) -> None:
    print_table(
        [_cost_cells(row) for row in rows],
        [
            ("group", by, "left"),
            ("decided", "decided", "right"),
            ("good", "good", "right"),
            ("paid", "paid for cores", "right"),
            ("worked", "work on them", "right"),
            ("recovered", "scrap money", "right"),
            ("core", "per core", "right"),
            ("body", "per good body", "right"),
            ("range", "95 % range", "right"),
        ],
    )
    print_notes([(row.group, (*row.warnings, *_some(row.why))) for row in rows])


def _cost_cells(row: CostRow) -> dict[str, str]:
    """Return a row's cells; money counts with decided cores, so without one it is not known."""
    from coretrack.figures.money import shown

    parts = row.parts
    known = row.yields.counts.decided > 0
    paid = parts.price + parts.freight + parts.credit
    return {
        "group": row.group,
        "decided": str(row.yields.counts.decided),
        "good": str(row.yields.counts.good),
        "paid": shown(paid if known else None),
        "worked": shown(parts.spent - paid if known else None),
        "recovered": shown(parts.recovery if known else None),
        "core": shown(row.cost_per_core),
        "body": shown(row.cost_per_good_body),
        "range": money_cell(row),
    }


@click.command("charge")
@click.argument("family")
@json_option
@pass_station
def show_charge(station: Station, family: str, as_json: bool) -> None:
    """What one more returned core is worth, and the core charge that follows."""
    station.open()
    from coretrack import clock
    from coretrack.actions import answers, pricing

    advice = pricing.charge_advice_for(family, clock.now())
    if as_json:
        print_json(answers.charge_answer(advice))
        return
    for line in pricing.charge_lines(advice, pricing.family_cost(family)):
        click.echo(line)


def rate_cell(rate: float | None) -> str:
    """Return a rate for a table: one decimal, or a dash while it is unknown."""
    from coretrack.figures.plain_words import percent

    return UNKNOWN if rate is None else percent(rate)


def rates_cell(interval: Interval) -> str:
    """Return "58.2 … 94.1 %" for a table, or a dash while there are no bounds."""
    from coretrack.figures.wording import rate_bounds

    return rate_bounds(interval) or UNKNOWN


def money_cell(row: CostRow) -> str:
    """Return the bounds of the cost per good body for a table, or a dash."""
    from coretrack.figures.wording import money_bounds

    return money_bounds(row.cost_low, row.cost_high) or UNKNOWN


def print_notes(notes: Sequence[tuple[str, tuple[str, ...]]]) -> None:
    """Print what is to be said of each group; what many groups share is said once, counted."""
    kinds: dict[str, set[str]] = {}
    for group, lines in notes:
        for line in lines:
            kinds.setdefault(_kind(line), set()).add(group)
    shared = {kind: len(groups) for kind, groups in kinds.items() if len(groups) > MOST_ALIKE}
    for kind, groups in shared.items():
        click.echo(f"  {groups} groups: {kind}")
    for group, lines in notes:
        for line in dict.fromkeys(lines):
            if _kind(line) not in shared:
                click.echo(f"  {group}: {line}")


def _kind(line: str) -> str:
    """Return a note without its numbers, alike for one core and for many."""
    several = re.sub(r"\bcores? (?:is|are)\b", "cores are", line)
    several = re.sub(r"\bcores? (?:has|have)\b", "cores have", several)
    several = several.replace("the one decided core is not good", "none of 2 decided cores is good")
    return re.sub(r"\d[\d.,]*\d|\d", "n", several)


def _listed(
    rows: Sequence[_Row], every: bool, yields: Callable[[_Row], YieldRow]
) -> tuple[list[_Row], int]:
    """Return the rows to show, purchased lots before deliveries of returns, and how many not."""
    first = [row for row in rows if yields(row).kind != "return"]
    returned = [row for row in rows if yields(row).kind == "return"]
    return ([*first, *returned], 0) if every else (first, len(returned))


def _print_hidden(hidden: int) -> None:
    if hidden:
        from coretrack.figures.plain_words import counted

        click.echo(f"  {counted(hidden, 'delivery')} of returns not listed; --all lists them too.")


def _some(text: str | None) -> tuple[str, ...]:
    return (text,) if text else ()
