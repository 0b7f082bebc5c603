"""Schema versions: the steps lead to what the models say; newer or foreign databases stay alone."""

from __future__ import annotations

import json
import os
import subprocess
import sys
from pathlib import Path

import pytest
from databases import TestDatabase, migrated_sqlite
from playhouse.schema_diff import diff_models
from small_shop import coretrack

from coretrack.errors import Unavailable
from coretrack.records import schema
from coretrack.records.database import close_database, connection, database, open_database
from coretrack.records.tables import MODELS
from coretrack.records.verify import verify

STEPS = sorted(path.stem for path in (Path(schema.__file__).parent / "migrations").glob("0*.py"))


def shape(db: TestDatabase) -> dict[str, object]:
    """Return every table's columns, foreign keys and indexes as SQLite describes them."""
    found: dict[str, object] = {}
    with db.tool() as execute:
        names = "SELECT name FROM sqlite_master WHERE type = 'table' AND name <> 'schema_migration'"
        for (table,) in execute(names):
            indexes = {}
            for row in execute(f'PRAGMA index_list("{table}")'):
                columns = execute(f'PRAGMA index_info("{row[1]}")')
                indexes[row[1]] = (row[2:], [column[2] for column in columns])
            found[table] = (
                execute(f'PRAGMA table_info("{table}")'),
                execute(f'PRAGMA foreign_key_list("{table}")'),
                indexes,
            )
    return found


def test_the_steps_make_exactly_what_the_models_say(tmp_path: Path, migrated_file: Path) -> None:
    folder = tmp_path / "models"
    from_models = TestDatabase(f"sqlite:///{folder / 'coretrack.db'}", folder)
    open_database(from_models.url)
    with connection():
        database.create_tables(MODELS)
    close_database()

    from_steps = TestDatabase(f"sqlite:///{migrated_file}", migrated_file.parent)

    assert shape(from_steps) == shape(from_models)
    assert len(shape(from_steps)) == len(MODELS)


def test_no_model_differs_from_the_migrated_database(db: TestDatabase) -> None:
    with connection():
        difference = diff_models(database.obj, list(MODELS))
        tables = set(database.get_tables()) - {"schema_migration"}

    assert not difference, str(difference)
    assert tables == {model._meta.table_name for model in MODELS}


@pytest.mark.postgres
def test_columns_have_the_width_the_models_say_on_postgresql(migrated_postgres: str) -> None:
    db = TestDatabase(migrated_postgres, Path())
    query = (
        "SELECT table_name, column_name, data_type, is_nullable FROM information_schema.columns "
        "WHERE table_schema = 'public' AND table_name <> 'schema_migration'"
    )
    types = {
        "AUTO": "integer",
        "INT": "integer",
        "BIGINT": "bigint",
        "TEXT": "text",
        "BOOL": "boolean",
        "BLOB": "bytea",
    }

    stored = {(table, column): rest for table, column, *rest in db.sql(query)}

    assert stored == {
        (model._meta.table_name, field.column_name): [
            types[field.field_type],
            "YES" if field.null else "NO",
        ]
        for model in MODELS
        for field in model._meta.sorted_fields
    }


def test_a_fresh_database_gets_all_steps_once(empty: TestDatabase) -> None:
    assert schema.pending() == STEPS
    with pytest.raises(Unavailable, match="needs an upgrade first"):
        schema.require_current()

    assert schema.upgrade() == STEPS
    assert schema.pending() == []
    assert schema.upgrade() == []
    schema.require_current()


def test_a_database_of_a_newer_coretrack_is_refused(db: TestDatabase) -> None:
    db.sql(
        "INSERT INTO schema_migration (name, applied) VALUES (?, ?)",
        ("9001_from_the_future", "2030-01-01"),
    )
    try:
        for ask in (schema.pending, schema.upgrade, schema.require_current):
            with pytest.raises(Unavailable, match=r"newer coretrack.*9001_from_the_future"):
                ask()
        told = coretrack(db, "verify")
        assert told.returncode == 1
        assert "made by a newer coretrack" in told.stderr
    finally:
        db.sql("DELETE FROM schema_migration WHERE name = ?", ("9001_from_the_future",))


