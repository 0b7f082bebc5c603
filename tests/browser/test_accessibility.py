"""Every page for everybody: by keyboard, by touch, by ear, enlarged, in any colours.

axe-core looks for what WCAG 2.1 A and AA and good practice ask for; page_checks.py for the rest.
All pages are opened once, in one sweep; each test says one thing of all of them.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator
from io import BytesIO
from itertools import combinations
from pathlib import Path

import pytest
from browser import page_checks
from browser.browsing import SIZES, browser
from browser.full_shop import FullShop, Place, door, full_shop
from browser.page_checks import axe_faults, order_faults
from browser.station_desk import wait_until
from browser.typed_keys import type_scan
from PIL import Image, ImageChops
from playwright.sync_api import Browser, Page, Response, expect
from staff import CLERK, OWNER, PASSWORDS, badge_of

from coretrack import clock
from coretrack.actions import first_owner

pytestmark = pytest.mark.browser

BENCH, PHONE = SIZES["bench"], SIZES["phone"]
HALF_BENCH = (BENCH[0] // 2, BENCH[1] // 2)
"""The station's screen at 200 %."""

TONES = ("good", "ask", "stop", "note")
OF_SIZE_AND_COLOUR = [
    "aria-hidden-focus",
    "color-contrast",
    "link-in-text-block",
    "region",
    "scrollable-region-focusable",
    "skip-link",
]
"""The rules of axe whose answer may be another one in another window and in the dark."""


Faults = dict[str, list[str]]


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
    page = running.new_page(reduced_motion="reduce")
    page.set_default_timeout(20_000)
    yield page
    page.close()


def look(page: Page, size: tuple[int, int], scheme: str) -> None:
    page.set_viewport_size({"width": size[0], "height": size[1]})
    page.emulate_media(color_scheme="dark" if scheme == "dark" else "light")


def inspect(page: Page, name: str, faults: Faults) -> None:
    """Note the faults of a page, by kind; it is left on a phone in the dark."""

    def note(kind: str, found: list[str]) -> None:
        faults[kind] += [f"{name}: {fault}" for fault in found]

    note("axe", axe_faults(page))
    note("plain", page.evaluate(page_checks.PLAIN))
    note("focus", page.evaluate(page_checks.FOCUS))
    note("order", order_faults(page))
    note("rest", page.evaluate(page_checks.MOVES))
    look(page, HALF_BENCH, "dark")
    note("zoom", page.evaluate(page_checks.PLAIN))
    note("focus", page.evaluate(page_checks.FOCUS))
    look(page, PHONE, "dark")
    note("axe", axe_faults(page, OF_SIZE_AND_COLOUR))
    note("plain", page.evaluate(page_checks.PLAIN))
    note("touch", page.evaluate(page_checks.TOUCH))


@pytest.fixture(scope="module")
def faults(shop: FullShop, window: Page) -> Faults:
    """What is wrong with the pages, by kind."""
    found: Faults = defaultdict(list)
    for place in shop.places:
        look(window, BENCH, "light")
        answer = window.goto(shop.address(place))
        assert answer is not None
        assert answer.status == place.status, place
        inspect(window, place.name, found)
    return found


def test_axe_finds_nothing_in_light_and_dark_on_the_bench_and_on_the_phone(faults: Faults) -> None:
    assert faults["axe"] == []


def test_names_captions_ids_and_sizes_of_text_are_there_and_no_page_scrolls_sideways(
    faults: Faults,
) -> None:
    assert faults["plain"] == []


def test_at_200_percent_everything_fits(faults: Faults) -> None:
    assert faults["zoom"] == []


def test_the_focus_is_seen_on_everything_that_takes_it(faults: Faults) -> None:
    assert faults["focus"] == []


def test_tab_reaches_everything_in_the_order_of_sight_and_leaves_again(faults: Faults) -> None:
    assert faults["order"] == []


def test_what_is_pressed_is_high_enough_for_a_glove(faults: Faults) -> None:
    assert faults["touch"] == []


def test_nothing_moves_for_those_who_want_rest(faults: Faults) -> None:
    assert faults["rest"] == []


def show_tone(page: Page, tone: str) -> None:
    """Show a result of this tone, with offers and earlier ones, as an answer of the server does."""
    page.evaluate(
        """tone => {
            const told = {tone, word: tone.toUpperCase(), line: 'what was done', at: '10:20:00'};
            station.show.reply({...told, offers: [{text: 'one way', scan: '1'}]}, 'k');
            station.show.lastFive([told, told]);
        }""",
        tone,
    )


