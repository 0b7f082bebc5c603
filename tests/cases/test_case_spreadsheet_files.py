"""Cases of files that are not what their name says, or that are written in another manner."""

from __future__ import annotations

import gzip
import io
import zipfile
from typing import TYPE_CHECKING

import pytest
from spreadsheet_files import (
    brought,
    by_serial,
    case_file,
    intake,
    refused,
    stated,
    why,
    workbook,
)

if TYPE_CHECKING:
    from conftest import CounterShop

PLAIN = b"serial,part\nA1,00420\n"
OLD_OFFICE = b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1"


def archive(**parts: str) -> bytes:
    """Return a zip archive; two underscores stand for a slash, one for a point."""
    stream = io.BytesIO()
    with zipfile.ZipFile(stream, "w") as target:
        for name, content in parts.items():
            target.writestr(name.replace("__", "/").replace("_", "."), content)
    return stream.getvalue()


def test_aw_064_a_separator_line_after_a_mark_is_no_heading(shop: CounterShop) -> None:
    answer = intake(shop, "o064.csv", case_file("o064_sep_line.csv"))
    assert by_serial(answer, "number") == {"S1": "00420", "S2": "00421"}
    assert stated(answer) == {"S1": ("9.012", "mm"), "S2": ("9.013", "mm")}
    assert "a sep= line sets the separator: semicolon" in answer["notes"]


@pytest.mark.parametrize(
    ("first", "separator"),
    [
        ('"sep=;"', ";"),
        ("SEP=\t", "\t"),
        ("sep=|", "|"),
        ("sep=;;;", ";"),
        ("sep=,", ","),
    ],
)
@pytest.mark.parametrize("encoding", ["utf-8", "utf-16"])
def test_aw_064_separator_lines_of_every_kind(
    shop: CounterShop, first: str, separator: str, encoding: str
) -> None:
    text = f"{first}\r\nserial{separator}part{separator}note\r\nA1{separator}1-2{separator}x\r\n"
    assert by_serial(intake(shop, "sep.csv", text.encode(encoding)), "number") == {"A1": "1-2"}


@pytest.mark.parametrize("separator", [",", ";", "\t", "|"])
@pytest.mark.parametrize("ending", ["\n", "\r\n", "\r"])
def test_aw_064_separators_and_line_ends_are_found_without_being_told(
    shop: CounterShop, separator: str, ending: str
) -> None:
    lines = ["serial,part,note", 'A1,00420,"two, or; more"', "A2,00421,plain"]
    text = ending.join(line.replace(",", separator, 2) for line in lines)
    answer = intake(shop, "found.csv", text)
    assert by_serial(answer, "number") == {"A1": "00420", "A2": "00421"}


def test_aw_066_windows_letters_are_read_as_what_they_are(shop: CounterShop) -> None:
    answer = intake(shop, "o066.csv", case_file("o066_cp1252.csv"))
    [reject] = answer["rejected"]
    assert (reject["column"], reject["value"]) == ("Ø body (µm)", "9012 ±2")
    assert "because of '±'" in reject["why"]
    assert "read as Windows-1252; check letters such as Ø, µ and ±" in answer["notes"]
    rejects = (shop.folder / "o066.rejects.csv").read_text("utf-8-sig")
    assert "Zoë – “first”" in rejects
    assert "Â" not in rejects
    good = case_file("o066_cp1252.csv").replace(b" \xb12", b"")
    answer = intake(shop, "good.csv", good)
    assert stated(answer) == {"S1": ("9012", "µm")}
    assert by_serial(answer, "note") == {"S1": "Zoë – “first”"}


def test_aw_066_bytes_that_are_no_letters_stop_the_file_at_their_line(shop: CounterShop) -> None:
    message = refused(shop, "odd.csv", b"serial,note\nA1,x\nA2,\x81\n")
    assert "line 3: the byte 81 (hex)" in message


def test_aw_066_two_encodings_in_one_file_are_not_read_as_one(shop: CounterShop) -> None:
    mixed = "serial;note\nA1;Zoë\n".encode() + "A2;Zoë\n".encode("cp1252")
    assert "mixes two encodings: line 2 is UTF-8" in refused(shop, "mixed.csv", mixed)


