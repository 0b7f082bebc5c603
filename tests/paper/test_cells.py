"""Cells that leave: text never runs, numbers stay numbers, and codes come back as they went."""

from __future__ import annotations

import io
import zipfile
from collections.abc import Sequence
from datetime import UTC, date, datetime, time
from decimal import Decimal

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from made_files import texts
from openpyxl import load_workbook
from openpyxl.worksheet.worksheet import Worksheet

from coretrack.errors import InvalidInput
from coretrack.figures.columns import code_text
from coretrack.paper.cells import (
    CSV_WARNING,
    LONGEST_TEXT,
    Formula,
    SheetError,
    Shown,
    Value,
    WorkbookWriter,
    csv_text,
    plain_number,
    sheet_title,
    to_csv,
)
from coretrack.paper.guarded_text import guarded, unguarded
from coretrack.paper.incoming import read_table

CODES = ["00420", "1E10", "3-1", "22E1", "0503E000", "123456789012345678"]
FORMULA_LIKE = ["+49 171 5", "-A12", "-2+3+cmd|'/c calc'!A1"]
OTHERS = [
    '=HYPERLINK("http://example.invalid","x")',
    "@SUM(A1)",
    "＝1+1",
    "TRUE",
    "MARCH1",
    "1/2",
    "5 %",
    "#N/A",
    "_x0041_",
    'say "hi"',
    "Ø µ Zoë – “first”",
    "two\nlines",
    '="00420"',
    "-" * 600,
    "'quoted",
]
ALL = [*CODES, *FORMULA_LIKE, *OTHERS]


def _workbook(rows: Sequence[Sequence[Value | None]], formats: Sequence[str | None] = ()) -> bytes:
    writer = WorkbookWriter()
    sheet = writer.add_sheet("cores")
    sheet.write_heading([f"column {index}" for index in range(1, len(rows[0]) + 1)])
    for row in rows:
        sheet.write_row(row, formats)
    return writer.finish()


def _loaded(content: bytes) -> Worksheet:
    return load_workbook(io.BytesIO(content)).active


def test_codes_come_back_from_a_workbook_as_they_went() -> None:
    table = read_table("x.xlsx", _workbook([[text] for text in ALL]))
    assert [row.cells[0].text for row in table.rows] == ALL
    assert [code_text(row.cells[0]) for row in table.rows][:6] == CODES


def test_codes_come_back_from_a_csv_as_they_went() -> None:
    table = read_table("x.csv", to_csv(["part", "note"], [[text, "x"] for text in ALL]))
    assert [row.cells[0].text for row in table.rows] == ALL


def test_another_reader_sees_text_cells_in_the_text_format() -> None:
    sheet = _loaded(_workbook([[text] for text in ALL]))
    cells = [sheet.cell(row, 1) for row in range(2, len(ALL) + 2)]
    assert {cell.data_type for cell in cells} == {"s"}
    assert {cell.number_format for cell in cells[:9]} == {"@"}
    assert [cell.value for cell in cells][:9] == ALL[:9]


def test_text_that_begins_like_a_formula_is_marked_as_quoted() -> None:
    sheet = _loaded(_workbook([[text] for text in FORMULA_LIKE]))
    assert all(sheet.cell(row, 1).quotePrefix for row in (2, 3, 4))
    content = _workbook([[text] for text in ALL])
    with zipfile.ZipFile(io.BytesIO(content)) as archive:
        assert b"<f>" not in archive.read("xl/worksheets/sheet1.xml")


def test_negative_numbers_stay_numbers() -> None:
    row: list[Value | None] = [Decimal("-0.012"), Shown(Decimal("-5.00"), "0.00"), -3]
    sheet = _loaded(_workbook([row]))
    assert [sheet.cell(2, column).data_type for column in (1, 2, 3)] == ["n"] * 3
    assert [sheet.cell(2, column).value for column in (1, 2, 3)] == [-0.012, -5, -3]
    assert sheet["B2"].number_format == "0.00"
    assert to_csv(["a", "b", "c"], [row]).decode("utf-8-sig").splitlines()[1] == "-0.012,-5.00,-3"


def test_nothing_in_a_csv_begins_like_a_formula_but_constants() -> None:
    written = to_csv(["part"], [[text] for text in ALL]).decode("utf-8-sig")
    for row in read_table("x.csv", written.encode()).rows:
        field = csv_text(row.cells[0].text)
        assert not field.startswith(("+", "-", "@", "\t", "\r"))
        assert not field.startswith("=") or field.startswith('="')


def test_the_csv_carries_its_mark_and_has_a_warning_to_go_with_it() -> None:
    assert to_csv(["part"], []).startswith(b"\xef\xbb\xbf")
    assert "00420" in CSV_WARNING
    assert ".xlsx" in CSV_WARNING


_SAYABLE = st.text(
    st.characters(exclude_categories=("Cs", "Cc"), include_characters="\n=+-@\t\"'0123456789")
)


@settings(max_examples=60)
@given(st.lists(_SAYABLE, min_size=1, max_size=8))
def test_any_text_comes_back_from_both_files(given_texts: list[str]) -> None:
    rows = [[text, "end"] for text in given_texts]
    from_csv = read_table("x.csv", to_csv(["a", "b"], rows))
    from_workbook = read_table("x.xlsx", _workbook(rows))
    expected = [cell.strip() for cell in given_texts]
    for table in (from_csv, from_workbook):
        found = [row.cells[0].text for row in table.rows]
        invisible = "\ufeff\u200b\u200e\u200f\u2060"
        assert [text.strip(invisible).strip() for text in found] == [
            text.strip(invisible).strip() for text in expected
        ]
        assert all(row.cells[0].kind in {"text", "empty"} for row in table.rows)


