"""Rework by file: finished passes, what is measured again, caps and allowances over all lives."""

from __future__ import annotations

import pytest
from core_yard import GOOD, Yard, csv_bytes, money, why

from coretrack.figures.tags import show_tag

TIGHT = ("23.950", "23.952", "23.951")
"""A gear bore that honing can save."""

LONG = "time,inspector,core,check,reading,operation,minutes"


@pytest.fixture
def tight(yard: Yard) -> Yard:
    """The yard with body A1 waiting to be honed."""
    yard.buy("A1", "A2")
    assert yard.measure("A1", bore=TIGHT).items[0]["operations"] == ["hone"]
    return yard


def only(yard: Yard, serial: str, at: str, **checks: object) -> object:
    """Measure nothing but these checks."""
    empty = {"bore": (), "face": "", "thread": "", "crack": "", "look": ""}
    return yard.measure(serial, at, **{**empty, **checks})  # type: ignore[arg-type]


def test_only_the_reworked_and_the_disturbed_checks_are_measured_again(tight: Yard) -> None:
    finished = tight.finish("A1", "hone", minutes="12")
    assert finished.items[0]["now"] == "reinspect"
    core = tight.core("A1")
    # 12 min at 36.00 an hour and 0.80 of consumables
    assert (core.rework, core.reworks, core.removed) == (money("8.00"), 1, {"bore": 30_000})
    half = only(tight, "A1", "2026-05-23 09:00", bore=GOOD)
    assert half.items[0]["missing"] == ["crack"]  # type: ignore[attr-defined]
    done = only(tight, "A1", "2026-05-23 09:30", crack="none")
    assert done.items[0]["grade"] == "keep"  # type: ignore[attr-defined]
    core = tight.core("A1")
    assert (core.state, core.first_grade, core.reinspect) == ("good", "rework", money("2.40"))
    assert tight.tally("family")["GPB"]["kept_after_rework"] == 1
    assert tight.is_sound()


def test_without_minutes_the_operations_own_count(tight: Yard) -> None:
    tight.finish("A1", "Hone the bore")
    assert tight.core("A1").rework == money("6.80")


@pytest.mark.parametrize("minutes", ["-5", "1441", "ten"])
def test_minutes_that_nobody_works_are_rejected(tight: Yard, minutes: str) -> None:
    answer = tight.finish("A1", "hone", minutes=minutes)
    assert (answer.stored, answer.rejected[0].column) == (0, "minutes")
    assert tight.core("A1").rework == 0


def test_rework_that_is_not_waited_for_is_rejected(tight: Yard) -> None:
    tag = tight.core("A1").tag
    assert why(tight.finish("A1", "lap")) == (
        f"Core {show_tag(tag)} is not waiting for 'lap' (waiting for: hone)."
    )
    assert "not waiting for 'hone' (waiting for: none)" in why(tight.finish("A2", "hone"))
    assert why(tight.finish("A1", "weld")) == (
        "Family GPB has no rework operation 'weld'; it has: hone, lap, chase, clean."
    )
    tight.finish("A1", "hone")
    assert "waiting for: none" in why(tight.finish("A1", "hone", "2026-05-22 10:00"))


def test_readings_before_the_rework_is_finished_are_rejected(tight: Yard) -> None:
    answer = tight.measure("A1", "2026-05-22 08:00")
    assert answer.stored == 0
    assert {row.why for row in answer.rejected} == {
        f"Core {show_tag(tight.core('A1').tag)} cannot be inspected: its rework is not finished."
    }


def test_rework_within_an_hour_parts_two_sittings_of_one_inspector(yard: Yard) -> None:
    yard.buy("A1")
    bench = [("2026-05-21 09:00", "Bela Quirke", "A1", "bore", r, "", "") for r in TIGHT]
    bench += [("2026-05-21 09:00", "Bela Quirke", "A1", c, r, "", "") for c, r in
              (("face", "3"), ("thread", "go"), ("crack", "none"), ("look", "A"))]  # fmt: skip
    bench += [("2026-05-21 09:40", "Bela Quirke", "A1", "bore", r, "", "") for r in GOOD]
    bench += [("2026-05-21 09:40", "Bela Quirke", "A1", "crack", "none", "", "")]
    rework = [("2026-05-21 09:30", "Dov Lark", "A1", "", "", "hone", "10")]
    answers = yard.grade(csv_bytes(LONG, rework), csv_bytes(LONG, bench))
    assert [answer.rejected for answer in answers] == [(), ()]
    assert [item["grade"] for item in answers[1].items] == ["rework", "keep"]
    assert yard.core("A1").state == "good"


