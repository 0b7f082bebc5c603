"""Slips, doubts, gauges and plans at the bench: who settles what, and how a slip is undone."""

from __future__ import annotations

import copy
from dataclasses import replace
from datetime import timedelta
from itertools import count
from typing import Any

import pytest
from bench_desk import GOOD_BODY, TODAY, Inspector, bodies
from core_yard import Yard

from coretrack.actions import core_life, plan_editing, station_scans
from coretrack.actions.bench_hand import Entry, hand_of, keep_hand
from coretrack.actions.bench_store import overrule
from coretrack.actions.rack_runs import racks_at_work
from coretrack.errors import Forbidden, InvalidInput, NotAllowed
from coretrack.figures.scan_replies import ScanReply, Spot
from coretrack.records.database import connection
from coretrack.records.unseen import look_as
from coretrack.records.writer import writing

UNSURE = (*GOOD_BODY[:5], "unsure", "A")
LATER = TODAY + timedelta(hours=3)
keys = (f"slip-{number}" for number in count())


@pytest.fixture
def tag(yard: Yard) -> str:
    look_as(None)
    return bodies(yard, 1)[0]


def una(tag: str) -> Inspector:
    return Inspector("Una Pryor", "bench 2", start=LATER).at(tag)


def owner_overrules(yard: Yard, tag: str, to: str, reason: str = "a slip", **more: Any) -> str:
    told = {"role": "owner", "by": yard.by, "station": "office", "now": yard.now, **more}
    return overrule(tag, to, reason, key=next(keys), **told)


def another_gauge(yard: Yard) -> None:
    with writing(yard.by, yard.now) as writer:
        told = {"key": "BG2", "name": "Second bore gauge", "kind": "bore gauge", "unit": "mm"}
        writer.event("gauge", "BG2", "set", told)


def change_plan(yard: Yard, code: str, **fields: Any) -> None:
    parts = (*plan_editing.PLAN_PARTS, *plan_editing.HEADER_PARTS)
    tables = copy.deepcopy(plan_editing.family_view("GPB").tables)
    told = {name: value for name, value in tables.items() if name in parts}
    next(check for check in told["checks"] if check["code"] == code).update(fields)
    done = {"by": yard.by, "station": "desk", "now": yard.now, "key": next(keys)}
    plan_editing.save_plan(told, "GPB", "1/1", **done)


def gauges_of(tag: str) -> list[str]:
    with connection():
        return [entry.gauge for entry in hand_of(tag).entries]


# a crack result without the day's checks -----------------------------------------------------


def test_a_keep_says_that_its_crack_result_had_no_check_of_the_day(yard: Yard, tag: str) -> None:
    bela = Inspector().at(tag)
    lacks = "Crack check: stamped no white light check that day."
    proposed = bela.type(*GOOD_BODY)
    assert (proposed.word, lacks in proposed.detail) == ("KEEP?", True)
    assert bela.view().stamped == lacks
    stored = bela.type("")
    assert (stored.word, lacks in stored.line) == ("KEEP", True)
    told = core_life.core_view(tag).past.verdicts[0]
    assert lacks in told.sentence


# doubts --------------------------------------------------------------------------------------


def test_a_second_person_makes_the_own_check_of_what_was_unsure(yard: Yard, tag: str) -> None:
    Inspector().at(tag).type(*UNSURE, "")
    second = una(tag)
    current = second.view().current
    assert current is not None
    assert (current.code, second.view().proposed) == ("crack", None)
    assert second.type("none").word == "KEEP?"
    again = second.type("again")
    assert (again.word, "none is taken back" in again.line) == ("AGAIN", True)
    second.type("none", "")
    assert yard.core("B1").state == "good"


def test_a_doubters_word_from_an_older_draft_is_neither_counted_nor_told(
    yard: Yard, tag: str
) -> None:
    bela = Inspector().at(tag)
    bela.type(*UNSURE, "")
    with writing("Bela Quirke", bela.now) as writer:
        hand = hand_of(tag)
        slip = Entry("crack", "none", result="none", by="Bela Quirke", at="2026-05-21T14:00:00Z")
        keep_hand(writer, replace(hand, entries=(slip,)), "typed", "none")
    second = una(tag)
    assert second.view().proposed is None
    assert second.view().others == ()
    assert second.type("").word == "NEXT"
    assert second.type("none").word == "KEEP?"


def test_a_second_persons_word_is_taken_where_the_first_was_unsure_and_stored_nothing(
    yard: Yard, tag: str
) -> None:
    Inspector().at(tag).type(*UNSURE)
    second = una(tag)
    assert "is not yours" in second.type("again").line
    assert second.type("none").word == "KEEP?"
    assert second.type("again").word == "AGAIN"
    assert second.type("none", "").word == "KEEP"


def test_the_doubter_does_not_settle_it_by_a_rack(yard: Yard, tag: str) -> None:
    Inspector().at(tag).type(*UNSURE, "")

    def rack(by: str, key: str) -> ScanReply:
        told = {"by": by, "station": "booth", "now": LATER, "key": key}
        return station_scans.scan(tag, Spot("rack", ""), **told)

    assert rack("Bela Quirke", "r1").word == "NOT BY YOU"
    assert rack("Una Pryor", "r2").word in ("1 IN", "WHICH RACK?")
    with connection():
        assert [len(rack.tags) for rack, _ in racks_at_work()] in ([], [1])


def test_an_unsure_check_is_called_unsure(yard: Yard, tag: str) -> None:
    bela = Inspector().at(tag)
    bela.type(*UNSURE)
    shown = {check.code: check.words for check in bela.view().checks}
    assert shown["crack"] == "unsure"


# slips ---------------------------------------------------------------------------------------


