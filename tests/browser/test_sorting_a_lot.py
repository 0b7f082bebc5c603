"""A clerk sorts a purchased lot with scanner and keyboard alone, in a real browser."""

from __future__ import annotations

import re
from datetime import UTC, datetime

import pytest
from browser.browsing import browser, opened, served
from browser.typed_keys import type_scan
from core_yard import Yard
from databases import TestDatabase
from playwright.sync_api import Page, expect
from station_client import station_app

from coretrack.figures.tags import make_shop_code

pytestmark = pytest.mark.browser


@pytest.fixture
def yard(sqlite_db: TestDatabase) -> Yard:
    yard = Yard(now=datetime.now(UTC))
    yard.set_up()
    return yard


def scan(page: Page, text: str, word: str) -> None:
    """Type a text as a scanner does and wait for its large word."""
    box = page.locator("#scan-text")
    expect(box).to_be_focused()
    type_scan(page, text)
    expect(page.locator("#said .word")).to_have_text(word)


def test_a_lot_is_begun_sorted_and_taken_in_by_keyboard(yard: Yard) -> None:
    with (
        served(station_app()) as address,
        browser() as running,
        opened(running, f"{address}/receiving/lots/", "bench") as page,
    ):
        page.get_by_label("Bought from").fill("COPP")
        page.get_by_label("Lot code").fill("L/1 ü")
        page.get_by_label("Price: a piece").fill("12,50")
        page.get_by_label("Pieces, as the paper says").fill("15")
        page.keyboard.press("Enter")
        expect(page.locator("h1")).to_have_text("Lot L/1 ü")

        scan(page, "gp-1044", "1 PIECE")
        scan(page, "12", "12 PIECES")
        scan(page, "CB-77", "1 PIECE")
        scan(page, "ZZ-9", "WHICH")
        page.keyboard.press("Alt+1")
        expect(page.locator("#said .word")).to_have_text("1 PIECE")
        scan(page, make_shop_code("order", "undo"), "TAKEN BACK")
        expect(page.locator(".tallies .first dd")).to_have_text("13")

        row = page.get_by_label("Pieces of CB-77")
        row.fill("3")
        row.press("Enter")
        expect(page.locator(".tallies .first dd")).to_have_text("15")
        expect(page.locator("table", has_text="By family")).to_contain_text("80.0 %")

        page.get_by_label("All pieces are counted").check()
        page.get_by_role("button", name="Take in 15 pieces").press("Enter")
        expect(page.locator(".flash")).to_contain_text("15 cores of lot L/1 ü came in")
        page.get_by_role("link", name="Print the labels in sorted order").click()
        expect(page).to_have_url(re.compile(r"/labels/\?lot="))
    assert [core.number for core in yard.cores()] == ["GP-1044"] * 12 + ["CB-77"] * 3
    assert yard.lot("L/1 ü").price_total == 1_875_000
    assert yard.is_sound()
