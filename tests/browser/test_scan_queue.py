"""Scans while the server is away, slow, locked or at fault: nothing is lost, nothing acts twice."""

from __future__ import annotations

from collections.abc import Iterator

import pytest
from browser.browsing import browser
from browser.scan_desk import Desk, asking, desk_at_work, good, person_at, saying, until
from browser.typed_keys import type_scan as scan
from playwright.sync_api import Browser, BrowserContext, Page, expect
from tools import needs_tool

pytestmark = pytest.mark.browser

STORED = "Object.keys(localStorage).filter(name => name.startsWith('coretrack.scan/')).length"


@pytest.fixture(scope="module")
def running() -> Iterator[Browser]:
    with browser() as started:
        yield started


@pytest.fixture
def desk() -> Iterator[Desk]:
    with desk_at_work() as served:
        yield served


@pytest.fixture
def person(running: Browser) -> Iterator[BrowserContext]:
    with person_at(running) as context:
        yield context


@pytest.fixture
def page(person: BrowserContext, desk: Desk) -> Page:
    opened = person.new_page()
    opened.goto(desk.address)
    return opened


def waits(page: Page, text: str) -> None:
    expect(page.locator("#queue")).to_contain_text(text, timeout=10_000)


def word(page: Page, text: str) -> None:
    expect(page.locator("#said .word")).to_have_text(text, timeout=10_000)


def kept_scans(page: Page, desk: Desk, *texts: str) -> None:
    """Scan these while nobody answers, then have somebody answer again."""
    desk.stop()
    for text in texts:
        scan(page, text)
    count = "1 scan waits" if len(texts) == 1 else f"{len(texts)} scans wait"
    waits(page, f"{count} for the server")


def test_a_scan_is_stored_before_it_is_sent_and_removed_when_answered(
    page: Page, desk: Desk
) -> None:
    desk.slow["A"] = 0.6
    scan(page, "A")
    assert page.evaluate(STORED) == 1
    word(page, "TAKEN")
    assert page.evaluate(STORED) == 0
    expect(page.locator("#queue")).to_be_hidden()


def test_scans_made_while_the_server_is_away_are_sent_in_order_once(page: Page, desk: Desk) -> None:
    kept_scans(page, desk, "A", "B", "C")
    word(page, "KEPT")
    page.wait_for_timeout(1_000)  # so that when they were made differs from when they arrive
    desk.start()
    until(lambda: desk.texts == ["A", "B", "C"], page, 20)
    expect(page.locator("#queue")).to_be_hidden()
    word(page, "TAKEN")
    assert len(desk.arrived) == 3
    times = [scan["at"] for scan in desk.arrived]
    assert times == sorted(times)
    assert times[-1] < page.evaluate("Date.now()") - 900


def test_waiting_scans_survive_a_reload_and_another_page_with_their_own_spot(
    page: Page, desk: Desk
) -> None:
    page.goto(desk.address + "?page=delivery&code=D-1&seen=f1")
    desk.status = 503
    scan(page, "A")
    scan(page, "B")
    waits(page, "2 scans wait for the server")
    page.reload()
    waits(page, "2 scans wait for the server")
    page.locator("#next").click()
    page.wait_for_url("**code=D-2")
    waits(page, "2 scans wait for the server")
    assert desk.texts == []
    desk.answers["A"] = lambda scan: {**good(scan), "html": "<p>of D-1</p>", "go": "/?page=gone"}
    desk.status = 200
    until(lambda: desk.texts == ["A", "B"], page, 20)
    assert {(told["code"], told["seen"]) for told in desk.acted.values()} == {("D-1", "f1")}
    assert len({told["key"] for told in desk.arrived}) == 2
    expect(page.locator("#queue")).to_be_hidden()
    assert page.url.endswith("D-2"), "an answer for another page opens nothing by itself"
    assert page.locator("#piece").count() == 1


def test_an_unanswered_scan_is_sent_again_with_the_same_key_and_acts_once(
    page: Page, desk: Desk
) -> None:
    desk.slow["A"] = 9.0  # the page waits for 8 seconds
    scan(page, "A")
    page.wait_for_timeout(500)
    expect(page.locator("#said")).to_have_class("said tone-note awaiting")
    waits(page, "1 scan waits for the server")
    desk.slow.clear()
    word(page, "TAKEN")
    until(lambda: len(desk.arrived) == 2, page)
    assert len(desk.acted) == 1


def test_coming_online_is_a_reason_to_try_at_once(page: Page, desk: Desk) -> None:
    desk.failing = [503] * 4  # the next tries would be after 1, 2, 5 and 10 seconds
    scan(page, "A")
    until(lambda: len(desk.arrived) == 3, page)
    page.context.set_offline(True)
    page.context.set_offline(False)
    until(lambda: len(desk.arrived) == 4, page, 2)
    page.get_by_role("button", name="Try now").click()
    until(lambda: desk.texts == ["A"], page, 2)


def test_a_question_stops_the_rest_until_the_person_goes_on(page: Page, desk: Desk) -> None:
    desk.answers["B"] = asking("B1", "B2")
    kept_scans(page, desk, "A", "B", "C", "D")
    desk.start()
    word(page, "WHICH")
    waits(page, "2 scans still wait, because one got: WHICH")
    page.reload()
    waits(page, "2 scans still wait")
    page.wait_for_timeout(1200)
    assert desk.texts == ["A", "B"]
    scan(page, "B2")  # what is scanned now answers the question; the old ones stay put
    word(page, "TAKEN")
    waits(page, "2 scans still wait")
    page.get_by_role("button", name="Go on").click()
    until(lambda: desk.texts == ["A", "B", "B2", "C", "D"], page)
    expect(page.locator("#queue")).to_be_hidden()


