"""The page of a typed sale: what it says while one types, one line however often it is sent."""

from __future__ import annotations

import re
from datetime import UTC, datetime
from html import unescape

import pytest
from browser.browsing import browser, opened, served
from core_yard import Yard, money
from databases import TestDatabase
from station_client import StationClient, station_app, words
from werkzeug.test import TestResponse

from coretrack.web import imports

NOW = datetime(2026, 10, 31, 12, tzinfo=UTC)
ADDRESS = "/receiving/files/sale"
SALE = {
    "invoice": "S/7 #1",
    "date": "2026-10-30",
    "customer": "ANSL",
    "number": "GP-1040",
    "quantity": "2",
    "mode": "up front",
}


@pytest.fixture
def yard(db: TestDatabase, monkeypatch: pytest.MonkeyPatch) -> Yard:
    monkeypatch.setattr(imports, "now", lambda: NOW)
    yard = Yard(now=NOW)
    yard.set_up()
    return yard


@pytest.fixture
def clerk(yard: Yard) -> StationClient:
    return StationClient(name="Pia Lund")


def send(
    clerk: StationClient, do: str = "store", key: str = "form-1", **typed: str
) -> TestResponse:
    return clerk.post(ADDRESS, {**SALE, "key": key, "do": do, **typed})


def followed(clerk: StationClient, answer: TestResponse) -> TestResponse:
    assert answer.status_code == 303, words(answer)
    return clerk.client.get(answer.headers["Location"])


def value(page: TestResponse, name: str) -> str:
    """Return what a field of the page's work holds."""
    _, _, work = page.get_data(as_text=True).partition('<div id="work">')
    found = re.search(rf'<input [^>]*name="{name}"[^>]*>', work)
    assert found is not None, name
    held = re.search(r'value="([^"]*)"', found[0])
    return unescape(held[1]) if held else ""


def test_the_form_starts_with_today_and_the_customers(clerk: StationClient) -> None:
    page = clerk.get(ADDRESS)
    assert value(page, "date") == "2026-10-31"
    html = page.get_data(as_text=True)
    assert '<option value="ANSL">Ansell Hydraulics</option>' in html
    assert '<option value="COPP">' not in html


def test_a_sale_is_stored_and_the_page_says_its_line_and_last_day(
    clerk: StationClient, yard: Yard
) -> None:
    done = followed(clerk, send(clerk))
    text = words(done)
    assert "Stored: line S/7 #1/1 Sold 2 × GP-1040 to Ansell Hydraulics (ANSL)" in text
    assert "Core charge each 24.00 EUR, up front Core due by 2026-11-29" in text
    assert "GP-1040 was superseded by GP-1044." in text
    assert yard.line("S/7 #1/1").quantity == 2
    assert yard.is_sound()


def test_the_delivery_of_its_cores_begins_with_the_invoice(clerk: StationClient) -> None:
    html = followed(clerk, send(clerk)).get_data(as_text=True)
    [address] = re.findall(r'href="(/receiving/\?reference=[^"]+)"', html)
    assert value(clerk.client.get(unescape(address)), "reference") == "S/7 #1"


def test_the_next_line_of_the_invoice_needs_only_what_differs(clerk: StationClient) -> None:
    page = followed(clerk, send(clerk))
    assert value(page, "invoice") == "S/7 #1"
    assert value(page, "customer") == "ANSL"
    assert value(page, "date") == "2026-10-30"
    assert value(page, "number") == ""
    assert value(page, "key") != "form-1"


@pytest.mark.parametrize("number", ["GP-9999", "gp10"])
def test_what_is_wrong_stands_at_its_field_and_all_that_was_typed_stays(
    clerk: StationClient, yard: Yard, number: str
) -> None:
    answer = send(clerk, number=number, quantity="0", charge="5,5,5", line="3")
    assert answer.status_code == 422
    html = answer.get_data(as_text=True)
    for name in ("number", "quantity", "charge"):
        assert re.search(rf'id="f-{name}"[^>]*aria-invalid="true"[^>]*w-{name}', html), name
        assert f'id="w-{name}"' in html
    for name in ("invoice", "date", "customer"):
        assert value(answer, name) == SALE[name]
        assert not re.search(rf'id="f-{name}"[^>]*aria-invalid', html)
    assert (value(answer, "number"), value(answer, "charge")) == (number, "5,5,5")
    assert value(answer, "key") == "form-1"
    assert "GP-1040" in words(answer)
    assert yard.lines() == []


