"""Plans and gauges in a real browser: a plan edited by keyboard, a study typed by a gauge."""

from __future__ import annotations

from collections.abc import Iterator

import pytest
from browser.browsing import browser
from browser.station_desk import (
    desk,
    nothing_differs,
    scan,
    serving,
    station_app,
    wait_until,
    yard_today,
)
from databases import TestDatabase
from playwright.sync_api import Browser, Page

from coretrack.actions.gauge_studies import study_view
from coretrack.actions.plan_editing import family_view, stored_plan
from coretrack.web.here import SignedIn

pytestmark = pytest.mark.browser

OWNER = SignedIn("Ilse Thornby", "owner", "office")
NO_SIDEWAYS = "document.documentElement.scrollWidth <= window.innerWidth"


@pytest.fixture(scope="module")
def running() -> Iterator[Browser]:
    with browser() as found:
        yield found


def fill_by_keyboard(page: Page, field: str, text: str) -> None:
    """Go to a field and type over what it holds, as a person does."""
    page.focus(f"#{field}")
    page.keyboard.press("Control+a")
    page.keyboard.type(text, delay=70)


def test_the_owner_changes_a_limit_by_keyboard_and_it_becomes_a_version(
    sqlite_db: TestDatabase, running: Browser
) -> None:
    yard_today()
    with serving(station_app(OWNER)) as server, desk(running, server.address) as page:
        page.goto(f"{server.address}/plans/plan?code=GPB")
        fill_by_keyboard(page, "c0-usable", "24 H8")
        page.keyboard.press("Tab")
        wait_until(page, "/class H8/.test(document.getElementById('c0-usable-means').textContent)")
        fill_by_keyboard(page, "c1-usable", "6..5")
        # Enter in a field only looks the plan over; nothing is stored by accident.
        page.keyboard.press("Enter")
        page.wait_for_selector("#c1-usable-wrong")
        assert page.input_value("#c0-usable") == "24 H8"
        assert page.evaluate(NO_SIDEWAYS)
        fill_by_keyboard(page, "c1-usable", "<= 5")
        page.get_by_role("button", name="Save as a new version").first.press("Enter")
        page.wait_for_selector(".flash")
        assert "GPB stored: 1 change" in page.locator(".flash").inner_text()
    assert family_view("GPB").plans[0].number == 2
    usable = stored_plan("GPB", 2).check("bore").usable
    assert usable is not None
    assert (usable.lower, usable.upper) == (24_000_000, 24_033_000)


def test_a_gauge_types_a_whole_study_and_the_owner_gives_it_its_u(
    sqlite_db: TestDatabase, running: Browser
) -> None:
    yard_today()
    with serving(station_app(OWNER)) as server, desk(running, server.address) as page:
        page.goto(f"{server.address}/gauges/gauge?code=BG1")
        page.select_option("#study-check", "GPB/bore")
        page.fill("#study-inspectors", "Bela Quirke, Oda Finch")
        page.fill("#study-pieces", "3")
        page.fill("#study-trials", "2")
        page.get_by_role("button", name="Begin a study").click()
        page.wait_for_selector(".next")
        taken = 0
        while cell := study_view("BG1/1").next:
            assert cell.inspector in page.locator(".next .big").inner_text()
            # The same size twice in a row is two readings.
            scan(page, f"24,0{int(cell.piece)}{cell.trial}mm")
            page.wait_for_timeout(350)
            taken += 1
        assert taken == 12
        assert page.locator("#said .word").inner_text() == "COMPLETE"
        page.get_by_role("button", name="Give gauge BG1 this U").click()
        page.wait_for_selector(".flash")
        assert "U of BG1 is" in page.locator(".flash").inner_text()
        assert page.evaluate(NO_SIDEWAYS)
    study = study_view("BG1/1").study
    assert study.status == "done"
    assert {(one["typed"], one["value"]) for one in study.readings} == {
        (f"24,0{piece}{trial}mm", 24_000_000 + (10 * piece + trial) * 1000)
        for piece in (1, 2, 3)
        for trial in (1, 2)
    }
    assert nothing_differs()


def test_a_study_left_in_the_middle_goes_on_at_another_station_and_a_slip_is_taken_back(
    sqlite_db: TestDatabase, running: Browser
) -> None:
    yard_today()
    first, second = (SignedIn("Bela Quirke", "inspector", f"bench {one}") for one in (1, 2))
    with serving(station_app(first)) as server, desk(running, server.address) as page:
        page.goto(f"{server.address}/gauges/gauge?code=BG1")
        page.focus("#study-check")
        page.keyboard.type("GPB")
        fill_by_keyboard(page, "study-inspectors", "Bela Quirke, Oda Finch")
        fill_by_keyboard(page, "study-pieces", "2")
        fill_by_keyboard(page, "study-trials", "9")
        page.keyboard.press("Enter")
        page.wait_for_selector("#study-trials-wrong")
        assert page.input_value("#study-inspectors") == "Bela Quirke, Oda Finch"
        page.locator(".problems a").press("Enter")
        assert page.evaluate("document.activeElement.id") == "study-trials"
        fill_by_keyboard(page, "study-trials", "2")
        page.keyboard.press("Enter")
        page.wait_for_selector(".next")
        for text in ("24,011mm", "24.012"):
            scan(page, text)
            page.wait_for_timeout(350)
        slipped = study_view("BG1/1").last
    with serving(station_app(second)) as server, desk(running, server.address) as page:
        page.goto(f"{server.address}/gauges/study?code=BG1/1")
        assert "2 of 8 measured" in page.locator(".next").inner_text()
        assert scan(page, "again") == "TAKEN BACK"
        assert study_view("BG1/1").next == slipped
        number = 0
        while cell := study_view("BG1/1").next:
            number += 1
            before = page.locator(".next .big").inner_text()
            assert before == f"{cell.inspector}: piece {cell.piece}"
            scan(page, f"24.0{30 + number}")
            page.wait_for_timeout(350)
            shown = page.locator("#said").inner_text() + page.locator("#last").inner_text()
            assert f"24.0{30 + number}" not in shown
        assert page.locator("#said .word").inner_text() == "COMPLETE"
        assert page.get_by_role("button", name="Give gauge BG1 this U").count() == 0
        assert "The owner gives the gauge this U" in page.locator("#work").inner_text()
    assert nothing_differs()
