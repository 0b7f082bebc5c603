"""setup, family, source, people, serve: making a shop and opening its pages."""

from __future__ import annotations

from pathlib import Path
from typing import TextIO

import click

from coretrack.cli.context import Station, pass_station
from coretrack.errors import InvalidInput


def register(group: click.Group) -> None:
    """Add this module's commands."""
    for command in (setup, family, source, people, serve):
        group.add_command(command)


@click.command()
@click.option(
    "--from", "folder", type=click.Path(exists=True, file_okay=False, path_type=Path),
    metavar="DIR", help="A folder with shop.toml and families/*.toml.",
)  # fmt: skip
@click.option("--name", help="The shop's name.")
@click.option("--currency", default="USD", show_default=True, help="ISO 4217 code.")
@click.option("--time-zone", default="UTC", show_default=True, help="E.g. America/Chicago.")
@click.option(
    "--site", type=int, default=1, show_default=True, help="First digit of all tags, 1-8."
)
@click.option("--owner", metavar="NAME", help="The first owner; asks for a password.")
@click.option("--password-file", type=click.File("r"), help="Read the password from a file.")
@pass_station
def setup(
    station: Station,
    folder: Path | None,
    name: str | None,
    currency: str,
    time_zone: str,
    site: int,
    owner: str | None,
    password_file: TextIO | None,
) -> None:
    """Make a shop, or bring its database up to date.

    With --from the shop's settings, families and plans are read from a folder; run again it
    changes only what differs.
    """
    settings = station.open(create=True)
    from coretrack import clock
    from coretrack.actions import setting_up

    changes: list[str] = []
    if folder:
        changes += setting_up.set_up_from_folder(folder, by=station.person, now=clock.now())
    elif name:
        changes += setting_up.set_shop(
            name, currency, time_zone, site, by=station.person, now=clock.now()
        )
    if owner:
        setting_up.add_owner(owner, _password(password_file), now=clock.now())
        changes.append(f"owner {owner}")
    click.echo(f"The shop's data lies in {settings.data_folder}.")
    for change in changes:
        click.echo(f"  {change}")
    if not changes:
        click.echo("  Nothing was new.")


@click.command()
@click.argument("file", type=click.Path(exists=True, dir_okay=False, path_type=Path))
@pass_station
def family(station: Station, file: Path) -> None:
    """Read a family file (TOML): its plan, numbers, faults, prices, charges."""
    station.open()
    from coretrack import clock
    from coretrack.actions import setting_up

    changes = setting_up.import_family(
        file.name, file.read_bytes(), by=station.person, now=clock.now()
    )
    for change in changes:
        click.echo(change)
    if not changes:
        click.echo("Nothing was new.")


@click.command()
@click.argument("code")
@click.option("--name", required=True)
@click.option("--kind", required=True, help="customer, dealer, salvage yard, broker, own comeback.")
@pass_station
def source(station: Station, code: str, name: str, kind: str) -> None:
    """Add or change a source of cores."""
    station.open()
    from coretrack import clock
    from coretrack.actions import setting_up

    for change in setting_up.add_source(code, name, kind, by=station.person, now=clock.now()):
        click.echo(change)


@click.command()
@click.argument("name")
@click.option("--role", required=True, help="clerk, inspector or owner.")
@click.option("--password-file", type=click.File("r"), help="Read the password from a file.")
@pass_station
def people(station: Station, name: str, role: str, password_file: TextIO | None) -> None:
    """Add a person, or give one a new password."""
    station.open()
    from coretrack import clock
    from coretrack.actions import setting_up

    setting_up.add_person(name, role, _password(password_file), by=station.person, now=clock.now())
    click.echo(f"{name} is {role}.")


@click.command()
@click.option("--host", help="Address to listen at; this computer only unless told otherwise.")
@click.option("--port", type=click.IntRange(1, 65535), help="Port to listen at.")
@pass_station
def serve(station: Station, host: str | None, port: int | None) -> None:
    """Open the pages until Ctrl+C."""
    station.open()
    from coretrack.cli.serving import serve_pages

    serve_pages(station.settings(host, port))


def _password(file: TextIO | None) -> str:
    if file is None:
        return str(click.prompt("Password", hide_input=True, confirmation_prompt=True))
    try:
        password = file.readline().rstrip("\r\n")
    except UnicodeDecodeError:
        raise InvalidInput("The password file is no text file.") from None
    if not password:
        raise InvalidInput("The password file is empty.")
    return password
