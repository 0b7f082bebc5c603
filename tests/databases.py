"""The databases tests run on: a fresh SQLite file each, and PostgreSQL where there is a server."""

from __future__ import annotations

import os
import secrets
import shutil
import sqlite3
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import Any
from urllib.parse import urlsplit, urlunsplit

import pytest

from coretrack.records import database, schema
from coretrack.records.tables import MODELS

POSTGRES = "CORETRACK_TEST_POSTGRES"
NO_SKIPS = "CORETRACK_TEST_NO_SKIPS"
ROOT = Path(__file__).resolve().parent.parent


@dataclass(frozen=True)
class TestDatabase:
    """One test's database; `folder` is the data folder that `coretrack --data` takes."""

    __test__ = False

    url: str
    folder: Path

    @property
    def is_sqlite(self) -> bool:
        """Whether this is a SQLite file."""
        return self.url.startswith("sqlite")

    @property
    def file(self) -> Path:
        """The SQLite file."""
        return self.folder / "coretrack.db"

    @property
    def environment(self) -> dict[str, str]:
        """The environment under which a `coretrack` process finds this database."""
        settings = {"CORETRACK_DATABASE_URL": "" if self.is_sqlite else self.url}
        kept = {k: v for k, v in os.environ.items() if not k.startswith("CORETRACK_")}
        return {**kept, **settings, "PYTHONPATH": str(ROOT)}

    def sql(self, statement: str, values: Sequence[Any] = ()) -> list[tuple[Any, ...]]:
        """Run one statement past coretrack, as somebody with a database tool would.

        Placeholders are question marks. Nothing of coretrack's own settings is in force.
        """
        with self.tool() as execute:
            return execute(statement, values)

    @contextmanager
    def tool(self) -> Iterator[Any]:
        """Open the database as a database tool would; every statement counts at once."""
        if self.is_sqlite:
            link: Any = sqlite3.connect(self.file, timeout=10, isolation_level=None)
        else:
            import psycopg

            link = psycopg.connect(self.url, autocommit=True)

        def execute(statement: str, values: Sequence[Any] = ()) -> list[tuple[Any, ...]]:
            text = statement if self.is_sqlite else statement.replace("?", "%s")
            cursor = link.execute(text, tuple(values))
            return cursor.fetchall() if cursor.description else []

        try:
            yield execute
        finally:
            link.close()

    def without_guards(self) -> None:
        """Take the triggers off that protect the history, as a tamperer would."""
        with self.tool() as execute:
            if self.is_sqlite:
                names = execute("SELECT name FROM sqlite_master WHERE type = 'trigger'")
                for (name,) in names:
                    execute(f"DROP TRIGGER {name}")
            else:
                for table in ("event", "seal"):
                    execute(f"ALTER TABLE {table} DISABLE TRIGGER USER")


def migrated_sqlite(folder: Path) -> Path:
    """Make a SQLite database of the present schema and return its file."""
    file = folder / "coretrack.db"
    database.open_database(f"sqlite:///{file}")
    schema.upgrade()
    database.close_database()
    return file


def copied(template: Path, folder: Path) -> TestDatabase:
    """Return a copy of a database file in a data folder of its own."""
    folder.mkdir(parents=True, exist_ok=True)
    shutil.copyfile(template, folder / "coretrack.db")
    return TestDatabase(f"sqlite:///{folder / 'coretrack.db'}", folder)


def postgres_server() -> str:
    """Return the address of the PostgreSQL server for tests; without one, skip and say so."""
    url = os.environ.get(POSTGRES)
    if url:
        return url
    why = f"no PostgreSQL server: {POSTGRES} does not name one"
    if os.environ.get(NO_SKIPS) == "1":
        pytest.fail(f"{why}, and no test may be skipped here", pytrace=False)
    pytest.skip(why)


@contextmanager
def postgres_database(server: str) -> Iterator[str]:
    """Make an empty database on the server, return its address, and drop it at the end."""
    import psycopg

    name = f"coretrack_test_{secrets.token_hex(6)}"
    with psycopg.connect(server, autocommit=True) as link:
        link.execute(f"CREATE DATABASE {name}")
        try:
            yield urlunsplit(urlsplit(server)._replace(path=f"/{name}"))
        finally:
            database.close_database()
            link.execute(f"DROP DATABASE {name} WITH (FORCE)")


def emptied(url: str, folder: Path) -> TestDatabase:
    """Return the PostgreSQL database with every row gone and the history guarded again."""
    tables = ", ".join(f'"{model._meta.table_name}"' for model in MODELS)
    fresh = TestDatabase(url, folder)
    with fresh.tool() as execute:
        execute("ALTER TABLE event DISABLE TRIGGER USER")
        execute("ALTER TABLE seal DISABLE TRIGGER USER")
        execute(f"TRUNCATE {tables} RESTART IDENTITY CASCADE")
        execute("ALTER TABLE event ENABLE TRIGGER USER")
        execute("ALTER TABLE seal ENABLE TRIGGER USER")
    return fresh
