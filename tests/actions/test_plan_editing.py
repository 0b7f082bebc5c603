"""The owner's plans: looked over, stored as new versions, written out and taken in again."""

from __future__ import annotations

import copy
import tomllib
from itertools import count
from typing import Any

import pytest
from core_yard import Yard
from databases import TestDatabase

from coretrack.actions import check_orders, plan_editing
from coretrack.errors import Conflict, InvalidInput, NotFound
from coretrack.figures.plan_writing import tables_as_toml
from coretrack.records.database import connection
from coretrack.records.verify import verify

keys = (f"plan-{number}" for number in count())


@pytest.fixture
def yard(db: TestDatabase) -> Yard:
    yard = Yard()
    yard.set_up()
    return yard


def tables(family: str = "GPB") -> dict[str, Any]:
    return copy.deepcopy(plan_editing.family_view(family).tables)


def edited(told: dict[str, Any]) -> dict[str, Any]:
    """Return what the form gives: neither prices, groups nor charges."""
    parts = (*plan_editing.PLAN_PARTS, *plan_editing.HEADER_PARTS)
    return {name: value for name, value in told.items() if name in parts}


def save(
    yard: Yard, told: dict[str, Any], code: str = "GPB", seen: str = "1/1", key: str = ""
) -> tuple[str, tuple[str, ...]]:
    return plan_editing.save_plan(
        edited(told), code, seen, by=yard.by, station="desk", now=yard.now, key=key or next(keys)
    )


def save_file(yard: Yard, text: str) -> tuple[str, tuple[str, ...]]:
    return plan_editing.save_file(text, by=yard.by, station="desk", now=yard.now, key=next(keys))


def check(told: dict[str, Any], code: str) -> dict[str, Any]:
    found: dict[str, Any] = next(one for one in told["checks"] if one["code"] == code)
    return found


def test_what_is_stored_is_looked_over_as_no_change(yard: Yard) -> None:
    assert plan_editing.look_over(edited(tables()), "GPB").changes == ()
    events = yard.events()
    assert save(yard, tables()) == ("GPB", ())
    assert yard.events() == events


def test_a_changed_limit_becomes_a_new_version_that_says_what_changed(yard: Yard) -> None:
    told = tables()
    check(told, "bore")["usable"] = "24.000..24.030"
    said = ("check Gear bore: usable was 24..24.04 mm, is now 24..24.03 mm",)
    assert plan_editing.look_over(edited(told), "GPB").changes == said
    assert save(yard, told) == ("GPB", said)
    view = plan_editing.family_view("GPB")
    assert (view.plans[0].number, view.plans[0].changes) == (2, said)
    assert view.plans[1].changes == ("the first one: 5 checks, 4 operations",)
    assert [one.number for one in view.criteria] == [1]
    assert plan_editing.stored_plan("GPB", 1).check("bore").usable != (
        plan_editing.stored_plan("GPB", 2).check("bore").usable
    )
    with connection():
        assert verify()[1] == []


def test_a_used_plan_is_frozen_and_cores_begun_keep_theirs(yard: Yard) -> None:
    yard.sell(quantity=2)
    yard.bring_back("A1", "A2")
    yard.measure("A1", crack="", look="")
    told = tables()
    check(told, "bore")["usable"] = "24.000..24.005"
    save(yard, told)
    first, second = reversed(plan_editing.family_view("GPB").plans)
    assert (first.used, second.used) == (1, 0)
    # The rest of the first core is judged by the plan it was begun under, the other by the new one.
    yard.measure("A1", at="2026-05-21 09:05", bore=(), face="", thread="")
    yard.measure("A2", at="2026-05-21 10:00")
    assert (yard.core("A1").plan_version, yard.core("A1").grade) == (1, "keep")
    assert (yard.core("A2").plan_version, yard.core("A2").grade) != (1, "keep")
    assert yard.core("A2").plan_version == 2


