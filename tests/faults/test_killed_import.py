"""An import that is killed outright: nothing of it is there, and done again it all is."""

from __future__ import annotations

import signal
import subprocess
import sys
from pathlib import Path
from typing import Any

import pytest
from databases import TestDatabase
from small_shop import FOLDER, SmallShop, coretrack, manifest, readings, told

from coretrack.records.database import close_database, open_database
from coretrack.records.verify import verify

KILLED_AT = Path(__file__).with_name("killed_at.py")
SERIALS = [f"S{place:04d}" for place in range(60)]


def kill(db: TestDatabase, before: str, *words: str) -> None:
    """Run `coretrack` and kill it before the first statement that begins like this."""
    done = subprocess.run(
        [sys.executable, str(KILLED_AT), before, "--data", str(db.folder), *words],
        env=db.environment,
        capture_output=True,
        text=True,
        check=False,
    )
    assert done.returncode == -signal.SIGKILL, (done.stdout, done.stderr)


def books(db: TestDatabase) -> dict[str, Any]:
    """Return what counts in the books, without the moments at which it was typed in."""
    cores = "SELECT tag, lot, serial, state, grade, price, wash, inspect, version FROM core"
    return {
        "cores": db.sql(f"{cores} ORDER BY tag"),
        "readings": db.sql("SELECT tag, check_code, place, typed FROM reading ORDER BY 1, 2, 3"),
        "roll-ups": sorted(
            db.sql('SELECT family, "grouping", value, month, received, decided, price FROM tally')
        ),
        "counter": db.sql("SELECT name, value FROM counter"),
        "events": sorted(db.sql("SELECT object_kind, count(*) FROM event GROUP BY object_kind")),
        "once": db.sql('SELECT count(*) FROM "once"'),
    }


@pytest.fixture(scope="module")
def errands(tmp_path_factory: pytest.TempPathFactory) -> tuple[tuple[str, ...], tuple[str, ...]]:
    """The two imports: a lot that comes in, and the readings that grade it."""
    folder = tmp_path_factory.mktemp("files")
    lot, bench = folder / "lot.csv", folder / "bench.csv"
    lot.write_text(manifest(SERIALS), encoding="utf-8")
    bench.write_text(readings(SERIALS), encoding="utf-8")
    intake = ("intake", str(lot), "--source", "COPP", "--lot", "L1", "--price", "10")
    return intake, ("grade", str(bench))


@pytest.fixture(scope="module")
def undisturbed(
    errands: tuple[tuple[str, ...], ...], tmp_path_factory: pytest.TempPathFactory
) -> dict[str, Any]:
    """The books after both imports when nobody kills anything."""
    folder = tmp_path_factory.mktemp("undisturbed")
    calm = TestDatabase(f"sqlite:///{folder / 'coretrack.db'}", folder)
    for words in (("setup", "--from", str(FOLDER)), *errands):
        done = coretrack(calm, *words)
        assert done.returncode == 0, done.stderr
    return books(calm)


def test_an_import_killed_while_it_stores_leaves_nothing_and_runs_again_to_the_same_books(
    db: TestDatabase,
    shop: SmallShop,
    errands: tuple[tuple[str, ...], tuple[str, ...]],
    undisturbed: dict[str, Any],
) -> None:
    intake, grade = errands
    empty = books(db)

    for before in ('INSERT INTO "tally"', "COMMIT"):
        kill(db, before, *intake)
        assert books(db) == empty

    assert told(db, *intake)["stored"] == len(SERIALS)
    received = books(db)
    assert received["counter"] == [("tags", len(SERIALS))]

    kill(db, 'INSERT INTO "reading"', *grade)
    assert books(db) == received

    assert told(db, *grade)["stored"] == 2 * len(SERIALS)
    graded = books(db)
    assert [row[3] for row in graded["cores"][:4]] == ["good", "good", "rework", "scrapped"]
    assert graded == undisturbed
    assert verify()[1] == []


def test_half_of_an_import_already_in_the_log_file_counts_for_nothing(
    sqlite_db: TestDatabase, tmp_path: Path
) -> None:
    coretrack(sqlite_db, "setup", "--from", str(FOLDER))
    lot = tmp_path / "lot.csv"
    lot.write_text(manifest(f"S{place:05d}" for place in range(2000)), encoding="utf-8")
    intake = ("intake", str(lot), "--source", "COPP", "--lot", "L1", "--price", "10")

    kill(sqlite_db, "COMMIT", *intake)

    log = sqlite_db.file.with_name("coretrack.db-wal")
    assert log.stat().st_size > 100_000, "nothing was written yet when it was killed"
    assert sqlite_db.sql("SELECT count(*) FROM core") == [(0,)]
    assert verify() == (19, [])
    assert told(sqlite_db, *intake)["stored"] == 2000
    received = "SELECT received FROM tally WHERE \"grouping\" = 'lot' AND value = 'L1'"
    assert sqlite_db.sql(received) == [(2000,)]


@pytest.mark.parametrize("before", ["CREATE TRIGGER", 'INSERT INTO "schema_mig', 'INSERT INTO "e'])
def test_a_setup_killed_in_the_middle_can_be_done_again(tmp_path: Path, before: str) -> None:
    folder = tmp_path / "data"
    db = TestDatabase(f"sqlite:///{folder / 'coretrack.db'}", folder)
    words = ("setup", "--from", str(FOLDER))

    kill(db, before, *words)

    done = coretrack(db, *words)
    assert done.returncode == 0, done.stderr
    open_database(db.url)
    assert verify() == (19, [])
    close_database()