def test_a_result_of_every_tone_passes_and_so_does_what_waits_for_the_server(
    shop: FullShop, window: Page
) -> None:
    window.goto(shop.address(shop.place("delivery, work")))
    wrong = []
    for scheme in ("light", "dark"):
        look(window, BENCH, scheme)
        for tone in TONES:
            show_tone(window, tone)
            wrong += axe_faults(window, ["color-contrast"], within=".scanning")
    window.route("**/receiving/scan", lambda route: route.abort())
    type_scan(window, "GP-1040")
    expect(window.locator("#queue")).to_be_visible()
    wrong += axe_faults(window)
    wrong += window.evaluate(page_checks.FOCUS)
    window.evaluate("localStorage.clear()")
    window.goto("about:blank")
    window.unroute("**/receiving/scan")
    assert wrong == []


def outline_of(shown: bytes) -> Image.Image:
    """Return the shape in a picture as black on white, whatever its colours and grounds are."""
    grey = Image.open(BytesIO(shown)).convert("L").resize((64, 64))
    ground = grey.getpixel((1, 1))
    assert isinstance(ground, int)
    return grey.point(lambda value: 0 if abs(value - ground) > 40 else 255)


def share_that_differs(one: Image.Image, other: Image.Image) -> float:
    differing = ImageChops.difference(one, other).histogram()[255]
    return differing / (one.width * one.height)


@pytest.mark.parametrize("forced", ["none", "active"])
def test_tones_differ_by_shape_without_any_colour(
    shop: FullShop, window: Page, forced: str
) -> None:
    window.goto(shop.address(shop.place("delivery, work")))
    look(window, BENCH, "light")
    window.emulate_media(forced_colors="active" if forced == "active" else "none")
    shapes = {}
    for tone in TONES:
        show_tone(window, tone)
        shapes[tone] = outline_of(window.locator("#said .shape").screenshot())
    window.emulate_media(forced_colors="none")
    for one, other in combinations(TONES, 2):
        assert share_that_differs(shapes[one], shapes[other]) > 0.08, (one, other)


@pytest.mark.parametrize("forced", ["none", "active"])
def test_states_differ_by_shape_without_any_colour(
    shop: FullShop, window: Page, forced: str
) -> None:
    window.goto(shop.address(shop.place("lists, customer")))
    look(window, BENCH, "light")
    window.emulate_media(forced_colors="active" if forced == "active" else "none")
    shapes = {}
    for kind in ("good", "wait", "ask", "stop"):
        chip = window.locator(".chip").first
        chip.evaluate("(chip, kind) => { chip.className = 'chip ' + kind; }", kind)
        box = chip.bounding_box()
        assert box is not None
        left = {"x": box["x"] - 3, "y": box["y"], "width": 20, "height": box["height"]}
        shapes[kind] = outline_of(window.screenshot(clip=left))
    window.emulate_media(forced_colors="none")
    for one, other in combinations(shapes, 2):
        assert share_that_differs(shapes[one], shapes[other]) > 0.05, (one, other)


def test_the_skip_link_comes_first_and_leads_to_the_work(shop: FullShop, window: Page) -> None:
    window.goto(shop.address(shop.place("lists, hold")))
    look(window, BENCH, "light")
    window.evaluate(page_checks.FOLLOW)
    window.keyboard.press("Tab")
    skip = window.locator(".skip")
    expect(skip).to_be_focused()
    box = skip.bounding_box()
    assert box is not None
    assert box["x"] >= 0
    window.keyboard.press("Enter")
    window.keyboard.press("Tab")
    expect(window.get_by_role("link", name="All lists")).to_be_focused()


WRONG = (
    ("receiving", {"#f-customer": "nobody", "#f-pieces": "x"}, "Begin the delivery"),
    ("delivery, work", {"#f-mass": "heavy"}, "Keep what is typed"),
    ("lots", {"#f-source": "zz", "#f-price": "abc"}, "Begin the lot"),
    ("lists, line 4177", {"#waived-units": "99"}, "Waive these units"),
    ("lists, core excess", {"#buy-price": "12,5,0"}, "Buy it"),
    ("labels", {"#first": "x"}, "Print from the browser"),
    ("labels, settings", {"#hold_days": "x"}, "Store"),
    ("labels, cards", {"#place-last": "x"}, "Make them"),
    ("files, sale", {"#f-quantity": "x"}, "Store the sale"),
    ("lamp and bath", {"#check-bath-concentration": "thick"}, "Keep this check"),
    ("gauge", {"#register-resolution": "fine"}, "Change"),
    ("plan", {"#c0-usable": "24.0 to"}, "Save as a new version"),
    ("wash", {"#f-count": "x"}, "Counted: into the wash"),
    ("people", {"#name": "Kit Orme", "#password": "short"}, "Add"),
)
"""Forms sent with something wrong in them: the page, what is typed, which button."""