def test_changed_criteria_are_a_version_of_their_own(yard: Yard) -> None:
    told = tables()
    told["faults"][1]["value"] = "30"
    told["faults"].append({"code": "rust", "name": "Rust", "effect": "percent", "value": "5"})
    said = (
        "criterion Port thread damaged: was 25 % off, is now 30 % off",
        "criterion Rust is new: 5 % off",
    )
    assert save(yard, told)[1] == said
    view = plan_editing.family_view("GPB")
    assert ([one.number for one in view.plans], len(view.criteria)) == ([1], 2)
    assert view.criteria[0].changes == said


def test_a_plan_that_is_wrong_names_each_field_and_stores_nothing(yard: Yard) -> None:
    told = tables()
    check(told, "bore")["usable"] = "24.04..24.00"
    check(told, "face")["rework"][0]["operation"] = "plate"
    told["operations"][0]["most_passes"] = "0"
    events = yard.events()
    with pytest.raises(InvalidInput) as wrong:
        save(yard, told)
    assert set(wrong.value.fields) == {
        "checks bore, usable",
        "checks face, rework",
        "operations hone, most_passes",
    }
    assert plan_editing.look_over(edited(told), "GPB").problems == wrong.value.fields
    assert yard.events() == events


def test_a_printed_pair_that_disagrees_is_flagged_and_one_that_agrees_is_taken(yard: Yard) -> None:
    told = tables()
    check(told, "bore")["usable"] = "24.000..24.040 mm (0.9449..0.9564 in)"
    looked = plan_editing.look_over(edited(told), "GPB")
    assert looked.problems == {
        "checks bore, usable": "24.040 mm is 0.946457 in, not 0.9564 in; one of the two is "
        "misprinted"
    }
    check(told, "bore")["usable"] = "24.000..24.040 mm (0.9449..0.9465 in)"
    assert plan_editing.look_over(edited(told), "GPB").changes == ()
    check(told, "bore")["nominal"] = "0.9449 in (24.5 mm)"
    looked = plan_editing.look_over(edited(told), "GPB")
    assert "misprinted" in (looked.problems or {})["checks bore, nominal"]


def test_a_tolerance_class_is_stored_as_the_limits_it_means(yard: Yard) -> None:
    told = tables("CLB")
    check(told, "pin")["usable"] = "12 H9"
    assert plan_editing.look_over(edited(told), "CLB").changes == (
        "check Pin bore: usable was 12..12.05 mm, is now 12..12.043 mm",
    )


def test_the_second_of_two_editors_is_told_and_can_go_on(yard: Yard) -> None:
    one, two = tables(), tables()
    check(one, "bore")["name"] = "Gear bores"
    check(two, "face")["usable"] = "<= 4"
    check(two, "face")["rework"][0]["limits"] = "4..20"
    save(yard, one)
    events = yard.events()
    with pytest.raises(Conflict, match="version 2 now"):
        save(yard, two)
    assert yard.events() == events
    save(yard, two, seen="2/1")
    assert plan_editing.family_view("GPB").plans[0].number == 3


def test_a_form_sent_twice_stores_once(yard: Yard) -> None:
    told = tables()
    check(told, "bore")["name"] = "Gear bores"
    first = save(yard, told, key="same")
    assert save(yard, told, key="same") == first
    assert len(plan_editing.family_view("GPB").plans) == 2


def test_the_form_leaves_numbers_charges_and_prices_alone(yard: Yard) -> None:
    before = {name: tables()[name] for name in ("groups", "charges")}
    told = tables()
    told["mass_g"] = "1250"
    assert save(yard, told)[1] == ("mass in grams: was 1200, is now 1250",)
    assert {name: tables()[name] for name in before} == before


def test_a_new_family_is_stored_and_one_that_is_there_is_not_overwritten(yard: Yard) -> None:
    told = {**edited(tables("CLB")), "code": "NEW", "name": "New bracket"}
    code, changes = save(yard, told, code="", seen="")
    assert (code, changes) == ("NEW", ("family NEW is new: 1 check, 0 operations, 1 criterion",))
    assert [line.code for line in plan_editing.plans_view()] == ["CLB", "GPB", "NEW"]
    with pytest.raises(InvalidInput) as there:
        save(yard, {**told, "name": "Another"}, code="", seen="")
    assert list(there.value.fields) == ["code"]


