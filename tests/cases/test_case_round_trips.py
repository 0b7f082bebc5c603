"""Cases of texts that must come back the same after a file was written, opened and read again."""

from __future__ import annotations

import csv
import datetime as dt
import io
import sqlite3
from collections.abc import Iterator, Sequence
from typing import TYPE_CHECKING, Any

import pytest
from openpyxl import load_workbook
from spreadsheet_files import brought, by_serial, intake, why, workbook

from coretrack import clock
from coretrack.actions.overview import shop_summary
from coretrack.paper.cells import to_csv
from coretrack.paper.incoming import read_table
from coretrack.paper.workbook import Sheet, summary_workbook
from coretrack.paper.workbook import workbook as written
from coretrack.records import database

if TYPE_CHECKING:
    from conftest import CounterShop

CODES = ("00420", "1E10", "3-1", "22E1", "0503E000", "123456789012345678")
MORE_CODES = ("-A12", "=1+1", "+49 171 5", "@home", "MARCH1", "1/2", "TRUE", "0x10", "007", "1,5")
HARMFUL = "-2+3+cmd|'/c calc'!A1"
NOTES = (HARMFUL, "+49 171 5", '=HYPERLINK("x")', "two\nlines", 'say "so"; or, not', "_x0041_ Ø ±2")


def rows_of(answer: Any, shop: CounterShop) -> list[list[str]]:
    """Return the cells of the rejects file, headings first, as a spreadsheet would show them."""
    path = shop.folder / answer["rejects_file"]
    table = read_table(path.name, path.read_bytes())
    return [list(table.headings), *([cell.text for cell in row.cells] for row in table.rows)]


def stored(shop: CounterShop) -> list[tuple[str, str]]:
    """Return number and serial of every core of the lots RT…, straight from the database file."""
    return shop.sql("select number, serial from core where lot like 'RT%' order by id")


def stored_numbers(shop: CounterShop) -> tuple[str, ...]:
    """Return the numbers of these cores."""
    return tuple(number for number, _ in stored(shop))


def put_right(content: bytes, ending: str) -> bytes:
    """Open a rejects file as a spreadsheet program does and put the prices right."""
    if ending == ".csv":
        return content.replace(b"dear", b"5.00")
    book = load_workbook(io.BytesIO(content))
    for row in book.active.iter_rows():
        for cell in row:
            if cell.value == "dear":
                cell.value = 5
    stream = io.BytesIO()
    book.save(stream)
    return stream.getvalue()


@pytest.fixture(params=[".csv", ".xlsx"])
def ending(request: pytest.FixtureRequest) -> str:
    """The kind of file that comes in; its rejects file is of the same kind."""
    return str(request.param)


def manifest(ending: str, rows: Sequence[Sequence[Any]]) -> bytes:
    """Return a broker's manifest of texts: in a CSV as typed, in a workbook as text cells."""
    headings = ["serial", "part", "note", "cost"]
    if ending == ".xlsx":
        return written([Sheet("Cores", tuple(headings), rows)])
    text = io.StringIO()
    csv.writer(text).writerows([headings, *rows])
    return text.getvalue().encode()


def test_aw_084_numbers_stay_numbers_and_texts_come_back_as_given(
    shop: CounterShop, ending: str
) -> None:
    rows = [["serial", "part", "phone", "note", "cost", "wear (mm)"]]
    rows += [["S1", "-A12", "+49 171 5", HARMFUL, "-5.00", "-0.012"]]
    given: Any = rows
    if ending == ".xlsx":
        given = [rows[0], ["S1", "-A12", "+49 171 5", HARMFUL, -5.00, -0.012]]
    content = workbook(given) if ending == ".xlsx" else _plain_csv(rows)
    answer = intake(shop, f"list{ending}", content, "--lot", "RT")
    assert why(answer) == {2: "a price is 0 or more"}
    headings, row = rows_of(answer, shop)
    back = dict(zip(headings, row, strict=True))
    assert (back["part"], back["phone"], back["note"]) == ("-A12", "+49 171 5", HARMFUL)
    assert float(back["cost"]) == -5
    assert float(back["wear (mm)"]) == -0.012
    raw = (shop.folder / answer["rejects_file"]).read_bytes()
    fixed = raw.replace(b"-5", b"5") if ending == ".csv" else _with_price(raw)
    [core] = intake(shop, f"again{ending}", fixed, "--lot", "RT")["items"]
    assert (core["number"], core["note"], core["price"]) == ("-A12", HARMFUL, "5.00")
    assert core["stated"][0]["value"] == "-0.012"
    assert stored_numbers(shop) == ("-A12",)


