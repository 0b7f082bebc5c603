"""Scans that land in another field: taken out and routed; what hands do is left alone."""

from __future__ import annotations

from collections.abc import Iterator

import pytest
from browser.browsing import browser
from browser.scan_desk import Desk, desk_at_work, person_at, until
from browser.typed_keys import by_hand, keys
from browser.typed_keys import type_scan as scan
from playwright.sync_api import Browser, BrowserContext, Page, expect

from coretrack.figures import tags

pytestmark = pytest.mark.browser

TAG, LONG_TAG = tags.make_tag(1, 42), tags.make_tag(1, 10**7)
BIN = tags.make_shop_code("bin", 7)


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


def value(page: Page, field: str) -> str:
    return page.locator(f"#{field}").input_value()


def test_the_page_knows_the_shops_own_codes_as_the_shop_does(page: Page) -> None:
    codes = [TAG, LONG_TAG, BIN, tags.make_shop_code("order", "undo")]
    codes += [tags.make_shop_code("lot", 10**5), tags.make_tag(8, 9_999_999)]
    codes += [TAG[:-1] + "9", "9" + TAG[1:], TAG + "0", "0000000001", "009001432", "CT-000123"]
    codes += ["0" + TAG, "4006381333931", "000000000001", "1" + "0" * 9, TAG[1:]]
    codes += [text + tags.check_digits(text) for text in ("00900077", "0040000007", "1000000042")]
    known = page.evaluate("codes => codes.map(station.wrongField.isOwnCode)", codes)
    assert known == [tags.is_own_code(code) for code in codes]
    assert known.count(True) == 6


@pytest.mark.parametrize("end", ["Enter", "Tab"])
@pytest.mark.parametrize(
    ("field", "before"),
    [("note", "dented"), ("price", "12.50"), ("remarks", "two\nlines"), ("search", "")],
)
def test_a_scan_in_another_field_goes_to_the_box(
    page: Page, desk: Desk, field: str, before: str, end: str
) -> None:
    page.locator(f"#{field}").fill(before)
    page.locator(f"#{field}").focus()
    scan(page, "CT-000124", end)
    until(lambda: desk.texts == ["CT-000124"], page)
    expect(page.locator("#said .aside")).to_contain_text("taken out of the field “")
    expect(page.locator("#said .word")).to_have_text("TAKEN")
    assert value(page, field) == before
    assert desk.forms == []
    assert page.url == desk.address


def test_a_scan_over_a_marked_amount_gives_the_amount_back(page: Page, desk: Desk) -> None:
    page.locator("#price").select_text()
    scan(page, "4006381333931")
    until(lambda: desk.texts == ["4006381333931"], page)
    assert value(page, "price") == "12.50"
    assert page.evaluate("document.activeElement.id") == "scan-text"


def test_a_scan_behind_words_by_hand_leaves_the_words_and_the_cursor(
    page: Page, desk: Desk
) -> None:
    page.locator("#note").focus()
    by_hand(page, "dent at ")
    scan(page, "PART 77-3")
    until(lambda: desk.texts == ["PART 77-3"], page)
    assert value(page, "note") == "dent at "
    by_hand(page, "inlet")
    assert value(page, "note") == "dent at inlet"


def test_a_choice_that_a_scan_would_turn_stays(page: Page, desk: Desk) -> None:
    page.locator("#fault").focus()
    scan(page, "1000004235")
    until(lambda: desk.texts == ["1000004235"], page)
    assert value(page, "fault") == "none"


@pytest.mark.parametrize("code", [TAG, LONG_TAG, BIN])
def test_an_own_code_is_known_at_any_speed(page: Page, desk: Desk, code: str) -> None:
    page.locator("#note").focus()
    by_hand(page, "rust")
    keys(page).rest(400)
    scan(page, code, key_ms=90)
    until(lambda: desk.texts == [code], page)
    assert value(page, "note") == "rust"
    assert desk.forms == []


