"""An inspector grades a batch by keyboard alone, with a gauge and a scanner that type."""

from __future__ import annotations

import time
from collections.abc import Iterator
from pathlib import Path

import pytest
from bench_desk import GOOD_BODY, bodies, order, stored_readings
from browser.browsing import browser, keep_picture
from browser.station_desk import (
    Server,
    agree,
    answers,
    choose,
    desk,
    nothing_differs,
    said,
    scan,
    serving,
    station_app,
    wait_until,
    word,
    yard_today,
)
from browser.typed_keys import KEY_MS, type_scan
from core_yard import Yard
from databases import TestDatabase
from playwright.sync_api import Browser, Page, expect

from coretrack.actions.bench_hand import Entry, hand_of
from coretrack.figures.tags import make_shop_code
from coretrack.records.database import connection
from coretrack.web.here import SignedIn

pytestmark = pytest.mark.browser

BELA = SignedIn("Bela Quirke", "inspector", "bench 1")
BELA_ELSEWHERE = SignedIn("Bela Quirke", "inspector", "bench 7")
UNA = SignedIn("Una Pryor", "inspector", "bench 2")

BATCH = 20
MEASURED = ("24.010", "24.012", "24.011", "3.0")


@pytest.fixture
def yard(sqlite_db: TestDatabase) -> Yard:
    return yard_today()


@pytest.fixture(scope="module")
def running() -> Iterator[Browser]:
    with browser() as started:
        yield started


def open_core(page: Page, tag: str) -> None:
    """Scan a tag at the bench and wait for its page."""
    type_scan(page, tag)
    page.wait_for_url(f"**/bench/core?tag={tag}")
    page.wait_for_function("document.activeElement && document.activeElement.id === 'scan-text'")


def grade(page: Page, tag: str, texts: tuple[str, ...]) -> str:
    """Open a core, type what was found, and say yes to the verdict; return the stored word."""
    open_core(page, tag)
    for text in texts:
        scan(page, text)
    return agree(page)


def state(yard: Yard, serial: str) -> str:
    return str(yard.core(serial).state)


def test_a_batch_is_graded_by_keyboard_alone(yard: Yard, running: Browser) -> None:
    tags = bodies(yard, BATCH)
    with serving(station_app(BELA)) as server, desk(running, f"{server.address}/bench/") as page:
        assert grade(page, tags[0], GOOD_BODY) == "KEEP"
        assert grade(page, tags[1], ("24,010", "24.012 mm", "+24.011", *GOOD_BODY[3:])) == "KEEP"
        assert grade(page, tags[2], ("23.970", "23.971", "23.972", *GOOD_BODY[3:])) == "REWORK"
        assert "Hone the bore" in said(page)

        open_core(page, tags[3])
        assert scan(page, "0.9453") == "REALLY?"
        choose(page, 1)
        assert word(page) == "INSIDE"
        assert scan(page, tags[4]) == "OTHER CORE"
        assert page.url.endswith(tags[3])
        assert scan(page, "24.300") == "WHICH BODY?"
        choose(page, 1)
        assert word(page) == "OUTSIDE"
        assert "260 gauge divisions" in said(page)
        assert scan(page, order("again")) == "AGAIN"
        for text in ("24.012", "24.011", *GOOD_BODY[3:]):
            scan(page, text)
        assert word(page) == "KEEP?"
        assert scan(page, order("done")) == "KEEP"

        open_core(page, tags[4])
        for text in (*MEASURED, "go"):
            scan(page, text)
        assert scan(page, order("indication")) == "CRACK"
        assert agree(page) == "SCRAP"

        assert grade(page, tags[5], (*MEASURED, "go", "unsure", "A")) == "UNDECIDED"
        open_core(page, tags[6])
        for text in GOOD_BODY:
            scan(page, text)
        assert scan(page, tags[7]) == "OTHER CORE"
        choose(page, 1, wait=False)
        page.wait_for_url(f"**tag={tags[7]}")
        page.wait_for_function("document.activeElement.id === 'scan-text'")
        for tag in tags[7:]:
            assert grade(page, tag, GOOD_BODY) == "KEEP"
    states = [state(yard, f"B{place + 1}") for place in range(BATCH)]
    assert states == [
        "good", "good", "rework", "good", "scrapped", "undecided", *["good"] * (BATCH - 6),
    ]  # fmt: skip
    assert [typed for _, _, typed, _, _ in stored_readings(tags[1])[:3]] == [
        "24,010",
        "24.012 mm",
        "+24.011",
    ]
    assert nothing_differs()