@given(st.text())
def test_the_guard_comes_off_exactly(text: str) -> None:
    if not text.startswith('="'):
        assert unguarded(text) == text
    assert unguarded(guarded(text)) == text


@given(st.text("=+-@0123456789eE./ \t", min_size=1, max_size=30))
def test_whatever_a_spreadsheet_could_take_for_a_number_is_guarded(text: str) -> None:
    if text.strip().lstrip("+-").replace(".", "", 1).isdigit() or text.lstrip()[:1] in set("=+-@"):
        assert guarded(text).startswith('="')


def test_plain_words_and_ordinary_codes_are_left_as_they_are() -> None:
    for text in ("S1", "P-1", "injector body", "worn, 3 places", "B", "no-go"):
        assert guarded(text) == text


def test_dates_are_real_dates_and_times_with_a_zone_are_refused() -> None:
    morning = datetime.fromisoformat("2026-05-04 09:13")
    content = _workbook([[date(2026, 5, 4), morning, time(9, 13), True]])
    sheet = _loaded(content)
    assert [sheet.cell(2, column).is_date for column in (1, 2, 3)] == [True] * 3
    cells = read_table("x.xlsx", content).rows[0].cells
    assert [cell.value for cell in cells] == [date(2026, 5, 4), morning, time(9, 13), True]
    written = to_csv(["a", "b", "c", "d"], [[date(2026, 5, 4), morning, time(9, 13), True]])
    assert texts(read_table("x.csv", written)) == [
        ["2026-05-04", "2026-05-04 09:13", "09:13:00", "yes"]
    ]
    with pytest.raises(ValueError, match="no time zones"):
        _workbook([[datetime(2026, 5, 4, tzinfo=UTC)]])


def test_there_is_no_negative_zero_and_no_figure_that_is_none() -> None:
    assert str(plain_number(Decimal("-0.000"))) == "0.000"
    assert str(plain_number(-0.0)) == "0.0"
    for wrong in (float("nan"), float("inf"), Decimal("NaN")):
        with pytest.raises(ValueError, match="no number that a cell can hold"):
            plain_number(wrong)
    assert _loaded(_workbook([[None, 1]]))["A2"].value is None


@given(st.integers(-(10**14), 10**14))
def test_money_to_a_ten_thousandth_is_written_exactly(count: int) -> None:
    amount = Decimal(count) / 10_000
    cell = read_table("x.xlsx", _workbook([[amount]])).rows[0].cells[0]
    assert cell.value == amount
    field = read_table("x.csv", to_csv(["a"], [[amount]])).rows[0].cells[0]
    assert Decimal(field.text) == amount


def test_a_number_with_more_digits_than_a_cell_keeps_is_written_as_text() -> None:
    table = read_table(
        "x.xlsx", _workbook([[123456789012345678, Decimal("0.1234567890123456789")]])
    )
    assert texts(table) == [["123456789012345678", "0.1234567890123456789"]]
    assert {cell.kind for cell in table.rows[0].cells} == {"text"}


def test_control_characters_are_escaped_in_workbooks_and_shown_in_csv() -> None:
    table = read_table("x.xlsx", _workbook([["a\x01b\rc\ufffe"]]))
    assert table.rows[0].cells[0].text == "a\x01b\rc\ufffe"
    assert csv_text("a\x01b") == "a␁b"


def test_half_characters_and_texts_that_do_not_fit_are_refused_and_never_cut() -> None:
    with pytest.raises(InvalidInput, match="half a character"):
        _workbook([["\ud800"]])
    with pytest.raises(InvalidInput, match="half a character"):
        csv_text("\ud800")
    with pytest.raises(InvalidInput, match="does not fit into a cell"):
        _workbook([["x" * (LONGEST_TEXT + 1)]])


def test_only_a_formula_is_a_formula_and_its_value_stands_beside_it() -> None:
    content = _workbook([[2, 3, Shown(Formula("=A2*B2", 6), "0.00"), Formula("=A2<B2")]])
    sheet = _loaded(content)
    assert sheet["C2"].data_type == "f"
    assert sheet["C2"].value == "=A2*B2"
    assert sheet["C2"].number_format == "0.00"
    cells = read_table("x.xlsx", content).rows[0].cells
    assert cells[2].value == 6
    assert cells[3].kind == "formula-without-value"
    assert csv_text(Formula("=A2*B2", 6)) == "6"
    with pytest.raises(ValueError, match="no value"):
        csv_text(Formula("=A2*B2"))
    with pytest.raises(ValueError, match="begins with '='"):
        Formula("A2*B2")


def test_an_error_value_can_be_given_back_as_one() -> None:
    cell = read_table("x.xlsx", _workbook([[SheetError("#N/A"), "x"]])).rows[0].cells[0]
    assert cell.kind == "error"


def test_sheet_titles_are_made_to_fit() -> None:
    assert sheet_title("By lot: 3/4 [old]") == "By lot 3 4 old"
    assert sheet_title("x" * 40, ["X" * 31]) == "x" * 29 + " 2"
    assert sheet_title("???") == "Sheet"
