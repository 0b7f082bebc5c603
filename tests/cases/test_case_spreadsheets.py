"""Cases of sheets that changed what was typed, hid it, or said another size than they have."""

from __future__ import annotations

import datetime as dt
import re
from typing import TYPE_CHECKING

import pytest
from openpyxl import Workbook
from openpyxl.styles import Font
from openpyxl.worksheet.worksheet import Worksheet
from spreadsheet_files import (
    by_serial,
    case_file,
    column,
    csv_column,
    intake,
    refused,
    stated,
    why,
    workbook,
)

if TYPE_CHECKING:
    from conftest import CounterShop

CORES = [
    ["serial", "part", "note"],
    ["K1", "00420", "a"],
    ["K2", "00421", "b"],
    ["K3", "B504", "c"],
]
AS_TEXT = "mark the column as text"


def test_aw_050_a_part_number_that_became_a_date_is_refused_by_its_cell(shop: CounterShop) -> None:
    answer = intake(shop, "o050.xlsx", case_file("o050_part_is_date.xlsx"))
    [reject] = answer["rejected"]
    assert (reject["row"], reject["column"]) == (3, "part")
    assert "cell B3 holds a date" in reject["why"]
    assert AS_TEXT in reject["why"]
    assert by_serial(answer, "number") == {"S1": "4-2", "S3": "5-7"}
    assert shop.sql("select count(*) from core where number like '2025%'") == [(0,)]


@pytest.mark.parametrize(
    ("value", "number_format", "told"),
    [
        (dt.date(2025, 10, 6), "d-mmm", "a date"),
        (dt.date(2025, 3, 1), r"[$-407]mmm\ yy;@", "a date"),
        (dt.time(3, 10), "h:mm", "a date"),
        (dt.timedelta(hours=30, minutes=5), "[h]:mm", "a date"),
        (45717.42, "yyyy-mm-dd hh:mm", "a date"),
        (0.5, "# ?/?", "shown as a fraction"),
        (1e10, "0.00E+00", "shown as a power of ten"),
        (0.03, "0%", "a percentage"),
        (True, "General", "a truth value"),
        (-5, "General", "loses zeros"),
        (1.5, "General", "loses zeros"),
        ("=1+1", "General", "a formula without a value"),
    ],
)
def test_aw_050_codes_that_became_something_else_are_refused(
    shop: CounterShop, value: object, number_format: str, told: str
) -> None:
    answer = intake(shop, "codes.xlsx", column("part", value, "4-2", formats=[number_format]))
    assert told in why(answer)[2]
    assert "cell B2" in why(answer)[2]
    assert by_serial(answer, "number") == {"S2": "4-2"}


def test_aw_052_long_serials_in_number_cells_are_damaged_and_three_stays_three(
    shop: CounterShop,
) -> None:
    answer = intake(shop, "o052.xlsx", case_file("o052_serial_is_number.xlsx"))
    assert [reject["column"] for reject in answer["rejected"]] == ["serial", "serial"]
    assert all("more than 15 digits in a number cell" in told for told in why(answer).values())
    assert sorted(why(answer)) == [2, 3]
    assert by_serial(answer, "number") == {"3": "P-3"}


def test_aw_052_text_keeps_every_digit_where_a_number_cell_keeps_fifteen(shop: CounterShop) -> None:
    long = "123456789012345678901234"
    parts = (long, 123456789012345, 1234567890123456, "1E10", "22E1", 420, 7.0)
    answer = intake(shop, "long.xlsx", column("part", *parts, formats=[None] * 5 + ["00000"]))
    assert by_serial(answer, "number") == {
        **{"S1": long, "S2": "123456789012345", "S4": "1E10", "S5": "22E1"},
        **{"S6": "00420", "S7": "7"},
    }
    assert "more than 15 digits" in why(answer)[4]


