"""The register of gauges, their checks, and the recall of what they measured."""

from __future__ import annotations

from itertools import count
from typing import Any

import pytest
from core_yard import Yard
from databases import TestDatabase

from coretrack.actions import gauge_recalls, gauges
from coretrack.actions.gauges import GaugeTold
from coretrack.errors import InvalidInput, NotFound
from coretrack.figures.plain_words import counted
from coretrack.figures.trade_objects import Gauge
from coretrack.records import unseen
from coretrack.records.database import connection
from coretrack.records.verify import verify
from coretrack.records.writer import writing

keys = (f"gauge-{number}" for number in count())
DIAL = GaugeTold("DG7", "Dial gauge", "dial gauge", "µm", "1", "3,5", "180", "2026-11-05", "")


@pytest.fixture
def yard(db: TestDatabase) -> Yard:
    yard = Yard()
    yard.set_up()
    return yard


def doer(yard: Yard, key: str = "") -> dict[str, Any]:
    return {"by": yard.by, "station": "desk", "now": yard.now, "key": key or next(keys)}


def gauge(code: str, yard: Yard) -> Gauge:
    return gauges.gauge_view(code, yard.now).line.gauge


def standing(code: str, yard: Yard) -> str:
    return gauges.gauge_view(code, yard.now).line.standing.words


def test_a_gauge_is_entered_and_the_register_says_what_is_due(yard: Yard) -> None:
    assert gauges.add_gauge(DIAL, **doer(yard)) == "DG7"
    assert gauge("DG7", yard).uncertainty == "3.5"
    lines = gauges.register(yard.now).lines
    # The yard's day is 31 October: BG1 was due on 30 June.
    assert [(line.gauge.key, line.standing.words) for line in lines] == [
        ("BG1", "overdue by 123 days"),
        ("DG7", "due in 5 days"),
    ]
    with connection():
        assert verify()[1] == []


def test_every_wrong_field_is_named_and_nothing_is_stored(yard: Yard) -> None:
    events = yard.events()
    told = GaugeTold("bg1", "", "", "furlong-ish", "-1", "x", "often", "soon", "")
    with pytest.raises(InvalidInput) as wrong:
        gauges.add_gauge(told, **doer(yard))
    assert set(wrong.value.fields) == {
        *("code", "name", "kind", "unit", "resolution"),
        *("uncertainty", "interval_days", "due_on"),
    }
    assert yard.events() == events


def test_a_form_sent_twice_enters_one_gauge(yard: Yard) -> None:
    assert gauges.add_gauge(DIAL, **doer(yard, "same")) == "DG7"
    assert gauges.add_gauge(DIAL, **doer(yard, "same")) == "DG7"
    assert len(gauges.gauge_view("DG7", yard.now).history) == 1


def test_changing_the_register_says_what_changed(yard: Yard) -> None:
    gauges.add_gauge(DIAL, **doer(yard))
    told = GaugeTold("", "Dial gauge", "dial gauge", "µm", "1", "4", "180", "2026-11-05", "")
    assert gauges.change_gauge("DG7", told, **doer(yard)) == "U 4"
    assert gauges.change_gauge("DG7", told, **doer(yard)) == "nothing was to be changed"
    newest = gauges.gauge_view("DG7", yard.now).history[0]
    assert (newest.what, newest.by) == ("U 4", yard.by)


def test_a_good_check_sets_the_next_due_day_from_the_interval(yard: Yard) -> None:
    gauges.add_gauge(DIAL, **doer(yard))
    said = gauges.note_check("DG7", "2026-10-30", True, **doer(yard))
    assert said == "DG7 is good since 2026-10-30; due again 2027-04-28."
    assert (gauge("DG7", yard).checked_on, standing("DG7", yard)) == ("2026-10-30", "in order")


def test_a_bad_check_takes_the_gauge_out_and_a_good_one_brings_it_back(yard: Yard) -> None:
    gauges.note_check("BG1", "2026-05-01", True, "2026-12-01", **doer(yard))
    gauges.note_check("BG1", "", False, note="reads 0.02 off", **doer(yard))
    assert standing("BG1", yard) == "out of use"
    # The earlier check stays the last good one: from there the recall counts.
    assert gauge("BG1", yard).checked_on == "2026-05-01"
    gauges.note_check("BG1", "", True, "2027-01-01", **doer(yard))
    assert standing("BG1", yard) == "in order"


def test_dropping_a_gauge_takes_it_out_of_use_for_a_reason(yard: Yard) -> None:
    with pytest.raises(InvalidInput) as wrong:
        gauges.take_out_of_use("BG1", " ", **doer(yard))
    assert list(wrong.value.fields) == ["reason"]
    gauges.take_out_of_use("BG1", "dropped", **doer(yard))
    assert gauge("BG1", yard).out_of_use
    assert gauges.gauge_view("BG1", yard.now).history[0].why == "dropped"


@pytest.mark.parametrize(
    ("told", "field"),
    [
        ({"day": "2026-11-01", "good": True, "due_on": "2027-01-01"}, "day"),
        ({"day": "yesterday", "good": True, "due_on": "2027-01-01"}, "day"),
        ({"day": "2026-10-01", "good": True, "due_on": "2026-09-01"}, "due_on"),
        ({"day": "2026-10-01", "good": True}, "due_on"),
        ({"day": "2026-10-01", "good": False}, "note"),
        ({"day": "2026-04-30", "good": True, "due_on": "2027-01-01"}, "day"),
    ],
)
def test_a_check_that_cannot_be_is_refused_at_its_field(
    yard: Yard, told: dict[str, Any], field: str
) -> None:
    gauges.note_check("BG1", "2026-05-01", True, "2026-12-01", **doer(yard))
    events = yard.events()
    with pytest.raises(InvalidInput) as wrong:
        gauges.note_check("BG1", **told, **doer(yard))
    assert field in wrong.value.fields
    assert yard.events() == events


