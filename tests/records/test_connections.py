"""Connections: one a request, and an SQLite log that is not emptied at the end of each."""

from __future__ import annotations

from collections.abc import Iterator

import pytest
from databases import TestDatabase

from coretrack.records import database
from coretrack.records.database import connection, transaction
from coretrack.records.database import database as opened


@pytest.fixture(autouse=True)
def let_go() -> Iterator[None]:
    """Leave no kept connection to the tests after this one."""
    yield
    database.let_connection_go()


def test_blocks_share_the_connection_that_is_kept_and_it_is_closed_at_the_end(
    db: TestDatabase,
) -> None:
    with connection():
        pass
    assert opened.is_closed()
    database.keep_connection()
    assert opened.is_closed(), "nothing is opened before it is needed"
    with connection():
        first = opened.connection()
    with connection(), transaction():
        assert opened.connection() is first
    assert not opened.is_closed()
    database.let_connection_go()
    assert opened.is_closed()
    with connection():
        pass
    assert opened.is_closed(), "it is kept once, not for good"


def test_a_connection_that_was_open_before_is_left_to_its_own_block(db: TestDatabase) -> None:
    with connection():
        database.keep_connection()
        with connection():
            pass
        database.let_connection_go()
        assert not opened.is_closed()
    assert opened.is_closed()


def test_the_log_of_a_held_sqlite_file_outlives_its_connections(sqlite_db: TestDatabase) -> None:
    log = sqlite_db.file.with_name(f"{sqlite_db.file.name}-wal")

    def write() -> None:
        with connection(), transaction():
            opened.execute_sql("CREATE TABLE IF NOT EXISTS scratch (id INTEGER)")
            opened.execute_sql("INSERT INTO scratch VALUES (1)")

    write()
    assert not log.exists(), "the last connection empties the log into the file"
    with database.held_open():
        write()
        assert log.stat().st_size > 0
    assert not log.exists()


def test_holding_open_changes_nothing_for_others(db: TestDatabase) -> None:
    with database.held_open():
        with connection(), transaction():
            opened.execute_sql("CREATE TABLE scratch (id INTEGER)")
        with connection():
            assert opened.execute_sql("SELECT count(*) FROM scratch").fetchone()[0] == 0
        with connection(), transaction():
            opened.execute_sql("DROP TABLE scratch")
