"""A clerk's delivery in a real browser: scanner and keyboard only, two clerks, a bad connection."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date, timedelta

import pytest
from browser.browsing import browser
from browser.station_desk import (
    OTHER,
    Server,
    agree,
    answers,
    begin,
    choose,
    cores,
    deliveries_begun,
    desk,
    line,
    nothing_differs,
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
from playwright.sync_api import Browser, expect

from coretrack.figures.tags import make_shop_code, show_tag

pytestmark = pytest.mark.browser

DAY = (date.today() - timedelta(days=5)).isoformat()  # noqa: DTZ011 - any day inside the window
CREDIT = 240_000
"""The family's core charge today, in ten-thousandths."""


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


def order(name: str) -> str:
    return make_shop_code("order", name)


def test_a_set_of_six_with_five_back_and_one_wrong_family_by_scanner_and_keyboard_alone(
    running: Browser, server: Server
) -> None:
    with desk(running, f"{server.address}/receiving/") as page:
        assert scan(page, "S-6") == "INVOICE"
        choose(page, 1, wait=False)
        page.wait_for_url("**reference=S-6")
        expect(page.locator("#f-pieces")).to_be_focused()
        page.keyboard.type("6")
        page.keyboard.press("Enter")
        page.wait_for_url("**/receiving/delivery?code=*")
        for _ in range(4):
            assert scan(page, "GP-1040") == "ACCEPT"
            assert agree(page) == "ACCEPTED"
        # Another number of the same core group answers the sale; it is said, not passed over.
        assert scan(page, "gp 1044") == "ACCEPT"
        assert "received GP-1044" in said(page)
        assert agree(page) == "ACCEPTED"
        assert scan(page, "CB-77") == "EXCESS"
        expect(page.locator("#work")).to_contain_text("owes instead")
        assert agree(page) == "EXCESS"
        expect(page.locator("#work")).to_contain_text("Counted and stored agree: 6")
        page.get_by_role("button", name="Close", exact=True).press("Enter")
        expect(page.locator(".counts .chip")).to_have_text("closed")
        assert page.evaluate("window.printed || 0") == 0  # the frame prints, not the page

    assert [core[1] for core in cores()] == ["accept"] * 5 + ["excess"]
    assert line("S-6/1") == (6, 5, 5 * CREDIT)
    assert nothing_differs()


def test_a_scan_in_another_field_is_taken_out_of_it_and_routed(
    running: Browser, server: Server
) -> None:
    with desk(running, f"{server.address}/receiving/") as page:
        begin(page, server, "ANSL", 6, "S-6")
        scan(page, "GP-1040")
        page.locator("summary", has_text="Number, serial").click()
        page.fill("#f-note", "oily")
        page.locator("#f-note").focus()
        before = answers(page)
        type_scan(page, order("done"))
        wait_until(page, f"(window.answers || 0) > {before}")
        assert word(page) == "ACCEPTED"
        (core,) = cores()
        assert core[:2] == ("GP-1040", "accept")

        scan(page, "GP-1040")
        page.locator("summary", has_text="Number, serial").click()
        page.locator("#f-mass").focus()
        page.keyboard.type("0.6", delay=160)
        type_scan(page, "1000004235")
        wait_until(page, f"(window.answers || 0) > {before + 2}")
        assert page.locator("#f-mass").input_value() == "0.6"
        assert "1000 0042 35" in said(page)


def test_a_double_scan_acts_once_and_says_so(running: Browser, server: Server) -> None:
    with desk(running, f"{server.address}/receiving/") as page:
        begin(page, server, "ANSL", 6, "S-6")
        type_scan(page, "GP-1040")
        type_scan(page, "GP-1040")
        expect(page.locator("#said .word")).to_have_text("ONCE")
        page.wait_for_timeout(600)
        type_scan(page, "")
        type_scan(page, "")
        expect(page.locator("#said .word")).to_have_text("ACCEPTED")
        page.wait_for_timeout(300)
        assert len(cores()) == 1


def test_undo_takes_the_last_core_back_and_keeps_what_was_typed(
    running: Browser, server: Server
) -> None:
    with desk(running, f"{server.address}/receiving/") as page:
        begin(page, server, "ANSL", 6, "S-6")
        scan(page, "GP-1040")
        scan(page, "SN-77/1")
        agree(page)
        tag = page.locator("#work tbody th a").first.inner_text()
        assert line("S-6/1") == (6, 1, CREDIT)

        assert scan(page, order("undo")) == "UNDONE"

        assert tag in said(page)
        assert line("S-6/1") == (6, 0, 0)
        expect(page.locator(".hand")).to_contain_text("Serial SN-77/1")
        agree(page)
        assert line("S-6/1") == (6, 1, CREDIT)
    assert [core[2] for core in cores()] == ["taken back", "waiting"]
    assert nothing_differs()


