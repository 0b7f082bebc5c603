"""Signing in in a real browser: name, badge, lock-out, the lock over a page, the first owner."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from datetime import timedelta

import pytest
from browser.browsing import SIZES, browser, served
from databases import TestDatabase
from flask import Flask
from playwright.sync_api import Browser, Page, expect
from sign_in_forms import shop_app
from small_shop import SmallShop
from staff import CLERK, INSPECTOR, OWNER, PASSWORDS, PIN, add_staff

from coretrack import clock
from coretrack.actions import signing_in
from coretrack.actions.setting_up import set_up_from_folder

pytestmark = pytest.mark.browser


@pytest.fixture(scope="module")
def running() -> Iterator[Browser]:
    with browser() as started:
        yield started


@pytest.fixture
def badge(sqlite_db: TestDatabase) -> str:
    """The badge of the clerk of a small shop with three people."""
    set_up_from_folder(SmallShop().folder, by=OWNER, now=clock.now())
    return add_staff(clock.now())


@pytest.fixture
def app(badge: str) -> Flask:
    return shop_app()


@contextmanager
def window(running: Browser, size: str = "bench", scheme: str = "light") -> Iterator[Page]:
    """Open a fresh browser, without cookies; a script that fails, fails the test."""
    width, height = SIZES[size]
    context = running.new_context(
        viewport={"width": width, "height": height},
        color_scheme="dark" if scheme == "dark" else "light",
    )
    page = context.new_page()
    trouble: list[str] = []
    page.on("pageerror", lambda error: trouble.append(str(error)))
    try:
        yield page
    finally:
        context.close()
    assert trouble == []


def sign_in(page: Page, where: str, name: str = OWNER) -> None:
    page.goto(f"{where}/sign-in")
    page.get_by_label("Name, or scan your badge").fill(name)
    page.get_by_label("Password").fill(PASSWORDS[name])
    page.keyboard.press("Enter")
    page.wait_for_url(lambda address: not address.endswith("/sign-in"))


def test_name_and_password_are_typed_by_keyboard_alone(running: Browser, app: Flask) -> None:
    with served(app) as where, window(running) as page:
        page.goto(f"{where}/people/")
        expect(page.get_by_label("Name, or scan your badge")).to_be_focused()
        page.keyboard.type(OWNER)
        page.keyboard.press("Tab")
        page.keyboard.type(PASSWORDS[OWNER])
        page.keyboard.press("Enter")
        expect(page).to_have_url(f"{where}/people/")
        expect(page.get_by_role("heading", level=1)).to_have_text("People")


def test_a_badge_is_scanned_and_its_pin_typed(running: Browser, app: Flask, badge: str) -> None:
    with served(app) as where, window(running) as page:
        page.goto(f"{where}/sign-in")
        expect(page.get_by_label("Name, or scan your badge")).to_be_focused()
        page.keyboard.type(badge)
        page.keyboard.press("Enter")
        expect(page.get_by_role("heading", level=2)).to_have_text(f"Badge {badge}")
        expect(page.get_by_label("PIN")).to_be_focused()
        page.keyboard.type(PIN)
        page.keyboard.press("Enter")
        expect(page).to_have_url(f"{where}/receiving/")


def test_five_wrong_passwords_shut_the_name_and_say_until_when(
    running: Browser, app: Flask
) -> None:
    with served(app) as where, window(running) as page:
        page.goto(f"{where}/sign-in")
        page.get_by_label("Name, or scan your badge").fill(CLERK)
        for _ in range(5):
            page.get_by_label("Password").fill("never the right one")
            page.keyboard.press("Enter")
            page.get_by_role("alert").wait_for()
            page.wait_for_load_state()
        expect(page.get_by_role("alert")).to_contain_text("shut until")
        page.get_by_label("Password").fill(PASSWORDS[CLERK])
        page.keyboard.press("Enter")
        expect(page.get_by_role("alert")).to_contain_text("shut until")


def test_the_lock_hides_the_page_and_keeps_what_was_typed(
    running: Browser, app: Flask, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(signing_in, "IDLE_UNIT", timedelta(seconds=0.4))
    with served(app) as where, window(running) as page:
        sign_in(page, where)
        page.goto(f"{where}/people/")
        page.get_by_label("Name").fill("Vera Lund")
        typed = page.locator("#name")
        # Typing alone keeps the page open, though nothing is sent: ten minutes are 4 s here.
        for _ in range(12):
            page.wait_for_timeout(500)
            page.keyboard.press("Shift")
        expect(typed).to_be_visible()
        cover = page.get_by_role("heading", name="Locked")
        expect(cover).to_be_visible(timeout=9000)
        expect(typed).to_be_hidden()
        expect(page.get_by_text(INSPECTOR)).to_be_hidden()
        for _ in range(2):
            page.keyboard.press("Escape")
        expect(cover).to_be_visible()
        expect(page.get_by_label("PIN or password")).to_be_focused()
        page.keyboard.type("never the right one")
        page.keyboard.press("Enter")
        expect(page.get_by_role("alert")).to_contain_text("not right")
        expect(page.get_by_label("PIN or password")).to_be_focused()
        page.keyboard.type(PASSWORDS[OWNER])
        page.keyboard.press("Enter")
        expect(cover).to_have_count(0)
        expect(typed).to_be_visible()
        expect(typed).to_have_value("Vera Lund")
        expect(typed).to_be_focused()
        page.get_by_label("Password").fill("five quiet lorries")
        page.get_by_role("button", name="Add").click()
        expect(page.get_by_text("Vera Lund: is clerk.")).to_be_visible()


def test_badge_and_pin_open_the_lock_and_no_key_reaches_the_page_under_it(
    running: Browser, app: Flask, badge: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(signing_in, "IDLE_UNIT", timedelta(seconds=0.2))
    with served(app) as where, window(running) as page:
        sign_in(page, where, CLERK)
        page.goto(f"{where}/receiving/")
        page.evaluate("document.addEventListener('keydown', () => { window.heard = true; })")
        cover = page.get_by_role("heading", name="Locked")
        expect(cover).to_be_visible(timeout=9000)
        page.keyboard.type(badge)
        page.keyboard.press("Enter")
        expect(page.get_by_role("alert")).to_contain_text("Now the PIN")
        expect(page.get_by_label("PIN or password")).to_be_focused()
        page.keyboard.type(PIN)
        page.keyboard.press("Enter")
        expect(cover).to_have_count(0)
        assert page.evaluate("window.heard") is None


def test_one_tab_unlocked_unlocks_the_other(
    running: Browser, app: Flask, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(signing_in, "IDLE_UNIT", timedelta(seconds=0.4))
    with served(app) as where, window(running) as page:
        sign_in(page, where)
        page.goto(f"{where}/people/")
        other = page.context.new_page()
        other.goto(f"{where}/office/")
        for tab in (page, other):
            expect(tab.get_by_role("heading", name="Locked")).to_be_visible(timeout=9000)
        other.get_by_label("PIN or password").fill(PASSWORDS[OWNER])
        other.keyboard.press("Enter")
        for tab in (other, page):
            expect(tab.get_by_role("heading", name="Locked")).to_have_count(0)


def test_a_locked_screen_opens_without_script_too(
    running: Browser, app: Flask, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(signing_in, "IDLE_UNIT", timedelta(seconds=0.2))
    with served(app) as where:
        context = running.new_context(java_script_enabled=False)
        page = context.new_page()
        sign_in(page, where)
        page.goto(f"{where}/people/")
        page.get_by_label("Name").fill("Vera Lund")
        page.get_by_label("Password").fill("five quiet lorries")
        page.wait_for_timeout(2500)
        page.get_by_role("button", name="Add").click()
        expect(page.get_by_role("heading", level=1)).to_have_text("Locked")
        page.get_by_label("PIN or password").fill(PASSWORDS[OWNER])
        page.keyboard.press("Enter")
        expect(page.get_by_role("heading", level=1)).to_have_text("Is this still yours?")
        expect(page.get_by_text("Vera Lund")).to_be_visible()
        page.get_by_label("Type again: password").fill("five quiet lorries")
        page.get_by_role("button", name="Send it now").click()
        expect(page.get_by_text("Vera Lund: is clerk.")).to_be_visible()
        context.close()


def test_the_first_owner_makes_the_shop_and_is_signed_in(
    running: Browser, sqlite_db: TestDatabase
) -> None:
    with served(shop_app()) as where, window(running) as page:
        page.goto(f"{where}/")
        expect(page).to_have_url(f"{where}/first-owner")
        for label, text in (
            ("The shop's name", "Tallow Yard"), ("Currency", "EUR"),
            ("Time zone", "Europe/Dublin"), ("Your name", OWNER),
        ):  # fmt: skip
            page.get_by_label(label).fill(text)
        page.get_by_label("Password", exact=True).fill("short")
        page.get_by_label("The same password again").fill("short")
        page.get_by_role("button", name="Begin").click()
        expect(page.get_by_text("The password is too short")).to_be_visible()
        expect(page.get_by_label("The shop's name")).to_have_value("Tallow Yard")
        page.get_by_label("Password", exact=True).fill(PASSWORDS[OWNER])
        page.get_by_label("The same password again").fill(PASSWORDS[OWNER])
        page.get_by_role("button", name="Begin").click()
        expect(page).to_have_url(f"{where}/office/")


@pytest.mark.parametrize(
    ("name", "allowed", "forbidden"),
    [
        (CLERK, ["/receiving/", "/cores/"], ["/office/", "/people/"]),
        (INSPECTOR, ["/cores/"], ["/office/", "/people/", "/receiving/"]),
        (OWNER, ["/office/", "/people/", "/receiving/", "/cores/"], []),
    ],
)
def test_each_role_opens_its_pages_and_is_told_about_the_others(
    running: Browser, app: Flask, name: str, allowed: list[str], forbidden: list[str]
) -> None:
    with served(app) as where, window(running) as page:
        sign_in(page, where, name)
        for address in allowed:
            answer = page.goto(where + address)
            assert answer is not None
            assert answer.status == 200, address
        for address in forbidden:
            answer = page.goto(where + address)
            assert answer is not None
            assert answer.status == 403, address
            expect(page.get_by_text("This page is for the")).to_be_visible()


@pytest.mark.parametrize("scheme", ["light", "dark"])
@pytest.mark.parametrize("size", list(SIZES))
def test_the_sign_in_fits_its_window_with_large_fields(
    running: Browser, app: Flask, size: str, scheme: str
) -> None:
    with served(app) as where, window(running, size, scheme) as page:
        page.goto(f"{where}/sign-in")
        assert page.evaluate("document.documentElement.scrollWidth") <= SIZES[size][0]
        for part in page.locator("main input:visible, main button").all():
            box = part.bounding_box()
            assert box is not None
            assert box["height"] >= 44
        sign_in(page, where)
        page.goto(f"{where}/people/")
        assert page.evaluate("document.documentElement.scrollWidth") <= SIZES[size][0]
