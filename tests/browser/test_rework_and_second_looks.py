"""Rework and blind second looks by scanner and keyboard alone, in a real browser."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import timedelta
from pathlib import Path

import pytest
from bench_desk import GOOD_BODY, Inspector, bodies
from bench_floor import order
from browser.browsing import browser, keep_picture, opened, served
from browser.station_desk import (
    agree,
    choose,
    desk,
    nothing_differs,
    said,
    scan,
    station_app,
    type_scan,
    word,
    yard_today,
)
from core_yard import Yard
from databases import TestDatabase
from playwright.sync_api import Browser, Page

from coretrack.figures.tags import show_tag
from coretrack.records.writer import writing
from coretrack.web.here import SignedIn

pytestmark = pytest.mark.browser

BELA = SignedIn("Bela Quirke", "inspector", "bench 1")
UNA = SignedIn("Una Pryor", "inspector", "bench 2")
OWNER = SignedIn("Ilse Thornby", "owner", "office")

WORN = ("23.970", "23.971", "23.972", *GOOD_BODY[3:])
DIRTY = ("23.970", "23.971", "23.972", "3.0", "go", "none", "C")
CRACKED = ("24.0133", "24.0144", "24.0155", "3.3", "go", "indication linear 4 mm at the port")
FIRST_TOLD = ("24.0133", "24.013", "24.014", "24.016", "3.3", "linear", "4 mm", "the port", "crack")
"""What the first inspector found, as typed and as pages shorten it."""


@pytest.fixture
def yard(sqlite_db: TestDatabase) -> Yard:
    yard = yard_today()
    bodies(yard, 5)
    return yard


@pytest.fixture(scope="module")
def running() -> Iterator[Browser]:
    with browser() as started:
        yield started


def share(yard: Yard, percent: str) -> None:
    with writing(yard.by, yard.now) as writer:
        writer.event("shop", "shop", "set", {"second_look_percent": percent})


def tag(yard: Yard, serial: str) -> str:
    return str(yard.core(serial).tag)


def graded(yard: Yard, serial: str, texts: tuple[str, ...], days: int = 0) -> str:
    """Have Bela Quirke judge a body some days ago; return its tag."""
    start = yard.now - timedelta(days=days, minutes=20)
    inspector = Inspector(start=start).at(tag(yard, serial))
    inspector.type(*texts)
    inspector.type("")
    return tag(yard, serial)


def ready(page: Page) -> None:
    page.wait_for_function("document.activeElement && document.activeElement.id === 'scan-text'")


def test_a_body_goes_to_rework_and_back_to_the_shelf_by_scanner_and_keyboard(
    yard: Yard, running: Browser
) -> None:
    worn = graded(yard, "B1", DIRTY, days=2)
    graded(yard, "B2", WORN)
    with served(station_app(BELA)) as address, desk(running, f"{address}/bench/rework/") as page:
        first = page.locator("table", has_text="Hone the bore").locator("tbody th").first
        assert first.inner_text() == show_tag(worn)
        type_scan(page, worn)
        page.wait_for_url(f"**/bench/rework/?tag={worn}")
        ready(page)
        assert agree(page) == "WHICH?"
        choose(page, 1)
        assert word(page) == "BEGUN"
        # Called away; at another station the same body goes on where it was left.
        page.goto(f"{address}/bench/rework/")
        assert "Bela Quirke" in page.locator("#work").inner_text()
        type_scan(page, worn)
        page.wait_for_url(f"**/bench/rework/?tag={worn}")
        ready(page)
        assert scan(page, "0.0012") == "REALLY?"
        choose(page, 1)
        assert word(page) == "STOCK"
        assert scan(page, "9 min") == "MINUTES"
        assert "9 minutes" in page.locator(".told").inner_text()
        page.wait_for_timeout(1100)
        assert agree(page) == "FINISHED?"
        choose(page, 1)
        assert word(page) == "FINISHED"
        assert "0.030 mm is left" in said(page) or "0.02952 mm is left" in said(page)
        assert scan(page, "clean") == "CLEAN AGAIN"
        assert scan(page, order("done")) == "FINISHED?"
        choose(page, 1)
        assert word(page) == "MEASURE AGAIN"
        choose(page, 1, wait=False)
        page.wait_for_url(f"**/bench/core?tag={worn}")
        ready(page)
        due = page.locator(".plan li", has_text="not measured").all_inner_texts()
        assert [text.split("\n")[0] for text in due] == ["Gear bore", "Crack check", "Look"]
        for text in (*GOOD_BODY[:3], "none", "A"):
            scan(page, text)
        assert agree(page) == "KEEP"
    core = yard.core("B1")
    assert (core.state, core.reworks, core.removed) == ("good", 2, {"bore": 30_480})
    assert nothing_differs()


def test_past_its_allowance_a_body_is_stopped(yard: Yard, running: Browser) -> None:
    worn = graded(yard, "B1", WORN)
    with (
        served(station_app(BELA)) as address,
        desk(running, f"{address}/bench/rework/?tag={worn}") as page,
    ):
        ready(page)
        assert scan(page, worn) == "BEGUN"
        assert scan(page, "0.061 mm") == "STOCK"
        page.wait_for_timeout(1100)
        assert scan(page, worn) == "FINISHED?"
        choose(page, 1)
        assert word(page) == "TOO MUCH"
        assert "the allowance is 0.06" in said(page)
    assert (yard.core("B1").state, yard.core("B1").removed) == ("rework", {})


def links(page: Page, address: str) -> list[str]:
    found = page.eval_on_selector_all("a[href]", "all => all.map(each => each.href)")
    return [link.split("#")[0] for link in found if link.startswith(address)]


def test_a_blind_second_look_sees_nothing_of_the_first(yard: Yard, running: Browser) -> None:
    share(yard, "100")
    cracked = graded(yard, "B1", CRACKED)
    share(yard, "0")
    with served(station_app(UNA)) as address, desk(running, f"{address}/bench/second/") as page:
        read: dict[str, str] = {}
        wanted = [
            f"{address}/", f"{address}/cores/core?tag={cracked}", f"{address}/cores/?q=B1",
            f"{address}/bench/core?tag={cracked}", f"{address}/bench/rework/?tag={cracked}",
            f"{address}/bench/second/look?tag={cracked}", f"{address}/shelf/",
            f"{address}/gauges/recall?code=BG1",
        ]  # fmt: skip
        while wanted and len(read) < 60:
            link = wanted.pop(0)
            if link in read or any(end in link for end in (".pdf", ".csv", ".toml", ".xlsx")):
                continue
            page.goto(link)
            read[link] = page.content()
            wanted += links(page, address)
        assert len(read) > 15
        for link, content in read.items():
            words = content.split("<main", 1)[-1]
            for told in (*FIRST_TOLD[:8], "scrapped", "crack indication"):
                # The plan's own words for everybody are no finding.
                known = told in ("linear", "4 mm") and "Of an indication type" in words
                assert known or told not in words, f"{link} tells {told}"

        page.goto(f"{address}/cores/")
        ready(page)
        type_scan(page, cracked)
        page.wait_for_url(f"**/bench/second/look?tag={cracked}")
        ready(page)
        for text in GOOD_BODY:
            scan(page, text)
        assert word(page) == "KEEP?"
        assert agree(page) == "DIFFERS"
        assert "In the books: scrap, by Bela Quirke" in said(page)
        page.goto(f"{address}/cores/core?tag={cracked}")
        assert "at the port" in page.locator("main").inner_text()
    assert (yard.core("B1").state, yard.core("B1").inspections) == ("scrapped", 1)
    with served(station_app(OWNER)) as address, desk(running, f"{address}/bench/second/") as page:
        assert "Which of the two is right?" in page.locator("main").inner_text()
        page.get_by_label("Why the first verdict stands").fill("the crack is at the port")
        page.keyboard.press("Enter")
        page.wait_for_selector(".flash")
        assert "stands" in page.locator(".flash").first.inner_text()
    assert nothing_differs()


def looked_again(yard: Yard, serial: str, texts: tuple[str, ...]) -> None:
    """Have Una Pryor look at a body again, without a page."""
    from coretrack.actions import station_scans
    from coretrack.figures.scan_replies import Spot

    at = yard.now
    for place, text in enumerate((*texts, "")):
        now = at + timedelta(seconds=2 * place)
        told = {"by": "Una Pryor", "station": "bench 2", "now": now, "key": f"{serial}-{place}"}
        station_scans.scan(text, Spot("second", tag(yard, serial)), **told)


@pytest.mark.parametrize("scheme", ["light", "dark"])
@pytest.mark.parametrize("size", ["bench", "phone"])
def test_the_pages_fit_the_panel_and_the_phone(
    yard: Yard, running: Browser, tmp_path: Path, scheme: str, size: str
) -> None:
    worn, dirty = graded(yard, "B1", WORN, days=3), graded(yard, "B2", DIRTY)
    share(yard, "100")
    graded(yard, "B3", CRACKED)
    looked_again(yard, "B3", GOOD_BODY)
    drawn = graded(yard, "B4", GOOD_BODY)
    share(yard, "5")
    graded(yard, "B5", ("24.039", "24.039", "24.039", *GOOD_BODY[3:]))
    with served(station_app(BELA)) as address, desk(running, f"{address}/bench/rework/") as page:
        page.goto(f"{address}/bench/rework/?tag={worn}")
        ready(page)
        scan(page, "")
    for who, shown in (
        (BELA, {"queues": "rework/", "body": f"rework/?tag={worn}", "two": f"rework/?tag={dirty}"}),
        (UNA, {"list": "second/", "look": f"second/look?tag={drawn}"}),
        (OWNER, {"asked": "second/", "agreement": "second/agreement"}),
    ):
        with served(station_app(who)) as address:
            for name, path in shown.items():
                with opened(running, f"{address}/bench/{path}", size, scheme) as page:
                    keep_picture(page, tmp_path, f"{name}-{size}-{scheme}")
                    wide = page.evaluate("document.documentElement.scrollWidth")
                    assert wide <= page.evaluate("window.innerWidth"), path
                    if name == "body" and size == "bench":
                        box = page.locator("button.go").bounding_box()
                        assert box is not None
                        assert box["y"] + box["height"] < 768
