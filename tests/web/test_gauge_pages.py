"""The gauges' pages: the register, a check, a recall with its labels, a study."""

from __future__ import annotations

import re
from itertools import count

import pytest
from core_yard import Yard
from databases import TestDatabase
from station_client import StationClient, words
from werkzeug.test import TestResponse

from coretrack.actions.gauge_studies import study_view
from coretrack.figures.tags import show_tag
from coretrack.web import gauges, here

keys = (f"gauge-page-{number}" for number in count())
clock = count(1_000_000, 2_000)
NEW = {
    **{"code": "DG/7 ?", "name": "Dial gauge", "kind": "dial gauge", "unit": "um"},
    **{"resolution": "1", "uncertainty": "3,5", "interval_days": "180", "due_on": "2026-11-05"},
}


@pytest.fixture
def yard(db: TestDatabase, monkeypatch: pytest.MonkeyPatch) -> Yard:
    yard = Yard()
    yard.set_up()
    monkeypatch.setattr(gauges, "now", lambda: yard.now)
    monkeypatch.setattr(here, "now", lambda: yard.now)
    return yard


@pytest.fixture
def owner(yard: Yard) -> StationClient:
    return StationClient("owner")


def send(client: StationClient, path: str, of: str = "", **fields: str) -> TestResponse:
    told = {"key": next(keys), **fields}
    return client.post(f"/gauges/{path}", told, query_string={"code": of})


def begun(client: StationClient, **fields: str) -> str:
    told = {"check": "GPB/bore", "inspectors": "Bela, Oda", "pieces": "2", "trials": "2"}
    answer = send(client, "studies", "BG1", **{**told, **fields})
    assert answer.status_code == 303, words(answer)
    return "BG1/1"


def test_a_new_gauge_stands_in_the_register(owner: StationClient) -> None:
    answer = send(owner, "", **NEW)
    assert answer.status_code == 303, words(answer)
    assert "Gauge DG/7 ?" in words(owner.client.get(answer.location))
    page = owner.text("/gauges/")
    assert "BG1 Bore gauge bore gauge overdue by 123 days 2026-06-30" in page
    assert "due in 5 days" in page


def test_a_wrong_gauge_comes_back_as_typed_with_its_fields_named(owner: StationClient) -> None:
    answer = send(owner, "", **{**NEW, "code": "BG1", "resolution": "fine"})
    assert answer.status_code == 422
    assert 'id="new-code-wrong"' in answer.text
    assert 'id="new-resolution-wrong"' in answer.text
    assert 'value="fine"' in answer.text


def test_a_check_is_noted_and_a_bad_one_offers_the_recall(owner: StationClient) -> None:
    wrong = send(owner, "check", "BG1", day="2026-10-30", note="typed")
    assert wrong.status_code == 422
    assert 'value="typed"' in wrong.text
    good = {"result": "good", "day": "2026-10-30", "due_on": "2027-04-30"}
    assert send(owner, "check", "BG1", **good).status_code == 303
    assert "in order" in owner.text("/gauges/gauge", code="BG1")
    send(owner, "check", "BG1", result="not good", note="reads low")
    page = owner.text("/gauges/gauge", code="BG1")
    assert "out of use" in page
    assert "Recall what it measured since its last good check." in page


def test_an_inspector_reads_the_register_and_takes_a_gauge_out_but_no_more(yard: Yard) -> None:
    inspector = StationClient("inspector")
    page = inspector.text("/gauges/gauge", code="BG1")
    assert "A check of this gauge" not in page
    assert send(inspector, "out", "BG1", reason="").status_code == 422
    assert send(inspector, "out", "BG1", reason="dropped").status_code == 303
    for path in ("", "check", "change"):
        assert send(inspector, path, "BG1", **NEW).status_code == 403
    assert StationClient("clerk").get("/gauges/").status_code == 403


