"""Files read in by the browser: looked at first, stored by one button, never twice."""

from __future__ import annotations

import io
import re
from datetime import UTC, datetime, timedelta

import pytest
from core_yard import Yard, csv_bytes
from databases import TestDatabase
from openpyxl.worksheet.worksheet import Worksheet
from spreadsheet_files import workbook
from station_client import StationClient, words
from upload_forms import FILES, FileDesk, file_desk, links_of, upload_of

from coretrack.web import imports

NOW = datetime(2026, 10, 31, 12, tzinfo=UTC)
SALES = csv_bytes(
    "invoice,date,customer,number,quantity",
    [
        ("F1", "2026-10-30", "ANSL", "GP-1040", 2),
        ("F2", "2026-10-30", "ANSL", "GP-1040", "two"),
        ("F3", "2026-10-30", "BROD", "GP-2080", 1),
    ],
)
PIECES = csv_bytes("number,serial", [("GP-1040", "P1"), ("NOT-KNOWN", "P2")])


@pytest.fixture
def yard(db: TestDatabase, monkeypatch: pytest.MonkeyPatch) -> Yard:
    monkeypatch.setattr(imports, "now", lambda: NOW)
    yard = Yard(now=NOW)
    yard.set_up()
    return yard


@pytest.fixture
def clerk(yard: Yard, db: TestDatabase) -> FileDesk:
    return file_desk(db)


def test_a_file_is_shown_before_anything_is_stored(clerk: FileDesk, yard: Yard) -> None:
    before = yard.events()
    shown = clerk.send("sales", "sales.csv", SALES)
    text = words(shown)
    assert "Rows in the file 3 Would be stored 2 Stored before 0 Would be left out 1" in text
    assert "3 quantity two" in text
    assert "Store these 2 rows" in text
    assert "F1/1 GP-1040 GPB 2 24" in text
    assert yard.events() == before
    assert yard.lines() == []


def test_one_button_stores_the_good_rows_and_says_so(clerk: FileDesk, yard: Yard) -> None:
    done = clerk.store(clerk.send("sales", "sales.csv", SALES))
    assert "Rows in the file 3 Stored 2 Stored before 0 Left out 1" in words(done)
    assert [line.key for line in yard.lines()] == ["F1/1", "F3/1"]
    assert "/receiving/lists/lines" in links_of(done)
    assert yard.is_sound()


def test_the_rows_left_out_come_back_as_a_file_that_can_be_put_right(
    clerk: FileDesk, yard: Yard
) -> None:
    shown = clerk.send("sales", "sales.csv", SALES)
    early = clerk.get(f"{FILES}/rejects", upload=upload_of(shown))
    done = clerk.store(shown)
    [address] = [link for link in links_of(done) if "/rejects" in link]
    late = clerk.client.get(address)
    assert late.data == early.data
    assert late.headers["Content-Disposition"] == "attachment; filename=sales.rejects.csv"
    assert late.mimetype == "text/csv"
    right = late.data.replace(b",two,", b",3,", 1)
    again = clerk.store(clerk.send("sales", "sales.rejects.csv", right))
    assert "Stored 1 Stored before 0 Left out 0" in words(again)
    assert yard.line("F2/1").quantity == 3


def test_a_workbooks_rejects_are_a_workbook(clerk: FileDesk) -> None:
    headings = ["invoice", "date", "customer", "number", "quantity"]
    content = workbook([headings, ["F1", 5, "", "", 1]])
    shown = clerk.send("sales", "sales.xlsx", content)
    assert "There is nothing to store." in words(shown)
    sent = clerk.get(f"{FILES}/rejects", upload=upload_of(shown))
    assert sent.data.startswith(b"PK")
    assert "filename=sales.rejects.xlsx" in sent.headers["Content-Disposition"]


