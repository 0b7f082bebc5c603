"""Cases of dates, amounts, percentages, masses and sizes in the habits of many countries."""

from __future__ import annotations

import datetime as dt
from decimal import Decimal
from typing import TYPE_CHECKING

import pytest
from openpyxl import Workbook
from openpyxl.utils.datetime import MAC_EPOCH
from openpyxl.worksheet.worksheet import Worksheet
from spreadsheet_files import (
    brought,
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


def test_aw_062_one_order_of_day_and_month_holds_for_the_whole_column(shop: CounterShop) -> None:
    answer = intake(shop, "o062.csv", case_file("o062_dates.csv"), "--lot", "")
    assert by_serial(answer, "received") == {
        **{"S1": "2025-04-03", "S2": "2025-03-31", "S3": "2025-05-04"}
    }


def test_aw_062_a_column_that_does_not_tell_is_asked_about(shop: CounterShop) -> None:
    content = csv_column("received", "03/04/2025", "05/04/2025")
    message = refused(shop, "open.csv", content)
    assert "may be 2025-04-03 (day first) or 2025-03-04 (month first)" in message
    days = intake(shop, "open.csv", content, "--dates", "month-first", "--lot", "")
    assert by_serial(days, "received") == {"S1": "2025-03-04", "S2": "2025-05-04"}


def test_aw_062_orders_that_contradict_each_other_stop_the_file(shop: CounterShop) -> None:
    message = refused(shop, "both.csv", csv_column("received", "13/04/2025", "04/13/2025"))
    assert "'13/04/2025' has the day first and '04/13/2025' the month first" in message


def test_aw_062_dates_beside_day_and_month_texts_are_not_trusted(shop: CounterShop) -> None:
    content = column("received", dt.date(2025, 3, 1), "31/03/2025", formats=["yyyy-mm-dd"])
    assert "the spreadsheet may have swapped day and month" in refused(shop, "mix.xlsx", content)


def test_aw_062_cells_that_are_no_day_are_refused_by_row(shop: CounterShop) -> None:
    dated = "yyyy-mm-dd"
    cells: list[tuple[object, str | None]] = [
        *((dt.date(2025, 3, 1), dated), (20250301, dated), (-5, dated), (60, dated)),
        *((45717, None), (dt.time(3, 4), "h:mm"), (True, None), (0.5, None)),
        *(("=TODAY()", dated), ("#N/A", None), ("3/4/25", None), ("2025-02-30", None)),
    ]
    content = column("received", *(v for v, _ in cells), formats=[code for _, code in cells])
    answer = intake(shop, "days.xlsx", content)
    assert by_serial(answer, "received") == {"S1": "2025-03-01"}
    assert sorted(why(answer)) == list(range(3, 14))
    assert "shown as a date, but 20250301 is no date" in why(answer)[3]
    assert "a formula without a value" in why(answer)[10]


def test_aw_062_workbooks_that_count_days_from_1904_are_read_right(shop: CounterShop) -> None:
    def since_1904(book: Workbook, sheet: Worksheet) -> None:
        book.epoch = MAC_EPOCH
        sheet.append(["S1", dt.date(2025, 3, 1)])

    content = workbook([["serial", "received"]], prepare=since_1904)
    assert by_serial(intake(shop, "mac.xlsx", content), "received") == {"S1": "2025-03-01"}


def test_aw_076_four_spellings_of_one_amount_are_one_amount(shop: CounterShop) -> None:
    answer = intake(shop, "o076.csv", case_file("o076_thousands.csv"))
    assert set(by_serial(answer, "price").values()) == {"1234.50"}
    assert [value for value, _ in stated(answer).values()] == ["9.012", "9.013", "9.014", "9.015"]


@pytest.mark.parametrize(
    ("texts", "amounts"),
    [
        (
            ("1.234,50", "1'234,50", "1\u202f234,50", "12,5", "0"),
            "1234.50 1234.50 1234.50 12.50 0.00",
        ),
        (("1,234.50", "1 234.50", "1’234.50", "12.50"), "1234.50 1234.50 1234.50 12.50"),
        (("1.234", "2,50"), "1234.00 2.50"),
        (("1,234", "2.50"), "1234.00 2.50"),
        (("1.234.567,8", "1"), "1234567.80 1.00"),
    ],
)
def test_aw_076_the_column_tells_which_mark_is_decimal(
    shop: CounterShop, texts: tuple[str, ...], amounts: str
) -> None:
    answer = intake(shop, "marks.csv", csv_column("cost", *texts))
    assert list(by_serial(answer, "price").values()) == amounts.split()


@pytest.mark.parametrize(
    ("text", "told"),
    [
        ("1.234", "could be 1234 or 1.234"),
        ("1,234", "could be 1234 or 1.234"),
        ("€ 12,50", "because of '€'"),
        ("12.50 USD", "because of 'U'"),
        ("(5,00)", "brackets; write a negative number like -5.00"),
        ("-5,00", "a price is 0 or more"),
        ("12,50-", "sign inside"),
        ("1e3", "exponent"),
        ("12.34,5.6", "mixes its marks"),
        ("1 23,50", "does not part groups of three"),
        ("12,345678", "finer than a ten-thousandth"),
    ],
)
def test_aw_076_what_could_be_two_amounts_or_none_is_refused_by_row(
    shop: CounterShop, text: str, told: str
) -> None:
    answer = intake(shop, "odd.csv", csv_column("cost", text, "7"))
    assert told in why(answer)[2]
    assert by_serial(answer, "price") == {"S2": "7.00"}


def test_aw_076_a_column_that_mixes_its_marks_is_not_read_half_and_half(shop: CounterShop) -> None:
    message = refused(shop, "mixed.csv", csv_column("cost", "1.5", "2,5"))
    assert "'1.5' has a decimal point, '2,5' a decimal comma" in message


def test_aw_076_number_cells_beside_texts_are_taken_as_they_are(shop: CounterShop) -> None:
    content = column("cost", "12,50", 12.5, "1.234,50", 0.1 + 0.2)
    prices = by_serial(intake(shop, "cells.xlsx", content), "price")
    assert list(prices.values()) == ["12.50", "12.50", "1234.50", "0.30"]


@pytest.mark.parametrize(
    ("heading", "told"),
    [
        ("cost (USD)", "is in USD and the shop counts in EUR"),
        ("cost USD", "is in USD"),
        ("price $", "is in $"),
        ("£ each price", None),
        ("cost (kg)", "names kg, but amounts of money per piece belong there"),
        ("cost/kg", "names kg"),
        ("qty (kg)", "names kg, but a number of pieces belongs there"),
    ],
)
def test_aw_076_amounts_of_another_currency_or_per_another_unit_stop_the_file(
    shop: CounterShop, heading: str, told: str | None
) -> None:
    content = csv_column(heading, "1")
    if told is None:
        assert f"columns not used: {heading}" in intake(shop, "head.csv", content)["notes"]
    else:
        assert told in refused(shop, "head.csv", content)


def test_aw_078_only_a_percent_sign_or_format_says_what_is_meant(shop: CounterShop) -> None:
    """The four dresses of the case, each for the one family of the shop, one file after another."""
    heading = ["family", "assumed scrap rate"]
    for value, number_format, settled in (
        *(("5%", "@", True), (5, "General", False)),
        *((0.05, "General", False), (0.06, "0%", True)),
    ):
        content = workbook([heading, ["CASE", value]], {"B2": number_format})
        answer = shop.json("standards", brought(shop, f"rate {value}.xlsx", content))
        assert bool(answer["stored"]) is settled, answer
        if not settled:
            assert f"holds {value} without a percent sign" in why(answer)[2]
    assert shop.sql("select standard_yield from family") == [("0.94",)]


def test_aw_078_the_file_of_the_case_is_refused_or_read_row_by_row(shop: CounterShop) -> None:
    family = case_file("shop/families/CASE.toml").decode()
    start, numbers = family.index("[[groups.numbers]]"), family.index("[[checks]]")
    number = '[[groups.numbers]]\nnumber = "CASE-1"\nkind = "own"\n\n'
    for code in "ABCD":
        told = (family[:start] + number + family[numbers:]).replace('"CASE', f'"{code}')
        shop.run("family", brought(shop, f"{code}.toml", told))
    answer = shop.json("standards", brought(shop, "o078.xlsx", case_file("o078_percent_mix.xlsx")))
    assert {item["family"]: Decimal(item["scrap_rate"]) for item in answer["items"]} == {
        "A": Decimal("0.05"),
        "D": Decimal("0.05"),
    }
    assert sorted(why(answer)) == [3, 4]
    assert "write 5% if 5 % is meant, or 500% if it is a share" in why(answer)[3]
    assert "write 0.05% if 0.05 % is meant, or 5% if it is a share" in why(answer)[4]


@pytest.mark.parametrize(
    ("text", "rate"),
    [
        *(("5 %", "0.05"), ("5,5%", "0.055"), ("5\u00a0%", "0.05"), ("5％", "0.05"), ("0", "0")),
        *(("150%", None), ("-5%", None), ("5%%", None), ("5‰", None), ("0,05", None), ("", None)),
    ],
)
def test_aw_078_other_dresses_of_a_rate(shop: CounterShop, text: str, rate: str | None) -> None:
    path = brought(shop, "rate.csv", f'family;scrap rate\nCASE;"{text}"\n')
    answer = shop.json("standards", path)
    rates = [Decimal(item["scrap_rate"]) for item in answer["items"]]
    assert rates == ([] if rate is None else [Decimal(rate)])
    assert len(answer["rejected"]) == (rate is None)


def test_aw_082_every_cell_may_have_its_own_unit_and_no_digit_is_lost(shop: CounterShop) -> None:
    answer = intake(shop, "o082.csv", case_file("o082_mixed_units.csv"))
    inch = ("9.01192", "mm")
    metric = ("9.012", "mm")
    assert stated(answer) == {
        **{"S1": metric, "S2": inch, "S3": inch, "S4": metric, "S5": metric, "S6": inch}
    }
    typed = [item["stated"][0]["typed"] for item in answer["items"]]
    assert typed == ["9.012", "0.3548 in", "354.8 thou", "9012 µm", "9.012mm", '0.3548"']


@pytest.mark.parametrize(
    ("heading", "text", "value"),
    [
        ("od [mm]", "9012 μm", "9.012"),
        ("od/mm", "0,9012 cm", "9.012"),
        ("od in mm", "9 1/64 in", "228.996875"),
        ("od_mm", "354.8 mil", "9.01192"),
        ("od, in", "9.01192 mm", "0.3548"),
        ("leak (bar)", "100 psi", "6.894757"),
        ("temperature (°C)", "68 °F", "20"),
    ],
)
def test_aw_082_units_in_headings_and_cells_are_put_together(
    shop: CounterShop, heading: str, text: str, value: str
) -> None:
    answer = intake(shop, "unit.csv", csv_column(heading, text))
    assert stated(answer)["S1"][0] == value


@pytest.mark.parametrize("text", ["9.012 kg", "9.012 bar", "9.012 foo", "1e1", "9_012", "n/a"])
def test_aw_082_what_cannot_be_a_size_is_refused_by_row(shop: CounterShop, text: str) -> None:
    answer = intake(shop, "size.csv", csv_column("od (mm)", text, "9.012"))
    assert sorted(why(answer)) == [2]
    assert stated(answer) == {"S2": ("9.012", "mm")}


@pytest.mark.parametrize(
    ("heading", "text", "grams"),
    [
        *(("mass", "2,5", 2500), ("mass kg", "2.5", 2500), ("mass (g)", "2500", 2500)),
        *(("mass g", "2500", 2500), ("Mass in g", "2500", 2500), ("weight_lb", "2.5", 1134)),
        *(("weight (oz)", "16", 454), ("mass (t)", "0.002", 2000), ("mass", "3 lb", 1361)),
        *(("weight (lb)", "2.5 kg", 2500), ("mass", "1500 g", 1500)),
    ],
)
def test_aw_082_masses_come_in_kilograms_whatever_their_unit(
    shop: CounterShop, heading: str, text: str, grams: int
) -> None:
    """A pound is 0.45359237 kg exactly (international pound; from memory)."""
    answer = intake(shop, "mass.csv", csv_column(heading, text))
    assert by_serial(answer, "mass_g") == {"S1": grams}


def test_aw_082_a_mass_in_a_unit_of_length_is_refused(shop: CounterShop) -> None:
    message = refused(shop, "mm.csv", csv_column("mass (mm)", "2"))
    assert "Column 'mass (mm)' names mm, but a mass in kg belongs there" in message
    answer = intake(shop, "cell.csv", csv_column("mass", "5 mm", "2"))
    assert "mm is a unit of length" in why(answer)[2]
