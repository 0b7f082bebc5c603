"""scan, reading, limits: how a scan, a reading or a tolerance is understood."""

from __future__ import annotations

import click

from coretrack.cli.context import Station, json_option, pass_station, print_json
from coretrack.errors import InvalidInput


def register(group: click.Group) -> None:
    """Add this module's commands."""
    for command in (scan, reading, limits):
        group.add_command(command)


@click.command(context_settings={"ignore_unknown_options": True})
@click.argument("text")
@click.option("--separator", metavar="SIGN", help="What the scanner sends for the GS1 separator.")
@click.option("--escapes", is_flag=True, help=r"Read \x1d, \r, \t … in TEXT as those signs.")
@json_option
@pass_station
def scan(station: Station, text: str, separator: str | None, escapes: bool, as_json: bool) -> None:
    """Show how a scan is understood (also the shop's way to test a scanner)."""
    from coretrack.actions import scanning
    from coretrack.figures.scan_text import printable

    station.open()
    if escapes:
        text = scanning.with_escapes(text)
        separator = separator and scanning.with_escapes(separator)
    meaning = scanning.understand(text, separator)
    if as_json:
        print_json(meaning.to_dict())
        return
    click.echo(meaning.sentence)
    if meaning.message:
        click.echo(meaning.message)
    for candidate in meaning.candidates:
        click.echo(f"  perhaps {printable(candidate.text)}: {candidate.why}")


@click.command(context_settings={"ignore_unknown_options": True})
@click.argument("text")
@click.option("--unit", required=True, metavar="UNIT", help="The check's unit, e.g. mm.")
@click.option("--nominal", metavar="SIZE", help="The check's nominal size.")
@click.option("--plausible", metavar="LIMITS", help="What is plausible, e.g. 8.9..9.1.")
@click.option("--resolution", metavar="STEP", help="The gauge's resolution, e.g. 0.001.")
@json_option
def reading(
    text: str,
    unit: str,
    nominal: str | None,
    plausible: str | None,
    resolution: str | None,
    as_json: bool,
) -> None:
    """Show how a reading is understood (also the shop's way to test a gauge)."""
    from coretrack.actions import understanding

    answer = understanding.reading_answer(text, unit, nominal, plausible, resolution)
    if as_json:
        print_json(answer)
    else:
        click.echo(answer["sentence"])
    if answer["outcome"] != "reading":
        raise click.exceptions.Exit(1)


@click.command(context_settings={"ignore_unknown_options": True})
@click.argument("text")
@click.option("--unit", default="mm", show_default=True, metavar="UNIT", help="The check's unit.")
@click.option("--nominal", metavar="SIZE", help="Nominal size, for texts without one.")
@json_option
def limits(text: str, unit: str, nominal: str | None, as_json: bool) -> None:
    """Show which limits a tolerance means, e.g. '9 +0.018/0', '200±0.02', '17 H7'."""
    from coretrack.actions import understanding

    try:
        answer = understanding.limits_answer(text, unit, nominal)
    except ValueError as error:
        raise InvalidInput(str(error)) from None
    if as_json:
        print_json(answer)
    else:
        click.echo(answer["sentence"])
