"""The clerk's lists as a browser asks for them: pages, forms that act once, papers, the file."""

from __future__ import annotations

import re
from datetime import UTC, datetime
from html import unescape
from urllib.parse import parse_qs, urlsplit

import pytest
from core_yard import Yard
from databases import TestDatabase
from flask.testing import FlaskClient
from samples import sample_summary
from sign_in_forms import page_words
from werkzeug.test import TestResponse

from coretrack import clock
from coretrack.actions import cards
from coretrack.web.app import create_app
from coretrack.web.here import SignedIn

NOW = datetime(2026, 5, 25, 15, tzinfo=UTC)
ODD = 'D/1?#.. "ä" <b>'
"""A delivery's code that must survive every address and page."""


class Desk:
    """The pages with somebody at them; `role` may change between two requests."""

    def __init__(self, yard: Yard) -> None:
        self.yard = yard
        self.role = "clerk"
        app = create_app(
            None,
            summary=sample_summary,
            secret="only for tests",
            signed_in=lambda: SignedIn("Oda Fenn", self.role, "dock 1"),
        )
        self.client: FlaskClient = app.test_client()

    def get(self, page: str, status: int = 200, **args: str) -> TestResponse:
        response = self.client.get(f"/receiving/lists/{page}", query_string=args)
        assert response.status_code == status, page_words(response)
        return response

    def words(self, page: str, **args: str) -> str:
        return page_words(self.get(page, **args))

    def form(self, page: str, what: str = "", **args: str) -> dict[str, list[str]]:
        """Return the hidden inputs and ticks of the form on a page, of the one for `what`."""
        html = self.get(page, **args).get_data(as_text=True)
        forms = re.findall(r"<form[^>]*method=\"post\"[^>]*>.*?</form>", html, re.DOTALL)
        marker = f'name="what" value="{what}"' if what else 'name="customer"'
        (found,) = [form for form in forms if marker in form]
        fields: dict[str, list[str]] = {}
        for tag in re.findall(r"<input [^>]*>", found):
            kind = re.search(r'type="(\w+)"', tag)
            name = re.search(r'name="([^"]*)"', tag)
            value = re.search(r'value="([^"]*)"', tag)
            assert name is not None
            ticked = kind is not None and kind[1] == "checkbox" and "checked" in tag
            if ticked or (kind is not None and kind[1] == "hidden"):
                fields.setdefault(name[1], []).append(unescape(value[1]) if value else "")
        return fields

    def send(
        self, page: str, form: dict[str, list[str]], status: int = 303, **args: str
    ) -> TestResponse:
        response = self.client.post(f"/receiving/lists/{page}", query_string=args, data=form)
        assert response.status_code == status, page_words(response)
        return response


@pytest.fixture
def desk(db: TestDatabase, monkeypatch: pytest.MonkeyPatch) -> Desk:
    """A shop with one core of each kind, and the clerk at its lists."""
    yard = Yard(now=NOW)
    yard.set_up()
    yard.sell("00420", 4)
    yard.sell("S2", 2, customer="BROD", mode="billed later")
    yard.bring_back("A1", delivery=ODD)
    yard.bring_back("B1", customer="BROD", faults="port", day="2026-05-21")
    yard.bring_back("R1", faults="cracked", day="2026-05-22")
    yard.bring_back("E1", number="GP-2080")
    yard.bring_back("U1", number="QQ-9", mass="1.2", note="blue paint")
    yard.bring_back("C1", comeback="yes")
    cards.make_places("bin", 1, 1, "Hold", by=yard.by, station="", now=NOW, key="bins")
    monkeypatch.setattr(clock, "now", lambda: NOW)
    return Desk(yard)


def tag(desk: Desk, serial: str) -> str:
    return str(desk.yard.core(serial).tag)


def grouped(text: str) -> str:
    return f"{text[:4]} {text[4:8]} {text[8:]}"


PAGES = (
    "", "customers", "lines", "hold", "excess", "unknown", "comebacks", "deliveries", "credits",
)  # fmt: skip


@pytest.mark.parametrize("page", PAGES)
def test_every_list_opens_for_clerk_and_owner_and_not_for_the_inspector(
    desk: Desk, page: str
) -> None:
    html = desk.get(page).get_data(as_text=True)
    assert html.count("<h1>") == 1
    assert "<script>" not in html
    assert not re.search(r"<[^>]+ style=", html)
    assert html.count("<table") == html.count("<caption")
    identities = re.findall(r'\bid="([^"]+)"', html)
    assert len(identities) == len(set(identities))
    desk.role = "owner"
    desk.get(page)
    desk.role = "inspector"
    desk.get(page, 403)


def test_every_list_opens_in_an_empty_shop(
    db: TestDatabase, monkeypatch: pytest.MonkeyPatch
) -> None:
    yard = Yard(now=NOW)
    yard.set_up()
    monkeypatch.setattr(clock, "now", lambda: NOW)
    desk = Desk(yard)
    for page in PAGES:
        assert not re.search(r"\b(None|nan)\b", desk.words(page)), page
    assert "No refused core lies here." in desk.words("hold")
    assert "No credit of 2026-05-25 is ready to leave." in desk.words("credits")