def test_a_recall_lists_the_cores_and_prints_labels_to_pull_them(
    owner: StationClient, yard: Yard
) -> None:
    yard.sell(quantity=2)
    yard.bring_back("A1", "A2")
    yard.measure("A1")
    yard.measure("A2", at="2026-07-02 10:00")
    tags = [yard.core(serial).tag for serial in ("A1", "A2")]
    page = owner.get("/gauges/recall", code="BG1")
    assert all(show_tag(tag) in words(page) for tag in tags)
    assert "A keep verdict is not an approval for service" in words(page)
    found = re.search(r'name="tags" value="([^"]+)"', page.text)
    assert found is not None
    assert found[1] == ",".join(tags)
    printed = owner.post("/labels/print", {"tags": found[1], "how": "browser", "key": "pull"})
    assert printed.status_code == 303
    assert [yard.core(serial).labels for serial in ("A1", "A2")] == [1, 1]
    stamped = owner.text("/gauges/recall", code="BG1", stamped="1")
    assert show_tag(tags[1]) in stamped
    assert show_tag(tags[0]) not in stamped
    assert "overdue" in stamped
    wrong = owner.get("/gauges/recall", code="BG1", since="may")
    assert wrong.status_code == 422
    assert 'id="since-wrong"' in wrong.text
    file = owner.get("/gauges/recall.csv", code="BG1")
    assert file.headers["Content-Disposition"] == 'attachment; filename="recall-BG1.csv"'


def test_a_study_is_measured_by_the_scan_box_without_showing_earlier_readings(
    owner: StationClient,
) -> None:
    study = begun(owner)
    seen = owner.get("/gauges/study", code=study)
    assert 'data-page="study"' in seen.text
    cell = study_view(study).next
    assert cell is not None
    assert f"{cell.inspector}: piece {cell.piece}" in words(seen)
    body = {"key": next(keys), "text": "24,011", "page": "study", "code": study, "at": next(clock)}
    headers = {"Accept": "application/json", "X-CSRFToken": owner.token()}
    answer = owner.client.post("/receiving/scan", json=body, headers=headers).get_json()
    assert answer["reply"]["tone"] == "good"
    assert answer["spot"] == {"page": "study", "code": study, "seen": "1"}
    following = study_view(study).next
    assert following is not None
    assert f"{following.inspector}: piece {following.piece}" in answer["html"]


def test_a_study_is_measured_by_fields_asked_back_and_applied(owner: StationClient) -> None:
    study = begun(owner)
    asked = send(owner, "study", study, act="enter", reading="30.5")
    assert asked.status_code == 422
    assert 'value="30.5"' in asked.text
    assert 'name="insist"' in asked.text
    number = 0
    while study_view(study).next:
        number += 1
        reading = f"24.0{number:02d}"
        assert send(owner, "study", study, act="enter", reading=reading).status_code == 303
    page = owner.text("/gauges/study", code=study)
    assert "U = " in page
    assert "Analysis of variance" in page
    assert "Average and range" in page
    assert StationClient("inspector").post(
        "/gauges/study", {"act": "apply", "key": next(keys)}, query_string={"code": study}
    ).status_code == 403  # fmt: skip
    assert send(owner, "study", study, act="apply").status_code == 303
    assert study_view(study).study.status == "done"
    assert "done" in owner.text("/gauges/study", code=study)


def test_a_wrong_design_comes_back_as_typed(owner: StationClient) -> None:
    answer = send(owner, "studies", "BG1", inspectors="", pieces="many of them", trials="9")
    assert answer.status_code == 422
    assert 'value="many of them"' in answer.text
    assert 'id="study-inspectors-wrong"' in answer.text
    assert 'id="study-trials-wrong"' in answer.text


def test_what_is_not_there_is_not_found(owner: StationClient) -> None:
    for path in ("gauge", "recall", "recall.csv", "study"):
        assert owner.get(f"/gauges/{path}", code="x/../y").status_code == 404
    assert send(owner, "check", "x", result="good", due_on="2027-01-01").status_code == 404
    study = begun(owner)
    assert send(owner, "study", study, act="enter", cell="99", reading="24.01").status_code == 422
