"""Headings and typed cells: found leniently, refused when two things could be meant."""

from __future__ import annotations

from datetime import date
from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from coretrack.errors import InvalidInput
from coretrack.figures.columns import (
    REJECT_HEADINGS,
    CellProblem,
    Column,
    code_text,
    count,
    fold_heading,
    match_columns,
    number,
    percent,
    reading_text,
    split_unit,
    yes,
)
from coretrack.figures.table import Cell, Row, column_letters

SERIAL = Column("serial", ("serial", "serial no"), required=True, kind="code")
PART = Column("number", ("number", "part", "part no"), kind="code")
OUTSIDE = Column("od", ("body od",), kind="number")
COST = Column("cost", ("cost", "price each"), kind="money")
RECEIVED = Column("received", ("date in", "received"), kind="date")


def _cell(text: str, kind: str = "text", value: object = None, **more: str) -> Cell:
    held = text if value is None else value
    return Cell(text, kind, held, 3, 2, **more)  # type: ignore[arg-type]


@pytest.mark.parametrize(
    "heading",
    ["Serial No", "SERIAL-NO.", " serial_no ", "\ufeffserial\u00a0no", "(Serial) no", "SerialNo"],
)
def test_spelling_of_a_heading_does_not_count(heading: str) -> None:
    assert match_columns([heading], [SERIAL]).heading("serial") == heading


@pytest.mark.parametrize(
    ("heading", "name", "unit"),
    [
        ("BODY OD (mm)", "body od", "mm"),
        ("Ø body (µm)", "ø body", "µm"),
        ("Ø body (μm)", "ø body", "µm"),
        ("bore [in]", "bore", "in"),
        ("od_mm", "od", "mm"),
        ("od_in", "od", "in"),
        ("Body OD, mm", "body od", "mm"),
        ("mass kg", "mass", "kg"),
        ("date in", "date in", None),
        ("price (per piece)", "price (per piece)", None),
        ("serial", "serial", None),
        ("mm", "mm", None),
        ("", "", None),
    ],
)
def test_a_unit_is_split_off_only_where_it_is_one(
    heading: str, name: str, unit: str | None
) -> None:
    assert split_unit(heading) == (name, unit)


def test_units_and_currencies_of_headings_are_kept() -> None:
    columns = match_columns(["Serial", "Body OD (mm)", "Cost (USD)"], [SERIAL, OUTSIDE, COST])
    assert (columns.unit("od"), columns.unit("cost"), columns.unit("serial")) == ("mm", "USD", None)


def test_a_column_of_dates_takes_no_unit() -> None:
    assert match_columns(["date_in"], [RECEIVED]).unit("received") is None
    assert match_columns(["received_mm"], [RECEIVED]).unknown == ("received_mm",)


def test_columns_nobody_asked_for_are_listed_and_those_of_rejects_files_are_not() -> None:
    columns = match_columns(["Serial", "colour", "", REJECT_HEADINGS[3].upper()], [SERIAL])
    assert columns.unknown == ("colour",)
    assert not columns.has("number")


def test_a_missing_column_says_what_was_found_and_what_is_accepted() -> None:
    with pytest.raises(
        InvalidInput, match=r"missing: 'serial' \(or serial no\)\. .* found are: 'colour', 'Part'"
    ) as caught:
        match_columns(["colour", "Part"], [SERIAL, PART])
    assert caught.value.fields == {"serial": "missing"}


def test_two_headings_for_one_column_are_both_named() -> None:
    with pytest.raises(InvalidInput, match=r"'Part' \(column A\) and 'part-no' \(column C\)"):
        match_columns(["Part", "Serial", "part-no"], [SERIAL, PART])


def test_a_repeated_column_keeps_its_order_and_one_unit() -> None:
    bore = Column("bore", ("guide bore",), kind="reading", repeats=True)
    columns = match_columns(["Guide bore 1 (mm)", "serial", "Guide bore 2 (mm)"], [SERIAL, bore])
    row = Row(2, (_cell("6.001"), _cell("S1"), _cell("6.002")))
    assert [cell.text for cell in columns.cells(row, "bore")] == ["6.001", "6.002"]
    assert columns.unit("bore") == "mm"
    with pytest.raises(InvalidInput, match="different units"):
        match_columns(["Guide bore 1 (mm)", "serial", "Guide bore 2 (in)"], [SERIAL, bore])


def test_a_column_the_file_lacks_gives_no_cell() -> None:
    columns = match_columns(["Serial"], [SERIAL, PART])
    row = Row(2, (_cell("S1"),))
    assert columns.cell(row, "serial") == _cell("S1")
    assert columns.cell(row, "number") is None
    assert columns.cells(row, "number") == ()


