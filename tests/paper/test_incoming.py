"""The awkward files of the field cases, as far as reading them goes."""

from __future__ import annotations

from decimal import Decimal

import pytest
from made_files import case_bytes, sheet_of, texts

from coretrack.errors import InvalidInput
from coretrack.figures.columns import CellProblem, code_text, number, percent, reading_text
from coretrack.figures.table import Table
from coretrack.paper import file_kinds
from coretrack.paper.incoming import read_table


def _file(name: str, include_hidden: bool | None = None) -> Table:
    return read_table(name, case_bytes(name), include_hidden=include_hidden)


def test_part_that_became_a_date_is_refused_with_its_cell_and_a_hint() -> None:
    table = _file("o050_part_is_date.xlsx")
    assert [code_text(table.rows[place].cells[1]) for place in (0, 2)] == ["4-2", "5-7"]
    with pytest.raises(CellProblem, match=r"cell B3 holds a date .*mark the column as text"):
        code_text(table.rows[1].cells[1])


def test_long_serials_in_number_cells_are_damaged_and_whole_numbers_stay_whole() -> None:
    table = _file("o052_serial_is_number.xlsx")
    serials = [row.cells[0] for row in table.rows]
    for cell in serials[:2]:
        with pytest.raises(CellProblem, match="damaged: more than 15 digits"):
            code_text(cell)
    assert code_text(serials[2]) == "3"


def test_byte_order_mark_and_no_break_spaces_do_not_count() -> None:
    table = _file("o054_bom_header.csv")
    assert table.headings == ("Serial", "Part No", "BODY OD (mm)")
    assert texts(table) == [["S1", "00420", "9.012"], ["S2", "00421", "9.013"]]


def test_the_same_heading_twice_is_refused_before_anything_is_read() -> None:
    with pytest.raises(InvalidInput, match=r"columns A and C have the same heading 'Serial'"):
        _file("o056_duplicate_header.csv")


def test_rows_after_a_gap_are_read_and_blank_rows_are_none() -> None:
    table = _file("o058_gap.xlsx")
    assert len(table.rows) == 400
    assert [row.number for row in (table.rows[0], table.rows[199], table.rows[200])] == [
        2,
        201,
        802,
    ]
    assert table.rows[-1].number == 1001


def test_a_wrong_used_range_hides_nothing() -> None:
    table = _file("o060_dimension_a1.xlsx")
    assert [row.cells[0].text for row in table.rows] == ["D0", "D1", "D2", "D3", "D4"]
    readings = [row.cells[2].value for row in table.rows]
    assert readings == [Decimal(text) for text in ("9", "9.001", "9.002", "9.003", "9.004")]


def test_dates_in_a_csv_stay_texts_for_the_whole_column_to_be_read_at_once() -> None:
    table = _file("o062_dates.csv")
    cells = [row.cells[1] for row in table.rows]
    assert [cell.text for cell in cells] == ["03/04/2025", "31/03/2025", "04/05/2025"]
    assert {cell.kind for cell in cells} == {"text"}


def test_a_separator_line_is_used_and_is_no_row() -> None:
    table = _file("o064_sep_line.csv")
    assert table.headings == ("serial", "part", "od_mm")
    assert texts(table) == [["S1", "00420", "9,012"], ["S2", "00421", "9,013"]]
    assert "sep= line" in table.notes[0]


def test_western_single_byte_text_keeps_its_letters_and_is_said_aloud() -> None:
    table = _file("o066_cp1252.csv")
    assert table.headings == ("serial", "Ø body (µm)", "note")
    assert texts(table) == [["S1", "9012 ±2", "Zoë – “first”"]]
    assert table.encoding == "windows-1252"
    assert "read as Windows-1252" in table.notes[0]


