"""The owner's page in a real browser: widths, colour schemes, keyboard, print."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest
from browser.browsing import SIZES, browser, keep_picture, opened, served
from playwright.sync_api import Browser
from pypdf import PdfReader
from samples import sample_summary

from coretrack.web.app import create_app
from coretrack.web.here import SignedIn

pytestmark = pytest.mark.browser


@pytest.fixture(scope="module")
def address() -> Iterator[str]:
    owner = SignedIn("Edda Mallin", "owner")
    app = create_app(None, summary=sample_summary, secret="only for tests", signed_in=lambda: owner)
    with served(app) as where:
        yield f"{where}/office/"


@pytest.fixture(scope="module")
def running() -> Iterator[Browser]:
    with browser() as started:
        yield started


@pytest.mark.parametrize("scheme", ["light", "dark"])
@pytest.mark.parametrize("size", list(SIZES))
def test_the_page_fits_its_window_and_shows_one_of_each_chart(
    running: Browser, address: str, size: str, scheme: str, tmp_path: Path
) -> None:
    with opened(running, address, size, scheme) as page:
        wide = page.evaluate("document.documentElement.scrollWidth")
        assert wide <= SIZES[size][0]
        shown = page.locator("svg.chart:visible").count()
        assert shown == 1 + 5 + 3
        assert page.locator("svg.chart.small:visible").count() == (9 if size == "phone" else 0)
        assert keep_picture(page, tmp_path, f"{size}-{scheme}").stat().st_size > 10_000


@pytest.mark.parametrize("size", list(SIZES))
def test_no_text_of_a_chart_is_cut_or_lies_on_another(
    running: Browser, address: str, size: str
) -> None:
    find = """charts => charts.flatMap(chart => {
        const frame = chart.getBoundingClientRect(), wrong = [];
        const texts = [...chart.querySelectorAll('text')].map(
            text => [text.textContent, text.getBoundingClientRect()]);
        texts.forEach(([said, box], place) => {
            if (box.right > frame.right + 4 || box.left < frame.left - 4) wrong.push(said);
            texts.slice(place + 1).forEach(([other, next]) => {
                const over = Math.min(box.right, next.right) - Math.max(box.left, next.left);
                const down = Math.min(box.bottom, next.bottom) - Math.max(box.top, next.top);
                if (over > 0.5 && down > 5) wrong.push(said + ' / ' + other);
            });
        });
        return wrong;
    })"""
    with opened(running, address, size) as page:
        assert page.locator("svg.chart:visible").evaluate_all(find) == []


def test_dark_and_light_are_really_different(running: Browser, address: str) -> None:
    grounds = set()
    for scheme in ("light", "dark"):
        with opened(running, address, scheme=scheme) as page:
            grounds.add(page.evaluate("getComputedStyle(document.body).backgroundColor"))
    assert len(grounds) == 2


def test_the_keyboard_reaches_the_figures_first_and_focus_can_be_seen(
    running: Browser, address: str
) -> None:
    with opened(running, address) as page:
        page.keyboard.press("Tab")
        focused = page.evaluate("document.activeElement.textContent")
        assert focused == "Skip to the figures"
        assert page.locator(".skip").bounding_box()["x"] >= 0  # type: ignore[index]
        page.keyboard.press("Tab")
        style = page.evaluate("getComputedStyle(document.activeElement).outlineStyle")
        assert style == "solid"


def test_a_chart_has_its_table_one_key_away(running: Browser, address: str) -> None:
    with opened(running, address) as page:
        page.locator("details summary").first.focus()
        page.keyboard.press("Enter")
        table = page.locator("details table").first
        assert table.is_visible()
        assert "18.27 … 22.02" in table.inner_text()


def test_the_page_prints_with_its_tables_and_without_its_links(
    running: Browser, address: str, tmp_path: Path
) -> None:
    with opened(running, address) as page:
        page.pdf(path=str(tmp_path / "page.pdf"), format="A4")
    text = " ".join(sheet.extract_text() for sheet in PdfReader(tmp_path / "page.pdf").pages)
    assert "Injector body, 7 mm guide" in text
    assert "By purchased lot" in text
    assert "Charge sheet (PDF)" not in text
