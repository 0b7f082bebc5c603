"""yield, cost, charge: the figures."""

from __future__ import annotations

import re
from collections.abc import Callable
from typing import TYPE_CHECKING, Any

import click

from coretrack.cli.context import (
    Station,
    json_option,
    pass_station,
    percent,
    print_json,
    print_table,
)
from coretrack.errors import InvalidInput

if TYPE_CHECKING:
    from coretrack.actions.rollups import Question
    from coretrack.figures.costing import CostRow

_BY = ("family", "source", "lot", "number", "month", "plan", "inspector")


def register(group: click.Group) -> None:
    """Add this module's commands."""
    for command in (show_yield, show_cost, show_charge):
        group.add_command(command)


def _question_options(function: Callable[..., Any]) -> Callable[..., Any]:
    for option in (
        json_option,
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
def show_yield(
    station: Station,
    by: str,
    family: str | None,
    first_month: str | None,
    last_month: str | None,
    as_json: bool,
) -> None:
    """Good bodies over decided cores, with how sure that is."""
    station.open()
    from coretrack.actions import answers, rollups

    rows = rollups.yields(_question(by, family, first_month, last_month))
    if as_json:
        print_json([answers.yield_answer(row) for row in rows])
        return
    if not rows:
        click.echo("No cores received yet.")
        return
    print_table(
        [
            {
                "group": row.group,
                "received": str(row.counts.received),
                "decided": str(row.counts.decided),
                "open": str(row.counts.open),
                "kept": str(row.counts.kept_first_pass),
                "reworked": str(row.counts.kept_after_rework),
                "scrapped": str(row.counts.scrapped),
                "first": percent(row.first_pass_yield),
                "yield": percent(row.body_yield),
                "range": _range(percent(row.interval.low), percent(row.interval.high)),
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
    _print_notes([(row.group, (*row.warnings, *_some(row.why))) for row in rows])


@click.command("cost")
@_question_options
@pass_station
def show_cost(
    station: Station,
    by: str,
    family: str | None,
    first_month: str | None,
    last_month: str | None,
    as_json: bool,
) -> None:
    """What a good body costs: everything spent on all decided cores over the few that live."""
    station.open()
    from coretrack.actions import answers, rollups

    rows = rollups.costs(_question(by, family, first_month, last_month))
    if as_json:
        print_json([answers.cost_answer(row) for row in rows])
        return
    if not rows:
        click.echo("No cores received yet.")
        return
    _print_costs(rows, by)


def _print_costs(rows: list[CostRow], by: str) -> None:
    from coretrack.figures.money import shown

    print_table(
        [
            {
                "group": row.group,
                "decided": str(row.yields.counts.decided),
                "good": str(row.yields.counts.good),
                "paid": shown(row.parts.price + row.parts.freight + row.parts.credit),
                "worked": shown(
                    row.parts.receive
                    + row.parts.wash
                    + row.parts.inspect
                    + row.parts.rework
                    + row.parts.reinspect
                    + row.parts.disposal
                ),
                "recovered": shown(row.parts.recovery),
                "core": shown(row.cost_per_core),
                "body": shown(row.cost_per_good_body),
                "range": _range(_money(row.interval.low), _money(row.interval.high)),
            }
            for row in rows
        ],
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
    _print_notes([(row.group, (*row.warnings, *_some(row.why))) for row in rows])


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
    for line in pricing.charge_lines(advice):
        click.echo(line)


def _money(amount: float | None) -> str:
    from coretrack.figures.money import shown

    return shown(None if amount is None else round(amount))


def _range(low: str, high: str) -> str:
    return f"{low} … {high}"


def _some(text: str | None) -> tuple[str, ...]:
    return (text,) if text else ()


def _print_notes(notes: list[tuple[str, tuple[str, ...]]]) -> None:
    for group, lines in notes:
        for line in dict.fromkeys(lines):
            click.echo(f"  {group}: {line}")