def test_a_database_that_holds_somebody_elses_tables_is_refused_and_left_as_it_was(
    empty: TestDatabase,
) -> None:
    empty.sql("CREATE TABLE recipes (id INTEGER, name TEXT)")
    empty.sql("INSERT INTO recipes VALUES (1, 'soup')")

    with pytest.raises(Unavailable, match=r"tables that coretrack did not make \(recipes"):
        schema.upgrade()

    with connection():
        assert database.get_tables() == ["recipes"]
    assert empty.sql("SELECT name FROM recipes") == [("soup",)]


def test_a_file_that_is_no_database_is_refused_in_words(tmp_path: Path) -> None:
    file = tmp_path / "coretrack.db"
    file.write_bytes(b"cores received in May, typed by hand\n" * 200)
    db = TestDatabase(f"sqlite:///{file}", tmp_path)

    told = coretrack(db, "verify")

    assert told.returncode == 1
    assert "Error: The database cannot be opened: file is not a database" in told.stderr
    assert "Traceback" not in told.stderr
    assert file.read_bytes().startswith(b"cores received")


UPGRADE = """
import json, sys
from coretrack.records import schema
from coretrack.records.database import open_database
open_database(sys.argv[1])
print("ready", flush=True)
sys.stdin.readline()
print(json.dumps(schema.upgrade()))
"""


def test_processes_that_upgrade_at_the_same_moment_all_succeed(empty: TestDatabase) -> None:
    upgraded_by_three(empty, STEPS)


def test_processes_that_upgrade_old_books_at_the_same_moment_all_succeed(
    old_books: TestDatabase,
) -> None:
    upgraded_by_three(old_books, STEPS[1:])


def upgraded_by_three(at_work: TestDatabase, waiting: list[str]) -> None:
    """Let three processes upgrade one database; each step must be applied by one of them."""
    processes = [
        subprocess.Popen(
            [sys.executable, "-c", UPGRADE, at_work.url],
            env={**os.environ, **at_work.environment},
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            stderr=subprocess.PIPE,
            text=True,
        )
        for _ in range(3)
    ]
    for process in processes:
        assert process.stdout is not None
        assert process.stdout.readline() == "ready\n", process.communicate()
    applied: list[list[str]] = []
    for process in processes:
        assert process.stdin is not None
        process.stdin.write("\n")
        process.stdin.flush()
    for process in processes:
        told, wrong = process.communicate(timeout=60)
        assert process.returncode == 0, wrong
        applied.append(json.loads(told))

    assert sorted(step for steps in applied for step in steps) == waiting
    # On SQLite each step is a race of its own; a PostgreSQL server lets one process do them all.
    assert at_work.is_sqlite or sorted(map(len, applied)) == [0, 0, len(waiting)]
    assert schema.pending() == []
    assert verify()[1] == []


def test_a_step_that_fails_half_way_leaves_the_database_as_it_was(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, migrated_file: Path
) -> None:
    steps = tmp_path / "steps"
    steps.mkdir()
    for step in STEPS:
        source = Path(schema.__file__).parent / "migrations" / f"{step}.py"
        (steps / source.name).write_text(source.read_text(encoding="utf-8"), encoding="utf-8")
    monkeypatch.setattr(schema, "_FOLDER", steps)
    folder = tmp_path / "data"
    folder.mkdir()
    file = migrated_sqlite(folder)
    (steps / "0900_breaks.py").write_text(
        "def up(migrator, db):\n"
        "    db.execute_sql('CREATE TABLE half (id INTEGER)')\n"
        "    db.execute_sql('CREATE TABLE core (id INTEGER)')\n",
        encoding="utf-8",
    )
    open_database(f"sqlite:///{file}")

    with pytest.raises(Unavailable, match="already exists"):
        schema.upgrade()

    assert schema.pending() == ["0900_breaks"]
    with connection():
        assert "half" not in database.get_tables()
    close_database()
