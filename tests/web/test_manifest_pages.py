"""Manifests read in by the browser: returns and lots, with what is told beside the file."""

from __future__ import annotations

import re
from datetime import UTC, datetime

import pytest
from core_yard import Yard, csv_bytes, money
from databases import TestDatabase
from station_client import words
from upload_forms import FILES, FileDesk, file_desk, links_of, upload_of
from werkzeug.test import TestResponse

from coretrack.actions.lot_beginning import NewLot, begin
from coretrack.web import imports

NOW = datetime(2026, 10, 31, 12, tzinfo=UTC)
RETURNS = csv_bytes(
    "customer,number,serial", [("ANSL", "GP-1040", "R1"), ("ANSL", "GP-1040", "R2")]
)
PIECES = csv_bytes("number,serial", [("GP-1040", "P1"), ("NOT-KNOWN", "P2")])


@pytest.fixture
def yard(db: TestDatabase, monkeypatch: pytest.MonkeyPatch) -> Yard:
    monkeypatch.setattr(imports, "now", lambda: NOW)
    yard = Yard(now=NOW)
    yard.set_up()
    return yard


@pytest.fixture
def clerk(yard: Yard, db: TestDatabase) -> FileDesk:
    return file_desk(db)


def ways_on(done: TestResponse) -> list[str]:
    """Return the addresses that an answer offers for its delivery or lot."""
    return [link for link in links_of(done) if re.search(r"[?&](lot|code)=", link)]


def test_returns_are_credited_and_lead_to_labels_and_delivery(clerk: FileDesk, yard: Yard) -> None:
    yard.sell(quantity=2, day="2026-10-20")
    shown = clerk.send("returns", "back.csv", RETURNS, lot="D/1?#", received="2026-10-31")
    assert "2 accept Money credits 48.00 in all" in words(shown)
    done = clerk.store(shown)
    labels, delivery = ways_on(done)
    assert labels.startswith("/labels/")
    assert delivery.startswith("/receiving/delivery")
    assert 'value="D/1?#"' in clerk.client.get(labels).get_data(as_text=True)
    assert clerk.client.get(delivery).status_code == 200
    assert [core.lot for core in yard.cores()] == ["D/1?#", "D/1?#"]
    assert [core.credit for core in yard.cores()] == [money("24.00")] * 2


def test_a_lots_terms_are_told_beside_its_manifest(clerk: FileDesk, yard: Yard) -> None:
    shown = clerk.send(
        "lot",
        "lot.csv",
        PIECES,
        source="Coppard Brokers",
        lot="7731/120 A?B#1",
        received="2026-10-29",
        basis="lump",
        price="40.00",
        freight="5.01",
        bid_yield="62 %",
    )
    done = clerk.store(shown)
    assert "Stored 2" in words(done)
    lot = yard.lot("7731/120 A?B#1")
    assert (lot.source, lot.price_total, lot.freight) == ("COPP", money("40"), money("5.01"))
    assert lot.bid_yield == "0.62"
    labels, page = ways_on(done)
    assert clerk.client.get(labels).status_code == 200
    assert "7731/120 A?B#1" in words(clerk.client.get(page))


def test_every_wrong_term_is_named_at_its_field_and_the_file_is_not_lost(
    clerk: FileDesk, yard: Yard
) -> None:
    shown = clerk.send(
        "lot", "lot.csv", PIECES, source="NOBODY", price="1.234", received="3/4", basis="lump"
    )
    html = shown.get_data(as_text=True)
    assert shown.status_code == 422
    for name in ("source", "price", "received"):
        assert re.search(rf'id="f-{name}"[^>]*aria-invalid="true"', html), name
    assert "There is no source 'NOBODY'; known: ANSL, BROD, COPP, DELL, OWN." in words(shown)
    assert 'value="1.234"' in html
    told = {"kind": "lot", "source": "COPP", "price": "12.34", "basis": "lump"}
    assert clerk.press(shown, "preview", **told).status_code == 303
    again = clerk.get(f"{FILES}/preview", upload=upload_of(shown))
    assert "Store these 2 rows" in words(again)


@pytest.mark.parametrize(
    ("kind", "source", "said"),
    [
        ("lot", "ANSL", "is a customer; read the file in as “Cores a customer sends back”"),
        ("lot", "", "Say who sold the lot"),
        ("returns", "COPP", "is a broker; read the file in as “A purchased lot's manifest”"),
    ],
)
def test_returns_and_lots_are_never_taken_for_one_another(
    clerk: FileDesk, yard: Yard, kind: str, source: str, said: str
) -> None:
    shown = clerk.send(kind, "file.csv", PIECES, source=source, price="1" if kind == "lot" else "")
    assert shown.status_code == 422
    assert said in words(shown)
    assert yard.cores() == []


def test_a_begun_lot_gets_its_manifest_by_the_terms_it_was_begun_with(
    clerk: FileDesk, yard: Yard
) -> None:
    new = NewLot(source="COPP", lot="L/9", received="2026-10-29", price="8.00", freight="3.00")
    begin(new, by="Ilse Thornby", station="dock", now=NOW, key="b")
    page = clerk.get(f"{FILES}/", lot="L/9").get_data(as_text=True)
    assert 'value="L/9"' in page
    assert 'value="COPP"' in page
    assert 'name="price"' not in page
    done = clerk.store(clerk.send("lot", "lot.csv", PIECES, source="COPP", lot="L/9"))
    assert "Stored 2" in words(done)
    lot = yard.lot("L/9")
    assert (lot.status, lot.price_total, lot.freight) == ("closed", money("16"), money("3"))
    assert clerk.get(f"{FILES}/", lot="L/9").status_code == 404
