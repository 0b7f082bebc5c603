"""The owner's page and its files, asked for the way a browser does, without one."""

from __future__ import annotations

import json
import re
from collections.abc import Callable
from dataclasses import fields, replace
from decimal import Decimal
from html import unescape
from itertools import pairwise
from pathlib import Path

import pytest
from flask import Flask
from flask.testing import FlaskClient
from jinja2 import StrictUndefined, meta, nodes
from samples import sample_summary

from coretrack.errors import InvalidInput, NotFound, Unavailable
from coretrack.figures.summary import ShopSummary
from coretrack.resources import data_dir
from coretrack.web.app import create_app
from coretrack.web.here import SignedIn
from coretrack.web.pages import ErrorPage, ShopPage, shop_page

SHOP = sample_summary()


def app_on(summary: Callable[[], ShopSummary], **papers: Callable[[ShopSummary], bytes]) -> Flask:
    owner = SignedIn("Edda Mallin", "owner")
    return create_app(
        None, summary=summary, secret="only for tests", signed_in=lambda: owner, **papers
    )


@pytest.fixture
def client() -> FlaskClient:
    return app_on(sample_summary).test_client()


def page_text(client: FlaskClient, address: str = "/office/") -> str:
    html = client.get(address).get_data(as_text=True)
    return " ".join(unescape(re.sub(r"<[^>]+>", " ", html)).split())


def test_the_page_shows_what_became_of_the_cores(client: FlaskClient) -> None:
    text = page_text(client)
    for said in ("cores in 722", "good 453", "scrapped 174", "excess 3", "comebacks 2"):
        assert said in text
    assert "Core credits paid 6,412.50. Customers' deposits of 2,190.00 are open" in text


def test_the_page_shows_yield_cost_and_charge_of_each_family(client: FlaskClient) -> None:
    text = page_text(client)
    assert "Cost per good body 39.26 (36.84 … 42.26) n 380 decided, 259 good" in text
    assert "Suggested core charge 18.27 … 22.02 Today's charge 18.00 since 2026-03-02" in text
    assert "Today's charge is 0.27 below the range. Yield 68.2 % (63.3 … 72.6 %) of 380" in text
    assert "A good body is worth 40.37: 2 bought lots" in text
    assert "Nothing is changed by itself: the owner decides." in text


def test_the_page_says_what_needs_attention(client: FlaskClient) -> None:
    assert "12 cores waiting longer than 30 days: grade the oldest first" in page_text(client)
    calm = app_on(lambda: replace(SHOP, attention=())).test_client()
    assert "Nothing right now." in page_text(calm)


def test_what_is_unknown_is_words_on_the_page(client: FlaskClient) -> None:
    text = page_text(client)
    assert "Gear pump body Cost per good body no figure yet" in text
    assert "No charge is suggested: no core of this group has been decided yet, and it" in text
    assert "Alternator frame Cost per good body no figure yet, at least 99.44" in text
    assert not re.search(r"\b(nan|none %|undefined|null)\b", text, re.IGNORECASE)


def test_a_shop_with_nothing_in_it_gets_a_page_too() -> None:
    empty = ShopSummary(
        **{field.name: getattr(SHOP, field.name) for field in fields(SHOP)}
        | dict.fromkeys(("yields", "costs", "charges", "by_source", "by_lot", "attention"), ())
        | {"received": 0, "kept": 0}
    )
    text = page_text(app_on(lambda: empty).test_client())
    assert "No family has a core-charge line yet" in text


def test_charts_stand_on_the_page_with_their_table(client: FlaskClient) -> None:
    html = client.get("/office/").get_data(as_text=True)
    assert html.count('role="img"') == 2 + 2 * 5 + 2 * 3
    assert html.count("As a table") == 5 + 3
    identities = re.findall(r'\bid="([^"]+)"', html)
    assert len(identities) == len(set(identities))
    named = " ".join(re.findall(r'aria-labelledby="([^"]+)"', html)).split()
    assert set(named) <= set(identities)