@pytest.mark.parametrize("family", ["GPB", "CLB"])
def test_an_exported_plan_taken_in_again_changes_nothing(yard: Yard, family: str) -> None:
    name, text = plan_editing.plan_file(family)
    assert name == f"{family}.toml"
    assert plan_editing.look_at_file(text).changes == ()
    events = yard.events()
    assert save_file(yard, text) == (family, ())
    assert yard.events() == events
    assert plan_editing.plan_file(family) == (name, text)


def test_an_older_version_can_be_written_out_and_taken_back(yard: Yard) -> None:
    told = tables()
    check(told, "bore")["usable"] = "24.000..24.030"
    save(yard, told)
    _, first = plan_editing.plan_file("GPB", 1)
    assert 'usable = "24.000..24.040"' in first
    assert save_file(yard, first)[1] == (
        "check Gear bore: usable was 24..24.03 mm, is now 24..24.04 mm",
    )
    assert plan_editing.family_view("GPB").plans[0].number == 3
    with pytest.raises(NotFound):
        plan_editing.plan_file("GPB", 9)


def test_a_file_can_change_charges_numbers_and_prices_too(yard: Yard) -> None:
    told = tomllib.loads(plan_editing.plan_file("GPB")[1])
    told["charges"][1]["amount"] = "25.00"
    told["groups"][1]["numbers"].append({"number": "GP-2084", "kind": "OE"})
    told["prices"] = {"new_body": "80"}
    assert save_file(yard, tables_as_toml(told))[1] == (
        "price new body: was –, is now 80.00",
        "core charge from 2026-07-01: was 24.00, is now 25.00",
        "number GP-2084 is new",
    )


@pytest.mark.parametrize("text", ["", "code = ", "not toml at all", 'code = "X"', "\x00"])
def test_what_is_no_plan_file_is_refused_in_words(yard: Yard, text: str) -> None:
    looked = plan_editing.look_at_file(text)
    assert looked.message
    assert looked.problems
    with pytest.raises(InvalidInput):
        save_file(yard, text)


def test_the_cheapest_order_follows_the_stored_history(yard: Yard) -> None:
    yard.sell(quantity=4)
    serials = ("A1", "A2", "A3", "A4")
    yard.bring_back(*serials)
    for place, serial in enumerate(serials):
        # Three of four are lost by the crack check, one of four by its bore.
        rows = [
            f"2026-05-21 09:0{place}:{second:02d},Bela Quirke,BG1,{serial},{code},{reading}"
            for second, code, reading in (
                (0, "face", "3"),
                (4, "bore", "24.01"),
                (6, "bore", "24.01"),
                (24, "bore", "25" if place == 0 else "24.01"),
                (26, "thread", "go"),
                (30, "crack", "indication" if place else "none"),
                (31, "look", "A"),
            )
        ]
        yard.grade("\n".join(["time,inspector,gauge,core,check,reading", *rows, ""]).encode())
    view = check_orders.order_advice("GPB", {}, yard.now)
    found = {one.check: (one.tried, one.failed, one.seconds) for one in view.advice.records}
    assert view.cores == 4
    assert found["crack"] == (4, 3, 4)
    assert found["thread"] == (4, 0, 2)
    assert found["face"] == (4, 0, None)
    assert view.advice.why == "no time is known for: Cover face"
    told = check_orders.order_advice("GPB", {"face": "4,5"}, yard.now)
    assert told.advice.order[:2] == ("crack", "bore")
    assert told.cost(told.advice.records[0].seconds) == 42 * 10_000 * 24 // 3600
    with pytest.raises(InvalidInput) as wrong:
        check_orders.order_advice("GPB", {"face": "soon"}, yard.now)
    assert list(wrong.value.fields) == ["face"]


def test_an_operation_after_which_nobody_looks_for_cracks_is_warned_of(yard: Yard) -> None:
    told = tables()
    warned = plan_editing.family_view("GPB").warnings
    assert not any("Hone the bore" in warning for warning in warned)
    hone = next(one for one in told["operations"] if one["code"] == "hone")
    hone["disturbs"] = []
    looked = plan_editing.look_over(edited(told), "GPB")
    assert looked.message == ""
    (warning,) = [each for each in looked.warnings if "Hone the bore" in each]
    assert "takes stock off, and Crack check is not done again after it" in warning
