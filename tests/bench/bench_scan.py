"""Times the scans of a clean core at a delivery against a bare insert and against a bare page.

Run it as a program. Builds the demo's shop, or copies `--folder DIR` with a demo in it; then a
clerk signs in and takes in `--cores N` cores of one delivery, each with two scans: its number, and
the empty Enter that says yes. Every scan is answered as a browser gets it: reply, the page's fresh
work, the last results, and after a yes the label sent to be printed. In turns with them, on the
same database: one row inserted and committed to the disk, and a Flask view that answers "ok".
"""

from __future__ import annotations

import argparse
import re
import shutil
import tempfile
import time
from collections.abc import Callable
from dataclasses import dataclass, field
from datetime import UTC, datetime, timedelta
from pathlib import Path
from statistics import median
from typing import Any
from uuid import uuid4

from flask import Flask
from flask.testing import FlaskClient
from timing import python, seconds

from coretrack.actions import deliveries, overview, people, sales
from coretrack.actions.delivery_views import NewDelivery
from coretrack.actions.imports import FileRequest
from coretrack.records import database, schema
from coretrack.web.app import create_app

CLERK, PASSWORD, STATION = "Wanda Quell", "a long way to the bench", "dock"
CUSTOMER, NUMBER, INVOICE = "ALDW", "QV3144-C", "BENCH-1"


@dataclass
class Dock:
    """A clerk's browser at one open delivery."""

    client: FlaskClient
    delivery: str
    token: str = ""
    seen: str = ""
    words: list[str] = field(default_factory=list)

    def sign_in(self) -> None:
        """Sign in as a person does, with the real sessions."""
        form = {"name": CLERK, "password": PASSWORD, "station": STATION}
        self.client.post("/sign-in", data={**form, "csrf_token": self._token("/sign-in")})
        self.token = self._token("/receiving/")

    def _token(self, address: str) -> str:
        found = re.search(r'name="csrf_token" value="([^"]+)"', self.client.get(address).text)
        if found is None:
            raise SystemExit(f"{address} shows no form")
        return found[1]

    def scan(self, text: str) -> dict[str, Any]:
        """Send one scan as the page's script does."""
        body = {
            "key": uuid4().hex,
            "text": text,
            "page": "delivery",
            "code": self.delivery,
            "seen": self.seen,
            "at": int(time.time() * 1000),
        }
        answer = self.client.post(
            "/receiving/scan",
            json=body,
            headers={"X-CSRFToken": self.token, "Accept": "application/json"},
        )
        if answer.status_code != 200:
            raise SystemExit(f"a scan was answered {answer.status_code}: {answer.text[:300]}")
        told: dict[str, Any] = answer.get_json()
        self.seen = told["spot"]["seen"]
        self.words.append(told["reply"]["word"])
        return told


def main() -> None:
    """Time all four and print the figures."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--cores", type=int, default=40)
    parser.add_argument("--folder", type=Path)
    told = parser.parse_args()
    work = Path(tempfile.mkdtemp(prefix="bench_scan_"))
    try:
        _run(work, told.folder, told.cores)
    finally:
        database.close_database()
        shutil.rmtree(work)


def _run(work: Path, demo: Path | None, cores: int) -> None:
    if demo is None:
        python("-m", "coretrack", "demo", "--no-serve", "--folder", str(work))
    else:
        shutil.copy(demo / "coretrack.db", work / "coretrack.db")
    database.open_database(str(work / "coretrack.db"))
    schema.upgrade()
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


def _prepared(cores: int) -> Dock:
    """Sell the cores, let the clerk in, open the delivery and count it."""
    now = datetime.now(UTC)
    people.add_person(CLERK, "clerk", PASSWORD, by="bench", now=now)
    row = f"{INVOICE},{now - timedelta(days=2):%Y-%m-%d},{CUSTOMER},{NUMBER},{cores}"
    content = f"invoice,date,customer,number,quantity\n{row}\n".encode()
    sales.import_sales(FileRequest("bench.csv", content), by="bench", now=now)
    new = NewDelivery(reference=INVOICE, pieces=str(cores), second_counter="Oda Brennick")
    code = deliveries.start_delivery(new, by=CLERK, station=STATION, now=now)
    app = create_app(None, summary=lambda: overview.shop_summary(now), secret="only for the bench")
    dock = Dock(app.test_client(), code)
    dock.sign_in()
    return dock


def _timed(dock: Dock, cores: int) -> dict[str, list[float]]:
    bare = Flask("bare")
    bare.add_url_rule("/", "ok", lambda: "ok")
    visitor = bare.test_client()
    with database.connection():
        database.database.execute_sql("CREATE TABLE bench (id INTEGER PRIMARY KEY, body TEXT)")
    jobs: dict[str, Callable[[], float]] = {
        "insert and commit": _insert,
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


def _insert() -> float:
    """Return the seconds of one row inserted and committed, on a connection that is open."""
    # Only held for the insert: an open connection would spare the scans work at the database.
    with database.connection():
        return seconds(_commit_a_row)


def _commit_a_row() -> None:
    with database.transaction():
        database.database.execute_sql("INSERT INTO bench (body) VALUES ('a row')")


if __name__ == "__main__":
    main()
