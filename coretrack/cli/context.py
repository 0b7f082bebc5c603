"""What every command needs: settings, an open database, and how answers are printed."""

from __future__ import annotations

import json
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import click

from coretrack.config import Settings, read_settings
from coretrack.errors import NotFound


@dataclass
class Station:
    """The terminal as a place of work: its data folder and the person at it."""

    data: str | None
    person: str

    def settings(self, host: str | None = None, port: int | None = None) -> Settings:
        """Return the settings of this call."""
        return read_settings(self.data, host, port)

    def open(self, *, create: bool = False) -> Settings:
        """Open the shop's database; NotFound with what to do when there is no shop yet.

        `create` also makes or upgrades it.
        """
        from coretrack.records import database, schema

        settings = self.settings()
        new = _sqlite_file_missing(settings)
        if new and not create:
            raise NotFound(
                f"There is no shop in {settings.data_folder} yet. Run 'coretrack setup' first, "
                "or name its folder with --data."
            )
        database.open_database(settings.database_url, settings.threads)
        if create:
            schema.upgrade()
        else:
            schema.require_current()
        return settings


def _sqlite_file_missing(settings: Settings) -> bool:
    from pathlib import Path

    prefix = "sqlite:///"
    url = settings.database_url
    return url.startswith(prefix) and not Path(url.removeprefix(prefix)).exists()


pass_station = click.make_pass_decorator(Station)

json_option = click.option("--json", "as_json", is_flag=True, help="Print JSON instead of a table.")


def print_json(value: Any) -> None:
    """Print `value` as JSON; NaN and infinity are refused, not printed."""
    click.echo(json.dumps(value, ensure_ascii=False, indent=2, allow_nan=False))


def print_table(rows: Sequence[Mapping[str, str]], columns: Sequence[tuple[str, str, str]]) -> None:
    """Print `rows` under headings; a column is its key, its heading and "left" or "right"."""
    widths = [
        max([len(heading), *(len(row.get(key, "")) for row in rows)]) for key, heading, _ in columns
    ]
    side: dict[str, Callable[[str, int], str]] = {"left": str.ljust, "right": str.rjust}
    click.echo(
        "  ".join(
            side[where](heading, width)
            for (_, heading, where), width in zip(columns, widths, strict=True)
        ).rstrip()
    )
    for row in rows:
        click.echo(
            "  ".join(
                side[where](row.get(key, ""), width)
                for (key, _, where), width in zip(columns, widths, strict=True)
            ).rstrip()
        )
