"""A form that meets a lock, an ended session or an aged token loses nothing and stores nothing."""

from __future__ import annotations

import io
from datetime import datetime, timedelta

import pytest
from flask import Blueprint, Flask, request
from flask.testing import FlaskClient
from sign_in_forms import enter, hidden, page_words, shop_app, token_on
from small_shop import SmallShop
from staff import CLERK, OWNER, PASSWORDS, PIN, add_staff
from werkzeug.datastructures import MultiDict

from coretrack import clock
from coretrack.actions import people
from coretrack.web.here import only, person

TYPED = MultiDict(
    [
        ("serial", "K 77/1 <b>"),
        ("reading", "24.010"),
        ("reading", "24.012"),
        ("note", "first line\nsecond line"),
        ("empty", ""),
        ("key", "a-key-of-the-form"),
    ]
)


@pytest.fixture(autouse=True)
def moment(monkeypatch: pytest.MonkeyPatch, now: datetime) -> list[datetime]:
    """The clock of the pages, to be moved by a test."""
    moments = [now]
    monkeypatch.setattr(clock, "now", lambda: moments[0])
    return moments


@pytest.fixture
def stored() -> list[tuple[str, MultiDict[str, str], list[str]]]:
    """What the measurement form stored: by whom, its fields, the files' contents."""
    return []


@pytest.fixture
def client(
    shop: SmallShop, now: datetime, stored: list[tuple[str, MultiDict[str, str], list[str]]]
) -> FlaskClient:
    """A browser at a shop with one more page: it takes any form and notes what it got."""
    add_staff(now)
    app = shop_app()
    pages = Blueprint("any form", __name__)

    @pages.post("/readings")
    @only("clerk")
    def readings() -> str:
        files = [file.read().decode() for file in request.files.values()]
        stored.append((person().name, MultiDict(request.form), files))
        return "stored"

    app.register_blueprint(pages, url_prefix="/bench")
    return app.test_client()


def send(client: FlaskClient, token: str, address: str = "/bench/readings?lot=L%2F1") -> object:
    return client.post(address, data=MultiDict([("csrf_token", token), *TYPED.items(multi=True)]))


def without_token(form: MultiDict[str, str]) -> list[tuple[str, str]]:
    return [(name, value) for name, value in form.items(multi=True) if name != "csrf_token"]


def is_kept_and_sent_by_one_button(
    client: FlaskClient, page: object, stored: list[tuple[str, MultiDict[str, str], list[str]]]
) -> None:
    words = page_words(page)  # type: ignore[arg-type]
    assert stored == []
    assert "Is this still yours?" in words
    for shown in ("serial K 77/1 <b>", "reading 24.010", "reading 24.012", "Send it now"):
        assert shown in words
    assert "a-key-of-the-form" not in words
    assert "<b>" not in page.text  # type: ignore[attr-defined]
    assert 'action="/bench/readings?lot=L%2F1"' in page.text  # type: ignore[attr-defined]
    again = client.post("/bench/readings?lot=L%2F1", data=MultiDict(hidden(page)))  # type: ignore[arg-type]
    assert again.text == "stored"
    assert without_token(stored[0][1]) == list(TYPED.items(multi=True))


@pytest.mark.parametrize("token", ["", "made up"])
def test_a_token_that_is_none_gives_the_form_again(
    client: FlaskClient, token: str, stored: list[tuple[str, MultiDict[str, str], list[str]]]
) -> None:
    enter(client, CLERK)
    page = send(client, token)
    assert page.status_code == 400  # type: ignore[attr-defined]
    is_kept_and_sent_by_one_button(client, page, stored)
    assert stored[0][0] == CLERK


def test_a_token_that_aged_gives_the_form_again(
    client: FlaskClient, stored: list[tuple[str, MultiDict[str, str], list[str]]]
) -> None:
    enter(client, CLERK)
    token = token_on(client, "/sign-in")
    client.application.config["WTF_CSRF_TIME_LIMIT"] = -1
    page = send(client, token)
    assert page.status_code == 400  # type: ignore[attr-defined]
    assert "lain open for too long" in page_words(page)  # type: ignore[arg-type]
    client.application.config["WTF_CSRF_TIME_LIMIT"] = 3600
    is_kept_and_sent_by_one_button(client, page, stored)


