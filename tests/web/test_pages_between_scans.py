"""What the station's pages say between scans: panel, ways back, menus, without a script."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

import pytest
from core_yard import Yard
from databases import TestDatabase
from station_client import StationClient, words

from coretrack.records.database import connection
from coretrack.records.tables import CoreRow


@pytest.fixture
def yard(sqlite_db: TestDatabase) -> Yard:
    made = Yard(now=datetime.now(UTC))
    made.set_up()
    made.sell("S-6", 6, day=(datetime.now(UTC).date() - timedelta(days=5)).isoformat())
    return made


@pytest.fixture
def clerk(yard: Yard) -> StationClient:
    return StationClient()


def begun(clerk: StationClient, **told: str) -> str:
    fields = {"customer": "ANSL", "reference": "S-6", "pieces": "6", "goods": "cores", "key": "k1"}
    answer = clerk.post("/receiving/deliveries", {**fields, **told})
    assert answer.status_code == 303
    return str(answer.headers["Location"]).split("code=")[1]


def scan(clerk: StationClient, text: str, key: str, **spot: str) -> str:
    """Scan by the form, as a browser without a script does; return where it leads."""
    answer = clerk.post("/receiving/scan", {"text": text, "key": key, **spot})
    assert answer.status_code == 303
    return str(answer.headers["Location"])


def stored(clerk: StationClient, code: str) -> str:
    """Take one core in and return its tag."""
    at = {"page": "delivery", "code": code}
    scan(clerk, "GP-1040", "s1", **at)
    page = clerk.get("/receiving/delivery", code=code).text
    seen = page.split('name="seen" value="', 2)[1].split('"')[0]
    scan(clerk, "", "s2", **at, seen=seen)
    with connection():
        return str(CoreRow.get().tag)


def test_without_a_script_the_result_of_a_scan_is_said_on_the_next_page(
    clerk: StationClient,
) -> None:
    code = begun(clerk)
    where = scan(clerk, "ZZ-NOBODY", "s1", page="delivery", code=code)
    page = clerk.text(where)
    assert "UNKNOWN" in page
    assert "ZZ-NOBODY" in page
    fresh = clerk.get("/receiving/lists/").text
    assert '<strong class="word">READY</strong>' in fresh


def test_a_scan_at_a_lot_only_offers_the_page_of_what_was_scanned(
    clerk: StationClient, yard: Yard
) -> None:
    yard.buy("X-1", lot="L-5")
    with connection():
        tag = CoreRow.get().tag
    told_of_lot = {"source": "COPP", "lot": "L-6", "price": "5", "basis": "piece", "key": "b1"}
    assert clerk.post("/receiving/lots/", told_of_lot).status_code == 303
    token = {"X-CSRFToken": clerk.token(), "Accept": "application/json"}

    def scanned(page: str, code: str, key: str) -> tuple[str | None, str | None]:
        told = {"page": page, "code": code, "key": key, "text": tag}
        answer = clerk.client.post("/receiving/scan", json=told, headers=token).json
        return answer["go"], answer["open"]

    address = f"/cores/core?tag={tag}"
    assert scanned("lot", "L-6", "s1") == (None, address)
    assert scanned("home", "", "s2") == (address, None)
    assert (
        f'<a href="{address}">Open it</a>'
        in clerk.get(scan(clerk, tag, "s3", page="lot", code="L-6")).text
    )


def test_what_could_not_be_kept_is_said_to_the_script(clerk: StationClient) -> None:
    code = begun(clerk)
    address = f"/receiving/delivery/hand?code={code}"
    script = {"headers": {"Accept": "application/json"}}
    kept = clerk.post(address, {"do": "keep", "number": "GP-1040", "mass": "0,6"}, **script).json
    assert kept["kept"] is True
    assert kept["said"]["word"] == "ACCEPT"
    lost = clerk.post(address, {"do": "keep", "number": "GP-1040", "mass": "heavy"}, **script).json
    assert lost["kept"] is False
    assert lost["said"]["word"] == "NOT KEPT"
    assert "heavy" in lost["said"]["line"]


def test_a_page_that_is_not_there_keeps_the_menu(clerk: StationClient) -> None:
    missing = clerk.get("/receiving/delivery", code="D-none")
    assert missing.status_code == 404
    assert 'aria-label="Stations"' in missing.text
    forbidden = clerk.get("/people/")
    assert forbidden.status_code == 403
    assert "Receiving" in words(forbidden)


def test_labels_lead_back_to_the_delivery_they_were_asked_for_at(clerk: StationClient) -> None:
    code = begun(clerk)
    tag = stored(clerk, code)
    back = f"/receiving/delivery?code={code}"
    delivery = clerk.get("/receiving/delivery", code=code).text
    assert f"tags={tag}&amp;back=" in delivery
    form = clerk.get("/labels/", tags=tag, back=back).text
    assert f'<a class="button" href="{back}">Back</a>' in form
    sent = clerk.post("/labels/print", {"tags": tag, "key": "p1", "back": back})
    assert f'href="{back}">Back</a>' in clerk.get(sent.headers["Location"]).text
    elsewhere = clerk.get("/labels/", tags=tag, back="https://example.invalid/").text
    assert "example.invalid" not in elsewhere


def test_more_pieces_than_counted_are_called_so(clerk: StationClient) -> None:
    code = begun(clerk, pieces="1")
    stored(clerk, code)
    scan(clerk, "GP-1040", "t1", page="delivery", code=code)
    page = clerk.get("/receiving/delivery", code=code).text
    seen = page.split('name="seen" value="', 2)[1].split('"')[0]
    scan(clerk, "", "t2", page="delivery", code=code, seen=seen)
    said = clerk.text("/receiving/delivery", code=code)
    assert "1 more than counted" in said
    assert "-1 left" not in said


def test_after_a_choice_by_hand_the_rules_are_not_said_to_choose_it(
    clerk: StationClient, yard: Yard
) -> None:
    yard.sell("S-7", 1, day=(datetime.now(UTC).date() - timedelta(days=4)).isoformat())
    code = begun(clerk)
    at = f"/receiving/delivery/hand?code={code}"
    clerk.post(at, {"do": "keep", "number": "GP-1040", "line": "S-7/1"})
    page = clerk.text("/receiving/delivery", code=code)
    assert "S-7 of" in page
    assert "chosen by hand" in page
    assert "Let the rules choose S-6" in page or "Let the rules choose:" not in page


def test_a_new_customer_is_added_where_the_delivery_is_begun(clerk: StationClient) -> None:
    told = {"customer": "", "pieces": "4", "note": "wet box", "goods": "cores", "key": "k5"}
    new = {"do": "customer", "new_code": "KEPL", "new_name": "Kepler Garage", "new_kind": "dealer"}
    wrong = clerk.post("/receiving/deliveries", {**told, **new, "new_code": ""})
    assert wrong.status_code == 422
    assert 'id="w-new_code"' in wrong.text
    assert 'value="Kepler Garage"' in wrong.text
    added = clerk.post("/receiving/deliveries", {**told, **new})
    assert added.status_code == 303
    page = clerk.get(added.headers["Location"]).text
    for kept in ("KEPL", "4", "wet box"):
        assert f'value="{kept}"' in page


def test_a_delivery_begun_by_mistake_is_given_up(clerk: StationClient) -> None:
    code = begun(clerk)
    assert "Begun by mistake" in clerk.text("/receiving/delivery", code=code)
    answer = clerk.post(f"/receiving/delivery/give-up?code={code}", {"key": "g1", "why": ""})
    said = clerk.text(answer.headers["Location"])
    assert "GIVEN UP" in said
    assert "given up" in said


def test_the_page_of_an_excess_core_leads_to_its_decision(clerk: StationClient) -> None:
    code = begun(clerk)
    scan(clerk, "CB-77", "s1", page="delivery", code=code)
    page = clerk.get("/receiving/delivery", code=code).text
    seen = page.split('name="seen" value="', 2)[1].split('"')[0]
    scan(clerk, "", "s2", page="delivery", code=code, seen=seen)
    with connection():
        tag = CoreRow.get().tag
    core = clerk.get("/cores/core", tag=tag).text
    assert f'href="/receiving/lists/core?tag={tag}">Decide about it</a>' in core
    assert f'href="/receiving/delivery?code={code}"' in core


def test_a_repeated_serial_asks_for_the_tick_that_none_can_be_read(
    clerk: StationClient, yard: Yard
) -> None:
    yard.buy("SN-1", lot="L-9")
    code = begun(clerk)
    at = f"/receiving/delivery/hand?code={code}"
    clerk.post(at, {"do": "keep", "number": "GP-1040", "serial": "SN-1"})
    page = clerk.get("/receiving/delivery", code=code).text
    assert 'name="no_serial" value="yes">' in page
    ticked = {"do": "keep", "number": "GP-1040", "serial": "SN-1"}
    clerk.post(at, {**ticked, "no_serial_shown": "yes", "no_serial": "yes"})
    page = clerk.get("/receiving/delivery", code=code).text
    assert 'name="no_serial" value="yes" checked>' in page
