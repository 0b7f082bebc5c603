"""The workbooks that leave: plain tables, formulas that agree with the figures, notes apart."""

from __future__ import annotations

import io
from dataclasses import replace
from datetime import date
from decimal import Decimal
from typing import Any

import pytest
from openpyxl import load_workbook
from samples import sample_summary

from coretrack.figures.money import to_decimal
from coretrack.figures.table import Row, Table, column_letters
from coretrack.paper.cells import Formula
from coretrack.paper.incoming import read_table
from coretrack.paper.workbook import (
    MONEY,
    RATE,
    Sheet,
    money_cell,
    rate_cell,
    summary_workbook,
    workbook,
)

SUMMARY = sample_summary()
CONTENT = summary_workbook(SUMMARY)
TITLES = [
    "Summary",
    "Yield by family",
    "Cost",
    "By source",
    "By lot",
    "Charges",
    "Attention",
    "Notes",
]


def _sheet(title: str) -> Table:
    return read_table("x.xlsx", CONTENT, sheet=title)


def _value(table: Table, row: Row, heading: str) -> Any:
    return row.cells[table.headings.index(heading)].value


def _work_out(formula: str, row_of: dict[str, Decimal]) -> Decimal:
    """Work out the few kinds of formulas written here: + - * / and brackets over cells."""
    expression = formula.removeprefix("=")
    for place in sorted(row_of, key=len, reverse=True):
        expression = expression.replace(place, f"D('{row_of[place]}')")
    assert set(expression) <= set("D('.0123456789')+-*/E")
    return Decimal(eval(expression, {"D": Decimal}))


def test_the_summary_has_a_sheet_a_question_and_notes() -> None:
    assert load_workbook(io.BytesIO(CONTENT)).sheetnames == TITLES


def test_headings_are_frozen_and_stand_in_the_first_row() -> None:
    book = load_workbook(io.BytesIO(CONTENT))
    for title in TITLES:
        assert book[title].freeze_panes == "A2"
        assert book[title]["A1"].font.bold
        assert _sheet(title).heading_row == 1


def test_money_is_a_number_with_two_places_and_exact() -> None:
    book = load_workbook(io.BytesIO(CONTENT))
    table = _sheet("Cost")
    column = table.headings.index("scrap recovery") + 1
    for place, row in enumerate(SUMMARY.costs, start=2):
        cell = book["Cost"].cell(place, column)
        assert row.yields.counts.decided == 0 or cell.number_format == MONEY
        known = row.yields.counts.decided > 0
        assert _value(table, table.rows[place - 2], "scrap recovery") == (
            to_decimal(row.parts.recovery) if known else None
        )


def test_cost_per_good_body_is_a_formula_over_net_cost_and_good_bodies() -> None:
    book = load_workbook(io.BytesIO(CONTENT))["Cost"]
    table = _sheet("Cost")
    column = table.headings.index("cost per good body") + 1
    known = 0
    for place, row in enumerate(SUMMARY.costs, start=2):
        cell = book.cell(place, column)
        if row.cost_per_good_body is None:
            assert cell.value is None
            continue
        known += 1
        net, good = (
            f"{column_letters(table.headings.index(name) + 1)}{place}"
            for name in ("net cost", "good")
        )
        assert cell.value == f"={net}/{good}"
        stored = table.rows[place - 2].cells[column - 1].value
        assert stored == to_decimal(row.cost_per_good_body)
        again = to_decimal(row.parts.net) / row.yields.counts.good
        assert abs(again - stored) <= Decimal("0.00005")
    assert known >= 2


def test_totals_are_sums_of_their_columns() -> None:
    for title, rows in (
        ("Cost", SUMMARY.costs),
        ("By source", SUMMARY.by_source),
        ("By lot", SUMMARY.by_lot),
    ):
        table = _sheet(title)
        book = load_workbook(io.BytesIO(CONTENT))[title]
        last = table.rows[-1]
        assert last.cells[0].text == "Total of these rows"
        for heading in ("decided", "good", "price", "spent", "scrap recovery", "net cost"):
            column = table.headings.index(heading)
            letters = column_letters(column + 1)
            assert book.cell(last.number, column + 1).value == (
                f"=SUM({letters}2:{letters}{last.number - 1})"
            )
            parts = [row.cells[column].value for row in table.rows[:-1]]
            assert last.cells[column].value == sum(part for part in parts if part is not None)
        assert len(table.rows) == len(rows) + 1


def test_every_formula_of_the_charge_sheet_agrees_with_the_figure_beside_it() -> None:
    book = load_workbook(io.BytesIO(CONTENT))["Charges"]
    table = _sheet("Charges")
    checked = 0
    for row in table.rows:
        cells = {
            cell.coordinate: cell.value for cell in row.cells if isinstance(cell.value, Decimal)
        }
        for cell in book[row.number]:
            if cell.data_type == "f":
                stored = cells[cell.coordinate]
                assert abs(_work_out(cell.value, cells) - stored) <= Decimal("0.00011")
                checked += 1
    assert checked >= 6


def test_an_unknown_figure_is_an_empty_cell_with_its_reason() -> None:
    table = _sheet("Cost")
    unknown = [row for row in SUMMARY.costs if row.cost_per_good_body is None]
    assert unknown
    for cost in unknown:
        row = next(row for row in table.rows if row.cells[0].text == cost.group)
        assert _value(table, row, "cost per good body") is None
        assert cost.why
        assert cost.why in _value(table, row, "why")


