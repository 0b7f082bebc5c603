"""Wash baskets, the shelf and a stock-take by scanner and keyboard alone, in a real browser."""

from __future__ import annotations

from pathlib import Path

import pytest
from bench_floor import basket, bin_code, furnish, order
from browser.browsing import browser, keep_picture, opened, served
from browser.station_desk import choose, desk, said, scan, station_app, type_scan, wait_until
from core_yard import Yard
from databases import TestDatabase

from coretrack.web.here import SignedIn

pytestmark = pytest.mark.browser

INSPECTOR = SignedIn("Bela Quirke", "inspector", "bench 1")
SERIALS = ("A1", "A2", "A3")


@pytest.fixture
def yard(sqlite_db: TestDatabase) -> Yard:
    """Three bodies to be washed, two good ones of different age."""
    yard = Yard()
    yard.set_up()
    furnish(yard)
    yard.buy(*SERIALS, "G1", "G2")
    yard.measure("G1", at="2026-05-21 09:00")
    yard.measure("G2", at="2026-05-23 09:00")
    return yard


def tag(yard: Yard, serial: str) -> str:
    return str(yard.core(serial).tag)


def test_a_basket_is_loaded_counted_washed_and_labelled_again_in_slot_order(yard: Yard) -> None:
    app = station_app(INSPECTOR)
    with served(app) as address, browser() as running:
        with desk(running, f"{address}/bench/washes/") as page:
            type_scan(page, basket(1))
            page.wait_for_url("**/bench/washes/wash?code=W-0001")
            words = [scan(page, tag(yard, serial)) for serial in ("A3", "A1", "A2")]
            assert words == ["SLOT 1", "SLOT 2", "SLOT 3"]
            assert scan(page, order("undo")) == "TAKEN BACK"
            assert scan(page, tag(yard, "A2")) == "SLOT 3"
            assert scan(page, order("done")) == "COUNT"
            assert page.locator("#work .big").inner_text() == "How many?"
            assert scan(page, "2") == "COUNT AGAIN"
            assert "1 core is not in the basket" in said(page)
            assert scan(page, "3") == "INTO THE WASH"
        # Somebody else, at another station, takes the basket out of the wash.
        with desk(running, f"{address}/bench/washes/wash?code=W-0001") as page:
            # The same number within a second is the same scan, and never counts in and out at once.
            page.wait_for_timeout(1100)
            assert page.locator("#said .word").inner_text() == "IN THE WASH"
            assert scan(page, "3") == "THE COUNT?"
            assert scan(page, "done") == "COUNT"
            page.wait_for_timeout(1100)
            assert scan(page, "3") == "OUT"
            assert page.locator("main > .flash").count() == 0
            assert "were in Basket 1" in page.locator("#work").inner_text()
            wait_until(page, "document.querySelector('iframe.print-frame') !== null")
            sent = page.locator("iframe.print-frame").get_attribute("src") or ""
    tags = [tag(yard, serial) for serial in ("A3", "A1", "A2")]
    assert "wash=W-0001" in sent
    assert "back=" in sent
    assert "%2C".join(tags) in sent.replace(",", "%2C")
    assert [yard.core(serial).labels for serial in SERIALS] == [1, 1, 1]
    assert yard.is_sound()


def test_a_tipped_basket_by_keyboard_keeps_families_with_exact_counts(yard: Yard) -> None:
    with (
        served(station_app(INSPECTOR)) as address,
        browser() as running,
        desk(running, f"{address}/bench/washes/") as page,
    ):
        type_scan(page, basket(2))
        page.wait_for_url("**/wash?code=*")
        for serial in SERIALS:
            scan(page, tag(yard, serial))
        page.locator("#tip summary").press("Enter")
        page.get_by_label("counted").last.fill("2")
        page.get_by_label("The slots are mixed up").press("Space")
        button = page.get_by_role("button", name="Note the basket as tipped")
        button.press("Enter")
        page.wait_for_selector("[role=alert]")
        assert "3 in the slot map" in page.locator("[role=alert]").inner_text()
        assert not yard.core("A1").source_lost
        page.get_by_label("counted").last.fill("3")
        page.get_by_label("The slots are mixed up").press("Space")
        button.press("Enter")
        page.wait_for_selector(".flash")
        assert "3 cores have lost the source" in page.locator(".flash").inner_text()
    assert yard.tally("family")["GPB"]["source_lost"] == 3
    assert yard.tally("family")["GPB"]["received"] == 5
    assert yard.is_sound()


def test_bodies_go_into_a_bin_are_picked_oldest_first_and_counted(yard: Yard) -> None:
    with (
        served(station_app(INSPECTOR)) as address,
        browser() as running,
        desk(running, f"{address}/shelf/") as page,
    ):
        type_scan(page, bin_code(1))
        page.wait_for_url("**/shelf/?at=bin*")
        assert [scan(page, tag(yard, s)) for s in ("G2", "G1")] == ["SHELF 1", "SHELF 1"]

        page.goto(f"{address}/shelf/")
        page.get_by_label("What for").fill("B-7/ü")
        page.get_by_label("What for").press("Enter")
        page.wait_for_url("**/shelf/?at=pick**")
        assert scan(page, tag(yard, "G2")) == "OLDER FIRST"
        choose(page, 1)
        wait_until(page, "document.querySelector('#said .word').innerText === 'PICKED'")
        assert yard.core("G2").built_into == "B-7/ü"
        assert scan(page, order("undo")) == "PUT BACK"

        page.goto(f"{address}/shelf/")
        page.get_by_role("button", name="Begin the stock-take").press("Enter")
        page.wait_for_url("**/shelf/take?code=*")
        assert scan(page, tag(yard, "G1")) == "BIN FIRST"
        assert scan(page, bin_code(2)) == "SHELF 2"
        assert scan(page, tag(yard, "G1")) == "WRONG BIN"
        page.get_by_label("Note").fill("G2 is at the washer")
        page.get_by_label("lie there from now on").press("Space")
        page.get_by_role("button", name="Close the stock-take").press("Enter")
        page.wait_for_selector(".flash")
        assert "Closed by Bela Quirke" in page.locator(".flash").inner_text()
    assert yard.core("G1").place == bin_code(2)
    assert yard.is_sound()


@pytest.mark.parametrize(("size", "scheme"), [("bench", "light"), ("phone", "dark")])
def test_the_pages_fit_the_panel_and_the_phone(
    yard: Yard, size: str, scheme: str, tmp_path: Path
) -> None:
    with served(station_app(INSPECTOR)) as address, browser() as running:
        with desk(running, f"{address}/bench/washes/") as page:
            type_scan(page, basket(1))
            page.wait_for_url("**/wash?code=*")
            for serial in SERIALS:
                scan(page, tag(yard, serial))
            page.goto(f"{address}/shelf/")
            page.get_by_role("button", name="Begin the stock-take").press("Enter")
            page.wait_for_url("**/shelf/take?code=*")
        for name, path in (
            ("washes", "/bench/washes/"),
            ("wash", "/bench/washes/wash?code=W-0001"),
            ("tags", "/bench/washes/tags"),
            ("shelf", "/shelf/"),
            ("bin", f"/shelf/?at=bin:{bin_code(1)}"),
            ("pick", "/shelf/?at=pick:B-7&family=GPB"),
            ("take", "/shelf/take?code=ST-0001"),
        ):
            with opened(running, address + path, size, scheme) as page:
                keep_picture(page, tmp_path, f"{name}-{size}-{scheme}")
                wide = page.evaluate("document.documentElement.scrollWidth")
                assert wide <= page.evaluate("window.innerWidth"), path
