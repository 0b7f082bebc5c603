"""Sales: what opens a core line, what is frozen there, and what a second import does."""

from __future__ import annotations

from io import BytesIO

import pytest
from core_yard import Yard, csv_bytes, money, why

from coretrack.errors import InvalidInput

HEADINGS = "invoice,date,customer,number,quantity,core charge"


def test_a_sale_opens_a_line_with_charge_window_and_criteria_frozen(yard: Yard) -> None:
    answer = yard.sell("S1", 6, charge="21.50")
    assert (answer.stored, answer.already, answer.rejected) == (1, 0, ())
    line = yard.line("S1/1")
    assert (line.customer, line.number, line.core_group, line.family) == (
        "ANSL", "GP-1040", "GPB-A", "GPB",
    )  # fmt: skip
    assert (line.quantity, line.credited, line.charge) == (6, 0, money("21.50"))
    assert (line.window_days, line.after, line.slide_percent, line.slide_days) == (
        30, "slide", "25", 7,
    )  # fmt: skip
    assert line.criteria_version == 1
    assert line.mode == "up front"


def test_a_customer_is_known_by_name_and_a_number_by_any_spelling(yard: Yard) -> None:
    yard.sell(customer="ansell hydraulics", number="gp 10.40")
    assert (yard.line("S1/1").customer, yard.line("S1/1").number) == ("ANSL", "GP-1040")


@pytest.mark.parametrize(
    ("sold", "charge"), [("2026-06-30", "20.00"), ("2026-07-01", "24.00"), ("2025-01-01", "20.00")]
)
def test_without_a_charge_the_familys_charge_of_that_day_counts(
    yard: Yard, sold: str, charge: str
) -> None:
    answer = yard.sell(day=sold)
    assert yard.line("S1/1").charge == money(charge)
    assert answer.items[0]["charge_from"] == "the family's charge on that day"


def test_without_any_charge_on_that_day_the_row_waits(yard: Yard) -> None:
    answer = yard.sell(day="2024-12-31")
    assert answer.stored == 0
    assert why(answer) == "No core charge is given, and family GPB had none on 2024-12-31."


@pytest.mark.parametrize("quantity", ["0", "-1", "1.5", "", "many"])
def test_a_quantity_that_nobody_sells_is_rejected(yard: Yard, quantity: str) -> None:
    answer = yard.sell(quantity=quantity)
    assert answer.stored == 0
    assert answer.rejected[0].column == "quantity"
    assert answer.rejected[0].value == quantity
    assert yard.lines() == []


def test_a_negative_charge_and_an_unknown_mode_are_rejected(yard: Yard) -> None:
    assert why(yard.sell(charge="-5.00")) == "a core charge cannot be negative"
    assert "up front, billed later, core first" in why(yard.sell(mode="whenever"))


def test_an_unknown_customer_is_rejected_with_those_that_are_known(yard: Yard) -> None:
    answer = yard.sell(customer="ANSEL")
    assert answer.rejected[0].column == "customer"
    assert why(answer) == ("no source of cores is called this; known: ANSL, BROD, COPP, DELL, OWN")


@pytest.mark.parametrize(("typed", "near"), [("GP-1049", "GP-1040, GP-1044"), ("GP-9", "GP-1040")])
def test_an_unknown_number_is_rejected_with_those_that_begin_alike(
    yard: Yard, typed: str, near: str
) -> None:
    answer = yard.sell(number=typed)
    assert answer.rejected[0].value == typed
    assert f"numbers that begin alike: {near}" in why(answer)


def test_the_same_file_again_changes_nothing(yard: Yard) -> None:
    yard.sell("S1", 6)
    events = yard.events()
    again = yard.sell("S1", 6)
    assert (again.stored, again.already) == (0, 1)
    assert "this very file was imported before (2026-10-31): nothing was changed" in again.notes
    assert yard.events() == events


def workbook(rows: list[tuple[object, ...]]) -> bytes:
    import openpyxl

    book = openpyxl.Workbook()
    sheet = book.active
    assert sheet is not None
    for row in rows:
        sheet.append(row)
    content = BytesIO()
    book.save(content)
    return content.getvalue()


def test_the_same_sales_saved_anew_are_known(yard: Yard) -> None:
    import datetime

    rows = [
        ("S1", "2026-05-04", "ANSL", "GP-1040", 6, "22.00"),
        ("S1", "2026-05-04", "ANSL", "GP-2080", 2, "22.00"),
    ]
    assert yard.sell_file(csv_bytes(HEADINGS, rows)).stored == 2
    turned = "QTY;Invoice No;Part Number;CUSTOMER;Date;Core_Charge (EUR)\n" + "".join(
        f"{r[4]};{r[0]};{r[3]};{r[2]};{r[1]};22,00\n" for r in rows
    )
    book: list[tuple[object, ...]] = [tuple(HEADINGS.split(","))]
    book += [(r[0], datetime.date(2026, 5, 4), r[2], r[3], r[4], 22) for r in rows]
    for content, name in ((turned.encode(), "a.csv"), (workbook(book), "b.xlsx")):
        again = yard.sell_file(content, name)
        assert (again.stored, again.already, again.rejected) == (0, 2, ())
    assert len(yard.lines()) == 2