def answers_the_button(answer: Response) -> bool:
    """Whether this answers the form's button, not what the page keeps by itself."""
    return answer.request.method == "POST" and answer.request.is_navigation_request()


@pytest.mark.parametrize(("name", "typed", "button"), WRONG, ids=[name for name, *_ in WRONG])
def test_a_wrong_form_says_at_its_field_what_is_wrong_and_keeps_what_was_typed(
    shop: FullShop, window: Page, name: str, typed: dict[str, str], button: str
) -> None:
    owned = Place(name, "owner", "/receiving/lists/line?line=4177/1")
    place = owned if name.endswith("4177") else shop.place(name)
    look(window, BENCH, "light")
    window.goto(shop.address(place))
    window.evaluate("document.querySelectorAll('details').forEach(part => { part.open = true; })")
    for field, text in typed.items():
        window.fill(field, text)
    with window.expect_response(answers_the_button) as sent:
        window.get_by_role("button", name=button, exact=True).last.click()
    assert sent.value.status == 422
    window.wait_for_load_state()
    expect(window.get_by_role("alert").first).to_be_visible()
    wrong = window.locator("[aria-invalid=true]")
    assert wrong.count() >= 1
    for field in wrong.all():
        described = (field.get_attribute("aria-describedby") or "").split()
        assert any(window.locator(f"[id='{part}']").inner_text().strip() for part in described)
    # The large panel says it, and the cursor is in the first field that is wrong.
    expect(window.locator("#said .word")).to_have_text("NOT STORED")
    expect(window.locator("#said .line")).not_to_be_empty()
    expect(wrong.first).to_be_focused()
    expect(wrong.first).to_be_in_viewport()
    secret = {field for field in typed if "password" in field}
    for field in typed.keys() - secret:
        expect(window.locator(field)).to_have_value(typed[field])
    found = axe_faults(window) + window.evaluate(page_checks.PLAIN)
    look(window, PHONE, "dark")
    found += window.evaluate(page_checks.PLAIN) + axe_faults(window, ["color-contrast"])
    assert found == []


def test_signing_in_badge_lock_and_what_is_still_yours(shop: FullShop, window: Page) -> None:
    found: Faults = defaultdict(list)

    def seen(name: str, heading: str) -> None:
        expect(window.get_by_role("heading", name=heading).first).to_be_visible()
        inspect(window, name, found)
        look(window, BENCH, "light")

    look(window, BENCH, "light")
    with door() as where:
        window.goto(f"{where}/sign-in")
        seen("sign in", "Sign in")
        window.get_by_label("Name, or scan").fill(CLERK)
        window.get_by_role("button", name="Sign in").click()
        seen("sign in, wrong", "Sign in")
        window.goto(f"{where}/sign-in")
        window.get_by_label("Name, or scan").fill(badge_of(CLERK, clock.now()))
        window.keyboard.press("Enter")
        seen("badge", "Badge")
        window.goto(f"{where}/sign-in")
        window.get_by_label("Name, or scan").fill(OWNER)
        window.get_by_label("Password").fill(PASSWORDS[OWNER])
        window.keyboard.press("Enter")
        window.wait_for_url("**/office/")
        window.goto(f"{where}/people/")
        window.evaluate(
            "document.getElementById('work').innerHTML = '<span class=\"chip ask\">asked</span>'"
        )
        # The styles of the door come along for the lock; they are not those of the station.
        expect(window.locator("#work .chip")).to_have_css("display", "inline-flex")
        window.get_by_role("button", name="Lock").click()
        expect(window.locator("dialog.lock")).to_be_visible()
        found["axe"] += axe_faults(window, within="dialog.lock")
        window.goto(f"{where}/unlock")
        seen("lock", "Locked")
    assert not any(found.values()), dict(found)


def test_the_first_owners_page(
    shop: FullShop, window: Page, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(first_owner, "needs_first_owner", lambda: True)
    found: Faults = defaultdict(list)
    look(window, BENCH, "light")
    with door() as where:
        window.goto(f"{where}/first-owner")
        expect(window.get_by_label("Your name")).to_be_visible()
        inspect(window, "first owner", found)
    assert not any(found.values()), dict(found)


def test_a_form_that_lay_open_too_long_is_shown_again_to_everybody(
    shop: FullShop, window: Page
) -> None:
    look(window, BENCH, "light")
    window.goto(shop.address(shop.place("receiving")))
    window.fill("#f-note", "wet box, two bags")
    window.evaluate(
        "document.querySelectorAll('[name=csrf_token]').forEach(part => { part.value = 'old'; })"
    )
    window.get_by_role("button", name="Begin the delivery").click()
    wait_until(window, "document.body.innerText.includes('wet box, two bags')")
    found: Faults = defaultdict(list)
    inspect(window, "still yours", found)
    assert not any(found.values()), dict(found)