def test_back_and_the_same_form_again_is_one_line(clerk: StationClient, yard: Yard) -> None:
    first = send(clerk)
    before = yard.events()
    again = followed(clerk, send(clerk))
    text = words(again)
    assert "Line S/7 #1/1 is stored already; nothing was stored a second time." in text
    assert "Stored: line S/7 #1/1" in text
    followed(clerk, first)
    assert yard.events() == before


def test_the_answer_page_may_be_loaded_again(clerk: StationClient, yard: Yard) -> None:
    page = followed(clerk, send(clerk))
    before = yard.events()
    assert "Stored: line" in words(clerk.client.get(page.request.full_path))
    assert yard.events() == before


def test_a_changed_form_after_going_back_is_a_sale_of_its_own(
    clerk: StationClient, yard: Yard
) -> None:
    send(clerk)
    followed(clerk, send(clerk, number="GP-2080"))
    assert [line.key for line in yard.lines()] == ["S/7 #1/1", "S/7 #1/2"]


def test_what_a_sale_says_is_shown_without_a_script_too(clerk: StationClient, yard: Yard) -> None:
    page = followed(clerk, send(clerk, do="look", date="2026-06-30", quantity=""))
    assert "Charge of that day 20.00 EUR each Core due by 2026-07-30" in words(page)
    assert value(page, "number") == "GP-1040"
    assert value(page, "invoice") == "S/7 #1"
    assert yard.lines() == []


def test_a_new_customer_is_added_and_the_sale_goes_on(clerk: StationClient, yard: Yard) -> None:
    told = {"new_code": "WICK", "new_name": "Wick Farm", "new_kind": "customer"}
    page = followed(clerk, send(clerk, do="customer", customer="", **told))
    assert "WICK is a customer now." in words(page)
    assert value(page, "customer") == "WICK"
    assert value(page, "number") == "GP-1040"
    assert value(page, "new_code") == ""
    followed(clerk, send(clerk, customer="WICK"))
    assert yard.line("S/7 #1/1").customer == "WICK"


def test_a_customer_who_is_known_is_not_changed(clerk: StationClient) -> None:
    told = {"new_code": "ansl", "new_name": "Somebody else", "new_kind": "customer"}
    answer = send(clerk, do="customer", **told)
    assert answer.status_code == 422
    assert "ANSL is Ansell Hydraulics, a customer, already." in words(answer)
    assert '<details id="new-customer" open>' in answer.get_data(as_text=True)
    assert value(answer, "new_name") == "Somebody else"


def test_only_the_clerk_and_the_owner_type_sales(yard: Yard) -> None:
    assert StationClient(role="inspector").get(ADDRESS).status_code == 403
    owner = StationClient(role="owner")
    assert send(owner).status_code == 303
    assert yard.line("S/7 #1/1").charge == money("24.00")


@pytest.mark.browser
def test_the_charge_of_the_day_follows_the_keys(
    sqlite_db: TestDatabase, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(imports, "now", lambda: NOW)
    yard = Yard(now=NOW)
    yard.set_up()
    with (
        served(station_app()) as address,
        browser() as running,
        opened(running, f"{address}{ADDRESS}") as page,
    ):
        page.get_by_label("Customer (code or name)").fill("BROD")
        page.get_by_label("Number sold").fill("GP-10")
        page.get_by_text("Numbers that begin so: GP-1040, GP-1044.").wait_for()
        page.get_by_label("Number sold").fill("GP-1044")
        page.get_by_text("24.00 EUR each").wait_for()
        page.get_by_label("Day of the sale").fill("2026-06-30")
        page.get_by_text("20.00 EUR each").wait_for()
        page.get_by_text("A customer who is new here").click()
        page.get_by_label("Code", exact=True).fill("WICK")
        page.get_by_label("Name", exact=True).fill("Wick Farm")
        page.get_by_label("Name", exact=True).press("Enter")
        page.get_by_text("WICK is a customer now.").wait_for()
        assert page.get_by_label("Number sold").input_value() == "GP-1044"
    assert yard.lines() == []