def test_going_back_and_storing_again_changes_nothing_and_says_so(
    clerk: FileDesk, yard: Yard
) -> None:
    shown = clerk.send("sales", "sales.csv", SALES)
    clerk.store(shown)
    before = yard.events()
    again = clerk.store(shown)
    assert "sales.csv was stored already; nothing was stored a second time." in words(again)
    assert "Stored 2" in words(again)
    back = clerk.get(f"{FILES}/preview", upload=upload_of(shown))
    assert back.headers["Location"].startswith(f"{FILES}/answer?upload=")
    assert yard.events() == before


def test_the_same_file_again_has_nothing_to_store(clerk: FileDesk, yard: Yard) -> None:
    good = csv_bytes(
        "invoice,date,customer,number,quantity", [("F9", "2026-10-30", "ANSL", "GP-1040", 1)]
    )
    clerk.store(clerk.send("sales", "sales.csv", good))
    shown = clerk.send("sales", "renamed.csv", good)
    assert "This very file was imported before (2026-10-31): nothing was changed" in words(shown)
    assert "There is nothing to store." in words(shown)
    assert "Store this row" not in words(shown)


def test_a_stored_file_leaves_no_bytes_behind_but_those_of_its_rejects(
    clerk: FileDesk, yard: Yard
) -> None:
    shown = clerk.send("sales", "sales.csv", SALES)
    [waiting] = clerk.waiting()
    assert waiting.suffix == ".part"
    assert waiting.stat().st_mode & 0o777 == 0o600
    assert waiting.parent.stat().st_mode & 0o777 == 0o700
    clerk.store(shown)
    [kept] = clerk.waiting()
    assert kept.suffix == ".rejects"


def test_a_file_may_be_put_away(clerk: FileDesk, yard: Yard) -> None:
    shown = clerk.send("sales", "sales.csv", SALES)
    assert clerk.press(shown, "drop").headers["Location"] == f"{FILES}/"
    assert clerk.waiting() == []
    assert clerk.press(shown, "store").status_code == 404
    assert yard.lines() == []


def test_files_that_waited_too_long_are_cleaned_away(
    clerk: FileDesk, monkeypatch: pytest.MonkeyPatch
) -> None:
    first = clerk.send("sales", "sales.csv", SALES)
    monkeypatch.setattr(imports, "now", lambda: NOW + timedelta(hours=23))
    clerk.send("sales", "sales.csv", SALES + b"\n")
    assert len(clerk.waiting()) == 2
    monkeypatch.setattr(imports, "now", lambda: NOW + timedelta(hours=25))
    clerk.send("sales", "sales.csv", SALES + b"\n\n")
    assert len(clerk.waiting()) == 2
    gone = clerk.get(f"{FILES}/preview", upload=upload_of(first))
    assert gone.status_code == 404
    assert "Choose it again; rows that are stored are not stored twice" in words(gone)


def test_a_file_is_only_for_who_sent_it(clerk: FileDesk, db: TestDatabase) -> None:
    shown = clerk.send("sales", "sales.csv", SALES)
    other = file_desk(db, name="Pia Lund")
    for view in ("preview", "answer", "rejects"):
        assert other.get(f"{FILES}/{view}", upload=upload_of(shown)).status_code == 404
    assert other.press(shown, "store").status_code == 404


@pytest.mark.parametrize(
    "token", ["", "..", "../session-key", "0" * 31, "%00", "a" * 32, "0\n" * 16]
)
def test_no_made_up_key_leads_to_a_file(clerk: FileDesk, token: str) -> None:
    assert clerk.get(f"{FILES}/preview", upload=token).status_code == 404


@pytest.mark.parametrize(
    "name", ["../../session-key", "C:\\sales\\oct.csv", "a\x00b.csv", "<b>.csv", "x" * 300]
)
def test_a_name_is_only_shown_and_never_a_path(clerk: FileDesk, name: str) -> None:
    done = clerk.store(clerk.send("sales", name, SALES))
    assert "Stored 2" in words(done)
    assert "<b>.csv" not in done.get_data(as_text=True)
    assert all(path.parent.name == "uploads" for path in clerk.waiting())
    assert clerk.get(f"{FILES}/rejects", upload=upload_of(done)).status_code == 200