def test_aw_066_letters_garbled_before_are_pointed_out(shop: CounterShop) -> None:
    garbled = "serial;note\nA1;Zoë ±2\n".encode().decode("cp1252")
    notes = " ".join(intake(shop, "garbled.csv", garbled)["notes"])
    assert "line 2 holds 'Ã«'" in notes


def test_aw_066_utf_16_without_its_mark_is_refused_in_plain_words(shop: CounterShop) -> None:
    message = refused(shop, "bare.csv", "serial,part\nA1,B\n".encode("utf-16-le"))
    assert "UTF-16 without its mark" in message


@pytest.mark.parametrize(
    ("name", "what"),
    [
        ("o070_old_excel_named.xlsx", "an old binary Excel workbook (.xls)"),
        ("o070_html_named.xls", "a web page (an HTML table), not a workbook"),
    ],
)
def test_aw_070_files_are_named_for_what_they_are(shop: CounterShop, name: str, what: str) -> None:
    message = refused(shop, name, case_file(name))
    assert what in message
    assert "save as .xlsx or CSV" in message


@pytest.mark.parametrize(
    ("name", "content", "what"),
    [
        ("a.xlsx", b"%PDF-1.7\n", "a PDF document"),
        ("a.csv", b"\x89PNG\r\n\x1a\n", "a PNG picture"),
        ("a.xlsx", b"\xff\xd8\xff\xe0", "a JPEG picture"),
        ("a.csv", gzip.compress(PLAIN, mtime=0), "a gzip archive"),
        ("a.xlsx", archive(a_csv="x"), "a zip archive"),
        ("a.xlsx", archive(xl__workbook_bin="x"), "a binary Excel workbook (.xlsb)"),
        ("a.xlsx", archive(Index__Document_iwa="x"), "(.numbers)"),
        ("a.xlsx", archive(Content_Types_xml="x", word__document_xml="x"), "(.docx)"),
        ("a.xlsx", OLD_OFFICE + "EncryptedPackage".encode("utf-16-le"), "locked with a password"),
        ("a.xlsx", workbook([["serial"], ["A"]])[:900], "damaged or cut-off"),
        ("a.csv", b'{\n  "serial": "A1"}', "a JSON document"),
        ("a.csv", b'[\n {"serial": "A1"}]', "a JSON document"),
        ("a.csv", b'\xef\xbb\xbf[1, 2]', "a JSON document"),
        ("a.xls", b'<?xml version="1.0"?><Workbook xmlns="urn:schemas-microsoft-com:office:'
                  b'spreadsheet">', "an XML spreadsheet of the old kind"),
        ("a.csv", b'<?xml version="1.0"?><office:document office:mimetype="application/vnd.oasis.'
                  b'opendocument.spreadsheet">', "OpenDocument"),
        ("a.xls", "<html><table><tr><td>serial".encode("utf-16"), "a web page"),
        ("a.csv", b"\xef\xbb\xbf\n <TABLE><tr><td>serial", "a web page"),
        ("a.csv", b"MIME-Version: 1.0\nContent-Type: multipart/related\n", "a web page saved"),
        ("a.csv", b'ID;PWXL;N;E\nC;Y1;X1;K"serial"\nE\n', "SYLK"),
        ("a.csv", b'TABLE\n0,1\n"X"\nVECTORS\n0,2\n""\n', "DIF"),
        ("a.csv", b"{\\rtf1 serial}", "a rich text document"),
    ],
)  # fmt: skip
def test_aw_070_no_other_kind_of_file_is_taken_for_a_table(
    shop: CounterShop, name: str, content: bytes, what: str
) -> None:
    message = refused(shop, name, content)
    assert what in message
    assert ".xlsx or CSV" in message


def test_aw_070_ids_and_braces_in_a_real_table_are_no_other_format(shop: CounterShop) -> None:
    assert intake(shop, "id.csv", "id;part;serial\n1;00420;A1\n")["stored"] == 1
    assert intake(shop, "brace.csv", "[serial],part\nA2,00420\n")["stored"] == 1


