"""Text becomes the number it writes, exactly, or a plain refusal."""

from __future__ import annotations

from datetime import date, datetime
from decimal import Decimal
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from coretrack.figures.amounts import parse_amount
from coretrack.figures.numbers import (
    AmbiguousNumber,
    NotANumber,
    clean_text,
    column_decimal_mark,
    half_up,
    number_from_cell,
    parse_number,
    parse_share,
)

NARROW, NO_BREAK, BOM, ZERO_WIDTH = "\u202f", "\u00a0", "\ufeff", "\u200b"

decimals = st.decimals(
    min_value=Decimal("-9999999"), max_value=Decimal("9999999"), places=4, allow_nan=False
)
strange_texts = st.one_of(
    st.text(max_size=30),
    st.text(alphabet="0123456789.,+-−' ’_eExX()%¹９．\u00a0\u202f\ufeff\t\r", max_size=14),
)


@pytest.mark.parametrize(
    ("text", "number"),
    [
        ("9.012", "9.012"),
        ("1,5", "1.5"),
        (".5", "0.5"),
        (",25", "0.25"),
        ("-0.0004", "-0.0004"),
        ("−5", "-5"),
        ("–5", "-5"),
        ("＋3", "3"),
        ("- 5", "-5"),
        (f" 9.012{NO_BREAK}", "9.012"),
        (f"{BOM}12{ZERO_WIDTH}", "12"),
        ("９．０１２", "9.012"),
        ("0009.012", "9.012"),
        ("0,125", "0.125"),
        ("1234,567", "1234.567"),
        ("\t7\r\n", "7"),
    ],
)
def test_plain_numbers_are_read_exactly(text: str, number: str) -> None:
    assert parse_number(text) == Decimal(number)


def test_trailing_zeros_are_kept_and_negative_zero_is_zero() -> None:
    assert str(parse_number("9.000")) == "9.000"
    assert str(parse_number("-0.00")) == "0.00"


@pytest.mark.parametrize(
    ("text", "reason"),
    [
        ("", "nothing is written"),
        (f" {ZERO_WIDTH}", "nothing is written"),
        ("-", "only a sign"),
        ("--5", "second sign"),
        ("5-", "second sign"),
        ("1.2.3", "not a number"),
        ("1,2,3", "not a number"),
        ("1_000", "underscore"),
        ("0x10", "programmer"),
        ("1e3", "exponent"),
        ("1.5E-05", "exponent"),
        ("NaN", "not a number"),
        ("inf", "not a number"),
        ("9.0¹", "only the digits 0 to 9"),
        ("٣", "only the digits 0 to 9"),
        ("(5.00)", "-5.00"),
        ("5.", "a digit is missing"),
        ("1 234", "between thousands"),
        ("1,234.5", "between thousands"),
        ("12 34", "not a number"),
        ("..", "not a number"),
        ("1" * 21, "looks like a code"),
        ("5 %", "because of '%'"),
    ],
)
def test_what_is_no_number_is_refused_with_the_reason(text: str, reason: str) -> None:
    with pytest.raises(NotANumber, match=reason):
        parse_number(text)


@pytest.mark.parametrize(
    "text",
    [
        *("1.234,50", "1,234.50", "1 234,50", "1'234.50", "1’234,50", "1234,5"),
        *(f"1{NO_BREAK}234,50", f"1{NARROW}234.50"),
    ],
)
def test_thousands_are_taken_apart_where_they_are_allowed(text: str) -> None:
    assert parse_number(text, allow_thousands=True) == Decimal("1234.5")


def test_repeated_groups_need_no_hint() -> None:
    assert parse_number("1.234.567", allow_thousands=True) == 1_234_567
    assert parse_number("1 000 000", allow_thousands=True) == 1_000_000
    assert parse_number("12,345,678.9", allow_thousands=True) == Decimal("12345678.9")


@pytest.mark.parametrize(
    "text", ["1,23,456", "12.34,5", "0.123.456", "1 2345", "1234 567", "1 234.567,5", "1,234,5"]
)
def test_groups_that_are_not_of_three_are_refused(text: str) -> None:
    with pytest.raises(NotANumber):
        parse_number(text, allow_thousands=True)


def test_a_lone_comma_before_three_digits_is_never_guessed() -> None:
    with pytest.raises(AmbiguousNumber, match=r"1234 or 1\.234"):
        parse_number("1,234", allow_thousands=True)
    with pytest.raises(AmbiguousNumber):
        parse_number("1.234", allow_thousands=True)
    with pytest.raises(AmbiguousNumber):
        parse_number("1,234")
    assert parse_number("1.234") == Decimal("1.234")


def test_the_way_out_that_an_ambiguous_number_names_works() -> None:
    with pytest.raises(AmbiguousNumber, match=r"write 1234 for the first or 1\.2340 for"):
        parse_number("1,234", allow_thousands=True)
    assert parse_number("1234", allow_thousands=True) == 1234
    assert parse_number("1.2340", allow_thousands=True) == Decimal("1.234")


def test_the_mark_of_the_column_decides() -> None:
    assert parse_number("1,234", decimal_mark=",", allow_thousands=True) == Decimal("1.234")
    assert parse_number("1,234", decimal_mark=".", allow_thousands=True) == 1234
    with pytest.raises(NotANumber, match="decimal mark here is a comma"):
        parse_number("1.5", decimal_mark=",")
    with pytest.raises(NotANumber):
        parse_number("1.234,5", decimal_mark=".", allow_thousands=True)


def test_a_comma_is_decimal_where_thousands_cannot_be() -> None:
    assert parse_number("228,905", comma_is_decimal=True) == Decimal("228.905")
    assert parse_number("228.905", comma_is_decimal=True) == Decimal("228.905")


