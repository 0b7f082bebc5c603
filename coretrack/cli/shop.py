"""setup, family, source, people, serve: making a shop and opening its pages."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Any, TextIO

import click

from coretrack.cli.context import Station, pass_station, print_table
from coretrack.errors import InvalidInput

if TYPE_CHECKING:
    from coretrack.actions.people import PersonSeen


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
    from coretrack.actions import people as acting
    from coretrack.actions import setting_up

    changes: list[str] = []
    if folder:
        changes += setting_up.set_up_from_folder(folder, by=station.person, now=clock.now())
    elif name:
        changes += setting_up.set_shop(
            name, currency, time_zone, site, by=station.person, now=clock.now()
        )
    if owner:
        acting.add_owner(owner, _secret("Password", password_file), now=clock.now())
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
@click.argument("name", required=False)
@click.option("--role", help="clerk, inspector or owner.")
@click.option("--password", "ask_password", is_flag=True, help="Ask for a new password.")
@click.option("--password-file", type=click.File("r"), help="Read the password from a file.")
@click.option("--badge", is_flag=True, help="Give a new badge number; an old badge is dead then.")
@click.option("--pin", "ask_pin", is_flag=True, help="Ask for a new PIN.")
@click.option("--pin-file", type=click.File("r"), help="Read the PIN from a file.")
@click.option("--unlock", is_flag=True, help="Let in again after too many wrong tries.")
@click.option("--inactive", is_flag=True, help="Can no longer sign in, at once.")
@click.option("--active", is_flag=True, help="Works here again.")
@pass_station
def people(
    station: Station,
    name: str | None,
    role: str | None,
    ask_password: bool,
    password_file: TextIO | None,
    badge: bool,
    ask_pin: bool,
    pin_file: TextIO | None,
    unlock: bool,
    inactive: bool,
    active: bool,
) -> None:
    """List the people; or add or change NAME."""
    if inactive and active:
        raise InvalidInput("A person is --active or --inactive, not both.")
    station.open()
    from coretrack import clock
    from coretrack.actions import people as acting

    known = {person.name: person for person in acting.all_people(clock.now())}
    if name is None:
        _list_people(known.values())
        return
    new = name not in known
    asked = ask_password or password_file is not None or (new and bool(role))
    change = acting.PersonChange(
        role=role or "",
        password=_secret("Password", password_file) if asked else "",
        pin=_secret("PIN", pin_file) if ask_pin or pin_file else "",
        new_badge=badge,
        active=True if active else False if inactive else None,
    )
    told: dict[str, Any] = {"by": station.person, "now": clock.now()}
    if new and role:
        later = replace(change, role="", password="")
        done = acting.add_person(name, role, change.password, more=later, **told)
    else:
        done = acting.change_person(name, change, **told)
    if unlock and acting.let_in_again(name, **told):
        done.append("is let in again")
    for line in done or ["is as before"]:
        click.echo(f"{name} {line}.")


@click.command()
@click.option("--host", help="Address to listen at: 0.0.0.0 for the shop's other stations.")
@click.option("--port", type=click.IntRange(1, 65535), help="Port to listen at.")
@click.option("--behind-tls", is_flag=True, help="A reverse proxy in front speaks HTTPS.")
@pass_station
def serve(station: Station, host: str | None, port: int | None, behind_tls: bool) -> None:
    """Open the pages until Ctrl+C."""
    station.open()
    from coretrack.cli.serving import serve_pages

    serve_pages(station.settings(host, port), behind_tls=behind_tls)


def _list_people(everyone: Iterable[PersonSeen]) -> None:
    rows = [
        {
            "name": person.name,
            "role": person.role,
            "badge": person.badge or "none",
            "ways": person.ways,
            "now": _now_words(person),
        }
        for person in everyone
    ]
    headings = ("name", "role", "badge", "signs in by", "now")
    keys = ("name", "role", "badge", "ways", "now")
    print_table(rows, [(key, head, "left") for key, head in zip(keys, headings, strict=True)])


def _now_words(person: PersonSeen) -> str:
    if not person.active:
        return "gone"
    until = person.shut_until
    return f"shut until {until:%Y-%m-%d %H:%M %Z}" if until else "may sign in"


def _secret(what: str, file: TextIO | None) -> str:
    """Return a password or PIN, asked for or from the first line of a file."""
    if file is None:
        return str(click.prompt(what, hide_input=True, confirmation_prompt=True))
    try:
        secret = file.readline().rstrip("\r\n")
    except UnicodeDecodeError:
        raise InvalidInput(f"The {what} file is no text file.") from None
    if not secret:
        raise InvalidInput(f"The {what} file is empty.")
    return secret
