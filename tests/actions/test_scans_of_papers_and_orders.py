"""Scans of papers, tags and orders, scans that come twice or late, and scans at other pages."""

from __future__ import annotations

import threading
from typing import Any

import pytest
from core_yard import Yard, money
from dock_station import TODAY, Clerk, choose, held_of, order

from coretrack.actions import core_in_hand, station_scans, storing
from coretrack.actions.lookups import KnownCores
from coretrack.actions.scanning import understand
from coretrack.errors import NotAllowed
from coretrack.figures.scan_replies import ScanReply, Spot
from coretrack.figures.tags import make_shop_code, make_tag
from coretrack.records.database import connection


@pytest.fixture
def clerk() -> Clerk:
    return Clerk()


# --- papers and tags ----------------------------------------------------------------------------


def test_a_paper_sets_the_invoice_of_the_core_in_hand(yard: Yard, clerk: Clerk) -> None:
    yard.sell("S1", 1)
    yard.sell("S2", 1, day="2026-05-08")
    code = clerk.open()
    said = clerk.scan("s2", code)
    assert (said.word, said.line) == (
        "INVOICE",
        "Invoice S2 of Ansell Hydraulics: owes 1 of GP-1040.",
    )
    clerk.scan("GP-1040", code)
    assert "on line S2/1" in clerk.scan("S2", code).line


def test_a_paper_of_another_customer_is_said_and_may_be_chosen(yard: Yard, clerk: Clerk) -> None:
    yard.sell("S1", 1, customer="BROD")
    code = clerk.open()
    clerk.scan("GP-1040", code)
    reply = clerk.scan("S1", code)
    assert (reply.tone, reply.word) == ("ask", "OTHER NAME")
    assert reply.line == "Invoice S1 of Brodwell Counter: owes 1 of GP-1040."
    assert held_of(clerk, code).invoice == ""
    assert "to BROD" in choose(clerk, reply, "Credit BROD on line S1/1", code).line


def test_a_tag_of_this_delivery_says_what_it_is_and_another_offers_its_page(
    yard: Yard, clerk: Clerk
) -> None:
    yard.sell("S1", 2)
    yard.bring_back("Z1")
    code = clerk.open()
    tag = clerk.receive(code).tag
    mine = clerk.scan(tag, code)
    assert (mine.tone, mine.word) == ("note", "ACCEPTED")
    assert "GP-1040, accept, 20.00 EUR on line S1/1, by Ilse Thornby" in mine.line
    theirs = clerk.scan(yard.core("Z1").tag, code)
    assert (theirs.tone, theirs.word, theirs.target) == ("ask", "OTHER CORE", "")
    opened = choose(clerk, theirs, "Open core", code)
    assert (opened.target, opened.code) == ("core", yard.core("Z1").tag)


def test_a_tag_that_was_taken_back_is_void_everywhere(yard: Yard, clerk: Clerk) -> None:
    yard.sell("S1", 1)
    code = clerk.open()
    tag = clerk.receive(code, serial="A1").tag
    assert clerk.scan(order("undo"), code).word == "UNDONE"
    assert clerk.scan(tag, code).word == "VOID TAG"
    assert clerk.scan(tag).word == "VOID TAG"
    assert "was taken back: throw this label away" in understand(tag).sentence
    assert clerk.scan("", code).word == "ACCEPTED"
    assert yard.core("A1").state == "waiting"


def test_the_serial_of_a_core_taken_back_may_be_scanned_again(yard: Yard, clerk: Clerk) -> None:
    yard.sell("S1", 1)
    code = clerk.open()
    clerk.receive(code, serial="A1")
    clerk.undo(code)
    core_in_hand.drop(code, **clerk.who)
    clerk.scan("GP-1040", code)
    clerk.scan("A1", code)
    assert held_of(clerk, code).serial == "A1"
    assert clerk.scan("", code).word == "ACCEPTED"


def test_a_file_that_names_a_serial_never_finds_the_core_that_was_taken_back(
    yard: Yard, clerk: Clerk
) -> None:
    yard.sell("S1", 2)
    yard.bring_back("A1", day="2026-05-10")
    yard.measure("A1", at="2026-05-11 09:00")
    kept = yard.core("A1").tag
    code = clerk.open()
    void = clerk.receive(code, serial="A1").tag
    clerk.undo(code)
    with connection():
        known = KnownCores(["A1", "a1", void])
        assert known.find("A1", "core").tag == kept
        assert known.find("a1", "core").tag == kept
        assert known.find(void, "core").state == "taken back"


