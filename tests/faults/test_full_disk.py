"""A full disk: a plain message, exit code 1, nothing half stored, and all well once there is room.

`small_disk.py` keeps files from growing past a limit, which SQLite meets like a full disk.
"""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

import pytest
from databases import TestDatabase
from small_shop import command, coretrack, manifest, readings, told

from coretrack.actions.setting_up import set_up_from_folder
from coretrack.records.database import close_database

SMALL_DISK = Path(__file__).with_name("small_disk.py")
SERIALS = [f"S{place:04d}" for place in range(300)]


@pytest.fixture
def stocked(sqlite_db: TestDatabase, tmp_path: Path, now) -> TestDatabase:
    """The small shop in a SQLite file; lot.csv and bench.csv wait to be imported."""
    from small_shop import FOLDER

    set_up_from_folder(FOLDER, by="Edda Mallin", now=now)
    close_database()
    (tmp_path / "lot.csv").write_text(manifest(SERIALS), encoding="utf-8")
    (tmp_path / "bench.csv").write_text(readings(SERIALS), encoding="utf-8")
    return sqlite_db


def with_room_for(most: int, db: TestDatabase, *words: str) -> subprocess.CompletedProcess[str]:
    return subprocess.run(
        [sys.executable, str(SMALL_DISK), str(most), *command(db, *words)],
        env=db.environment,
        capture_output=True,
        text=True,
        check=False,
    )


def intake(folder: Path) -> tuple[str, ...]:
    return ("intake", str(folder / "lot.csv"), "--source", "COPP", "--lot", "L1", "--price", "10")


@pytest.mark.parametrize("most", [0, 60_000, 250_000])
def test_an_import_without_room_says_so_and_stores_nothing(
    stocked: TestDatabase, tmp_path: Path, most: int
) -> None:
    before = stocked.file.stat().st_size

    done = with_room_for(most, stocked, *intake(tmp_path))

    assert done.returncode == 1
    assert done.stderr.startswith("Error: The d")
    assert "disk" in done.stderr
    assert "full" in done.stderr or "cannot be written" in done.stderr
    assert "Traceback" not in done.stderr
    assert "rollback" not in done.stderr
    assert stocked.sql("SELECT count(*) FROM core") == [(0,)]
    assert stocked.sql('SELECT count(*) FROM "once"') == [(0,)]
    assert stocked.sql("SELECT count(*) FROM counter") == [(0,)]
    assert stocked.file.stat().st_size == before
    assert coretrack(stocked, "verify").returncode == 0


def test_once_there_is_room_the_same_import_runs_and_the_next_full_disk_loses_nothing(
    stocked: TestDatabase, tmp_path: Path
) -> None:
    assert with_room_for(60_000, stocked, *intake(tmp_path)).returncode == 1
    received = told(stocked, *intake(tmp_path))
    assert (received["stored"], received["already"]) == (300, 0)

    done = with_room_for(100_000, stocked, "grade", str(tmp_path / "bench.csv"))

    assert done.returncode == 1
    assert "Nothing was stored" in done.stderr
    assert stocked.sql("SELECT DISTINCT state FROM core") == [("waiting",)]
    assert stocked.sql("SELECT count(*) FROM reading") == [(0,)]

    assert told(stocked, "grade", str(tmp_path / "bench.csv"))["stored"] == 600
    assert told(stocked, "verify")["differences"] == []


def test_a_new_shop_on_a_full_disk_is_refused_and_can_be_made_later(tmp_path: Path) -> None:
    folder = tmp_path / "data"
    new = TestDatabase(f"sqlite:///{folder / 'coretrack.db'}", folder)

    done = with_room_for(30_000, new, "setup", "--name", "Tallow Yard Cores")

    assert done.returncode == 1
    assert "disk" in done.stderr
    assert "Traceback" not in done.stderr
    assert coretrack(new, "setup", "--name", "Tallow Yard Cores").returncode == 0
    assert told(new, "verify") == {"events": 1, "differences": []}


def test_rejects_that_cannot_be_written_are_told_and_the_good_rows_stay(
    stocked: TestDatabase, tmp_path: Path
) -> None:
    lot = tmp_path / "lot.csv"
    lot.write_text(manifest([*SERIALS[:5], SERIALS[0]]), encoding="utf-8")
    nowhere = tmp_path / "no such folder" / "rejects.csv"

    done = coretrack(stocked, *intake(tmp_path), "--rejects", str(nowhere))

    assert done.returncode == 1
    assert "rejects file" in done.stderr
    assert "Traceback" not in done.stderr
    assert stocked.sql("SELECT count(*) FROM core") == [(5,)]
