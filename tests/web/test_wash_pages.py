"""The pages of wash baskets and metal tags: what a browser without a window sees and sends."""

from __future__ import annotations

import re
from itertools import count

import pytest
from bench_floor import basket, furnish, metal_tag
from core_yard import Yard
from databases import TestDatabase
from station_client import StationClient, words
from werkzeug.test import TestResponse

keys = (f"wash-page-{number}" for number in count())
clock = count(1_000_000, 5_000)
"""The page's own milliseconds; the same code within a second is one scan."""


@pytest.fixture
def yard(db: TestDatabase) -> Yard:
    yard = Yard()
    yard.set_up()
    furnish(yard)
    yard.buy("A1", "A2", "A3")
    return yard


@pytest.fixture
def bench(yard: Yard) -> StationClient:
    return StationClient(role="inspector", name="Bela Quirke")


def send(bench: StationClient, path: str, code: str = "", **fields: object) -> TestResponse:
    told = {"key": next(keys), **fields}
    return bench.post(f"/bench/washes/{path}", told, query_string={"code": code})


def scan(bench: StationClient, text: str, code: str = "") -> TestResponse:
    body = {"key": next(keys), "text": text, "page": "wash", "code": code, "at": next(clock)}
    headers = {"Accept": "application/json", "X-CSRFToken": bench.token()}
    return bench.client.post("/receiving/scan", json=body, headers=headers)


def loaded(bench: StationClient, yard: Yard, counted: bool = True) -> str:
    """Load the three cores into basket 1 and count them in."""
    assert send(bench, "begin", basket=basket(1)).status_code == 303
    for serial in ("A1", "A2", "A3"):
        scan(bench, yard.core(serial).tag, "W-0001")
    if counted:
        assert send(bench, "load", "W-0001", count="3").status_code == 303
    return "W-0001"


def seen(bench: StationClient, code: str) -> str:
    return bench.text("/bench/washes/wash", code=code)


def test_a_scanned_basket_opens_its_page_and_a_core_gives_the_fresh_map(
    bench: StationClient, yard: Yard
) -> None:
    assert "Begin in Basket 1" in bench.text("/bench/washes/")
    opened = scan(bench, basket(1)).get_json()
    assert opened["go"] == "/bench/washes/wash?code=W-0001"
    answer = scan(bench, yard.core("A1").tag, "W-0001").get_json()
    assert (answer["reply"]["word"], answer["go"]) == ("SLOT 1", None)
    assert answer["spot"] == {"page": "wash", "code": "W-0001", "seen": ""}
    assert "Slot 2" in answer["html"]
    assert "<h1" not in answer["html"]
    assert "Begin in Basket 1" not in bench.text("/bench/washes/")


def test_the_caution_stands_where_cores_go_in_and_come_out(
    bench: StationClient, yard: Yard
) -> None:
    code = loaded(bench, yard)
    for page in (bench.text("/bench/washes/"), seen(bench, code)):
        assert "Hot caustic, acid and solvent burn" in page
        assert "local codes and qualified people" in page


def test_a_wrong_count_stays_typed_and_stands_at_its_field(
    bench: StationClient, yard: Yard
) -> None:
    code = loaded(bench, yard, counted=False)
    answer = send(bench, "load", code, count="2")
    assert answer.status_code == 422
    assert 'value="2" aria-invalid="true" aria-describedby="w-count"' in answer.text
    assert "2 cores counted, 3 in the slot map" in words(answer)
    assert "being loaded" in seen(bench, code)


def test_the_card_and_after_the_wash_the_labels_in_slot_order(
    bench: StationClient, yard: Yard
) -> None:
    code = loaded(bench, yard)
    card = bench.get("/bench/washes/card.pdf", code=code)
    assert (card.mimetype, card.data[:4]) == ("application/pdf", b"%PDF")
    assert send(bench, "finish", code, count="3").status_code == 303
    page = bench.get("/bench/washes/wash", code=code).text
    assert "Counted; into the wash" not in page
    assert "were in Basket 1" in words(bench.get("/bench/washes/wash", code=code))
    (printed,) = re.findall(r'data-print="([^"]+)"', page)
    labels = bench.get(printed.replace("&amp;", "&")).text
    assert "Basket 1, slot 3" in labels
    assert 'href="/bench/washes/wash?code=W-0001">Back</a>' in labels
    tags = [yard.core(serial).tag for serial in ("A1", "A2", "A3")]
    assert f"tags={'%2C'.join(tags)}" in page.replace(",", "%2C")
    assert f"/labels/?{'&amp;'.join(f'tags={tag}' for tag in tags)}" in page
    assert [yard.core(serial).labels for serial in ("A1", "A2", "A3")] == [1, 1, 1]
    assert yard.is_sound()


