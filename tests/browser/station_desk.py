"""The real station on a made-up shop, served to a real browser: sell, scan, look, restart."""

from __future__ import annotations

import threading
import time
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from datetime import UTC, datetime
from typing import Any

from browser.typed_keys import type_scan
from core_yard import Yard
from flask import Flask
from playwright.sync_api import Browser, BrowserContext, Page
from samples import sample_summary
from werkzeug.serving import make_server

from coretrack.records.database import connection
from coretrack.records.tables import CoreRow, LineRow, LotRow
from coretrack.records.verify import verify
from coretrack.web.app import create_app
from coretrack.web.here import SignedIn

PANEL = {"width": 1024, "height": 768}

CLERK = SignedIn("Pia Lund", "clerk", "receiving 1")
OTHER = SignedIn("Jon Varga", "clerk", "receiving 2")

COUNTING = """
document.addEventListener('station:updated', () => { window.answers = (window.answers || 0) + 1; });
window.print = () => { window.printed = (window.printed || 0) + 1; };
"""


def station_app(who: SignedIn = CLERK, **config: Any) -> Flask:
    """Return the station's pages with `who` signed in."""
    app = create_app(None, summary=sample_summary, secret="only for tests", signed_in=lambda: who)
    app.config.update(config)
    return app


@dataclass
class Server:
    """A server that can be stopped and started again at the same port."""

    app: Flask
    port: int = 0
    _running: list[Any] = field(default_factory=list)

    @property
    def address(self) -> str:
        return f"http://127.0.0.1:{self.port}"

    def start(self) -> None:
        server = make_server("127.0.0.1", self.port, self.app, threaded=True)
        self.port = server.server_port
        thread = threading.Thread(target=server.serve_forever, daemon=True)
        thread.start()
        self._running = [server, thread]

    def stop(self) -> None:
        if self._running:
            server, thread = self._running
            server.shutdown()
            thread.join(timeout=10)
            server.server_close()
            self._running = []


@contextmanager
def serving(app: Flask) -> Iterator[Server]:
    """Serve `app` while the block runs; it may be stopped and started in between."""
    server = Server(app)
    server.start()
    try:
        yield server
    finally:
        server.stop()


@contextmanager
def desk(running: Browser, address: str, **options: Any) -> Iterator[Page]:
    """Open a page of a context of its own (cookies, storage) on the 1024x768 panel."""
    context: BrowserContext = running.new_context(**{"viewport": PANEL, **options})
    context.add_init_script(COUNTING)
    page = context.new_page()
    page.set_default_timeout(20_000)
    trouble: list[str] = []
    page.on("pageerror", lambda error: trouble.append(str(error)))
    try:
        page.goto(address)
        yield page
    finally:
        context.close()
    assert trouble == []


def answers(page: Page) -> int:
    """Return how many answers this page has shown since it was opened."""
    return int(page.evaluate("window.answers || 0"))


def wait_until(page: Page, true: str, seconds: float = 20) -> None:
    """Wait until a script's expression is true (the page may not wait by itself)."""
    give_up = time.monotonic() + seconds
    while not page.evaluate(true):
        assert time.monotonic() < give_up, f"never true: {true}"
        page.wait_for_timeout(20)


def scan(page: Page, text: str) -> str:
    """Scan and wait for the answer; return its large word."""
    before = answers(page)
    type_scan(page, text)
    wait_until(page, f"(window.answers || 0) > {before}")
    return word(page)


def agree(page: Page) -> str:
    """Press Enter in the empty scan box, as a person does after looking."""
    page.wait_for_timeout(600)
    return scan(page, "")


def word(page: Page) -> str:
    """Return the large word of the newest result."""
    return page.locator("#said .word").inner_text()


def said(page: Page) -> str:
    """Return everything the newest result says."""
    return " ".join(page.locator("#said").inner_text().split())


def choose(page: Page, number: int, *, wait: bool = True) -> None:
    """Take an offer by its number, as the keyboard does."""
    before = answers(page)
    page.keyboard.press(f"Alt+{number}")
    if wait:
        wait_until(page, f"(window.answers || 0) > {before}")


def begin(page: Page, server: Server, customer: str, pieces: int, reference: str = "") -> str:
    """Begin a delivery by the form; return its code."""
    page.goto(f"{server.address}/receiving/")
    page.fill("#f-customer", customer)
    page.fill("#f-reference", reference)
    page.fill("#f-pieces", str(pieces))
    page.get_by_role("button", name="Begin the delivery").click()
    page.wait_for_url("**/receiving/delivery?code=*")
    return page.url.split("code=")[1]


def yard_today() -> Yard:
    """Return the made-up shop as it stands today, set up in the open database."""
    yard = Yard(now=datetime.now(UTC))
    yard.set_up()
    return yard


def cores() -> list[tuple[str, str, str, int]]:
    """Return number, acceptance, state and credit of every core, oldest first."""
    with connection():
        rows = CoreRow.select().order_by(CoreRow.id)
        return [(row.number, row.acceptance, row.state, row.credit) for row in rows]


def line(key: str) -> tuple[int, int, int]:
    """Return sold, credited and credited money of a core line."""
    with connection():
        row = LineRow.get(LineRow.key == key)
        return row.quantity, row.credited, row.credited_money


def deliveries_begun() -> int:
    """Return how many deliveries there are."""
    with connection():
        return int(LotRow.select().where(LotRow.kind == "return").count())


def nothing_differs() -> bool:
    """Return whether the history bears out every state."""
    with connection():
        return verify()[1] == []
