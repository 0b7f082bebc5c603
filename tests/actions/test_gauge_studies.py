"""A gauge study at the bench: drawn, measured by scan or field, worked out, applied."""

from __future__ import annotations

from collections import Counter
from decimal import Decimal
from itertools import count
from typing import Any

import pytest
from core_yard import Yard
from databases import TestDatabase

from coretrack.actions import gauge_studies, station_scans
from coretrack.actions.gauge_studies import StudyView, study_view
from coretrack.actions.gauges import GaugeTold, add_gauge
from coretrack.actions.study_cells import Cell, StudyTold
from coretrack.errors import Forbidden, InvalidInput, NotAllowed
from coretrack.figures.gauge_anova import anova_study
from coretrack.figures.gauge_studies import GaugeReading, proposed_uncertainty
from coretrack.figures.scan_replies import ScanReply, Spot
from coretrack.records.database import connection
from coretrack.records.verify import verify

keys = (f"study-{number}" for number in count())
clock = count(1_000_000, 2_000)
TOLD = StudyTold("BG1", "GPB/bore", "Bela Quirke, Oda Finch", "3", "2")


@pytest.fixture
def yard(db: TestDatabase) -> Yard:
    yard = Yard()
    yard.set_up()
    return yard


def doer(yard: Yard, key: str = "") -> dict[str, Any]:
    return {"by": yard.by, "station": "bench", "now": yard.now, "key": key or next(keys)}


def begun(yard: Yard, told: StudyTold = TOLD) -> str:
    return gauge_studies.begin_study(told, **doer(yard))


def scan(yard: Yard, study: str, text: str, seen: str = "") -> ScanReply:
    spot = Spot("study", study, seen, next(clock))
    return station_scans.scan(text, spot, **doer(yard))


def reading_of(cell: Cell) -> str:
    """Return what the made-up gauge shows: the piece, and a little of person and round."""
    size = Decimal("24.01") + Decimal(int(cell.piece)) / 200
    size += Decimal("0.002") if cell.inspector == "Oda Finch" else 0
    return f"{size + Decimal(cell.trial - 1) / 1000:.3f}"


def measured(yard: Yard, study: str) -> StudyView:
    while cell := study_view(study).next:
        assert scan(yard, study, reading_of(cell)).tone == "good"
    return study_view(study)


def test_the_order_is_drawn_and_everybody_measures_everything_each_round(yard: Yard) -> None:
    study = begun(yard)
    order = study_view(study).study.design["order"]
    assert study == "BG1/1"
    assert Counter(map(tuple, order)) == {
        (who, piece, trial): 1
        for who in ("Bela Quirke", "Oda Finch")
        for piece in ("1", "2", "3")
        for trial in (1, 2)
    }
    assert [trial for _, _, trial in order] == [1] * 6 + [2] * 6
    # Another study is drawn anew; ten pieces in the same order thrice would be no lot.
    wide = StudyTold("BG1", "GPB/bore", "Bela Quirke", "10", "3")
    orders = [study_view(begun(yard, wide)).study.design["order"] for _ in range(2)]
    assert orders[0] != orders[1]


def test_readings_go_to_the_next_cell_and_are_kept_as_typed(yard: Yard) -> None:
    study = begun(yard)
    cell = study_view(study).next
    reply = scan(yard, study, "24,015 mm")
    assert reply.tone == "good"
    (kept,) = study_view(study).study.readings
    assert cell == Cell(kept["inspector"], kept["piece"], kept["trial"])
    assert (kept["typed"], kept["value"]) == ("24,015 mm", 24_015_000)
    assert study_view(study).next != cell