def test_a_serial_in_the_house_stops(yard: Yard, clerk: Clerk) -> None:
    yard.sell("S1", 2)
    yard.bring_back("A1")
    code = clerk.open()
    clerk.scan("GP-1040", code)
    reply = clerk.scan("A1", code)
    assert (reply.tone, reply.word) == ("stop", "SEEN BEFORE")
    assert held_of(clerk, code).serial == "A1"
    again = clerk.scan("", code)
    assert (again.tone, again.word, len(again.offers)) == ("stop", "SEEN BEFORE", 2)
    assert len(yard.cores()) == 1
    said = choose(clerk, again, "cannot be read", code)
    assert (said.word, held_of(clerk, code).no_serial) == ("ACCEPT", True)
    assert clerk.scan("", code).word == "ACCEPTED"


def test_a_next_core_never_takes_the_place_of_one_whose_serial_was_seen_meanwhile(
    yard: Yard, clerk: Clerk
) -> None:
    yard.sell("S1", 3)
    code = clerk.open()
    clerk.scan("GP-1040", code)
    clerk.scan("A 77", code)
    asked = clerk.scan("GP-2080", code)
    other = Clerk("Bela Quirke", "dock 2")
    other.receive(code, serial="A 77")
    reply = choose(clerk, asked, "then take GP-2080", code)
    assert (reply.tone, reply.word) == ("stop", "SEEN BEFORE")
    held = held_of(clerk, code)
    assert (held.number, held.serial, len(yard.cores())) == ("GP-1040", "A 77", 1)


def test_a_core_whose_serial_was_seen_is_put_back_or_gets_another_serial(
    yard: Yard, clerk: Clerk
) -> None:
    yard.sell("S1", 2)
    yard.bring_back("A1")
    code = clerk.open()
    clerk.scan("GP-1040", code)
    reply = clerk.scan("A1", code)
    assert choose(clerk, reply, "Put the core back", code).word == "PUT BACK"
    assert clerk.view(code).in_hand is None
    clerk.scan("GP-1040", code)
    clerk.scan("A1", code)
    assert clerk.scan("B 77", code).word == "SERIAL"
    assert held_of(clerk, code).serial == "B 77"


def test_a_text_taken_for_the_serial_is_said_and_can_be_taken_back(
    yard: Yard, clerk: Clerk
) -> None:
    yard.sell("S1", 2)
    code = clerk.open()
    clerk.scan("GP-1040", code)
    reply = clerk.scan("hello there", code)
    assert (reply.word, held_of(clerk, code).serial) == ("SERIAL", "hello there")
    assert "hello there is taken for the serial of GP-1040" in reply.line
    said = choose(clerk, reply, "Not its serial", code)
    assert (said.word, held_of(clerk, code).serial) == ("ACCEPT", "")


def test_a_body_that_was_kept_is_offered_as_coming_back(yard: Yard, clerk: Clerk) -> None:
    yard.sell("S1", 2)
    yard.bring_back("A1", day="2026-05-10")
    yard.measure("A1", at="2026-05-11 09:00")
    code = clerk.open()
    reply = clerk.scan("A1", code)
    assert reply.word == "BACK AGAIN?"
    assert choose(clerk, reply, "Take it in again as GP-1040", code).word == "ACCEPT"
    assert clerk.scan("", code).word == "ACCEPTED"


def test_a_tag_nobody_carries_is_not_taken_as_a_serial(yard: Yard, clerk: Clerk) -> None:
    yard.sell("S1", 1)
    code = clerk.open()
    clerk.scan("GP-1040", code)
    reply = clerk.scan(make_tag(2, 900), code)
    assert (reply.tone, held_of(clerk, code).serial) == ("ask", "")


# --- orders -------------------------------------------------------------------------------------


def test_undo_with_another_core_in_hand_asks_first(yard: Yard, clerk: Clerk) -> None:
    yard.sell("S1", 2)
    code = clerk.open()
    clerk.scan("GP-1040", code)
    clerk.scan("", code)
    clerk.scan("00731", code)
    reply = clerk.scan(order("undo"), code)
    assert (reply.tone, reply.word, yard.line("S1/1").credited) == ("ask", "IN HAND", 1)
    assert choose(clerk, reply, "Put it back, and undo", code).word == "UNDONE"
    assert (yard.line("S1/1").credited, held_of(clerk, code).number) == (0, "GP-1040")


def test_reprint_wants_the_label_of_the_last_core_once_more(yard: Yard, clerk: Clerk) -> None:
    yard.sell("S1", 2)
    code = clerk.open()
    assert "You have stored no core" in clerk.scan(order("reprint"), code).line
    clerk.receive(code)
    tag = clerk.receive(code).tag
    assert clerk.scan(order("reprint"), code).print_tags == (tag,)


def test_cancel_drops_the_core_in_hand(yard: Yard, clerk: Clerk) -> None:
    code = clerk.open()
    clerk.scan("GP-1040", code)
    assert clerk.scan(order("cancel"), code).word == "PUT BACK"
    assert clerk.view(code).in_hand is None
    assert clerk.scan(order("cancel"), code).word == "READY"


