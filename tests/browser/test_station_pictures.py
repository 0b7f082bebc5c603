"""How the station's pages look: pictures for a person to judge, and what must be seen in them.

CORETRACK_PICTURES names a folder for the whole pages; without it only what a window shows is taken
and nothing is kept. On paper a list has its rows and nothing to press.
"""

from __future__ import annotations

import os
from collections.abc import Iterator
from pathlib import Path

import pytest
from browser.browsing import SIZES, browser, keep_picture
from browser.full_shop import FullShop, full_shop
from playwright.sync_api import Browser, Locator, Page
from pypdf import PdfReader

pytestmark = pytest.mark.browser

WIDTH, HEIGHT = SIZES["bench"]

PAPER = {
    "lists, lines": ("5 lines, 12 cores owed", "4163, 1", "72.00"),
    "lists, hold": ("Hold bin", "2000 0023 58", "over by 4 days"),
    "lists, customer": ("Ansell Hydraulics (ANSL)", "2000 0024 55", "What they owe"),
    "lists, credits": ("Credits to release", "Brodwell Counter", "48.00"),
    "delivery, work": ("Delivery D-0009", "5 of 8 stored", "2000 0021 64"),
    "delivery, closed": ("Delivery D-0005", "1 of 1 stored", "4171/1"),
    "lot, sorting": ("Lot CB 14-1", "GP-2080", "79.4 %"),
    "core": ("Core 2000 0023 58", "Visible crack", "Photo taken: fault."),
    "core, scrapped": ("Why this verdict?", "linear 4 mm at the seat", "Cost of this core so far"),
}
"""Pages that are printed, and what their paper says."""

PRESSED = (
    "Sign out", "Scan or type", "PART CREDIT 14.50", "Receiving Lists", "Show", "All lists",
    "Close the delivery", "Core in hand", "Put it there", "Release the ticked", "Receipt (PDF)",
)  # fmt: skip
"""What no paper says: the places to go, and what is pressed."""

LETTERS = """() => [...document.querySelectorAll('body *')]
    .filter(part => part.checkVisibility() && part.getBoundingClientRect().width > 1
        && [...part.childNodes].some(node => node.nodeType === 3 && node.textContent.trim()))
    .map(part => [parseFloat(getComputedStyle(part).fontSize), part.className, part.textContent])"""


@pytest.fixture(scope="module")
def running() -> Iterator[Browser]:
    with browser() as started:
        yield started


@pytest.fixture(scope="module")
def shop(migrated_file: Path, tmp_path_factory: pytest.TempPathFactory) -> Iterator[FullShop]:
    with full_shop(migrated_file, tmp_path_factory.mktemp("full") / "data") as served:
        yield served


@pytest.fixture(scope="module")
def window(running: Browser) -> Iterator[Page]:
    page = running.new_page(viewport={"width": WIDTH, "height": HEIGHT})
    page.set_default_timeout(20_000)
    yield page
    page.close()


def test_every_page_has_its_picture_in_both_sizes_and_schemes_and_fits(
    shop: FullShop, window: Page
) -> None:
    kept = os.environ.get("CORETRACK_PICTURES", "")
    wide, thin = [], []
    for place in shop.places:
        window.goto(shop.address(place))
        for size in ("bench", "phone"):
            width, height = SIZES[size]
            window.set_viewport_size({"width": width, "height": height})
            if window.evaluate("document.documentElement.scrollWidth") > width:
                wide.append((place.name, size))
            for scheme in ("light", "dark"):
                window.emulate_media(color_scheme="dark" if scheme == "dark" else "light")
                name = f"{place.name.replace(', ', '-').replace(' ', '-')}-{size}-{scheme}"
                if kept:
                    keep_picture(window, Path(kept), name)
                if len(window.screenshot()) < 4_000:
                    thin.append(name)
    assert (wide, thin) == ([], [])


def lowest(part: Locator) -> float:
    box = part.bounding_box()
    assert box is not None
    return box["y"] + box["height"]


@pytest.mark.parametrize("name", ["work", "excess in hand", "unknown in hand", "ask"])
def test_the_core_in_hand_and_its_outcome_are_in_sight_without_scrolling(
    shop: FullShop, window: Page, name: str
) -> None:
    window.set_viewport_size({"width": WIDTH, "height": HEIGHT})
    window.goto(shop.address(shop.place(f"delivery, {name}")))
    window.evaluate("scrollTo(0, 0)")
    for part in ("#said .line", ".hand .read .big >> nth=0", ".outcome .chip", ".outcome .primary"):
        assert lowest(window.locator(part)) <= HEIGHT, part


def test_the_result_and_the_outcome_are_the_largest_words(shop: FullShop, window: Page) -> None:
    window.set_viewport_size({"width": WIDTH, "height": HEIGHT})
    window.goto(shop.address(shop.place("delivery, work")))
    letters = sorted(window.evaluate(LETTERS), key=lambda told: -told[0])
    (first, name, _), (second, _, said) = letters[:2]
    assert name == "word"
    assert said == "PART CREDIT"
    assert first > second >= 36
    assert all(size < second for size, *_ in letters[2:])


@pytest.mark.parametrize("name", PAPER)
def test_a_page_prints_what_it_tells_and_nothing_to_press(
    shop: FullShop, window: Page, name: str, tmp_path: Path
) -> None:
    window.goto(shop.address(shop.place(name)))
    window.emulate_media(media="print", color_scheme="light")
    pressed = window.locator("button, .button, nav a, form .field, #scan, summary")
    shown = [part.inner_text() for part in pressed.all() if part.is_visible()]
    window.pdf(path=str(tmp_path / "page.pdf"), format="A4")
    window.emulate_media(media="screen")
    sheets = PdfReader(tmp_path / "page.pdf").pages
    text = " ".join(" ".join(sheet.extract_text() for sheet in sheets).split())
    assert shown == []
    assert [words for words in PAPER[name] if words not in text] == []
    assert [words for words in PRESSED if words in text] == []
    assert len(sheets) <= 2
