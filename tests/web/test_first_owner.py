"""Nobody but who sits at the computer, or has the printed code, becomes the first owner."""

from __future__ import annotations

from datetime import datetime

import pytest
from databases import TestDatabase
from flask.testing import FlaskClient
from sign_in_forms import page_words, shop_app, token_on
from small_shop import SmallShop
from staff import OWNER, PASSWORDS

from coretrack import clock
from coretrack.actions import people
from coretrack.records.database import connection
from coretrack.records.queries import shop as stored_shop
from coretrack.records.verify import verify
from coretrack.web.access import Access

SCRIPT = {"Accept": "application/json"}


@pytest.fixture(autouse=True)
def moment(monkeypatch: pytest.MonkeyPatch, now: datetime) -> list[datetime]:
    """The clock of the pages: its only entry is the present moment, to be moved by a test."""
    moments = [now]
    monkeypatch.setattr(clock, "now", lambda: moments[0])
    return moments


def cookie(client: FlaskClient) -> str:
    found = client.get_cookie("coretrack")
    assert found is not None
    return found.value


FIRST = {
    "name": "Edda Mallin", "password": PASSWORDS[OWNER], "again": PASSWORDS[OWNER],
}  # fmt: skip
SHOP = {
    "shop_name": "Tallow Yard", "currency": "eur", "time_zone": "Europe/Dublin", "site": "2",
}  # fmt: skip


def first_form(client: FlaskClient, **more: str) -> dict[str, str]:
    return {"csrf_token": token_on(client, "/first-owner"), **FIRST, **more}


def test_before_there_is_an_owner_every_page_leads_to_making_one(
    db: TestDatabase, now: datetime
) -> None:
    client = shop_app().test_client()
    for address in ("/", "/sign-in", "/office/", "/receiving/"):
        assert client.get(address).location == "/first-owner"
    assert client.get("/people/", headers=SCRIPT).status_code == 401
    assert "The shop's name" in page_words(client.get("/first-owner"))
    done = client.post("/first-owner", data=first_form(client, **SHOP))
    assert (done.status_code, done.location) == (303, "/")
    with connection():
        made = stored_shop()
    assert made is not None
    assert (made.name, made.currency, made.site) == ("Tallow Yard", "EUR", 2)
    assert client.get("/").location == "/office/"
    assert client.get("/first-owner").location == "/sign-in"
    again = client.post("/first-owner", data={**FIRST, "csrf_token": token_on(client, "/people/")})
    assert again.location == "/sign-in"
    assert [one.name for one in people.all_people(now)] == ["Edda Mallin"]
    assert verify()[1] == []


def test_everything_wrong_is_said_at_its_field_and_nothing_is_made(
    db: TestDatabase, now: datetime
) -> None:
    client = shop_app().test_client()
    bad = {
        "name": " ", "again": "something else", "shop_name": "", "currency": "€",
        "time_zone": "Chicago", "site": "9",
    }  # fmt: skip
    said = client.post("/first-owner", data=first_form(client, **bad))
    assert said.status_code == 422
    for field in bad:
        assert f'id="{field}-wrong"' in said.text, field
    assert 'value="Chicago"' in said.text
    for password in ("short", "1234567890", "tallow yard 12"):
        form = first_form(client, **SHOP, **{"password": password, "again": password})
        said = client.post("/first-owner", data=form)
        assert 'id="password-wrong"' in said.text, password
        assert 'value="Tallow Yard"' in said.text
    with connection():
        assert stored_shop() is None
    assert people.all_people(now) == ()


def test_nobody_on_the_network_takes_the_shop_without_the_printed_code(
    shop: SmallShop, now: datetime
) -> None:
    client = shop_app(Access(only_this_computer=False, first_owner_code="K7QP2MXD")).test_client()
    client.environ_base["REMOTE_ADDR"] = "192.0.2.44"
    assert "'coretrack serve' printed it" in page_words(client.get("/first-owner"))
    for code in ("", "K7QP2MXE", "k7qp"):
        said = client.post("/first-owner", data=first_form(client, code=code))
        assert said.status_code == 422
        assert "not the code" in page_words(said)
    assert people.all_people(now) == ()
    assert client.post("/first-owner", data=first_form(client, code="k7qp-2mxd ")).location == "/"
    assert client.get("/office/").status_code == 200


def test_guessing_the_code_is_shut_after_five_tries(shop: SmallShop, now: datetime) -> None:
    client = shop_app(Access(only_this_computer=False, first_owner_code="K7QP2MXD")).test_client()
    client.environ_base["REMOTE_ADDR"] = "192.0.2.44"
    for _ in range(5):
        client.post("/first-owner", data=first_form(client, code="AAAABBBB"))
    said = client.post("/first-owner", data=first_form(client, code="K7QP2MXD"))
    assert "shut until" in page_words(said)
    assert people.all_people(now) == ()


@pytest.mark.parametrize(
    ("access", "headers", "address"),
    [
        (Access(only_this_computer=False), {}, "192.0.2.44"),
        (Access(only_this_computer=False), {"X-Forwarded-For": "192.0.2.44"}, "127.0.0.1"),
        (Access(only_this_computer=False), {"Host": "evil.example"}, "127.0.0.1"),
        (Access(only_this_computer=False, behind_tls=True), {}, "127.0.0.1"),
    ],
    ids=["another computer", "through a proxy", "another name", "behind TLS"],
)
def test_without_a_code_only_the_computer_itself_makes_the_first_owner(
    shop: SmallShop, now: datetime, access: Access, headers: dict[str, str], address: str
) -> None:
    client = shop_app(access).test_client()
    client.environ_base["REMOTE_ADDR"] = address
    secure = "https://" if access.behind_tls else "http://"
    headers = dict(headers)
    base = f"{secure}{headers.pop('Host', 'localhost')}"
    page = client.get("/first-owner", headers=headers, base_url=base)
    assert "Open this page at the computer that serves it" in page_words(page)
    other = shop_app().test_client()
    form = first_form(other)
    client.set_cookie("coretrack", cookie(other), domain=base.partition("//")[2])
    said = client.post("/first-owner", data=form, headers=headers, base_url=base)
    assert said.status_code in (400, 422)
    assert people.all_people(now) == ()
