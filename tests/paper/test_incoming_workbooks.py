"""Workbooks: kinds of cells, sheets, hidden parts, damage; and what is no table at all."""

from __future__ import annotations

import random
from contextlib import suppress
from datetime import date, datetime
from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st
from made_files import SHEET_PART, case_bytes, edited, saved, sheet_of, zipped
from openpyxl import Workbook

import coretrack.paper.workbook_parts as parts
from coretrack.errors import InvalidInput
from coretrack.figures.columns import CellProblem, code_text
from coretrack.paper.incoming import read_table

MORNING = datetime.fromisoformat("2026-05-04 09:13")

LOCKED = b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1" + b"\0" * 504 + "EncryptedPackage".encode("utf-16-le")


@pytest.mark.parametrize(
    ("content", "what"),
    [
        (b"%PDF-1.7\n", "a PDF document"),
        (b"\x89PNG\r\n\x1a\n0000", "a PNG picture"),
        (b"\xff\xd8\xff\xe0000", "a JPEG picture"),
        (LOCKED, "locked with a password"),
        (zipped(**{"a.txt": b"x"}), "a zip archive; unpack it"),
        (zipped(**{"[Content_Types].xml": b"", "xl/workbook.bin": b""}), r"\(\.xlsb\)"),
        (zipped(**{"[Content_Types].xml": b"", "word/document.xml": b""}), r"\(\.docx\)"),
        (b"PK\x03\x04 cut off", "damaged or cut-off"),
        (b'{"serial": "S1"}', "a JSON document"),
        (b"\xef\xbb\xbf  <!DOCTYPE html><html>", "a web page"),
        (b"<?xml version='1.0'?><Workbook xmlns='urn:schemas-microsoft-com:office:spreadsheet'>",
         "XML spreadsheet"),
    ],
)  # fmt: skip
def test_what_is_no_table_is_named(content: bytes, what: str) -> None:
    with pytest.raises(InvalidInput, match=what):
        read_table("cores.xlsx", content)


def test_messages_show_only_the_last_part_of_a_name() -> None:
    with pytest.raises(InvalidInput, match=r"^x\.csv is empty"):
        read_table("C:\\shop\n\\x.csv", b"")


def test_every_kind_of_cell_keeps_its_value() -> None:
    workbook = Workbook()
    sheet = workbook.active
    sheet.append(["a", "b", "c", "d", "e", "f"])
    sheet.append(["x", 9.012, date(2026, 5, 4), MORNING, True, 0.055])
    sheet["F2"].number_format = "0.0%"
    cells = read_table("x.xlsx", saved(workbook)).rows[0].cells
    assert [cell.kind for cell in cells] == ["text", "number", "date", "date", "bool", "percent"]
    assert [cell.value for cell in cells] == [
        "x",
        Decimal("9.012"),
        date(2026, 5, 4),
        MORNING,
        True,
        Decimal("0.055"),
    ]
    assert [cell.text for cell in cells][2:] == [
        "2026-05-04",
        "2026-05-04 09:13:00",
        "TRUE",
        "5.5%",
    ]


@given(st.decimals(min_value=-9999, max_value=9999, places=6))
def test_a_reading_with_six_places_survives_the_number_cell(reading: Decimal) -> None:
    cell = read_table("x.xlsx", sheet_of(["od"], [float(reading)])).rows[0].cells[0]
    assert cell.value == reading
    assert "E" not in cell.text
    assert not cell.text.startswith("-0") or reading != 0


def test_a_code_padded_by_its_number_format_is_read_as_shown() -> None:
    workbook = Workbook()
    workbook.active.append(["part"])
    workbook.active.append([420])
    workbook.active["A2"].number_format = "00000"
    cell = read_table("x.xlsx", saved(workbook)).rows[0].cells[0]
    assert code_text(cell) == "00420"
    assert cell.value == 420


def test_a_code_that_became_a_power_of_ten_is_refused() -> None:
    workbook = Workbook()
    workbook.active.append(["part"])
    workbook.active.append([1e10])
    workbook.active["A2"].number_format = "0.00E+00"
    with pytest.raises(CellProblem, match="shown as a power of ten"):
        code_text(read_table("x.xlsx", saved(workbook)).rows[0].cells[0])


