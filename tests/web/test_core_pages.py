"""The page of one core and the search for it, in the browser's own words."""

from __future__ import annotations

import re

import pytest
from browser.browsing import browser, opened, served
from core_yard import Yard
from databases import TestDatabase
from station_client import StationClient, station_app, words

from coretrack.actions import cards
from coretrack.figures.tags import make_shop_code, show_tag

ODD = ["7731/120 A?B#1", "A/B", ".."]


@pytest.fixture
def yard(db: TestDatabase) -> Yard:
    yard = Yard()
    yard.set_up()
    return yard


def returned(yard: Yard, serial: str = "A1", **more: str) -> str:
    """Return the tag of a core that came back and was credited."""
    yard.sell(charge="40")
    yard.bring_back(serial, delivery="D1", **more)
    return str(yard.core(serial).tag)


def bins(yard: Yard) -> str:
    """Make two bins and return the code of the second."""
    cards.make_places("bin", 1, 2, "Shelf", by=yard.by, station="dock", now=yard.now, key="")
    return make_shop_code("bin", 2)


@pytest.mark.parametrize("role", ["clerk", "inspector", "owner"])
def test_the_page_says_what_a_core_is_and_what_it_earned(yard: Yard, role: str) -> None:
    tag = returned(yard, faults="port")
    text = StationClient(role=role).text("/cores/core", tag=tag)
    assert f"Core {show_tag(tag)}" in text
    assert "waiting for inspection" in text
    assert "Faults: Port thread damaged" in text
    assert "Credit 30.00" in text
    assert "Taken in as return on 2026-05-20" in text
    assert "Judged at the dock: accepted for part of the credit, credit 30.00" in text


@pytest.mark.parametrize("role", ["clerk", "inspector"])
def test_the_price_of_a_bought_core_is_on_nobodys_bench(yard: Yard, role: str) -> None:
    yard.buy("B1", price="17.31", freight="9.43")
    page = StationClient(role=role).get("/cores/core", tag=yard.core("B1").tag)
    assert page.status_code == 200
    assert "17.31" not in page.text
    assert "9.43" not in page.text
    assert "cost" not in words(page)


def test_the_owner_sees_what_a_core_cost_line_by_line_with_its_total(yard: Yard) -> None:
    yard.buy("B1", price="17.31", freight="9.43")
    text = StationClient(role="owner").text("/cores/core", tag=yard.core("B1").tag)
    assert "What did it cost? Money posted on this core, line by line" in text
    assert "Taken in price 17.31" in text
    assert "Taken in freight 9.43" in text
    core = yard.core("B1")
    total = core.price + core.freight + core.receive
    assert f"Cost of this core so far {total / 10_000:,.2f}" in text


def test_a_life_is_told_by_what_a_person_asks_where_it_is_first(yard: Yard) -> None:
    yard.sell(quantity=2)
    yard.bring_back("A1", delivery="D1")
    bins(yard)
    yard.measure("A1", bore=("23,970", "23.971", "23.972"))
    yard.finish("A1", "hone", minutes="14")
    yard.measure("A1", at="2026-05-23 09:00")
    first = yard.core("A1").tag
    yard.bring_back("A1", delivery="D2", day="2026-07-20")
    tag = yard.core("A1").tag
    inspector = StationClient(role="inspector")
    text = inspector.text("/cores/core", tag=first)
    asked = [
        "Where is it now?",
        "At the dock",
        "Why this verdict?",
        "What was reworked, and what may still come off?",
        "Was this body here before?",
        "What happened, one by one",
    ]
    assert sorted(asked, key=text.index) == asked
    page = inspector.get("/cores/core", tag=first).text
    assert page.index("Where is it now?") < page.index("<dl")
    assert "Gear bore 24.000 to 24.040 mm 23,970 23.970 mm rework" in text
    assert "Hone the bore: done 1 time of at most" in text
    assert "Gear bore 0.030 mm 0.060 mm 0.030 mm" in text
    assert f'href="/cores/core?tag={tag}"' in page
    assert "Inspected 2026-05-21 09:00: rework" in text


def test_a_long_history_is_folded_and_a_short_one_is_not(yard: Yard) -> None:
    tag, code = returned(yard), bins(yard)
    clerk = StationClient()
    opened_fold = '<details class="life" open>'
    assert opened_fold in clerk.get("/cores/core", tag=tag).text
    for turn in range(7):
        for place in (code, ""):
            clerk.post("/cores/put", {"key": f"{turn}{place}", "tag": tag, "place": place})
    page = clerk.get("/cores/core", tag=tag).text
    assert opened_fold not in page
    assert "16 events" in page
    assert "7 places" in page


