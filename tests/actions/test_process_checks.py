"""The day's checks of lamps and baths, their limits, and the stamps where one is missing."""

from __future__ import annotations

from datetime import datetime, timedelta
from itertools import count
from typing import Any

import pytest
from bench_desk import GOOD_BODY, TODAY, Inspector, bodies
from core_yard import Yard

from coretrack.actions import process_checks
from coretrack.actions.process_checks import missing_today, process_view
from coretrack.errors import Forbidden, InvalidInput, NotFound
from coretrack.figures.bench_objects import ProcessRule
from coretrack.figures.process_rules import KINDS, limits_words, measured, stamps_for
from coretrack.records.database import connection

keys = (f"process-{number}" for number in count())
LIGHT = {"light": "1200 lx", "distance": "400 mm", "place": "Booth 1"}
LAMP = {"uva": "1,2 mW/cm²", "ambient": "8 lx", "distance": "15 in", "place": "Booth 1"}


def told(at: datetime = TODAY, by: str = "Bela Quirke") -> dict[str, Any]:
    return {"by": by, "station": "bench 1", "now": at, "key": next(keys)}


def record(kind: str, values: dict[str, str], at: datetime = TODAY) -> str:
    return process_checks.record_check(kind, values, **told(at))


def stamps_of(yard: Yard, tag: str) -> list[str]:
    """Return the stamps of a core's stored crack reading."""
    (*_, last) = [d for event, d in yard.history("core", tag) if event == "inspected"]
    (reading,) = [each for each in last["readings"] if each["check"] == "crack"]
    return list(reading.get("stamps", []))


def graded(tag: str, station: str = "bench 1", start: datetime = TODAY) -> str:
    return Inspector(station=station, start=start).at(tag).type(*GOOD_BODY, "").word


@pytest.fixture
def tags(yard: Yard) -> list[str]:
    return bodies(yard, 3)


def test_a_result_without_the_days_check_is_stamped_and_said(yard: Yard, tags: list[str]) -> None:
    bela = Inspector().at(tags[0])
    assert bela.type(*GOOD_BODY[:5], "none").line.endswith(
        "Stamped: no white light check that day."
    )
    bela.type("A", "")
    assert stamps_of(yard, tags[0]) == ["no white light check that day"]
    with connection():
        assert missing_today(TODAY) == ("White light: not checked today",)

    assert record("white light", LIGHT) == "White light at Booth 1: good."

    assert graded(tags[1]) == "KEEP"
    assert stamps_of(yard, tags[1]) == []
    with connection():
        assert missing_today(TODAY) == ()
    graded(tags[2], start=TODAY + timedelta(days=1))
    assert stamps_of(yard, tags[2]) == ["no white light check that day"]
    assert yard.is_sound()


def test_a_check_that_is_not_good_stamps_until_it_is_made_again(
    yard: Yard, tags: list[str]
) -> None:
    said = record("white light", {**LIGHT, "light": "1099 lx"})
    assert "not good: White light at the part is 1099 lx, wanted at least 1100 lx" in said
    graded(tags[0])
    assert stamps_of(yard, tags[0]) == ["white light check not good that day"]
    record("white light", {**LIGHT, "light": "1100 lx"}, TODAY + timedelta(minutes=5))
    graded(tags[1])
    assert stamps_of(yard, tags[1]) == []
    (kind,) = [each for each in process_view("bench 1", TODAY).kinds if each.today]
    assert (kind.today[0].good, kind.today[0].times, kind.missing) == (True, 2, False)
    assert yard.is_sound()


def test_readings_from_a_file_are_stamped_by_the_day_they_were_taken(yard: Yard) -> None:
    yard.buy("F1", "F2")
    record("white light", LIGHT)
    assert not yard.measure("F1", at="2026-05-21 09:00").rejected
    assert not yard.measure("F2", at="2026-05-22 09:00").rejected
    assert stamps_of(yard, yard.core("F1").tag) == []
    assert stamps_of(yard, yard.core("F2").tag) == ["no white light check that day"]


