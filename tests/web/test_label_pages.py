"""Printing labels and cards from the browser: noted once, looked at as often as one likes."""

from __future__ import annotations

import re
import sys
from pathlib import Path
from typing import Any
from urllib.parse import parse_qs, urlsplit

import pytest
from browser.browsing import browser, opened, served
from core_yard import Yard
from databases import TestDatabase
from label_reading import printed_pages, read_all
from station_client import StationClient, station_app, words
from werkzeug.test import TestResponse

from coretrack.actions import bench_scans, cards, station_settings
from coretrack.figures.tags import ORDERS, make_shop_code, show_tag
from coretrack.paper.label_files import stock_named


@pytest.fixture
def yard(db: TestDatabase) -> Yard:
    """A shop with three cores of delivery D/1?#."""
    yard = Yard()
    yard.set_up()
    yard.sell(quantity=3)
    yard.bring_back("A0", "A1", "A2", delivery="D/1?#")
    return yard


@pytest.fixture
def clerk(yard: Yard) -> StationClient:
    return StationClient()


@pytest.fixture
def owner(yard: Yard) -> StationClient:
    return StationClient(role="owner")


def send(clerk: StationClient, **fields: Any) -> TestResponse:
    return clerk.post("/labels/print", {"key": "k1", "how": "browser", **fields})


def printed(yard: Yard) -> list[int]:
    return [core.labels for core in yard.cores()]


def drawings(answer: TestResponse) -> int:
    return answer.text.count('<svg class="label-page"')


FRAME = """async (source) => {
  const frame = document.createElement('iframe');
  frame.src = source;
  document.body.append(frame);
  await new Promise((done) => frame.addEventListener('load', done));
  return frame.contentDocument.querySelectorAll('svg.label-page').length;
}"""

SETTINGS = {
    "label_stock": "roll-50x25",
    "sheet_stock": "a4-24",
    "paper_size": "a4",
    "hold_days": "10",
    "idle_minutes": "10",
}


def test_a_deliverys_labels_are_noted_once_and_shown_again_by_reloading(
    yard: Yard, clerk: StationClient
) -> None:
    first = send(clerk, lot="D/1?#", stock="a4-24")
    assert first.status_code == 303
    again = send(clerk, lot="D/1?#", stock="a4-24")
    assert again.headers["Location"] == first.headers["Location"]
    page = clerk.get(first.headers["Location"])
    assert clerk.get(first.headers["Location"]).text == page.text
    assert drawings(page) == 1
    assert all(show_tag(core.tag) in page.text for core in yard.cores())
    assert printed(yard) == [1, 1, 1]
    assert "first free place 4 of 24" in clerk.text("/labels/")
    assert yard.is_sound()


def test_a_roll_prints_one_page_a_label(yard: Yard, clerk: StationClient) -> None:
    tags = [core.tag for core in yard.cores()]
    answer = send(clerk, tags="\n".join(tags[:2]), stock="roll-50x25")
    assert drawings(clerk.get(answer.headers["Location"])) == 2
    assert printed(yard) == [1, 1, 0]


def test_a_print_page_by_its_tags_may_be_framed_by_our_own_pages_only(
    yard: Yard, clerk: StationClient
) -> None:
    tags = ",".join(core.tag for core in yard.cores())
    before = yard.events()
    page = clerk.get("/labels/print", tags=tags, stock="a4-24", first=5, auto=1)
    assert page.headers["X-Frame-Options"] == "SAMEORIGIN"
    assert "frame-ancestors 'self'" in page.headers["Content-Security-Policy"]
    assert "default-src 'self'" in page.headers["Content-Security-Policy"]
    assert not re.search(r"<script(?! src)|\sstyle=|\son[a-z]+=", page.text)
    assert 'id="scan-text"' not in page.text
    assert yard.events() == before
    style = clerk.get("/labels/print.css", stock="a4-24")
    assert style.mimetype == "text/css"
    assert "size: 210mm 297mm" in style.text


def test_the_half_used_sheet_is_shown_with_its_free_place(clerk: StationClient) -> None:
    send(clerk, lot="D/1?#", stock="a4-24", first="5")
    page = clerk.get("/labels/").text
    assert 'aria-label="A4 sheet, 24 labels 64 x 33.9 mm: place 8 of 24 is the first free' in page
    assert page.count('<path class="used"') == 7
    assert '<text class="next"' in page


@pytest.mark.parametrize(
    ("fields", "said"),
    [
        ({"tags": "1234567890"}, "'1234567890'"),
        ({"lot": "D7"}, "'D7'"),
        ({"lot": "D/1?#", "stock": "a4-24", "first": "0"}, "1 to 24"),
        ({"lot": "D/1?#", "stock": "a4-24", "first": "25"}, "1 to 24"),
        ({"lot": "D/1?#", "stock": "a4-24", "first": "two"}, "a whole number of places"),
        ({"lot": "D/1?#", "stock": "wallpaper"}, "wallpaper"),
        ({}, "no label to print"),
        ({"text": "Córdoba-7"}, "ó"),
    ],
)
def test_what_is_wrong_is_named_and_what_was_typed_stays(
    yard: Yard, clerk: StationClient, fields: dict[str, str], said: str
) -> None:
    answer = send(clerk, **fields)
    assert answer.status_code in (404, 422)
    assert said in words(answer)
    for name in fields.keys() - {"stock"}:
        assert fields[name] in words(answer) or f'value="{fields[name]}"' in answer.text
    assert printed(yard) == [0, 0, 0]


