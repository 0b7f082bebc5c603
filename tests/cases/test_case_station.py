"""Cases met at the receiving station: scans that come twice or in two parts, odd serials, Back."""

from __future__ import annotations

import re
import string
from collections.abc import Iterator
from dataclasses import dataclass, field
from datetime import UTC, datetime, timedelta
from html import unescape
from itertools import count
from typing import TYPE_CHECKING, Any
from urllib.parse import parse_qs, urlsplit

import pytest
from browser.browsing import browser
from browser.station_desk import desk, scan, serving, station_app, wait_until
from label_reading import printed_pages, read_all
from playwright.sync_api import Page, expect
from station_client import StationClient, words
from upload_forms import links_of
from werkzeug.test import TestResponse

from coretrack.figures.tags import show_tag
from coretrack.records import database

if TYPE_CHECKING:
    from conftest import CounterShop

GS = "\x1d"
ODD = ("7731/120 A?B#1", "A/B", "..")
"""Serials that look like parts of an address; the shop's first lot has a core with each."""


def label(serial: str, number: str = "00420") -> str:
    """Return what a scanner sends for a maker's label that holds number and serial."""
    return f"[)>\x1e06{GS}1P{number}{GS}S{serial}\x1e\x04"


def sell(shop: CounterShop, quantity: int) -> None:
    """Sell so many units a few days ago, so that their cores are owed."""
    day = (datetime.now(UTC).date() - timedelta(days=5)).isoformat()
    row = f"S-1,{day},HALV,00420,{quantity}\n"
    shop.run("sales", shop.file("sales.csv", "invoice,date,customer,number,quantity\n" + row))


@dataclass
class Dock:
    """A clerk with an open delivery, who scans as the page's script does."""

    shop: CounterShop
    browser: StationClient = field(default_factory=StationClient)
    where: str = ""
    _keys: Iterator[int] = field(default_factory=count)
    _seen: str = ""

    def begin(self, pieces: int = 4) -> None:
        told = {"customer": "HALV", "reference": "S-1", "pieces": str(pieces), "goods": "cores"}
        answer = self.browser.post("/receiving/deliveries", {**told, "key": "begin"})
        assert answer.status_code == 303, words(answer)
        self.where = answer.headers["Location"]

    @property
    def code(self) -> str:
        return parse_qs(urlsplit(self.where).query)["code"][0]

    def scan(self, text: str, at: int) -> Any:
        """Post a scan of the page's clock `at` (ms); return the whole answer."""
        spot = {"page": "delivery", "code": self.code, "seen": self._seen}
        told = {"text": text, "at": at, "key": f"scan {next(self._keys)}", **spot}
        headers = {"X-CSRFToken": self.browser.token(), "Accept": "application/json"}
        answer = self.browser.client.post("/receiving/scan", json=told, headers=headers)
        assert answer.status_code == 200, answer.get_data(as_text=True)
        self._seen = answer.json["spot"]["seen"]
        return answer.json

    def word(self, text: str, at: int) -> str:
        return str(self.scan(text, at)["reply"]["word"])

    def received(self) -> list[tuple[Any, ...]]:
        """Return serial and acceptance of the delivery's cores."""
        question = "select serial, acceptance from core where lot = ? order by id"
        return self.shop.sql(question, self.code)


@pytest.fixture
def dock(opened_books: CounterShop) -> Dock:
    """A clerk before an open delivery of four, of a customer who owes four cores."""
    sell(opened_books, 4)
    made = Dock(opened_books)
    made.begin()
    return made


# --- twice within a moment ----------------------------------------------------------------------


def test_aw_010_a_label_read_twice_is_one_receipt_and_the_next_one_is_not_held_back(
    dock: Dock,
) -> None:
    assert dock.word(label("K1"), 10_000) == "ACCEPT"
    again = dock.scan(label("K1"), 10_150)
    assert (again["reply"]["word"], again["reply"]["repeat"]) == ("ONCE", True)
    assert "was read twice within a second. It counts once." in again["reply"]["line"]
    assert dock.word("", 10_300) == "ACCEPTED"
    assert dock.word("", 10_450) == "ONCE", "a yes that is read twice stores one core"

    assert dock.word(label("K2"), 10_500) == "ACCEPT"
    assert dock.word("", 10_600) == "ACCEPTED"
    assert dock.received() == [("K1", "accept"), ("K2", "accept")]

    later = dock.scan(label("K1"), 16_000)["reply"]
    assert (later["word"], later["repeat"]) == ("SEEN BEFORE", False)
    assert f"came in before as core {show_tag(dock.shop.tag_of('K1'))}" in later["line"]
    assert len(dock.received()) == 2


