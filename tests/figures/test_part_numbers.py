"""Numbers stay text, are compared leniently, and are refused when they only look right."""

from __future__ import annotations

import unicodedata
from random import Random

import pytest
from hypothesis import given
from hypothesis import strategies as st

from coretrack.figures.part_numbers import LONGEST, BadNumber, clean_number, match_key

PLAIN = st.text("ABCXYZ0123456789/+#", min_size=1, max_size=20)


@pytest.mark.parametrize("text", ["00420", "0010", "1E10", "3-1", "22E1", "0503E000", "A/B", ".."])
def test_a_number_stays_the_text_it_is(text: str) -> None:
    assert clean_number(text) == text


@pytest.mark.parametrize(
    "other",
    ["7731.120-123", "7731 120 123", "7731–120–123", "7731\u00a0120123", "7731\u200b120123"],
)
def test_spaces_dashes_dots_and_invisible_signs_do_not_tell_numbers_apart(other: str) -> None:
    assert match_key(other) == match_key("7731120123")


def test_case_does_not_tell_numbers_apart_but_other_letters_do() -> None:
    assert match_key("ab-12c") == match_key("AB12C") == "AB12C"
    assert match_key("ñ1") == match_key("Ñ1")
    assert match_key("ß1") != match_key("SS1")


def test_a_slash_tells_numbers_apart() -> None:
    assert match_key("7731/120 A?B#1") != match_key("7731120 A?B#1")
    assert match_key("A/B") != match_key("AB")


@pytest.mark.parametrize("text", ["..", "-", "- -"])
def test_a_number_of_nothing_but_marks_is_its_own_key(text: str) -> None:
    assert match_key(text) == text


@pytest.mark.parametrize(("a", "b"), [("00420", "420"), ("1E10", "10000000000"), ("0010", "10")])
def test_a_number_is_never_taken_for_a_quantity(a: str, b: str) -> None:
    assert match_key(a) != match_key(b)


@given(PLAIN, st.lists(st.sampled_from(" -.–\u00a0\u200b"), max_size=5), st.randoms())
def test_marks_put_anywhere_change_nothing(text: str, marks: list[str], random: Random) -> None:
    pieces = list(text)
    for mark in marks:
        pieces.insert(random.randrange(len(pieces) + 1), mark)
    assert match_key("".join(pieces)) == match_key(text)
    assert match_key(text.lower()) == match_key(text)


@given(st.text(max_size=30))
def test_the_key_of_a_key_is_itself(text: str) -> None:
    assert match_key(match_key(text)) == match_key(text)


@given(st.text(max_size=100))
def test_any_text_is_either_kept_as_typed_or_refused(text: str) -> None:
    try:
        number = clean_number(text)
    except BadNumber:
        return
    assert number in unicodedata.normalize("NFC", text)
    assert 0 < len(number) <= LONGEST
    assert number == clean_number(number)


def test_an_accent_typed_as_a_sign_of_its_own_joins_its_letter_or_is_refused() -> None:
    assert clean_number("Ve\u0301lo-7") == "V\u00e9lo-7"
    assert match_key("ve\u0301lo7") == match_key("V\u00c9LO-7")
    with pytest.raises(BadNumber, match=r"Sign 5 .* loose accent"):
        clean_number("B504\u0301")


def test_a_cyrillic_letter_is_refused_by_sign_and_place() -> None:
    with pytest.raises(BadNumber) as refused:
        clean_number("CT-00\u04121")
    assert "Sign 6 " in str(refused.value)
    assert "'\u0412' (Cyrillic capital letter ve)" in str(refused.value)
    assert "Latin B" in str(refused.value)


@pytest.mark.parametrize(
    ("text", "fault"),
    [
        ("", "is empty"),
        ("\ufeff\u200b \u00a0", "is empty"),
        ("A\x00B", r"Sign 2 of the number 'A.B' is a control sign \(U\+0000\)"),
        ("A\x1dB", "control sign"),
        ("AB\tCD", "control sign"),
        ("A\u200bB", "invisible"),
        ("\u03911", "Greek capital letter alpha.*Latin A"),
        ("\uff19\uff10", "Fullwidth digit nine.*digits 0 to 9"),
        ("\u0661", "Arabic-indic digit one"),
        ("7" * (LONGEST + 1), "81 signs; 80 is the most"),
    ],
)
def test_what_cannot_be_a_number_is_refused_with_its_reason(text: str, fault: str) -> None:
    with pytest.raises(BadNumber, match=fault):
        clean_number(text)


def test_the_message_names_what_was_to_be_typed() -> None:
    with pytest.raises(BadNumber, match="The serial is empty"):
        clean_number(" ", "serial")


def test_signs_that_cannot_be_seen_come_off_the_ends() -> None:
    assert clean_number("\ufeff 00420\u200b\u00a0\r\n") == "00420"
    assert clean_number("Córdoba-7") == "Córdoba-7"