def test_all_rows_in_one_file_work_as_well(yard: Yard) -> None:
    yard.buy("A1")
    rows = [("2026-05-21 09:40", "Bela Quirke", "A1", "face", "4", "", "")]
    rows += [("2026-05-21 09:30", "Dov Lark", "A1", "", "", "lap", "")]
    rows += [("2026-05-21 09:00", "Bela Quirke", "A1", "bore", r, "", "") for r in GOOD]
    rows += [("2026-05-21 09:00", "Bela Quirke", "A1", c, r, "", "") for c, r in
             (("face", "6"), ("thread", "go"), ("crack", "none"), ("look", "A"))]  # fmt: skip
    answer = yard.grade(csv_bytes(LONG, rows))[0]
    assert answer.rejected == ()
    assert yard.core("A1").state == "good"


def test_a_row_that_is_both_a_reading_and_a_rework_is_asked_back(tight: Yard) -> None:
    row = ("2026-05-22 09:00", "Bela Quirke", "A1", "bore", "24.01", "hone", "5")
    answer = tight.grade(csv_bytes(LONG, [row]))[0]
    assert "write the reading in a row of its own" in why(answer)


def test_a_body_that_had_its_most_passes_is_scrapped(yard: Yard) -> None:
    yard.buy("A1")
    yard.measure("A1", face="9")
    for hour, finding in (("10", "9"), ("12", "9")):
        yard.finish("A1", "lap", f"2026-05-22 {hour}:00")
        answer = only(yard, "A1", f"2026-05-22 {hour}:30", face=finding)
    assert answer.items[0]["grade"] == "scrap"  # type: ignore[attr-defined]
    assert (
        "Lap the face has been done twice on this body, the most is 2"
        in (
            answer.items[0]["because"]  # type: ignore[attr-defined]
        )
    )


def test_stock_removed_counts_over_all_lives_of_a_body(yard: Yard) -> None:
    yard.sell("S1", 2, day="2026-05-01")
    yard.bring_back("A1", day="2026-05-20")
    yard.measure("A1", "2026-05-21 09:00", bore=TIGHT)
    yard.finish("A1", "hone", "2026-05-21 10:00")
    only(yard, "A1", "2026-05-21 11:00", bore=TIGHT, crack="none")
    yard.finish("A1", "hone", "2026-05-21 12:00")
    only(yard, "A1", "2026-05-21 13:00", bore=GOOD, crack="none")
    first = yard.core("A1")
    assert (first.state, first.removed) == ("good", {"bore": 60_000})
    yard.bring_back("A1", day="2026-05-29")
    second = yard.core("A1")
    assert (second.removed, second.done, second.reworks) == ({"bore": 60_000}, {"hone": 2}, 0)
    answer = yard.measure("A1", "2026-05-30 09:00", bore=TIGHT)
    assert answer.items[0]["grade"] == "scrap"
    assert "the allowance is 0.06 (already gone: 0.06)" in answer.items[0]["because"]


def test_first_pass_readings_stay_after_rework(tight: Yard) -> None:
    tight.finish("A1", "hone")
    only(tight, "A1", "2026-05-23 09:00", bore=GOOD, crack="none")
    inspected = [d for e, d in tight.history("core", tight.core("A1").tag) if e == "inspected"]
    assert [r["typed"] for r in inspected[0]["readings"][:3]] == list(TIGHT)
    assert [r["typed"] for r in inspected[1]["readings"][:3]] == list(GOOD)


def test_a_crack_found_after_rework_scraps(tight: Yard) -> None:
    tight.finish("A1", "hone")
    answer = only(tight, "A1", "2026-05-23 09:00", bore=GOOD, crack="indication 2 mm")
    assert answer.items[0]["grade"] == "scrap"  # type: ignore[attr-defined]
    core = tight.core("A1")
    assert (core.state, core.recovery) == ("scrapped", money("1.44"))
