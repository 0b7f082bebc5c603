"""The application with its own sessions, and its forms sent as a browser sends them."""

from __future__ import annotations

import re
from html import unescape

from flask import Flask
from flask.testing import FlaskClient
from samples import sample_summary
from staff import PASSWORDS
from werkzeug.test import TestResponse

from coretrack.web.access import Access
from coretrack.web.app import create_app


def shop_app(access: Access | None = None) -> Flask:
    """Return the application with its own sessions, on the open database."""
    return create_app(None, summary=sample_summary, secret="only for tests", access=access)


def page_words(response: TestResponse) -> str:
    """Return what a page says, without its marks."""
    html = response.get_data(as_text=True)
    return " ".join(unescape(re.sub(r"<[^>]+>", " ", html)).split())


def token_on(client: FlaskClient, address: str) -> str:
    """Return the token of the first form on a page."""
    html = client.get(address).get_data(as_text=True)
    found = re.search(r'name="csrf_token" value="([^"]+)"', html)
    assert found is not None, html
    return found[1]


def hidden(response: TestResponse) -> list[tuple[str, str]]:
    """Return the hidden inputs of a page, in their order."""
    html = response.get_data(as_text=True)
    found = re.findall(r'<input type="hidden" name="([^"]*)" value="([^"]*)">', html)
    return [(unescape(name), unescape(value)) for name, value in found]


def enter(client: FlaskClient, name: str, password: str | None = None, **more: str) -> TestResponse:
    """Send the sign-in form."""
    form = {
        "csrf_token": token_on(client, "/sign-in"),
        "name": name,
        "password": PASSWORDS.get(name, "") if password is None else password,
        **more,
    }
    return client.post("/sign-in", data=form)