@given(st.text(max_size=40))
def test_any_heading_can_be_split_and_folded(heading: str) -> None:
    name, unit = split_unit(heading)
    assert fold_heading(name) in fold_heading(heading) or unit is not None


@given(st.integers(1, 20_000))
def test_column_letters_count_on_without_a_gap(column: int) -> None:
    value = 0
    for letter in column_letters(column):
        value = value * 26 + ord(letter) - ord("A") + 1
    assert value == column


# --- cells ---


@pytest.mark.parametrize("text", ["00420", "1E10", "3-1", "-A12", "+49 171 5", "22E1"])
def test_codes_in_text_cells_stay_as_typed(text: str) -> None:
    assert code_text(_cell(text)) == text


def test_a_no_break_space_inside_a_code_is_a_plain_one() -> None:
    assert code_text(_cell("AB\u00a012")) == "AB 12"


@pytest.mark.parametrize(
    ("cell", "why"),
    [
        (_cell("2025-03-01", "date", date(2025, 3, 1)), "B3 holds a date"),
        (_cell("5%", "percent", Decimal("0.05")), "B3 holds a percentage"),
        (_cell("TRUE", "bool", True), "B3 holds a truth value"),
        (_cell("3.5", "number", Decimal("3.5")), "loses zeros"),
        (_cell("0.5", "number", Decimal("0.5"), shown_as="fraction"), "shown as a fraction"),
        (_cell("#REF!", "error", problem="cell B3 holds the error #REF!"), "error #REF!"),
    ],
)
def test_cells_that_cannot_be_the_code_typed_are_refused(cell: Cell, why: str) -> None:
    with pytest.raises(CellProblem, match=why) as caught:
        code_text(cell)
    assert caught.value.value == cell.text


def test_numbers_come_from_number_cells_exactly_and_from_texts_by_the_column_s_mark() -> None:
    assert number(_cell("9.012", "number", Decimal("9.012"))) == Decimal("9.012")
    assert number(_cell("9,012"), decimal_mark=",") == Decimal("9.012")
    assert number(Cell("", "empty", None, 3, 2)) is None
    for cell in (
        _cell("2025-03-01", "date", date(2025, 3, 1)),
        _cell("5%", "percent", Decimal("0.05")),
        _cell("TRUE", "bool", True),
        _cell("1_000"),
    ):
        with pytest.raises(CellProblem, match="cell B3"):
            number(cell)


def test_counts_are_whole_and_not_negative() -> None:
    assert count(_cell("12")) == 12
    assert count(_cell("3", "number", Decimal(3))) == 3
    assert count(Cell("", "empty", None, 3, 2)) is None
    for text in ("2.5", "-1", "many"):
        with pytest.raises(CellProblem, match="cell B3"):
            count(_cell(text))


def test_percentages_need_their_sign() -> None:
    assert percent(_cell("5,5 %")) == Decimal("0.055")
    assert percent(_cell("0")) == 0
    assert percent(Cell("", "empty", None, 3, 2)) is None
    with pytest.raises(CellProblem, match=r"write 12% if 12 % is meant, or 1200% if it is a share"):
        percent(_cell("12"))


def test_yes_is_said_in_few_words_and_anything_else_is_asked_back() -> None:
    assert [yes(_cell(word)) for word in ("Yes", "x", "TRUE", "no", "-")] == [True] * 3 + [
        False
    ] * 2
    assert yes(Cell("", "empty", None, 3, 2)) is False
    with pytest.raises(CellProblem, match="write yes or leave it empty"):
        yes(_cell("perhaps"))


def test_readings_stay_as_typed_and_number_cells_give_plain_digits() -> None:
    assert reading_text(_cell("0.3548 in")) == "0.3548 in"
    assert reading_text(_cell("0.00", "number", Decimal("0.0000001"))) == "0.0000001"
    with pytest.raises(CellProblem, match="no %"):
        reading_text(_cell("5%", "percent", Decimal("0.05")))


@pytest.mark.parametrize("text", ["3.00E+12", "1,23E+11", "12. Mrz", "1-Mar", "3-OCT", "Mar-01"])
def test_what_a_spreadsheet_left_of_a_code_is_refused_in_text_too(text: str) -> None:
    with pytest.raises(CellProblem, match="turned into a"):
        code_text(Cell(text, "text", text, 2, 2))


@pytest.mark.parametrize("text", ["1E10", "22E1", "0503E000", "3-1", "6-10", "MAR-1042", "12-MARK"])
def test_codes_that_only_look_odd_stay_as_they_are(text: str) -> None:
    assert code_text(Cell(text, "text", text, 2, 2)) == text
