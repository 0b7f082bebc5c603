"""A signed-in browser that reads files in at the station, for tests of those pages."""

from __future__ import annotations

import io
import re
from dataclasses import dataclass
from pathlib import Path
from urllib.parse import parse_qs, urlsplit

from databases import TestDatabase
from samples import sample_summary
from station_client import StationClient, words
from werkzeug.test import TestResponse

from coretrack.config import Settings
from coretrack.web.app import create_app
from coretrack.web.here import SignedIn

FILES = "/receiving/files"


@dataclass
class FileDesk(StationClient):
    """Sends files the way a browser does; `folder` is the shop's data folder."""

    folder: Path | None = None

    def __post_init__(self) -> None:
        here = SignedIn(self.name, self.role, "dock")
        settings = Settings(self.folder, "") if self.folder else None
        app = create_app(
            settings, summary=sample_summary, secret="only for tests", signed_in=lambda: here
        )
        self.client = app.test_client()

    def send(self, kind: str, name: str, content: bytes | str, **told: str) -> TestResponse:
        """Send a file; the answer is the page that shows what it would store."""
        body = content.encode() if isinstance(content, str) else content
        fields = {"kind": kind, "key": "k", "file": (io.BytesIO(body), name), **told}
        answer = self.post(f"{FILES}/upload", fields)
        assert answer.status_code == 303, words(answer)
        return self.client.get(answer.headers["Location"])

    def store(self, shown: TestResponse) -> TestResponse:
        """Press the button that stores the rows; the answer is the page that says what happened."""
        answer = self.press(shown, "store")
        assert answer.status_code == 303, words(answer)
        return self.client.get(answer.headers["Location"])

    def press(self, shown: TestResponse, what: str, **fields: str) -> TestResponse:
        """Send one of the forms of a preview."""
        return self.post(
            f"{FILES}/{what}", {"key": "k", **fields}, query_string={"upload": upload_of(shown)}
        )

    def waiting(self) -> list[Path]:
        """Return the files that lie in the box."""
        box = (self.folder or Path()) / "uploads"
        return sorted(box.iterdir()) if box.is_dir() else []


def file_desk(db: TestDatabase, role: str = "clerk", name: str = "Ilse Thornby") -> FileDesk:
    """Return a desk of the test's shop."""
    return FileDesk(role, name, db.folder)


def upload_of(shown: TestResponse) -> str:
    """Return the key of the file that a page shows."""
    asked = parse_qs(urlsplit(shown.request.url).query).get("upload", [""])
    return asked[0]


def links_of(shown: TestResponse) -> list[str]:
    """Return the addresses that a page leads to."""
    found = re.findall(r'<a [^>]*href="([^"]+)"', shown.get_data(as_text=True))
    return [address.replace("&amp;", "&") for address in found]
