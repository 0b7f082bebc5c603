"""Cases of files sent by the browser: too large, named in another script, named wrong."""

from __future__ import annotations

import os
import re
import secrets
import socket
import subprocess
import sys
import time
from collections.abc import Iterator
from contextlib import contextmanager
from datetime import UTC, datetime
from http.client import HTTPConnection
from http.cookies import SimpleCookie
from typing import TYPE_CHECKING
from urllib.parse import urlencode

import pytest
from browser.browsing import browser
from databases import ROOT
from spreadsheet_files import workbook
from staff import CLERK, PASSWORDS, add_staff
from station_client import words
from upload_forms import FILES, FileDesk, links_of, upload_of

from coretrack.records import database

if TYPE_CHECKING:
    from conftest import CounterShop

MEGABYTE = 1024 * 1024
SIXTY = 60 * MEGABYTE
BOUGHT = {"source": "MERE", "price": "10"}
ROWS = "number,serial\n00420,U1\n0010,U2\n"
FORM = {"Content-Type": "application/x-www-form-urlencoded"}


@pytest.fixture
def opened_books(shop: CounterShop) -> Iterator[CounterShop]:
    """The shop with its database open in this process."""
    database.open_database(f"sqlite:///{shop.data / 'coretrack.db'}")
    yield shop
    database.close_database()


@pytest.fixture
def clerk(opened_books: CounterShop) -> FileDesk:
    return FileDesk(folder=opened_books.data)


@contextmanager
def serving(shop: CounterShop) -> Iterator[int]:
    """Run `coretrack serve` on the shop as a process of its own; gives its port."""
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        port = int(probe.getsockname()[1])
    process = subprocess.Popen(
        [sys.executable, "-m", "coretrack", "--data", str(shop.data), "serve", "--port", str(port)],
        env={**os.environ, "CORETRACK_DATABASE_URL": "", "PYTHONPATH": str(ROOT)},
        stdout=subprocess.DEVNULL,
        stderr=subprocess.PIPE,
    )
    try:
        _wait_for(port, process)
        yield port
    finally:
        process.terminate()
        process.communicate(timeout=20)


def _wait_for(port: int, process: subprocess.Popen[bytes]) -> None:
    give_up = time.monotonic() + 30
    while time.monotonic() < give_up and process.poll() is None:
        with socket.socket() as probe:
            if probe.connect_ex(("127.0.0.1", port)) == 0:
                return
        time.sleep(0.1)
    pytest.fail(f"the server did not start: {process.poll()}")


class Window:
    """A browser's requests over a socket: its cookies, one connection for each request."""

    def __init__(self, port: int) -> None:
        self._port = port
        self._cookies: SimpleCookie = SimpleCookie()

    def ask(
        self, method: str, address: str, body: bytes = b"", headers: dict[str, str] | None = None
    ) -> tuple[int, str]:
        """Return status and text of an answer; a connection that is cut raises."""
        link = HTTPConnection("127.0.0.1", self._port, timeout=120)
        held = "; ".join(f"{name}={cookie.value}" for name, cookie in self._cookies.items())
        try:
            link.request(method, address, body, {"Cookie": held, **(headers or {})})
            answer = link.getresponse()
            for given in answer.headers.get_all("Set-Cookie") or []:
                self._cookies.load(given)
            return answer.status, answer.read().decode()
        finally:
            link.close()

    def token(self, address: str) -> str:
        status, page = self.ask("GET", address)
        found = re.search(r'name="csrf_token" value="([^"]+)"', page)
        assert found is not None, (status, page[:600])
        return found[1]

    def sign_in(self) -> None:
        form = {
            "csrf_token": self.token("/sign-in"),
            "name": CLERK,
            "password": PASSWORDS[CLERK],
        }
        status, _ = self.ask("POST", "/sign-in", urlencode(form).encode(), FORM)
        assert status == 303

    def upload(self, name: str, content: bytes) -> tuple[int, str]:
        """Send a file of sales as a browser's form does."""
        mark = secrets.token_hex(16)
        fields = {"csrf_token": self.token(f"{FILES}/?kind=sales"), "key": "k", "kind": "sales"}
        parts = [
            f'--{mark}\r\nContent-Disposition: form-data; name="{field}"\r\n\r\n{text}\r\n'
            for field, text in fields.items()
        ]
        parts.append(
            f'--{mark}\r\nContent-Disposition: form-data; name="file"; filename="{name}"\r\n'
            "Content-Type: text/csv\r\n\r\n"
        )
        body = "".join(parts).encode() + content + f"\r\n--{mark}--\r\n".encode()
        kind = {"Content-Type": f"multipart/form-data; boundary={mark}"}
        return self.ask("POST", f"{FILES}/upload", body, kind)