def test_orders_without_use_at_the_dock_are_said(yard: Yard, clerk: Clerk) -> None:
    code = clerk.open()
    assert clerk.scan(order("unsure"), code).word == "NOT HERE"
    assert clerk.scan(make_shop_code("badge", 3), code).word == "BADGE"
    assert clerk.scan(order("back"), code).target == "home"


# --- twice, replayed, late ----------------------------------------------------------------------


def test_the_same_code_within_a_second_acts_once_and_later_again(yard: Yard) -> None:
    yard.sell("S1", 2)
    clerk = Clerk()
    code = clerk.open()
    clerk.scan("GP-1040", code, at=1_000_000)
    first = clerk.scan("2", code, at=1_002_000)
    again = clerk.scan("2", code, at=1_003_000)
    assert (first.word, again.word, again.repeat) == ("PART CREDIT", "ONCE", True)
    assert [tick.code for tick in held_of(clerk, code).faults if tick.times] == ["port"]
    assert clerk.scan("2", code, at=1_003_001).word == "ACCEPT"


def test_another_code_within_a_second_is_not_held_back(yard: Yard, clerk: Clerk) -> None:
    yard.sell("S1", 1)
    code = clerk.open()
    clerk.scan("GP-1040", code, at=1_000_000)
    assert clerk.scan("", code, at=1_000_100).word == "ACCEPTED"
    assert clerk.scan("", code, at=1_000_200).word == "ONCE"


def test_without_the_pages_clock_the_shops_own_counts(yard: Yard) -> None:
    clerk = Clerk()
    code = clerk.open()
    told: Any = {"by": clerk.by, "station": clerk.station, "now": TODAY}
    spot = Spot("delivery", code)
    station_scans.scan("GP-1040", spot, **told)
    assert station_scans.scan("GP-1040", spot, **told).repeat
    assert not station_scans.scan("GP-1040", Spot("home"), **told).repeat
    other = {**told, "by": "Bela Quirke"}
    assert not station_scans.scan("GP-1040", spot, **other).repeat


def test_a_repeat_keeps_what_was_offered(yard: Yard, clerk: Clerk) -> None:
    code = clerk.open()
    reply = clerk.scan("GP-10", code, at=5_000)
    assert clerk.scan("GP-10", code, at=5_300).repeat
    assert choose(clerk, reply, "unknown core", code).word == "UNKNOWN"


def test_the_same_key_answers_the_same_and_acts_once(yard: Yard, clerk: Clerk) -> None:
    yard.sell("S1", 2)
    code = clerk.open()
    clerk.scan("GP-1040", code, key="a")
    first = clerk.scan("", code, key="b", at=1_000)
    clerk.scan("GP-1040", code, key="c", at=9_000)
    assert clerk.scan("", code, key="b", at=1_000) == first
    assert (len(yard.cores()), held_of(clerk, code).number) == (1, "GP-1040")


def test_scans_that_waited_out_an_outage_store_only_what_is_clean(yard: Yard, clerk: Clerk) -> None:
    yard.sell("S1", 1)
    code = clerk.open()
    clerk.scan("GP-1040", code, seen="")
    assert clerk.scan("", code, seen="").word == "ACCEPTED"
    clerk.scan("00731", code, seen="")
    reply = clerk.scan(order("done"), code, seen="")
    assert (reply.tone, reply.word) == ("ask", "LOOK AGAIN")
    assert (len(yard.cores()), held_of(clerk, code).number) == (1, "00731")


def test_when_the_last_unit_went_meanwhile_the_core_stays_in_hand(yard: Yard, clerk: Clerk) -> None:
    yard.sell("S1", 1)
    code = clerk.open()
    seen = clerk.take(code).fingerprint
    Clerk("Bela Quirke", "dock 2").receive(code)
    reply = clerk.scan("", code, seen=seen)
    assert (reply.tone, reply.word) == ("ask", "LOOK AGAIN")
    assert "Bela Quirke at 10:0" in reply.line
    assert held_of(clerk, code).number == "GP-1040"
    assert clerk.scan(order("done"), code).word == "EXCESS"


def test_what_fails_half_way_leaves_nothing(
    yard: Yard, clerk: Clerk, monkeypatch: pytest.MonkeyPatch
) -> None:
    yard.sell("S1", 1)
    code = clerk.open()
    clerk.take(code, serial="A1")
    clerk.photograph(code)
    before = yard.events()

    def fails(*_: object) -> int:
        raise NotAllowed("The photos cannot be moved now.")

    with monkeypatch.context() as broken:
        broken.setattr(storing, "move_draft_photos", fails)
        assert clerk.scan("", code).line == "The photos cannot be moved now."
    assert (yard.events(), yard.tags_given(), yard.lot(code).pieces) == (before, 0, 0)
    assert (held_of(clerk, code).serial, held_of(clerk, code).photos) == ("A1", 1)
    assert yard.is_sound()
    assert clerk.scan("", code).word == "ACCEPTED"
    assert yard.tags_given() == 1


