"""The sign-in pages the way a browser uses them: cookies, lock-out, first owner, roles."""

from __future__ import annotations

import json
from datetime import datetime, timedelta

import pytest
from databases import TestDatabase
from flask import Flask
from flask.testing import FlaskClient
from sign_in_forms import enter, hidden, page_words, shop_app, token_on
from small_shop import SmallShop
from staff import CLERK, INSPECTOR, OWNER, PIN, add_staff

from coretrack import clock
from coretrack.records.verify import verify
from coretrack.web.access import Access, DemoPerson
from coretrack.web.sessions import PUBLIC

SCRIPT = {"Accept": "application/json"}


@pytest.fixture(autouse=True)
def moment(monkeypatch: pytest.MonkeyPatch, now: datetime) -> list[datetime]:
    """The clock of the pages: its only entry is the present moment, to be moved by a test."""
    moments = [now]
    monkeypatch.setattr(clock, "now", lambda: moments[0])
    return moments


@pytest.fixture
def badge(shop: SmallShop, now: datetime) -> str:
    """The clerk's badge."""
    return add_staff(now)


@pytest.fixture
def app(badge: str) -> Flask:
    """The application of a shop with an owner, a clerk and an inspector."""
    return shop_app()


@pytest.fixture
def client(app: Flask) -> FlaskClient:
    return app.test_client()


def cookie(client: FlaskClient) -> str:
    found = client.get_cookie("coretrack")
    assert found is not None
    return found.value


def test_every_page_leads_a_stranger_to_the_sign_in_and_back(client: FlaskClient) -> None:
    away = client.get("/people/person?name=Ilse+Thornby")
    assert away.status_code == 303
    assert away.location == "/sign-in?next=/people/person?name%3DIlse%2BThornby"
    page = client.get(away.location)
    assert ("next", "/people/person?name=Ilse+Thornby") in hidden(page)
    back = enter(client, OWNER, next="/people/person?name=Ilse+Thornby")
    assert back.status_code == 303
    assert back.location == "/people/person?name=Ilse+Thornby"


@pytest.mark.parametrize(
    "address",
    [
        "//evil.example/",
        "https://evil.example/",
        "/\\evil.example",
        "\\\\evil.example",
        "/a\r\nB: c",
    ],
)
def test_signing_in_leads_to_no_other_site(client: FlaskClient, address: str) -> None:
    assert enter(client, OWNER, next=address).location == "/"
    assert "evil" not in client.get("/sign-in", query_string={"next": address}).text


@pytest.mark.parametrize(
    ("name", "begins"),
    [(OWNER, "/office/"), (CLERK, "/receiving/"), (INSPECTOR, "/bench/")],
)
def test_each_role_begins_at_its_own_page(client: FlaskClient, name: str, begins: str) -> None:
    assert enter(client, name).location == "/"
    assert client.get("/").location == begins


def test_a_cookie_from_before_the_sign_in_is_not_signed_in(app: Flask, client: FlaskClient) -> None:
    token_on(client, "/sign-in")
    before = cookie(client)
    assert enter(client, OWNER).status_code == 303
    assert client.get("/office/").status_code == 200
    other = app.test_client()
    other.set_cookie("coretrack", before)
    assert other.get("/office/").status_code == 303


def test_a_copied_cookie_is_dead_after_signing_out(app: Flask, client: FlaskClient) -> None:
    enter(client, OWNER)
    copied = cookie(client)
    thief = app.test_client()
    thief.set_cookie("coretrack", copied)
    assert thief.get("/office/").status_code == 200
    done = client.post("/sign-out", data={"csrf_token": token_on(client, "/people/")})
    assert done.location == "/sign-in"
    assert thief.get("/office/").location.startswith("/sign-in")


def test_the_cookie_is_kept_from_scripts_and_other_sites(client: FlaskClient) -> None:
    said = enter(client, OWNER).headers.getlist("Set-Cookie")
    assert len(said) == 2
    assert all("HttpOnly" in one and "SameSite=Lax" in one for one in said)
    assert not any("Secure" in one for one in said)


def test_behind_tls_the_cookie_goes_over_https_only(badge: str) -> None:
    client = shop_app(Access(only_this_computer=False, behind_tls=True)).test_client()
    from_proxy = {
        "X-Forwarded-For": "192.0.2.7", "X-Forwarded-Proto": "https",
        "X-Forwarded-Host": "cores.example",
    }  # fmt: skip
    client.environ_base.update(
        {f"HTTP_{name.upper().replace('-', '_')}": value for name, value in from_proxy.items()}
    )
    done = enter(client, OWNER)
    assert done.status_code == 303
    assert all("Secure" in one for one in done.headers.getlist("Set-Cookie"))