def test_errors_and_formulas_without_a_value_are_problems_and_others_count_by_value() -> None:
    content = sheet_of(["a", "b", "c"], ["#N/A", "=1+1", "=2+2"])
    content = edited(content, SHEET_PART, "<f>2+2</f><v />", "<f>2+2</f><v>4</v>")
    cells = read_table("x.xlsx", content).rows[0].cells
    assert "cell A2 holds the error #N/A" in str(cells[0].problem)
    assert cells[1].kind == "formula-without-value"
    assert "save it again" in str(cells[1].problem)
    assert (cells[2].value, cells[2].problem) == (Decimal(4), None)
    assert all(isinstance(cell.value, str) for cell in cells[:2])


def test_a_sheet_can_be_chosen_and_the_others_are_said() -> None:
    workbook = Workbook()
    workbook.active.title = "cover"
    workbook.create_sheet("secret").append(["serial"])
    workbook["secret"].sheet_state = "hidden"
    workbook.create_sheet("cores").append(["serial"])
    workbook["cores"].append(["S1"])
    content = saved(workbook)
    table = read_table("x.xlsx", content)
    assert table.sheet == "cores"
    assert table.notes == ("sheet 'cores' is read; not read: 'cover', 'secret' (hidden)",)
    assert read_table("x.xlsx", content, sheet="SECRET").sheet == "secret"
    with pytest.raises(InvalidInput, match=r"no sheet 'x'; it has 'cover', 'secret', 'cores'"):
        read_table("x.xlsx", content, sheet="x")


def test_hidden_columns_merged_cells_and_stray_values_are_said() -> None:
    workbook = Workbook()
    sheet = workbook.active
    sheet.append(["serial", "part"])
    sheet.append(["S1", "00420", None, "look here"])
    sheet.append(["S2", "00421"])
    sheet.column_dimensions["B"].hidden = True
    sheet.merge_cells("A2:A3")
    notes = read_table("x.xlsx", saved(workbook)).notes
    assert "hidden columns are read too: B" in notes
    assert any("merged cells" in note and "A2:A3" in note for note in notes)
    assert "values without a heading are not read: D2" in notes


def test_dates_count_from_1904_where_the_workbook_says_so() -> None:
    workbook = Workbook()
    workbook.active.append(["day"])
    workbook.active.append([date(2026, 5, 4)])
    content = edited(
        saved(workbook), "xl/workbook.xml", "<workbookPr ", '<workbookPr date1904="1" '
    )
    assert read_table("x.xlsx", content).rows[0].cells[0].value == date(2030, 5, 5)


def test_shared_texts_phonetic_hints_and_escapes_are_read_as_a_person_sees_them() -> None:
    content = sheet_of(["serial"], ["S1"])
    shown = "<is><r><t>A_x000D_</t></r><r><t>B</t></r><rPh sb='0' eb='1'><t>zz</t></rPh></is>"
    content = edited(content, SHEET_PART, "<is><t>S1</t></is>", shown)
    assert read_table("x.xlsx", content).rows[0].cells[0].text == "A\rB"


HAND_MADE = {
    "[Content_Types].xml": b"<Types/>",
    "_rels/.rels": b'<Relationships><Relationship Id="r1" Type="http://x/officeDocument" '
    b'Target="/xl/workbook.xml"/></Relationships>',
    "xl/workbook.xml": b'<x:workbook xmlns:x="m" xmlns:r="n"><x:sheets>'
    b'<x:sheet name="graph" r:id="c"/><x:sheet name="cores" r:id="s"/></x:sheets></x:workbook>',
    "xl/_rels/workbook.xml.rels": b"<Relationships>"
    b'<Relationship Id="c" Type="http://x/chartsheet" Target="chart.xml"/>'
    b'<Relationship Id="s" Type="http://x/worksheet" Target="worksheets/one.xml"/>'
    b'<Relationship Id="t" Type="http://x/sharedStrings" Target="/xl/texts.xml"/>'
    b'<Relationship Id="f" Type="http://x/styles" Target="styles.xml"/></Relationships>',
    "xl/chart.xml": b"<chartsheet/>",
    "xl/texts.xml": b"<sst><si><t>serial</t></si><si><r><t>S</t></r><r><t>1</t></r>"
    b"<rPh><t>zz</t></rPh></si><si/></sst>",
    "xl/styles.xml": b'<styleSheet><numFmts><numFmt numFmtId="170" formatCode="dd/mm/yy"/>'
    b'</numFmts><cellStyleXfs><xf numFmtId="9"/></cellStyleXfs><cellXfs><xf numFmtId="0"/>'
    b'<xf numFmtId="170"/><xf numFmtId="10"/></cellXfs></styleSheet>',
    "xl/worksheets/one.xml": b'<x:worksheet xmlns:x="m"><x:sheetData><x:row>'
    b'<x:c t="s"><x:v>0</x:v></x:c><x:c t="str"><x:f>"d"</x:f><x:v>day</x:v></x:c>'
    b'<x:c t="inlineStr"><x:is><x:t>share</x:t></x:is></x:c>'
    b'<x:c t="inlineStr"><x:is><x:t>iso</x:t></x:is></x:c></x:row><x:row>'
    b'<x:c t="s"><x:v>1</x:v></x:c><x:c s="1"><x:v>46146</x:v></x:c>'
    b'<x:c s="2"><x:v>0.125</x:v></x:c><x:c t="d"><x:v>2026-05-04T09:13:00</x:v></x:c></x:row>'
    b'<x:row><x:c t="s"><x:v>2</x:v></x:c></x:row></x:sheetData></x:worksheet>',
}


