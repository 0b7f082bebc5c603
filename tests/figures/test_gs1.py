"""GS1 data: fields, lost separators, stand-in separators, wrong check digits, plain errors."""

from __future__ import annotations

from datetime import date

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from coretrack.figures.gs1 import (
    SEPARATOR,
    BadGs1,
    eleven_digits,
    gtin_check_digit,
    gtin_forms,
    is_gtin,
    lost_separator,
    parse_brackets,
    parse_gs1,
    stand_in_separator,
    starts_like_gs1,
)

GTIN = "09506000134352"


def test_the_fields_of_a_label_with_its_separator() -> None:
    data = parse_gs1(f"01{GTIN}21AB12{SEPARATOR}10LOT9")
    assert data.in_brackets == f"(01){GTIN}(21)AB12(10)LOT9"
    assert (data.get("01"), data.get("21"), data.get("10")) == (GTIN, "AB12", "LOT9")
    assert data.get("17") is None
    assert lost_separator(parse_gs1(f"01{GTIN}21AB12")) == ()


def test_a_lost_separator_is_suspected_and_both_readings_are_offered() -> None:
    data = parse_gs1(f"01{GTIN}21AB1210LOT9")
    assert data.get("21") == "AB1210LOT9"
    assert [other.in_brackets for other in lost_separator(data)] == [f"(01){GTIN}(21)AB12(10)LOT9"]


def test_a_field_that_is_on_the_label_already_is_not_suspected_again() -> None:
    assert lost_separator(parse_gs1(f"10LOT9{SEPARATOR}21AB1210LOT8")) == ()


def test_a_lost_separator_that_makes_the_rest_unreadable_is_a_clear_error() -> None:
    with pytest.raises(BadGs1) as error:
        parse_gs1("1021072911172405310100693570007182")
    assert "after (10)21072911172405310100: '693570007182' begins no known field" in str(
        error.value
    )
    assert "No separator was seen" in str(error.value)


def test_a_bar_is_recognised_as_a_possible_separator() -> None:
    text = f"01{GTIN}21AB12|10LOT9"
    with pytest.raises(BadGs1):
        parse_gs1(text)
    found = stand_in_separator(text)
    assert found is not None
    assert (found[0], found[1].get("21"), found[1].get("10")) == ("|", "AB12", "LOT9")
    assert parse_gs1(text, (SEPARATOR, "|")) == found[1]


@pytest.mark.parametrize("text", [f"01{GTIN}21AB12", f"01{GTIN}21A|B~C", f"01{GTIN}21AB|5"])
def test_without_one_fitting_sign_no_separator_is_guessed(text: str) -> None:
    assert stand_in_separator(text) is None


def test_a_wrong_check_digit_inside_is_a_fault_with_the_right_digit() -> None:
    data = parse_gs1("0109506000134353")
    assert data.faults == ("The check digit of the GTIN 09506000134353 is wrong; it would be 2.",)
    assert parse_gs1(f"01{GTIN}").faults == ()


@pytest.mark.parametrize(
    ("text", "day"),
    [
        ("17260400", date(2026, 4, 30)),
        ("11240200", date(2024, 2, 29)),
        ("11250228", date(2025, 2, 28)),
    ],
)
def test_day_00_is_the_last_day_of_the_month(text: str, day: date) -> None:
    assert parse_gs1(text).elements[0].day == day


@pytest.mark.parametrize("text", ["17261300", "17260231", "", SEPARATOR, "9" * 30 + "\x00"])
def test_what_cannot_be_read_is_an_error_in_plain_words(text: str) -> None:
    with pytest.raises(BadGs1, match=r"(cannot be read|no data)"):
        parse_gs1(text)


def test_the_form_printed_under_a_symbol_is_read_with_and_without_blanks() -> None:
    for text in ("(01)09506000134352(21)AB12(10)LOT9", f"(01) {GTIN} (21) AB12 (10) LOT9"):
        assert parse_brackets(text) == parse_gs1(f"01{GTIN}21AB12{SEPARATOR}10LOT9")


@pytest.mark.parametrize(
    ("text", "fault"),
    [
        ("(01)0950", r"'0950' cannot stand behind the GTIN \(01\)"),
        ("(9999)1", r"no identifier \(9999\)"),
        ("(abc)", "identifier in each bracket"),
        ("01)123", "identifier in each bracket"),
        ("(01)", "identifier in each bracket"),
    ],
)
def test_a_wrong_printed_form_is_refused_with_its_reason(text: str, fault: str) -> None:
    with pytest.raises(BadGs1, match=fault):
        parse_brackets(text)


@given(st.text(min_size=1, max_size=60))
def test_no_text_brings_the_reader_down(text: str) -> None:
    for read in (parse_gs1, parse_brackets):
        try:
            data = read(text)
        except BadGs1:
            continue
        assert data.elements
        lost_separator(data)


SIGNS = st.text("ABCDEFGH0123456789-/", min_size=1, max_size=12)


@given(serial=SIGNS, lot=SIGNS)
def test_with_separators_every_serial_and_lot_comes_back_whole(serial: str, lot: str) -> None:
    data = parse_gs1(f"01{GTIN}21{serial}{SEPARATOR}10{lot}")
    assert (data.get("21"), data.get("10")) == (serial, lot)
    assert parse_brackets(data.in_brackets) == data


@given(serial=SIGNS, lot=SIGNS)
def test_without_the_separator_the_true_reading_is_always_offered(serial: str, lot: str) -> None:
    assume(len(serial) + len(lot) + 2 <= 20)
    true = f"(01){GTIN}(21){serial}(10){lot}"
    run_together = parse_gs1(f"01{GTIN}21{serial}10{lot}")
    assert true in [other.in_brackets for other in lost_separator(run_together)]


@pytest.mark.parametrize(
    ("text", "yes"),
    [
        (f"01{GTIN}", True),
        ("0109506000134353", False),
        ("1012345", False),
        ("2112345", False),
        ("010", False),
        ("1021072911172405310100693570007182", True),
        (f"10LOT9{SEPARATOR}21X", True),
        ("00106141412345678908", True),
        ("00106141412345678900", False),
    ],
)
def test_unmarked_text_is_only_taken_for_gs1_data_on_good_grounds(text: str, yes: bool) -> None:
    assert starts_like_gs1(text) is yes


def test_one_gtin_has_several_lengths() -> None:
    assert gtin_forms("036000291452") == ("00036000291452", "0036000291452", "036000291452")
    assert gtin_forms("4006381333931") == ("04006381333931", "4006381333931")


@given(st.text("0123456789", min_size=11, max_size=13))
def test_a_gtin_is_right_with_its_check_digit_only(payload: str) -> None:
    right = payload + gtin_check_digit(payload)
    assert is_gtin(right)
    assert not is_gtin(payload + str((int(right[-1]) + 1) % 10))
    assert set(gtin_forms(right)) <= {f for f in gtin_forms(right) if is_gtin(f)}


def test_eleven_digits_are_completed_in_front_or_behind() -> None:
    assert eleven_digits("36000291452")[0] == "036000291452"
    assert eleven_digits("03600029145") == ("036000291452",)
    assert eleven_digits("3600029145") == eleven_digits("3600029145X") == ()


@pytest.mark.parametrize("text", ["", "x", "１２３"])
def test_a_check_digit_needs_digits(text: str) -> None:
    with pytest.raises(BadGs1, match="digits only"):
        gtin_check_digit(text)
