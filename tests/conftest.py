"""What tests share: a clean database of each kind, a fixed moment, a small shop, the terminal."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from datetime import UTC, datetime
from pathlib import Path

import pytest
from click.testing import CliRunner, Result
from databases import (
    TestDatabase,
    copied,
    emptied,
    migrated_sqlite,
    postgres_database,
    postgres_server,
)
from hypothesis import settings
from small_shop import SmallShop

from coretrack.records import database, schema

# Nothing in the tests is timed: a busy computer is no fault. Speed is measured in tests/bench.
settings.register_profile("untimed", deadline=None)
settings.load_profile("untimed")

DATABASES = ("sqlite", pytest.param("postgresql", marks=pytest.mark.postgres))


@pytest.fixture(scope="session")
def migrated_file(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """An empty SQLite database of the present schema, made once and copied by each test."""
    return migrated_sqlite(tmp_path_factory.mktemp("migrated"))


@pytest.fixture(scope="session")
def migrated_postgres() -> Iterator[str]:
    """A PostgreSQL database of the present schema for this run alone."""
    with postgres_database(postgres_server()) as url:
        database.open_database(url)
        schema.upgrade()
        database.close_database()
        yield url


@pytest.fixture(params=DATABASES)
def db(request: pytest.FixtureRequest, tmp_path: Path) -> Iterator[TestDatabase]:
    """An empty database, open in this process: the test runs on SQLite and on PostgreSQL."""
    if request.param == "sqlite":
        fresh = copied(request.getfixturevalue("migrated_file"), tmp_path / "data")
    else:
        fresh = emptied(request.getfixturevalue("migrated_postgres"), tmp_path / "data")
    database.open_database(fresh.url)
    yield fresh
    database.close_database()


@pytest.fixture
def sqlite_db(migrated_file: Path, tmp_path: Path) -> Iterator[TestDatabase]:
    """An empty SQLite database, open in this process."""
    fresh = copied(migrated_file, tmp_path / "data")
    database.open_database(fresh.url)
    yield fresh
    database.close_database()


@pytest.fixture
def now() -> datetime:
    """The moment at which tests happen."""
    return datetime(2026, 10, 31, 12, tzinfo=UTC)


@pytest.fixture
def shop(db: TestDatabase, now: datetime) -> SmallShop:
    """The small made-up shop, set up in the test's database."""
    from coretrack.actions.setting_up import set_up_from_folder

    small = SmallShop()
    set_up_from_folder(small.folder, by="Edda Mallin", now=now)
    return small


@pytest.fixture
def run(db: TestDatabase) -> Callable[..., Result]:
    """Run `coretrack` in this process on the test's database: `run("cost", "--by", "lot")`.

    What it said is in `.output`, its exit code in `.exit_code`. Errors that are not coretrack's
    own are raised here.
    """
    from coretrack.cli.main import main

    def invoke(*words: str, typed: str | None = None) -> Result:
        runner = CliRunner(env={"CORETRACK_DATABASE_URL": "" if db.is_sqlite else db.url})
        done = runner.invoke(main, ["--data", str(db.folder), *words], input=typed)
        if done.exception is not None and not isinstance(done.exception, SystemExit):
            raise done.exception
        return done

    return invoke
