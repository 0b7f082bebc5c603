"""Checks of lamps and baths by file: kept for their days, judged, rejected with a reason."""

from __future__ import annotations

from datetime import datetime
from typing import Any

import pytest
from core_yard import Yard, csv_bytes, why
from hypothesis import given
from hypothesis import strategies as st

from coretrack.actions import process_checks
from coretrack.actions.imports import ImportAnswer
from coretrack.actions.process_checks import process_view
from coretrack.actions.process_files import import_process_checks
from coretrack.errors import InvalidInput
from coretrack.figures.bench_objects import ProcessCheck
from coretrack.figures.process_rules import KINDS, measured
from coretrack.records.database import connection
from coretrack.records.objects import every, one

HEADINGS = "time,check,place,white light (lx),distance,by,note"
GOOD = ("2026-05-21 07:10", "white light", "Line 1", "1200", "400 mm", "Una Pryor", "")


def brought(yard: Yard, *rows: tuple[object, ...], headings: str = HEADINGS) -> ImportAnswer:
    content = csv_bytes(headings, rows)
    return import_process_checks(yard.request(content), by=yard.by, now=yard.now)


def kept() -> list[ProcessCheck]:
    with connection():
        return every("process check")


def stamps(yard: Yard, serial: str) -> list[str]:
    (*_, detail) = [
        told for event, told in yard.history("core", yard.core(serial).tag) if event == "inspected"
    ]
    (crack,) = [reading for reading in detail["readings"] if reading["check"] == "crack"]
    return list(crack.get("stamps", []))


def test_a_row_is_kept_for_its_day_in_the_name_of_who_checked(yard: Yard) -> None:
    answer = brought(yard, GOOD)
    assert (answer.stored, answer.rejected) == (1, ())
    assert answer.items[0]["outcome"] == "good"
    (check,) = kept()
    assert (check.key, check.by) == ("2026-05-21/white light/Line 1", "Una Pryor")
    assert check.measured == {"light": "1200 lx", "distance": "400 mm"}
    told = process_view("", datetime.fromisoformat("2026-05-21T17:00-05:00")).kinds
    (shown,) = next(kind for kind in told if kind.kind.code == "white light").today
    assert (shown.good, shown.at) == (True, "07:10")


def test_who_brings_the_file_checked_where_it_names_nobody(yard: Yard) -> None:
    brought(yard, GOOD[:5], headings="time,check,place,white light (lx),distance")
    assert kept()[0].by == yard.by


def test_results_of_a_day_with_its_check_carry_no_stamp_and_others_do(yard: Yard) -> None:
    yard.buy("B1", "B2")
    brought(yard, GOOD)
    yard.measure("B1", at="2026-05-21 09:00")
    yard.measure("B2", at="2026-05-22 09:00")
    assert stamps(yard, "B1") == []
    assert stamps(yard, "B2") == ["no white light check that day"]
    (day,) = process_view("", yard.now).stamped
    assert (day.day, day.tags) == ("2026-05-22", (yard.core("B2").tag,))
    assert day.stamps == ("no white light check that day",)


def test_a_check_kept_afterwards_takes_no_stamp_away(yard: Yard) -> None:
    yard.buy("B1")
    yard.measure("B1", at="2026-05-21 09:00")
    assert brought(yard, GOOD).stored == 1
    assert [day.day for day in process_view("", yard.now).stamped] == ["2026-05-21"]


def test_what_is_out_of_its_limits_is_kept_as_not_good(yard: Yard) -> None:
    row = ("2026-05-21 07:05", "UV-A lamp", "Booth 1", "880 µW/cm²", "9 lx")
    answer = brought(yard, row, headings="time,check,place,uva,ambient")
    assert answer.items[0]["outcome"] == "not good"
    assert "wanted at least 10 W/m²" in answer.items[0]["why"]


@pytest.mark.parametrize(
    ("cells", "column", "reason"),
    [
        ({1: "lamp"}, "check", "a check is one of uv lamp, white light, bath"),
        ({2: ""}, "place", "name the booth or the line"),
        ({2: "a/b"}, "place", "name the booth or the line"),
        ({3: ""}, "white light (lx)", "measure it: at least 1100 lx"),
        ({3: "bright"}, "white light (lx)", "bright"),
        ({3: "-3"}, "white light (lx)", "zero the meter"),
        ({1: "bath"}, "white light (lx)", "Bath checks do not measure it"),
        ({0: "noon"}, "time", "noon"),
    ],
)
def test_a_row_that_is_wrong_is_rejected_with_its_column(
    yard: Yard, cells: dict[int, str], column: str, reason: str
) -> None:
    row = tuple(cells.get(place, cell) for place, cell in enumerate(GOOD))
    answer = brought(yard, row, GOOD)
    assert answer.stored == 1
    assert reason in why(answer)
    assert answer.rejected[0].column == column
    assert len(kept()) == 1


def test_the_newest_check_of_a_day_counts_and_an_older_row_is_rejected(yard: Yard) -> None:
    later = ("2026-05-21 09:30", "white light", "Line 1", "1300", "", "", "")
    answer = brought(yard, later, GOOD)
    assert answer.stored == 1
    assert "checked later that day already, at 09:30" in why(answer)
    between = ("2026-05-21 08:30", *later[1:])
    assert "at 09:30" in why(brought(yard, between))
    assert brought(yard, ("2026-05-21 10:00", *later[1:])).stored == 1
    assert "at 10:00" in why(brought(yard, between))
    assert [check.measured["light"] for check in kept()] == ["1300 lx"]


def test_a_check_typed_at_the_page_is_not_undone_by_an_older_row(yard: Yard) -> None:
    typed: dict[str, Any] = {"by": "Una Pryor", "station": "b", "key": "k"}
    at = datetime.fromisoformat("2026-05-21T08:00-05:00")
    dim = {"light": "900 lx", "place": "Line 1"}
    process_checks.record_check("white light", dim, now=at, **typed)
    assert "at 08:00" in why(brought(yard, GOOD))
    assert kept()[0].result == "not good"


def test_the_same_rows_again_change_nothing(yard: Yard) -> None:
    brought(yard, GOOD)
    again = brought(yard, GOOD)
    assert (again.stored, again.already) == (0, 1)
    resaved = brought(yard, GOOD, ("2026-05-22 07:10", *GOOD[1:]))
    assert (resaved.stored, resaved.already) == (1, 1)


def test_a_preview_stores_nothing(yard: Yard) -> None:
    yard.preview = True
    answer = brought(yard, GOOD)
    assert (answer.stored, answer.preview) == (1, True)
    assert kept() == []


def test_a_file_without_places_is_refused_whole(yard: Yard) -> None:
    with pytest.raises(InvalidInput, match="place"):
        brought(yard, GOOD[:2], headings="time,check")


@given(st.text(max_size=20), st.sampled_from(sorted(KINDS)), st.sampled_from(["uva", "light"]))
def test_whatever_is_typed_is_measured_or_named_as_wrong(text: str, kind: str, cell: str) -> None:
    known = KINDS[kind]
    found = measured(known, known.rule, {cell: text})
    codes = {quantity.code for quantity in known.quantities}
    assert set(found.typed) | set(found.problems) <= codes | {"panel"}
    assert not set(found.typed) & set(found.problems)


def test_the_event_is_written_at_the_moment_of_the_check(yard: Yard) -> None:
    brought(yard, GOOD)
    with connection():
        assert one("process check", kept()[0].key) == kept()[0]
    assert yard.history("process check", kept()[0].key)[0][1]["day"] == "2026-05-21"
