"""A rack of crack checks by keyboard and scanner alone, a mark on the body, and the dark booth.

The booth's pages are measured pixel by pixel; their pictures lie in pytest's folder for this run.
"""

from __future__ import annotations

from collections.abc import Iterator
from io import BytesIO
from pathlib import Path

import pytest
from bench_desk import GOOD_BODY, bodies, order
from browser.browsing import SIZES, browser, keep_picture
from browser.full_shop import casting
from browser.page_checks import axe_faults
from browser.station_desk import (
    agree,
    desk,
    nothing_differs,
    said,
    scan,
    serving,
    station_app,
    type_scan,
    wait_until,
    word,
    yard_today,
)
from core_yard import Yard
from databases import TestDatabase
from PIL import Image
from playwright.sync_api import Browser, Page, expect

from coretrack.actions import body_pictures, photos
from coretrack.actions.bench_hand import hand_of
from coretrack.records.database import connection
from coretrack.web.here import SignedIn

pytestmark = pytest.mark.browser

BELA = SignedIn("Bela Quirke", "inspector", "booth")
OWNER = SignedIn("Ilse Thornby", "owner", "booth")
RACK = 24

BRIGHTEST = 200
"""The most of any channel that a page of the booth may show; see static/booth.css."""

MOST_LUMINANCE = 0.22
"""The most relative luminance (WCAG 2) of any of its pixels."""


@pytest.fixture
def yard(sqlite_db: TestDatabase) -> Yard:
    return yard_today()


@pytest.fixture(scope="module")
def running() -> Iterator[Browser]:
    with browser() as started:
        yield started


def ready(page: Page) -> None:
    """Wait until the scan box has the keys."""
    wait_until(page, "!!document.activeElement && document.activeElement.id === 'scan-text'")


def store(page: Page) -> None:
    """Say yes to storing, which leads back to all racks."""
    page.wait_for_timeout(600)
    page.keyboard.press("Enter")
    page.wait_for_url("**/bench/racks/")
    expect(page.locator("#said .word")).to_have_text("STORED")


def entry(tag: str) -> str:
    """Return the result of what is typed of a core."""
    with connection():
        return "; ".join(each.result for each in hand_of(tag).entries)


def test_a_rack_of_24_with_two_exceptions_by_keyboard_and_scanner_alone(
    yard: Yard, running: Browser, tmp_path: Path
) -> None:
    tags = bodies(yard, RACK + 1)
    with serving(station_app(BELA)) as server, desk(running, f"{server.address}/bench/racks/") as p:
        ready(p)
        type_scan(p, tags[0])
        p.wait_for_url("**/bench/racks/rack?code=R-0001")
        ready(p)
        assert word(p) == "1 IN"
        for place, tag in enumerate(tags[1:RACK], start=2):
            assert scan(p, tag) == f"{place} IN"
        p.wait_for_timeout(1100)
        assert scan(p, tags[RACK - 1]) == "ALREADY IN"
        assert scan(p, tags[RACK]) == f"{RACK + 1} IN"
        assert scan(p, order("undo")) == "TAKEN OUT"
        assert scan(p, order("done")) == "COUNT"
        assert scan(p, str(RACK - 1)) == "COUNT AGAIN"
        assert "1 core is not in the rack; look for it" in said(p)
        assert agree(p) == "COUNT"
        assert scan(p, str(RACK)) == f"{RACK} COUNTED"

        assert scan(p, tags[4]) == "UNSURE"
        assert scan(p, order("indication")) == "INDICATION"
        assert scan(p, "indication linear 4 mm at the seat") == "INDICATION"
        assert scan(p, tags[9]) == "UNSURE"
        assert scan(p, tags[RACK]) == "NOT IN IT"
        keep_picture(p, tmp_path, "rack")
        assert scan(p, order("done")) == "STORE?"
        assert "22 with no indication, 1 with an indication, 1 unsure" in said(p)
        assert all(entry(tag) == "" for tag in tags)
        store(p)

        assert [tag for tag in tags if entry(tag) == "none"] == [
            tag for tag in tags[:RACK] if tag not in (tags[4], tags[9])
        ]
        for tag, verdict in ((tags[0], "KEEP"), (tags[4], "SCRAP"), (tags[9], "UNDECIDED")):
            p.goto(f"{server.address}/bench/core?tag={tag}")
            ready(p)
            for text in (*GOOD_BODY[:5], "A"):
                scan(p, text)
            assert agree(p) == verdict
    assert entry(tags[RACK]) == ""
    assert [yard.core(f"B{place}").state for place in (1, 5, 10)] == [
        "good",
        "scrapped",
        "undecided",
    ]
    assert nothing_differs()