def test_a_tipped_basket_needs_a_tick_and_exact_counts(bench: StationClient, yard: Yard) -> None:
    code = loaded(bench, yard)
    told = {"family:GPB": "3", "note": "slid off"}
    unsure = send(bench, "tip", code, **told)
    assert unsure.status_code == 422
    assert 'value="slid off"' in unsure.text
    assert "Tick that the slots are mixed up" in words(unsure)
    wrong = send(bench, "tip", code, **{**told, "family:GPB": "2", "sure": "yes"})
    assert wrong.status_code == 422
    assert 'aria-describedby="w-f-1"' in wrong.text
    assert not yard.core("A1").source_lost
    assert send(bench, "tip", code, **told, sure="yes").status_code == 303
    page = seen(bench, code)
    assert "3 cores have lost the source; the families keep all 3." in page
    assert "tipped: sources lost" in page
    assert yard.tally("family")["GPB"] == {"received": 3, "source_lost": 3}
    assert yard.is_sound()


def test_a_core_whose_metal_tag_is_on_it_is_offered_as_known(
    bench: StationClient, yard: Yard
) -> None:
    code = loaded(bench, yard, counted=False)
    scan(bench, metal_tag(5), code)
    page = bench.get("/bench/washes/wash", code=code).text
    tag = yard.core("A3").tag
    assert re.search(rf'name="known" value="{tag}" checked', page)
    assert "metal tag 5 is on it" in words(bench.get("/bench/washes/wash", code=code))
    told = {"family:GPB": "3", "sure": "yes", "known": [tag]}
    assert send(bench, "tip", code, **told).status_code == 303
    assert [yard.core(s).source_lost for s in ("A1", "A2", "A3")] == [True, True, False]


def test_the_pool_of_metal_tags_keeps_what_was_typed(bench: StationClient, yard: Yard) -> None:
    assert "No metal tag is in use." in bench.text("/bench/washes/tags")
    assert send(bench, "tags/bind", tag="A1", number="12").status_code == 303
    wrong = send(bench, "tags/bind", tag="A2", number="12")
    assert wrong.status_code == 422
    assert 'value="A2"' in wrong.text
    assert 'aria-describedby="bind-number-wrong"' in wrong.text
    assert yard.core("A2").metal_tag == 0
    scanned = scan(bench, yard.core("A2").tag, "tags").get_json()
    assert "scan the metal tag that is wired to it" in scanned["html"]
    assert send(bench, "tags/release", number="12", reason="lost").status_code == 303
    assert "off core" in bench.text("/bench/washes/tags")
    sheet = bench.get("/bench/washes/tags.pdf", first="1", last="20")
    assert sheet.data[:4] == b"%PDF"
    assert bench.get("/bench/washes/tags.pdf", first="20", last="1").status_code == 422


def test_the_page_of_a_core_says_its_slot_and_its_metal_tag(
    bench: StationClient, yard: Yard
) -> None:
    code = loaded(bench, yard, counted=False)
    scan(bench, metal_tag(5), code)
    page = bench.text("/cores/core", tag=yard.core("A3").tag)
    assert "Lies in Basket 1, slot 3" in page
    assert "Metal tag 5" in page
    assert "Put into Basket 1, slot 3." in page


def test_a_core_is_taken_out_by_hand_and_an_empty_wash_given_up(
    bench: StationClient, yard: Yard
) -> None:
    code = loaded(bench, yard, counted=False)
    for serial in ("A1", "A2", "A3"):
        tag = yard.core(serial).tag
        assert send(bench, "take-out", code, tag=tag).status_code == 303
    assert send(bench, "give-up", code).status_code == 303
    assert "given up" in seen(bench, code)
    assert yard.is_sound()


@pytest.mark.parametrize("path", ["", "wash?code=W-0001", "tags", "card.pdf?code=W-0001"])
def test_the_wash_is_the_inspectors_and_the_owners(yard: Yard, path: str) -> None:
    assert StationClient(role="clerk").get(f"/bench/washes/{path}").status_code == 403
    assert StationClient(role="owner").get(f"/bench/washes/{path}").status_code in (200, 404)


def test_what_there_is_not_is_said_and_no_page_has_inline_style_or_script(
    bench: StationClient, yard: Yard
) -> None:
    assert bench.get("/bench/washes/wash", code="<b>").status_code == 404
    assert send(bench, "begin", basket="0040000999").status_code == 404
    code = loaded(bench, yard)
    for path in ("/bench/washes/", "/bench/washes/tags", f"/bench/washes/wash?code={code}"):
        page = bench.get(path).text
        assert not re.search(r"<script(?! src)|\sstyle=|\son[a-z]+=|<style", page)