def test_nothing_in_the_workbook_is_an_error_or_a_figure_without_a_value() -> None:
    for title in TITLES:
        for row in _sheet(title).rows:
            assert [cell.problem for cell in row.cells if cell.problem] == []


def test_yields_are_rates_with_their_bounds() -> None:
    table = _sheet("Yield by family")
    for row, found in zip(SUMMARY.yields, table.rows, strict=True):
        assert _value(table, found, "yield") == rate_cell_or_none(row.body_yield)
        assert _value(table, found, "good") == row.counts.good
        for heading in ("yield", "low", "high"):
            kind = found.cells[table.headings.index(heading)].kind
            assert kind == ("empty" if row.body_yield is None else "percent")


@pytest.mark.parametrize(
    ("title", "headings"),
    [("Yield by family", ("low", "high")), ("Charges", ("yield low", "yield high"))],
)
def test_bounds_of_a_yield_are_numbers_a_spreadsheet_can_work_with(
    title: str, headings: tuple[str, ...]
) -> None:
    page = load_workbook(io.BytesIO(CONTENT))[title]
    table = _sheet(title)
    for heading in headings:
        cell = page.cell(2, table.headings.index(heading) + 1)
        assert (cell.data_type, cell.number_format) == ("n", RATE)
        assert 0 < cell.value < 1


def test_the_counts_add_up_and_each_says_what_it_counts() -> None:
    rows = {row.cells[0].text: row.cells for row in _sheet("Summary").rows}
    parts = [rows[name][1].value for name, _ in SUMMARY.whereabouts]
    assert sum(parts) == rows["cores received"][1].value == SUMMARY.received
    assert rows["excess"][2].text == "cores"
    assert rows["open core lines"][2].text == "lines"
    attention = _sheet("Attention").rows
    assert [row.cells[2].text for row in attention] == ["cores", "gauges", "cores"]


def test_the_sheet_by_source_says_which_cores_it_lacks() -> None:
    last = _sheet("By source").rows[-1]
    assert "1 core has lost the source" in " ".join(cell.text for cell in last.cells)
    notes = " ".join(row.cells[1].text for row in _sheet("Notes").rows)
    assert "A source's row mixes its families." in notes


def rate_cell_or_none(rate: float | None) -> Decimal | None:
    return None if rate is None else Decimal(format(rate, ".15g"))


def test_the_day_it_was_made_and_the_currency_are_on_it() -> None:
    table = _sheet("Summary")
    made = next(row for row in table.rows if row.cells[0].text == "made at")
    assert made.cells[1].kind == "date"
    notes = " ".join(row.cells[1].text for row in _sheet("Notes").rows)
    assert SUMMARY.currency in notes
    assert "An empty figure is not known" in notes


def test_a_shop_with_nothing_yet_gets_a_workbook_too() -> None:
    empty = replace(SUMMARY, yields=(), costs=(), charges=(), by_source=(), by_lot=(), attention=())
    content = summary_workbook(empty)
    assert read_table("x.xlsx", content, sheet="Cost").rows == ()


def test_names_that_begin_like_formulas_stay_texts() -> None:
    wicked = replace(SUMMARY, shop_name="=1+1", attention=())
    book = load_workbook(io.BytesIO(summary_workbook(wicked)))["Summary"]
    assert (book["B2"].data_type, book["B2"].value) == ("s", "=1+1")


def test_weeks_are_said_to_be_iso_weeks() -> None:
    sheet = Sheet("Weekly", ("week", "good"), [("2026-W53", 4)])
    notes = read_table("x.xlsx", workbook([sheet]), sheet="Notes")
    assert "ISO 8601" in notes.rows[0].cells[1].text


def test_a_generic_sheet_takes_formats_widths_and_notes() -> None:
    sheet = Sheet(
        "Lot 3/4",
        ("day", "amount", "sum"),
        [(date(2026, 5, 4), money_cell(12_345), Formula("=B2*2", Decimal("2.469")))],
        widths=(14, 10, 10),
        note="made up",
        formats=(None, MONEY, MONEY),
    )
    content = workbook([sheet])
    book = load_workbook(io.BytesIO(content))
    assert book.sheetnames == ["Lot 3 4", "Notes"]
    page = book["Lot 3 4"]
    assert page.column_dimensions["A"].width == 14
    assert page["B2"].number_format == MONEY
    assert page["A2"].is_date
    cells = read_table("x.xlsx", content).rows[0].cells
    assert [cell.value for cell in cells] == [
        date(2026, 5, 4),
        Decimal("1.2345"),
        Decimal("2.469"),
    ]


def test_a_row_longer_than_its_headings_and_a_workbook_without_sheets_are_mistakes() -> None:
    with pytest.raises(ValueError, match="2 cells under 1 headings"):
        workbook([Sheet("x", ("a",), [(1, 2)])])
    with pytest.raises(ValueError, match="at least one sheet"):
        workbook([])


def test_unknown_money_and_rates_are_empty() -> None:
    assert money_cell(None) is None
    assert rate_cell(None) is None
    assert rate_cell(0.7) == Decimal("0.7")