def test_leaving_the_rack_and_coming_back_at_another_station_goes_on(
    yard: Yard, running: Browser
) -> None:
    tags = bodies(yard, 3)
    with serving(station_app(BELA)) as server, desk(running, f"{server.address}/bench/racks/") as p:
        ready(p)
        type_scan(p, tags[0])
        p.wait_for_url("**/rack?code=R-0001")
        ready(p)
        scan(p, tags[1])
    una = SignedIn("Una Pryor", "inspector", "booth 2")
    with serving(station_app(una)) as server, desk(running, f"{server.address}/bench/racks/") as p:
        ready(p)
        type_scan(p, tags[1])
        p.wait_for_url("**/rack?code=R-0001")
        ready(p)
        assert scan(p, tags[2]) == "3 IN"
        scan(p, order("done"))
        scan(p, "3")
        p.reload()
        ready(p)
        assert word(p) == "3 COUNTED"
        assert scan(p, order("done")) == "STORE?"
        store(p)
    assert [entry(tag) for tag in tags] == ["none"] * 3


def body_picture(yard: Yard) -> None:
    told = {"by": "Ilse Thornby", "station": "", "now": yard.now, "key": "body"}
    body_pictures.add_picture(casting(4, 170), "GPB", **told)


def mark_of(page: Page) -> tuple[str, str]:
    return page.input_value("#crack-x"), page.input_value("#crack-y")