def test_forgetting_the_file_keeps_what_was_told(clerk: FileDesk) -> None:
    answer = clerk.post(f"{FILES}/upload", {"kind": "lot", "price": "12.50", "key": "k"})
    assert answer.status_code == 422
    assert "Choose the file first." in words(answer)
    assert 'value="12.50"' in answer.get_data(as_text=True)


def test_what_a_file_is_may_be_changed_without_sending_it_again(
    clerk: FileDesk, yard: Yard
) -> None:
    content = SALES.replace(b"quantity\n", b"core charge\n", 1)
    shown = clerk.send("returns", "sales.csv", content)
    assert "so it looks like sales; read it in as sales" in words(shown)
    clerk.press(clerk.send("returns", "sales.csv", SALES), "preview", kind="sales")
    shown = clerk.send("returns", "sales.csv", SALES)
    clerk.press(shown, "preview", kind="sales")
    again = clerk.get(f"{FILES}/preview", upload=upload_of(shown))
    assert "Store these 2 rows" in words(again)


def test_hidden_rows_are_asked_about_beside_the_preview(clerk: FileDesk, yard: Yard) -> None:
    content = workbook(
        [
            ["number", "serial"],
            ["GP-1040", "H1"],
            ["GP-1040", "H2"],
        ],
        prepare=lambda book, sheet: _hide(sheet, 3),
    )
    told = {"source": "COPP", "price": "1", "lot": "H"}
    shown = clerk.send("lot", "lot.xlsx", content, **told)
    text = words(shown)
    assert "1 of its rows is hidden by a filter. Say whether it counts" in text
    assert "Store these" not in text
    assert "--hidden" not in text
    forced = clerk.press(shown, "store")
    assert forced.headers["Location"].startswith(f"{FILES}/preview")
    assert yard.cores() == []
    clerk.press(shown, "preview", kind="lot", hidden="skip", **told)
    again = clerk.get(f"{FILES}/preview", upload=upload_of(shown))
    assert "Store this row" in words(again)
    clerk.store(again)
    assert [core.serial for core in yard.cores()] == ["H1"]


def test_dates_that_could_be_two_are_asked_about_beside_the_preview(
    clerk: FileDesk, yard: Yard
) -> None:
    content = SALES.replace(b"2026-10-30", b"3/4/2026")
    shown = clerk.send("sales", "sales.csv", content)
    assert shown.status_code == 422
    assert "--dates" not in words(shown)
    html = shown.get_data(as_text=True)
    assert re.search(r'id="f-dates"[^>]*aria-invalid="true"', html)
    assert "<details open>" in html
    clerk.press(shown, "preview", kind="sales", dates="month first")
    clerk.store(clerk.get(f"{FILES}/preview", upload=upload_of(shown)))
    assert yard.line("F1/1").sold_on == "2026-03-04"


def test_no_answer_of_a_form_that_was_tampered_with_breaks_the_page(clerk: FileDesk) -> None:
    told = {"hidden": "perhaps", "dates": "never", "decimal": "§", "basis": "luck"}
    shown = clerk.send("sales", "sales.csv", SALES, **told)
    assert "Store these 2 rows" in words(shown)
    lot = clerk.send("lot", "lot.csv", PIECES, source="COPP", price="1", **told)
    assert "'luck' is not a basis; use one of piece, weight, lump." in words(lot)


def test_what_cannot_be_read_says_what_it_is(clerk: FileDesk) -> None:
    picture = clerk.send("sales", "sales.csv", b"\x89PNG\r\n\x1a\n0000")
    assert picture.status_code == 422
    assert "sales.csv is a PNG picture" in words(picture)
    empty = clerk.send("sales", "sales.csv", b"")
    assert empty.status_code == 422
    headings = clerk.send("sales", "sales.csv", "invoice,date,customer,number,quantity\n")
    assert "There are headings, but no row under them." in words(headings)
    assert "There is nothing to store." in words(headings)


