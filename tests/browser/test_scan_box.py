"""The scan box in a real browser: what ends a scan, where the cursor is, what is shown."""

from __future__ import annotations

from collections.abc import Iterator

import pytest
from browser.browsing import browser
from browser.scan_desk import Desk, asking, desk_at_work, good, person_at, saying, until
from browser.typed_keys import type_scan as scan
from playwright.sync_api import Browser, BrowserContext, Page, expect

pytestmark = pytest.mark.browser

TAG, OTHER = "1000004235", "1000004332"


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


def focus(page: Page) -> str:
    return str(page.evaluate("document.activeElement.id"))


def word(page: Page, text: str) -> None:
    expect(page.locator("#said .word")).to_have_text(text)


@pytest.mark.parametrize("end", ["Enter", "Tab"])
def test_enter_and_tab_end_a_scan_and_the_answer_is_shown(page: Page, desk: Desk, end: str) -> None:
    scan(page, TAG, end)
    word(page, "TAKEN")
    expect(page.locator("#said")).to_have_class("said tone-good")
    expect(page.locator("#last li")).to_have_count(1)
    sent = desk.arrived[0]
    assert (sent["text"], sent["page"], sent["code"], sent["seen"]) == (TAG, "home", "", "")
    assert len(sent["key"]) == 32
    assert abs(sent["at"] - page.evaluate("Date.now()")) < 20_000
    assert page.locator("#scan-text").input_value() == ""
    assert focus(page) == "scan-text"


def test_the_button_ends_a_scan(page: Page, desk: Desk) -> None:
    page.keyboard.type("F-1")
    page.get_by_role("button", name="Enter").click()
    word(page, "TAKEN")
    assert desk.texts == ["F-1"]
    assert focus(page) == "scan-text"


def test_a_pause_within_a_scan_does_not_end_it(page: Page, desk: Desk) -> None:
    page.keyboard.type("CT-0001", delay=7)
    page.wait_for_timeout(300)
    assert desk.arrived == []
    scan(page, "23")
    word(page, "TAKEN")
    assert desk.texts == ["CT-000123"]


def test_nothing_is_sent_for_an_empty_box_or_blanks(page: Page, desk: Desk) -> None:
    page.keyboard.press("Enter")
    scan(page, "   ")
    scan(page, TAG)
    word(page, "TAKEN")
    assert desk.texts == [TAG]


def test_enter_alone_says_yes_to_what_is_proposed_but_a_second_enter_of_a_scanner_does_not(
    page: Page, desk: Desk
) -> None:
    desk.slow[TAG] = 0.5
    scan(page, TAG)
    page.keyboard.press("Enter")
    word(page, "TAKEN")
    page.wait_for_timeout(600)
    assert desk.texts == [TAG]
    page.keyboard.press("Enter")
    until(lambda: desk.texts == [TAG, ""], page)
    assert desk.arrived[1]["seen"] == "seen 1"


def test_tab_moves_on_from_an_empty_box(page: Page) -> None:
    page.keyboard.press("Tab")
    assert focus(page) != "scan-text"


def test_control_signs_of_a_label_arrive(page: Page, desk: Desk) -> None:
    page.keyboard.type("[)>")
    for key in ("Control+^", "Control+]", "Control+d"):
        page.keyboard.press(key)
    page.keyboard.press("Enter")
    until(lambda: desk.texts == ["[)>\x1e\x1d\x04"], page)


def test_a_scan_that_does_not_fit_is_not_sent_cut(page: Page, desk: Desk) -> None:
    page.locator("#scan-text").fill("7" * 400)
    page.keyboard.press("Enter")
    word(page, "TOO LONG")
    assert desk.arrived == []


def test_the_same_code_at_once_is_sent_once_and_another_is_not_held_back(
    page: Page, desk: Desk
) -> None:
    desk.slow[TAG] = 0.4
    scan(page, TAG)
    page.wait_for_timeout(100)
    scan(page, TAG)
    word(page, "ONCE")
    expect(page.locator("#said .line")).to_contain_text("1000 0042 35 was read twice")
    scan(page, OTHER)
    until(lambda: len(desk.arrived) == 2, page)
    assert desk.texts == [TAG, OTHER]
    assert desk.most_at_once == 1
    page.wait_for_timeout(1000)
    scan(page, TAG)
    until(lambda: len(desk.arrived) == 3, page)
    assert desk.arrived[2]["key"] != desk.arrived[0]["key"]


