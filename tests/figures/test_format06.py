"""Label envelopes: whole, defective and unreadable ones."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from coretrack.figures.format06 import BadEnvelope, has_envelope, parse_format06

WHOLE = "[)>\x1e06\x1d1P7731120123\x1dQ1\x1d1T317010\x1e\x04"


def test_a_whole_label_gives_part_and_lot_and_no_serial() -> None:
    label = parse_format06(WHOLE)
    assert label.numbers == ("7731120123",)
    assert (label.serial, label.lot, label.get("Q")) == (None, "317010", "1")
    assert label.notes == ()


def test_a_label_that_lost_its_record_separators_is_read_and_says_so() -> None:
    label = parse_format06("[)>06\x1d1P7731120123\x1dQ1\x1d1T317010")
    assert label.fields == parse_format06(WHOLE).fields
    assert len(label.notes) == 2
    assert "record separator" in label.notes[0]
    assert "last field may be cut short" in label.notes[1]


def test_a_stray_sign_in_front_is_left_out_and_said() -> None:
    text = ">[)>06\x1d1P7731120123\x1dSAB12"
    assert has_envelope(text)
    label = parse_format06(text)
    assert (label.numbers, label.serial) == (("7731120123",), "AB12")
    assert label.notes[0] == "Stray signs '>' in front were left out."


def test_both_part_numbers_are_kept_the_suppliers_first_and_each_once() -> None:
    assert parse_format06("[)>\x1e06\x1dPA1\x1d1PB2\x1dPA1\x1e\x04").numbers == ("B2", "A1")


@pytest.mark.parametrize("identifier", ["T", "1T", "25S", "2S", "4S", "36S", "37S"])
def test_a_lot_or_another_kind_of_s_is_never_the_serial(identifier: str) -> None:
    assert parse_format06(f"[)>\x1e06\x1d{identifier}317010\x1e\x04").serial is None


def test_a_missing_end_sign_alone_is_noted() -> None:
    assert parse_format06(WHOLE.removesuffix("\x04")).notes == (
        "The end sign of the label is missing.",
    )


def test_lower_case_identifiers_are_read_and_said() -> None:
    label = parse_format06("[)>\x1e06\x1d1p7731\x1dsab12\x1e\x04")
    assert (label.numbers, label.serial) == (("7731",), "ab12")
    assert "Caps Lock" in label.notes[0]


def test_fields_without_identifier_or_data_are_left_out_and_said() -> None:
    label = parse_format06("[)>\x1e06\x1d1P7\x1d??\x1dS\x1d8Z9\x1e\x04")
    assert [(f.identifier, f.name) for f in label.fields] == [
        ("1P", "supplier's part number"),
        ("8Z", "unknown field"),
    ]
    assert label.notes == (
        "'??' begins with no data identifier and was left out.",
        "The field S is empty.",
    )


def test_another_sign_can_be_the_separator() -> None:
    label = parse_format06("[)>06|1P7731|SAB12", ("\x1d", "|"))
    assert (label.numbers, label.serial) == (("7731",), "AB12")


@pytest.mark.parametrize(
    ("text", "fault"),
    [
        ("1P7731", r"does not begin with \[\)>"),
        ("[)>\x1e12\x1dPNR 7731\x1e\x04", "format '12'; only formats 05 and 06"),
        ("[)>", "breaks off after its first signs"),
        ("[)>061P7731120123SAB12", "separators between the fields are missing"),
        ("[)>\x1e06\x1d\x1e\x04", "holds no field"),
    ],
)
def test_an_unreadable_label_is_refused_with_its_reason(text: str, fault: str) -> None:
    with pytest.raises(BadEnvelope, match=fault):
        parse_format06(text)


VALUES = st.text("ABCXYZ0123456789 -/.", min_size=1, max_size=20).filter(
    lambda value: value.strip() == value
)


@given(VALUES, VALUES, VALUES)
def test_whatever_the_label_holds_comes_back(part: str, serial: str, lot: str) -> None:
    label = parse_format06(f"[)>\x1e06\x1d1P{part}\x1dS{serial}\x1d1T{lot}\x1e\x04")
    assert (label.numbers, label.serial, label.lot) == ((part,), serial, lot)


@given(st.text(max_size=40))
def test_no_text_brings_the_reader_down(text: str) -> None:
    try:
        label = parse_format06("[)>" + text)
    except BadEnvelope:
        return
    assert label.fields
