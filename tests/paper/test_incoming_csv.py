"""CSV files: separators, encodings, quotes and row numbers."""

from __future__ import annotations

import csv
import io
from contextlib import suppress

import pytest
from hypothesis import given
from hypothesis import strategies as st
from made_files import read_text, texts

from coretrack.errors import InvalidInput
from coretrack.paper import reading_limits
from coretrack.paper.incoming import read_table


@pytest.mark.parametrize("separator", [",", ";", "\t", "|"])
def test_each_separator_is_found(separator: str) -> None:
    rows = [["serial", "part", "note"], ["S1", "00420", "a"], ["S2", "00421", "b"]]
    table = read_text("\n".join(separator.join(row) for row in rows))
    assert table.headings == ("serial", "part", "note")
    assert texts(table) == rows[1:]


def test_decimal_commas_in_one_column_are_no_separators() -> None:
    table = read_text("reading\n9,012\n9,013\n")
    assert table.headings == ("reading",)
    assert texts(table) == [["9,012"], ["9,013"]]


def test_a_heading_with_commas_does_not_win_over_the_rows() -> None:
    table = read_text("serial;bore, left, right\nS1;9,012\nS2;9,013\n")
    assert table.headings == ("serial", "bore, left, right")


@pytest.mark.parametrize("encoding", ["utf-8-sig", "utf-16"])
def test_byte_order_marks_decide_the_encoding(encoding: str) -> None:
    table = read_text("serial;Ø (µm)\nS1;9012\n", encoding)
    assert table.headings == ("serial", "Ø (µm)")


def test_a_byte_that_windows_1252_does_not_know_is_refused_with_its_line() -> None:
    with pytest.raises(InvalidInput, match=r"line 2: the byte 81 \(hex\)"):
        read_table("x.csv", b"serial;note\nS1;\x81\xd8\n")


@pytest.mark.parametrize("mark", [b"\x00", b"\x07"])
def test_control_bytes_are_refused_with_their_line(mark: bytes) -> None:
    with pytest.raises(InvalidInput, match="line 3"):
        read_table("x.csv", b"serial,note\nS1,a\nS2,b" + mark + b"\n")


def test_an_open_quote_names_the_row_where_it_began() -> None:
    with pytest.raises(InvalidInput, match=r"row 3: a quote opened there is never closed"):
        read_text('serial,note\nS1,fine\nS2,"open\nS3,fine\n')


def test_an_open_quote_after_a_cell_of_two_lines_names_row_and_line() -> None:
    with pytest.raises(InvalidInput, match=r"row 3 \(line 4 of the file\)"):
        read_text('serial,note\nS1,"two\nlines"\nS2,"open\nS3,fine\n')


def test_a_quote_that_swallows_rows_makes_them_unusable_instead_of_vanish() -> None:
    table = read_text('serial,part,note\nS1,"420,x\nS2,421,y\nS3,422,"\nS4,423,w\n')
    assert [bool(row.problem) for row in table.rows] == [True, False]
    assert "closing quote missing" in str(table.rows[0].problem)


def test_a_row_with_more_cells_than_headings_is_a_problem_of_that_row_only() -> None:
    table = read_text("serial,cost\nS1,5\nS2,1,50\nS3,,\n")
    assert [bool(row.problem) for row in table.rows] == [False, True, False]
    assert "row 3 has 3 cells, but there are 2 headings" in str(table.rows[1].problem)


def test_a_short_row_is_padded_with_empty_cells() -> None:
    row = read_text("serial,part,note\nS1\n").rows[0]
    assert [cell.kind for cell in row.cells] == ["text", "empty", "empty"]
    assert row.cells[2].coordinate == "C2"


def test_blank_lines_are_counted_but_make_no_rows() -> None:
    table = read_text("\nserial,part\n\nS1,00420\n , \nS2,00421\n")
    assert [row.number for row in table.rows] == [4, 6]
    assert table.heading_row == 2


def test_quoted_cells_hold_separators_quotes_and_line_breaks() -> None:
    table = read_text('serial,note\r\nS1,"a, ""b""\r\nc"\r\n')
    assert texts(table) == [["S1", 'a, "b"\r\nc']]


def test_values_under_no_heading_are_said() -> None:
    assert "columns without a heading are not read: B" in read_text("serial,,part\nS1,x,1\n").notes


def test_an_empty_file_and_one_with_headings_only() -> None:
    with pytest.raises(InvalidInput, match="is empty"):
        read_table("x.csv", b" \r\n ")
    assert "no row under them" in read_text("serial,part\n").notes[0]


def test_too_many_rows_and_columns_are_refused(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(reading_limits, "MOST_ROWS", 3)
    with pytest.raises(InvalidInput, match="more than 3 rows"):
        read_text("serial\n" + "S\n" * 4)
    with pytest.raises(InvalidInput, match="more than 400 columns"):
        read_text(",".join(f"c{index}" for index in range(401)) + "\n")


@given(
    st.lists(
        st.lists(st.text("abc019 ,;\"'\n|é-", max_size=6), min_size=3, max_size=3),
        min_size=1,
        max_size=5,
    )
)
def test_what_the_csv_module_writes_is_read_back(rows: list[list[str]]) -> None:
    written = io.StringIO()
    csv.writer(written).writerows([["serial", "part", "note"], *rows])
    table = read_text(written.getvalue())
    filled = [row for row in rows if any(value.strip() for value in row)]
    expected = [[value.strip().replace("\n", "\n") for value in row] for row in filled]
    usable = [row for row in table.rows if row.problem is None]
    assert len(table.rows) == len(filled)
    assert all([cell.text for cell in row.cells] in expected for row in usable)


@given(st.binary(max_size=200))
def test_any_bytes_are_read_or_refused_in_plain_words(content: bytes) -> None:
    with suppress(InvalidInput):
        table = read_table("x", content)
        assert all(len(row.cells) >= len(table.headings) for row in table.rows)
