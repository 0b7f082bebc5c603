"""The receiving pages without script: forms, wrong input, roles."""

from __future__ import annotations

from datetime import date, timedelta

import pytest
from core_yard import Yard
from databases import TestDatabase
from flask.testing import FlaskClient
from samples import sample_summary

from coretrack.records.database import connection
from coretrack.records.tables import CoreRow
from coretrack.web.app import create_app
from coretrack.web.here import SignedIn

CLERK = SignedIn("Pia Lund", "clerk", "receiving")


def client_of(who: SignedIn) -> FlaskClient:
    app = create_app(None, summary=sample_summary, secret="only for tests", signed_in=lambda: who)
    app.config["WTF_CSRF_ENABLED"] = False
    return app.test_client()


@pytest.fixture
def client(db: TestDatabase) -> FlaskClient:
    from datetime import UTC, datetime

    yard = Yard(now=datetime.now(UTC))
    yard.set_up()
    yard.sell("S-6", 6, day=(datetime.now(UTC).date() - timedelta(days=5)).isoformat())
    return client_of(CLERK)


def begun(client: FlaskClient, **told: str) -> str:
    form = {"customer": "ANSL", "reference": "S-6", "pieces": "6", "goods": "cores", "key": "k1"}
    answer = client.post("/receiving/deliveries", data={**form, **told})
    assert answer.status_code == 303, answer.text
    return str(answer.headers["Location"])


def hand(client: FlaskClient, where: str, **told: str) -> str:
    address = where.replace("/receiving/delivery", "/receiving/delivery/hand")
    answer = client.post(address, data=told, follow_redirects=True)
    return answer.text


def test_a_wrong_field_is_named_and_nothing_typed_is_lost(client: FlaskClient) -> None:
    tomorrow = (date.today() + timedelta(days=3)).isoformat()  # noqa: DTZ011 - any later day
    answer = client.post(
        "/receiving/deliveries",
        data={"customer": "Nobody", "pieces": "six", "arrived_on": tomorrow, "note": "wet box"},
    )
    assert answer.status_code == 422
    for kept in ("Nobody", "six", tomorrow, "wet box"):
        assert f'value="{kept}"' in answer.text
    for field in ("customer", "pieces", "arrived_on"):
        assert f'id="w-{field}"' in answer.text


def test_a_core_goes_through_by_forms_alone(client: FlaskClient) -> None:
    where = begun(client)
    page = hand(client, where, number="GP-1040", do="keep")
    assert "Full credit 24.00" in page
    seen = page.split('name="seen" value="', 2)[2].split('"')[0]
    page = hand(client, where, number="GP-1040", do="store", seen=seen, key="k2")
    assert "ACCEPTED" in page
    again = hand(client, where, number="GP-1040", do="store", seen=seen, key="k2")
    assert "1</b> of" in again
    with connection():
        assert CoreRow.select().count() == 1


def test_a_change_made_with_the_button_is_seen_before_it_is_stored(client: FlaskClient) -> None:
    where = begun(client)
    page = hand(client, where, number="GP-1040", do="keep")
    seen = page.split('name="seen" value="', 2)[2].split('"')[0]
    page = hand(client, where, number="GP-1040", fault="port", do="store", seen=seen, key="k2")
    assert "Something changed" in page
    assert "18.00" in page
    with connection():
        assert CoreRow.select().count() == 0


def test_a_mixed_delivery_asks_for_each_core_what_it_is(client: FlaskClient) -> None:
    where = begun(client, goods="mixed")
    page = hand(client, where, number="GP-1040", do="keep")
    assert "Is this a core, or did our own work come back" in page
    page = hand(client, where, comeback="yes")
    assert "COMEBACK" in page


def test_an_inspector_cannot_receive_by_any_way(client: FlaskClient) -> None:
    where = begun(client)
    inspector = client_of(SignedIn("Jo Finch", "inspector", "bench"))
    code = where.split("code=")[1]
    told = {"text": "GP-1040", "page": "delivery", "code": code, "key": "k9"}
    assert inspector.post("/receiving/scan", json=told).status_code == 403
    assert inspector.get(where).status_code == 403
    assert inspector.get("/receiving/").status_code == 403


def test_a_null_sign_is_refused_in_words(client: FlaskClient) -> None:
    answer = client.get("/cores/?q=%00")
    assert answer.status_code == 422
    assert "null sign" in answer.text


def test_an_unknown_delivery_is_said_to_be_unknown(client: FlaskClient) -> None:
    answer = client.get("/receiving/delivery?code=D-9%2F%3F..")
    assert answer.status_code == 404
    assert "D-9/?.." in answer.text


def test_a_stored_form_sent_again_says_so_and_leaves_the_hand_empty(client: FlaskClient) -> None:
    where = begun(client)
    page = hand(client, where, number="GP-1040", do="keep")
    seen = page.split('name="seen" value="', 2)[2].split('"')[0]
    told = {"number": "GP-1040", "do": "store", "seen": seen, "key": "k2"}
    hand(client, where, **told)
    page = hand(client, where, **told)
    assert "stored already" in page
    assert "Core in hand" not in page
    page = hand(client, where, **{**told, "serial": "SN-2"})
    assert "Core in hand" in page
    assert "SN-2" in page


def test_a_whole_number_in_the_scan_box_counts_a_delivery_not_counted_yet(
    client: FlaskClient,
) -> None:
    where = begun(client, pieces="")
    told = {"page": "delivery", "code": where.split("code=")[1]}
    answer = client.post("/receiving/scan", json={**told, "text": "6", "key": "k3"}).get_json()
    assert answer["reply"]["word"] == "COUNTED"
    answer = client.post("/receiving/scan", json={**told, "text": "7", "key": "k4"}).get_json()
    assert answer["reply"]["word"] != "COUNTED"
    assert "of <b" in client.get(where).text
