"""How a result looks and sounds: size, contrast, shape and tone; touch; the switch for sound."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest
from browser.browsing import SIZES, browser, keep_picture
from browser.scan_desk import Desk, asking, desk_at_work, person_at, saying, until
from browser.typed_keys import type_scan as scan
from playwright.sync_api import Browser, Page, expect

pytestmark = pytest.mark.browser

TONES = ("good", "ask", "stop", "note")

CONTRAST = """part => {
    const parts = color => color.match(/[0-9.]+/g).map(Number);
    const ground = of => {
        for (; of; of = of.parentElement) {
            const [r, g, b, a] = parts(getComputedStyle(of).backgroundColor);
            if (a === undefined || a > 0) return [r, g, b];
        }
        return [255, 255, 255];
    };
    const light = ([r, g, b]) => [r, g, b].map(c => c / 255)
        .map(c => c <= 0.04045 ? c / 12.92 : ((c + 0.055) / 1.055) ** 2.4)
        .reduce((sum, c, at) => sum + c * [0.2126, 0.7152, 0.0722][at], 0);
    const [one, two] = [light(parts(getComputedStyle(part).color)), light(ground(part))];
    return (Math.max(one, two) + 0.05) / (Math.min(one, two) + 0.05);
}"""
"""Contrast ratio of a part's text on its ground (WCAG 2.1, relative luminance and 1.4.3)."""

RECORDER = """
window.heard = [];
class Param { setValueAtTime() {} exponentialRampToValueAtTime() {} }
class Source {
    frequency = {set value(pitch) { window.heard.push(pitch); }};
    connect(next) { return next; }
    start() {} stop() {}
}
window.AudioContext = class {
    state = 'running'; currentTime = 0; destination = {};
    createOscillator() { return new Source(); }
    createGain() { return {gain: new Param(), connect: next => next}; }
};
"""


@pytest.fixture(scope="module")
def running() -> Iterator[Browser]:
    with browser() as started:
        yield started


@pytest.fixture
def desk() -> Iterator[Desk]:
    with desk_at_work() as served:
        for tone in TONES:
            served.answers[tone] = saying(tone, tone.upper())
        yield served


def shown(page: Page, tone: str) -> None:
    scan(page, tone)
    expect(page.locator("#said .word")).to_have_text(tone.upper())


@pytest.mark.parametrize("scheme", ["light", "dark"])
@pytest.mark.parametrize("size", ["bench", "phone"])
def test_a_result_is_large_in_high_contrast_and_fits(
    running: Browser, desk: Desk, size: str, scheme: str, tmp_path: Path
) -> None:
    width, height = SIZES[size]
    settings = {"viewport": {"width": width, "height": height}, "color_scheme": scheme}
    least = 40 if size == "bench" else 32
    desk.answers["ask"] = asking("the first of two long names of a part", "the second")
    with person_at(running, **settings) as person:
        page = person.new_page()
        page.goto(desk.address)
        looks = set()
        for tone in TONES:
            scan(page, tone)
            expect(page.locator("#said")).to_have_class(f"said tone-{tone}")
            word = page.locator("#said .word")
            assert word.evaluate("part => parseFloat(getComputedStyle(part).fontSize)") >= least
            for part in page.locator("#said .word, #said .line, #said .offer, #last b").all():
                assert part.evaluate(CONTRAST) >= 4.5
            shape = page.locator("#said .shape")
            box = shape.bounding_box()
            assert box is not None
            assert box["width"] >= 40
            looks.add(shape.evaluate("part => getComputedStyle(part).maskImage"))
            keep_picture(page, tmp_path, f"{size}-{scheme}-{tone}")
        assert len(looks) == len(TONES)
        assert page.evaluate("document.documentElement.scrollWidth") <= width


def test_a_long_word_and_a_long_text_stay_in_the_window(running: Browser, desk: Desk) -> None:
    desk.answers["long"] = saying("stop", "W" * 60, detail="9" * 300)
    with person_at(running, viewport={"width": 390, "height": 844}) as person:
        page = person.new_page()
        page.goto(desk.address)
        scan(page, "long")
        expect(page.locator("#said .word")).to_have_text("W" * 60)
        assert page.evaluate("document.documentElement.scrollWidth") <= 390


def test_each_tone_sounds_different_and_the_switch_is_remembered(
    running: Browser, desk: Desk
) -> None:
    with person_at(running) as person:
        person.add_init_script(RECORDER)
        page = person.new_page()
        page.goto(desk.address)
        heard = []
        for tone in TONES:
            page.evaluate("window.heard = []")
            shown(page, tone)
            heard.append(tuple(page.evaluate("window.heard")))
        assert len(set(heard)) == len(TONES)
        assert all(heard)
        page.get_by_role("button", name="Sound on").click()
        page.reload()
        switch = page.get_by_role("button", name="Sound off")
        expect(switch).to_have_attribute("aria-pressed", "false")
        page.wait_for_timeout(1000)  # the same text at once would be one scan
        shown(page, "good")
        assert page.evaluate("window.heard") == []


@pytest.mark.parametrize(
    "broken",
    [
        "delete window.AudioContext; delete window.webkitAudioContext;",
        "window.AudioContext = class { constructor() { throw new Error('no device'); } };",
    ],
)
def test_no_audio_is_no_trouble(running: Browser, desk: Desk, broken: str) -> None:
    with person_at(running) as person:
        person.add_init_script(broken)
        page = person.new_page()
        page.goto(desk.address)
        shown(page, "good")
        page.get_by_role("button", name="Sound on").click()
        shown(page, "stop")


def test_a_phone_is_not_covered_by_its_keyboard_and_still_takes_scans(
    running: Browser, desk: Desk
) -> None:
    with person_at(
        running, viewport={"width": 390, "height": 844}, has_touch=True, is_mobile=True
    ) as person:
        page = person.new_page()
        page.goto(desk.address)
        assert page.evaluate("document.activeElement.id") == ""
        scan(page, "good")  # a scanner that is paired with the phone
        until(lambda: desk.texts == ["good"], page)
        assert page.locator("#scan-text").evaluate("box => box.inputMode") == "none"
        page.locator("#scan-text").tap()
        assert page.locator("#scan-text").evaluate("box => box.inputMode") == ""


def test_the_box_is_left_off_the_paper(running: Browser, desk: Desk) -> None:
    with person_at(running) as person:
        page = person.new_page()
        page.goto(desk.address)
        shown(page, "good")
        page.emulate_media(media="print")
        for part in ("#scan", "#said", "#last", "#sound"):
            expect(page.locator(part)).to_be_hidden()
        expect(page.locator("#work")).to_be_visible()


def test_results_are_told_to_screen_readers_and_nothing_moves_for_those_who_want_rest(
    running: Browser, desk: Desk
) -> None:
    with person_at(running, reduced_motion="reduce") as person:
        page = person.new_page()
        page.goto(desk.address)
        shown(page, "ask")
        assert page.locator("#said").get_attribute("aria-live") == "assertive"
        word = page.locator("#said .word")
        assert word.evaluate("part => getComputedStyle(part).transitionDuration") == "0s"