def measured(yard: Yard) -> None:
    """Measure one core a day, 20 to 23 May, the last one with another gauge."""
    yard.sell(quantity=4)
    yard.bring_back("A1", "A2", "A3", "A4", day="2026-05-18")
    for day, serial in enumerate(("A1", "A2", "A3"), start=20):
        # Gauges of a file may be written in other capitals than in the register.
        yard.measure(serial, at=f"2026-05-{day} 09:00", gauge="bg1" if day == 22 else "BG1")
    yard.measure("A4", at="2026-05-23 09:00", gauge="ZZ9")


def recalled(code: str, since: str = "", **more: Any) -> list[str]:
    return [core.tag for core in gauge_recalls.recall(code, since, **more).cores]


def test_a_recall_lists_every_core_since_the_last_good_check_that_day_included(yard: Yard) -> None:
    measured(yard)
    tags = [yard.core(serial).tag for serial in ("A1", "A2", "A3")]
    assert recalled("BG1") == tags
    gauges.note_check("BG1", "2026-05-21", True, "2026-12-01", **doer(yard))
    found = gauge_recalls.recall("BG1")
    assert [core.tag for core in found.cores] == tags[1:]
    assert (found.since, found.readings, found.to_pull) == ("2026-05-21", 6, (tuple(tags[1:]),))
    first = found.cores[0].readings[0]
    assert (first.check, first.typed, f"{first.at:%Y-%m-%d %H:%M}") == (
        "bore",
        "24.010",
        "2026-05-21 09:00",
    )
    assert recalled("BG1", "2026-05-22") == tags[2:]
    assert recalled("BG1", "2026-05-23") == []


def test_a_bad_check_recalls_from_the_good_one_before_it(yard: Yard) -> None:
    measured(yard)
    gauges.note_check("BG1", "2026-05-21", True, "2026-12-01", **doer(yard))
    gauges.note_check("BG1", "2026-10-31", False, note="off", **doer(yard))
    assert len(recalled("BG1")) == 2


def test_readings_taken_overdue_are_stamped_and_listed(yard: Yard) -> None:
    yard.sell(quantity=2)
    yard.bring_back("A1", "A2", day="2026-05-18")
    yard.measure("A1", at="2026-06-30 16:00")
    yard.measure("A2", at="2026-07-01 09:00")
    line = gauges.gauge_view("BG1", yard.now).line
    assert line.stamped == 1
    assert recalled("BG1", overdue_only=True) == [yard.core("A2").tag]


def test_the_register_names_gauges_that_only_readings_know(yard: Yard) -> None:
    measured(yard)
    assert gauges.register(yard.now).unknown == ("ZZ9",)


def test_a_recall_as_a_file_has_one_reading_a_row(yard: Yard) -> None:
    measured(yard)
    found = gauge_recalls.recall("BG1")
    rows = gauge_recalls.recall_csv(found).decode("utf-8-sig").splitlines()
    assert len(rows) == 1 + found.readings == 10
    assert gauge_recalls.recall_sentence(found) == (
        f"{counted(3, 'core')} with 9 readings (no good check is on record, so every reading "
        "counts)."
    )


def test_what_may_be_in_service_is_pulled_first_and_scrap_last(yard: Yard) -> None:
    measured(yard)
    tags = {serial: yard.core(serial).tag for serial in ("A1", "A2", "A3")}
    states = {core.tag: core.state.words for core in gauge_recalls.recall("BG1").cores}
    with writing(yard.by, yard.now) as writer:
        writer.event("core", tags["A3"], "picked", {"into": "Order 7"})
        writer.event("core", tags["A1"], "overridden", {"grade": "scrap"}, why="dropped")
    found = gauge_recalls.recall("BG1")
    assert set(states.values()) == {"good body"}
    assert [core.tag for core in found.cores] == [tags["A3"], tags["A2"], tags["A1"]]
    assert tags["A3"] in found.to_pull[0]


def test_a_core_to_be_seen_blind_is_counted_but_not_listed_for_who_may_look(yard: Yard) -> None:
    measured(yard)
    tag = yard.core("A2").tag
    look = {"key": "L", "tag": tag, "why": "drawn", "status": "wanted", "first_inspector": "Bela"}
    with writing(yard.by, yard.now) as writer:
        writer.event("second look", "L", "set", look)
    unseen.look_as("Oda")
    try:
        found = gauge_recalls.recall("BG1")
    finally:
        unseen.look_as(None)
    assert tag not in [core.tag for core in found.cores]
    assert found.unseen == 1
    assert gauge_recalls.recall_sentence(found).endswith(
        " 1 core is not listed for you before a second look."
    )
    assert gauge_recalls.recall("BG1").unseen == 0
    assert tag in recalled("BG1")


def test_what_is_not_there_or_no_day_is_said(yard: Yard) -> None:
    with pytest.raises(NotFound):
        gauge_recalls.recall("NONE")
    with pytest.raises(InvalidInput) as wrong:
        gauge_recalls.recall("BG1", "since may")
    assert list(wrong.value.fields) == ["since"]
