"""The rework pages: what a browser without a window sees and sends."""

from __future__ import annotations

import logging
from datetime import UTC, datetime, timedelta
from itertools import count
from typing import Any

import pytest
from core_yard import Yard
from databases import TestDatabase
from station_client import StationClient, words

from coretrack import clock as the_clock
from coretrack.figures.tags import show_tag

WORN = ("23.970", "23.971", "23.972")
MORNING = datetime(2026, 5, 23, 14, tzinfo=UTC)

keys = (f"rework-page-{number}" for number in count())
clock = count(1_000_000, 5_000)


@pytest.fixture
def yard(db: TestDatabase, monkeypatch: pytest.MonkeyPatch) -> Yard:
    """Two worn bodies; the shop's clock stands at `yard.now` and is moved by the tests."""
    yard = Yard(now=MORNING)
    yard.set_up()
    yard.buy("A1", "A2")
    yard.measure("A1", at="2026-05-20 09:00", bore=WORN)
    yard.measure("A2", at="2026-05-21 09:00", bore=WORN, look="C")
    monkeypatch.setattr(the_clock, "now", lambda: yard.now)
    return yard


@pytest.fixture
def bench(yard: Yard) -> StationClient:
    return StationClient("inspector", "Bela Quirke")


def scan(client: StationClient, text: str, code: str = "") -> Any:
    body = {"key": next(keys), "text": text, "page": "rework", "code": code, "at": next(clock)}
    headers = {"Accept": "application/json", "X-CSRFToken": client.token()}
    return client.client.post("/receiving/scan", json=body, headers=headers).get_json()


def test_the_queues_and_a_body_by_scan(bench: StationClient, yard: Yard) -> None:
    tag = yard.core("A1").tag
    page = bench.text("/bench/rework/")
    assert "Hone the bore: 2" in page
    assert page.index(show_tag(tag)) < page.index(show_tag(yard.core("A2").tag))
    assert scan(bench, tag)["go"] == f"/bench/rework/?tag={tag}"
    begun = scan(bench, "", tag)
    assert (begun["reply"]["word"], begun["go"]) == ("BEGUN", None)
    assert "begun by Bela Quirke" in begun["html"]
    assert "<h1" not in begun["html"]
    yard.now += timedelta(minutes=12)
    done = scan(bench, "", tag)
    assert done["reply"]["word"] == "MEASURE AGAIN"
    assert "To be measured again: Gear bore, Crack check" in done["html"]
    assert "Hone the bore: 1" in bench.text("/bench/rework/")
    assert yard.is_sound()


def test_the_form_keeps_what_was_typed_and_says_what_is_wrong(
    bench: StationClient, yard: Yard
) -> None:
    told = {"tag": yard.core("A1").tag, "operation": "hone", "note": "slow"}
    wrong = bench.post(
        "/bench/rework/finish", {**told, "minutes": "9", "stock": "0.0012", "key": next(keys)}
    )
    assert wrong.status_code == 422
    assert 'value="0.0012"' in wrong.text
    assert 'aria-describedby="w-stock"' in wrong.text
    assert "It is right as typed" in words(wrong)
    too_much = bench.post("/bench/rework/finish", {**told, "stock": "0.0601", "key": next(keys)})
    assert too_much.status_code == 422
    assert "the allowance is 0.06" in words(too_much)
    assert yard.core("A1").removed == {}
    sent = {**told, "minutes": "9", "stock": "0.025 mm", "key": "twice"}
    for _ in range(2):
        assert bench.post("/bench/rework/finish", sent).status_code == 303
    assert yard.core("A1").removed == {"bore": 25_000}
    assert yard.core("A1").reworks == 1


def test_begin_by_a_button_and_a_wrong_operation(bench: StationClient, yard: Yard) -> None:
    tag = yard.core("A2").tag
    told = {"tag": tag, "key": next(keys)}
    begun = bench.post("/bench/rework/begin", {**told, "operation": "clean"})
    assert (begun.status_code, begun.location) == (303, f"/bench/rework/?tag={tag}")
    assert yard.core("A2").rework_begun == "clean"
    assert "Which operation" not in bench.text("/bench/rework/", tag=tag)


def test_money_of_the_hint_is_the_owners(bench: StationClient, yard: Yard) -> None:
    yard.buy("A3", lot="L3")
    yard.measure("A3", at="2026-05-20 09:00", bore=WORN)
    yard.finish("A3", "hone")
    yard.measure("A3", at="2026-05-23 08:00")
    owner = StationClient("owner", "Ilse Thornby")
    for path in ("/bench/rework/", f"/bench/rework/?tag={yard.core('A1').tag}"):
        assert "more than its scrap" in words(owner.get(path))
        assert "more than its scrap" not in words(bench.get(path))
        assert "1 of 1 pass so far ended in a good body" in words(bench.get(path))
    assert "Send this body to scrap" in words(owner.get(path))
    assert "Send this body to scrap" not in words(bench.get(path))


def test_the_owner_sends_a_body_to_scrap_with_a_reason(yard: Yard) -> None:
    owner = StationClient("owner", "Ilse Thornby")
    told = {"tag": yard.core("A1").tag, "to": "scrap", "reason": "too thin", "key": next(keys)}
    assert owner.post("/bench/overrule", told).status_code == 303
    assert yard.core("A1").state == "scrapped"


def test_only_inspectors_rework(yard: Yard) -> None:
    clerk = StationClient("clerk")
    assert clerk.get("/bench/rework/").status_code == 403
    assert clerk.get("/bench/second/").status_code == 403


def test_a_body_of_no_rework_and_no_body_at_all(bench: StationClient, yard: Yard) -> None:
    yard.buy("A4", lot="L2")
    page = bench.text("/bench/rework/", tag=yard.core("A4").tag)
    assert "Nothing waits to be reworked here." in page
    assert bench.get("/bench/rework/", tag="nothing").status_code == 404


def test_more_bodies_are_listed_without_more_questions_to_the_books(
    bench: StationClient, yard: Yard, caplog: pytest.LogCaptureFixture
) -> None:
    caplog.set_level(logging.DEBUG, "peewee")

    def asked() -> int:
        caplog.clear()
        bench.get("/bench/rework/")
        return len(caplog.records)

    before = asked()
    serials = [f"M{number}" for number in range(12)]
    yard.buy(*serials, lot="L9")
    for serial in serials:
        yard.measure(serial, at="2026-05-22 09:00", bore=WORN)
    assert asked() == before > 5
    assert "Hone the bore: 14" in bench.text("/bench/rework/")
