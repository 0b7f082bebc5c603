"""Readings by file: sittings, what completes a check, verdicts, costs, and what is turned away."""

from __future__ import annotations

import pytest
from core_yard import FOLDER, GOOD, Yard, csv_bytes, money, why

from coretrack.actions.setting_up import import_family
from coretrack.figures.tags import show_tag

LONG = "time,inspector,gauge,core,check,reading"


def rejected(answer: object) -> set[str]:
    return {row.why for row in answer.rejected}  # type: ignore[attr-defined]


@pytest.fixture
def bought(yard: Yard) -> Yard:
    """The yard with three bodies waiting: A1, A2, A3."""
    yard.buy("A1", "A2", "A3")
    return yard


def test_a_body_that_passes_every_check_is_kept_and_its_costs_are_posted(bought: Yard) -> None:
    answer = bought.measure("A1")
    core = bought.core("A1")
    assert answer.items[0]["grade"] == "keep"
    assert (core.state, core.inspections, core.inspector) == ("good", 1, "Bela Quirke")
    # 3 min at 36.00 an hour and 0.50; 5 min at 36.00
    assert (core.wash, core.inspect, core.reinspect) == (money("2.30"), money("3.00"), 0)
    assert (core.recovery, core.disposal) == (0, 0)


def test_posted_costs_stay_when_rates_change_and_later_work_costs_the_new_rate(
    bought: Yard,
) -> None:
    bought.measure("A1", "2026-07-31 09:00")
    bought.measure("A2", "2026-08-01 09:00")
    assert bought.core("A1").inspect == money("3.00")
    assert bought.core("A2").inspect == money("3.50")
    text = (FOLDER / "shop.toml").read_text(encoding="utf-8")
    from coretrack.records.writer import writing

    assert 'amount = "36.00"' in text
    with writing("owner", bought.now) as writer:
        writer.event("rate", "labour@2025-01-01", "set", {"amount": "99"})
    assert bought.core("A1").inspect == money("3.00")
    assert bought.is_sound()


def test_the_shops_day_decides_the_rate_and_not_utc(bought: Yard) -> None:
    bought.measure("A1", "2026-07-31 23:30")  # 04:30 UTC on 1 August
    assert bought.core("A1").inspect == money("3.00")


def test_a_wide_file_says_the_same_as_a_long_one(bought: Yard) -> None:
    heading = "core,time,inspector,bore (mm),bore 2,bore 3,Cover face (um),thread,crack,LOOK"
    content = csv_bytes(heading, [
        ("A1", "2026-05-21 09:00", "Bela Quirke", *GOOD, "3.0", "go", "none", "A"),
        ("A2", "2026-05-21 09:05", "Bela Quirke", *GOOD, "24.0", "go", "no indication", "b"),
    ])  # fmt: skip
    answer = bought.grade(content)[0]
    assert [item["grade"] for item in answer.items] == ["keep", "scrap"]
    bought.measure("A3")
    assert bought.core("A1").findings == bought.core("A3").findings


@pytest.mark.parametrize(
    ("heading", "readings"),
    [
        ("bore", ("24,010", "24,012", "24,011")),
        ("bore", ("24.010 mm", "24012 um", "24.011")),
        ("bore (in)", ("0.9453", "0.9453", "0.9453")),
        ("bore [µm]", ("24010", "24012", "24011")),
    ],
)
def test_commas_and_units_are_read(bought: Yard, heading: str, readings: tuple[str, ...]) -> None:
    content = csv_bytes(f"core,time,{heading}", [
        ("A1", "2026-05-21 09:00", "/".join(readings)),
    ])  # fmt: skip
    answer = bought.grade(content)[0]
    assert answer.rejected == ()
    assert answer.items[0]["missing"] == ["face", "thread", "crack", "look"]


@pytest.mark.parametrize(
    ("headings", "cells"),
    [
        ("core,time,check,reading (mm)", ("A1", "2026-05-21 09:00", "face", "0.0031")),
        ("core,time,check,reading,unit", ("A1", "2026-05-21 09:00", "face", "0.0031", "mm")),
        ("core,time,check,value,Units", ("A1", "2026-05-21 09:00", "face", "0.0031 mm", "um")),
    ],
)
def test_a_unit_in_the_heading_or_beside_the_reading_counts(
    bought: Yard, headings: str, cells: tuple[str, ...]
) -> None:
    answer = bought.grade(csv_bytes(headings, [cells]))[0]
    assert answer.items[0]["readings"][0]["value"] == "3.1"