def test_that_a_scan_counts_once_is_large_but_never_hides_a_question(
    page: Page, desk: Desk
) -> None:
    desk.slow[TAG] = 0.3
    desk.answers[TAG] = asking("a", "b")
    scan(page, TAG)
    scan(page, TAG)
    word(page, "WHICH")
    expect(page.locator("#said .aside")).to_contain_text("ONCE:")
    scan(page, OTHER)
    word(page, "TAKEN")
    expect(page.locator("#said .aside")).to_have_count(0)
    scan(page, OTHER)
    word(page, "ONCE")
    expect(page.locator("#said .detail")).to_contain_text("TAKEN:")
    expect(page.locator("#said")).to_have_class("said tone-note")


def test_scans_are_answered_in_the_order_they_were_made(page: Page, desk: Desk) -> None:
    desk.slow = {"A": 0.5, "B": 0.1}
    for text in ("A", "B", "C", "D"):
        scan(page, text)
    until(lambda: len(desk.arrived) == 4, page)
    assert desk.texts == ["A", "B", "C", "D"]
    assert desk.most_at_once == 1


def test_keys_typed_while_nothing_has_the_cursor_go_to_the_box(page: Page, desk: Desk) -> None:
    page.evaluate("document.activeElement.blur()")
    scan(page, TAG)
    page.locator("#next").focus()
    scan(page, "on a link")
    page.locator("#box").check()
    scan(page, OTHER)
    until(lambda: len(desk.arrived) == 3, page)
    assert desk.texts == [TAG, "on a link", OTHER]
    assert page.locator("#box").is_checked()


def test_the_cursor_returns_to_the_box(page: Page) -> None:
    page.locator("#note").focus()
    page.keyboard.press("Escape")
    assert focus(page) == "scan-text"
    page.locator("#note").focus()
    page.locator("#nothing").click()
    assert focus(page) == "scan-text"
    page.locator("#next").focus()
    page.evaluate("window.dispatchEvent(new Event('focus'))")
    assert focus(page) == "scan-text"


def test_a_field_in_which_a_person_types_keeps_the_cursor(page: Page, desk: Desk) -> None:
    desk.slow[TAG] = 0.3
    scan(page, TAG)
    page.locator("#note").focus()
    page.keyboard.type("dented", delay=70)
    word(page, "TAKEN")
    page.evaluate("window.dispatchEvent(new Event('focus'))")
    assert focus(page) == "note"
    assert page.locator("#note").input_value() == "dented"


def test_offers_are_chosen_by_number_by_arrows_and_by_touch(page: Page, desk: Desk) -> None:
    desk.answers["which"] = asking("first", "second")
    scan(page, "which")
    word(page, "WHICH")
    assert page.locator("#said .offer").all_inner_texts() == [
        "Alt+1\ntake first",
        "Alt+2\ntake second",
    ]
    page.keyboard.press("Alt+Digit2")
    word(page, "TAKEN")
    page.wait_for_timeout(1000)
    scan(page, "which")
    word(page, "WHICH")
    page.keyboard.press("ArrowDown")
    page.keyboard.press("ArrowDown")
    page.keyboard.press("ArrowUp")
    page.keyboard.press("Enter")
    word(page, "TAKEN")
    page.wait_for_timeout(1000)
    scan(page, "which")
    page.get_by_role("button", name="take second").click()
    until(lambda: len(desk.texts) == 6, page)
    assert desk.texts == ["which", "second", "which", "first", "which", "second"]
    expect(page.locator("#scan-text")).to_be_focused()  # once the answer is there


def test_a_scanner_in_alt_mode_chooses_nothing(page: Page, desk: Desk) -> None:
    desk.answers["which"] = asking("first")
    scan(page, "which")
    word(page, "WHICH")
    page.keyboard.press("Alt+Numpad1")
    page.wait_for_timeout(200)
    assert desk.texts == ["which"]


def test_what_can_be_undone_is_offered_with_the_shops_own_order_code(
    page: Page, desk: Desk
) -> None:
    desk.answers[TAG] = saying("good", "CREDITED", undo="credit of 1000 0042 35")
    scan(page, TAG)
    page.get_by_role("button", name="Undo: credit of 1000 0042 35").click()
    until(lambda: len(desk.texts) == 2, page)
    assert desk.texts[1] == "0090000287"


