"""The rejects file: what was wrong, beside the row as it stood, ready to be imported again."""

from __future__ import annotations

import io
from datetime import date
from decimal import Decimal

import pytest
from made_files import case_bytes, read_text, saved, texts
from openpyxl import Workbook, load_workbook

from coretrack.figures.columns import (
    REJECT_HEADINGS,
    CellProblem,
    Column,
    code_text,
    match_columns,
    percent,
)
from coretrack.paper.incoming import read_table
from coretrack.paper.rejects import Reject, rejects_file

SALES = 'invoice,number,quantity\nI-1,00420,2\nI-2,1E10,many\nI-3,"a, b",0\n'
WANTED = (
    Column("invoice", ("invoice",), True, "code"),
    Column("number", ("number",), True, "code"),
)


def test_rows_columns_values_and_reasons_stand_behind_the_original_columns() -> None:
    table = read_text(SALES)
    content = rejects_file([Reject(3, "quantity", "many", "write a whole number")], table)
    back = read_table("rejects.csv", content)
    assert back.headings == ("invoice", "number", "quantity", *REJECT_HEADINGS)
    assert texts(back) == [["I-2", "1E10", "many", "3", "quantity", "many", "write a whole number"]]


def test_a_corrected_file_is_imported_without_taking_the_added_columns_out() -> None:
    back = read_table("r.csv", rejects_file([Reject(2, "", "", "x")], read_text(SALES)))
    columns = match_columns(back.headings, WANTED)
    assert columns.unknown == ("quantity",)
    assert code_text(columns.cell(back.rows[0], "number")) == "00420"  # type: ignore[arg-type]


def test_a_row_with_two_faults_stands_there_once() -> None:
    rejects = [Reject(4, "number", "a, b", "unknown"), Reject(4, "quantity", "0", "1 or more")]
    back = texts(read_table("r.csv", rejects_file(rejects, read_text(SALES))))
    assert back == [["I-3", "a, b", "0", "4", "number; quantity", "a, b; 0", "unknown; 1 or more"]]


def test_rejects_of_a_rejects_file_do_not_pile_up_columns() -> None:
    once = read_table("r.csv", rejects_file([Reject(2, "", "", "x")], read_text(SALES)))
    twice = read_table("r.csv", rejects_file([Reject(2, "number", "", "y")], once))
    assert twice.headings == once.headings
    assert twice.rows[0].cells[-1].text == "y"


def test_reasons_in_a_workbook_cannot_run_either() -> None:
    rejects = [Reject(2, "number", "=1+1", "=cmd|'/c calc'!A1")]
    sheet = load_workbook(io.BytesIO(rejects_file(rejects, read_text(SALES), "xlsx"))).active
    assert [sheet.cell(2, column).data_type for column in (6, 7)] == ["s", "s"]


def test_a_code_that_became_a_date_is_refused_again_until_it_is_corrected() -> None:
    table = read_table("x.xlsx", case_bytes("o050_part_is_date.xlsx"))
    rejects = [Reject(3, "part", "2025-03-01", "a date")]
    in_workbook = read_table("r.xlsx", rejects_file(rejects, table, "xlsx")).rows[0]
    with pytest.raises(CellProblem, match="date"):
        code_text(in_workbook.cells[1])
    in_csv = read_table("r.csv", rejects_file(rejects, table)).rows[0]
    assert in_csv.cells[1].is_empty
    assert in_csv.cells[4].text == "2025-03-01"


def test_a_damaged_serial_stays_damaged() -> None:
    table = read_table("x.xlsx", case_bytes("o052_serial_is_number.xlsx"))
    rejects = [Reject(row, "serial", "", "damaged") for row in (2, 3)]
    for row in read_table("r.xlsx", rejects_file(rejects, table, "xlsx")).rows:
        assert "more than 15 digits" in str(row.cells[0].problem)
    assert all(
        row.cells[0].is_empty for row in read_table("r.csv", rejects_file(rejects, table)).rows
    )


def test_good_cells_of_a_rejected_workbook_row_keep_what_they_are() -> None:
    workbook = Workbook()
    workbook.active.append(["day", "od", "share", "part", "paid", "formula"])
    workbook.active.append([date(2026, 5, 4), 9.012, 0.05, 420, True, "=1+1"])
    workbook.active["C2"].number_format = "0%"
    workbook.active["D2"].number_format = "00000"
    table = read_table("x.xlsx", saved(workbook))
    rejects = [Reject(2, "", "", "x")]
    cells = read_table("r.xlsx", rejects_file(rejects, table, "xlsx")).rows[0].cells
    assert [cell.value for cell in cells[:3]] == [
        date(2026, 5, 4),
        Decimal("9.012"),
        Decimal("0.05"),
    ]
    assert percent(cells[2]) == Decimal("0.05")
    assert code_text(cells[3]) == "00420"
    assert cells[4].value is True
    assert cells[5].problem, "a formula without a value does not come back as an empty cell"
    in_csv = read_table("r.csv", rejects_file(rejects, table)).rows[0]
    assert [cell.text for cell in in_csv.cells][:5] == [
        "2026-05-04",
        "9.012",
        "5%",
        "00420",
        "TRUE",
    ]


def test_a_row_that_cannot_be_split_is_shown_whole_beside_empty_cells() -> None:
    table = read_text("serial,cost\nS1,1,50\n")
    rejects = [Reject(2, "", "", str(table.rows[0].problem))]
    assert texts(read_table("r.csv", rejects_file(rejects, table)))[0][:5] == [
        "",
        "",
        "2",
        "",
        "S1 | 1 | 50",
    ]


def test_a_row_the_file_does_not_have_keeps_its_reason() -> None:
    back = read_table("r.csv", rejects_file([Reject(99, "", "", "gone")], read_text(SALES)))
    assert back.rows[0].cells[-1].text == "gone"


def test_only_two_kinds_of_file_are_written() -> None:
    with pytest.raises(ValueError, match="'csv' or 'xlsx'"):
        rejects_file([], read_text(SALES), "pdf")
