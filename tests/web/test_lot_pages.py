"""The pages of purchased lots: what a browser without a window sees and sends."""

from __future__ import annotations

import re
from itertools import count

import pytest
from browser.browsing import browser, opened, served
from core_yard import Yard, money
from databases import TestDatabase
from station_client import StationClient, station_app, words
from werkzeug.test import TestResponse

from coretrack.web import lots

keys = (f"page-{number}" for number in count())
clock = count(1_000_000, 5_000)
"""The page's own milliseconds; the same code within a second is one scan."""


@pytest.fixture
def yard(db: TestDatabase) -> Yard:
    yard = Yard()
    yard.set_up()
    return yard


@pytest.fixture
def clerk(yard: Yard, monkeypatch: pytest.MonkeyPatch) -> StationClient:
    monkeypatch.setattr(lots, "now", lambda: yard.now)
    return StationClient()


def send(clerk: StationClient, path: str, code: str = "", **fields: str) -> TestResponse:
    address = f"/receiving/lots/{path}"
    return clerk.post(address, {"key": next(keys), **fields}, query_string={"code": code})


def begun(clerk: StationClient, lot: str = "L/1 #2", **fields: str) -> str:
    told = {"source": "COPP", "price": "10", "basis": "piece", "received": "2026-10-29"}
    answer = send(clerk, "", **{**told, "lot": lot, **fields})
    assert answer.status_code == 303, words(answer)
    return lot


def scan(clerk: StationClient, lot: str, text: str) -> TestResponse:
    body = {"key": next(keys), "text": text, "page": "lot", "code": lot, "at": next(clock)}
    headers = {"Accept": "application/json", "X-CSRFToken": clerk.token()}
    return clerk.client.post("/receiving/scan", json=body, headers=headers)


def row_id(clerk: StationClient, lot: str) -> str:
    """Return the id of the row in hand, as its form carries it."""
    page = clerk.get("/receiving/lots/lot", code=lot).text
    found = re.search(r'name="row" value="([^"]*)"', page)
    assert found is not None
    return found[1].replace("&#34;", '"')


def version(clerk: StationClient, lot: str) -> str:
    page = clerk.get("/receiving/lots/lot", code=lot).text
    found = re.search(r'name="version" value="(\d+)"', page)
    assert found is not None
    return found[1]


def seen(clerk: StationClient, lot: str) -> str:
    return clerk.text("/receiving/lots/lot", code=lot)


def test_the_list_shows_open_lots_with_their_age(clerk: StationClient, yard: Yard) -> None:
    assert "No lot is being sorted." in clerk.text("/receiving/lots/")
    begun(clerk, "L1", pieces="40")
    scan(clerk, "L1", "GP-1040")
    yard.buy("B1", lot="M1")
    page = clerk.text("/receiving/lots/")
    assert "L1 Coppard Brokers 2026-10-29, 2 days ago 1 40 not weighed" in page
    assert "M1 Coppard Brokers 2026-05-06 1 10.00 by file" in page


def test_what_is_wrong_stands_at_its_field_and_nothing_typed_is_lost(
    clerk: StationClient,
) -> None:
    answer = send(
        clerk, "", source="ANSL", price="1O", basis="lump", lot="L9", carrier="Harrow <Freight>"
    )
    assert answer.status_code == 422
    page = answer.text
    for field in ("source", "price"):
        assert re.search(rf'id="f-{field}"[^>]*aria-invalid="true" aria-describedby="w-', page)
        assert f'id="w-{field}"' in page
    assert 'value="L9"' in page
    assert 'value="Harrow &lt;Freight&gt;"' in page
    assert 'value="lump" checked' in page
    assert "is a customer: such cores come back on a sale" in words(answer)


def test_a_scan_at_the_page_counts_and_gives_the_fresh_page(clerk: StationClient) -> None:
    lot = begun(clerk)
    answer = scan(clerk, lot, "GP-1044").get_json()
    assert (answer["reply"]["tone"], answer["reply"]["word"]) == ("good", "1 PIECE")
    assert answer["spot"]["page"] == "lot"
    assert answer["go"] is None
    assert "1 × GP-1044" in answer["html"]
    assert 'name="csrf_token"' in answer["html"]
    assert "<h1" not in answer["html"]


def test_a_row_is_changed_by_hand_and_a_slip_stays_typed(clerk: StationClient) -> None:
    lot = begun(clerk)
    scan(clerk, lot, "GP-1040")
    row = row_id(clerk, lot)
    assert send(clerk, "row", lot, row=row, count="7").status_code == 303
    answer = send(clerk, "row", lot, row=row, serial="S 1", mass="heavy")
    assert answer.status_code == 422
    assert 'value="heavy"' in answer.text
    assert 'value="S 1"' in answer.text
    assert "7 × GP-1040" in words(answer)
    assert send(clerk, "row", lot, row=row, serial="S 1", mass="1.2").status_code == 303
    assert "1 × GP-1040, serial S 1" in seen(clerk, lot)
    assert send(clerk, "undo", lot).status_code == 303
    assert "Taken back" in seen(clerk, lot)
    assert send(clerk, "unknown", lot).status_code == 303
    assert "1 × not readable" in seen(clerk, lot)