def test_headings_go_down_one_step_at_a_time_and_landmarks_are_there(client: FlaskClient) -> None:
    html = client.get("/office/").get_data(as_text=True)
    levels = [int(level) for level in re.findall(r"<h([1-6])", html)]
    assert levels[0] == 1
    assert levels.count(1) == 1
    assert all(after <= before + 1 for before, after in pairwise(levels))
    for landmark in ("<header", "<nav", "<main", "<footer"):
        assert html.count(landmark) == 1
    assert '<html lang="en">' in html


def test_names_are_escaped_everywhere() -> None:
    sharp = "<img src=x onerror=alert(1)>"
    bad = replace(
        SHOP,
        shop_name=sharp,
        charges=tuple(replace(advice, family_name=sharp) for advice in SHOP.charges),
        by_lot=tuple(replace(row, yields=replace(row.yields, group=sharp)) for row in SHOP.by_lot),
    )
    html = app_on(lambda: bad).test_client().get("/office/").get_data(as_text=True)
    assert "<img" not in html
    assert html.count("&lt;img") > 5


def test_the_page_asks_for_nothing_from_outside_and_has_no_inline_style(
    client: FlaskClient,
) -> None:
    html = client.get("/office/").get_data(as_text=True)
    sources = re.findall(r'\b(?:src|href)="([^"]+)"', html)
    assert sources
    assert all(source.startswith(("/", "#")) for source in sources)
    assert "style=" not in html
    assert "<style" not in html
    assert "<script" not in html
    css = client.get("/static/style.css")
    assert css.status_code == 200
    assert not re.search(r"https?:|@import|url\(", css.get_data(as_text=True))
    css.close()


@pytest.mark.parametrize(
    "address", ["/office/", "/office/figures.json", "/nowhere", "/static/style.css"]
)
def test_every_answer_carries_the_security_headers(client: FlaskClient, address: str) -> None:
    response = client.get(address)
    policy = response.headers["Content-Security-Policy"]
    assert "default-src 'self'" in policy
    assert "frame-ancestors 'self'" in policy
    assert response.headers["X-Frame-Options"] == "SAMEORIGIN"
    assert "camera=(self)" in response.headers["Permissions-Policy"]
    assert "unsafe" not in policy
    assert response.headers["X-Content-Type-Options"] == "nosniff"
    assert response.headers["Referrer-Policy"] == "same-origin"
    response.close()


def test_pages_with_figures_are_not_kept_by_the_browser(client: FlaskClient) -> None:
    assert client.get("/office/").headers["Cache-Control"] == "private, no-store"


def test_the_json_has_money_as_text_rates_as_numbers_and_null_with_a_reason(
    client: FlaskClient,
) -> None:
    def refuse(word: str) -> None:
        raise AssertionError(f"{word} is not JSON")

    response = client.get("/office/figures.json")
    assert response.mimetype == "application/json"
    figures = json.loads(response.get_data(as_text=True), parse_constant=refuse)
    cores = figures["cores"]
    assert cores["keep"] == 453
    assert sum(cores.values()) == 2 * cores["received"]
    assert figures["credits_paid"] == "6412.50"
    first, unknown, none_good = (figures["costs"][place] for place in (0, 3, 4))
    assert first["cost_per_good_body"] == "39.26"
    assert first["yield"] == pytest.approx(259 / 380)
    assert unknown["yield"] is None
    assert unknown["cost_per_good_body"] is None
    assert unknown["why"]
    assert unknown["net_cost"] is None
    assert set(unknown["spent"].values()) == {None}
    steps = [Decimal(step["amount"]) for step in first["waterfall"]]
    assert sum(steps) == Decimal(first["cost_per_good_body"])
    assert {step["of"] for step in first["waterfall"]} == {"one core", "scrapped cores"}
    assert figures["attention"][1]["counts"] == "gauges"
    assert none_good["yield"] == 0
    assert none_good["cost_per_good_body"] is None
    assert none_good["why"]
    assert figures["charges"][0]["charge_today"] == "18.00"
    assert figures["charges"][3]["make_whole"] is None
    assert figures["made_at"] == "2026-06-08T06:30:00+00:00"


