"""What is told of a crack indication: read from a line, its length, its place, its words."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from coretrack.figures.cracks import (
    KINDS,
    ZONES,
    BadLength,
    Crack,
    crack_from_dict,
    crack_words,
    in_zone,
    read_length,
    read_told,
    zone_at,
    zone_middle,
)


@pytest.mark.parametrize(
    ("line", "told"),
    [
        ("linear 4 mm at the seat", Crack("linear", "4 mm", 4_000_000, "seat")),
        ("crack, 2,5 mm, flange", Crack("crack", "2,5 mm", 2_500_000, "flange")),
        ("pit at the flange", Crack("pit", place="flange")),
        ("0.25 in near the bore", Crack("", "0.25 in", 6_350_000, "bore")),
        ("rounded 800 um zone 5", Crack("rounded", "800 um", 800_000, "5")),
        ("Zone 7", Crack(place="7")),
        ("by the 4th bolt", Crack(place="by the 4th bolt")),
        ("", Crack()),
    ],
)
def test_a_line_is_read_in_parts_and_the_rest_is_the_place(line: str, told: Crack) -> None:
    assert read_told(line) == told


def test_a_length_is_kept_as_typed_and_in_millimetres() -> None:
    assert read_length("4") == ("4", 4_000_000)
    assert read_length(" 4,50 ") == ("4,50", 4_500_000)
    assert read_length("0.1 in") == ("0.1 in", 2_540_000)
    assert read_length("") == read_length("not measured") == ("", None)


@pytest.mark.parametrize("text", ["0", "-2", "long", "2001", "4 bar", "4 parsec", "1e3"])
def test_what_is_no_length_is_refused_in_words(text: str) -> None:
    with pytest.raises(BadLength, match=r"such as 4 or 4\.5|longer than 0"):
        read_length(text)


def test_zones_are_the_thirds_of_the_picture_read_like_a_page() -> None:
    assert [zone_at(*zone_middle(zone)) for zone in ZONES] == list(ZONES)
    assert (zone_at(0, 0), zone_at(1000, 0), zone_at(1000, 1000)) == ("1", "3", "9")
    assert in_zone(Crack(place="5"), "abc") == Crack(place="5", x=500, y=500, picture="abc")
    assert in_zone(Crack(place="5"), "") == Crack(place="5")
    marked = Crack(place="5", x=1, y=2, picture="abc")
    assert in_zone(marked, "def") == marked


def test_the_words_say_that_a_length_was_not_measured() -> None:
    assert crack_words(Crack("pit", place="seat")) == "pit, length not measured, at seat"
    assert crack_words(Crack("linear", "4", 4_000_000, "5")) == "linear, 4 mm, in zone 5"
    marked = Crack("linear", "4", 4_000_000, "5", 500, 500, "abc")
    assert crack_words(marked) == "linear, 4 mm, marked in zone 5"
    assert crack_words(Crack()) == ""


texts = st.text(max_size=20)


@given(
    st.builds(
        Crack,
        st.sampled_from(("", *KINDS)),
        texts,
        st.one_of(st.none(), st.integers(1, 10**9)),
        texts,
        st.one_of(st.none(), st.integers(0, 1000)),
        st.one_of(st.none(), st.integers(0, 1000)),
        texts,
        texts,
    )
)
def test_what_is_told_survives_storing(crack: Crack) -> None:
    assert crack_from_dict(crack.to_dict()) == crack


@given(st.text(max_size=60))
def test_any_line_can_be_told(line: str) -> None:
    crack = read_told(line)
    assert crack.kind in ("", *KINDS)
    assert isinstance(crack_words(crack), str)


@pytest.mark.parametrize(
    ("place", "said"),
    [
        ("seat", "at seat"),
        ("at seat", "at seat"),
        ("On the rim", "On the rim"),
        ("inlet", "at inlet"),
    ],
)
def test_a_place_is_said_with_one_word_before_it(place: str, said: str) -> None:
    assert crack_words(Crack("linear", place=place)) == f"linear, length not measured, {said}"