def test_an_interruption_and_the_return_at_another_station_lose_nothing(
    yard: Yard, running: Browser
) -> None:
    (tag,) = bodies(yard, 1)
    with serving(station_app(BELA)) as server, desk(running, f"{server.address}/bench/") as page:
        open_core(page, tag)
        for text in MEASURED[:2]:
            scan(page, text)
    with (
        serving(station_app(BELA_ELSEWHERE)) as server,
        desk(running, f"{server.address}/bench/") as page,
    ):
        expect(page.locator("table", has_text="Begun and not stored")).to_contain_text("Bela")
        open_core(page, tag)
        expect(page.locator(".entry")).to_have_count(2)
        for text in (*MEASURED[2:], *GOOD_BODY[4:]):
            scan(page, text)
        assert agree(page) == "KEEP"
    assert [typed for _, _, typed, _, _ in stored_readings(tag)] == list(GOOD_BODY)


def test_two_inspectors_at_one_body_are_told_and_lose_nothing(yard: Yard, running: Browser) -> None:
    (tag,) = bodies(yard, 1)
    with (
        serving(station_app(BELA)) as one,
        serving(station_app(UNA)) as two,
        desk(running, f"{one.address}/bench/") as first,
        desk(running, f"{two.address}/bench/") as second,
    ):
        open_core(first, tag)
        scan(first, "24.010")
        open_core(second, tag)
        assert word(second) == "BEGUN"
        expect(second.locator("#work .flash").first).to_contain_text("Bela Quirke at bench 1")
        assert scan(second, "24.011") == "INSIDE"

        assert scan(first, "24.012") == "FOR WHICH?"
        assert "Una Pryor" in said(first)
        expect(first.locator("#work .flash", has_text="24.012")).to_be_visible()
        choose(first, 1)
        assert word(first) == "INSIDE"
        for text in GOOD_BODY[3:]:
            scan(first, text)
        assert agree(first) == "KEEP"
        assert "Bela Quirke" in (scan(second, "24.020") and said(second))
        assert "24.020 was not taken" in said(second)
    assert [typed for _, _, typed, _, _ in stored_readings(tag)][:3] == [
        "24.010",
        "24.011",
        "24.012",
    ]
    assert state(yard, "B1") == "good"
    assert nothing_differs()


def kept_at(tags: list[str]) -> list[tuple[str, Entry]]:
    """Return what is typed at these cores and not stored, in order."""
    with connection():
        return [(tag, entry) for tag in tags for entry in hand_of(tag).entries]


def measured(page: Page, server: Server, tags: list[str], seconds: int) -> list[tuple[str, str]]:
    """Type one reading a second as a gauge does; return (tag, text) of each, in order."""
    typed: list[tuple[str, str]] = []
    places = iter(range(10_000))
    start = time.monotonic()
    for tag in tags:
        page.goto(f"{server.address}/bench/core?tag={tag}")
        page.wait_for_function("!!(window.station && window.station.take)")
        page.wait_for_function("document.activeElement.id === 'scan-text'")
        before = answers(page)
        # The bore takes three readings and the face one; then the page waits for a word.
        for count in range(4):
            place = next(places)
            text = f"24.{2 + place % 3:03d}" if count < 3 else f"{1 + place % 4}.{place % 10}"
            page.wait_for_timeout(max(0, (start + place - time.monotonic()) * 1000))
            type_scan(page, text)
            typed.append((tag, text))
            if place + 1 >= seconds:
                break
        wait_until(page, f"(window.answers || 0) >= {before + min(4, count + 1)}")
        if len(typed) >= seconds:
            break
    return typed