def test_a_column_finds_its_mark_from_its_clear_members() -> None:
    assert column_decimal_mark(["1.234", "1.234,50", "", "x"]) == ","
    assert column_decimal_mark(["1,234", "9.0120"]) == "."
    assert column_decimal_mark(["1 234,567"]) == ","
    assert column_decimal_mark(["1.234.567"]) == ","
    assert column_decimal_mark(["0,3548 in", "9"]) == ","
    assert column_decimal_mark(["1,234", "12"]) is None
    assert column_decimal_mark(["9,012"], allow_thousands=False) == ","


def test_a_column_that_contradicts_itself_names_one_of_each() -> None:
    with pytest.raises(AmbiguousNumber, match=r"'1\.5' has a decimal point, '2,75'"):
        column_decimal_mark(["1.5", "2,75"])


def test_the_column_of_costs_in_four_spellings_is_one_number() -> None:
    texts = ["1.234,50", f"1{NO_BREAK}234,50", "1 234,50", "1234,5"]
    mark = column_decimal_mark(texts)
    values = {parse_number(text, decimal_mark=mark, allow_thousands=True) for text in texts}
    assert values == {Decimal("1234.50")}


def test_spreadsheet_cells() -> None:
    assert number_from_cell(3.0) == 3
    assert number_from_cell(0.1) == Decimal("0.1")
    assert number_from_cell(1e-05) == Decimal("0.00001")
    assert number_from_cell(7) == 7
    assert number_from_cell("1,5") == Decimal("1.5")


@pytest.mark.parametrize(
    "cell", [None, True, float("nan"), float("inf"), Decimal("NaN"), [], "1e3", b"5"]
)
def test_cells_without_a_number_are_refused(cell: object) -> None:
    with pytest.raises(NotANumber):
        number_from_cell(cell)


@pytest.mark.parametrize("cell", [datetime(2025, 2, 3), date(2025, 2, 3)])  # noqa: DTZ001
def test_a_date_cell_is_named_as_a_date(cell: object) -> None:
    with pytest.raises(NotANumber, match="holds a date"):
        number_from_cell(cell)


def test_a_share_needs_its_percent_sign() -> None:
    assert parse_share("5%") == Decimal("0.05")
    assert parse_share("12,5 %") == Decimal("0.125")
    with pytest.raises(AmbiguousNumber, match="write 5 % or 500 %"):
        parse_share("5")
    with pytest.raises(AmbiguousNumber, match=r"write 0\.05 % or 5 %"):
        parse_share("0.05")


@pytest.mark.parametrize("text", ["4006381333931", "CT-000124\r", "1000 0042 35", "]C101095060"])
def test_a_barcode_never_becomes_an_amount(text: str) -> None:
    with pytest.raises(NotANumber, match="looks like a barcode"):
        parse_amount(text)


def test_amounts_are_exact_and_not_negative() -> None:
    assert parse_amount("1.234,50") == 12_345_000
    assert parse_amount("0.0001") == 1
    assert parse_amount("-5.00", allow_negative=True) == -50_000
    with pytest.raises(NotANumber, match="zero or more"):
        parse_amount("-5.00")
    with pytest.raises(NotANumber, match="four decimals"):
        parse_amount("0.00001")
    with pytest.raises(AmbiguousNumber):
        parse_amount("1,234")


@pytest.mark.parametrize(("value", "whole"), [("0.5", 1), ("-0.5", -1), ("2.5", 3), ("-0.4", 0)])
def test_halves_go_away_from_zero(value: str, whole: int) -> None:
    assert half_up(Decimal(value)) == whole
    assert half_up(Fraction(value)) == whole


@given(decimals)
def test_every_way_of_writing_a_number_reads_back(number: Decimal) -> None:
    assert parse_number(f"{number:f}", decimal_mark=".") == number
    assert parse_number(f"{number:f}".replace(".", ","), decimal_mark=",") == number
    english = f"{number:,f}"
    assert parse_number(english, decimal_mark=".", allow_thousands=True) == number
    german = english.translate(str.maketrans(",.", ".,"))
    assert parse_number(german, decimal_mark=",", allow_thousands=True) == number
    spaced = english.replace(",", NARROW)
    assert parse_number(spaced, decimal_mark=".", allow_thousands=True) == number
    # Four decimals can be no group of three, so the mark needs no hint.
    assert parse_number(german, allow_thousands=True) == number


@given(strange_texts, st.sampled_from([None, ".", ","]), st.booleans(), st.booleans())
def test_any_text_is_a_number_or_a_declared_refusal(
    text: str, mark: str | None, thousands: bool, comma: bool
) -> None:
    try:
        number = parse_number(
            text, decimal_mark=mark, allow_thousands=thousands, comma_is_decimal=comma
        )
    except NotANumber as error:
        message = str(error)
        assert message
    else:
        assert number.is_finite()
        digits = "".join(sign for sign in clean_text(text) if sign.isdigit())
        assert "".join(map(str, number.as_tuple().digits)).lstrip("0") == digits.lstrip("0")


@given(st.lists(strange_texts, max_size=5), st.booleans())
def test_any_column_has_a_mark_none_or_a_declared_refusal(
    texts: list[str], thousands: bool
) -> None:
    try:
        assert column_decimal_mark(texts, allow_thousands=thousands) in {None, ".", ","}
    except AmbiguousNumber as error:
        message = str(error)
        assert "mixes decimal marks" in message


@given(st.from_regex(r"[1-9][0-9]{0,2}[.,][0-9]{3}", fullmatch=True))
def test_a_possible_thousand_is_never_decided_without_a_hint(text: str) -> None:
    with pytest.raises(AmbiguousNumber):
        parse_number(text, allow_thousands=True)
