"""Where the shop's data lies and how the pages are served; read once, at the edge."""

from __future__ import annotations

import os
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path

from coretrack.errors import InvalidInput


@dataclass(frozen=True)
class Settings:
    """One process's settings. `database_url` is SQLite in the data folder unless told otherwise."""

    data_folder: Path
    database_url: str
    host: str = "127.0.0.1"
    port: int = 8321
    threads: int = 8


def read_settings(
    data: str | None = None,
    host: str | None = None,
    port: int | None = None,
    environment: Mapping[str, str] | None = None,
) -> Settings:
    """Return the settings: what was given on the command line, else the environment, else ours.

    CORETRACK_DATA names the data folder, CORETRACK_DATABASE_URL a PostgreSQL database.
    """
    known = os.environ if environment is None else environment
    folder = Path(data or known.get("CORETRACK_DATA") or _usual_folder()).expanduser().absolute()
    url = known.get("CORETRACK_DATABASE_URL") or f"sqlite:///{folder / 'coretrack.db'}"
    if "://" not in url:
        raise InvalidInput(
            f"CORETRACK_DATABASE_URL is '{url}', which is no address; "
            "write it like postgresql://user@host/name."
        )
    return Settings(
        data_folder=folder,
        database_url=url,
        host=host or Settings.host,
        port=port or Settings.port,
    )


def _usual_folder() -> str:
    from platformdirs import user_data_dir

    return user_data_dir("coretrack", appauthor=False)
