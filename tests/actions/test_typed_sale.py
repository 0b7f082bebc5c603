"""A sale that is typed goes the way of a file's row: once, field by field, never changed."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, datetime
from typing import Any

import pytest
from core_yard import Yard, csv_bytes, money
from databases import TestDatabase
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from coretrack.actions import sale_views, typed_sale
from coretrack.actions.sale_views import TypedSale
from coretrack.actions.typed_sale import StoredSale
from coretrack.errors import InvalidInput, NotFound

NOW = datetime(2026, 10, 31, 12, tzinfo=UTC)
WHO: dict[str, Any] = {"by": "Pia Lund", "station": "dock", "now": NOW}
SALE = TypedSale("S7", "", "2026-10-30", "ANSL", "GP-1040", "2", "", "")


@pytest.fixture
def yard(db: TestDatabase) -> Yard:
    yard = Yard()
    yard.set_up()
    return yard


def sell(told: TypedSale = SALE, key: str = "", **changed: str) -> StoredSale:
    return typed_sale.type_sale(replace(told, **changed), key=key, **WHO)


def wrong(**changed: str) -> dict[str, str]:
    """Return what is said of each field of a sale that is refused."""
    with pytest.raises(InvalidInput) as refused:
        sell(**changed)
    return refused.value.fields


def test_a_typed_sale_opens_the_line_that_a_file_would_open(yard: Yard) -> None:
    assert sell() == StoredSale("S7/1", False)
    yard.sell("F7", 2, day="2026-10-30")
    typed, filed = yard.line("S7/1"), yard.line("F7/1")
    for name in ("sold_on", "customer", "number", "core_group", "family", "criteria_version"):
        assert getattr(typed, name) == getattr(filed, name)
    for name in ("quantity", "charge", "mode", "window_days", "after", "slide_percent"):
        assert getattr(typed, name) == getattr(filed, name)
    assert typed.charge == money("24.00")
    assert yard.is_sound()


def test_who_typed_a_sale_and_where_is_kept(yard: Yard, db: TestDatabase) -> None:
    sell()
    [(by, body)] = db.sql("SELECT by, body FROM event WHERE object_kind = 'line'")
    assert by == "Pia Lund"
    assert '"station":"dock"' in body


def test_a_charge_and_a_mode_that_are_typed_count(yard: Yard) -> None:
    sell(charge="31,50", mode="core first", line="4")
    line = yard.line("S7/4")
    assert (line.charge, line.mode) == (money("31.50"), "core first")


def test_a_customer_may_be_named(yard: Yard) -> None:
    sell(customer="ansell hydraulics")
    assert yard.line("S7/1").customer == "ANSL"


def test_the_same_form_sent_twice_is_one_line(yard: Yard) -> None:
    sell(key="form-1")
    before = yard.events()
    assert sell(key="form-1") == StoredSale("S7/1", True)
    assert yard.events() == before
    assert [line.key for line in yard.lines()] == ["S7/1"]


def test_a_changed_form_is_another_sale_even_under_the_same_key(yard: Yard) -> None:
    sell(key="form-1")
    assert sell(key="form-1", number="GP-2080") == StoredSale("S7/2", False)
    assert len(yard.lines()) == 2


def test_a_sale_that_a_file_brought_is_not_opened_again(yard: Yard) -> None:
    yard.sell("S7", 2, day="2026-10-30")
    said = wrong()
    assert set(said) == {"line"}
    assert "Line S7/1 says the very same and is stored already" in said["line"]
    assert "type 2 here" in said["line"]
    headings = "invoice,line,date,customer,number,quantity"
    sell(invoice="S8", line="1")
    yard.sell_file(csv_bytes(headings, [("S8", "1", "2026-10-30", "ANSL", "GP-1040", 2)]))
    assert [line.key for line in yard.lines()] == ["S7/1", "S8/1"]


def test_a_line_that_is_stored_is_never_changed_and_the_field_says_so(yard: Yard) -> None:
    sell()
    fields = wrong(quantity="3", line="1")
    assert set(fields) == {"line"}
    assert "S7/1 is stored already with quantity 2 (here 3)" in fields["line"]
    assert "leave the field Line empty" in fields["line"]
    assert yard.line("S7/1").quantity == 2


def test_an_empty_line_is_the_next_free_one_of_the_invoice(yard: Yard) -> None:
    sell()
    assert sell(quantity="3") == StoredSale("S7/2", False)
    assert sell(number="GP-2080") == StoredSale("S7/3", False)
    assert sell(line="4") == StoredSale("S7/4", False), "the very same, as a line of its own"


@pytest.mark.parametrize(
    ("typed", "asked"),
    [
        ("72.00", False),
        ("72.01", True),
        ("2400", True),
        ("8.00", False),
        ("7.99", True),
        ("0", True),
    ],
)
def test_a_charge_far_from_the_familys_is_asked_back(yard: Yard, typed: str, asked: bool) -> None:
    if asked:
        fields = wrong(charge=typed)
        assert set(fields) == {"charge_sure"}
        assert "far from the family's 24.00 EUR" in fields["charge_sure"]
        assert yard.lines() == []
    sell(charge=typed, charge_sure="yes" if asked else "")
    assert yard.line("S7/1").charge == money(typed)


def test_a_line_of_another_customer_is_refused_on_a_known_invoice(yard: Yard) -> None:
    sell()
    fields = wrong(customer="BROD", quantity="1")
    assert set(fields) == {"invoice"}
    assert "Invoice S7 was sold to Ansell Hydraulics (ANSL)" in fields["invoice"]


def test_a_part_of_a_name_that_one_customer_has_is_taken(yard: Yard) -> None:
    sell(customer="hydraul")
    assert yard.line("S7/1").customer == "ANSL"
    assert sale_views.sale_terms(replace(SALE, customer="brodw"), NOW).customer_name == (
        "Brodwell Counter"
    )


def test_every_wrong_field_is_named_at_once_and_nothing_is_stored(yard: Yard) -> None:
    before = yard.events()
    fields = wrong(
        invoice=" ", date="31.10.26", customer="NOBODY", number="GP-10", quantity="0", mode="later"
    )
    assert set(fields) == {"invoice", "date", "customer", "number", "quantity", "mode"}
    assert "GP-1040" in fields["number"]
    assert "'31.10.26' is no day; write it like 2026-10-31" in fields["date"]
    assert "Ansell Hydraulics (ANSL), Brodwell Counter (BROD)" in fields["customer"]
    assert "COPP" not in fields["customer"]
    assert yard.events() == before


@pytest.mark.parametrize(
    ("field", "typed", "said"),
    [
        ("date", "2026-11-01", "is after today (2026-10-31)"),
        ("date", "", "Say on which day"),
        ("quantity", "1.5", "whole number"),
        ("quantity", "", "needed"),
        ("quantity", "10000000", "whole number up to"),
        ("charge", "-1", "zero or more"),
        ("charge", "1.234", "could be 1234 or 1.234"),
        ("charge", "0.005", "whole number of cents"),
        ("charge", "1000004235", "looks like a barcode"),
        ("customer", "COPP", "cores are bought from them"),
        ("number", "GР-1040", "only looks like the Latin P"),
        ("invoice", "x" * 81, "80 is the most"),
        ("line", "a\x00b", "control sign"),
    ],
)
def test_a_wrong_field_says_what_would_be_right(
    yard: Yard, field: str, typed: str, said: str
) -> None:
    fields = wrong(**{field: typed})
    assert set(fields) == {field}
    assert said in fields[field]


def test_a_family_without_a_charge_asks_for_one(yard: Yard) -> None:
    fields = wrong(number="CB-77")
    assert "family CLB had none on 2026-10-30" in fields["charge"]
    sell(number="CB-77", charge="9")
    assert yard.line("S7/1").charge == money("9.00")


def test_what_a_sale_will_say_is_shown_while_it_is_typed(yard: Yard) -> None:
    terms = sale_views.sale_terms(replace(SALE, number="gp 1040", customer="BROD"), NOW)
    assert (terms.number, terms.superseded_by, terms.family) == (
        "GP-1040",
        "GP-1044",
        "Gear pump body",
    )
    assert (terms.charge, terms.due_on) == (money("24.00"), "2026-11-29")
    assert terms.customer_name == "Brodwell Counter"
    early = sale_views.sale_terms(replace(SALE, date="2026-06-30"), NOW)
    assert early.charge == money("20.00")


def test_numbers_that_begin_as_typed_are_offered(yard: Yard) -> None:
    terms = sale_views.sale_terms(TypedSale(number="gp10"), NOW)
    assert terms.offers == ("GP-1040", "GP-1044")
    assert (terms.number, terms.charge, terms.due_on) == ("", None, "")


def test_the_lines_of_the_invoice_are_shown(yard: Yard) -> None:
    sell()
    [line] = sale_views.sale_terms(SALE, NOW).lines
    assert (line.key, line.quantity, line.customer_name) == ("S7/1", 2, "Ansell Hydraulics")
    assert sale_views.sold_line("S7/1", NOW).due_on == "2026-11-29"
    with pytest.raises(NotFound, match="no core line 'S7/9'"):
        sale_views.sold_line("S7/9", NOW)


@settings(
    max_examples=40, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture]
)
@given(typed=st.lists(st.text(max_size=12), min_size=8, max_size=8))
def test_no_typed_text_breaks_the_page_of_a_sale(yard: Yard, typed: list[str]) -> None:
    told = TypedSale(*typed)
    assert sale_views.sale_terms(told, NOW).charge is None
    with pytest.raises(InvalidInput):
        typed_sale.type_sale(told, **WHO)


def test_a_clerk_adds_a_customer_once(yard: Yard, db: TestDatabase) -> None:
    who: dict[str, Any] = {"by": "Pia Lund", "now": NOW}
    assert typed_sale.add_customer("Wick", "Wick Farm & Son", "customer", **who) == "Wick"
    before = yard.events()
    assert typed_sale.add_customer("WICK", "wick farm & son", "customer", **who) == "Wick"
    assert yard.events() == before
    assert sell(customer="Wick Farm & Son") == StoredSale("S7/1", False)


@pytest.mark.parametrize(
    ("code", "name", "kind", "field", "said"),
    [
        ("ansl", "Other", "customer", "new_code", "ANSL is Ansell Hydraulics, a customer, already"),
        ("ANSL", "Ansell Hydraulics", "dealer", "new_code", "a customer, already"),
        ("NEW", "ansell hydraulics", "customer", "new_name", "known already by the code ANSL"),
        ("", "New", "customer", "new_code", "empty"),
        ("NEW", " ", "customer", "new_name", "empty"),
        ("NEW", "New", "broker", "new_kind", "customer or dealer"),
        ("x" * 21, "New", "customer", "new_code", "20 is the most"),
        ("12345678", "New", "customer", "new_code", "looks like a barcode"),
    ],
)
def test_a_clerk_changes_no_source_and_adds_no_broker(
    yard: Yard, code: str, name: str, kind: str, field: str, said: str
) -> None:
    before = yard.events()
    with pytest.raises(InvalidInput) as refused:
        typed_sale.add_customer(code, name, kind, by="Pia Lund", now=NOW)
    assert said in refused.value.fields[field]
    assert yard.events() == before
