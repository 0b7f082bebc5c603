"""Times reading and writing 50,000 × 12 cells against plain openpyxl, in the same run.

Run it as a program; `--rows N` takes another length. Each figure is measured in a process of its
own, so that peak memory (the most the process ever held) belongs to it alone; ratios compare
processes of this run. openpyxl reads with `read_only` and `data_only` and writes with `write_only`:
it is the lower bound, since it gives values without asking what was damaged on the way.
"""

from __future__ import annotations

import argparse
import csv
import io
import json
import multiprocessing
import resource
import tempfile
import time
from collections.abc import Callable
from datetime import date, timedelta
from decimal import Decimal
from pathlib import Path
from typing import Any

from openpyxl import Workbook, load_workbook

from coretrack.paper.cells import Value, WorkbookWriter, to_csv
from coretrack.paper.incoming import read_table

HEADINGS = (
    *("serial", "part", "received", "source", "price", "freight", "mass kg", "body OD (mm)"),
    *("bore (mm)", "leak (bar)", "quantity", "note"),
)
WIDTH = len(HEADINGS)


def made_rows(count: int) -> list[list[Value | None]]:
    """Return rows of a large manifest: texts, dates, money, readings, counts."""
    first = date(2024, 1, 1)
    return [
        [
            f"S{place:07d}",
            f"00{place % 997:03d}-{place % 13}",
            first + timedelta(days=place % 600),
            f"SRC{place % 40}",
            Decimal(1000 + place % 5000) / 100,
            Decimal(place % 300) / 100,
            Decimal(place % 4000) / 1000,
            Decimal(9000 + place % 40) / 1000,
            Decimal(6000 + place % 40) / 1000,
            Decimal(place % 900) / 100,
            place % 7,
            "seen from outside, no marks" if place % 3 else f"crate {place}",
        ]
        for place in range(count)
    ]


def write_ours(rows: list[list[Value | None]], path: Path) -> None:
    """Write our workbook: typed, texts as text, everything checked."""
    writer = WorkbookWriter()
    sheet = writer.add_sheet("Cores")
    sheet.write_heading(HEADINGS)
    for row in rows:
        sheet.write_row(row)
    path.write_bytes(writer.finish())


def write_plain(rows: list[list[Value | None]], path: Path) -> None:
    """Write with openpyxl alone."""
    book = Workbook(write_only=True)
    sheet = book.create_sheet("Cores")
    sheet.append(HEADINGS)
    for row in rows:
        sheet.append(row)
    book.save(path)


def write_our_csv(rows: list[list[Value | None]], path: Path) -> None:
    """Write our CSV, texts guarded."""
    path.write_bytes(to_csv(HEADINGS, rows))


def write_plain_csv(rows: list[list[Value | None]], path: Path) -> None:
    """Write with the csv module alone."""
    with path.open("w", encoding="utf-8", newline="") as file:
        csv.writer(file).writerows([HEADINGS, *rows])


def read_ours(path: Path) -> int:
    """Read with our reader and return the cells."""
    table = read_table(path.name, path.read_bytes())
    return sum(len(row.cells) for row in table.rows)


def read_plain(path: Path) -> int:
    """Read with openpyxl alone, keeping the values as our table keeps its cells."""
    book = load_workbook(path, read_only=True, data_only=True)
    rows = [
        row for sheet in book.worksheets for row in sheet.iter_rows(min_row=2, values_only=True)
    ]
    book.close()
    return sum(len(row) for row in rows)


def read_plain_csv(path: Path) -> int:
    """Read with the csv module alone, keeping the values."""
    rows = list(csv.reader(io.StringIO(path.read_text("utf-8-sig"), newline="")))[1:]
    return sum(len(row) for row in rows)


WRITERS: dict[str, Callable[[list[list[Value | None]], Path], None]] = {
    "write xlsx, ours": write_ours,
    "write xlsx, openpyxl": write_plain,
    "write csv, ours": write_our_csv,
    "write csv, csv module": write_plain_csv,
}
READERS: dict[str, Callable[[Path], int]] = {
    "read xlsx, ours": read_ours,
    "read xlsx, openpyxl": read_plain,
    "read csv, ours": read_ours,
    "read csv, csv module": read_plain_csv,
}


def _measure(job: str, count: int, path: Path, answer: Any) -> None:
    rows = made_rows(count) if job in WRITERS else []
    before = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
    start = time.perf_counter()
    if job in WRITERS:
        WRITERS[job](rows, path)
    else:
        cells = READERS[job](path)
        assert cells == count * WIDTH, f"{job}: {cells} cells of {count * WIDTH}"
    seconds = time.perf_counter() - start
    after = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
    answer.send((seconds, (after - before) / 1024, after / 1024))


def measured(job: str, count: int, path: Path, runs: int) -> dict[str, float]:
    """Return the best time of some runs, each in a new process, and its memory in MB."""
    spawning = multiprocessing.get_context("spawn")
    found = []
    for _ in range(runs):
        here, there = spawning.Pipe(duplex=False)
        process = spawning.Process(target=_measure, args=(job, count, path, there))
        process.start()
        there.close()
        found.append(here.recv())
        process.join()
    seconds, grown, peak = min(found)
    return {"seconds": round(seconds, 3), "grown_mb": round(grown, 1), "peak_mb": round(peak, 1)}


def main() -> None:
    """Measure every job and print times, memory and ratios."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--rows", type=int, default=50_000)
    parser.add_argument("--runs", type=int, default=2)
    parser.add_argument("--json", action="store_true", help="print JSON instead of a table")
    asked = parser.parse_args()
    figures: dict[str, dict[str, float]] = {}
    with tempfile.TemporaryDirectory() as folder:
        books = {"xlsx": Path(folder) / "ours.xlsx", "csv": Path(folder) / "ours.csv"}
        for job in WRITERS:
            kind = job.split()[1].rstrip(",")
            path = books[kind] if "ours" in job else Path(folder) / f"plain.{kind}"
            figures[job] = measured(job, asked.rows, path, asked.runs)
        for job in READERS:
            figures[job] = measured(job, asked.rows, books[job.split()[1].rstrip(",")], asked.runs)
    names = list(figures)
    ratios = {
        ours.split(",")[0]: {
            "time": round(figures[ours]["seconds"] / figures[plain]["seconds"], 2),
            "memory": round(figures[ours]["peak_mb"] / figures[plain]["peak_mb"], 2),
        }
        for ours, plain in zip(names[::2], names[1::2], strict=True)
    }
    if asked.json:
        print(json.dumps({"rows": asked.rows, "figures": figures, "ratios": ratios}, indent=2))
        return
    print(f"{asked.rows:,} rows × {WIDTH} columns, best of {asked.runs}")
    for job, found in figures.items():
        print(
            f"{job:24} {found['seconds']:7.3f} s   peak {found['peak_mb']:6.1f} MB "
            f"(+{found['grown_mb']:.1f} MB)"
        )
    for job, ratio in ratios.items():
        print(f"{job}: ours / plain   time {ratio['time']:.2f}   peak memory {ratio['memory']:.2f}")


if __name__ == "__main__":
    main()