def test_one_scan_sent_over_two_connections_at_once_acts_once(yard: Yard, clerk: Clerk) -> None:
    yard.sell("S1", 5)
    code = clerk.open()
    seen = clerk.take(code).fingerprint
    start = threading.Barrier(2)
    replies: list[ScanReply] = []

    def send() -> None:
        start.wait()
        replies.append(clerk.scan("", code, key="one", at=1_000, seen=seen))

    threads = [threading.Thread(target=send) for _ in range(2)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert replies[0] == replies[1]
    assert (replies[0].word, len(yard.cores()), yard.line("S1/1").credited) == ("ACCEPTED", 1, 1)


def test_the_last_five_results_of_a_desk_are_kept(yard: Yard, clerk: Clerk) -> None:
    code = clerk.open()
    for text in ("GP-1040", "1", "2", "3", "nobody", "0"):
        clerk.scan(text, code)
    shown = station_scans.last_results(clerk.by, clerk.station)
    assert len(shown) == 5
    assert shown[0].at > shown[1].at
    assert (shown[0].word, shown[0].at[:3]) == ("EXCESS", "10:")
    assert station_scans.last_results("Bela Quirke", clerk.station) == ()


@pytest.mark.parametrize(
    "text",
    ["\x00", "GP\ud800-1", "'; DROP TABLE core; --", "<b>x</b>", "=", "=:", "ß" * 5000, "\x1d\x1e"],
)
@pytest.mark.parametrize("page", ["delivery", "home"])
def test_any_text_gets_an_answer(yard: Yard, clerk: Clerk, text: str, page: str) -> None:
    code = clerk.open()
    reply = clerk.scan(text, code if page == "delivery" else "")
    assert reply.word
    assert reply.line
    assert yard.is_sound()


# --- the other pages ----------------------------------------------------------------------------


def test_at_home_everything_opens_its_page(yard: Yard, clerk: Clerk) -> None:
    yard.sell("S1", 1)
    yard.sell_file(
        b"invoice,date,customer,number,quantity\n"
        b"S2,2026-05-04,ANSL,GP-1040,1\nS2,2026-05-04,ANSL,GP-2080,2\n"
    )
    yard.buy("Z1", lot="L1")
    code = clerk.open(reference="RMA 9")
    tag = yard.core("Z1").tag
    pages = {
        tag: ("core", tag),
        "Z1": ("core", tag),
        "gp1040": ("number", "GP-1040"),
        code: ("delivery", code),
        code.lower(): ("delivery", code),
        make_shop_code("lot", 1): ("delivery", code),
        "rma 9": ("delivery", code),
        "L1": ("lot", "L1"),
        "S1": ("line", "S1/1"),
        "S2": ("customer", "ANSL"),
    }
    for text, page in pages.items():
        reply = clerk.scan(text)
        assert (reply.target, reply.code) == page, text
    assert clerk.scan(make_shop_code("badge", 1)).target == ""
    assert clerk.scan("nobody knows").word == "UNKNOWN"
    assert clerk.scan("  ").word == "READY"


def test_an_invoice_at_home_offers_its_open_deliveries(yard: Yard, clerk: Clerk) -> None:
    yard.sell("S1", 1)
    code = clerk.open()
    reply = clerk.scan("S1")
    opened = choose(clerk, reply, f"Open delivery {code}")
    assert (opened.target, opened.code) == ("delivery", code)
    reply = clerk.scan("S1")
    started = choose(clerk, reply, "Start a delivery with this paper")
    assert (started.target, started.code) == ("start", "S1")


def test_a_closed_delivery_says_so_and_keeps_what_it_has(yard: Yard, clerk: Clerk) -> None:
    from coretrack.actions import deliveries

    yard.sell("S1", 2)
    code = clerk.open(pieces=1)
    tag = clerk.receive(code).tag
    deliveries.close_delivery(code, **clerk.who)
    assert "is not open" in clerk.scan("GP-1040", code).line
    assert clerk.scan(tag, code).word == "ACCEPTED"
    assert "reopen it" in clerk.scan(order("undo"), code).line
    assert yard.line("S1/1").credited_money == money("20.00")


def test_a_delivery_that_does_not_exist_is_said(yard: Yard, clerk: Clerk) -> None:
    reply = clerk.scan("GP-1040", "D-9999", seen="")
    assert (reply.tone, reply.line) == ("stop", "There is no delivery 'D-9999'.")