def test_a_stored_line_with_other_values_is_rejected_naming_them(yard: Yard) -> None:
    yard.sell("S1", 6, charge="22.00")
    answer = yard.sell("S1", 4, charge="25.00")
    assert answer.stored == 0
    assert "quantity 6 (here 4)" in why(answer)
    assert "charge 22.00 (here 25.00)" in why(answer)
    assert yard.line("S1/1").quantity == 6


def test_a_later_change_of_window_or_charge_does_not_make_a_stored_sale_differ(
    yard: Yard,
) -> None:
    from coretrack.records.writer import writing

    yard.sell("S1", 6)
    with writing("owner", yard.now) as writer:
        writer.event("shop", "shop", "set", {"window_days": 45})
        writer.event("core charge", "GPB@2025-01-01", "set", {"amount": money("19.00")})
    content = csv_bytes("quantity,invoice,date,customer,number", [
        (6, "S1", "2026-05-04", "ANSL", "GP-1040"),
    ])  # fmt: skip
    again = yard.sell_file(content)
    assert (again.stored, again.already, again.rejected) == (0, 1, ())
    assert (yard.line("S1/1").window_days, yard.line("S1/1").charge) == (30, money("20.00"))


def test_a_rejected_row_that_is_put_right_alone_gets_a_place_of_its_own(yard: Yard) -> None:
    rows = [
        ("S1", "2026-05-04", "ANSL", "GP-1040", 6, ""),
        ("S1", "2026-05-04", "ANSL", "GP-208O", 2, ""),
        ("S1", "2026-05-04", "ANSL", "CB-77", 1, "30.00"),
    ]
    first = yard.sell_file(csv_bytes(HEADINGS, rows))
    assert (first.stored, len(first.rejected)) == (2, 1)
    corrected = csv_bytes(HEADINGS, [("S1", "2026-05-04", "ANSL", "GP-2080", 2, "")])
    second = yard.sell_file(corrected)
    assert (second.stored, second.rejected) == (1, ())
    assert {line.key: line.number for line in yard.lines()} == {
        "S1/1": "GP-1040", "S1/2": "CB-77", "S1/3": "GP-2080",
    }  # fmt: skip


def test_the_whole_file_again_with_one_row_put_right_stores_that_row_only(yard: Yard) -> None:
    rows = [
        ("S1", "2026-05-04", "ANSL", "GP-1040", 6, ""),
        ("S1", "2026-05-04", "ANSL", "GP-208O", 2, ""),
    ]
    yard.sell_file(csv_bytes(HEADINGS, rows))
    rows[1] = ("S1", "2026-05-04", "ANSL", "GP-2080", 2, "")
    second = yard.sell_file(csv_bytes(HEADINGS, rows))
    assert (second.stored, second.already, second.rejected) == (1, 1, ())


def test_a_corrected_rejects_file_and_the_corrected_original_are_the_same_rows(
    yard: Yard,
) -> None:
    from coretrack.actions.imports import rejects_of

    bad = csv_bytes(HEADINGS, [("S1", "2026-05-04", "ANSL", "GP-104O", 2, "")])
    answer = yard.sell_file(bad)
    rejects = rejects_of(yard.request(bad, "sales.csv"), answer).content
    assert yard.sell_file(rejects.replace(b"GP-104O", b"GP-1040")).stored == 1
    again = yard.sell_file(bad.replace(b"GP-104O", b"GP-1040"))
    assert (again.stored, again.already) == (0, 1)


def test_two_equal_rows_of_an_invoice_are_two_lines(yard: Yard) -> None:
    row = ("S1", "2026-05-04", "ANSL", "GP-1040", 1, "")
    assert yard.sell_file(csv_bytes(HEADINGS, [row, row])).stored == 2
    assert [line.key for line in yard.lines()] == ["S1/1", "S1/2"]


def test_line_numbers_of_the_file_are_kept(yard: Yard) -> None:
    content = csv_bytes("invoice,line,date,customer,number,quantity", [
        ("S1", "20", "2026-05-04", "ANSL", "GP-1040", 1),
        ("S1", "10", "2026-05-04", "ANSL", "GP-1040", 2),
    ])  # fmt: skip
    yard.sell_file(content)
    assert {line.key: line.quantity for line in yard.lines()} == {"S1/20": 1, "S1/10": 2}


def test_amounts_in_another_currency_are_refused_for_the_whole_file(yard: Yard) -> None:
    content = csv_bytes(
        "invoice,date,customer,number,quantity,core charge (USD)",
        [("S1", "2026-05-04", "ANSL", "GP-1040", 1, "22.00")],
    )
    with pytest.raises(InvalidInput, match="is in USD and the shop counts in EUR"):
        yard.sell_file(content)


def test_a_sale_from_before_the_faults_changed_keeps_the_older_criteria(yard: Yard) -> None:
    from datetime import timedelta

    from core_yard import FOLDER

    from coretrack.actions.setting_up import import_family

    text = (FOLDER / "families" / "GPB.toml").read_text(encoding="utf-8")
    later = yard.now + timedelta(days=2)
    import_family("GPB.toml", text.replace('"25"', '"30"').encode(), by="owner", now=later)
    yard.sell("S1", day="2026-10-31")
    yard.sell("S2", day="2026-11-02")
    assert (yard.line("S1/1").criteria_version, yard.line("S2/1").criteria_version) == (1, 2)
