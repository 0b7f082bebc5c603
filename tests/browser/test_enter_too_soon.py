"""An Enter too soon after a scan stores nothing, and says so."""

from __future__ import annotations

from collections.abc import Iterator

import pytest
from bench_desk import GOOD_BODY, bodies
from browser.browsing import browser
from browser.station_desk import agree, desk, said, scan, serving, station_app, yard_today
from core_yard import Yard
from databases import TestDatabase
from playwright.sync_api import Browser

from coretrack.web.here import SignedIn

pytestmark = pytest.mark.browser

BELA = SignedIn("Bela Quirke", "inspector", "bench 1")


@pytest.fixture
def yard(sqlite_db: TestDatabase) -> Yard:
    return yard_today()


@pytest.fixture(scope="module")
def running() -> Iterator[Browser]:
    with browser() as started:
        yield started


def test_an_enter_too_soon_is_answered_and_the_next_one_stores(
    yard: Yard, running: Browser
) -> None:
    (tag,) = bodies(yard, 1)
    address = f"/bench/core?tag={tag}"
    with serving(station_app(BELA)) as server, desk(running, f"{server.address}{address}") as page:
        for text in GOOD_BODY:
            scan(page, text)
        # The page's clock stands while it is pressed: a busy computer must not make it late.
        page.evaluate(
            "() => { window.kept = Date.now; "
            "Date.now = () => JSON.parse(sessionStorage['coretrack.last-scan']).at + 200; }"
        )
        page.keyboard.press("Enter")
        assert "TOO SOON" in said(page)
        assert yard.core("B1").state == "waiting"
        page.evaluate("() => { Date.now = window.kept; }")
        assert agree(page) == "KEEP"
        assert "TOO SOON" not in said(page)
    assert yard.core("B1").state == "good"
