"""A signed-in browser without a window, for tests of the station's pages."""

from __future__ import annotations

import re
from dataclasses import dataclass, field
from html import unescape
from typing import Any

from flask import Flask
from flask.testing import FlaskClient
from samples import sample_summary
from werkzeug.test import TestResponse

from coretrack.web.app import create_app
from coretrack.web.here import SignedIn


def station_app(name: str = "Ilse Thornby", role: str = "clerk") -> Flask:
    """Return the application with one person signed in at the dock."""
    here = SignedIn(name, role, "dock")
    return create_app(None, summary=sample_summary, secret="only for tests", signed_in=lambda: here)


@dataclass
class StationClient:
    """Asks for pages and sends their forms the way a browser does, tokens and keys included."""

    role: str = "clerk"
    name: str = "Ilse Thornby"
    client: FlaskClient = field(init=False)

    def __post_init__(self) -> None:
        self.client = station_app(self.name, self.role).test_client()

    def get(self, address: str, **query: Any) -> TestResponse:
        """Ask for a page."""
        return self.client.get(address, query_string=query or None)

    def text(self, address: str, **query: Any) -> str:
        """Return a page's words without its marks; it must be there."""
        answer = self.get(address, **query)
        assert answer.status_code == 200, answer.get_data(as_text=True)
        return words(answer)

    def token(self) -> str:
        """Return a token against foreign forms."""
        found = re.search(r'name="csrf_token" value="([^"]+)"', self.get("/cores/").text)
        assert found is not None
        return found[1]

    def post(self, address: str, fields: dict[str, Any], **more: Any) -> TestResponse:
        """Send a form with its token."""
        return self.client.post(address, data={"csrf_token": self.token(), **fields}, **more)


def words(answer: TestResponse) -> str:
    """Return the words of an answer's page."""
    return " ".join(unescape(re.sub(r"<[^>]+>", " ", answer.get_data(as_text=True))).split())
