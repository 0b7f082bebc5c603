"""Cases of the database and the pages: shared folders, aged forms, full disks, kept cookies."""

from __future__ import annotations

import json
import re
import time
from collections.abc import Callable, Iterator
from html import unescape
from pathlib import Path
from typing import TYPE_CHECKING

import pytest
from click.testing import CliRunner
from flask.testing import FlaskClient
from sign_in_forms import enter, page_words, shop_app, token_on
from staff import CLERK, INSPECTOR, OWNER
from station_client import station_app
from werkzeug.datastructures import MultiDict
from werkzeug.test import TestResponse

from coretrack import clock
from coretrack.actions.overview import shop_summary
from coretrack.cli.main import main
from coretrack.records import database
from coretrack.web.app import create_app
from coretrack.web.here import SignedIn

if TYPE_CHECKING:
    from conftest import CounterShop

MEMORY = "sqlite:///:memory:"
"""A place where SQLite answers another journal mode than asked for, as on a shared folder."""

LOCAL_DISK = "must lie on a disk of this computer, not on a shared or network folder"


# --- nothing inspected --------------------------------------------------------------------------


def test_aw_096_figures_without_an_inspection_are_null_with_a_reason_and_the_page_says_so(
    opened_books: CounterShop,
) -> None:
    owner = SignedIn("Edda Mallin", "owner", "office")
    client = create_app(
        None,
        summary=lambda: shop_summary(clock.now()),
        secret="only for tests",
        signed_in=lambda: owner,
    ).test_client()

    answer = client.get("/office/figures.json")
    assert answer.mimetype == "application/json"
    figures = json.loads(answer.text, parse_constant=no_constant)
    (row,) = figures["yields"]
    assert (row["received"], row["decided"]) == (12, 0)
    for name in ("yield", "first_pass_yield", "low", "high"):
        assert row[name] is None
    assert row["why"] == "no core of this group has been decided yet"
    (cost,) = figures["costs"]
    assert cost["cost_per_good_body"] is None
    assert cost["why"]
    (charge,) = figures["charges"]
    assert charge["why"]

    page = page_words(client.get("/office/"))
    assert "No core of this group has been decided yet." in page
    assert not re.search(r"\b(nan|none|null|inf)\b", page, re.IGNORECASE)
    assert "100.0 %" not in page
    assert "0.0 %" not in page


def no_constant(name: str) -> None:
    raise ValueError(f"{name} is not JSON")


# --- a folder where the log does not work -------------------------------------------------------


@pytest.fixture
def shared_folder() -> Iterator[None]:
    """The database lies where its log does not work."""
    database.open_database(MEMORY)
    yield
    database.close_database()


@pytest.mark.parametrize("address", ["/", "/sign-in", "/receiving/", "/cores/core?tag=1000000158"])
def test_aw_104_every_page_says_that_the_database_must_be_on_a_local_disk(
    shared_folder: None, address: str
) -> None:
    answer = shop_app().test_client().get(address)
    assert answer.status_code == 503
    assert "answers journal mode 'memory' instead of 'wal'" in page_words(answer)
    assert LOCAL_DISK in page_words(answer)
    assert "Traceback" not in answer.text


def test_aw_104_a_scan_is_answered_so_that_the_page_keeps_it(shared_folder: None) -> None:
    app = station_app()
    app.config["WTF_CSRF_ENABLED"] = False
    told = {"text": "00420", "page": "home", "key": "k"}
    answer = app.test_client().post(
        "/receiving/scan", json=told, headers={"Accept": "application/json"}
    )
    assert answer.status_code == 503
    assert LOCAL_DISK in answer.json["error"]


@pytest.mark.parametrize(
    "command", [("serve",), ("yield",), ("scan", "00420"), ("setup", "--name", "Quill Lane Cores")]
)
def test_aw_104_every_command_says_it_too_and_serves_nothing(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, command: tuple[str, ...]
) -> None:
    # A file of that name lets commands come so far that they open it.
    monkeypatch.chdir(tmp_path)
    Path(":memory:").touch()
    environment = {"CORETRACK_DATABASE_URL": MEMORY}
    done = CliRunner(env=environment).invoke(main, ["--data", str(tmp_path), *command])
    database.close_database()
    assert done.exit_code == 1
    assert done.stderr.startswith("Error: The database answers journal mode 'memory'")
    assert LOCAL_DISK in done.stderr
    assert done.stdout == ""


# --- a form that lay open too long --------------------------------------------------------------

CORE = MultiDict(
    [
        ("number", "00420"),
        ("serial", "K 7/1 <b>"),
        ("invoice", "S-1"),
        ("mass", "1.25"),
        ("note", "first line\nsecond line"),
        ("comeback_shown", "yes"),
        ("do", "keep"),
        ("key", "a-key-of-the-form"),
    ]
)
DELIVERY = MultiDict(
    [
        ("customer", "HALV"),
        ("reference", "their paper 7/1 <b>"),
        ("pieces", "4"),
        ("second_counter", ""),
        ("goods", "cores"),
        ("carrier", "Carter & Sons"),
        ("arrived_on", ""),
        ("note", "one box wet"),
        ("key", "another-key"),
    ]
)