def test_a_form_that_meets_the_lock_is_shown_after_unlocking(
    client: FlaskClient,
    moment: list[datetime],
    stored: list[tuple[str, MultiDict[str, str], list[str]]],
) -> None:
    enter(client, CLERK)
    token = token_on(client, "/sign-in")
    moment[0] += timedelta(minutes=11)
    locked = send(client, token)
    assert locked.status_code == 423  # type: ignore[attr-defined]
    assert "What was typed is kept" in page_words(locked)  # type: ignore[arg-type]
    assert "24.010" not in page_words(locked)  # type: ignore[arg-type]
    form = MultiDict(hidden(locked))  # type: ignore[arg-type]
    form["secret"] = "9517"
    wrong = client.post("/unlock", data=form)
    assert wrong.status_code == 422
    form = MultiDict(hidden(wrong))
    form["secret"] = PIN
    is_kept_and_sent_by_one_button(client, client.post("/unlock", data=form), stored)


def test_a_form_that_meets_an_ended_session_is_shown_after_signing_in(
    client: FlaskClient,
    moment: list[datetime],
    stored: list[tuple[str, MultiDict[str, str], list[str]]],
) -> None:
    enter(client, CLERK)
    token = token_on(client, "/sign-in")
    moment[0] += timedelta(hours=13)
    away = send(client, token)
    assert away.status_code == 401  # type: ignore[attr-defined]
    assert "What you typed is kept" in page_words(away)  # type: ignore[arg-type]
    form = MultiDict(hidden(away))  # type: ignore[arg-type]
    form.update({"name": CLERK, "password": "not the right one"})
    wrong = client.post("/sign-in", data=form)
    form = MultiDict(hidden(wrong))
    form.update({"name": CLERK, "password": PASSWORDS[CLERK]})
    is_kept_and_sent_by_one_button(client, client.post("/sign-in", data=form), stored)


def test_a_form_of_another_person_is_never_stored_under_a_new_name_unasked(
    client: FlaskClient, stored: list[tuple[str, MultiDict[str, str], list[str]]]
) -> None:
    enter(client, CLERK)
    token = token_on(client, "/sign-in")
    enter(client, OWNER)
    page = send(client, token)
    assert page.status_code == 400  # type: ignore[attr-defined]
    assert stored == []


def test_a_file_has_to_be_chosen_again_and_is_named(
    client: FlaskClient, stored: list[tuple[str, MultiDict[str, str], list[str]]]
) -> None:
    enter(client, CLERK)
    data = {"customer": "ANSL", "file": (io.BytesIO(b"a,b"), "returns.csv"), "csrf_token": "old"}
    page = client.post("/bench/readings", data=data)
    assert "Choose again: returns.csv" in page_words(page)
    assert 'enctype="multipart/form-data"' in page.text
    form = {**dict(hidden(page)), "file": (io.BytesIO(b"a,b"), "returns.csv")}
    assert client.post("/bench/readings", data=form).text == "stored"
    assert stored[0][2] == ["a,b"]


def test_a_password_is_carried_by_no_page(client: FlaskClient, now: datetime) -> None:
    enter(client, OWNER)
    form = {
        "name": "Vera Lund", "role": "clerk", "password": "five quiet lorries", "pin": "8203",
        "key": "k", "csrf_token": "old",
    }  # fmt: skip
    page = client.post("/people/add", data=form)
    assert "five quiet lorries" not in page.text
    assert "8203" not in page.text
    assert "Type again: password" in page_words(page)
    again = {**dict(hidden(page)), "password": form["password"], "pin": "8203"}
    assert client.post("/people/add", data=again).status_code == 303
    assert "Vera Lund" in [one.name for one in people.all_people(now)]


@pytest.mark.parametrize("address", ["//evil.example/x", "https://evil.example/", "javascript:x"])
def test_what_is_kept_is_never_sent_to_another_site(client: FlaskClient, address: str) -> None:
    form = {"kept-address": address, "kept:note": "x"}
    done = enter(client, CLERK, **form)
    assert done.status_code == 303
    assert "evil" not in done.text


def test_an_aged_sign_in_asks_again_and_keeps_the_name(client: FlaskClient) -> None:
    form = {"csrf_token": "old", "name": CLERK, "password": PASSWORDS[CLERK]}
    page = client.post("/sign-in", data=form)
    assert page.status_code == 400
    assert f'value="{CLERK}"' in page.text
    assert PASSWORDS[CLERK] not in page.text
    assert "lain open for too long" in page_words(page)


def test_a_form_that_is_too_large_is_answered_by_a_page(client: FlaskClient) -> None:
    enter(client, CLERK)
    app: Flask = client.application
    app.config["MAX_CONTENT_LENGTH"] = 1024 * 1024
    said = client.post(
        "/bench/readings",
        data=b"x" * 3 * 1024 * 1024,
        content_type="multipart/form-data; boundary=edge",
    )
    assert said.status_code == 413
    assert "It has 3.0 MB; 1 MB at once are the most" in page_words(said)
