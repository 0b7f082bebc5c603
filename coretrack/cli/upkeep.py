"""verify: the whole history against everything stored."""

from __future__ import annotations

import click

from coretrack.cli.context import Station, json_option, pass_station, print_json


def register(group: click.Group) -> None:
    """Add this module's commands."""
    group.add_command(verify)


@click.command()
@json_option
@pass_station
def verify(station: Station, as_json: bool) -> None:
    """Replay the whole history and compare it with every state, roll-up and seal."""
    station.open()
    from coretrack.actions import upkeep

    events, differences = upkeep.verify()
    if as_json:
        print_json(
            {
                "events": events,
                "differences": [{"object": d.thing, "what": d.what} for d in differences],
            }
        )
    else:
        for difference in differences:
            click.echo(f"{difference.thing}: {difference.what}", err=True)
        if differences:
            click.echo(f"{events} events replayed; {len(differences)} differences.", err=True)
        else:
            click.echo(f"{events} events replayed: history, states, roll-ups and seals agree.")
    if differences:
        raise click.exceptions.Exit(1)
