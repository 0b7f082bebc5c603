"""A reading is taken, asked back or refused; never converted or guessed silently."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from coretrack.figures.limits import Limits
from coretrack.figures.plausibility import plausible_band
from coretrack.figures.readings import (
    Question,
    Reading,
    Refusal,
    read_reading,
    show_reading,
    split_readings,
)
from coretrack.figures.tags import make_shop_code, make_tag
from coretrack.figures.units import UnknownUnit

BODY = 9_012_000  # nominal 9.012 mm


def taken(text: str, unit: str = "mm", **known: object) -> int:
    """Return the value of a reading that must be taken."""
    result = read_reading(text, unit=unit, **known)  # type: ignore[arg-type]
    assert isinstance(result, Reading), result
    assert result.as_typed == text
    return result.value


def asked(text: str, unit: str = "mm", **known: object) -> Question:
    """Return the question that must be asked."""
    result = read_reading(text, unit=unit, **known)  # type: ignore[arg-type]
    assert isinstance(result, Question), result
    return result


def refused(text: str, unit: str = "mm", **known: object) -> str:
    """Return the reason of a refusal that must come."""
    result = read_reading(text, unit=unit, **known)  # type: ignore[arg-type]
    assert isinstance(result, Refusal), result
    return result.text


@pytest.mark.parametrize(
    ("text", "value"),
    [
        ("9.012", BODY),
        ("9,012", BODY),
        ("9.012mm", BODY),
        ("9012 µm", BODY),
        ("9012 μm", BODY),
        ("9012 um", BODY),
        ("９．０１２", BODY),
        ("9.012\tmm\t", BODY),
        ("+0009.012mm\r", BODY),
        ("0.3548 in", 9_011_920),
        ("354.8 thou", 9_011_920),
        ('0.3548"', 9_011_920),
        ("0.35481 in", 9_012_174),
        ("3/8 in", 9_525_000),
        ('23/64"', 9_128_125),
    ],
)
def test_readings_are_taken_exactly_in_the_units_of_the_check(text: str, value: int) -> None:
    assert taken(text, nominal=BODY) == value
    assert taken(text) == value


def test_a_reading_keeps_what_was_typed_and_in_which_unit() -> None:
    result = read_reading("0.3548 in", unit="mm")
    assert result == Reading("0.3548 in", 9_011_920, "mm", "in")


def test_finer_than_a_millionth_is_rounded_half_up_and_said() -> None:
    result = read_reading("1.0000005", unit="mm")
    assert isinstance(result, Reading)
    assert (result.value, result.exact) == (1_000_001, False)


@pytest.mark.parametrize(
    ("frame", "value"),
    [
        ("FFFF000012330", 123_000),
        ("FFFF800012330", -123_000),
        ("ffff000012330", 123_000),
        ("FFFF000354841", 9_011_920),
        ("FFFF000000000", 0),
        ("FFFF800000030", 0),
    ],
)
def test_frames_of_a_gauge_are_taken_apart(frame: str, value: int) -> None:
    assert taken(frame) == value


@pytest.mark.parametrize(
    "frame",
    ["FFFF00001233", "FFFF0000123300", "FFFF300012330", "FFFF000012360", "FFFF000012332", "FFF1"],
)
def test_damaged_frames_are_refused(frame: str) -> None:
    assert "damaged frame" in refused(frame)


def test_a_frame_of_a_length_gauge_is_no_hardness() -> None:
    assert "cannot be turned into HRC" in refused("FFFF000012330", "HRC")


@pytest.mark.parametrize("text", ["HELP", "help", "OL", "Err"])
def test_an_overloaded_gauge_is_refused(text: str) -> None:
    assert "overloaded" in refused(text)


@pytest.mark.parametrize(
    "text",
    [
        *("4006381333931\r", "36000291452", "12345678", make_tag(1, 42), "1000 0042 35"),
        *(make_shop_code("reason", 3), make_tag(2, 12_345_678)),
        *("]C1010950600013435221AB12\x1d10LOT9", "]d2010950600013435221", "CT-000124", "CTß000123"),
        *(
            "010950600013435221AB1210LOT9",
            "(01)09506000134352(21)AB12",
            "[)>\x1e06\x1d1P77\x1e\x04",
        ),
    ],
)
@pytest.mark.parametrize("known", [{}, {"nominal": BODY}])
def test_a_barcode_is_never_a_reading(text: str, known: dict[str, int]) -> None:
    assert "looks like a barcode" in refused(text, **known)


def test_a_part_number_is_never_a_reading() -> None:
    assert "part number" in refused("00420")


@pytest.mark.parametrize("text", ["228.905", "228,905"])
def test_a_slip_of_inch_and_millimetre_is_asked_back(text: str) -> None:
    question = asked(text, nominal=BODY)
    assert [each.value for each in question.suggestions] == [9_012_008]
    assert "228.905 mm is outside" in question.text
    assert "9.012 mm (typed times 25.4)" in question.text
    assert question.value == 228_905_000


def test_an_inch_value_in_a_millimetre_field_is_asked_back() -> None:
    question = asked("0.3548", nominal=BODY)
    assert question.suggestions[0].value == 9_011_920
    assert "0.3548 in" in question.text


def test_an_explicit_unit_does_not_escape_the_question() -> None:
    question = asked("9.012 in", nominal=BODY)
    assert question.suggestions[0].value == BODY
    assert "'9.012 in' = 228.9048 mm" in question.text


@pytest.mark.parametrize(
    ("text", "value"), [("90.12", BODY), ("901.2", BODY), ("9012", BODY), ("0.9012", BODY)]
)
def test_a_lost_decimal_point_is_asked_back(text: str, value: int) -> None:
    assert [each.value for each in asked(text, nominal=BODY).suggestions] == [value]


def test_the_plausible_band_goes_before_the_nominal_size_and_is_inclusive() -> None:
    band = Limits(6_000_000, 6_020_000)
    assert taken("6.000", nominal=BODY, plausible=band) == 6_000_000
    assert taken("6.020", nominal=BODY, plausible=band) == 6_020_000
    question = asked("6.021", plausible=band, resolution=1000)
    assert question.suggestions == ()
    assert "6.000 to 6.020 mm" in question.text
    assert "Measure again" in question.text


def test_one_sided_bands_are_named_as_such() -> None:
    assert "at least 50 HRC" in asked("12", "HRC", plausible=Limits(50_000_000, None)).text


def test_pressures_are_asked_back_in_the_other_unit() -> None:
    question = asked("2000", "bar", plausible=Limits(100_000_000, 180_000_000))
    assert question.suggestions[0].value == 137_895_146
    assert "2000 psi" in question.text


@pytest.mark.parametrize("known", [{}, {"nominal": 20_000_000}])
def test_68_in_a_celsius_field_is_asked_back_as_fahrenheit(known: dict[str, int]) -> None:
    question = asked("68", "°C", **known)
    assert [each.value for each in question.suggestions] == [20_000_000]
    assert "68 °F" in question.text


def test_room_temperatures_are_taken() -> None:
    assert taken("21,5", "°C") == 21_500_000
    assert taken("68", "°F") == 68_000_000


def test_nonsense_is_refused_without_any_band() -> None:
    assert "more than 5 m" in refused("18264", "in")
    assert "more than 5 m" in refused("5000.1")
    assert taken("5000") == 5_000_000_000
    assert "less than 0" in refused("-3", "count")
    assert "more than 100 HRC" in refused("580", "HRC")


def test_nonsense_is_refused_even_where_a_far_fetched_slip_would_fit() -> None:
    assert "more than 5 m" in refused("18264", "in", nominal=500_000)


def test_a_senseless_value_cannot_be_confirmed() -> None:
    assert asked("9012", nominal=BODY).value is None


@pytest.mark.parametrize(
    ("text", "unit", "reason"),
    [
        ("", "mm", "Nothing is typed"),
        ("\u200b", "mm", "Nothing is typed"),
        ("1_000", "mm", "underscore"),
        ("0x10", "mm", "programmer"),
        ("9.0¹", "mm", "only the digits 0 to 9"),
        ("9.01e0", "mm", "exponent"),
        ("abc", "mm", "not a number"),
        ("9.012 furlong", "mm", "not a known unit"),
        ("9.012 HRC", "mm", "cannot be turned into mm"),
        ("9.012\tmm\t9.013\tmm", "mm", "more than one reading"),
        ("3/8", "mm", "inches only"),
        ("1/3 in", "mm", "no exact decimal"),
        ("1/0 in", "mm", "no exact decimal"),
        ("3.5", "count", "whole number"),
        ("1.234,5", "mm", "between thousands"),
    ],
)
def test_what_is_no_reading_is_refused_with_the_reason(text: str, unit: str, reason: str) -> None:
    assert reason in refused(text, unit)


def test_the_mark_of_a_file_refuses_the_other_one() -> None:
    assert taken("9,012", decimal_mark=",") == BODY
    assert "decimal mark here is a comma" in refused("9.012", decimal_mark=",")


def test_an_unknown_unit_of_the_check_is_a_fault_of_the_plan() -> None:
    with pytest.raises(UnknownUnit):
        read_reading("1", unit="furlong")


@pytest.mark.parametrize(
    ("value", "resolution", "shown"),
    [
        (-400, 1000, "0.000"),
        (-500, 1000, "-0.001"),
        (9_012_499, 1000, "9.012"),
        (9_012_500, 1000, "9.013"),
        (BODY, None, "9.012"),
        (58_000_000, 1_000_000, "58"),
        (9_012_340, 5000, "9.012"),
        (0, None, "0"),
    ],
)
def test_readings_are_shown_half_up_and_never_as_minus_zero(
    value: int, resolution: int | None, shown: str
) -> None:
    assert show_reading(value, resolution) == shown


def test_decimals_can_be_asked_for() -> None:
    assert show_reading(BODY, decimals=2) == "9.01"
    assert show_reading(-1, decimals=0) == "0"


def test_cells_with_several_readings_are_parted_but_fractions_are_not() -> None:
    assert split_readings("6.004/6.005; 6,006", unit="mm") == ("6.004", "6.005", "6,006")
    assert split_readings("3/8", unit="in") == ("3/8",)
    assert split_readings("3/8 in", unit="mm") == ("3/8 in",)
    assert split_readings("3/8", unit="count") == ("3", "8")
    assert split_readings("", unit="mm") == ()


def test_the_band_from_a_nominal_size() -> None:
    assert plausible_band("mm", BODY) == Limits(4_506_000, 13_518_000)
    assert plausible_band("mm", -BODY) == Limits(-13_518_000, -4_506_000)
    assert plausible_band("mm", 0) is None
    assert plausible_band("°C", None) == Limits(-5_000_000, 45_000_000)
    assert plausible_band("°F", None) == Limits(23_000_000, 113_000_000)


@given(st.integers(-5_000_000_000, 5_000_000_000))
def test_what_is_shown_reads_back(value: int) -> None:
    assert taken(show_reading(value)) == value
    assert taken(show_reading(value).replace(".", ",") + " mm") == value


@given(st.integers(-(10**12), 10**12), st.integers(0, 6))
def test_a_shown_reading_is_within_half_a_digit(value: int, decimals: int) -> None:
    shown = show_reading(value, decimals=decimals)
    assert not (shown.startswith("-") and not shown.strip("-0."))
    digits = shown.lstrip("-").replace(".", "")
    back = int(digits) * 10 ** (6 - decimals) * (-1 if shown.startswith("-") else 1)
    assert abs(2 * (back - value)) <= 10 ** (6 - decimals)


@given(
    st.one_of(
        st.text(max_size=25),
        st.text(alphabet="0123456789.,+-−/ Fmµinµ\"'°CHRx_\t\r\x1d]()¹９", max_size=16),
    ),
    st.sampled_from(["mm", "in", "°C", "HRC", "count", "psi"]),
    st.sampled_from([None, 0, 9_012_000, -500]),
)
def test_any_text_gets_an_answer(text: str, unit: str, nominal: int | None) -> None:
    result = read_reading(text, unit=unit, nominal=nominal)
    assert result.as_typed == text
    if not isinstance(result, Reading):
        assert result.text
    split_readings(text, unit=unit)


@given(st.from_regex(r"[0-9]{8,20}", fullmatch=True))
def test_eight_digits_and_more_without_a_mark_are_never_stored(text: str) -> None:
    assert "looks like a barcode" in refused(text)
