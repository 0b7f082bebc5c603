"""Times the whole demo against reading the same files and inserting their rows, nothing more.

Run it as a program; `--runs N` takes another count. The reference is another Python process that
reads every file with csv or openpyxl and puts each row as JSON into one SQLite table.
"""

from __future__ import annotations

import argparse
import shutil
import tempfile
from pathlib import Path

from timing import ROOT, in_turns, python

REFERENCE = """
import csv, json, pathlib, sqlite3, sys
from openpyxl import load_workbook

link = sqlite3.connect(sys.argv[2])
link.execute("CREATE TABLE line (file TEXT, body TEXT)")
count = 0
for path in sorted(pathlib.Path(sys.argv[1]).rglob("*")):
    if path.suffix == ".csv":
        with path.open(encoding="utf-8", newline="") as file:
            rows = list(csv.reader(file))
    elif path.suffix == ".xlsx":
        book = load_workbook(path, read_only=True, data_only=True)
        rows = [row for sheet in book for row in sheet.values]
        book.close()
    else:
        continue
    for row in rows:
        link.execute("INSERT INTO line VALUES (?, ?)", (path.name, json.dumps(row, default=str)))
        count += 1
    link.commit()
print(count)
"""


def main() -> None:
    """Time both and print the figures."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--runs", type=int, default=3)
    runs = parser.parse_args().runs
    work = Path(tempfile.mkdtemp(prefix="bench_demo_"))

    def fresh(name: str) -> Path:
        shutil.rmtree(work / name, ignore_errors=True)
        (work / name).mkdir()
        return work / name

    def demo() -> None:
        python("-m", "coretrack", "demo", "--no-serve", "--folder", str(fresh("demo")))

    def again() -> None:
        python("-m", "coretrack", "demo", "--no-serve", "--folder", str(work / "demo"))

    def reference() -> None:
        target = fresh("reference") / "rows.db"
        python("-c", REFERENCE, str(ROOT / "sample_cores"), str(target))

    names = "read and insert (reference)", "demo, fresh folder", "demo, run again"
    try:
        times = in_turns(dict(zip(names, (reference, demo, again), strict=True)), runs)
    finally:
        shutil.rmtree(work)
    for name, taken in times.items():
        print(f"{name:<28} {taken:6.2f} s   {taken / times[names[0]]:.1f} x reference")


if __name__ == "__main__":
    main()