def test_fresh_work_keeps_what_was_typed_and_the_cursor(page: Page, desk: Desk) -> None:
    fresh = page.locator("#work").inner_html().replace("round 0", "round 1")
    fresh = fresh.replace('value="12.50"', 'value="14.00"')
    desk.answers[TAG] = lambda scan: {**good(scan), "html": fresh}
    page.locator("#remarks").fill("two dents")
    page.locator("#price").fill("13")
    page.locator("#fault").select_option("0 rust")
    page.locator("#box").check()
    desk.slow[TAG] = 0.5
    page.locator("#scan-text").focus()
    scan(page, TAG)
    page.locator("#note").focus()
    page.keyboard.type("abc", delay=70)
    page.keyboard.press("ArrowLeft")
    expect(page.locator("#round")).to_have_text("round 1")
    assert page.locator("#remarks").input_value() == "two dents"
    assert page.locator("#fault").input_value() == "0 rust"
    assert page.locator("#box").is_checked()
    assert page.locator("#price").input_value() == "14.00"
    assert focus(page) == "note"
    page.keyboard.type("X")
    assert page.locator("#note").input_value() == "abXc"


def test_the_spot_of_an_answer_goes_with_the_next_scan(page: Page, desk: Desk) -> None:
    spot = {"page": "delivery", "code": "D/1?", "seen": "f1"}
    desk.answers["slip"] = lambda scan: {**good(scan), "spot": spot}
    page.evaluate("document.addEventListener('station:updated', e => { window.told = e.detail; })")
    scan(page, "slip")
    until(lambda: page.evaluate("window.told && window.told.spot.page") == "delivery", page)
    assert page.evaluate("window.told.reply.word") == "TAKEN"
    assert page.locator("#scan input[name=code]").input_value() == "D/1?"
    scan(page, TAG)
    until(lambda: len(desk.arrived) == 2, page)
    assert [desk.arrived[1][name] for name in ("page", "code", "seen")] == [
        "delivery",
        "D/1?",
        "f1",
    ]


def test_an_answer_can_open_another_page_which_shows_it(page: Page, desk: Desk) -> None:
    desk.answers["slip"] = lambda scan: {**good(scan), "go": "/?page=delivery&code=D-1"}
    scan(page, "slip")
    page.wait_for_url("**/?page=delivery&code=D-1")
    word(page, "TAKEN")
    scan(page, "slip")  # the scanner read twice; the page changed in between
    word(page, "ONCE")
    assert desk.texts == ["slip"]


def test_an_answer_only_offers_a_page_where_something_is_half_typed(page: Page, desk: Desk) -> None:
    desk.answers["slip"] = lambda scan: {**good(scan), "go": "/?page=delivery&code=D-1"}
    page.locator("#remarks").fill("half a sente")
    page.keyboard.press("Escape")
    scan(page, "slip")
    word(page, "TAKEN")
    link = page.get_by_role("link", name="Open it")
    assert (link.get_attribute("href") or "").endswith("/?page=delivery&code=D-1")
    page.wait_for_timeout(200)
    assert page.url == desk.address
    assert page.locator("#remarks").input_value() == "half a sente"


def test_an_answer_never_leads_to_another_site(page: Page, desk: Desk) -> None:
    desk.answers["slip"] = lambda scan: {**good(scan), "go": "http://example.invalid/"}
    scan(page, "slip")
    word(page, "TAKEN")
    page.wait_for_timeout(200)
    assert page.url == desk.address


def test_labels_are_printed_from_a_hidden_frame(person: BrowserContext, desk: Desk) -> None:
    person.add_init_script("window.print = () => { top.printed = (top.printed || 0) + 1; };")
    page = person.new_page()
    page.goto(desk.address)
    desk.answers[TAG] = lambda scan: {**good(scan), "print": "/labels"}
    scan(page, TAG)
    until(lambda: page.evaluate("window.printed") == 1, page)
    assert focus(page) == "scan-text"


def test_a_blocked_print_window_leaves_a_link(page: Page, desk: Desk) -> None:
    desk.answers[TAG] = lambda scan: {**good(scan), "print": "/labels?framed=no"}
    scan(page, TAG)
    expect(page.locator("#said .aside")).to_contain_text("use the link")
    link = page.get_by_role("link", name="Open the print page")
    assert (link.get_attribute("href") or "").endswith("/labels?framed=no")
    assert focus(page) == "scan-text"