@pytest.mark.parametrize("serial", ODD)
def test_a_core_with_an_odd_serial_is_opened_by_its_serial(yard: Yard, serial: str) -> None:
    yard.buy(serial)
    clerk = StationClient()
    answer = clerk.get("/cores/", q=serial)
    assert answer.status_code == 303
    page = clerk.get(answer.headers["Location"])
    assert f"Serial {serial}" in words(page)
    link = re.search(r'href="(/labels/text\.pdf[^"]+)"', page.text)
    assert link is not None
    assert clerk.get(f"{link[1]}&stock=roll-102x51".replace("&amp;", "&")).status_code == 200


def test_a_search_that_finds_several_lists_them_and_nothing_is_said_so(yard: Yard) -> None:
    yard.buy("QX-1", "QX-2")
    clerk = StationClient()
    assert "Cores found for qx" in clerk.text("/cores/", q="qx")
    assert 'No core has “<b>&"” as its tag' in clerk.text("/cores/", q='<b>&"')
    assert "Newest cores" in clerk.text("/cores/")
    missing = clerk.get("/cores/core", tag="A/B?")
    assert missing.status_code == 404
    assert "no core with tag 'A/B?'" in words(missing)


def test_putting_a_core_into_a_bin_acts_once(yard: Yard) -> None:
    tag, code = returned(yard), bins(yard)
    clerk = StationClient()
    fields = {"key": "k1", "tag": tag, "place": code}
    for _ in range(2):
        answer = clerk.post("/cores/put", fields)
        assert answer.status_code == 303
    page = words(clerk.client.get(answer.headers["Location"]))
    assert "Lies in Shelf 2" in page
    assert [event for event, _ in yard.history("core", tag)].count("put") == 1
    wrong = clerk.post("/cores/put", {**fields, "key": "k2", "place": "0030099976"})
    assert wrong.status_code == 404
    assert 'aria-describedby="place-wrong"' in wrong.text
    assert clerk.post("/cores/put", {"key": "k3", "tag": "9", "place": code}).status_code == 404
    assert yard.is_sound()


def test_a_label_is_printed_again_from_the_page_and_counted_once(yard: Yard) -> None:
    tag = returned(yard)
    clerk = StationClient()
    for _ in range(2):
        answer = clerk.post("/cores/label", {"key": "k1", "tag": tag})
        assert answer.status_code == 303
    assert '<svg class="label-page"' in clerk.client.get(answer.headers["Location"]).text
    assert yard.core("A1").labels == 1
    assert "Print the label again" in clerk.text("/cores/core", tag=tag)
    assert clerk.post("/cores/label", {"key": "k2", "tag": "9"}).status_code == 404


def test_a_core_that_left_the_house_offers_no_label_and_no_bin(yard: Yard) -> None:
    from coretrack.records.writer import writing

    tag = returned(yard)
    code = bins(yard)
    with writing(yard.by, yard.now) as writer:
        writer.event("core", tag, "taken back", {}, why="counted twice")
    clerk = StationClient()
    text = clerk.text("/cores/core", tag=tag)
    assert "taken in by mistake, out of the books" in text
    assert "Why: counted twice" in text
    assert "Print the label" not in text
    answer = clerk.post("/cores/label", {"key": "k1", "tag": tag})
    assert "no longer in the house" in words(clerk.client.get(answer.headers["Location"]))
    refused = clerk.post("/cores/put", {"key": "k2", "tag": tag, "place": code})
    assert refused.status_code == 422
    assert "no longer in the house" in words(refused)


def test_a_graded_body_carries_the_caution(yard: Yard) -> None:
    yard.buy("B1")
    clerk = StationClient()
    tag = yard.core("B1").tag
    assert "not an approval for service" not in clerk.text("/cores/core", tag=tag)
    yard.measure("B1")
    text = clerk.text("/cores/core", tag=tag)
    assert "not an approval for service" in text
    assert "Readings of 2026-05-21 09:00" in text


def test_the_page_stands_without_inline_style_or_script(yard: Yard) -> None:
    page = StationClient().get("/cores/core", tag=returned(yard)).text
    assert not re.search(r"<script(?! src)|\sstyle=|\son[a-z]+=|<style", page)


@pytest.mark.browser
@pytest.mark.parametrize(("size", "scheme"), [("bench", "light"), ("phone", "dark")])
def test_the_pages_fit_the_bench_and_the_phone(yard: Yard, size: str, scheme: str) -> None:
    tag = returned(yard, "7731/120 A?B#1", faults="port")
    bins(yard)
    addresses = (
        f"/cores/core?tag={tag}",
        "/cores/",
        "/labels/",
        "/labels/cards",
        f"/photos/new?kind=core&key={tag}",
        "/photos/scan",
    )
    with served(station_app()) as address, browser() as running:
        for path in addresses:
            with opened(running, address + path, size, scheme) as page:
                wide = page.evaluate("document.documentElement.scrollWidth")
                assert wide <= page.evaluate("window.innerWidth"), path