def test_aw_112_too_large_a_file_gets_a_page_that_says_what_to_do(
    opened_books: CounterShop,
) -> None:
    add_staff(datetime.now(UTC))
    with serving(opened_books) as port:
        window = Window(port)
        window.sign_in()
        status, page = window.upload("sales.csv", b"x" * SIXTY)
        assert status == 413
        assert "That file is too large" in page
        assert "It has 60.0 MB; 48 MB at once are the most. Nothing was stored." in page
        assert "Split a long file" in page
        assert not (opened_books.data / "uploads").exists()
        status, _ = window.upload("sales.csv", b"invoice,date,customer,number,quantity\n")
        assert status == 303, "the server does not live on"


@pytest.mark.browser
def test_aw_112_the_browser_shows_the_page_and_no_cut_connection(
    opened_books: CounterShop,
) -> None:
    add_staff(datetime.now(UTC))
    large = opened_books.folder / "sales.csv"
    large.write_bytes(b"x" * SIXTY)
    with serving(opened_books) as port, browser() as running:
        page = running.new_page()
        page.goto(f"http://127.0.0.1:{port}/sign-in")
        page.locator('input[name="name"]').fill(CLERK)
        page.locator('input[name="password"]').fill(PASSWORDS[CLERK])
        page.locator('input[name="password"]').press("Enter")
        page.wait_for_url("**/receiving/")
        page.goto(f"http://127.0.0.1:{port}{FILES}/?kind=sales")
        page.get_by_label("The file").set_input_files(large)
        page.get_by_role("button", name="Look at it").click()
        page.get_by_role("heading", name="That file is too large").wait_for(timeout=60_000)
        assert "48 MB at once are the most" in page.inner_text("main")
        page.close()


def test_aw_114_a_name_of_another_script_is_imported(
    clerk: FileDesk, opened_books: CounterShop
) -> None:
    done = clerk.store(clerk.send("lot", "正文.csv", ROWS, lot="U", **BOUGHT))
    assert "正文.csv" in words(done)
    assert "Stored 2" in words(done)
    assert opened_books.sql("select number, serial from core where lot = 'U' order by id") == [
        ("00420", "U1"),
        ("0010", "U2"),
    ]


def test_aw_114_the_rejects_of_such_a_file_keep_its_name(clerk: FileDesk) -> None:
    shown = clerk.send("lot", "正文.csv", ROWS + "00420,U1\n", lot="U", **BOUGHT)
    sent = clerk.get(f"{FILES}/rejects", upload=upload_of(shown))
    said = sent.headers["Content-Disposition"]
    assert "filename*=UTF-8''%E6%AD%A3%E6%96%87.rejects.csv" in said
    assert "twice" in sent.get_data(as_text=True)


def test_aw_114_a_workbook_named_csv_is_read_as_the_workbook_it_is(
    clerk: FileDesk, opened_books: CounterShop
) -> None:
    content = workbook([["number", "serial"], ["00420", "W1"]])
    shown = clerk.send("lot", "cores.csv", content, lot="W", **BOUGHT)
    text = words(shown)
    assert "The name says CSV, but it is an .xlsx workbook; read as that." in text
    assert "PK" not in text
    assert "Stored 1" in words(clerk.store(shown))
    assert opened_books.sql("select serial from core where lot = 'W'") == [("W1",)]


def test_aw_114_a_csv_named_workbook_is_read_as_the_text_it_is(
    clerk: FileDesk, opened_books: CounterShop
) -> None:
    shown = clerk.send("lot", "cores.xlsx", ROWS, lot="T", **BOUGHT)
    assert "The name says workbook, but it is a CSV text; read as that." in words(shown)
    assert "Stored 2" in words(clerk.store(shown))
    assert opened_books.sql("select serial from core where lot = 'T' order by id") == [
        ("U1",),
        ("U2",),
    ]


def test_aw_048_a_lot_code_with_a_slash_leads_to_its_pages(
    clerk: FileDesk, opened_books: CounterShop
) -> None:
    code = "7731/120 A?B#1-L"
    done = clerk.store(clerk.send("lot", "lot.csv", ROWS, lot=code, **BOUGHT))
    ways = [link for link in links_of(done) if re.search(r"[?&](lot|code)=7731", link)]
    assert len(ways) == 2
    for address in ways:
        answer = clerk.client.get(address)
        assert answer.status_code == 200
        assert code in answer.get_data(as_text=True)


def test_aw_096_a_file_with_nothing_in_it_says_so_without_a_figure(clerk: FileDesk) -> None:
    shown = clerk.send("identify", "empty.csv", "core,number\n")
    text = words(shown)
    assert "There are headings, but no row under them." in text
    assert "There is nothing to store." in text
    assert not re.search(r"\b(nan|none|null|undefined)\b", text, re.IGNORECASE)