def test_the_charge_sheet_is_a_pdf_of_the_same_figures(client: FlaskClient) -> None:
    response = client.get("/office/charge-sheet.pdf")
    assert response.mimetype == "application/pdf"
    assert response.data.startswith(b"%PDF-")
    assert 'filename="charge-sheet.pdf"' in response.headers["Content-Disposition"]


def test_a_workbook_is_offered_only_where_there_is_one(client: FlaskClient) -> None:
    assert "Workbook" not in client.get("/office/").get_data(as_text=True)
    missing = client.get("/office/figures.xlsx")
    assert missing.status_code == 404
    assert "There is no workbook here" in missing.get_data(as_text=True)
    asked: list[ShopSummary] = []

    def workbook(summary: ShopSummary) -> bytes:
        asked.append(summary)
        return b"PK of a workbook"

    offering = app_on(sample_summary, workbook=workbook).test_client()
    assert "Workbook (XLSX)" in offering.get("/office/").get_data(as_text=True)
    response = offering.get("/office/figures.xlsx")
    assert response.data == b"PK of a workbook"
    assert response.headers["Content-Disposition"] == 'attachment; filename="figures.xlsx"'
    assert [summary.shop_name for summary in asked] == [SHOP.shop_name]


def test_an_unknown_address_gets_a_page_that_helps(client: FlaskClient) -> None:
    response = client.get("/nowhere")
    assert response.status_code == 404
    assert "Nothing lies at this address" in response.get_data(as_text=True)


@pytest.mark.parametrize(
    ("error", "status"),
    [(NotFound("Lot 12 is not here."), 404), (Unavailable("The database is busy."), 503)],
)
def test_an_error_of_ours_is_shown_with_its_message(error: Exception, status: int) -> None:
    def failing() -> ShopSummary:
        raise error

    response = app_on(failing).test_client().get("/office/")
    assert response.status_code == status
    assert str(error) in response.get_data(as_text=True)


def test_an_unforeseen_error_shows_a_number_and_no_trace(
    caplog: pytest.LogCaptureFixture,
) -> None:
    def failing() -> ShopSummary:
        raise RuntimeError("secret details of row 7")

    response = app_on(failing).test_client().get("/office/")
    text = response.get_data(as_text=True)
    assert response.status_code == 500
    assert "secret details" not in text
    assert "Traceback" not in text
    number = re.search(r"number ([0-9a-f]{8})", text)
    assert number is not None
    assert number[1] in caplog.text
    assert "secret details" in caplog.text


@pytest.mark.parametrize(
    ("headers", "status"),
    [
        ({"Sec-Fetch-Site": "cross-site"}, 403),
        ({"Sec-Fetch-Site": "same-site"}, 403),
        ({"Origin": "http://elsewhere.example"}, 403),
        ({"Origin": "null"}, 403),
        ({"Sec-Fetch-Site": "same-origin"}, 405),
        ({"Origin": "http://localhost"}, 405),
        ({}, 405),
    ],
)
def test_a_write_from_another_site_is_refused_before_anything_else(
    client: FlaskClient, headers: dict[str, str], status: int
) -> None:
    assert client.post("/office/", headers=headers).status_code == status


def test_an_application_without_a_secret_is_not_built() -> None:
    with pytest.raises(InvalidInput, match="secret"):
        create_app(None, summary=sample_summary, secret="")


def test_templates_refuse_undefined_names_and_use_only_the_page() -> None:
    app = app_on(sample_summary)
    assert app.jinja_env.undefined is StrictUndefined
    for name in app.jinja_env.list_templates(extensions=["html"]):
        app.jinja_env.get_template(name)
    for name in ("office/shop.html", "error.html", "base.html"):
        source = (data_dir("templates") / name).read_text(encoding="utf-8")
        tree = app.jinja_env.parse(source)
        macros = {str(one) for found in tree.find_all(nodes.FromImport) for one in found.names}
        asked = meta.find_undeclared_variables(tree)
        assert asked - macros <= {"page", "url_for", "lock_tags", "here", "booth"}, name