def _plain_csv(rows: Sequence[Sequence[str]]) -> bytes:
    text = io.StringIO()
    csv.writer(text).writerows(rows)
    return text.getvalue().encode()


def _with_price(content: bytes) -> bytes:
    book = load_workbook(io.BytesIO(content))
    cells = [cell for row in book.active.iter_rows() for cell in row if cell.value == -5]
    for cell in cells:
        assert cell.data_type == "n", "a negative number is a number cell"
        cell.value = 5
    stream = io.BytesIO()
    book.save(stream)
    return stream.getvalue()


def test_aw_084_no_cell_of_a_rejects_file_can_start_a_formula(
    shop: CounterShop, ending: str
) -> None:
    pairs = zip(MORE_CODES, NOTES * 2, strict=False)
    rows = [[f"S{n}", code, note, "dear"] for n, (code, note) in enumerate(pairs)]
    answer = intake(shop, f"list{ending}", manifest(ending, rows), "--lot", "RT")
    raw = (shop.folder / answer["rejects_file"]).read_bytes()
    if ending == ".xlsx":
        cells = [c for row in load_workbook(io.BytesIO(raw)).active.iter_rows() for c in row]
        assert {c.data_type for c in cells} <= {"s", "n"}
        starting = [c for c in cells if str(c.value).startswith(("=", "+", "-", "@"))]
        assert starting
        assert all(c.quotePrefix and c.number_format == "@" for c in starting)
        return
    for row in csv.reader(io.StringIO(raw.decode("utf-8-sig"))):
        for cell in row:
            bare = cell.startswith(("=", "+", "-", "@", "\t", "\r"))
            assert not bare or cell.startswith('="'), cell


def test_aw_084_rejected_rows_that_are_put_right_bring_codes_and_notes_unchanged(
    shop: CounterShop, ending: str
) -> None:
    codes = (*CODES, *MORE_CODES)
    notes = [NOTES[place % len(NOTES)] for place in range(len(codes))]
    rows = [[code + "S", code, note, "dear"] for code, note in zip(codes, notes, strict=True)]
    first = intake(shop, f"list{ending}", manifest(ending, rows), "--lot", "RT")
    assert (first["stored"], len(first["rejected"])) == (0, len(codes))
    rejects = (shop.folder / first["rejects_file"]).read_bytes()
    again = intake(shop, f"right{ending}", put_right(rejects, ending), "--lot", "RT")
    assert again["rejected"] == []
    assert stored(shop) == [(code, code + "S") for code in codes]
    assert list(by_serial(again, "note").values()) == notes


def test_aw_086_six_codes_are_text_cells_and_come_back_from_a_workbook(shop: CounterShop) -> None:
    sheet = Sheet("Cores", ("serial", "part"), [[f"S{n}", code] for n, code in enumerate(CODES)])
    content = written([sheet])
    column = [row[1] for row in load_workbook(io.BytesIO(content)).active.iter_rows(min_row=2)]
    assert [(cell.value, cell.data_type, cell.number_format) for cell in column] == [
        (code, "s", "@") for code in CODES
    ]
    answer = intake(shop, "export.xlsx", content, "--lot", "RT")
    assert tuple(by_serial(answer, "number").values()) == CODES
    assert stored_numbers(shop) == CODES


def test_aw_086_the_csv_dresses_what_a_spreadsheet_would_change_and_reads_it_back(
    shop: CounterShop,
) -> None:
    content = to_csv(("serial", "part"), [[f"S{n}", code] for n, code in enumerate(CODES)])
    lines = content.decode("utf-8-sig").splitlines()[1:]
    assert all(f'"=""{code}"""' in line for code, line in zip(CODES, lines, strict=True))
    answer = intake(shop, "export.csv", content, "--lot", "RT")
    assert tuple(by_serial(answer, "number").values()) == CODES


def test_aw_086_lot_codes_leave_in_the_workbook_of_figures_as_they_came(
    shop: CounterShop, reopened: Any
) -> None:
    for place, code in enumerate((*CODES, "-A12", "=1+1")):
        intake(shop, f"{place}.csv", f"serial,part\nW{place},00420\n", "--lot", code)
    reopened(shop)
    book = load_workbook(io.BytesIO(summary_workbook(shop_summary(clock.now()))))
    cells = {cell.value: cell for (cell,) in book["By lot"].iter_rows(min_row=2, max_col=1)}
    assert {*CODES, "-A12", "=1+1"} <= set(cells)
    for code in (*CODES, "-A12", "=1+1"):
        assert (cells[code].data_type, cells[code].number_format) == ("s", "@")
    assert cells["=1+1"].quotePrefix


