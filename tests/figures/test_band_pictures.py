"""A check's bands as a picture with its readings in it, and distances in gauge divisions."""

from __future__ import annotations

from dataclasses import replace
from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st

from coretrack.figures.band_pictures import WIDTH, band_picture, gauge_divisions
from coretrack.figures.findings import word_at
from coretrack.figures.judging import judge_check
from coretrack.figures.observations import Observation
from coretrack.figures.plans import Check, ReworkBand
from coretrack.figures.tolerances import Limits

BORE = Check(
    "bore",
    "Gear bore",
    "dimension",
    1,
    unit="mm",
    resolution=1_000,
    new=Limits(24_000_000, 24_020_000),
    usable=Limits(24_000_000, 24_040_000),
    rework=(ReworkBand("hone", Limits(23_900_000, 24_000_000)),),
    rule="guarded",
    uncertainty=2_000,
)
FACE = Check("face", "Face", "dimension", 2, unit="µm", usable=Limits(None, 5_000_000))
THREAD = Check("thread", "Thread", "attribute", 3)


def test_the_bands_follow_one_another_from_edge_to_edge() -> None:
    picture = band_picture(BORE, (24_012_000,))
    assert picture is not None
    solid = [zone for zone in picture.zones if zone.kind != "grey"]
    assert [zone.kind for zone in solid] == ["discard", "rework", "new", "usable", "discard"]
    assert [zone.start for zone in solid[1:]] == [zone.end for zone in solid[:-1]]
    assert (solid[0].start, solid[-1].end) == (0, WIDTH)
    assert solid[1].text == "hone"
    (pointer,) = picture.pointers
    assert solid[2].start < pointer.place < solid[2].end
    assert (pointer.text, pointer.newest, pointer.beyond) == ("24.012 mm", True, 0)


def test_grey_zones_lie_around_limits_that_decide_and_not_between_new_and_usable() -> None:
    picture = band_picture(BORE)
    assert picture is not None
    grey = [zone for zone in picture.zones if zone.kind == "grey"]
    assert len(grey) == 3
    assert band_picture(replace(BORE, rule="simple")) is not None
    plain = band_picture(replace(BORE, rule="simple"))
    assert plain is not None
    assert all(zone.kind != "grey" for zone in plain.zones)


def test_a_rework_that_is_used_up_is_drawn_as_discard() -> None:
    picture = band_picture(BORE, (), {"hone": "done five times"})
    assert picture is not None
    assert "rework" not in {zone.kind for zone in picture.zones}


def test_a_reading_far_off_stands_at_the_edge_and_squeezes_nothing() -> None:
    picture = band_picture(BORE, (24_012_000, 30_000_000))
    near = band_picture(BORE, (24_012_000,))
    assert picture is not None
    assert near is not None
    assert (picture.pointers[1].beyond, picture.pointers[1].place) == (1, WIDTH)
    assert picture.zones == near.zones
    assert "read 24.012 mm, 30.000 mm" in picture.said


def test_limits_show_the_decimals_of_the_gauge_and_crowded_ones_stand_apart() -> None:
    picture = band_picture(BORE)
    assert picture is not None
    assert [tick.text for tick in picture.ticks if tick.text][:2] == ["23.900", "24.000"]
    for row in (0, 1):
        places = [tick.place for tick in picture.ticks if tick.text and tick.row == row]
        assert all(b - a >= 170 for a, b in pairwise(places))


def test_one_sided_limits_have_a_picture_and_words_have_none() -> None:
    picture = band_picture(FACE, (6_000_000,))
    assert picture is not None
    assert [zone.kind for zone in picture.zones] == ["usable", "discard"]
    assert band_picture(THREAD) is None


@given(
    st.lists(st.integers(0, 60_000_000), max_size=4),
    st.sampled_from([BORE, FACE, replace(BORE, rework=(), new=None)]),
)
def test_a_picture_stays_inside_its_frame_and_shows_each_reading_where_it_is_judged(
    values: list[int], check: Check
) -> None:
    picture = band_picture(check, tuple(values))
    assert picture is not None
    for zone in picture.zones:
        assert 0 <= zone.start <= zone.end <= WIDTH
    assert all(0 <= pointer.place <= WIDTH for pointer in picture.pointers)
    simple = replace(check, rule="simple", uncertainty=0)
    solid = [zone for zone in picture.zones if zone.kind != "grey"]
    for value, pointer in zip(values, picture.pointers, strict=True):
        outcome = judge_check(simple, Observation(check.code, (value,))).outcome
        kinds = {zone.kind for zone in solid if zone.start <= pointer.place <= zone.end}
        # At an edge two bands meet: the reading is drawn on the line between them.
        assert outcome in kinds | ({"usable"} if "new" in kinds else set())


@pytest.mark.parametrize(
    ("distance", "words"),
    [
        (3_000, "3 gauge divisions"),
        (-1_000, "1 gauge division"),
        (500, "0.5 gauge divisions"),
        (49, "less than a tenth of a gauge division"),
        (0, ""),
    ],
)
def test_distances_are_told_in_gauge_divisions(distance: int, words: str) -> None:
    assert gauge_divisions(BORE, distance) == words


def test_without_a_resolution_there_are_no_divisions() -> None:
    assert gauge_divisions(FACE, 3_000) == ""


def test_a_crack_is_told_with_its_detail_and_none_of_it_is_no_indication() -> None:
    crack = Check("crack", "Crack", "crack", 4)
    told = word_at(crack, "Indication: linear 4 mm at the seat")
    assert told is not None
    assert (told.result, told.detail) == ("indication", "linear 4 mm at the seat")
    assert word_at(crack, "indication: none") is None
    assert word_at(crack, "go") is None


def test_a_narrow_band_is_named_below_and_every_limit_has_its_size() -> None:
    check = Check(
        "bore",
        "Bore",
        "dimension",
        1,
        unit="mm",
        resolution=100,
        new=Limits(6_001_000, 6_006_000),
        usable=Limits(6_000_000, 6_010_000),
        rework=(
            ReworkBand("hone", Limits(5_990_000, 6_000_000)),
            ReworkBand("sleeve", Limits(6_010_000, 6_030_000)),
        ),
    )
    picture = band_picture(check)
    assert picture is not None
    assert [zone.text for zone in picture.narrow] == ["usable", "usable"]
    assert all(tick.text for tick in picture.ticks)