def test_a_unit_that_does_not_fit_the_check_is_refused(bought: Yard) -> None:
    row = ("A1", "2026-05-21 09:00", "face", "3", "bar")
    answer = bought.grade(csv_bytes("core,time,check,reading,unit", [row]))[0]
    assert "cannot be turned into µm" in why(answer)


def test_an_inch_slip_is_asked_back_and_the_corrected_row_completes_the_check(
    bought: Yard,
) -> None:
    answer = bought.measure("A1", bore=("24.010", "0.9453", "24.011"))
    assert answer.stored == 6
    assert "Did you mean 24.011 mm" in why(answer)
    assert (answer.rejected[0].column, answer.rejected[0].value) == ("reading", "0.9453")
    core = bought.core("A1")
    assert (core.state, core.grade) == ("open", "open")
    corrected = bought.measure("A1", "2026-05-21 14:00", bore=("24.012",), face="", thread="",
                               crack="", look="")  # fmt: skip
    assert corrected.items[0]["grade"] == "keep"
    core = bought.core("A1")
    assert (core.state, core.inspections) == ("good", 2)
    assert (core.wash, core.inspect, core.reinspect) == (money("2.30"), money("3.00"), 0)
    assert bought.is_sound()


def test_a_check_measured_anew_in_full_replaces_the_readings_begun_before(bought: Yard) -> None:
    bought.measure("A1", bore=("24.039",), face="", thread="", crack="", look="")
    bought.measure("A1", "2026-05-21 14:00")
    assert bought.core("A1").state == "good"
    bore = next(f for f in bought.core("A1").findings if f["check"] == "bore")
    assert bore["values"] == [24_010_000, 24_012_000, 24_011_000]


def test_stopping_at_the_first_failing_check_scraps_and_says_what_was_not_measured(
    bought: Yard,
) -> None:
    rows = [
        ("2026-05-21 09:00", "Bela Quirke", "BG1", "A1", "bore", r, "") for r in
        ("24.080", "24.081", "24.079")
    ]  # fmt: skip
    rows[-1] = (*rows[-1][:6], "stopped here")
    answer = bought.grade(csv_bytes(f"{LONG},note", rows))[0]
    assert answer.items[0]["grade"] == "scrap"
    assert answer.items[0]["missing"] == ["face", "thread", "crack", "look"]
    core = bought.core("A1")
    assert (core.state, core.reasons) == ("scrapped", ("bore",))
    inspected = dict(bought.history("core", core.tag))["inspected"]
    assert inspected["stopped_at"] == "bore"


def test_scrap_posts_what_its_metal_brings_and_what_disposal_costs(bought: Yard) -> None:
    bought.measure("A1", bore=("24.100", "24.100", "24.100"))
    core = bought.core("A1")
    # 1.2 kg at 1.20 and at 0.05
    assert (core.recovery, core.disposal) == (money("1.44"), money("0.06"))


def test_a_reading_in_the_grey_zone_needs_a_second_look(bought: Yard) -> None:
    answer = bought.measure("A1", bore=("24.010", "24.039", "24.011"))
    assert answer.items[0]["grade"] == "undecided"
    assert bought.core("A1").state == "undecided"
    second = bought.measure("A1", "2026-05-22 09:00", face="", thread="", crack="", look="",
                            inspector="Cass Orme")  # fmt: skip
    assert second.items[0]["grade"] == "keep"
    core = bought.core("A1")
    assert (core.inspector, core.reinspect) == ("Cass Orme", money("2.40"))
    assert core.first_grade == "undecided"


def test_a_crack_scraps_for_good_whatever_is_written_after_it(bought: Yard) -> None:
    rows = [
        ("2026-05-21 09:00", "Bela Quirke", "", "A1", "crack", "Indication 4 mm, at the port"),
        ("2026-05-21 09:01", "Bela Quirke", "", "A1", "crack", "none"),
    ]
    answer = bought.grade(csv_bytes(LONG, rows))[0]
    assert answer.items[0]["grade"] == "scrap"
    assert "crack indication (4 mm, at the port)" in answer.items[0]["because"]
    again = bought.measure("A1", "2026-05-23 09:00")
    tag = bought.core("A1").tag
    assert rejected(again) == {f"Core {show_tag(tag)} cannot be inspected: it is already scrapped."}
    assert again.stored == 0