@pytest.mark.parametrize(
    ("template", "page_class"), [("office/shop.html", ShopPage), ("error.html", ErrorPage)]
)
def test_each_template_uses_fields_that_its_page_has(template: str, page_class: type) -> None:
    source = (data_dir("templates") / template).read_text(encoding="utf-8")
    used = set(re.findall(r"\bpage\.(\w+)", source)) | {"title"}
    known = {field.name for field in fields(page_class)}
    assert used <= known
    if page_class is ShopPage:
        assert known <= used


def test_groups_of_the_page_carry_the_familys_name_not_its_code() -> None:
    page = shop_page(SHOP, workbook_offered=False)
    assert page.family_rows[0].group == "Injector body, 7 mm guide"
    assert page.family_rows[3].body_yield == "–"
    assert page.family_rows[3].notes == ("No core of this group has been decided yet.",)


def test_the_steps_of_the_table_add_up_as_they_are_shown() -> None:
    for family in shop_page(SHOP, workbook_offered=False).families:
        amounts = {step.name: Decimal(step.amount.replace(",", "")) for step in family.cost_steps}
        if not amounts:
            continue
        total, one_core = amounts.pop("a good body"), amounts.pop("one core")
        scrapped = amounts.pop("cores that were scrapped (÷ yield)")
        assert sum(amounts.values()) == one_core
        assert one_core + scrapped == total


def test_the_tables_name_their_sources_and_say_what_they_leave_out(client: FlaskClient) -> None:
    text = page_text(client)
    assert "Broker lots, Fenn Brokers" in text
    assert "A source's cost is over all families it sent" in text
    assert "1 core has lost the source: it counts in the table of families only." in text
    assert "±" not in text
    assert not re.search(r"\b1 (cores|lines|rows|families)\b", text)


def luminance(colour: str) -> float:
    """Return the relative luminance of "#rrggbb" (WCAG 2.2, definition of relative luminance)."""
    parts = [int(colour[place : place + 2], 16) / 255 for place in (1, 3, 5)]
    red, green, blue = (
        part / 12.92 if part <= 0.04045 else ((part + 0.055) / 1.055) ** 2.4 for part in parts
    )
    return 0.2126 * red + 0.7152 * green + 0.0722 * blue


def contrast(one: str, two: str) -> float:
    light, dark = sorted((luminance(one), luminance(two)), reverse=True)
    return (light + 0.05) / (dark + 0.05)


@pytest.mark.parametrize("scheme", [0, 1], ids=["light", "dark"])
def test_text_and_marks_have_enough_contrast(scheme: int) -> None:
    # WCAG 2.2, 1.4.3 (AA): 4.5 for text; 1.4.11: 3 for marks that carry meaning.
    import coretrack.web.app as built

    css = (Path(str(built.__file__)).parent / "static" / "style.css").read_text(encoding="utf-8")
    block = re.findall(r":root \{(.*?)\}", css, re.DOTALL)[scheme]
    colours = dict(re.findall(r"--(\w+): (#[0-9a-f]{6})", block))
    for text in ("ink", "soft", "hue", "link"):
        for ground in ("paper", "card"):
            assert contrast(colours[text], colours[ground]) >= 4.5, (text, ground)
    for text in ("ink", "hue"):
        assert contrast(colours[text], colours["band"]) >= 4.5, text
    assert contrast(colours["mid"], colours["card"]) >= 3


@pytest.mark.parametrize("name", ["evil.example", "192.168.1.5", "shop.local:8321"])
def test_the_page_answers_to_this_computers_own_names_only(name: str) -> None:
    client = app_on(sample_summary).test_client()
    assert client.get("/office/", headers={"Host": name}).status_code == 403
    for own in ("127.0.0.1:8321", "localhost", "[::1]:8321"):
        assert client.get("/office/", headers={"Host": own}).status_code == 200
