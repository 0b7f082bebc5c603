"""The lock over a page nobody uses: it opens for the same person only, by PIN or password."""

from __future__ import annotations

from datetime import datetime, timedelta
from unittest.mock import ANY

import pytest
from flask import Flask
from flask.testing import FlaskClient
from sign_in_forms import enter, hidden, page_words, shop_app, token_on
from small_shop import SmallShop
from staff import CLERK, INSPECTOR, OWNER, PASSWORDS, PIN, add_staff

from coretrack import clock
from coretrack.actions import people
from coretrack.actions.passwords import check_password
from coretrack.actions.people import PersonChange
from coretrack.errors import InvalidInput
from coretrack.figures.tags import make_shop_code, make_tag, show_tag

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


def test_the_lock_hides_the_page_until_the_same_person_is_back(
    client: FlaskClient, moment: list[datetime]
) -> None:
    enter(client, OWNER)
    moment[0] += timedelta(minutes=11)
    locked = client.get("/people/")
    assert locked.status_code == 423
    assert "Locked" in page_words(locked)
    assert INSPECTOR not in locked.text
    form = {**dict(hidden(locked)), "secret": PASSWORDS[CLERK]}
    wrong = client.post("/unlock", data=form)
    assert wrong.status_code == 422
    assert "That password is not right" in page_words(wrong)
    form["secret"] = PASSWORDS[OWNER]
    done = client.post("/unlock", data=form)
    assert (done.status_code, done.location) == (303, "/people/")
    assert client.get("/people/").status_code == 200


def test_somebody_else_takes_a_locked_screen_over_by_signing_in(
    app: Flask, client: FlaskClient, moment: list[datetime]
) -> None:
    enter(client, OWNER)
    old = cookie(client)
    moment[0] += timedelta(minutes=11)
    assert client.get("/office/").status_code == 423
    assert enter(client, CLERK).status_code == 303
    assert client.get("/").location == "/receiving/"
    assert client.get("/office/").status_code == 403
    thief = app.test_client()
    thief.set_cookie("coretrack", old)
    assert thief.get("/office/").status_code == 303


def test_the_page_under_a_lock_opens_for_its_own_person_only(
    client: FlaskClient, badge: str
) -> None:
    enter(client, CLERK)
    told = {**SCRIPT, "X-CSRFToken": token_on(client, "/sign-in")}

    def opened(secret: str, **more: str) -> tuple[int, object]:
        client.post("/lock", headers=told)
        done = client.post("/unlock", data={"secret": secret, **more}, headers=told)
        return done.status_code, done.json

    assert opened(PIN, name=CLERK)[0] == 200
    status, said = opened(PIN, name=OWNER)
    assert status == 422
    assert isinstance(said, dict)
    assert "Ilse Thornby is signed in here now" in said["message"]
    asked = opened(badge, name=CLERK)
    assert asked == (200, {"ok": False, "message": "Badge read. Now the PIN.", "badge": badge})
    assert opened(PIN, name=CLERK, badge=badge)[0] == 200


def test_a_scan_at_the_lock_is_no_try(client: FlaskClient) -> None:
    enter(client, CLERK)
    told = {**SCRIPT, "X-CSRFToken": token_on(client, "/sign-in")}
    client.post("/lock", headers=told)
    codes = (make_tag(1, 42), show_tag(make_tag(2, 7)), make_shop_code("order", "done"))
    for scanned in codes * 5:
        done = client.post("/unlock", data={"secret": scanned, "name": CLERK}, headers=told)
        assert done.status_code == 422
        assert isinstance(done.json, dict)
        assert "not count as a try" in done.json["message"]
    assert client.post("/unlock", data={"secret": PIN, "name": CLERK}, headers=told).json == {
        "ok": True,
        "token": ANY,
    }


def test_a_scan_in_the_sign_in_form_is_no_try_for_anybody(client: FlaskClient) -> None:
    for told in ({"name": CLERK, "password": make_tag(1, 42)}, {"name": make_tag(1, 42)}) * 6:
        refused = enter(client, **{"password": "", **told})
        assert refused.status_code == 422
        assert "not count as a try" in page_words(refused)
    assert enter(client, CLERK).status_code == 303


def test_no_password_is_one_of_the_shops_own_codes() -> None:
    with pytest.raises(InvalidInput, match="own codes"):
        check_password(make_tag(1, 42))


def test_a_page_whose_session_is_over_opens_by_signing_in_anew(
    client: FlaskClient, moment: list[datetime]
) -> None:
    enter(client, CLERK)
    told = {**SCRIPT, "X-CSRFToken": token_on(client, "/sign-in")}
    people.change_person(CLERK, PersonChange(pin="8203"), by=OWNER, now=moment[0])
    assert client.get("/receiving/", headers=SCRIPT).status_code == 401
    wrong = client.post("/unlock", data={"secret": "no", "name": CLERK}, headers=told)
    assert wrong.status_code == 422
    done = client.post("/unlock", data={"secret": PASSWORDS[CLERK], "name": CLERK}, headers=told)
    assert done.json is not None
    assert done.json["ok"] is True
    assert client.post("/awake", headers={**SCRIPT, "X-CSRFToken": done.json["token"]}).json == {
        "locked": False,
        "person": CLERK,
        "unused_seconds": 0.0,
    }


def test_typing_keeps_a_page_open_and_looking_does_not(
    client: FlaskClient, moment: list[datetime]
) -> None:
    enter(client, CLERK)
    told = {**SCRIPT, "X-CSRFToken": token_on(client, "/sign-in")}
    moment[0] += timedelta(minutes=8)
    assert client.get("/awake", headers=SCRIPT).json == {
        "locked": False, "person": CLERK, "unused_seconds": 480.0,
    }  # fmt: skip
    client.post("/awake", headers=told)
    moment[0] += timedelta(minutes=8)
    assert client.get("/awake", headers=SCRIPT).json["locked"] is False  # type: ignore[index]
    moment[0] += timedelta(minutes=3)
    assert client.get("/awake", headers=SCRIPT).json["locked"] is True  # type: ignore[index]


def test_only_pages_of_people_who_are_signed_in_bring_the_lock(client: FlaskClient) -> None:
    assert "lock.js" not in client.get("/sign-in").text
    enter(client, OWNER)
    assert 'data-person="Edda Mallin" data-idle="600.0"' in client.get("/office/").text