@pytest.mark.parametrize(
    ("check", "word", "right"),
    [
        ("crack", "crack-free", "write none, unsure, or indication"),
        ("crack", "indication: none", "write none, unsure, or indication"),
        ("crack", "indication - no", "write none, unsure, or indication"),
        ("crack", "indications", "write none, unsure, or indication"),
        ("thread", "fine", "write go, no-go or unsure"),
        ("look", "AB", "write one letter"),
        ("bore", "2000004235", "not a reading"),
        ("bore", "twenty", "This is no reading"),
        ("diameter", "24.01", "family GPB has no such check; bore, face, thread, crack, look"),
        ("", "24.01", "family GPB has no such check"),
    ],
)
def test_results_that_could_be_misread_are_asked_back(
    bought: Yard, check: str, word: str, right: str
) -> None:
    row = ("2026-05-21 09:00", "Bela Quirke", "", "A1", check, word)
    answer = bought.grade(csv_bytes(LONG, [row]))[0]
    assert right in why(answer)
    assert bought.core("A1").state == "waiting"


@pytest.mark.parametrize(
    ("check", "word", "result"),
    [
        ("crack", "OK", "none"),
        ("crack", "No Indication", "none"),
        ("crack", "Unsure", "unsure"),
        ("crack", "indication", "indication"),
        ("Crack check", "INDICATION 2 mm", "indication"),
        ("thread", "NoGo", "no-go"),
        ("Port Thread", "No go", "no-go"),
        ("look", "b", "B"),
    ],
)
def test_result_words_are_understood_whatever_their_capitals(
    bought: Yard, check: str, word: str, result: str
) -> None:
    row = ("2026-05-21 09:00", "Bela Quirke", "", "A1", check, word)
    answer = bought.grade(csv_bytes(LONG, [row]))[0]
    assert answer.items[0]["readings"][0]["result"] == result


def test_readings_of_cores_that_cannot_be_graded_say_why(yard: Yard) -> None:
    yard.sell("S1", 3)
    yard.bring_back("R1", faults="cracked")
    yard.bring_back("E1", number="GP-2080")
    yard.bring_back("U1", number="ZZ-9")
    for serial, reason in (
        ("R1", "it was refused and lies in the hold bin"),
        ("E1", "it is an excess core that the shop has not bought"),
        ("U1", "is of an unknown family; identify it before it is inspected"),
        ("X1", "no core has this tag or serial; receive it first"),
    ):
        answer = yard.measure(serial)
        assert answer.stored == 0
        assert all(reason in row.why for row in answer.rejected)
    assert all(core.inspections == 0 for core in yard.cores())


def test_a_kept_body_is_not_graded_twice(bought: Yard) -> None:
    bought.measure("A1")
    again = bought.measure("A1", "2026-05-23 09:00", inspector="Cass Orme")
    assert rejected(again) == {
        f"Core {show_tag(bought.core('A1').tag)} cannot be inspected: it is already graded keep."
    }


def test_a_core_is_named_by_tag_grouped_or_not_or_by_serial(bought: Yard) -> None:
    tag = bought.core("A1").tag
    for place, mark in enumerate((f"{tag[:4]} {tag[4:8]} {tag[8:]}", tag, "a1")):
        row = (f"2026-05-21 09:0{place}", "Bela Quirke", "", mark, "thread", "go")
        assert bought.grade(csv_bytes(LONG, [row]))[0].stored == 1
    assert bought.core("A1").inspections == 3


def test_readings_belong_to_the_life_of_the_body_in_which_they_were_taken(yard: Yard) -> None:
    yard.sell("S1", 2)
    yard.bring_back("A1", day="2026-05-20")
    yard.measure("A1", "2026-05-21 09:00")
    yard.bring_back("A1", day="2026-06-20")
    first, second = yard.cores()
    late = csv_bytes(LONG, [("2026-05-21 10:00", "Cass Orme", "", "A1", "look", "A")])
    assert why(yard.grade(late)[0]) == (
        f"Core {show_tag(first.tag)} cannot be inspected: it is already graded keep."
    )
    yard.measure("A1", "2026-06-21 09:00")
    assert [core.state for core in yard.cores()] == ["good", "good"]
    assert second.tag == yard.core("A1").tag