def test_aw_010_a_tag_read_twice_is_said_once_and_gets_its_answer_again_later(
    dock: Dock,
) -> None:
    one, other = dock.shop.tags()[:2]
    before = dock.shop.events()
    first = dock.scan(one, 20_000)["reply"]
    assert dock.word(one, 20_150) == "ONCE"
    second = dock.scan(other, 20_200)["reply"]
    assert (second["repeat"], second["word"]) == (False, first["word"])
    later = dock.scan(one, 24_000)["reply"]
    assert (later["word"], later["line"]) == (first["word"], first["line"])
    assert f"{one[:4]} {one[4:8]} {one[8:]}" in later["line"]
    assert dock.shop.events() == before


def test_aw_010_what_was_read_twice_stands_once_among_the_last_results(
    dock: Dock,
) -> None:
    dock.scan(label("K1"), 10_000)
    last = dock.scan(label("K1"), 10_150)["last"]
    assert [shown["word"] for shown in last] == ["ACCEPT"]


# --- in two parts -------------------------------------------------------------------------------


@pytest.mark.browser
def test_aw_012_only_the_end_of_a_scan_sends_it_whatever_the_pause_before(
    opened_books: CounterShop,
) -> None:
    tag = opened_books.tags()[4]
    opened_books.receive([tag[:7]], "--lot", "LOT-2")
    database.open_database(f"sqlite:///{opened_books.data / 'coretrack.db'}")
    events = opened_books.events()
    with (
        browser() as running,
        serving(station_app()) as server,
        desk(running, f"{server.address}/receiving/") as page,
    ):
        asked = asked_for(page)
        page.keyboard.type(tag[:7], delay=8)
        page.wait_for_timeout(300)
        assert asked == [], "something was looked up for the first part"
        expect(page.locator("#scan-text")).to_have_value(tag[:7])
        page.keyboard.type(tag[7:], delay=16)
        page.wait_for_timeout(300)
        assert asked == [], "something was looked up before the end"
        page.keyboard.press("Enter")
        page.wait_for_url(f"**/cores/core?tag={tag}")
        sent = [told for told in asked if "/receiving/scan" in told]
        assert len(sent) == 1
        wait_until(page, "document.readyState === 'complete'")
    assert opened_books.events() == events


def asked_for(page: Page) -> list[str]:
    """Return a list that takes up what the page asks of the server from now on."""
    asked: list[str] = []
    page.on("request", lambda told: None if "/static/" in told.url else asked.append(told.url))
    return asked


# --- serials that look like addresses -----------------------------------------------------------


@pytest.mark.parametrize("serial", ODD)
def test_aw_048_the_page_of_a_core_with_an_odd_serial_opens_from_search_and_scan(
    dock: Dock, serial: str
) -> None:
    tag = dock.shop.tag_of(serial)
    found = dock.browser.get("/cores/", q=serial)
    assert (found.status_code, found.location) == (303, f"/cores/core?tag={tag}")
    page = dock.browser.get(found.location)
    assert page.status_code == 200
    assert f"Serial {serial} " in words(page)
    scanned = dock.browser.client.post(
        "/receiving/scan",
        json={"text": serial, "page": "home", "key": "odd"},
        headers={"X-CSRFToken": dock.browser.token(), "Accept": "application/json"},
    )
    assert scanned.json["go"] == f"/cores/core?tag={tag}"


@pytest.mark.parametrize("serial", ODD)
def test_aw_048_its_label_file_has_a_safe_name_and_bars_of_the_exact_text(
    dock: Dock, serial: str
) -> None:
    page = dock.browser.get("/cores/core", tag=dock.shop.tag_of(serial))
    (address,) = [link for link in links_of(page) if link.startswith("/labels/text.pdf")]
    # A browser folds dots in a path; the serial stands behind the question mark.
    assert urlsplit(address).path == "/labels/text.pdf"
    # Too long for the small roll that is set, a serial goes on a stock that has room for it.
    answer = dock.browser.client.get(address)
    assert answer.mimetype == "application/pdf"
    name = file_name(answer)
    assert name.endswith(".pdf")
    assert set(name) <= set(string.ascii_letters + string.digits + "._-")
    assert not name.startswith((".", "-"))
    read = [printed_pages(answer.data, dpi, touched=True) for dpi in (203, 300)]
    assert [[text for page in pages for text in read_all(page)] for pages in read] == [
        [serial],
        [serial],
    ]


