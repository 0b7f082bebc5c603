"""The bench's pages: what a browser without a window sees and sends."""

from __future__ import annotations

import logging
import re
from datetime import date
from html import unescape
from itertools import count
from typing import Any

import pytest
from bench_desk import GOOD_BODY, Inspector, bodies
from core_yard import Yard
from databases import TestDatabase
from station_client import StationClient, words

from coretrack import clock as the_clock
from coretrack.actions.bench_home import bench_home
from coretrack.figures.tags import show_tag
from coretrack.records.writer import writing

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


def test_the_first_page_counts_by_state_and_family_and_leads_on(yard: Yard) -> None:
    yard.buy("P1", "P2", day="2026-05-06", lot="L7")
    yard.buy("Q1", number="GP-2080", day="2026-05-01", lot="L8")
    yard.measure("P1", bore=("24.0385", "24.010", "24.011"))
    yard.buy("R1", day="2026-05-02", lot="L9")
    yard.measure("R1")
    yard.measure("P2", bore=("23.970", "23.971", "23.972"))
    with writing(yard.by, yard.now) as writer:
        writer.event("gauge", "BG1", "set", {"due_on": "2026-05-01"})
    inspector = StationClient("inspector", "Bela Quirke")
    text = inspector.text("/bench/")
    days = (the_clock.now().date() - date(2026, 5, 1)).days
    assert f"waiting for inspection GPB 1 {days}" in text
    assert f"undecided, to be measured again GPB 1 {days - 5}" in text
    assert text.index("undecided, to be") < text.index("waiting for inspection")
    assert "Wash baskets 0" in text
    assert "Shelf 1" in text
    assert "Gauge BG1 Bore gauge, overdue by" in text
    page = inspector.get("/bench/").text
    assert 'href="/bench/washes/"' in page
    assert 'href="/shelf/"' in page


def test_each_family_has_its_oldest_cores_and_its_own_list(yard: Yard) -> None:
    yard.buy(*(f"C{number}" for number in range(60)), number="CB-77", day="2026-05-01", lot="L1")
    yard.buy("G1", day="2026-05-20", lot="L2")
    family, young = yard.core("C1").family, yard.core("G1")
    inspector = StationClient("inspector", "Bela Quirke")
    text = inspector.text("/bench/")
    assert "The oldest of each family: waiting for inspection, 11 of 61" in text
    assert f"{show_tag(young.tag)} {young.family}" in text
    told = {"state": "waiting", "family": family}
    assert f"/bench/waiting?state=waiting&amp;family={family}" in inspector.get("/bench/").text
    first = inspector.text("/bench/waiting", **told)
    assert "60 cores, the longest waiting first; here 1 to 50." in first
    assert show_tag(young.tag) not in first
    assert first.count(f" {family} CB-77 ") == 50
    rest = inspector.text("/bench/waiting", **told, first="50")
    assert "here 51 to 60" in rest
    assert rest.count(f" {family} CB-77 ") == 10
    assert inspector.get("/bench/waiting", state="good", family=family).status_code == 404


def test_the_first_page_asks_the_books_as_often_for_many_cores_as_for_few(
    yard: Yard, caplog: pytest.LogCaptureFixture
) -> None:
    caplog.set_level(logging.DEBUG, "peewee")

    def asked() -> int:
        caplog.clear()
        bench_home(yard.now, "Bela Quirke")
        return len(caplog.records)

    for tag in bodies(yard, 3):
        Inspector().at(tag).type("24.010")
    few = asked()
    yard.buy(*(f"M{number}" for number in range(60)), lot="L5")
    for number in range(20):
        Inspector().at(yard.core(f"M{number}").tag).type("24.010")
    assert asked() == few > 3


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


def test_the_panel_of_an_opened_body_says_what_it_waits_for(bela: StationClient, tag: str) -> None:
    assert "NEXT Gear bore, reading 1 of 3." in bela.text("/bench/core", tag=tag)
    type_all(bela, tag, "24.010", "24.012", "24.011")
    assert "NEXT Cover face." in bela.text("/bench/core", tag=tag)
    type_all(bela, tag, "150")
    assert "REALLY?" in bela.text("/bench/core", tag=tag)
    type_all(bela, tag, "again", "3.0", "go", "none", "A")
    text = bela.text("/bench/core", tag=tag)
    assert "KEEP? Keep: every check passes. Crack check: stamped no white light check" in text
    assert "Enter stores this verdict." in text
    type_all(bela, tag, "")
    assert "The verdict keep is stored by Bela Quirke." in bela.text("/bench/core", tag=tag)
    assert "READY Scan the tag of a body to inspect it." in bela.text("/bench/")


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