def test_aw_054_a_mark_and_hard_blanks_around_headings_and_values_do_not_count(
    shop: CounterShop,
) -> None:
    answer = intake(shop, "o054.csv", case_file("o054_bom_header.csv"))
    assert by_serial(answer, "number") == {"S1": "00420", "S2": "00421"}
    assert stated(answer) == {"S1": ("9.012", "mm"), "S2": ("9.013", "mm")}


@pytest.mark.parametrize("encoding", ["utf-8-sig", "utf-16", "utf-16-be", "utf-32", "utf-8"])
def test_aw_054_every_byte_order_mark_is_understood(shop: CounterShop, encoding: str) -> None:
    text = "Serial\u00a0No;\u200bPart\u202fNo ;Ø (mm)\nS1;00420;9,012\u00a0\n"
    mark = b"\xfe\xff" if encoding == "utf-16-be" else b""
    answer = intake(shop, "marks.csv", mark + text.encode(encoding))
    assert by_serial(answer, "number") == {"S1": "00420"}
    assert stated(answer) == {"S1": ("9.012", "mm")}


def test_aw_056_the_same_heading_twice_stops_the_file_with_both_columns_named(
    shop: CounterShop,
) -> None:
    message = refused(shop, "o056.csv", case_file("o056_duplicate_header.csv"))
    assert "columns A and C have the same heading 'Serial'" in message


@pytest.mark.parametrize(
    "headings",
    [
        "Serial,SERIAL ",
        "Serial,Ser_ial",
        "Serial,Serial\u00a0No",
        "serial,part,Part-No",
        "serial,Body OD (mm),body_od (MM)",
    ],
)
def test_aw_056_headings_that_mean_the_same_are_never_chosen_between(
    shop: CounterShop, headings: str
) -> None:
    row = ",".join(["A1", "9.012", "9.013"][: headings.count(",") + 1])
    message = refused(shop, "twice.csv", f"{headings}\n{row}\n")
    assert "rename or take out" in message


def test_aw_056_a_file_without_any_heading_that_is_known_makes_no_cores(shop: CounterShop) -> None:
    for content in (
        "A1,00421\nA2,00421\n",
        "Manifest of March\n\nserial,part\nA1,B1\n",
        ",,\n,,\n",
    ):
        assert "At least one of these columns is needed: 'number'" in refused(
            shop, "headless.csv", content
        )
    title = workbook([["Manifest of March"], *CORES])
    assert "'Manifest of March'" in refused(shop, "title.xlsx", title)


def test_aw_058_rows_after_a_gap_are_read_and_blank_rows_are_nothing(shop: CounterShop) -> None:
    answer = intake(shop, "o058.xlsx", case_file("o058_gap.xlsx"))
    assert (answer["rows"], answer["stored"], answer["rejected"]) == (400, 400, [])
    assert {"G0002", "G0201", "G0802", "G1001"} <= set(by_serial(answer, "number"))


def test_aw_058_dressed_cells_far_away_are_no_rows_and_far_values_are_said(
    shop: CounterShop,
) -> None:
    def far(_book: Workbook, sheet: Worksheet) -> None:
        sheet["XFD1048576"].font = Font(bold=True)
        sheet["Z50"] = "stray"

    answer = intake(shop, "far.xlsx", workbook(CORES, prepare=far))
    assert answer["rows"] == answer["stored"] == 3
    assert "values without a heading are not read: Z50" in answer["notes"]


def test_aw_060_five_cores_come_in_though_the_sheet_says_it_is_one_cell(shop: CounterShop) -> None:
    answer = intake(shop, "o060.xlsx", case_file("o060_dimension_a1.xlsx"))
    assert sorted(by_serial(answer, "number")) == ["D0", "D1", "D2", "D3", "D4"]
    assert stated(answer)["D4"] == ("9.004", "mm")


