"""Times readings and verdicts at the bench against a bare insert and against a bare page.

Run it as a program. Builds the demo's shop, or copies `--folder DIR` with a demo in it; then an
inspector signs in and takes `--bodies N` waiting bodies of one family through all their checks,
typed as a gauge types them. Every reading is answered as a browser gets it: reply, the page's
fresh work, the last results. In turns with them, on the same database: one row inserted and
committed to the disk, and a Flask view that answers "ok".
"""

from __future__ import annotations

import argparse
from datetime import UTC, datetime
from pathlib import Path
from statistics import median

from flask import Flask
from timing import seconds
from visitor import PASSWORD, Visitor, bare_insert, demo_books, make_bare_table

from coretrack.actions import overview, people
from coretrack.records import database, list_queries
from coretrack.web.app import create_app

INSPECTOR, STATION, FAMILY = "Wanda Quell", "bench 9", "INJ"
BODY = ("go", "6.0030", "6.0031", "6.0030", "0.4", "2", "60.0", "60.5", "no indication", "A")
"""What the gauges and the hand type of a body that is as new."""


def main() -> None:
    """Time all and print the figures."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--bodies", type=int, default=8)
    parser.add_argument("--folder", type=Path)
    told = parser.parse_args()
    with demo_books(told.folder):
        _run(told.bodies)


def _run(bodies: int) -> None:
    now = datetime.now(UTC)
    people.add_person(INSPECTOR, "inspector", PASSWORD, by="bench", now=now)
    app = create_app(None, summary=lambda: overview.shop_summary(now), secret="only for the bench")
    inspector = Visitor(app.test_client(), INSPECTOR, STATION, "bench")
    inspector.sign_in("/bench/")
    # As serving the pages does it.
    with database.held_open():
        times = _timed(inspector, bodies)
    bare, page = median(times["insert and commit"]), median(times["bare page"])
    print(f"{bodies} bodies of {len(BODY)} readings, median of each")
    for name, taken in times.items():
        value = median(taken)
        print(
            f"{name:<18} {1000 * value:8.2f} ms {value / bare:7.1f} x insert "
            f"{value / page:7.1f} x page"
        )


def _waiting(bodies: int) -> list[str]:
    with database.connection():
        cores = list_queries.cores_in(["waiting"])
    found = [core.tag for core in cores if core.family == FAMILY][:bodies]
    if len(found) < bodies:
        raise SystemExit(f"only {len(found)} bodies of {FAMILY} wait for the bench")
    return found


def _timed(inspector: Visitor, bodies: int) -> dict[str, list[float]]:
    bare = Flask("bare")
    bare.add_url_rule("/", "ok", lambda: "ok")
    visitor = bare.test_client()
    make_bare_table()
    names = ("insert and commit", "bare page", "opening a body", "a reading", "the verdict")
    times: dict[str, list[float]] = {name: [] for name in (*names, "the whole body")}
    for tag in _waiting(bodies):
        times["insert and commit"].append(bare_insert())
        times["bare page"].append(seconds(lambda: visitor.get("/")))
        inspector.code, inspector.seen = "", ""
        opening = seconds(lambda tag=tag: inspector.scan(tag))
        inspector.code = tag
        readings = [seconds(lambda text=text: inspector.scan(text)) for text in BODY]
        verdict = seconds(lambda: inspector.scan(""))
        if inspector.words[-1] != "KEEP":
            raise SystemExit(f"no clean body: {inspector.words[-len(BODY) - 2 :]}")
        times["opening a body"].append(opening)
        times["a reading"] += readings
        times["the verdict"].append(verdict)
        times["the whole body"].append(opening + sum(readings) + verdict)
    return times


if __name__ == "__main__":
    main()