def test_a_tag_is_no_reading_and_an_inch_slip_is_asked_back(yard: Yard) -> None:
    yard.sell()
    yard.bring_back("A1")
    study = begun(yard)
    assert scan(yard, study, yard.core("A1").tag).word == "NO READING"
    assert scan(yard, study, "OL").word == "NO READING"
    asked = scan(yard, study, "0.9453")
    assert (asked.tone, asked.word) == ("ask", "SURE?")
    assert study_view(study).study.readings == ()
    taken = scan(yard, study, asked.offers[0].scan)
    assert taken.tone == "good"
    assert study_view(study).study.readings[0]["typed"] == "0.9453"
    assert abs(study_view(study).study.readings[0]["value"] - 24_010_000) < 1_000


def test_no_answer_shows_a_reading_to_who_measures_the_piece_next(yard: Yard) -> None:
    study = begun(yard)
    while cell := study_view(study).next:
        text = reading_of(cell)
        reply = scan(yard, study, text)
        assert text not in " ".join((reply.word, reply.line, reply.detail))
        view = study_view(study)
        again = view.next is not None and view.next.piece == cell.piece
        assert view.last_typed == ("" if again else text)


def test_the_last_reading_is_taken_back_by_the_order_again(yard: Yard) -> None:
    study = begun(yard)
    first = study_view(study).next
    scan(yard, study, "24.015")
    assert scan(yard, study, "again").word == "TAKEN BACK"
    assert (study_view(study).next, study_view(study).study.readings) == (first, ())
    assert scan(yard, study, "again").tone == "stop"


def test_a_reading_for_a_page_that_has_moved_on_is_not_taken(yard: Yard) -> None:
    study = begun(yard)
    scan(yard, study, "24.015", seen="0")
    late = scan(yard, study, "24.016", seen="0")
    assert (late.word, len(study_view(study).study.readings)) == ("LOOK AGAIN", 1)


def test_missing_cells_are_named_and_nothing_is_worked_out_before(yard: Yard) -> None:
    study = begun(yard)
    view = study_view(study)
    while len(view.missing) > 1:
        cell = view.missing[1]
        gauge_studies.enter_reading(study, cell, reading_of(cell), **doer(yard))
        view = study_view(study)
    assert view.result is None
    (cell,) = view.missing
    with pytest.raises(NotAllowed) as missing:
        gauge_studies.apply_study(study, role="owner", **doer(yard))
    assert str(missing.value) == (
        f"1 reading is missing: {cell.inspector}, piece {cell.piece}, round {cell.trial}. "
        "Measure them first."
    )


def test_a_cell_is_filled_once_and_can_be_measured_again(yard: Yard) -> None:
    study = begun(yard)
    cell = study_view(study).missing[3]
    gauge_studies.enter_reading(study, cell, "24.02", **doer(yard))
    with pytest.raises(InvalidInput) as twice:
        gauge_studies.enter_reading(study, cell, "24.03", **doer(yard))
    assert list(twice.value.fields) == ["cell"]
    gauge_studies.measure_again(study, cell, **doer(yard))
    assert cell in study_view(study).missing


def test_a_typed_reading_that_does_not_fit_is_taken_only_when_insisted_on(yard: Yard) -> None:
    study = begun(yard)
    with pytest.raises(InvalidInput) as asked:
        gauge_studies.enter_reading(study, None, "30", **doer(yard))
    assert list(asked.value.fields) == ["reading"]
    gauge_studies.enter_reading(study, None, "30", insist=True, **doer(yard))
    assert study_view(study).study.readings[0]["value"] == 30_000_000
    with pytest.raises(InvalidInput):
        gauge_studies.enter_reading(study, None, "thirty", insist=True, **doer(yard))


def test_a_form_sent_twice_enters_one_reading(yard: Yard) -> None:
    study = begun(yard)
    for _ in range(2):
        gauge_studies.enter_reading(study, None, "24.02", **doer(yard, "same"))
    assert len(study_view(study).study.readings) == 1