def test_a_station_told_its_booth_counts_that_booths_checks_alone(
    yard: Yard, tags: list[str]
) -> None:
    record("white light", LIGHT)
    record("white light", {**LIGHT, "light": "900 lx", "place": "Booth 2"})
    graded(tags[0])
    assert stamps_of(yard, tags[0]) == ["white light check not good that day"]
    assert process_checks.set_place("Booth 1", **told()) == "Booth 1"
    graded(tags[1])
    assert stamps_of(yard, tags[1]) == []
    process_checks.set_place("Booth 3", **told())
    graded(tags[2])
    assert stamps_of(yard, tags[2]) == ["no white light check that day"]


def test_a_lamp_is_judged_in_either_unit_and_the_limit_itself_is_good(yard: Yard) -> None:
    assert record("uv lamp", LAMP).endswith("good.")
    assert record("uv lamp", {**LAMP, "uva": "1000 µW/cm²", "ambient": "20 lx"}).endswith("good.")
    assert "UV-A at the part is 9.99 W/m²" in record("uv lamp", {**LAMP, "uva": "999 uW/cm2"})
    assert "at most 20 lx" in record("uv lamp", {**LAMP, "ambient": "2 fc"})
    (lamp,) = [each for each in process_view("bench 1", TODAY).kinds if each.kind.code == "uv lamp"]
    assert lamp.asked[0].wanted == "at least 10 W/m² (at least 1000 µW/cm²)"
    assert not lamp.missing
    assert "2 fc" in lamp.today[0].values


def test_what_is_missing_or_no_reading_is_named_at_its_field(yard: Yard) -> None:
    with pytest.raises(InvalidInput) as wrong:
        record("uv lamp", {"uva": "bright", "distance": "-3"})
    assert set(wrong.value.fields) == {"uva", "ambient", "distance", "place"}
    assert "at most 20 lx" in wrong.value.fields["ambient"]
    with pytest.raises(InvalidInput) as wrong:
        record("bath", {"place": "Line 1", "concentration": "0.2"})
    assert "known defect" in wrong.value.fields["panel"]
    with pytest.raises(NotFound):
        record("moon", {})
    assert not any(each.today for each in process_view("bench 1", TODAY).kinds)


def test_the_shop_states_its_own_limits_with_their_source(yard: Yard, tags: list[str]) -> None:
    owner = {"role": "owner", **told(by="Ilse Thornby")}
    bath = {"least-concentration": "0.1", "most-concentration": "0.4"}
    with pytest.raises(InvalidInput) as wrong:
        process_checks.set_rule("bath", bath, ["penetrant"], **owner)
    assert "where the limits come from" in wrong.value.fields["source"]
    with pytest.raises(Forbidden):
        process_checks.set_rule("bath", bath, [], **{**owner, "role": "inspector"})
    with pytest.raises(InvalidInput) as wrong:
        process_checks.set_rule("bath", {"least-concentration": "x"}, ["ray"], **owner)
    assert set(wrong.value.fields) == {"least-concentration", "methods"}

    said = process_checks.set_rule(
        "bath", {**bath, "source": "procedure P-12"}, ["penetrant"], **owner
    )

    assert said == "Bath: 1 limit stated."
    assert "not good" in record(
        "bath", {"concentration": "0.41", "panel": "found", "place": "Line 1"}
    )
    assert "not every known defect" in record(
        "bath", {"concentration": "0.4", "panel": "not found", "place": "Line 1"}
    )
    graded(tags[0])
    assert stamps_of(yard, tags[0]) == [
        "no white light check that day",
        "bath check not good that day",
    ]
    assert yard.is_sound()


def test_the_same_form_sent_twice_is_one_check(yard: Yard) -> None:
    once = told()
    first = process_checks.record_check("white light", LIGHT, **once)
    assert process_checks.record_check("white light", LIGHT, **once) == first
    (kind,) = [each for each in process_view("bench 1", TODAY).kinds if each.today]
    assert kind.today[0].times == 1


def test_a_method_without_checks_is_never_stamped() -> None:
    rules = {code: kind.rule for code, kind in KINDS.items()}
    assert stamps_for("visual", rules, {}) == ()
    assert stamps_for("magnetic particle", rules, {"uv lamp": ["good"]}) == (
        "no bath check that day",
    )
    assert stamps_for("fluorescent penetrant", rules, {"uv lamp": ["good", "not good"]}) == (
        "UV-A lamp check not good that day",
        "no bath check that day",
    )


