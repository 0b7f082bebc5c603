"""Times a roll-up on the demo's books and on books many times as large, and verifying both.

Run it as a program; `--times N` takes another size. The larger books hold every core of the demo
N times, each with its own history. The reference is one GROUP BY over all cores in bare SQLite.
"""

from __future__ import annotations

import argparse
import json
import shutil
import sqlite3
import tempfile
from datetime import UTC, datetime
from pathlib import Path
from statistics import median

from timing import python, seconds

from coretrack.actions.rollups import Question, costs
from coretrack.figures.lifecycle import COST_PARTS
from coretrack.records import verify
from coretrack.records.database import close_database, open_database
from coretrack.records.writer import writing

NOW = datetime(2026, 11, 2, 12, tzinfo=UTC)
SUMS = ", ".join(f"sum({part})" for part in COST_PARTS)
GROUP_BY = f"SELECT family, state, count(*), {SUMS} FROM core GROUP BY family, state"  # noqa: S608


def grow(file: Path, times: int) -> None:
    """Give every core of the books `times` - 1 twins with the same history."""
    link = sqlite3.connect(file)
    rows = link.execute("SELECT body FROM event WHERE object_kind = 'core' ORDER BY id").fetchall()
    link.close()
    bodies = [json.loads(body) for (body,) in rows]
    for copy in range(1, times):
        with writing("bench", NOW) as writer:
            for body in bodies:
                tag, detail = f"{body['key']}-{copy}", body["detail"]
                if "tag" in detail:
                    detail = {**detail, "tag": tag, "serial": f"{detail['serial']}-{copy}"}
                writer.event("core", tag, body["event"], detail)


def timed(file: Path, runs: int) -> tuple[int, float, float, float]:
    """Return cores, and the seconds of the roll-up, of the reference and of verifying."""
    open_database(f"sqlite:///{file}")
    question = Question(by="family")
    costs(question)
    ours = median(seconds(lambda: costs(question)) for _ in range(runs))
    checked = seconds(verify.verify)
    close_database()
    link = sqlite3.connect(file)
    cores = link.execute("SELECT count(*) FROM core").fetchone()[0]
    plain = median(seconds(lambda: link.execute(GROUP_BY).fetchall()) for _ in range(runs))
    link.close()
    return cores, ours, plain, checked


def main() -> None:
    """Time both books and print the figures."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--times", type=int, default=20)
    parser.add_argument("--runs", type=int, default=15)
    options = parser.parse_args()
    work = Path(tempfile.mkdtemp(prefix="bench_rollup_"))
    try:
        python("-m", "coretrack", "demo", "--no-serve", "--folder", str(work / "demo"))
        small, large = work / "demo" / "coretrack.db", work / "large.db"
        shutil.copyfile(small, large)
        open_database(f"sqlite:///{large}")
        taken = seconds(lambda: grow(large, options.times))
        close_database()
        print(f"grown {options.times} x in {taken:.1f} s")
        answers = [timed(file, options.runs) for file in (small, large)]
    finally:
        shutil.rmtree(work)
    print("   cores   roll-up     GROUP BY over cores   verify")
    for cores, ours, plain, checked in answers:
        print(
            f"{cores:8d}  {ours * 1000:7.1f} ms   {plain * 1000:7.1f} ms            {checked:.2f} s"
        )
    (_, ours, plain, checked), (_, more_ours, more_plain, more_checked) = answers
    print(
        f"   ratio  {more_ours / ours:7.2f}      {more_plain / plain:7.1f}"
        f"               {more_checked / checked:.1f}"
    )


if __name__ == "__main__":
    main()