def test_wrong_and_unknown_look_the_same_and_keep_the_name(client: FlaskClient) -> None:
    wrong = enter(client, CLERK, "never the right one")
    unknown = enter(client, "Vera Lund", "never the right one")
    assert wrong.status_code == unknown.status_code == 422
    assert page_words(wrong) == page_words(unknown)
    assert f'value="{CLERK}"' in wrong.text
    assert "never the right one" not in wrong.text
    assert "Name and password do not go together" in page_words(wrong)


def test_five_failures_shut_the_name_and_the_page_says_until_when(
    client: FlaskClient, moment: list[datetime]
) -> None:
    for _ in range(4):
        enter(client, CLERK, "never the right one")
    assert "shut until 12:15 (GMT)" in page_words(enter(client, CLERK, "never the right one"))
    assert enter(client, CLERK).status_code == 422
    moment[0] += timedelta(minutes=15)
    assert enter(client, CLERK).status_code == 303


def test_an_owner_lets_a_shut_person_in_again_on_the_people_page(
    app: Flask, client: FlaskClient
) -> None:
    for _ in range(5):
        enter(client, CLERK, "never the right one")
    owner = app.test_client()
    enter(owner, OWNER)
    assert "▲ shut until 2026-10-31 12:15 GMT" in page_words(owner.get("/people/"))
    page = owner.get("/people/person", query_string={"name": CLERK})
    assert "Let in again" in page_words(page)
    form = {"csrf_token": token_on(owner, "/people/"), "name": CLERK, "act": "let in", "key": "k"}
    assert owner.post("/people/person", data=form).status_code == 303
    assert enter(client, CLERK).status_code == 303


def test_a_badge_scanned_into_the_name_field_goes_on_to_its_pin(
    client: FlaskClient, badge: str
) -> None:
    asked = enter(client, badge, "")
    assert asked.status_code == 200
    assert f"Badge {badge}" in page_words(asked)
    assert CLERK not in asked.text
    done = enter(client, "", PIN, badge=badge)
    assert done.status_code == 303
    assert client.get("/").location == "/receiving/"


def test_badge_and_pin_typed_into_the_two_fields_sign_in_at_once(
    client: FlaskClient, badge: str
) -> None:
    assert enter(client, badge, PIN).status_code == 303


@pytest.mark.parametrize(
    ("name", "password", "field"), [("", "x" * 12, "name"), (CLERK, "", "password")]
)
def test_what_is_missing_is_said_at_its_field_and_counts_as_no_failure(
    client: FlaskClient, name: str, password: str, field: str
) -> None:
    for _ in range(6):
        said = enter(client, name, password)
        assert said.status_code == 422
        assert f'aria-describedby=" {field}-wrong"' in said.text
    assert enter(client, CLERK).status_code == 303


def test_the_screens_name_is_kept_by_the_browser_and_stands_in_the_history(
    client: FlaskClient, db: TestDatabase
) -> None:
    assert 'name="station" type="text" value=""' in client.get("/sign-in").text
    enter(client, OWNER, station="Front desk")
    form = {
        "csrf_token": token_on(client, "/people/"), "name": CLERK, "role": "inspector",
        "act": "save", "key": "k",
    }  # fmt: skip
    client.post("/people/person", data=form)
    ((body,),) = db.sql("SELECT body FROM event ORDER BY id DESC LIMIT 1")
    assert json.loads(body)["station"] == "Front desk"
    client.post("/sign-out", data={"csrf_token": token_on(client, "/people/")})
    assert 'value="Front desk"' in client.get("/sign-in").text
    kept = client.get_cookie("coretrack-station")
    assert kept is not None
    forged = kept.value[:4] + ("x" if kept.value[4] != "x" else "y") + kept.value[5:]
    client.set_cookie("coretrack-station", forged)
    assert 'name="station" type="text" value=""' in client.get("/sign-in").text


