"""The made-up shop of tests/shops/small, and files that people there might bring."""

from __future__ import annotations

import json
import subprocess
import sys
from collections.abc import Iterable
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from databases import TestDatabase

FOLDER = Path(__file__).resolve().parent / "shops" / "small"


@dataclass(frozen=True)
class SmallShop:
    """What the small shop knows: one family, two customers, a broker, one gauge."""

    name: str = "Tallow Yard Cores"
    folder: Path = FOLDER
    family: str = "PMP"
    core_group: str = "PMP-A"
    number: str = "PB-2410"
    casting: str = "00420"
    customers: tuple[str, str] = ("ANSL", "BROD")
    broker: str = "COPP"
    gauge: str = "PG1"


def csv_text(headings: str, rows: Iterable[Iterable[object]]) -> str:
    """Return a CSV file's text; no cell may need quotes."""
    return "\n".join([headings, *(",".join(str(cell) for cell in row) for row in rows)]) + "\n"


def manifest(serials: Iterable[str], number: str = "PB-2410") -> str:
    """Return a broker's manifest, one row a core."""
    return csv_text("number,serial", ((number, serial) for serial in serials))


def readings(serials: Iterable[str], day: str = "2026-10-05") -> str:
    """Return a bench's readings: of four cores two are good, one needs honing, one is scrap."""
    bores = ("24.010", "24.030", "23.970", "24.100")
    rows: list[tuple[str, ...]] = []
    for place, serial in enumerate(serials):
        minute, second = divmod(place * 6, 60)
        time = f"{day} {8 + minute // 60:02d}:{minute % 60:02d}:{second:02d}"
        rows.append((time, "Una Pryor", "PG1", serial, "bore", bores[place % 4]))
        rows.append((time, "Una Pryor", "", serial, "look", "A"))
    return csv_text("time,inspector,gauge,core,check,reading", rows)


def command(db: TestDatabase, *words: str) -> list[str]:
    """Return the command line of a `coretrack` process on this database."""
    return [sys.executable, "-m", "coretrack", "--data", str(db.folder), *words]


def coretrack(db: TestDatabase, *words: str) -> subprocess.CompletedProcess[str]:
    """Run `coretrack` as a process of its own and return what it said."""
    return subprocess.run(
        command(db, *words), env=db.environment, capture_output=True, text=True, check=False
    )


def told(db: TestDatabase, *words: str) -> Any:
    """Return the JSON answer of a `coretrack` process that must succeed."""
    done = coretrack(db, *words, "--json")
    assert done.returncode == 0, done.stderr
    return json.loads(done.stdout)
