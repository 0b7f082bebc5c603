"""Cases of files sent by the browser: too large, named in another script, named wrong."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING

import pytest
from browser.browsing import browser
from real_server import Window, running_server
from spreadsheet_files import workbook
from staff import CLERK, PASSWORDS
from station_client import words
from upload_forms import FILES, FileDesk, links_of, upload_of

if TYPE_CHECKING:
    from conftest import CounterShop

MEGABYTE = 1024 * 1024
SIXTY = 60 * MEGABYTE
BOUGHT = {"source": "MERE", "price": "10"}
ROWS = "number,serial\n00420,U1\n0010,U2\n"


@pytest.fixture
def clerk(opened_books: CounterShop) -> FileDesk:
    return FileDesk(folder=opened_books.data)


def upload(window: Window, name: str, content: bytes) -> tuple[int, str]:
    """Send a file of sales as a browser's form does."""
    told = {"key": "k", "kind": "sales"}
    return window.upload(f"{FILES}/?kind=sales", f"{FILES}/upload", told, name, content)


def test_aw_112_too_large_a_file_gets_a_page_that_says_what_to_do(
    staffed: CounterShop,
) -> None:
    with running_server(staffed.data) as server:
        window = Window(server.port)
        window.sign_in()
        status, page = upload(window, "sales.csv", b"x" * SIXTY)
        assert status == 413
        assert "That file is too large" in page
        assert "It has 60.0 MB; 48 MB at once are the most. Nothing was stored." in page
        assert "Split a long file" in page
        assert not (staffed.data / "uploads").exists()
        status, _ = upload(window, "sales.csv", b"invoice,date,customer,number,quantity\n")
        assert status == 303, "the server does not live on"


@pytest.mark.browser
def test_aw_112_the_browser_shows_the_page_and_no_cut_connection(
    staffed: CounterShop,
) -> None:
    large = staffed.folder / "sales.csv"
    large.write_bytes(b"x" * SIXTY)
    with running_server(staffed.data) as server, browser() as running:
        page = running.new_page()
        page.goto(f"http://127.0.0.1:{server.port}/sign-in")
        page.locator('input[name="name"]').fill(CLERK)
        page.locator('input[name="password"]').fill(PASSWORDS[CLERK])
        page.locator('input[name="password"]').press("Enter")
        page.wait_for_url("**/receiving/")
        page.goto(f"http://127.0.0.1:{server.port}{FILES}/?kind=sales")
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