@pytest.mark.parametrize(
    ("name", "page", "station"),
    [
        (CLERK, "/receiving/", "receiving"),
        (INSPECTOR, "/bench/", "bench"),
        (OWNER, "/people/", "office"),
    ],
)
def test_a_screen_without_a_name_is_called_after_the_work_of_who_signs_in(
    client: FlaskClient, name: str, page: str, station: str
) -> None:
    enter(client, name)
    assert f" at {station}" in page_words(client.get(page))
    client.post("/sign-out", data={"csrf_token": token_on(client, page)})
    assert 'name="station" type="text" value=""' in client.get("/sign-in").text


def test_a_script_is_told_in_json_what_is_the_matter(client: FlaskClient) -> None:
    assert client.get("/people/", headers=SCRIPT).json == {"error": "signed out"}
    assert client.get("/people/", headers=SCRIPT).status_code == 401
    enter(client, OWNER)
    aged = client.post("/people/add", data={"csrf_token": "old"}, headers=SCRIPT)
    assert aged.status_code == 400
    assert aged.json is not None
    assert aged.json["error"] == "token"
    again = {**SCRIPT, "X-CSRFToken": aged.json["token"]}
    assert client.post("/awake", headers=again).status_code == 200
    client.post("/lock", headers=again)
    locked = client.get("/people/", headers=SCRIPT)
    assert (locked.status_code, locked.json) == (423, {"error": "locked"})


def test_every_view_is_public_or_guarded_by_a_role(app: Flask) -> None:
    offenders = [
        f"{rule.endpoint} ({rule.rule})"
        for rule in app.url_map.iter_rules()
        if rule.endpoint.partition(".")[0] not in PUBLIC
        and rule.endpoint not in ("static", "start")
        and not hasattr(app.view_functions[rule.endpoint], "only")
    ]
    assert offenders == [], "give these views @only(...), under their route"


def test_the_guard_of_every_view_knows_its_roles(app: Flask) -> None:
    told = {
        endpoint: set(view.__dict__["only"])
        for endpoint, view in app.view_functions.items()
        if hasattr(view, "only")
    }
    assert told["people.home"] == told["office.figures"] == {"owner"}
    assert all(roles <= {"clerk", "inspector", "owner"} for roles in told.values())


@pytest.mark.parametrize("name", [CLERK, INSPECTOR])
@pytest.mark.parametrize("address", ["/people/", "/office/", "/office/figures.json"])
def test_the_owners_pages_are_forbidden_to_others_in_words(
    client: FlaskClient, name: str, address: str
) -> None:
    enter(client, name)
    said = client.get(address)
    assert said.status_code == 403
    assert "This page is for the owner" in page_words(said)
    done = client.post("/people/add", data={"csrf_token": token_on(client, "/sign-in")})
    assert done.status_code == 403


def test_the_owner_adds_a_person_with_a_badge_and_prints_it(client: FlaskClient) -> None:
    enter(client, OWNER)
    form = {
        "csrf_token": token_on(client, "/people/"), "key": "k1", "name": "Vera Lund",
        "role": "clerk", "password": "five quiet lorries", "pin": "8203", "badge": "1",
    }  # fmt: skip
    wrong = client.post("/people/add", data={**form, "pin": "1234", "key": "k0"})
    assert wrong.status_code == 422
    assert 'value="Vera Lund"' in wrong.text
    assert "five quiet lorries" not in wrong.text
    assert "Vera Lund" not in page_words(client.get("/people/"))
    for _ in range(2):
        assert client.post("/people/add", data=form).status_code == 303
    assert "Vera Lund clerk 0010 0002 16" in page_words(client.get("/people/"))
    printed = client.get("/people/badge.pdf", query_string={"name": "Vera Lund"})
    assert printed.data.startswith(b"%PDF-")
    assert verify()[1] == []


def test_the_demo_says_who_can_sign_in_and_a_shop_never_does(badge: str, app: Flask) -> None:
    invented = DemoPerson("Oda Brennick", "clerk", "demo-receiving")
    page = shop_app(Access(demo_people=(invented,))).test_client().get("/sign-in")
    assert "Oda Brennick clerk demo-receiving" in page_words(page)
    assert "demo" not in page_words(app.test_client().get("/sign-in"))


@pytest.mark.parametrize("name", ["192.168.1.5", "shop.local:8321"])
def test_other_stations_may_use_any_name_of_this_computer(badge: str, name: str) -> None:
    client = shop_app(Access(only_this_computer=False)).test_client()
    assert client.get("/sign-in", headers={"Host": name}).status_code == 200
    here_only = shop_app().test_client()
    assert here_only.get("/sign-in", headers={"Host": name}).status_code == 403
