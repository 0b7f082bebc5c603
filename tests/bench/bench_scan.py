"""Times the scans of a clean core at a delivery against a bare insert and against a bare page.

Run it as a program. Builds the demo's shop, or copies `--folder DIR` with a demo in it; then a
clerk signs in and takes in `--cores N` cores of one delivery, each with two scans: its number, and
the empty Enter that says yes. Every scan is answered as a browser gets it: reply, the page's fresh
work, the last results, and after a yes the label sent to be printed. In turns with them, on the
same database: one row inserted and committed to the disk, and a Flask view that answers "ok".
"""

from __future__ import annotations

import argparse
from collections.abc import Callable
from datetime import UTC, datetime, timedelta
from pathlib import Path
from statistics import median

from flask import Flask
from timing import seconds
from visitor import PASSWORD, Visitor, bare_insert, demo_books, make_bare_table

from coretrack.actions import deliveries, overview, people, sales
from coretrack.actions.delivery_views import NewDelivery
from coretrack.actions.imports import FileRequest
from coretrack.records import database
from coretrack.web.app import create_app

CLERK, STATION = "Wanda Quell", "dock"
CUSTOMER, NUMBER, INVOICE = "ALDW", "QV3144-C", "BENCH-1"


def main() -> None:
    """Time all four and print the figures."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--cores", type=int, default=40)
    parser.add_argument("--folder", type=Path)
    told = parser.parse_args()
    with demo_books(told.folder):
        _run(told.cores)


def _run(cores: int) -> None:
    dock = _prepared(cores)
    # As serving the pages does it.
    with database.held_open():
        times = _timed(dock, cores)
    if dock.words != ["ACCEPT", "ACCEPTED"] * cores:
        raise SystemExit(f"these were no clean cores: {dock.words}")
    bare, page = median(times["insert and commit"]), median(times["bare page"])
    print(f"{cores} cores, median of each; the last fifth of them in the last column")
    for name, taken in times.items():
        value, last = median(taken), median(taken[-max(1, len(taken) // 5) :])
        print(
            f"{name:<18} {1000 * value:8.2f} ms {value / bare:7.1f} x insert "
            f"{value / page:7.1f} x page   {1000 * last:8.2f} ms"
        )


def _prepared(cores: int) -> Visitor:
    """Sell the cores, let the clerk in, open the delivery and count it."""
    now = datetime.now(UTC)
    people.add_person(CLERK, "clerk", PASSWORD, by="bench", now=now)
    row = f"{INVOICE},{now - timedelta(days=2):%Y-%m-%d},{CUSTOMER},{NUMBER},{cores}"
    content = f"invoice,date,customer,number,quantity\n{row}\n".encode()
    sales.import_sales(FileRequest("bench.csv", content), by="bench", now=now)
    new = NewDelivery(reference=INVOICE, pieces=str(cores), second_counter="Oda Brennick")
    code = deliveries.start_delivery(new, by=CLERK, station=STATION, now=now)
    app = create_app(None, summary=lambda: overview.shop_summary(now), secret="only for the bench")
    dock = Visitor(app.test_client(), CLERK, STATION, "delivery", code)
    dock.sign_in("/receiving/")
    return dock


def _timed(dock: Visitor, cores: int) -> dict[str, list[float]]:
    bare = Flask("bare")
    bare.add_url_rule("/", "ok", lambda: "ok")
    visitor = bare.test_client()
    make_bare_table()
    jobs: dict[str, Callable[[], float]] = {
        "insert and commit": bare_insert,
        "bare page": lambda: seconds(lambda: visitor.get("/")),
        "scan of the number": lambda: seconds(lambda: dock.scan(NUMBER)),
        "scan of the yes": lambda: seconds(lambda: dock.scan("")),
    }
    times: dict[str, list[float]] = {name: [] for name in jobs}
    for _ in range(cores):
        for name, job in jobs.items():
            times[name].append(job())
    pairs = zip(times["scan of the number"], times["scan of the yes"], strict=True)
    times["the whole core"] = [first + second for first, second in pairs]
    return times


if __name__ == "__main__":
    main()