@pytest.mark.parametrize(
    ("pattern", "instead"),
    [
        (rb'<dimension ref="[^"]*"', b'<dimension ref="A1:XFD1048576"'),
        (rb'<dimension ref="[^"]*"', b'<dimension ref="nothing"'),
        (rb"<dimension[^>]*/>", b""),
        (rb' r="[A-Z]*\d+"', b""),
    ],
)
def test_aw_060_no_word_of_the_sheet_about_its_size_is_believed(
    shop: CounterShop, pattern: bytes, instead: bytes
) -> None:
    content = workbook(CORES, edit=lambda xml: re.sub(pattern, instead, xml))
    assert by_serial(intake(shop, "size.xlsx", content), "number") == {
        **{"K1": "00420", "K2": "00421", "K3": "B504"}
    }


def test_aw_068_hidden_rows_are_asked_about_and_counted(shop: CounterShop) -> None:
    content = case_file("o068_hidden_rows.xlsx")
    preview = intake(shop, "o068.xlsx", content, "--preview")
    assert "8 rows, 3 of them hidden" in preview["notes"]
    assert (preview["rows"], preview["hidden_rows"]) == (8, 3)
    assert "--hidden include or --hidden skip" in refused(shop, "o068.xlsx", content)
    shown = intake(shop, "o068.xlsx", content, "--hidden", "skip", "--lot", "SHOWN")
    assert sorted(by_serial(shown, "number")) == ["H1", "H4", "H5", "H7", "H8"]
    rest = intake(shop, "o068.xlsx", content, "--hidden", "include", "--lot", "ALL")
    assert sorted(by_serial(rest, "number")) == ["H2", "H3", "H6"]


def test_aw_068_the_terminal_says_how_many_rows_are_hidden(shop: CounterShop) -> None:
    path = shop.folder / "o068.xlsx"
    path.write_bytes(case_file("o068_hidden_rows.xlsx"))
    said = shop.run("intake", path, "--source", "MERE", "--price", "10", "--preview").output
    assert "o068.xlsx: 8 rows, 3 of them hidden; 8 would be stored" in said


@pytest.mark.parametrize("dress", [b' hidden="1"', b' hidden="true"', b' ht="0" customHeight="1"'])
def test_aw_068_rows_folded_away_in_any_manner_are_hidden(shop: CounterShop, dress: bytes) -> None:
    content = workbook(CORES, edit=lambda xml: xml.replace(b'<row r="3"', b'<row r="3"' + dress))
    assert "3 rows, 1 of them hidden" in refused(shop, "folded.xlsx", content)


def test_aw_068_hidden_columns_and_sheets_are_said(shop: CounterShop) -> None:
    def hide(book: Workbook, sheet: Worksheet) -> None:
        sheet.column_dimensions["B"].hidden = True
        other = book.create_sheet("Old", 0)
        other["A1"], other.sheet_state = "serial", "veryHidden"

    answer = intake(shop, "hidden.xlsx", workbook(CORES, prepare=hide))
    assert "hidden columns are read too: B" in answer["notes"]
    assert "sheet 'Sheet' is read; not read: 'Old' (hidden)" in answer["notes"]
    assert answer["stored"] == 3


def test_aw_068_a_cover_sheet_without_a_table_names_the_other_sheets(shop: CounterShop) -> None:
    def cover(book: Workbook, _sheet: Worksheet) -> None:
        book.create_sheet("Cover", 0)["A1"] = "Mereside"

    content = workbook(CORES, prepare=cover)
    message = refused(shop, "cover.xlsx", content)
    assert "Sheet 'Cover' was read; the file also holds 'Sheet' (--sheet)" in message
    assert intake(shop, "cover.xlsx", content, "--sheet", "sheet")["stored"] == 3
    assert "has no sheet 'May'; it has 'Cover', 'Sheet'" in refused(
        shop, "cover.xlsx", content, "--sheet", "May"
    )