def test_a_quantity_without_limits_may_stay_empty() -> None:
    kind = KINDS["bath"]
    assert limits_words(kind.rule, kind.quantities[0]) == ""
    assert measured(kind, kind.rule, {"panel": "found"}).result == "good"
    strict = ProcessRule("bath", (), {"concentration": [100_000, None]}, "P-12")
    assert measured(kind, strict, {"panel": "found"}).problems


def test_what_a_file_tells_of_an_indication_is_kept_in_parts(yard: Yard) -> None:
    yard.buy("F1")
    assert not yard.measure("F1", crack="indication linear 4 mm at the seat").rejected
    (told,) = [d for event, d in yard.history("core", yard.core("F1").tag) if event == "inspected"]
    (reading,) = [each for each in told["readings"] if each["check"] == "crack"]
    assert reading["detail"] == "linear 4 mm at the seat"
    assert reading["crack"]["micro_mm"] == 4_000_000
    assert (reading["crack"]["kind"], reading["crack"]["place"]) == ("linear", "seat")


@pytest.mark.parametrize(
    ("kind", "cell", "typed", "asked"),
    [
        ("uv lamp", "uva", "500", "of which unit? Choose W/m² or µW/cm² or mW/cm²"),
        ("uv lamp", "ambient", "8", "of which unit? Choose lx or fc"),
        ("uv lamp", "distance", "15", "of which unit? Choose mm or cm or in"),
        ("uv lamp", "uva", "500 W/m²", "Or was it 500 µW/cm²?"),
        ("uv lamp", "ambient", "201 lx", "more than 10 times what is wanted (at most 20 lx)"),
        ("white light", "light", "12000 lx", "more than 10 times what is wanted"),
        ("white light", "light", "1100 fc", "Really 1100 fc?"),
        ("bath", "concentration", "20", "Really 20 %? It is more than 10 %"),
        ("bath", "concentration", "101 %", "a hundred is all there is"),
    ],
)
def test_a_number_without_its_unit_or_far_beyond_what_is_wanted_is_asked_back(
    kind: str, cell: str, typed: str, asked: str
) -> None:
    found = measured(KINDS[kind], KINDS[kind].rule, {cell: typed})
    assert asked in found.problems[cell]
    assert cell not in found.typed


def test_a_reading_asked_back_is_taken_when_the_person_says_it_is_right() -> None:
    kind = KINDS["uv lamp"]
    lamp = {"uva": "500", "unit-uva": "W/m²", "ambient": "8", "unit-ambient": "lx"}
    assert set(measured(kind, kind.rule, lamp).problems) == {"uva"}
    other = measured(kind, kind.rule, {**lamp, "sure-uva": "50 W/m²"})
    assert set(other.problems) == {"uva"}
    sure = measured(kind, kind.rule, {**lamp, "sure-uva": "500 W/m²"})
    assert (sure.result, sure.typed["uva"], dict(sure.problems)) == ("good", "500 W/m²", {})
    meant = measured(kind, kind.rule, {**lamp, "unit-uva": "µW/cm²"})
    assert (meant.result, meant.typed["uva"]) == ("not good", "500 µW/cm²")
    just = measured(kind, kind.rule, {**lamp, "uva": "100", "ambient": "200"})
    assert (just.result, dict(just.problems)) == ("not good", {})


def test_the_unit_chosen_last_at_the_place_stands_there_the_next_time(yard: Yard) -> None:
    def units() -> dict[str, str]:
        view = process_view("bench 1", TODAY)
        (lamp,) = [each for each in view.kinds if each.kind.code == "uv lamp"]
        return {asked.quantity.code: asked.unit for asked in lamp.asked}

    assert units() == {"uva": "", "ambient": "", "distance": ""}
    lamp = {"uva": "1500", "unit-uva": "µW/cm²", "ambient": "1 fc", "place": "Booth 1"}
    record("uv lamp", lamp)
    record("uv lamp", {**LAMP, "uva": "12 W/m²", "place": "Booth 2"}, TODAY + timedelta(days=1))
    process_checks.set_place("Booth 1", **told())
    assert units() == {"uva": "µW/cm²", "ambient": "fc", "distance": "in"}
    process_checks.set_place("Booth 2", **told())
    assert units() == {"uva": "W/m²", "ambient": "lx", "distance": "in"}