@pytest.mark.parametrize("seconds", [20, pytest.param(120, marks=pytest.mark.slow)])
def test_sixty_readings_a_minute_are_all_kept_each_in_its_own_check(
    yard: Yard, running: Browser, seconds: int
) -> None:
    tags = bodies(yard, seconds // 4)
    with serving(station_app(BELA)) as server, desk(running, f"{server.address}/bench/") as page:
        start = time.monotonic()
        typed = measured(page, server, tags, seconds)
        took = time.monotonic() - start
    assert len(typed) == seconds
    assert took >= seconds - 1
    kept = kept_at(tags)
    assert [(tag, entry.typed) for tag, entry in kept] == typed
    assert [entry.check for _, entry in kept] == ["bore", "bore", "bore", "face"] * (seconds // 4)
    assert KEY_MS == 5


def test_a_gauge_faster_than_the_answers_loses_no_reading(yard: Yard, running: Browser) -> None:
    (tag,) = bodies(yard, 1)
    with (
        serving(station_app(BELA)) as server,
        desk(running, f"{server.address}/bench/core?tag={tag}") as page,
    ):
        page.wait_for_function("document.activeElement.id === 'scan-text'")
        for text in GOOD_BODY:
            type_scan(page, text)
        wait_until(page, f"(window.answers || 0) >= {len(GOOD_BODY)}")
        assert word(page) == "KEEP?"
        assert agree(page) == "KEEP"
    assert [typed for _, _, typed, _, _ in stored_readings(tag)] == list(GOOD_BODY)


def test_a_gauge_that_sends_the_same_reading_thrice_in_a_second_is_taken_thrice(
    yard: Yard, running: Browser
) -> None:
    (tag,) = bodies(yard, 1)
    with (
        serving(station_app(BELA)) as server,
        desk(running, f"{server.address}/bench/core?tag={tag}") as page,
    ):
        page.wait_for_function("document.activeElement.id === 'scan-text'")
        for _ in range(3):
            type_scan(page, "24.010")
            page.wait_for_timeout(400)
        wait_until(page, "(window.answers || 0) >= 3")
        expect(page.locator("#check-head")).to_contain_text("Cover face")
    assert [(entry.check, entry.typed) for _, entry in kept_at([tag])] == [("bore", "24.010")] * 3


def test_ten_interruptions_in_one_body_lose_nothing(yard: Yard, running: Browser) -> None:
    """Each reading is followed by something else that an hour at the bench brings."""
    tag, other = bodies(yard, 2)
    here = f"/bench/core?tag={tag}"
    with serving(station_app(BELA)) as server, desk(running, server.address + here) as page:

        def back() -> None:
            page.wait_for_function("document.activeElement.id === 'scan-text'")
            expect(page.locator("#check-head")).to_be_visible()

        def look_up() -> None:
            page.goto(f"{server.address}/cores/?q=B2")
            open_core_from_anywhere(page, server, tag)

        def reload() -> None:
            page.reload()
            back()

        def home_and_back() -> None:
            page.goto(f"{server.address}/bench/")
            open_core(page, tag)

        def another_body_comes_and_waits() -> None:
            assert scan(page, other) == "OTHER CORE"
            choose(page, 2)
            assert word(page) == "MEASURE"

        def another_body_is_looked_at() -> None:
            assert scan(page, other) == "OTHER CORE"
            choose(page, 1, wait=False)
            page.wait_for_url(f"**tag={other}")
            back()
            open_core(page, tag)

        def server_is_away() -> None:
            server.stop()
            page.wait_for_timeout(200)
            server.start()

        def the_foot_switch_is_pressed() -> None:
            assert agree(page) == "NEXT"

        def a_bin_card_is_scanned() -> None:
            assert scan(page, make_shop_code("bin", 3)) == "NOT HERE"

        def browsers_back_and_forward() -> None:
            page.goto(f"{server.address}/bench/washes/")
            page.go_back()
            back()

        def half_a_reading_is_left() -> None:
            page.keyboard.type("24.0")
            page.keyboard.press("Escape")
            page.keyboard.press("Delete")

        interruptions = (
            reload,
            home_and_back,
            another_body_comes_and_waits,
            look_up,
            the_foot_switch_is_pressed,
            server_is_away,
            another_body_is_looked_at,
            a_bin_card_is_scanned,
            browsers_back_and_forward,
            half_a_reading_is_left,
        )
        back()
        turns = iter(interruptions)
        for text in GOOD_BODY[:5]:
            next(turns)()
            scan(page, text)
            next(turns)()
        for text in GOOD_BODY[5:]:
            scan(page, text)
        assert next(turns, None) is None
        assert agree(page) == "KEEP"
    assert [typed for _, _, typed, _, _ in stored_readings(tag)] == list(GOOD_BODY)
    assert kept_at([other]) == []
    assert nothing_differs()


def open_core_from_anywhere(page: Page, server: Server, tag: str) -> None:
    """Go to the bench by its place in the menu, then scan."""
    page.get_by_role("link", name="Bench", exact=True).click()
    page.wait_for_url(f"{server.address}/bench/")
    page.wait_for_function("document.activeElement.id === 'scan-text'")
    open_core(page, tag)


@pytest.mark.parametrize("scheme", ["light", "dark"])
@pytest.mark.parametrize("size", [(1024, 768), (390, 844)])
def test_the_bench_fits_panel_and_phone(
    yard: Yard, running: Browser, tmp_path: Path, scheme: str, size: tuple[int, int]
) -> None:
    (tag,) = bodies(yard, 1)
    view = {"width": size[0], "height": size[1]}
    with (
        serving(station_app(BELA)) as server,
        desk(
            running,
            f"{server.address}/bench/core?tag={tag}",
            viewport=view,
            color_scheme=scheme,
        ) as page,
    ):
        scan(page, "24.010")
        scan(page, "24.043")
        wide = page.evaluate("document.documentElement.scrollWidth")
        assert wide <= size[0]
        assert page.locator("svg.bands").bounding_box() is not None
        keep_picture(page, tmp_path, f"bench-{scheme}-{size[0]}")
        if size[0] > 1000:
            box = page.locator("svg.bands").bounding_box()
            assert box is not None
            assert box["y"] < size[1]