def file_name(answer: TestResponse) -> str:
    """Return the name under which a browser keeps the file."""
    found = re.search(r'filename="?([^";]+)"?', answer.headers["Content-Disposition"])
    assert found is not None
    return found[1]


@pytest.mark.parametrize("code", ODD)
def test_aw_048_a_paper_with_an_odd_name_is_found_again_as_it_was_typed(
    dock: Dock, code: str
) -> None:
    told = {"customer": "HALV", "reference": code, "pieces": "1", "goods": "cores", "key": "odd"}
    begun = dock.browser.post("/receiving/deliveries", told)
    assert begun.status_code == 303
    assert f"paper {code} " in words(dock.browser.get(begun.headers["Location"]))


# --- Back, and the same form again --------------------------------------------------------------


@dataclass
class HandForm:
    """The form of the core in hand as a browser holds it."""

    dock: Dock

    @property
    def address(self) -> str:
        return self.dock.where.replace("/delivery?", "/delivery/hand?")

    def take(self, **told: str) -> dict[str, str]:
        """Take a core into the hand; return the form whose button stores it."""
        page = self.dock.browser.post(self.address, {**told, "do": "keep"}, follow_redirects=True)
        return {**told, **shown_in(page), "do": "store"}

    def press(self, form: dict[str, str]) -> TestResponse:
        """Send the form and follow to the page that answers."""
        return self.dock.browser.post(self.address, form, follow_redirects=True)


def shown_in(page: TestResponse) -> dict[str, str]:
    """Return key and fingerprint of the core in hand on a page."""
    found = re.search(r'<form method="post" id="hand".*?</form>', page.text, re.DOTALL)
    assert found is not None, words(page)
    pairs = re.findall(r'<input type="hidden" name="(key|seen)" value="([^"]*)">', found[0])
    return {name: unescape(value) for name, value in pairs}


def test_aw_108_the_same_form_after_back_receives_no_second_core_and_says_so(
    dock: Dock,
) -> None:
    hand = HandForm(dock)
    form = hand.take(number="00420", serial="K1")
    assert "ACCEPTED" in words(hand.press(form))
    again = hand.press(form)
    assert f"stored already: {show_tag(dock.shop.tag_of('K1'))}" in words(again)
    reloaded = dock.browser.get(dock.where)
    assert "1 of 4 stored, 3 left" in words(reloaded)
    assert dock.browser.get(dock.where).text.count("K1") == reloaded.text.count("K1")
    assert dock.received() == [("K1", "accept")]


def test_aw_108_a_form_changed_after_back_is_a_new_core(dock: Dock) -> None:
    hand = HandForm(dock)
    form = hand.take(number="00420", serial="K1")
    hand.press(form)
    shown = hand.press({**form, "serial": "K2"})
    assert "look at what is proposed now" in words(shown), "nobody has seen what K2 is worth"
    assert dock.received() == [("K1", "accept")]
    assert "ACCEPTED" in words(hand.press({**form, "serial": "K2", **shown_in(shown)}))
    assert dock.received() == [("K1", "accept"), ("K2", "accept")]


def test_aw_108_a_delivery_begun_twice_by_one_form_is_one_delivery(dock: Dock) -> None:
    first = dock.where
    dock.begin()
    assert dock.where == first
    assert dock.shop.sql("select count(*) from lot where kind = 'return'") == [(1,)]


@pytest.mark.browser
def test_aw_108_back_and_reload_in_a_browser_store_nothing_more(
    opened_books: CounterShop,
) -> None:
    sell(opened_books, 4)
    with (
        browser() as running,
        serving(station_app()) as server,
        desk(running, f"{server.address}/receiving/") as page,
    ):
        page.fill("#f-customer", "HALV")
        page.fill("#f-pieces", "4")
        page.get_by_role("button", name="Begin the delivery").click()
        page.wait_for_url("**/receiving/delivery?code=*")
        assert scan(page, "00420") == "ACCEPT"
        page.locator("#hand button.primary").click()
        page.get_by_text("1 of 4 stored").wait_for()
        page.go_back()
        # Pages are not kept by the browser: it asks anew and is shown what is stored.
        page.get_by_text("1 of 4 stored").wait_for()
        expect(page.locator("#hand")).to_have_count(0)
        page.reload()
        page.get_by_text("1 of 4 stored").wait_for()
        expect(page.locator("#hand")).to_have_count(0)
    assert opened_books.sql("select count(*) from core where lot = 'D-0001'") == [(1,)]