@pytest.fixture
def clerk(staffed: CounterShop) -> FlaskClient:
    """A signed-in browser of the clerk, at an open delivery D-0001."""
    client = shop_app().test_client()
    assert enter(client, CLERK).status_code == 303
    told = {"customer": "HALV", "pieces": "4", "goods": "cores", "key": "begin"}
    form = {"csrf_token": token_on(client, "/receiving/"), **told}
    assert client.post("/receiving/deliveries", data=form).location.endswith("code=D-0001")
    return client


def aged(client: FlaskClient, page: str, send: Callable[[str], TestResponse]) -> TestResponse:
    """Take the token of a page, let it grow older than its limit, and send with it."""
    limit = client.application.config["WTF_CSRF_TIME_LIMIT"]
    token = token_on(client, page)
    client.application.config["WTF_CSRF_TIME_LIMIT"] = 1
    time.sleep(2.1)  # the token counts whole seconds
    answer = send(token)
    client.application.config["WTF_CSRF_TIME_LIMIT"] = limit
    return answer


@pytest.mark.parametrize(
    ("page", "address", "form", "stored"),
    [
        ("/receiving/delivery?code=D-0001", "/receiving/delivery/hand?code=D-0001", CORE, "draft"),
        ("/receiving/", "/receiving/deliveries", DELIVERY, "lot"),
    ],
    ids=["a core in hand", "a new delivery"],
)
def test_aw_106_an_aged_form_comes_back_with_every_value_and_one_button(
    clerk: FlaskClient,
    staffed: CounterShop,
    page: str,
    address: str,
    form: MultiDict[str, str],
    stored: str,
) -> None:
    """The bench has no measurement form yet; the dock's two longest forms stand for it."""
    before = (staffed.events(), staffed.rows(stored))

    def send(token: str) -> TestResponse:
        told = MultiDict([("csrf_token", token), *form.items(multi=True)])
        return clerk.post(address, data=told)

    kept = aged(clerk, page, send)
    assert kept.status_code == 400
    said = page_words(kept)
    assert "This page had lain open for too long, so nothing was stored." in said
    for name, value in form.items(multi=True):
        if name not in ("key", "do") and value:
            assert " ".join(value.split()) in said, name
    assert kept.text.count("<button") == 1, "there is one button"
    assert (staffed.events(), staffed.rows(stored)) == before

    sent = clerk.post(shown_address(kept), data=MultiDict(inputs_of(kept)))
    assert sent.status_code == 303, page_words(sent)
    if stored == "draft":
        (body,) = staffed.sql("select body from draft where key like 'core/D-0001/%'")
        hand = json.loads(body[0])
        assert hand["number_text"] == "00420"
        assert hand["serial"] == "K 7/1 <b>"
        assert hand["note"].split() == ["first", "line", "second", "line"]
    else:
        question = "select source, reference, carrier, note from lot where key = 'D-0002'"
        assert staffed.sql(question) == [
            ("HALV", "their paper 7/1 <b>", "Carter & Sons", "one box wet")
        ]


def inputs_of(page: TestResponse) -> list[tuple[str, str]]:
    """Return the hidden inputs of a page that holds one form."""
    found = re.findall(r'<input type="hidden" name="([^"]*)" value="([^"]*)">', page.text)
    return [(unescape(name), unescape(value)) for name, value in found]


def shown_address(page: TestResponse) -> str:
    """Return where the page's only form is sent."""
    (address,) = re.findall(r'<form [^>]*action="([^"]+)"', page.text)
    return unescape(address)


# --- the cookie from before ---------------------------------------------------------------------


@pytest.mark.parametrize("name", [OWNER, CLERK, INSPECTOR])
def test_aw_126_the_cookie_from_before_the_sign_in_opens_nothing(
    staffed: CounterShop, name: str
) -> None:
    app = shop_app()
    person, other = app.test_client(), app.test_client()
    token_on(person, "/sign-in")
    before = cookie(person)
    assert enter(person, name).status_code == 303
    assert person.get("/cores/").status_code == 200
    assert cookie(person) != before

    other.set_cookie("coretrack", before)
    for address in ("/", "/cores/", "/receiving/", "/office/"):
        assert other.get(address).location.startswith("/sign-in")
    form = {"csrf_token": token_on(other, "/sign-in"), "customer": "HALV", "pieces": "1"}
    assert other.post("/receiving/deliveries", data=form).status_code == 401
    assert person.get("/cores/").status_code == 200


def test_aw_126_a_cookie_planted_by_somebody_is_not_signed_in_with_its_victim(
    staffed: CounterShop,
) -> None:
    app = shop_app()
    planter, victim = app.test_client(), app.test_client()
    token_on(planter, "/sign-in")
    victim.set_cookie("coretrack", cookie(planter))
    assert enter(victim, OWNER).status_code == 303
    assert victim.get("/office/").status_code == 200
    assert planter.get("/office/").location.startswith("/sign-in")


def test_aw_126_the_cookie_of_the_person_before_is_dead_after_the_next_one_signed_in(
    staffed: CounterShop,
) -> None:
    app = shop_app()
    screen, other = app.test_client(), app.test_client()
    enter(screen, OWNER)
    other.set_cookie("coretrack", cookie(screen))
    assert other.get("/office/").status_code == 200
    enter(screen, CLERK)
    assert other.get("/office/").location.startswith("/sign-in")
    assert screen.get("/receiving/").status_code == 200


def cookie(client: FlaskClient) -> str:
    """Return the value of the session's cookie."""
    found = client.get_cookie("coretrack")
    assert found is not None
    return found.value