def test_hidden_rows_are_marked_counted_and_asked_about() -> None:
    table = _file("o068_hidden_rows.xlsx")
    assert [row.number for row in table.rows if row.hidden] == [3, 4, 7]
    assert table.notes == ("8 rows, 3 of them hidden",)
    assert table.asks_about_hidden_rows
    without = _file("o068_hidden_rows.xlsx", include_hidden=False)
    assert [row.cells[0].text for row in without.rows] == ["H1", "H4", "H5", "H7", "H8"]
    assert "left out" in without.notes[-1]
    both = _file("o068_hidden_rows.xlsx", include_hidden=True)
    assert len(both.rows) == 8
    assert not both.asks_about_hidden_rows


@pytest.mark.parametrize(
    ("name", "what"),
    [
        ("o070_old_excel_named.xlsx", "old binary Excel workbook"),
        ("o070_html_named.xls", "web page"),
    ],
)
def test_a_file_is_named_for_what_it_is(name: str, what: str) -> None:
    with pytest.raises(InvalidInput, match=rf"{what}.*save as \.xlsx or CSV"):
        _file(name)


def test_open_document_is_refused_with_the_way_out() -> None:
    with pytest.raises(InvalidInput, match=r"OpenDocument is not read here, save as \.xlsx or CSV"):
        _file("o072.ods")


def test_an_honest_workbook_may_squeeze_well() -> None:
    assert texts(_file("o074_squeezed_styles.xlsx")) == [["S1", "00420"]]


def test_amounts_in_four_habits_reach_the_number_reader_whole() -> None:
    table = _file("o076_thousands.csv")
    costs = [number(row.cells[1], decimal_mark=",", allow_thousands=True) for row in table.rows]
    assert costs == [Decimal("1234.50")] * 4
    sizes = [number(row.cells[2], decimal_mark=",") for row in table.rows]
    assert sizes == [Decimal(text) for text in ("9.012", "9.013", "9.014", "9.015")]


def test_per_cent_counts_only_where_a_sign_or_a_format_says_so() -> None:
    cells = [row.cells[1] for row in _file("o078_percent_mix.xlsx").rows]
    assert [percent(cells[0]), percent(cells[3])] == [Decimal("0.05"), Decimal("0.05")]
    with pytest.raises(CellProblem, match=r"write 5% if 5 % is meant, or 500%"):
        percent(cells[1])
    with pytest.raises(CellProblem, match=r"write 0\.05% if 0\.05 % is meant, or 5%"):
        percent(cells[2])


def test_a_fraction_is_its_value_and_a_date_is_no_reading() -> None:
    cells = [row.cells[1] for row in _file("o080_fraction_is_date.xlsx").rows]
    with pytest.raises(CellProblem, match="cell B2 holds a date"):
        reading_text(cells[0])
    assert reading_text(cells[1]) == "0.5"
    assert reading_text(cells[2]) == "18264"


def test_readings_with_units_come_through_as_typed() -> None:
    table = _file("o082_mixed_units.csv")
    typed = [reading_text(row.cells[1]) for row in table.rows]
    assert typed == ["9.012", "0.3548 in", "354.8 thou", "9012 µm", "9.012mm", '0.3548"']


def test_a_file_over_the_limit_is_told_the_limit() -> None:
    content = b"serial\n" + b"S" * (file_kinds.MOST_BYTES + 1)
    with pytest.raises(InvalidInput, match="at most 50 MB are read"):
        read_table("big.csv", content)


def test_the_content_decides_and_never_the_name() -> None:
    honest = b"serial,part\nS1,00420\n"
    assert texts(read_table("正文.csv", honest)) == [["S1", "00420"]]
    as_workbook = read_table("cores.csv", sheet_of(["serial", "part"], ["S1", "00420"]))
    assert as_workbook.kind == "xlsx"
    assert as_workbook.headings == ("serial", "part")
    as_text = read_table("cores.xlsx", honest)
    assert as_text.kind == "csv"
    assert "name says workbook" in as_text.notes[0]