def test_the_menu_says_how_much_waits(desk: Desk) -> None:
    said = desk.words("")
    for words in (
        "Credits to release 35.00 EUR 2",
        "Open core lines 4 cores, 80.00 EUR 2",
        "Hold bin 1",
        "Unknown cores 1",
        "Excess cores 1",
        "Comebacks to test 1",
        "Deliveries today 0",
    ):
        assert words in said, words


def test_a_name_or_serial_leads_straight_to_the_customer(desk: Desk) -> None:
    for text in ("ansell", "a1", grouped(tag(desk, "A1")), "00420"):
        response = desk.get("customers", 303, q=text)
        assert parse_qs(urlsplit(response.location).query) == {"code": ["ANSL"]}, text
    said = desk.words("customer", code="ANSL")
    for words in (
        "Ansell Hydraulics (ANSL)",
        "refused, in the hold bin",
        "2026-06-01",
        "20.00 EUR for 1 core ready to leave",
        ODD,
    ):
        assert words in said, words
    assert "Nobody found for “zzz”" in desk.words("customers", q="zzz")
    desk.get("customer", 404, code="zzz")


def test_the_open_lines_are_filtered_and_leave_as_a_file(desk: Desk) -> None:
    assert "2 lines, 4 cores owed, 80.00 EUR" in desk.words("lines")
    assert "1 line, 1 core owed, 20.00 EUR" in desk.words("lines", customer="BROD")
    assert "No open core line fits." in desk.words("lines", past="1")
    page = desk.get("lines", customer="ANSL").get_data(as_text=True)
    assert "lines.csv?customer=ANSL" in page
    file = desk.get("lines.csv", customer="ANSL")
    assert file.mimetype == "text/csv"
    assert b'="00420"' in file.data.replace(b'""', b'"')
    assert file.data.count(b"\r\n") == 2


def test_only_the_owner_has_forms_to_end_a_line(desk: Desk) -> None:
    said = desk.words("line", line="00420/1")
    assert "Only the owner waives or forfeits what is owed." in said
    desk.role = "owner"
    form = desk.form("line", "waived", line="00420/1")
    desk.role = "clerk"
    refused = {**form, "units": ["1"], "reason": ["no"]}
    desk.send("line", refused, 403, line="00420/1")
    desk.role = "owner"
    wrong = desk.send(
        "line", {**form, "units": ["9"], "reason": ["gone & <away>"]}, 422, line="00420/1"
    )
    html = wrong.get_data(as_text=True)
    assert 'value="gone &amp; &lt;away&gt;"' in html
    assert 'aria-invalid="true"' in html
    assert "a whole number from 1 to 3" in page_words(wrong)
    sent = {**form, "units": ["2"], "reason": ["gone"]}
    for _ in range(2):
        desk.send("line", sent, line="00420/1")
    assert desk.yard.line("00420/1").waived == 2
    assert "2 units of line 00420/1 waived" in desk.words("line", line="00420/1")
    stale = {**form, "units": ["1"], "reason": ["gone"], "key": ["another"]}
    assert "changed meanwhile" in page_words(desk.send("line", stale, 409, line="00420/1"))
    assert desk.yard.is_sound()


def test_a_refused_core_is_sent_back_by_one_form_that_acts_once(desk: Desk) -> None:
    core = tag(desk, "R1")
    said = desk.words("core", tag=core)
    assert "Refused: Visible crack -20.00" in said
    assert "Not before 2026-06-01 is over." in said
    form = desk.form("core", "send back", tag=core)
    for _ in range(2):
        response = desk.send("core", {**form, "reason": ["van"]}, tag=core)
        assert response.location == "/receiving/lists/hold"
    assert "was sent back to Ansell Hydraulics." in desk.words("hold")
    assert desk.yard.core("R1").state == "sent back"
    assert "Nothing is to be decided about it here." in desk.words("core", tag=core)
    assert desk.yard.is_sound()


def test_a_price_that_cannot_be_meant_keeps_what_was_typed(desk: Desk) -> None:
    core = tag(desk, "E1")
    form = desk.form("core", "buy", tag=core)
    wrong = desk.send("core", {**form, "price": ["12,5,0"], "reason": ["ok by Tom"]}, 422, tag=core)
    html = wrong.get_data(as_text=True)
    assert 'value="12,5,0"' in html
    assert 'value="ok by Tom"' in html
    assert html.count('aria-invalid="true"') == 1
    assert 'role="alert"' in html
    again = {**form, "price": ["12.50"], "reason": ["ok by Tom"]}
    assert desk.send("core", again, tag=core).location == "/receiving/lists/excess"
    assert desk.yard.core("E1").state == "waiting"