def test_a_complete_study_gives_both_ways_and_proposes_the_same_u_as_the_figures(
    yard: Yard,
) -> None:
    view = measured(yard, begun(yard))
    assert view.result is not None
    assert [method.name for method in view.result.methods] == [
        "analysis of variance",
        "average and range",
    ]
    assert all(len(method.parts) == 5 for method in view.result.methods)
    readings = [
        GaugeReading(str(one["inspector"]), str(one["piece"]), int(one["value"]))
        for one in view.study.readings
    ]
    alone = proposed_uncertainty(anova_study(readings).study, 1_000)
    assert Decimal(view.result.uncertainty) * 1_000_000 == alone.expanded
    assert view.result.unit == "mm"


def test_only_the_owner_applies_u_and_the_study_closes(yard: Yard) -> None:
    study = begun(yard)
    proposed = measured(yard, study).result
    assert proposed is not None
    with pytest.raises(Forbidden):
        gauge_studies.apply_study(study, role="inspector", **doer(yard))
    said = gauge_studies.apply_study(study, role="owner", **doer(yard))
    assert f"U of BG1 is {proposed.uncertainty} mm now (was 0.002 mm)" in said
    view = study_view(study)
    assert (view.gauge.uncertainty, view.study.status) == (proposed.uncertainty, "done")
    with pytest.raises(NotAllowed):
        gauge_studies.enter_reading(study, None, "24.01", **doer(yard))
    with connection():
        assert verify()[1] == []


def test_u_is_given_in_the_gauges_own_unit(yard: Yard) -> None:
    add_gauge(GaugeTold("UM1", "Fine gauge", "bore gauge", "µm", "1"), **doer(yard))
    study = begun(yard, StudyTold("UM1", "GPB/bore", TOLD.inspectors, "3", "2", "0,002"))
    fine = measured(yard, study).result
    same = measured(yard, begun(yard, StudyTold(**{**vars(TOLD), "calibration": "0.002"}))).result
    assert fine is not None
    assert same is not None
    assert (fine.unit, Decimal(fine.uncertainty)) == ("µm", Decimal(same.uncertainty) * 1000)


def test_a_study_is_given_up_for_a_reason_and_the_next_has_a_number_of_its_own(yard: Yard) -> None:
    study = begun(yard)
    with pytest.raises(InvalidInput):
        gauge_studies.give_up_study(study, "", **doer(yard))
    gauge_studies.give_up_study(study, "piece 2 was lost", **doer(yard))
    assert study_view(study).study.status == "given up"
    assert begun(yard) == "BG1/2"


@pytest.mark.parametrize(
    ("told", "field"),
    [
        ({"gauge": "NONE"}, "gauge"),
        ({"check": "GPB/thread"}, "check"),
        ({"check": "NONE/bore"}, "check"),
        ({"inspectors": ""}, "inspectors"),
        ({"inspectors": "A, A"}, "inspectors"),
        ({"pieces": "1"}, "pieces"),
        ({"pieces": "400"}, "pieces"),
        ({"pieces": "30", "trials": "5", "inspectors": "A,B,C"}, "pieces"),
        ({"trials": "1"}, "trials"),
        ({"trials": "many"}, "trials"),
        ({"calibration": "-1"}, "calibration"),
    ],
)
def test_a_design_that_cannot_be_is_refused_at_its_field(
    yard: Yard, told: dict[str, str], field: str
) -> None:
    events = yard.events()
    with pytest.raises(InvalidInput) as wrong:
        begun(yard, StudyTold(**{**vars(TOLD), **told}))
    assert list(wrong.value.fields) == [field]
    assert yard.events() == events


def test_a_reading_finer_than_the_gauge_shows_is_asked_back_and_whose_hand_typed_is_said(
    yard: Yard,
) -> None:
    study = begun(yard)
    asked = scan(yard, study, "24.0105")
    assert (asked.word, "finer than the gauge shows (0.001 mm)" in asked.line) == ("SURE?", True)
    assert study_view(study).study.readings == ()
    taken = scan(yard, study, "24.010")
    assert "is in, typed by Ilse Thornby." in taken.line
