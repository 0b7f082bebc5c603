"""Databases before coretrack has made anything in them, and as an earlier coretrack left them."""

from __future__ import annotations

import json
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from databases import TestDatabase, postgres_database, postgres_server

from coretrack.records import schema
from coretrack.records.database import close_database, connection, open_database

OLD_BOOKS = Path(__file__).resolve().parent / "books_at_step_0001.json"
"""The small shop after a month: bought, graded, reworked, returned, sealed. All is invented.

Written by coretrack as it was when step 0001 was its only one, and never made anew: what stands in
it is what such a shop has on its disk.
"""


@pytest.fixture(params=["sqlite", pytest.param("postgresql", marks=pytest.mark.postgres)])
def empty(request: pytest.FixtureRequest, tmp_path: Path) -> Iterator[TestDatabase]:
    """A database without any table, open in this process."""
    folder = tmp_path / "data"
    folder.mkdir()
    if request.param == "sqlite":
        bare = TestDatabase(f"sqlite:///{folder / 'coretrack.db'}", folder)
        open_database(bare.url)
        yield bare
        close_database()
    else:
        with postgres_database(postgres_server()) as url:
            open_database(url)
            yield TestDatabase(url, folder)


@pytest.fixture
def old_books(empty: TestDatabase) -> TestDatabase:
    """The small shop's books at step 0001, open in this process."""
    with connection():
        schema._runner().up("0001_initial")
    tables: dict[str, list[dict[str, Any]]] = json.loads(OLD_BOOKS.read_text(encoding="utf-8"))
    with empty.tool() as execute:
        for table, rows in tables.items():
            for row in rows:
                columns = ", ".join(f'"{name}"' for name in row)
                marks = ", ".join("?" * len(row))
                statement = f'INSERT INTO "{table}" ({columns}) VALUES ({marks})'  # noqa: S608
                execute(statement, list(row.values()))
    return empty
