"""What a clerk does in between in a real browser: types, scans, looks up, goes to the phone."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date, timedelta
from typing import Any

import pytest
from browser.browsing import browser
from browser.station_desk import (
    Server,
    agree,
    answers,
    begin,
    cores,
    desk,
    said,
    scan,
    serving,
    station_app,
    wait_until,
    word,
    yard_today,
)
from browser.typed_keys import type_scan
from core_yard import Yard
from databases import TestDatabase
from playwright.sync_api import Browser, Page, expect

from coretrack.figures.tags import make_shop_code
from coretrack.records.database import connection
from coretrack.records.happenings import first_detail
from coretrack.records.tables import CoreRow

pytestmark = pytest.mark.browser

DAY = (date.today() - timedelta(days=5)).isoformat()  # noqa: DTZ011 - any day inside the window
PHONE: dict[str, Any] = {"viewport": {"width": 390, "height": 844}}


@pytest.fixture(scope="module")
def running() -> Iterator[Browser]:
    with browser() as started:
        yield started


@pytest.fixture
def yard(sqlite_db: TestDatabase) -> Yard:
    made = yard_today()
    made.sell("S-6", 6, day=DAY)
    return made


@pytest.fixture
def server(yard: Yard) -> Iterator[Server]:
    with serving(station_app()) as running_server:
        yield running_server


def lid(page: Page) -> None:
    page.locator("#hand-more > summary, summary:has-text('Number, serial')").first.click()


def newest_core() -> Any:
    with connection():
        return CoreRow.select().order_by(CoreRow.id.desc()).get()


def noted_when_it_came_in() -> dict[str, Any]:
    tag = newest_core().tag
    with connection():
        return dict(first_detail("core", tag))


def test_what_is_typed_about_the_core_is_stored_by_escape_and_enter(
    running: Browser, server: Server
) -> None:
    with desk(running, f"{server.address}/receiving/") as page:
        begin(page, server, "ANSL", 6, "S-6")
        scan(page, "GP-1040")
        lid(page)
        page.locator("#f-serial").click()
        page.keyboard.type("SN-4711", delay=90)
        page.keyboard.press("Escape")
        assert agree(page) == "ACCEPTED"
        assert newest_core().serial == "SN-4711"

        scan(page, "GP-1040")
        lid(page)
        page.locator("#f-mass").click()
        page.keyboard.type("0.65", delay=90)
        type_scan(page, make_shop_code("order", "done"))  # the cursor is still in the field
        expect(page.locator("#said .word")).to_have_text("ACCEPTED")
        assert noted_when_it_came_in()["mass_g"] == 650


def test_nothing_is_stored_while_what_was_typed_cannot_be_kept(
    running: Browser, server: Server
) -> None:
    with desk(running, f"{server.address}/receiving/") as page:
        begin(page, server, "ANSL", 6, "S-6")
        scan(page, "GP-1040")
        lid(page)
        page.locator("#f-mass").click()
        page.keyboard.type("heavy", delay=90)
        page.keyboard.press("Escape")
        expect(page.locator("#said .word")).to_have_text("NOT KEPT")
        page.wait_for_timeout(600)
        page.keyboard.press("Enter")
        page.wait_for_timeout(700)
        assert cores() == []
        assert page.locator("#f-mass").input_value() == "heavy"
        page.locator("#f-mass").fill("0.6")
        page.keyboard.press("Escape")
        expect(page.locator("#said .word")).to_have_text("ACCEPT")
        assert agree(page) == "ACCEPTED"
        assert noted_when_it_came_in()["mass_g"] == 600


def test_a_press_of_a_button_by_hand_stores_what_was_typed_just_before(
    running: Browser, server: Server
) -> None:
    with desk(running, f"{server.address}/receiving/") as page:
        begin(page, server, "ANSL", 6, "S-6")
        scan(page, "GP-1040")
        lid(page)
        page.locator("#f-serial").click()
        page.keyboard.type("SN-9", delay=90)
        button = page.get_by_role("button", name="Accept 24.00").bounding_box()
        assert button is not None
        page.mouse.move(button["x"] + 20, button["y"] + 20)
        page.mouse.down()
        page.wait_for_timeout(250)  # as long as a finger takes; the server has answered by then
        page.mouse.up()
        expect(page.locator(".counts")).to_contain_text("1 of 6")
        expect(page.locator("#said .word")).to_have_text("ACCEPTED")
        assert newest_core().serial == "SN-9"
        expect(page.locator(".hand")).to_have_count(0)


def test_the_way_to_the_photo_and_back_keeps_what_was_typed(
    running: Browser, server: Server
) -> None:
    with desk(running, f"{server.address}/receiving/") as page:
        begin(page, server, "ANSL", 6, "S-6")
        scan(page, "GP-1040")
        lid(page)
        page.locator("#f-serial").click()
        page.keyboard.type("SN-12", delay=90)
        page.get_by_role("link", name="Take a photo").click()
        page.wait_for_url("**/photos/new**")
        page.get_by_role("link", name="Back", exact=True).click()
        expect(page.locator(".hand")).to_contain_text("Serial SN-12")
        expect(page.locator("#said .word")).to_have_text("ACCEPT")  # what waits, not the last scan


def test_a_half_typed_delivery_is_not_left_for_what_was_scanned(
    running: Browser, server: Server
) -> None:
    with desk(running, f"{server.address}/receiving/") as page:
        code = begin(page, server, "ANSL", 6, "S-6")
        page.goto(f"{server.address}/receiving/")
        page.fill("#f-customer", "BRK")
        page.locator("#scan-text").focus()
        assert scan(page, code) == "DELIVERY"
        page.wait_for_timeout(300)
        assert page.url == f"{server.address}/receiving/"
        assert page.locator("#f-customer").input_value() == "BRK"
        page.get_by_role("link", name="Open it").click()
        page.wait_for_url("**/receiving/delivery?code=*")


def test_the_panel_says_ready_on_a_fresh_page_and_what_waits_at_a_delivery(
    running: Browser, server: Server
) -> None:
    with desk(running, f"{server.address}/receiving/") as page:
        expect(page.locator("#said .word")).to_have_text("READY")
        begin(page, server, "ANSL", 6, "S-6")
        scan(page, "GP-1040")
        page.goto(f"{server.address}/receiving/lists/")
        expect(page.locator("#said .word")).to_have_text("READY")
        expect(page.locator("#last")).to_contain_text("ACCEPT")  # history stays
        page.go_back()
        page.reload()
        expect(page.locator("#said .word")).to_have_text("ACCEPT")
        page.get_by_label("Visible crack").check()
        expect(page.locator("#said .word")).to_have_text("REFUSE")
        page.get_by_role("button", name="Put it back").click()
        expect(page.locator("#said .word")).to_have_text("PUT BACK")
        page.reload()
        expect(page.locator("#said .word")).to_have_text("READY")


def test_an_answer_low_on_the_page_is_brought_into_sight(running: Browser, server: Server) -> None:
    with desk(running, f"{server.address}/receiving/") as page:
        begin(page, server, "ANSL", 6, "S-6")
        scan(page, "GP-1040")
        page.mouse.wheel(0, 4000)
        wait_until(page, "window.scrollY > 100")
        page.keyboard.press("Escape")
        agree(page)
        top = page.locator("#said").bounding_box()
        assert top is not None
        assert top["y"] >= 0


def test_the_same_number_twice_at_once_is_said_in_large(running: Browser, server: Server) -> None:
    with desk(running, f"{server.address}/receiving/") as page:
        begin(page, server, "ANSL", 6, "S-6")
        type_scan(page, "GP-1040")
        expect(page.locator("#said .word")).to_have_text("ACCEPT")
        type_scan(page, "GP-1040")
        expect(page.locator("#said .word")).to_have_text("ONCE")
        assert "counts once" in said(page)
        assert "ACCEPT:" in said(page)


def test_a_scan_of_a_moment_ago_on_another_page_does_not_swallow_this_one(
    running: Browser, server: Server
) -> None:
    with desk(running, f"{server.address}/receiving/") as page:
        code = begin(page, server, "ANSL", 6, "S-6")
        page.goto(f"{server.address}/receiving/lots/")
        page.evaluate("window.station.take('GP-1040')")
        page.wait_for_url("**/cores/**")
        page.goto(f"{server.address}/receiving/delivery?code={code}")
        type_scan(page, "GP-1040")
        expect(page.locator("#said .word")).to_have_text("ACCEPT")
        expect(page.locator(".hand .big").first).to_have_text("GP-1040")


def test_the_choices_say_which_keys_take_them_but_not_to_fingers(
    running: Browser, server: Server
) -> None:
    with desk(running, f"{server.address}/receiving/") as page:
        scan(page, "S-6")
        expect(page.locator("#said .offer kbd").first).to_have_text("Alt+1")
    touch = {**PHONE, "has_touch": True, "is_mobile": True}
    with desk(running, f"{server.address}/receiving/", **touch) as page:
        page.locator("#scan-text").click()
        page.wait_for_timeout(1100)  # the same person, the same scan: later than a second
        scan(page, "S-6")
        expect(page.locator("#said .offer").first).to_be_visible()
        expect(page.locator("#said .offer kbd").first).to_be_hidden()


def test_a_tagged_core_scanned_at_a_lot_does_not_end_the_sorting(
    running: Browser, server: Server
) -> None:
    with desk(running, f"{server.address}/receiving/") as page:
        begin(page, server, "ANSL", 6, "S-6")
        scan(page, "GP-1040")
        agree(page)
        tag = page.locator("#work tbody th a").first.inner_text().replace(" ", "")
        page.goto(f"{server.address}/receiving/lots/")
        page.fill("#f-source", "COPP")
        page.fill("#f-lot", "L-77")
        page.fill("#f-price", "12.50")
        page.get_by_role("button", name="Begin the lot").click()
        page.wait_for_url("**/receiving/lots/lot?code=L-77")
        scan(page, tag)
        page.wait_for_timeout(300)
        assert page.url.endswith("lot?code=L-77")
        scan(page, "GP-1040")
        assert word(page) == "1 PIECE"


def test_a_comeback_is_asked_for_invoice_and_complaint_and_every_core_is_offered_a_photo(
    running: Browser, server: Server
) -> None:
    with desk(running, f"{server.address}/receiving/") as page:
        begin(page, server, "ANSL", 6, "S-6")
        page.get_by_role("button", name="The number cannot be read").click()
        expect(page.get_by_role("link", name="Take a photo")).to_be_visible()
        page.get_by_role("button", name="Put it back").click()
        page.get_by_role("button", name="The next one is a comeback").click()
        expect(page.locator("#f-note")).to_be_visible()
        expect(page.locator("#scan-text")).to_be_focused()
        assert scan(page, "GP-1040") == "COMEBACK"
        expect(page.locator("#f-invoice")).to_be_visible()
        page.locator("#f-note").click()
        page.keyboard.type("leaks at idle", delay=90)
        page.keyboard.press("Escape")
        assert agree(page) == "COMEBACK"
        assert len(cores()) == 1


def test_on_a_phone_the_work_begins_on_the_first_screen(running: Browser, server: Server) -> None:
    with desk(running, f"{server.address}/receiving/", **PHONE) as page:
        begin(page, server, "ANSL", 6, "S-6")
        scan(page, "GP-1040")
        agree(page)
        page.goto(f"{server.address}/receiving/")
        top = page.locator("#work").bounding_box()
        assert top is not None
        assert top["y"] < 450
        expect(page.locator("#last")).to_be_hidden()
        page.get_by_text("Last scans").click()
        expect(page.locator("#last li").first).to_be_visible()
        wide = page.evaluate("document.documentElement.scrollWidth")
        assert wide <= 390


def test_stored_cores_and_close_stand_above_what_else_is_owed(
    running: Browser, server: Server, yard: Yard
) -> None:
    for number in range(30):
        assert not yard.sell(f"T-{number}", 2, number="GP-2080", day=DAY).rejected
    with desk(running, f"{server.address}/receiving/") as page:
        begin(page, server, "ANSL", 6, "S-6")
        scan(page, "GP-1040")
        agree(page)
        scan(page, "GP-1040")
        now = page.get_by_role("region", name="owes of the group in hand")
        expect(now).to_contain_text("S-6")
        expect(now).not_to_contain_text("T-3")
        expect(page.locator("#owed table")).to_be_hidden()
        close = page.get_by_role("heading", name="Close the delivery").bounding_box()
        other = page.locator("#owed").bounding_box()
        assert close is not None
        assert other is not None
        assert close["y"] < other["y"]
        assert page.evaluate("document.documentElement.scrollHeight") < 2600


def test_a_tick_and_a_choice_still_show_at_once_what_they_change(
    running: Browser, server: Server
) -> None:
    with desk(running, f"{server.address}/receiving/") as page:
        begin(page, server, "ANSL", 6, "S-6")
        scan(page, "GP-1040")
        before = answers(page)
        page.get_by_label("Visible crack").check()
        expect(page.locator(".outcome .chip")).to_have_text("REFUSE")
        page.get_by_label("Visible crack").uncheck()
        expect(page.locator(".outcome .chip")).to_have_text("ACCEPT")
        assert answers(page) == before  # no scan was made