def test_scans_that_wait_are_thrown_away_only_when_asked_twice(page: Page, desk: Desk) -> None:
    desk.answers["A"] = saying("stop", "REFUSED")
    kept_scans(page, desk, "A", "B", "C")
    desk.start()
    waits(page, "2 scans still wait, because one got: REFUSED")
    page.get_by_role("button", name="Throw away 2 scans").click()
    page.keyboard.press("Enter")  # "Keep" has the cursor
    page.get_by_role("button", name="Throw away 2 scans").click()
    page.get_by_role("button", name="Yes, throw away 2 scans").click()
    expect(page.locator("#queue")).to_be_hidden()
    assert page.evaluate(STORED) == 0
    assert page.evaluate("document.activeElement.id") == "scan-text"
    scan(page, "E")
    until(lambda: desk.texts == ["A", "E"], page)


def test_a_question_stops_nothing_when_all_goes_well(page: Page, desk: Desk) -> None:
    desk.slow["A"] = 0.4
    desk.answers["A"] = asking("A1")
    for text in ("A", "B", "C"):
        scan(page, text)
    until(lambda: desk.texts == ["A", "B", "C"], page)
    expect(page.locator("#queue")).to_be_hidden()


def test_an_old_token_is_renewed_and_the_scan_sent_again_at_once(page: Page, desk: Desk) -> None:
    desk.token = "second"
    scan(page, "A")
    word(page, "TAKEN")
    assert len(desk.arrived) == 2
    assert len(desk.acted) == 1
    scan(page, "B")
    until(lambda: len(desk.arrived) == 3, page)


@pytest.mark.parametrize(("status", "why"), [(423, "locked"), (401, "signed out")])
def test_a_locked_or_signed_out_station_keeps_the_scans(
    page: Page, desk: Desk, status: int, why: str
) -> None:
    page.evaluate("document.addEventListener('station:locked', e => { window.why = e.detail.why })")
    desk.status = status
    scan(page, "A")
    scan(page, "B")
    word(page, "SIGN IN")
    waits(page, "2 scans wait until you sign in again")
    assert page.evaluate("window.why") == why
    desk.status = 200
    page.evaluate("document.dispatchEvent(new Event('station:unlocked'))")
    until(lambda: desk.texts == ["A", "B"], page)
    expect(page.locator("#queue")).to_be_hidden()


def test_a_fault_of_the_server_does_not_hold_up_the_box_for_ever(page: Page, desk: Desk) -> None:
    desk.failing = [500, 500, 500]
    scan(page, "A")
    waits(page, "The server did not take the scan A (error 500). 1 scan still waits.")
    scan(page, "B")
    until(lambda: desk.texts == ["B"], page)
    page.get_by_role("button", name="Try again").click()
    until(lambda: desk.texts == ["B", "A"], page)
    desk.failing = [404]
    scan(page, "C")
    page.get_by_role("button", name="Throw away this scan").click()
    page.get_by_role("button", name="Yes, throw away 1 scan").click()
    expect(page.locator("#queue")).to_be_hidden()
    assert desk.texts == ["B", "A"]


def test_one_persons_scans_are_never_sent_for_another(page: Page, desk: Desk) -> None:
    kept_scans(page, desk, "A")
    desk.start()
    page.route("**/receiving/scan", lambda route: route.abort())
    page.goto(desk.address + "?person=Ben")
    page.unroute("**/receiving/scan")
    scan(page, "B")
    until(lambda: desk.texts == ["B"], page)
    page.wait_for_timeout(1200)
    page.goto(desk.address)
    until(lambda: desk.texts == ["B", "A"], page)


def test_two_tabs_send_one_scan_at_a_time_and_each_shows_its_own(
    person: BrowserContext, page: Page, desk: Desk
) -> None:
    desk.slow = {"A1": 0.5, "B1": 0.3}
    other = person.new_page()
    other.goto(desk.address)
    scan(page, "A1")
    scan(other, "B1")
    scan(page, "A2")
    scan(other, "B2")
    until(lambda: len(desk.texts) == 4, page)
    expect(page.locator("#said .line")).to_have_text("A2 is taken.")
    expect(other.locator("#said .line")).to_have_text("B2 is taken.")
    assert desk.most_at_once == 1
    assert len(desk.arrived) == 4


def test_what_a_closed_tab_left_is_sent_by_the_other(
    person: BrowserContext, page: Page, desk: Desk
) -> None:
    other = person.new_page()
    other.goto(desk.address)
    desk.stop()
    scan(page, "A")
    scan(page, "B")
    waits(other, "2 scans wait")
    page.close()
    desk.start()
    until(lambda: desk.texts == ["A", "B"], other, 20)
    assert len(desk.arrived) == 2


def test_a_browser_that_stores_nothing_still_sends(person: BrowserContext, desk: Desk) -> None:
    person.add_init_script(
        "for (const name of ['localStorage', 'sessionStorage'])"
        " Object.defineProperty(window, name, {get() { throw new Error('forbidden') }})"
    )
    page = person.new_page()
    page.goto(desk.address)
    desk.failing = [503]
    scan(page, "A")
    scan(page, "B")
    until(lambda: desk.texts == ["A", "B"], page)


def test_it_works_on_a_plain_network_address_without_a_certificate(
    running: Browser, desk: Desk
) -> None:
    launched = running.browser_type.launch(
        executable_path=needs_tool("chromium"),
        args=["--no-sandbox", "--host-resolver-rules=MAP shop.test 127.0.0.1"],
    )
    with person_at(launched) as person:
        page = person.new_page()
        page.goto(f"http://shop.test:{desk.port}/")
        assert not page.evaluate("window.isSecureContext")
        scan(page, "A")
        word(page, "TAKEN")
        assert len(desk.arrived[0]["key"]) == 32
    launched.close()