def test_a_core_that_left_is_named_beside_the_labels_that_are_printed(
    yard: Yard, clerk: StationClient
) -> None:
    from coretrack.records.writer import writing

    gone = yard.cores()[0].tag
    with writing(yard.by, yard.now) as writer:
        writer.event("core", gone, "taken back", {})
    tags = [core.tag for core in yard.cores()]
    answer = send(clerk, tags=" , ".join(tags), stock="a4-24")
    for address in (answer.headers["Location"], f"/labels/print?tags={','.join(tags)}"):
        page = clerk.get(address)
        assert f"{show_tag(gone)}: the core is no longer in the house" in words(page)
        assert show_tag(gone) not in page.text.split("<main", 1)[1]
    assert printed(yard) == [0, 1, 1]


def test_the_same_labels_come_as_pdf(yard: Yard, clerk: StationClient) -> None:
    answer = send(clerk, lot="D/1?#", stock="a4-24", how="pdf")
    pdf = clerk.get(answer.headers["Location"])
    assert pdf.mimetype == "application/pdf"
    (page,) = printed_pages(pdf.data, 300, touched=True)
    assert sorted(read_all(page)) == [core.tag for core in yard.cores()]
    assert clerk.get("/labels/labels.pdf", job="k9").status_code == 404
    assert printed(yard) == [1, 1, 1]


@pytest.mark.parametrize("text", ["7731/120 A?B#1", "A/B", ".."])
def test_a_serials_label_file_has_a_safe_name_and_the_exact_text(
    clerk: StationClient, text: str
) -> None:
    answer = clerk.get("/labels/text.pdf", text=text, stock="roll-102x51")
    name = re.fullmatch(
        r'inline; filename="([A-Za-z0-9_-]+\.pdf)"', answer.headers["Content-Disposition"]
    )
    assert name is not None
    (page,) = printed_pages(answer.data, 203, touched=True)
    assert read_all(page) == [text]
    drawing = clerk.get("/labels/text.svg", text=text, stock="roll-102x51")
    assert drawing.mimetype == "image/svg+xml"
    assert clerk.get("/labels/text.pdf", text="Córdoba").status_code == 422


def test_the_print_command_prints_once_and_says_what_it_got(
    yard: Yard, owner: StationClient, tmp_path: Path
) -> None:
    script = tmp_path / "printer.py"
    script.write_text("import shutil, sys; shutil.copy(sys.argv[1], sys.argv[2])")
    lines = [sys.executable, str(script), "{file}", str(tmp_path / "printed")]
    fields = {**SETTINGS, "key": "s1", "print_command": "\r\n".join(lines)}
    assert owner.post("/labels/settings", fields).status_code == 303
    clerk = StationClient()
    assert 'value="command"' in clerk.get("/labels/").text
    answer = send(clerk, lot="D/1?#", how="command")
    assert "3 labels sent to the printer" in words(clerk.get(answer.headers["Location"]))
    assert (tmp_path / "printed").read_bytes().startswith(b"%PDF")
    (tmp_path / "printed").unlink()
    assert send(clerk, lot="D/1?#", how="command").status_code == 303
    assert not (tmp_path / "printed").exists()
    assert printed(yard) == [1, 1, 1]
    assert owner.post("/labels/test", {}).status_code == 303
    assert (tmp_path / "printed").exists()


def test_a_print_command_that_fails_is_said_and_what_was_typed_stays(
    yard: Yard, owner: StationClient
) -> None:
    failing = f"{sys.executable}\n-c\nimport sys; sys.exit('out of labels')\n{{file}}"
    owner.post("/labels/settings", {**SETTINGS, "key": "s1", "print_command": failing})
    answer = send(StationClient(), lot="D/1?#", how="command")
    assert answer.status_code == 503
    assert "“out of labels”" in words(answer)
    assert 'value="D/1?#"' in answer.text
    tested = owner.post("/labels/test", {})
    assert tested.status_code == 503
    assert "“out of labels”" in words(tested)
    assert printed(yard) == [0, 0, 0]


def test_only_the_owner_sets_the_print_command(yard: Yard, owner: StationClient) -> None:
    clerk = StationClient()
    assert clerk.get("/labels/settings").status_code == 403
    fields = {**SETTINGS, "key": "s1", "print_command": "rm\n{file}"}
    assert clerk.post("/labels/settings", fields).status_code == 403
    assert clerk.post("/labels/test", {}).status_code == 403
    assert clerk.get("/labels/cards/badges.pdf").status_code == 403
    assert station_settings.station_settings().print_command == ()