@pytest.fixture
def reopened() -> Iterator[Any]:
    """Open a shop's database in this process, as its pages do."""

    def open_shop(shop: CounterShop) -> None:
        database.open_database(f"sqlite:///{shop.data / 'coretrack.db'}")

    yield open_shop
    database.close_database()


def test_aw_086_damaged_cells_stay_refused_until_they_are_put_right(shop: CounterShop) -> None:
    """What a spreadsheet has damaged must not come back clean, not even by the rejects file."""
    damaged: dict[str, tuple[object, str]] = {
        "B2": (dt.date(2025, 3, 1), "d-mmm"),
        "B3": (1234567890123456789, "0"),
        "B4": (0.5, "# ?/?"),
        "B5": (1e10, "0.00E+00"),
        "B6": (dt.timedelta(hours=30), "[h]:mm"),
        "B7": ("=1+1", "General"),
        "B8": ("#N/A", "General"),
        "B9": (0.05, "0%"),
        "C10": ("=NOW()", "General"),
        "D11": (99999999, "yyyy-mm-dd"),
        "B12": (dt.time(3, 10), "h:mm"),
        "B13": (True, "General"),
        "B14": (None, "merged"),
    }

    def spoil(book: Any, sheet: Any) -> None:
        for place, (value, number_format) in damaged.items():
            if number_format == "merged":
                sheet.merge_cells("B14:B15")
                continue
            sheet[place], sheet[place].number_format = value, number_format

    rows: list[list[object]] = [["serial", "part", "note", "received"]]
    rows += [[f"D{n}", "00420", "n", dt.date(2025, 3, 1)] for n in range(2, 16)]
    name, content = "damaged.xlsx", workbook(rows, prepare=spoil)
    for attempt in range(3):
        answer = intake(shop, name, content, "--lot", f"RT{attempt}")
        assert len(answer["rejected"]) == len(damaged), answer["rejected"]
        path = shop.folder / answer["rejects_file"]
        assert path.suffix == ".xlsx"
        name, content = path.name, path.read_bytes()
    assert stored_numbers(shop) == ("00420",)


def test_aw_086_the_terminal_names_a_rejects_file_of_the_same_kind(shop: CounterShop) -> None:
    path = brought(shop, "may.xlsx", workbook([["serial", "part"], ["S1", dt.date(2025, 3, 1)]]))
    done = shop.run("intake", path, "--source", "MERE", "--price", "10")
    assert f"Rejected rows, with reasons: {shop.folder / 'may.rejects.xlsx'}" in done.stderr
    told = shop.folder / "elsewhere.csv"
    done = shop.run("intake", path, "--source", "MERE", "--price", "10", "--rejects", told)
    assert f"{told}.xlsx" in done.stderr
    assert not told.exists()


def test_aw_128_codes_are_texts_in_the_database_file_itself(shop: CounterShop) -> None:
    codes = ("00420", "0010", "1E10", "3.0", "1e2", "0x10", "inf", "2025-03-01", "+5")
    rows = "".join(f"{code},s{code}\n" for code in codes)
    intake(shop, "codes.csv", f"part,serial\n{rows}", "--lot", "RT")
    client = sqlite3.connect(f"file:{shop.data / 'coretrack.db'}?mode=ro", uri=True)
    try:
        found = client.execute(
            "select number, typeof(number), serial, typeof(serial) from core "
            "where lot = 'RT' order by id"
        ).fetchall()
    finally:
        client.close()
    assert found == [(code, "text", f"s{code}", "text") for code in codes]


def test_aw_128_numeric_lots_serials_and_invoices_are_texts_too(shop: CounterShop) -> None:
    intake(shop, "lot.csv", "part,serial\n00420,0077\n", "--lot", "0503E000")
    sales = "invoice,line,date,customer,number,quantity\n00123,01,2025-03-04,HALV,00420,1\n"
    shop.json("sales", brought(shop, "sales.csv", sales))
    assert shop.sql("select lot, typeof(lot), serial, typeof(serial) from core "
                    "where serial = '0077'") == [("0503E000", "text", "0077", "text")]  # fmt: skip
    assert shop.sql("select key, typeof(key) from lot where key like '0503%'") == [
        ("0503E000", "text")
    ]
    assert shop.sql("select invoice, line, typeof(invoice), typeof(line) from line") == [
        ("00123", "01", "text", "text")
    ]
