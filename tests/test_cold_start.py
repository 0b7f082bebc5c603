"""`coretrack --help` answers at once: nothing heavy is loaded for it."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parent.parent
HEAVY = (
    "scipy",
    "numpy",
    "reportlab",
    "openpyxl",
    "flask",
    "waitress",
    "peewee",
    "sqlite3",
    "psycopg",
    "PIL",
    "barcode",
    "stdnum",
    "biip",
)

ASK = """
import sys
from coretrack.cli.main import main
try:
    main(sys.argv[2:], prog_name="coretrack")
except SystemExit as end:
    assert not end.code, end.code
loaded = [name for name in sys.argv[1].split(",") if name in sys.modules]
print("LOADED", *loaded)
"""


def loaded_by(folder: Path, *words: str) -> tuple[str, list[str]]:
    """Run a command in a process of its own; return what it said and the heavy modules loaded."""
    done = subprocess.run(
        [sys.executable, "-W", "error", "-c", ASK, ",".join(HEAVY), *words],
        env={**os.environ, "PYTHONPATH": str(ROOT), "CORETRACK_DATA": str(folder)},
        capture_output=True,
        text=True,
        check=False,
    )
    assert done.returncode == 0, done.stderr
    said, _, loaded = done.stdout.rpartition("LOADED")
    return said, loaded.split()


@pytest.mark.parametrize(
    "words", [["--help"], ["--version"], ["grade", "--help"], ["cost", "--help"]], ids=" ".join
)
def test_asking_for_help_loads_nothing_heavy_and_makes_no_folder(
    tmp_path: Path, words: list[str]
) -> None:
    said, loaded = loaded_by(tmp_path / "data", *words)

    assert "coretrack" in said
    assert loaded == []
    assert not (tmp_path / "data").exists()


def test_the_measure_would_notice_a_heavy_module(tmp_path: Path) -> None:
    _, loaded = loaded_by(tmp_path / "data", "reading", "24.010", "--unit", "mm")

    assert "peewee" in loaded or "sqlite3" in loaded or "stdnum" in loaded or "biip" in loaded