def test_an_indication_is_marked_on_the_body_by_keyboard_and_by_click(
    yard: Yard, running: Browser, tmp_path: Path
) -> None:
    body_picture(yard)
    (tag,) = bodies(yard, 1)
    with (
        serving(station_app(BELA)) as server,
        desk(running, f"{server.address}/bench/core?tag={tag}") as p,
    ):
        ready(p)
        scan(p, "#crack")
        assert scan(p, order("indication")) == "CRACK"
        p.locator("#crack-kind").focus()
        p.keyboard.type("lin")
        p.keyboard.press("Tab")
        p.keyboard.type("4,5", delay=80)
        p.keyboard.press("Tab")
        p.keyboard.type("2", delay=80)
        assert mark_of(p) == ("500", "167")
        p.locator("#body-mark").focus()
        for key in ("ArrowDown", "ArrowDown", "Shift+ArrowLeft", "ArrowRight"):
            p.keyboard.press(key)
        assert mark_of(p) == ("410", "187")
        expect(p.locator("#mark-said")).to_have_text("Marked 410 across, 187 down: zone 2.")
        p.keyboard.press("Delete")
        assert mark_of(p) == ("", "")
        box = p.locator("#body-mark image").bounding_box()
        assert box is not None
        p.mouse.click(box["x"] + box["width"] / 4, box["y"] + box["height"] / 2)
        # A pixel of the picture is some thousandths wide.
        clicked = [int(text) for text in mark_of(p)]
        assert clicked == pytest.approx([250, 500], abs=6)
        keep_picture(p, tmp_path, "mark")
        p.keyboard.press("ArrowRight")
        p.keyboard.press("Enter")
        told = p.locator("main .flash", has_text="TOLD")
        expect(told).to_contain_text("linear, 4.5 mm, marked in zone 4")
        ready(p)
        assert agree(p) == "SCRAP"
        p.goto(f"{server.address}/cores/core?tag={tag}")
        shape = p.locator(".shown-body .crack-mark")
        at = (clicked[0] + 10, clicked[1] * 750 // 1000)
        expect(shape).to_have_attribute("transform", f"translate({at[0]} {at[1]})")
        keep_picture(p, tmp_path, "core")
    (stored,) = [d for event, d in yard.history("core", tag) if event == "inspected"]
    (reading,) = [each for each in stored["readings"] if each["check"] == "crack"]
    assert (reading["crack"]["x"], reading["crack"]["y"]) == (clicked[0] + 10, clicked[1])
    assert reading["crack"]["micro_mm"] == 4_500_000


def test_a_scan_made_while_the_picture_has_the_keys_goes_to_the_scan_box(
    yard: Yard, running: Browser
) -> None:
    body_picture(yard)
    tag, other = bodies(yard, 2)
    with (
        serving(station_app(BELA)) as server,
        desk(running, f"{server.address}/bench/core?tag={tag}") as p,
    ):
        ready(p)
        scan(p, "#crack")
        scan(p, "indication")
        for place in ("#body-mark", "#crack-place", "#crack-x"):
            p.locator(place).focus()
            assert scan(p, other) == "OTHER CORE"
            p.wait_for_timeout(1100)
        assert mark_of(p) == ("", "")
        assert p.input_value("#crack-place") == ""


def brightest(shown: bytes) -> tuple[int, float]:
    """Return the most of any channel, and the most relative luminance of a picture's pixels."""
    picture = Image.open(BytesIO(shown)).convert("RGB")
    colours = picture.getcolors(maxcolors=picture.width * picture.height)
    assert colours is not None
    seen = [colour for _, colour in colours if isinstance(colour, tuple)]
    return max(max(colour) for colour in seen), max(luminance(*colour) for colour in seen)


def luminance(*channels: int) -> float:
    """Return the relative luminance of a colour, as WCAG 2 defines it."""
    linear = [
        value / 12.92 if value <= 0.04045 else ((value + 0.055) / 1.055) ** 2.4
        for value in (channel / 255 for channel in channels)
    ]
    red, green, blue = linear
    return 0.2126 * red + 0.7152 * green + 0.0722 * blue


def too_bright(page: Page, name: str, folder: Path) -> list[str]:
    """Return where the page is brighter than the booth allows, in its sizes and schemes."""
    wrong = []
    for size, scheme in (("bench", "light"), ("bench", "dark"), ("phone", "light")):
        width, height = SIZES[size]
        page.set_viewport_size({"width": width, "height": height})
        page.emulate_media(color_scheme="dark" if scheme == "dark" else "light")
        shown = keep_picture(page, folder, f"booth-{name}-{size}-{scheme}").read_bytes()
        channel, most = brightest(shown)
        if channel > BRIGHTEST or most > MOST_LUMINANCE:
            wrong.append(f"{name}, {size}, {scheme}: {channel} of 255, luminance {most:.3f}")
    page.set_viewport_size({"width": SIZES["bench"][0], "height": SIZES["bench"][1]})
    return wrong


CONTROLS = """() => {
    const part = document.createElement('form');
    for (const type of ['text', 'number', 'date', 'checkbox', 'radio', 'file', 'range', 'search']) {
        const field = document.createElement('input');
        field.type = type;
        if (field.type === 'checkbox' || field.type === 'radio') field.checked = true;
        if (type === 'text') field.placeholder = 'not measured';
        part.append(field);
    }
    const area = document.createElement('textarea');
    area.value = 'many words\\n'.repeat(40);
    const list = document.createElement('select');
    list.size = 3;
    list.append(new Option('one'), new Option('two', '', true, true), new Option('three'));
    const link = document.createElement('a');
    link.href = '/bench/';
    link.textContent = 'a link';
    part.append(area, list, link, document.createElement('progress'));
    document.getElementById('work').append(part);
    getSelection().selectAllChildren(document.querySelector('h1'));
}"""


def test_no_page_of_the_booth_has_a_pixel_brighter_than_its_theme_allows(
    yard: Yard, running: Browser, tmp_path: Path
) -> None:
    body_picture(yard)
    tags = bodies(yard, 6)
    white = BytesIO()
    Image.new("RGB", (600, 400), "white").save(white, "JPEG")
    told = {"by": "Bela Quirke", "station": "", "now": yard.now}
    photos.add_photo(white.getvalue(), "core", tags[0], "fault", **told)
    wrong: list[str] = []
    with (
        serving(station_app(OWNER)) as server,
        desk(running, f"{server.address}/bench/racks/") as p,
    ):
        page_of = server.address + "/bench"
        p.get_by_role("button", name="Booth: dark").focus()
        p.keyboard.press("Enter")
        expect(p.locator("html.booth")).to_have_count(1)
        ready(p)
        wrong += too_bright(p, "racks", tmp_path)
        type_scan(p, tags[0])
        p.wait_for_url("**/rack?code=R-0001")
        ready(p)
        for tag in tags[1:]:
            scan(p, tag)
        for tone, text in (("count", "done"), ("wrong", "5"), ("right", "6"), ("ask", tags[1])):
            scan(p, text)
            wrong += too_bright(p, f"rack-{tone}", tmp_path)
        scan(p, order("indication"))
        wrong += too_bright(p, "rack-stop", tmp_path)
        p.goto(f"{page_of}/core?tag={tags[2]}")
        ready(p)
        wrong += too_bright(p, "inspect", tmp_path)
        scan(p, "#crack")
        scan(p, "indication")
        p.locator("#body-mark").focus()
        p.keyboard.press("ArrowUp")
        wrong += too_bright(p, "crack", tmp_path)
        p.evaluate(CONTROLS)
        wrong += too_bright(p, "controls", tmp_path)
        for name, address in (
            ("process", "/bench/process/"),
            ("home", "/bench/"),
            ("pictures", "/plans/pictures/"),
            ("core", f"/cores/core?tag={tags[0]}"),
            ("photos", f"/photos/new?kind=core&key={tags[0]}"),
            ("washes", "/bench/washes/"),
            ("gauges", "/gauges/"),
            ("error", "/nowhere"),
        ):
            p.goto(server.address + address)
            p.evaluate("document.querySelectorAll('details').forEach(one => { one.open = true; })")
            p.evaluate("Promise.all([...document.images].map(one => one.decode().catch(() => 0)))")
            wrong += too_bright(p, name, tmp_path)
            wrong += [f"{name}: {fault}" for fault in axe_faults(p, ["color-contrast"])]
    assert wrong == []


def test_the_booth_shows_nothing_bright_between_two_pages(
    yard: Yard, running: Browser, tmp_path: Path
) -> None:
    """Hold each style back, as a slow line does, and look at what is shown meanwhile."""
    with serving(station_app(BELA)) as server, desk(running, f"{server.address}/bench/") as p:
        p.get_by_role("button", name="Booth: dark").click()
        expect(p.locator("html.booth")).to_have_count(1)
        shots: list[bytes] = []
        session = p.context.new_cdp_session(p)
        session.on(
            "Page.screencastFrame",
            lambda frame: (
                shots.append(_decoded(frame["data"])),
                session.send("Page.screencastFrameAck", {"sessionId": frame["sessionId"]}),
            ),
        )
        p.route("**/*.css", lambda route: (p.wait_for_timeout(60), route.continue_()))
        session.send("Page.startScreencast", {"format": "png", "everyNthFrame": 1})
        for path in ("/bench/racks/", "/bench/process/", "/bench/"):
            p.goto(server.address + path)
            p.wait_for_timeout(200)
        session.send("Page.stopScreencast")
    assert shots
    found = [brightest(shot) for shot in shots]
    assert max(channel for channel, _ in found) <= BRIGHTEST
    assert max(most for _, most in found) <= MOST_LUMINANCE


def _decoded(text: str) -> bytes:
    from base64 import b64decode

    return b64decode(text)