def test_a_core_is_put_into_a_bin_and_stays_on_its_page(desk: Desk) -> None:
    core = tag(desk, "U1")
    form = desk.form("core", "put", tag=core)
    bins = re.findall(
        r'<option value="(\d+)">Hold 1</option>', desk.get("core", tag=core).get_data(as_text=True)
    )
    response = desk.send("core", {**form, "place": bins}, tag=core)
    assert f"core?tag={core}" in response.location
    assert "Hold 1" in desk.words("unknown")
    assert "1,200 g; blue paint" in desk.words("unknown")


def test_only_the_owner_may_clear_out_early_and_says_why(desk: Desk) -> None:
    core = tag(desk, "R1")
    assert 'value="clear out"' not in desk.get("core", tag=core).get_data(as_text=True)
    desk.role = "owner"
    form = desk.form("core", "clear out", tag=core)
    assert "say why it may go" in page_words(desk.send("core", form, 422, tag=core))
    desk.send("core", {**form, "reason": ["he said so"]}, tag=core)
    assert desk.yard.core("R1").state == "cleared out"


def test_the_days_credits_leave_by_one_button_and_print(desk: Desk) -> None:
    said = desk.words("credits", day="2026-05-25", upto="1")
    assert "2 cores, 35.00 EUR for 2 customers" in said
    assert "5.00 EUR to bill" in said
    form = desk.form("credits", day="2026-05-25", upto="1")
    assert len(form["customer"]) == 2
    where = {desk.send("credits", form).location for _ in range(2)}
    assert len(where) == 1
    page = desk.client.get(where.pop())
    assert "2 credit notes, 35.00 EUR" in page_words(page)
    papers = re.findall(r'href="([^"]+\.pdf[^"]*)"', page.get_data(as_text=True))
    assert len(papers) == 3
    for address in papers:
        file = desk.client.get(unescape(address))
        assert (file.status_code, file.mimetype) == (200, "application/pdf")
        assert file.data.startswith(b"%PDF")
    assert desk.yard.core("A1").credit_note == "CN-000001"
    assert "CN-000001" in desk.words("customer", code="ANSL")
    assert desk.yard.is_sound()


def test_a_customer_left_out_keeps_its_tick_off_when_something_changed(desk: Desk) -> None:
    form = desk.form("credits", day="2026-05-25", upto="1")
    only = [tick for tick in form["customer"] if tick.endswith(":BROD")]
    desk.yard.bring_back("B2", customer="BROD", day="2026-05-22")
    changed = desk.send("credits", {**form, "customer": only}, 409)
    html = changed.get_data(as_text=True)
    assert "Brodwell Counter were changed by somebody else" in page_words(changed)
    ticks = dict(re.findall(r'name="customer" value="\w+:(\w+)"( checked)?', html))
    assert ticks == {"ANSL": "", "BROD": " checked"}
    nobody = {name: value for name, value in form.items() if name != "customer"}
    assert "Tick at least one customer." in page_words(desk.send("credits", nobody, 422))
    strange = desk.send("credits", {**form, "day": ["someday"]}, 422)
    assert "'someday' is no day" in page_words(strange)


def test_deliveries_of_any_day_and_their_papers(desk: Desk) -> None:
    html = desk.get("deliveries", day="2026-05-20").get_data(as_text=True)
    receipts = [unescape(one) for one in re.findall(r'href="([^"]+receipt\.pdf[^"]+)"', html)]
    codes = [parse_qs(urlsplit(address).query)["code"] for address in receipts]
    assert [ODD] in codes
    address = receipts[codes.index([ODD])]
    assert desk.client.get(address).data.startswith(b"%PDF")
    assert "&lt;b&gt;" in html
    assert "No delivery came in on 2026-05-25." in desk.words("deliveries")
    assert "'0.0.0' is no day" in desk.words("deliveries", day="0.0.0")
    core = tag(desk, "R1")
    assert desk.get("notice.pdf", tag=core).data.startswith(b"%PDF")
    assert desk.get("notice.pdf", delivery=desk.yard.core("R1").lot).data.startswith(b"%PDF")
    desk.get("notice.pdf", 422, tag=tag(desk, "A1"))
    for page, args in (
        ("receipt.pdf", {"code": "x"}),
        ("credit-note.pdf", {"number": "x"}),
        ("papers.pdf", {"first": "x", "last": "y"}),
        ("released", {"first": "x", "last": "y"}),
        ("core", {"tag": "x"}),
        ("line", {"line": "x"}),
    ):
        desk.get(page, 404, **args)


def test_a_form_without_the_pages_token_does_nothing(desk: Desk) -> None:
    core = tag(desk, "R1")
    form = desk.form("core", "send back", tag=core)
    del form["csrf_token"]
    response = desk.client.post(
        "/receiving/lists/core", query_string={"tag": core}, data={**form, "reason": ["x"]}
    )
    assert response.status_code in (200, 400)
    assert desk.yard.core("R1").state == "hold"