def test_a_file_in_any_order_of_time_gives_the_same_sittings(bought: Yard) -> None:
    early = [("2026-05-21 09:00", "Bela Quirke", "BG1", "A1", "bore", r) for r in GOOD]
    late = [("2026-05-25 09:00", "Bela Quirke", "", "A1", "look", "A")]
    bought.grade(csv_bytes(LONG, [*late, *early]))
    core = bought.core("A1")
    inspected = [d for e, d in bought.history("core", core.tag) if e == "inspected"]
    assert [len(detail["readings"]) for detail in inspected] == [3, 1]


def test_two_inspectors_at_one_body_are_two_sittings_and_one_wash(bought: Yard) -> None:
    rows = [("2026-05-21 09:00", "Bela Quirke", "BG1", "A1", "bore", r) for r in GOOD]
    rows += [("2026-05-21 09:05", "Cass Orme", "", "A1", check, result) for check, result in
             (("face", "3"), ("thread", "go"), ("crack", "none"), ("look", "A"))]  # fmt: skip
    answer = bought.grade(csv_bytes(LONG, rows))[0]
    assert [(item["inspector"], item["grade"]) for item in answer.items] == [
        ("Bela Quirke", "open"), ("Cass Orme", "keep"),
    ]  # fmt: skip
    core = bought.core("A1")
    assert (core.wash, core.inspect, core.reinspect) == (money("2.30"), money("3.00"), 0)


def test_readings_with_a_gauge_past_its_date_are_kept_stamped_and_said(bought: Yard) -> None:
    from coretrack.records import queries
    from coretrack.records.database import connection

    on_time = bought.measure("A1", "2026-06-30 09:00")
    late = bought.measure("A2", "2026-07-01 09:00", gauge="bg1")
    strange = bought.measure("A3", "2026-07-01 09:00", gauge="XX9")
    assert on_time.notes == ()
    assert any("gauge bg1 was due to be checked by 2026-06-30" in note for note in late.notes)
    assert strange.notes == ("gauge XX9 is not in the register; its readings are kept",)
    with connection():
        stamped = [
            row["check_code"] for row in queries.readings_of(bought.core("A2").tag)
            if row["gauge_overdue"]
        ]  # fmt: skip
    assert stamped == ["bore"] * 3
    assert bought.core("A2").state == "good"


def test_a_changed_plan_is_a_new_version_and_cores_begun_before_keep_theirs(
    bought: Yard,
) -> None:
    bought.measure("A1", face="", thread="", crack="", look="")
    text = (FOLDER / "families" / "GPB.toml").read_text(encoding="utf-8")
    changed = text.replace('usable = "<= 5"', 'usable = "<= 2"').replace(
        'limits = "5..20"', 'limits = "2..20"'
    )
    assert "plan GPB/2" in import_family("GPB.toml", changed.encode(), by="x", now=bought.now)
    bought.measure("A1", "2026-05-22 09:00", bore=())
    bought.measure("A2", "2026-05-22 09:00")
    assert (bought.core("A1").plan_version, bought.core("A1").state) == (1, "good")
    assert (bought.core("A2").plan_version, bought.core("A2").state) == (2, "rework")
    assert set(bought.tally("plan")) >= {"1", "2"}


def test_the_same_family_file_again_changes_nothing(bought: Yard) -> None:
    content = (FOLDER / "families" / "GPB.toml").read_bytes()
    assert import_family("GPB.toml", content, by="x", now=bought.now) == []


def test_a_row_whose_gauge_cannot_be_read_is_rejected_once_and_not_stored_too(
    bought: Yard,
) -> None:
    rows = [
        ("2026-05-21 09:00", "Bela Quirke", "BG\u20331\u0415", "A1", "bore", "24.010"),
        ("2026-05-21 09:00", "Bela Quirke", "BG1", "A1", "bore", "24.011"),
    ]
    answer = bought.grade(csv_bytes(LONG, rows))[0]
    assert (answer.rows, answer.stored, len(answer.rejected)) == (2, 1, 1)
    assert answer.rejected[0].column == "gauge"


def test_equal_results_of_a_later_look_without_times_say_what_is_missing(bought: Yard) -> None:
    rows = [("A1", "crack", "none")]
    bought.grade(csv_bytes("core,check,reading", rows))
    again = bought.grade(csv_bytes("core,check,reading,note", [(*rows[0], "")]))[0]
    assert again.already == 1
    assert any("needs a time of its own" in note for note in again.notes)
