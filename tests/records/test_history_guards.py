"""The database itself refuses a changed history, whoever asks."""

from __future__ import annotations

import peewee
import pytest
from databases import TestDatabase
from made_events import NOW, one_good_core

from coretrack.actions import upkeep
from coretrack.records.database import connection, database
from coretrack.records.tables import EventRow, SealRow
from coretrack.records.verify import verify


@pytest.fixture
def sealed(db: TestDatabase) -> TestDatabase:
    one_good_core()
    upkeep.seal(NOW)
    return db


@pytest.mark.parametrize("table", [EventRow, SealRow], ids=["events", "seals"])
def test_update_and_delete_are_refused(sealed: TestDatabase, table: type[EventRow]) -> None:
    before = sealed.sql(f"SELECT * FROM {table._meta.table_name}")  # noqa: S608

    with connection():
        for query in (table.update(id=99), table.delete(), table.delete().where(table.id == 1)):
            with pytest.raises(peewee.IntegrityError, match="history is never"):
                query.execute()

    assert sealed.sql(f"SELECT * FROM {table._meta.table_name}") == before  # noqa: S608
    assert verify() == (2, [])


def test_an_insert_that_would_replace_an_event_is_refused(sealed: TestDatabase) -> None:
    with connection():
        row = EventRow.select().where(EventRow.id == 1).dicts().get()
        forged = {**row, "by": "nobody"}
        same_place = {name: value for name, value in forged.items() if name != "id"}
        for values in (forged, same_place):
            query = EventRow.insert(values)
            if sealed.is_sqlite:
                query = EventRow.replace(values)
            else:
                query = query.on_conflict(
                    conflict_target=[EventRow.object_kind, EventRow.object_key, EventRow.sequence],
                    update={EventRow.by: "nobody"},
                )
            with pytest.raises(peewee.IntegrityError):
                query.execute()

    assert sealed.sql('SELECT DISTINCT "by" FROM event') == [("Edda Mallin",)]


@pytest.mark.parametrize("statement", ["UPDATE event SET body = ''", "DELETE FROM event"])
def test_a_database_tool_is_refused_too(sealed: TestDatabase, statement: str) -> None:
    with pytest.raises(Exception, match="history is never"):
        sealed.sql(statement)

    assert verify() == (2, [])


@pytest.mark.parametrize("table", ["event", "seal"])
def test_emptying_a_table_at_once_is_refused(sealed: TestDatabase, table: str) -> None:
    statement = f"DELETE FROM {table}" if sealed.is_sqlite else f"TRUNCATE {table}"  # noqa: S608

    with pytest.raises(Exception, match="history is never"):
        sealed.sql(statement)


def test_every_connection_keeps_foreign_keys_and_replace_guards_on(
    sqlite_db: TestDatabase,
) -> None:
    for _ in range(2):
        with connection():
            answers = {
                name: database.execute_sql(f"PRAGMA {name}").fetchone()[0]
                for name in ("foreign_keys", "recursive_triggers", "synchronous", "journal_mode")
            }
        assert answers == {
            "foreign_keys": 1,
            "recursive_triggers": 1,
            "synchronous": 2,
            "journal_mode": "wal",
        }