@pytest.mark.parametrize("content", [b"", b" \n\r\n ", b"\xef\xbb\xbf", b"\xff\xfe", b"sep=;\r\n"])
def test_aw_070_an_empty_file_says_so(shop: CounterShop, content: bytes) -> None:
    assert "is empty" in refused(shop, "empty.csv", content)


def test_aw_070_headings_alone_are_a_table_without_rows(shop: CounterShop) -> None:
    for name, content in (("h.csv", b"serial,part\n"), ("h.xlsx", workbook([["serial", "part"]]))):
        answer = intake(shop, name, content)
        assert answer["rows"] == answer["stored"] == 0
        assert "there are headings, but no row under them" in answer["notes"]
    assert "nothing stands on its visible sheets" in refused(shop, "none.xlsx", workbook([]))


def test_aw_072_open_document_is_told_what_to_do(shop: CounterShop) -> None:
    message = refused(shop, "o072.ods", case_file("o072.ods"))
    assert "OpenDocument is not read here, save as .xlsx or CSV" in message
    assert "OpenDocument" in refused(shop, "cores.xlsx", case_file("o072.ods"))


def test_aw_112_a_file_of_sixty_megabytes_is_refused_with_the_limit(shop: CounterShop) -> None:
    path = brought(shop, "large.csv", PLAIN)
    with path.open("r+b") as file:
        file.truncate(60 * 1024 * 1024)
    before = shop.events()
    done = shop.run("intake", path, "--source", "MERE", "--price", "10", exit_code=1)
    assert "large.csv is larger than 50 MB; split it into smaller files" in done.stderr
    assert shop.events() == before


def test_aw_114_the_content_decides_and_never_the_name(shop: CounterShop) -> None:
    assert intake(shop, "正文.csv", PLAIN)["stored"] == 1
    book = intake(shop, "cores.csv", workbook([["serial", "part"], ["B1", "00421"]]))
    assert by_serial(book, "number") == {"B1": "00421"}
    assert "the name says CSV, but it is an .xlsx workbook; read as that" in book["notes"]
    text = intake(shop, "cores.xlsx", b"serial,part\nC1,00420\n")
    assert by_serial(text, "number") == {"C1": "00420"}
    assert "the name says workbook, but it is a CSV text; read as that" in text["notes"]


def test_aw_114_the_rejects_file_follows_the_content_too(shop: CounterShop) -> None:
    broken = workbook([["serial", "price"], ["B1", "dear"]])
    assert intake(shop, "list.csv", broken)["rejected"]
    assert (shop.folder / "list.rejects.xlsx").read_bytes().startswith(b"PK")
    assert intake(shop, "text.xlsx", b"serial,price\nC1,dear\n")["rejected"]
    assert (shop.folder / "text.rejects.csv").read_bytes().startswith(b"\xef\xbb\xbfserial")


def test_aw_064_quotes_and_line_ends_inside_a_cell_stay_there(shop: CounterShop) -> None:
    text = 'serial,part,note\nA1,B1,"two\nlines, ""quoted"""\nA2,B2,bore 3/4" long\n'
    notes = by_serial(intake(shop, "quotes.csv", text), "note")
    assert notes == {"A1": 'two\nlines, "quoted"', "A2": 'bore 3/4" long'}


def test_aw_064_a_quote_that_is_never_closed_swallows_no_cores(shop: CounterShop) -> None:
    assert "row 2: a quote opened there is never closed" in refused(
        shop, "open.csv", 'serial,part,note\nA1,B1,"open\nA2,B2,x\n'
    )
    stray = 'serial,part,note\nA1,B1,"stray\nA2,B2,x\nA3,B3,y"\nA4,B4,z\n'
    answer = intake(shop, "stray.csv", stray)
    assert "is a closing quote missing?" in why(answer)[2]
    assert sorted(by_serial(answer, "number")) == ["A4"]


def test_aw_064_rows_of_another_length_are_refused_or_said(shop: CounterShop) -> None:
    answer = intake(shop, "ragged.csv", "serial,part\nA1,B1,C1\nA2\nA3,B3\n,,\n")
    assert "row 2 has 3 cells, but there are 2 headings" in why(answer)[2]
    told = "rows with fewer cells than headings (3): the missing cells count as empty"
    assert told in answer["notes"]
    assert sorted(by_serial(answer, "number")) == ["A2", "A3"]
