"""A signed-in person's browser without a browser: real sessions, tokens and scans."""

from __future__ import annotations

import re
import shutil
import tempfile
import time
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any
from uuid import uuid4

from flask.testing import FlaskClient
from timing import python, seconds

from coretrack.records import database, schema

PASSWORD = "a long way to the bench"


@contextmanager
def demo_books(folder: Path | None) -> Iterator[None]:
    """Open a demo's books to be written into: a new demo's, or a copy of the one in `folder`."""
    work = Path(tempfile.mkdtemp(prefix="bench_"))
    try:
        if folder is None:
            python("-m", "coretrack", "demo", "--no-serve", "--folder", str(work))
        else:
            shutil.copy(folder / "coretrack.db", work / "coretrack.db")
        database.open_database(str(work / "coretrack.db"))
        schema.upgrade()
        yield
    finally:
        database.close_database()
        shutil.rmtree(work)


@dataclass
class Visitor:
    """A person at one page of the station: `page` and `code` are the spot of every scan."""

    client: FlaskClient
    name: str
    station: str
    page: str
    code: str = ""
    token: str = ""
    seen: str = ""
    words: list[str] = field(default_factory=list)

    def sign_in(self, first_page: str) -> None:
        """Sign in as a person does, with the real sessions."""
        form = {"name": self.name, "password": PASSWORD, "station": self.station}
        self.client.post("/sign-in", data={**form, "csrf_token": self._token("/sign-in")})
        self.token = self._token(first_page)

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
            "page": self.page,
            "code": self.code,
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


def make_bare_table() -> None:
    """Make the table that the bare inserts go into."""
    with database.connection():
        database.database.execute_sql("CREATE TABLE bench (id INTEGER PRIMARY KEY, body TEXT)")


def bare_insert() -> float:
    """Return the seconds of one row inserted and committed, on a connection that is open."""
    # Only held for the insert: an open connection would spare the scans work at the database.
    with database.connection():
        return seconds(_commit_a_row)


def _commit_a_row() -> None:
    with database.transaction():
        database.database.execute_sql("INSERT INTO bench (body) VALUES ('a row')")