def test_wrong_settings_are_named_at_their_field_and_kept(owner: StationClient) -> None:
    fields = {**SETTINGS, "key": "s1", "print_command": "lp\n-d", "hold_days": "99999"}
    answer = owner.post("/labels/settings", fields)
    assert answer.status_code == 422
    assert 'aria-describedby="print_command-wrong"' in answer.text
    assert 'aria-describedby="hold_days-wrong"' in answer.text
    assert "lp\n-d</textarea>" in answer.text
    assert 'value="99999"' in answer.text
    unread = owner.post("/labels/settings", {**SETTINGS, "key": "s1", "idle_minutes": "soon"})
    assert "must be a whole number of minutes, not 'soon'" in words(unread)
    stored = owner.post("/labels/settings", {**SETTINGS, "key": "s1", "hold_days": "14"})
    assert "Stored: hold days changed." in words(owner.client.get(stored.headers["Location"]))


def test_without_a_command_the_test_label_opens_in_the_browser(owner: StationClient) -> None:
    answer = owner.post("/labels/test", {})
    page = owner.get(answer.headers["Location"])
    assert drawings(page) == 1
    assert "TEST-0123" in page.text


def test_a_bench_sheet_gives_the_faults_their_numbers(yard: Yard, clerk: StationClient) -> None:
    assert "faults of Gear pump body (6, 6 new)" in clerk.text("/labels/cards")
    answer = clerk.post("/labels/cards/bench", {"key": "k1", "orders": "yes", "family": ["GPB"]})
    assert answer.status_code == 303
    sheet = clerk.get(answer.headers["Location"])
    read = {
        text for page in printed_pages(sheet.data, 300, touched=True) for text in read_all(page)
    }
    assert make_shop_code("reason", 6) in read
    assert make_shop_code("order", "done") in read
    assert "(6)" in clerk.text("/labels/cards")
    nothing = clerk.get("/labels/cards/bench.pdf", orders="no")
    assert nothing.status_code == 422


def test_bins_are_made_and_their_cards_printed(yard: Yard, clerk: StationClient) -> None:
    fields = {"key": "k1", "kind": "bin", "first": "1", "last": "20", "prefix": "Shelf"}
    answer = clerk.post("/labels/cards/places", fields)
    assert "20 bins ready" in words(clerk.client.get(answer.headers["Location"]))
    query = parse_qs(urlsplit(answer.headers["Location"]).query)
    sheet = clerk.get("/labels/cards/places.pdf", **query)
    assert len(printed_pages(sheet.data, 100, touched=True)) == 2
    wrong = clerk.post("/labels/cards/places", {**fields, "key": "k2", "last": "x"})
    assert wrong.status_code == 422
    assert 'value="Shelf"' in wrong.text
    assert len(cards.card_choices().places) == 20
    inspector = StationClient(role="inspector")
    baskets = {"key": "k3", "kind": "basket", "first": "1", "last": "2", "prefix": ""}
    assert inspector.post("/labels/cards/places", baskets).status_code == 303
    assert len(cards.card_choices().places) == 22


def test_the_sheet_of_the_bench_has_every_order_that_the_bench_understands(yard: Yard) -> None:
    inspector = StationClient(role="inspector")
    page = inspector.get("/labels/cards").text
    assert 'value="bench" checked' in page
    assert 'value="yes" checked' not in page
    answer = inspector.post("/labels/cards/bench", {"key": "k1", "orders": ["bench"]})
    sheet = inspector.client.get(answer.headers["Location"])
    read = {
        text for page in printed_pages(sheet.data, 300, touched=True) for text in read_all(page)
    }
    assert read == {make_shop_code("order", order) for order in cards.BENCH_ORDERS}
    understood = {*bench_scans.RESULT_ORDERS, *bench_scans.ORDER_WORDS} & set(ORDERS)
    assert set(cards.BENCH_ORDERS) == understood - {"undo"}


@pytest.mark.browser
@pytest.mark.parametrize(("stock", "dpi"), [("roll-50x25", 203), ("a4-24", 300)])
def test_the_print_page_prints_at_its_true_size_and_reads_back(
    yard: Yard, stock: str, dpi: int
) -> None:
    tags = [core.tag for core in yard.cores()]
    with served(station_app()) as address, browser() as running:
        where = f"{address}/labels/print?tags={','.join(tags)}&stock={stock}&first=2"
        with opened(running, where) as page:
            pdf = page.pdf(prefer_css_page_size=True)
    pages = printed_pages(pdf, dpi, touched=True)
    assert [text for page in pages for text in read_all(page)] == tags
    known = stock_named(stock)
    width = getattr(known, "page_width", known.label_width)
    assert pages[0].width == pytest.approx(width * dpi / 254_000, abs=dpi / 50)


@pytest.mark.browser
def test_the_print_page_opens_inside_a_frame_of_the_station(yard: Yard) -> None:
    tag = yard.cores()[0].tag
    with (
        served(station_app()) as address,
        browser() as running,
        opened(running, f"{address}/labels/print?tags={tag}") as page,
    ):
        count = page.evaluate(FRAME, f"/labels/print?tags={tag}&auto=1")
    assert count == 1
