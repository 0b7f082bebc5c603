"""The bench's pages: what a browser without a window sees and sends."""

from __future__ import annotations

import re
from html import unescape
from itertools import count
from typing import Any

import pytest
from bench_desk import GOOD_BODY, bodies
from core_yard import Yard
from databases import TestDatabase
from station_client import StationClient, words

from coretrack.figures.tags import show_tag

keys = (f"bench-{number}" for number in count())
clock = count(1_000_000, 5_000)


@pytest.fixture
def yard(db: TestDatabase) -> Yard:
    yard = Yard()
    yard.set_up()
    return yard


@pytest.fixture
def tag(yard: Yard) -> str:
    return bodies(yard, 1)[0]


@pytest.fixture
def bela(tag: str) -> StationClient:
    return StationClient("inspector", "Bela Quirke")


def scan(client: StationClient, tag: str, text: str, seen: str = "") -> Any:
    body = {
        "key": next(keys),
        "text": text,
        "page": "bench",
        "code": tag,
        "seen": seen,
        "at": next(clock),
    }
    headers = {"Accept": "application/json", "X-CSRFToken": client.token()}
    return client.client.post("/receiving/scan", json=body, headers=headers).get_json()


def type_all(client: StationClient, tag: str, *texts: str) -> Any:
    """Type texts as the page does, each with what the answer before it showed."""
    seen = ""
    for text in texts:
        answer = scan(client, tag, text, seen)
        seen = answer["spot"]["seen"]
    return answer


def test_the_first_page_lists_what_waits_and_what_is_begun(bela: StationClient, tag: str) -> None:
    assert f"{show_tag(tag)} GPB GP-1040" in bela.text("/bench/")
    type_all(bela, tag, "24.010")
    assert "Begun and not stored" in bela.text("/bench/")
    opened = scan(bela, "", tag)
    assert opened["go"] == f"/bench/core?tag={tag}"


def test_a_core_is_shown_on_its_plan_and_each_answer_brings_the_page_anew(
    bela: StationClient, tag: str
) -> None:
    page = bela.get("/bench/core", tag=tag).text
    assert "reading 1 of 3" in page
    assert 'class="bands"' in page
    assert 'data-page="bench"' in page
    assert "style=" not in re.sub(r"<link[^>]*>", "", page)
    answer = type_all(bela, tag, "24.010")
    assert "reading 2 of 3" in answer["html"]
    assert "<title>Gear bore: usable" in answer["html"]
    done = type_all(bela, tag, *GOOD_BODY[1:])
    assert done["reply"]["word"] == "KEEP?"
    assert "not an approval for service" in done["html"]
    assert "Store keep" in done["html"]


def test_a_verdict_shows_check_reading_limit_distance_and_rule(
    bela: StationClient, tag: str
) -> None:
    html = type_all(bela, tag, "24.045")["html"]
    said = " ".join(unescape(re.sub(r"<[^>]+>", " ", html)).split())
    assert "Check Gear bore Reading 24.045 mm" in said
    assert "Limit upper usable limit 24.040 mm Distance 0.005 mm, 5 gauge divisions" in said
    assert "Rule the gauge's uncertainty must leave no doubt (U 0.002 mm)" in said


def test_a_crack_check_shows_its_caution(bela: StationClient, tag: str) -> None:
    html = type_all(bela, tag, "#crack")["html"]
    assert "A crack in a pressure-holding body injures people" in html


def test_a_form_without_script_takes_a_word_from_its_button(bela: StationClient, tag: str) -> None:
    fields = {"key": next(keys), "page": "bench", "code": tag, "text": ["", "#look"]}
    assert bela.post("/receiving/scan", fields).status_code == 303
    assert "one letter, A is the best" in bela.text("/bench/core", tag=tag)


def test_the_owner_overrules_on_the_page_and_a_refusal_keeps_what_was_typed(
    yard: Yard, bela: StationClient, tag: str
) -> None:
    type_all(bela, tag, *GOOD_BODY[:5], "indication", "")
    assert yard.core("B1").state == "scrapped"
    assert "Overrule this verdict" not in bela.text("/bench/core", tag=tag)
    owner = StationClient("owner", "Ilse Thornby")
    assert "Overrule this verdict" in owner.text("/bench/core", tag=tag)
    told = {"tag": tag, "to": "keep", "reason": "seen by me"}
    refused = owner.post("/bench/overrule", {**told, "key": next(keys)})
    assert refused.status_code == 422
    assert "A crack is never overridden" in words(refused)
    assert 'value="seen by me"' in refused.text
    assert bela.post("/bench/overrule", {**told, "key": next(keys)}).status_code == 403
    done = owner.post("/bench/overrule", {**told, "to": "rework", "key": next(keys)})
    assert done.status_code == 422
    assert yard.core("B1").state == "scrapped"


def test_a_clerk_has_no_place_at_the_bench(yard: Yard, tag: str) -> None:
    clerk = StationClient("clerk", "Pia Lund")
    assert clerk.get("/bench/").status_code == 403
    assert clerk.get("/bench/core", tag=tag).status_code == 403
    assert "error" in scan(clerk, tag, "24.010")


def test_a_core_without_family_sends_to_its_own_page(yard: Yard, bela: StationClient) -> None:
    yard.bring_back("X1", number="ZZ-404")
    core = yard.core("X1")
    assert core.state == "unknown"
    answer = bela.get("/bench/core", tag=core.tag)
    assert answer.status_code == 303
    assert f"/cores/core?tag={core.tag}" in answer.location
    assert bela.get("/bench/core", tag="1000000097").status_code == 404