def test_undo_after_the_verdict_sends_to_the_owner_who_opens_it_again(yard: Yard, tag: str) -> None:
    bela = Inspector().at(tag)
    bela.type("24.300", "")
    assert yard.core("B1").state == "scrapped"
    assert "ask the owner to open it again" in bela.type("again").line

    said = owner_overrules(yard, tag, "measure again", "typed 24.300 for 24.030")

    assert "every check anew" in said
    core = yard.core("B1")
    assert (core.state, core.grade, core.findings) == ("reinspect", "open", ())
    assert (core.recovery, core.disposal) == (0, 0)
    assert yard.is_sound()
    bela = Inspector(start=yard.now + timedelta(hours=1)).at(tag)
    assert bela.type(*GOOD_BODY, "").word == "KEEP"
    assert [event for event, _ in yard.history("core", tag)].count("inspected") == 2
    told = core_life.core_view(tag).past.verdicts
    assert [one.what for one in told] == ["verdict", "opened again", "verdict"]
    assert told[1].why == "typed 24.300 for 24.030"
    assert yard.is_sound()


def test_no_crack_is_opened_again_and_no_doubter_settles_it_then(yard: Yard, tag: str) -> None:
    Inspector().at(tag).type(*GOOD_BODY[:5], "indication", "")
    with pytest.raises(NotAllowed, match="A crack is never overruled"):
        owner_overrules(yard, tag, "measure again")
    assert yard.core("B1").state == "scrapped"


def test_who_was_unsure_before_it_was_opened_again_does_not_settle_it(yard: Yard, tag: str) -> None:
    Inspector().at(tag).type(*UNSURE, "")
    una(tag).type("none", "")
    owner_overrules(yard, tag, "measure again")
    bela = Inspector(start=yard.now + timedelta(hours=1)).at(tag)
    assert bela.type(*GOOD_BODY[:5], "none").word == "NOT TAKEN"


def test_only_the_owner_opens_it_again_with_a_reason_and_only_a_stored_verdict(
    yard: Yard, tag: str
) -> None:
    with pytest.raises(NotAllowed, match="no stored verdict"):
        owner_overrules(yard, tag, "measure again")
    Inspector().at(tag).type(*GOOD_BODY, "")
    with pytest.raises(Forbidden):
        owner_overrules(yard, tag, "measure again", role="inspector")
    with pytest.raises(InvalidInput, match="needs a reason"):
        owner_overrules(yard, tag, "measure again", " ")
    assert yard.core("B1").state == "good"


def test_what_was_not_measured_leads_to_measuring_it_again(yard: Yard, tag: str) -> None:
    Inspector().at(tag).type("24.300", "")
    with pytest.raises(NotAllowed, match='overrule the stored verdict to "measure again"'):
        owner_overrules(yard, tag, "keep")


def test_a_grade_that_is_not_offered_is_not_taken_and_a_slip_of_the_last_one_is_put_right(
    yard: Yard, tag: str
) -> None:
    bela = Inspector().at(tag)
    refused = bela.type(*GOOD_BODY[:6], "E")
    assert (refused.word, "from A to D" in refused.line) == ("NOT TAKEN", True)
    current = bela.view().current
    assert current is not None
    assert current.letters == ("A", "B", "C", "D")
    bela.type("D")
    reply = bela.type("B")
    assert (reply.word, "'again' takes back your" in reply.detail) == ("ALL DONE", True)
    assert bela.choose(reply, "anew: B").word == "KEEP?"


# gauges --------------------------------------------------------------------------------------


def test_with_two_gauges_of_a_kind_the_first_reading_asks_which_is_in_hand(
    yard: Yard, tag: str
) -> None:
    another_gauge(yard)
    change_plan(yard, "bore", gauge_kind="bore gauge")
    bela = Inspector().at(tag)
    asked = bela.type("24.010")
    assert (asked.word, len(asked.offers), gauges_of(tag)) == ("WHICH GAUGE?", 2, [])
    assert bela.choose(asked, "BG2").word == "INSIDE"
    bela.type("24.011")
    assert gauges_of(tag) == ["BG2", "BG2"]
    current = bela.view().current
    assert current is not None
    assert (current.gauge.code, current.gauge.others) == ("BG2", ("BG1",))
    bela.type("gauge BG1", "24.012")
    assert gauges_of(tag) == ["BG2", "BG2", "BG1"]


# plans ---------------------------------------------------------------------------------------


def test_what_is_begun_is_judged_by_the_plan_it_was_begun_by(yard: Yard) -> None:
    begun, fresh = bodies(yard, 2)
    bela = Inspector().at(begun)
    bela.type(*GOOD_BODY[:3])
    change_plan(yard, "look", look_scraps=["A"], look_reworks=[])
    bela.look()
    assert bela.view().plan_version == 1
    bela.type(*GOOD_BODY[3:])
    assert bela.type("").word == "KEEP"
    assert yard.core("B1").plan_version == 1
    assert Inspector().at(fresh).view().plan_version == 2


# words ---------------------------------------------------------------------------------------


def test_the_state_tells_what_is_entered_and_a_stored_verdict_is_no_error(
    yard: Yard, tag: str
) -> None:
    bela = Inspector().at(tag)
    bela.type("24.010")
    assert bela.view().state.words == "being inspected, 1 entry, no verdict stored"
    shelf = station_scans.scan(
        tag, Spot("shelf", ""), by="Oda", station="store", now=LATER, key=next(keys)
    )
    assert (shelf.word, shelf.target, "being inspected" in shelf.line) == ("NOT GOOD", "core", True)
    bela.type(*GOOD_BODY[1:])
    assert bela.view().state.words == "every check entered, verdict not stored"
    bela.type("")
    view = bela.view()
    assert view.why_not == "The verdict keep is stored by Bela Quirke."
    assert not any(check.carried for check in view.checks)