def test_aw_068_a_value_merged_over_two_rows_is_not_guessed_for_the_second(
    shop: CounterShop,
) -> None:
    def merge(_book: Workbook, sheet: Worksheet) -> None:
        sheet.merge_cells("B2:B3")

    answer = intake(shop, "merged.xlsx", workbook(CORES, prepare=merge))
    assert "cell B3 lies in the merged area B2:B3, whose value stands in B2 only" in why(answer)[3]
    assert by_serial(answer, "number") == {"K1": "00420", "K3": "B504"}


def test_aw_074_an_honest_workbook_that_squeezes_well_is_read(shop: CounterShop) -> None:
    answer = intake(shop, "o074.xlsx", case_file("o074_squeezed_styles.xlsx"))
    assert by_serial(answer, "number") == {"S1": "00420"}


def test_aw_080_a_fraction_kept_as_a_date_is_refused_and_one_shown_as_such_is_read(
    shop: CounterShop,
) -> None:
    answer = intake(shop, "o080.xlsx", case_file("o080_fraction_is_date.xlsx"))
    assert sorted(why(answer)) == [2, 4]
    assert "cell B2 holds a date" in why(answer)[2]
    assert "out of any sense" in why(answer)[4]
    assert stated(answer) == {"S2": ("0.5", "in")}


def test_aw_080_the_bench_takes_half_an_inch_as_exact_millimetres(shop: CounterShop) -> None:
    first, second, third = shop.tags()[:3]
    rows = [
        ["core", "body od (in)"],
        [first, dt.date(2025, 1, 2)],
        [second, 0.3548],
        [third, 18264],
    ]
    path = shop.folder / "bench.xlsx"
    path.write_bytes(workbook(rows, {"B2": "d-mmm", "B3": "# ??/??"}))
    answer = shop.json("grade", path)
    assert "holds a date" in why(answer)[2]
    assert 4 in why(answer)
    [item] = answer["items"]
    [reading] = item["readings"]
    assert (item["core"], reading["value"]) == (second, "9.01192")


def test_aw_080_fractions_of_an_inch_as_text_are_read_and_of_a_millimetre_asked_back(
    shop: CounterShop,
) -> None:
    inches = intake(
        shop, "in.csv", csv_column("bore (in)", "1/2", "1 1/2", "1/64", '0.5"', "12.7 mm")
    )
    assert [value for value, _ in stated(inches).values()] == [
        "0.5",
        "1.5",
        "0.015625",
        "0.5",
        "0.5",
    ]
    metric = intake(shop, "mm.csv", csv_column("bore (mm)", "1/2").replace("S1", "M1"))
    assert "a fraction, which is read for inches only" in why(metric)[2]


@pytest.mark.parametrize(
    ("place", "value", "told"),
    [
        ("A2", "#N/A", "cell A2 holds the error #N/A"),
        ("B2", "#REF!", "cell B2 holds the error #REF!"),
        ("C2", "#DIV/0!", "cell C2 holds the error #DIV/0!"),
        ("A2", '="K"&1', "cell A2 holds a formula without a value"),
        ("C2", "=NOW()", "cell C2 holds a formula without a value"),
    ],
)
def test_aw_050_error_cells_and_uncounted_formulas_are_never_taken_for_empty_ones(
    shop: CounterShop, place: str, value: str, told: str
) -> None:
    def spoil(_book: Workbook, sheet: Worksheet) -> None:
        sheet[place] = value

    answer = intake(shop, "spoilt.xlsx", workbook(CORES, prepare=spoil))
    assert told in why(answer)[2]
    assert sorted(by_serial(answer, "number")) == ["K2", "K3"]


def test_aw_050_a_formula_counts_by_the_value_it_had(shop: CounterShop) -> None:
    def counted(xml: bytes) -> bytes:
        return re.sub(
            rb'<c r="B2"[^>]*>.*?</c>',
            b'<c r="B2" t="str"><f>"00"&amp;420</f><v>00420</v></c>',
            xml,
        )

    answer = intake(shop, "counted.xlsx", workbook(CORES, edit=counted))
    assert by_serial(answer, "number")["K1"] == "00420"