def test_an_own_code_that_is_pasted_is_routed_when_the_field_is_left(
    page: Page, desk: Desk
) -> None:
    page.locator("#note").fill("rust ")
    page.locator("#note").focus()
    page.keyboard.press("End")
    page.keyboard.insert_text(TAG)
    page.wait_for_timeout(200)
    assert desk.arrived == [], "nothing ends the scan yet"
    page.locator("#nothing").click()
    until(lambda: desk.texts == [TAG], page)
    assert value(page, "note") == "rust "
    page.locator("#search").focus()
    page.keyboard.insert_text(f"{BIN[:4]} {BIN[4:8]} {BIN[8:]}")
    page.keyboard.press("Enter")
    until(lambda: len(desk.texts) == 2, page)
    assert value(page, "search") == ""
    assert desk.forms == []


@pytest.mark.parametrize("text", ["dented 4006381333931", "CT-000124", "hi"])
def test_what_hands_type_is_theirs(page: Page, desk: Desk, text: str) -> None:
    page.locator("#note").focus()
    by_hand(page, text, "Tab")
    assert value(page, "note") == text
    page.locator("#note").focus()
    by_hand(page, "", "Enter")
    until(lambda: len(desk.forms) == 1, page)
    assert desk.forms[0]["note"] == text
    assert desk.arrived == []


@pytest.mark.parametrize(("text", "key_ms"), [("quick fingers", 35), ("short", 5), ("dent", 1)])
def test_fast_hands_and_short_bursts_are_no_scan(
    page: Page, desk: Desk, text: str, key_ms: float
) -> None:
    page.locator("#note").focus()
    scan(page, text, "Tab", key_ms)
    page.wait_for_timeout(200)
    assert value(page, "note") == text
    assert desk.arrived == []


def test_a_paste_and_a_held_key_are_no_scan(page: Page, desk: Desk) -> None:
    page.locator("#remarks").focus()
    page.keyboard.insert_text("4006381333931")
    page.keyboard.press("Tab")
    page.locator("#search").focus()
    for _ in range(9):
        page.keyboard.down("0")  # the key repeats
    page.keyboard.up("0")
    page.keyboard.press("Tab")
    page.wait_for_timeout(200)
    assert value(page, "remarks") == "4006381333931"
    assert value(page, "search") == "000000000"
    assert desk.arrived == []


def test_a_field_that_is_meant_for_scans_keeps_them(page: Page, desk: Desk) -> None:
    page.locator("#badge").focus()
    scan(page, TAG, "Tab")
    page.wait_for_timeout(200)
    assert value(page, "badge") == TAG
    assert desk.arrived == []


@pytest.mark.parametrize(("head", "stop", "tail"), [("C", 130, "T-000124"), ("CT", 390, "-000124")])
def test_the_end_of_a_scan_that_came_in_jerks_is_never_taken_for_all_of_it(
    page: Page, desk: Desk, head: str, stop: int, tail: str
) -> None:
    page.locator("#note").focus()
    keys(page).rest(500)
    keys(page).type(head, 5)
    keys(page).type(tail[0], stop)
    keys(page).type(tail[1:], 5)
    keys(page).end("Enter", 5)
    until(lambda: len(desk.texts) == 1, page)
    assert desk.texts == ["CT-000124"]
    assert value(page, "note") == ""


def test_a_scan_cut_by_a_pause_is_still_known_by_its_check_digits(page: Page, desk: Desk) -> None:
    page.locator("#note").focus()
    keys(page).type(TAG[:8], 5)
    keys(page).rest(700)
    scan(page, TAG[8:])
    until(lambda: desk.texts == [TAG], page)
    assert value(page, "note") == ""


@pytest.mark.parametrize("by", ["key", "button"])
def test_what_was_taken_out_of_a_field_is_offered_back_into_it(
    page: Page, desk: Desk, by: str
) -> None:
    page.locator("#remarks").fill("seen at noon, ")
    page.locator("#remarks").focus()
    page.keyboard.press("End")
    scan(page, "chipped edge")
    until(lambda: desk.texts == ["chipped edge"], page)
    assert value(page, "remarks") == "seen at noon, "
    expect(page.locator("#said .word")).to_have_text("TAKEN")
    back = page.get_by_role("button", name="Put “chipped edge” back into it")
    expect(back).to_be_visible()
    if by == "key":
        page.keyboard.press("Alt+0")
    else:
        back.click()
    assert value(page, "remarks") == "seen at noon, chipped edge"
    expect(page.locator("#remarks")).to_be_focused()
    expect(back).to_have_count(0)
    page.keyboard.press("Tab")
    assert desk.texts == ["chipped edge"]
