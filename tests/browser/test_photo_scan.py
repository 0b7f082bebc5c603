"""A phone as scanner: a photo of a label that was printed here opens its core."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date, timedelta
from io import BytesIO
from pathlib import Path

import pytest
from browser.browsing import browser
from browser.station_desk import (
    Server,
    agree,
    begin,
    desk,
    scan,
    serving,
    station_app,
    yard_today,
)
from databases import TestDatabase
from made_photos import Shot, bench_top, laid, phone_jpeg
from PIL import Image
from playwright.sync_api import Browser, expect

from coretrack.actions.printing import core_label
from coretrack.figures.labels import RollStock
from coretrack.figures.tags import show_tag
from coretrack.paper.label_files import layout_for, stock_named
from coretrack.paper.label_png import roll_png
from coretrack.records import queries
from coretrack.records.database import connection

pytestmark = pytest.mark.browser


@pytest.fixture(scope="module")
def running() -> Iterator[Browser]:
    with browser() as started:
        yield started


@pytest.fixture
def server(sqlite_db: TestDatabase) -> Iterator[Server]:
    yard = yard_today()
    day = date.today() - timedelta(days=5)  # noqa: DTZ011 - any day inside the window
    yard.sell("S-6", 6, day=day.isoformat())
    with serving(station_app()) as started:
        yield started


def photo_of_label(tag: str, folder: Path) -> Path:
    """Return a phone's photo of the core's roll label, as printed at 203 dpi."""
    with connection():
        core = queries.core(tag)
    assert core is not None
    stock = stock_named("roll-50x25")
    assert isinstance(stock, RollStock)
    picture = Image.open(BytesIO(roll_png(stock, layout_for(stock), core_label(core), 203)))
    path = folder / "photo.jpg"
    path.write_bytes(phone_jpeg(laid(bench_top(), picture, Shot(degrees=4))))
    return path


def test_a_photo_of_our_own_label_opens_its_core(
    running: Browser, server: Server, tmp_path: Path
) -> None:
    with desk(running, f"{server.address}/receiving/") as page:
        begin(page, server, "ANSL", 6, "S-6")
        scan(page, "GP-1040")
        agree(page)
        shown = page.locator("#work tbody th a").first.inner_text()
        tag = shown.replace(" ", "")
        photo = photo_of_label(tag, tmp_path)
    with desk(
        running,
        f"{server.address}/photos/scan",
        viewport={"width": 390, "height": 844},
        is_mobile=True,
        has_touch=True,
    ) as phone:
        phone.locator("input[type=file]").set_input_files(photo)
        phone.get_by_role("link", name="Open it").or_(
            phone.get_by_role("button", name="Read")
        ).first.wait_for()
        if phone.get_by_role("link", name="Open it").count() == 0:
            phone.get_by_role("button", name="Read").first.click()
        phone.get_by_role("link", name="Open it").click()
        expect(phone.locator("h1")).to_contain_text(show_tag(tag))


def test_a_photo_from_the_phone_lies_with_the_core_in_hand(
    running: Browser, server: Server, tmp_path: Path
) -> None:
    plain = tmp_path / "fault.jpg"
    Image.new("RGB", (1200, 900), "grey").save(plain)
    with desk(running, f"{server.address}/receiving/") as page:
        code = begin(page, server, "ANSL", 6, "S-6")
        scan(page, "GP-1040")
        scan(page, "2")
        expect(page.locator(".hand")).to_contain_text("0 photos")
        page.get_by_role("link", name="Take a photo").click()
        page.wait_for_load_state("load")  # the script that sends it is there
        page.locator("#photo").set_input_files(plain)
        page.get_by_text("1 photo", exact=False).or_(page.locator("img")).first.wait_for()
        page.goto(f"{server.address}/receiving/delivery?code={code}")
        expect(page.locator(".hand")).to_contain_text("1 photo")
        assert agree(page) == "PART CREDIT"
    with connection():
        (core,) = queries.cores_of_lot(code)
    assert (core.photos, core.faults) == (1, ("port",))