def test_no_message_speaks_of_options_that_only_a_terminal_has(clerk: FileDesk) -> None:
    texts = [
        words(clerk.send("returns", "a.csv", PIECES)),
        words(clerk.send("lot", "b.csv", PIECES, source="COPP")),
        words(clerk.send("lot", "c.csv", PIECES, source="COPP", basis="lump")),
    ]
    for text in texts:
        assert not re.search(r"(?<!\w)--\w", text), text
    assert "2 customer No customer: give a column or say “From whom”." in texts[0]
    assert "taken as today, 2026-10-31." in texts[1]


def test_unknown_cores_are_identified_by_file(clerk: FileDesk, yard: Yard) -> None:
    yard.buy("P9", number="NOT-KNOWN", lot="L9", day="2026-10-20")
    content = csv_bytes("core,number", [("P9", "GP-1040")])
    done = clerk.store(clerk.send("identify", "known.csv", content))
    assert "Stored 1" in words(done)
    assert yard.core("P9").number == "GP-1040"


def test_an_inspector_reads_in_readings_and_lost_sources_and_nothing_else(
    yard: Yard, db: TestDatabase
) -> None:
    yard.buy("P9", lot="L9", day="2026-10-20")
    inspector = file_desk(db, "inspector", "Bela Quirke")
    page = inspector.text(f"{FILES}/")
    assert "Gauge readings and finished rework" in page
    assert "Cores whose source was lost" in page
    for other in ("Sales with core charges", "manifest", "sends back", "Type a sale"):
        assert other not in page
    readings = csv_bytes("time,core,check,reading", [("2026-10-30 09:00", "P9", "face", "3.0")])
    done = inspector.store(inspector.send("readings", "bench.csv", readings))
    assert "Stored 1" in words(done)
    lost = csv_bytes("core", [("P9",)])
    inspector.store(inspector.send("source lost", "lost.csv", lost))
    assert yard.core("P9").source_lost
    assert inspector.get(f"{FILES}/", kind="sales").status_code == 403
    assert inspector.get(f"{FILES}/sale").status_code == 403


def test_a_clerk_reads_in_no_readings_and_an_owner_everything(
    clerk: FileDesk, db: TestDatabase
) -> None:
    assert clerk.get(f"{FILES}/", kind="readings").status_code == 403
    assert clerk.get(f"{FILES}/", kind="standards").status_code == 403
    assert clerk.get(f"{FILES}/", kind="nonsense").status_code == 404
    owner = file_desk(db, "owner")
    scrap = csv_bytes("family,scrap rate", [("GPB", "30%")])
    assert "Stored 1" in words(owner.store(owner.send("standards", "scrap.csv", scrap)))


def test_two_presses_at_once_store_once_and_the_first_answer_stands(
    clerk: FileDesk, yard: Yard, monkeypatch: pytest.MonkeyPatch
) -> None:
    shown = clerk.send("sales", "sales.csv", SALES)
    real = imports.upload_reading.store
    pressed = []

    def both(*args: object, **named: object) -> None:
        real(*args, **named)  # type: ignore[arg-type]
        pressed.append(1)
        real(*args, **named)  # type: ignore[arg-type]

    monkeypatch.setattr(imports.upload_reading, "store", both)
    done = clerk.store(shown)
    assert pressed == [1]
    assert "Stored 2 Stored before 0" in words(done)
    assert len(yard.lines()) == 2


def test_without_a_data_folder_a_file_is_refused_in_words(yard: Yard) -> None:
    desk = StationClient()
    answer = desk.post(
        f"{FILES}/upload", {"kind": "sales", "key": "k", "file": (io.BytesIO(SALES), "sales.csv")}
    )
    assert answer.status_code == 503
    assert "no data folder" in words(answer)


def _hide(sheet: Worksheet, row: int) -> None:
    sheet.auto_filter.ref = "A1:B3"
    sheet.row_dimensions[row].hidden = True