def test_shared_texts_prefixes_own_formats_and_cells_without_places_are_read() -> None:
    table = read_table("x.xlsx", zipped(**HAND_MADE))
    assert table.sheet == "cores"
    assert table.headings == ("serial", "day", "share", "iso")
    assert [cell.value for cell in table.rows[0].cells] == [
        "S1",
        date(2026, 5, 4),
        Decimal("0.125"),
        MORNING,
    ]
    assert len(table.rows) == 1


def test_a_text_number_that_is_not_there_means_damage() -> None:
    spoiled = HAND_MADE | {"xl/texts.xml": b"<sst><si><t>serial</t></si></sst>"}
    with pytest.raises(InvalidInput, match=r"damaged .*cell A2"):
        read_table("x.xlsx", zipped(**spoiled))


@pytest.mark.parametrize(
    ("code", "kind"),
    [
        ("0.00", ""),
        ("General", ""),
        ("Standard", ""),
        ('0.0" days"', ""),
        (r"0.00\ \m\m", ""),
        ("#,##0.00 [$USD]", ""),
        ("0.0%", "percent"),
        ('0.0"%"', ""),
        ("d-mmm", "date"),
        ("[$-409]h:mm AM/PM", "date"),
        ("[h]:mm", "duration"),
        ("# ?/?", "fraction"),
        ("0.00E+00", "scientific"),
    ],
)
def test_number_formats_are_understood(code: str, kind: str) -> None:
    assert parts.number_look(200, code).kind == kind


def test_east_asian_built_in_date_formats_are_dates() -> None:
    assert parts.number_look(31, None).kind == "date"


def test_a_document_type_inside_a_workbook_is_refused_whatever_the_parser_would_do() -> None:
    bomb = '<!DOCTYPE w [<!ENTITY a "aaaaaaaaaa"><!ENTITY b "&a;&a;&a;&a;">]><worksheet '
    content = edited(sheet_of(["serial"], ["S1"]), SHEET_PART, "<worksheet ", bomb)
    with pytest.raises(InvalidInput, match="document type declaration"):
        read_table("x.xlsx", content)


def test_an_unpacked_size_over_the_limit_is_refused(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(parts, "MOST_PART_BYTES", 5_000)
    with pytest.raises(InvalidInput, match="unpacks to"):
        read_table("x.xlsx", sheet_of(["serial"], ["S1"]))


def test_broken_xml_and_cut_workbooks_are_called_damaged() -> None:
    content = sheet_of(["serial"], ["S1"])
    with pytest.raises(InvalidInput, match="damaged"):
        read_table("x.xlsx", edited(content, SHEET_PART, "</sheetData>", ""))
    with pytest.raises(InvalidInput, match="damaged"):
        read_table("x.xlsx", content[: len(content) // 2])


def test_random_damage_to_a_workbook_never_ends_in_a_crash() -> None:
    content = case_bytes("o078_percent_mix.xlsx")
    chance = random.Random(7)
    for _ in range(150):
        spoiled = bytearray(content)
        for _ in range(chance.randint(1, 6)):
            spoiled[chance.randrange(len(spoiled))] = chance.randrange(256)
        with suppress(InvalidInput):
            assert len(read_table("x.xlsx", bytes(spoiled)).headings) > 0