def test_the_estimate_stands_beside_paper_and_count(clerk: StationClient) -> None:
    lot = begun(clerk, pieces="24")
    answer = send(clerk, "weigh", lot, gross="25.2", tare="x", masses="1.2 1.25", pieces="24")
    assert answer.status_code == 422
    assert 'value="1.2 1.25"' in answer.text
    told = {"gross": "25.2", "tare": "0", "masses": "1.2 1.25 1.21", "pieces": "24"}
    assert send(clerk, "weigh", lot, **told).status_code == 303
    page = seen(clerk, lot)
    assert "sorted of 24 on the paper 0" in page
    assert "By weight: about 21 pieces, 20 to 21. The count decides." in page


def test_a_lot_is_taken_in_with_its_figures_after_a_yes(clerk: StationClient, yard: Yard) -> None:
    lot = begun(clerk, price="99.99", basis="lump", freight="0.01", pieces="4")
    for text in ("GP-1040", "CB-77", "GP-1040"):
        scan(clerk, lot, text)
    page = seen(clerk, lot)
    assert "3 pieces, 100.00 EUR in all" in page
    assert "Take in 3 pieces" in page
    told = {"version": version(clerk, lot)}
    unsure = send(clerk, "take-in", lot, **told)
    assert unsure.status_code == 422
    assert 'aria-describedby="w-confirmed"' in unsure.text
    assert yard.cores() == []
    assert send(clerk, "take-in", lot, confirmed="yes", **told).status_code == 303
    assert [core.number for core in yard.cores()] == ["GP-1040", "GP-1040", "CB-77"]
    assert sum(core.price for core in yard.cores()) == money("99.99")
    closed = seen(clerk, lot)
    assert "3 cores of lot L/1 #2 came in. Print the labels now." in closed
    assert "The paper says 4 pieces, 3 are counted: 1 short." in closed
    assert "Print the labels in sorted order" in closed
    labels = clerk.get("/labels/", lot=lot)
    assert labels.status_code == 200
    assert send(clerk, "take-in", lot, confirmed="yes", **told).status_code == 422
    assert len(yard.cores()) == 3
    assert yard.is_sound()


def test_a_lot_changed_meanwhile_is_shown_anew_before_it_comes_in(
    clerk: StationClient, yard: Yard
) -> None:
    lot = begun(clerk)
    scan(clerk, lot, "GP-1040")
    old = version(clerk, lot)
    scan(StationClient(name="Bela Quirke"), lot, "CB-77")
    answer = send(clerk, "take-in", lot, confirmed="yes", version=old)
    assert answer.status_code == 409
    assert "changed meanwhile by Bela Quirke" in words(answer)
    assert "Take in 2 pieces" in words(answer)
    assert yard.cores() == []


def test_a_form_sent_twice_acts_once(clerk: StationClient, yard: Yard) -> None:
    lot = begun(clerk)
    for _ in range(2):
        assert send(clerk, "unknown", lot, key="the same").status_code == 303
    assert "1 × not readable" in seen(clerk, lot)
    told = {"key": "in once", "confirmed": "yes", "version": version(clerk, lot)}
    for _ in range(2):
        assert send(clerk, "take-in", lot, **told).status_code == 303
    assert len(yard.cores()) == 1


def test_an_empty_lot_can_be_given_up_or_come_in_by_file(clerk: StationClient) -> None:
    lot = begun(clerk)
    assert "/receiving/files/?lot=L/1+%232" in clerk.get("/receiving/lots/lot", code=lot).text
    assert send(clerk, "give-up", lot).status_code == 303
    page = seen(clerk, lot)
    assert "was given up" in page
    assert "Take in" not in page


@pytest.mark.parametrize("path", ["/receiving/lots/", "/receiving/lots/lot?code=L1"])
def test_lots_and_their_prices_are_not_for_the_inspector(yard: Yard, path: str) -> None:
    yard.buy("B1", lot="L1")
    assert StationClient(role="inspector").client.get(path).status_code == 403
    assert StationClient(role="owner").client.get(path).status_code == 200


def test_a_lot_there_is_not_is_said(clerk: StationClient) -> None:
    answer = clerk.get("/receiving/lots/lot", code="<b>")
    assert answer.status_code == 404
    assert "There is no purchased lot '<b>'" in words(answer)


def test_a_hostile_name_is_text_and_the_page_has_no_inline_style_or_script(
    clerk: StationClient,
) -> None:
    lot = begun(clerk, "<img src=x>", reference="<script>alert(1)</script>")
    scan(clerk, lot, "ZZ<b>9")
    page = clerk.get("/receiving/lots/lot", code=lot).text
    assert "<img src=x" not in page
    assert "<script>alert" not in page
    assert not re.search(r"<script(?! src)|\sstyle=|\son[a-z]+=|<style", page)


@pytest.mark.browser
@pytest.mark.parametrize(("size", "scheme"), [("bench", "light"), ("phone", "dark")])
def test_the_pages_fit_the_bench_and_the_phone(yard: Yard, size: str, scheme: str) -> None:
    clerk = StationClient()
    begun(clerk, "L1", pieces="40")
    scan(clerk, "L1", "GP-1040")
    scan(clerk, "L1", "CB-77")
    with served(station_app()) as address, browser() as running:
        for path in ("/receiving/lots/", "/receiving/lots/lot?code=L1"):
            with opened(running, address + path, size, scheme) as page:
                wide = page.evaluate("document.documentElement.scrollWidth")
                assert wide <= page.evaluate("window.innerWidth"), path