def test_back_and_reload_after_a_submit_store_nothing_twice(
    running: Browser, server: Server
) -> None:
    with desk(running, f"{server.address}/receiving/") as page:
        page.goto(f"{server.address}/receiving/")
        told = {"customer": "ANSL", "reference": "S-6", "pieces": "6", "goods": "cores"}
        for name in ("customer", "reference", "pieces"):
            page.fill(f"#f-{name}", told[name])
        key = page.locator("#work input[name=key]").input_value()
        begun = {**told, "key": key, "to": "/receiving/deliveries"}
        page.get_by_role("button", name="Begin the delivery").click()
        page.wait_for_url("**/receiving/delivery?code=*")
        code = page.url.split("code=")[1]
        scan(page, "GP-1040")
        stored = {
            "do": "store",
            "number": "GP-1040",
            "key": page.locator("#hand input[name=key]").input_value(),
            "seen": page.locator("#hand input[name=seen]").input_value(),
            "to": f"/receiving/delivery/hand?code={code}",
        }
        page.get_by_role("button", name="Accept 24.00").click()
        expect(page.locator("#said .word")).to_have_text("ACCEPTED")
        page.reload()
        assert len(cores()) == 1
        page.go_back()
        page.reload()
        expect(page.locator(".counts")).to_contain_text("1 of 6")
        # What a browser sends when a person confirms that the form is to be sent again.
        again = """async form => {
            const body = new URLSearchParams(form);
            const token = document.querySelector('input[name=csrf_token]').value;
            body.set('csrf_token', token);
            return (await fetch(form.to, {method: 'POST', body})).url;
        }"""
        assert page.evaluate(again, stored) == page.evaluate(again, stored)
        expect(page.locator(".counts")).to_contain_text("1 of 6")
        assert page.evaluate(again, begun).endswith(code)
    assert len(cores()) == 1
    assert deliveries_begun() == 1


def test_two_clerks_on_the_last_unit_of_one_sale(running: Browser, yard: Yard) -> None:
    yard.sell("S-1", 1, day=DAY, customer="BROD")
    with (
        serving(station_app()) as first,
        serving(station_app(OTHER)) as second,
        desk(running, f"{first.address}/receiving/") as mine,
        desk(running, f"{second.address}/receiving/") as theirs,
    ):
        code = begin(mine, first, "BROD", 2, "S-1")
        theirs.goto(f"{second.address}/receiving/delivery?code={code}")
        assert scan(mine, "GP-1040") == "ACCEPT"
        assert scan(theirs, "GP-1040") == "ACCEPT"
        scan(theirs, "MINE-9")
        assert agree(mine) == "ACCEPTED"

        assert agree(theirs) != "ACCEPTED"

        assert "Pia Lund" in said(theirs)
        expect(theirs.locator(".hand")).to_contain_text("MINE-9")
        assert line("S-1/1") == (1, 1, CREDIT)
        theirs.wait_for_timeout(600)  # two Enters within a second are one
        assert agree(theirs) == "EXCESS"
    assert [core[1] for core in cores()] == ["accept", "excess"]
    assert nothing_differs()


def test_an_aged_form_token_loses_nothing(running: Browser, yard: Yard) -> None:
    with (
        serving(station_app(WTF_CSRF_TIME_LIMIT=1)) as server,
        desk(running, f"{server.address}/receiving/") as page,
    ):
        page.fill("#f-customer", "ANSL")
        page.fill("#f-pieces", "6")
        page.fill("#f-note", "wet box, two bags")
        page.wait_for_timeout(2200)
        page.get_by_role("button", name="Begin the delivery").click()
        expect(page.locator("main")).to_contain_text("wet box, two bags")
        page.locator("main button.primary, main button").first.click()
        page.wait_for_url("**/receiving/delivery?code=*")
        # The scan box renews its own token without a word.
        page.wait_for_timeout(2200)
        assert scan(page, "GP-1040") == "ACCEPT"
        page.wait_for_timeout(1600)
        assert agree(page) == "ACCEPTED"
    assert len(cores()) == 1


def test_a_server_that_stops_in_the_middle_loses_and_doubles_nothing(
    running: Browser, server: Server
) -> None:
    with desk(running, f"{server.address}/receiving/") as page:
        begin(page, server, "ANSL", 6, "S-6")
        scan(page, "GP-1040")
        agree(page)
        server.stop()
        for _ in range(2):
            type_scan(page, "GP-1040")
            page.wait_for_timeout(700)
            type_scan(page, "")
            page.wait_for_timeout(1100)
        expect(page.locator("#queue")).to_contain_text("4")
        server.start()
        wait_until(page, "document.getElementById('queue').hidden", 40)
        expect(page.locator(".counts")).to_contain_text("3 of 6")
    assert [core[1] for core in cores()] == ["accept"] * 3
    assert line("S-6/1") == (6, 3, 3 * CREDIT)
    assert nothing_differs()


def test_what_waits_survives_a_reload_of_the_page(running: Browser, server: Server) -> None:
    with desk(running, f"{server.address}/receiving/") as page:
        begin(page, server, "ANSL", 6, "S-6")
        page.route("**/receiving/scan", lambda route: route.abort())
        type_scan(page, "GP-1040")
        expect(page.locator("#queue")).to_contain_text("1")
        page.unroute("**/receiving/scan")
        page.reload()
        expect(page.locator("#said .word")).to_have_text("ACCEPT")
        expect(page.locator(".hand .big").first).to_have_text("GP-1040")


def test_a_tag_of_this_delivery_is_known_again(running: Browser, server: Server) -> None:
    with desk(running, f"{server.address}/receiving/") as page:
        begin(page, server, "ANSL", 6, "S-6")
        scan(page, "GP-1040")
        agree(page)
        tag = page.locator("#work tbody th a").first.inner_text().replace(" ", "")
        scan(page, tag)
        assert show_tag(tag) in said(page)
        assert len(cores()) == 1
