"""Scans for the core in hand: told bit by bit, asked where two things could be meant, stored."""

from __future__ import annotations

import pytest
from core_yard import FOLDER, Yard
from dock_station import TODAY, Clerk, choose, held_of, order

from coretrack.actions.cards import number_for_reason
from coretrack.actions.setting_up import import_family
from coretrack.figures.tags import make_shop_code, show_tag
from coretrack.records.writer import writing

GS = "\x1d"


@pytest.fixture
def clerk() -> Clerk:
    return Clerk()


# --- a clean core -------------------------------------------------------------------------------


def test_a_clean_core_takes_a_number_and_an_enter(yard: Yard, clerk: Clerk) -> None:
    yard.sell("S1", 6)
    code = clerk.open()
    first = clerk.scan("GP-1040", code)
    assert (first.tone, first.word) == ("note", "ACCEPT")
    assert first.line == "Full credit 20.00 EUR on line S1/1, GP-1040 sold 2026-05-04."
    done = clerk.scan("", code)
    tag = yard.cores()[0].tag
    assert (done.tone, done.word, done.print_tags) == ("good", "ACCEPTED", (tag,))
    assert done.line.startswith("20.00 EUR. Core ")
    assert done.undo == f"core {show_tag(tag)}, accepted"
    assert clerk.scan("", code).word == "READY"
    assert yard.line("S1/1").credited == 1
    assert yard.is_sound()


@pytest.mark.parametrize("finish", ["done", "accept"])
def test_an_order_code_finishes_a_core_as_proposed(yard: Yard, clerk: Clerk, finish: str) -> None:
    yard.sell("S1", 1)
    code = clerk.open()
    clerk.scan("00731", code)
    assert clerk.scan(order(finish), code).word == "ACCEPTED"


def test_an_unknown_text_is_the_serial_once_the_number_is_in_hand(yard: Yard, clerk: Clerk) -> None:
    yard.sell("S1", 1)
    code = clerk.open()
    clerk.scan("GP-1040", code)
    clerk.scan("SN-77a", code)
    assert held_of(clerk, code).serial == "SN-77a"
    clerk.scan("", code)
    assert yard.core("SN-77a").line == "S1/1"


def test_a_label_gives_number_and_serial_at_once(yard: Yard, clerk: Clerk) -> None:
    yard.sell("S1", 2)
    code = clerk.open()
    reply = clerk.scan(f"[)>\x1e06{GS}1PGP-1040{GS}SA77\x1e\x04", code)
    assert (reply.word, held_of(clerk, code).serial) == ("ACCEPT", "A77")
    clerk.scan("", code)
    seen = clerk.scan(f"[)>\x1e06{GS}1PGP-1040{GS}SA77\x1e\x04", code)
    assert seen.word == "SEEN BEFORE"
    assert "came in before as core" in seen.line
    assert held_of(clerk, code).serial == "A77"
    assert clerk.scan("", code).word == "SEEN BEFORE"


def test_a_label_of_an_unknown_number_is_offered_whole(yard: Yard, clerk: Clerk) -> None:
    code = clerk.open()
    reply = clerk.scan(f"[)>\x1e06{GS}1PXX-9{GS}SA77\x1e\x04", code)
    assert reply.word == "UNKNOWN"
    choose(clerk, reply, "unknown core: XX-9", code)
    assert (held_of(clerk, code).number_text, held_of(clerk, code).serial) == ("XX-9", "A77")


# --- nothing is chosen silently -----------------------------------------------------------------


def test_an_unknown_number_is_offered_with_those_near_to_it(yard: Yard, clerk: Clerk) -> None:
    yard.sell("S1", 1)
    code = clerk.open()
    reply = clerk.scan("GP-10", code)
    assert (reply.tone, reply.word) == ("ask", "UNKNOWN")
    assert [offer.text for offer in reply.offers] == [
        "Number GP-1040", "Number GP-1044", "Take as unknown core: GP-10",
    ]  # fmt: skip
    assert clerk.view(code).in_hand is None
    assert choose(clerk, reply, "unknown core", code).word == "UNKNOWN"
    assert held_of(clerk, code).number_text == "GP-10"
    assert clerk.scan("", code).word == "UNKNOWN"
    assert yard.cores()[0].state == "unknown"


def test_an_offer_counts_only_right_after_it_was_made_and_at_the_same_desk(
    yard: Yard, clerk: Clerk
) -> None:
    code = clerk.open()
    reply = clerk.scan("GP-10", code)
    scan = reply.offers[-1].scan
    other = Clerk("Bela Quirke", "dock 2")
    assert other.scan(scan, code).word == "NOT OFFERED"
    assert clerk.scan(scan.replace("GP-10", "GP-11"), code).word == "NOT OFFERED"
    assert clerk.scan("=drop:", code).word == "NOT OFFERED"
    assert clerk.scan(scan, code).word == "UNKNOWN"
    assert clerk.scan(scan, code).word == "NOT OFFERED"


def test_a_new_number_asks_while_another_core_is_in_hand(yard: Yard, clerk: Clerk) -> None:
    yard.sell("S1", 2)
    code = clerk.open()
    clerk.scan("GP-1040", code)
    reply = clerk.scan("00731", code)
    assert (reply.word, reply.line) == ("IN HAND", "GP-1040 is in hand and not stored yet.")
    assert held_of(clerk, code).number == "GP-1040"
    after = choose(clerk, reply, "Store GP-1040 (accept), then take 00731", code)
    assert (after.word, held_of(clerk, code).number) == ("ACCEPT", "00731")
    assert after.print_tags == (yard.cores()[0].tag,)
    assert after.detail.startswith("ACCEPTED: 20.00 EUR.")
    reply = clerk.scan("GP-2080", code)
    assert choose(clerk, reply, "Put 00731 back and take GP-2080", code).word == "EXCESS"
    reply = clerk.scan("GP-1044", code)
    assert choose(clerk, reply, "GP-1044 is the number", code).word == "ACCEPT"
    reply = clerk.scan("GP-1040", code)
    assert choose(clerk, reply, "Go on with GP-1044", code).word == "ACCEPT"
    assert (len(yard.cores()), held_of(clerk, code).number) == (1, "GP-1044")


def test_other_lines_that_could_be_answered_are_offered(yard: Yard, clerk: Clerk) -> None:
    yard.sell("S1", 1, charge="30.00")
    yard.sell("S2", 1, day="2026-05-08", charge="10.00")
    code = clerk.open()
    reply = clerk.scan("GP-1040", code)
    chosen = choose(clerk, reply, "Line S2/1", code)
    assert chosen.line.startswith("Full credit 10.00 EUR on line S2/1")
    assert clerk.scan("", code).word == "ACCEPTED"
    assert yard.line("S2/1").credited == 1


def test_a_mixed_delivery_asks_core_or_comeback(yard: Yard, clerk: Clerk) -> None:
    code = clerk.open(goods="mixed")
    reply = clerk.scan("GP-1040", code)
    assert (reply.word, reply.line) == ("WHICH?", "Core or comeback under warranty?")
    assert choose(clerk, reply, "Comeback", code).word == "COMEBACK"
    assert clerk.scan("", code).word == "COMEBACK"


def test_a_serial_that_looks_like_a_short_tag_is_asked(yard: Yard, clerk: Clerk) -> None:
    yard.sell("S1", 130)
    yard.bring_back(*(f"A{n}" for n in range(105)))
    code = clerk.open()
    clerk.scan("GP-1040", code)
    reply = clerk.scan("104", code)
    assert reply.word == "WHICH?"
    choose(clerk, reply, "104 is its serial", code)
    assert held_of(clerk, code).serial == "104"


# --- faults, refusals, places -------------------------------------------------------------------


def test_digits_tick_the_faults_as_listed(yard: Yard, clerk: Clerk) -> None:
    yard.sell("S1", 1)
    code = clerk.open()
    clerk.scan("GP-1040", code)
    assert clerk.scan("2", code).word == "PART CREDIT"
    assert [tick.code for tick in held_of(clerk, code).faults if tick.times] == ["port"]
    assert clerk.scan("02", code).word == "ACCEPT"
    clerk.scan("3", code)
    clerk.scan("4", code)
    assert clerk.scan("0", code).word == "ACCEPT"
    out = clerk.scan("17", code)
    assert (out.tone, out.line) == ("stop", "There is no fault 17; the list of this core has 6.")


def test_a_deduction_is_stored_once_its_photo_is_there(yard: Yard, clerk: Clerk) -> None:
    yard.sell("S1", 1)
    code = clerk.open()
    clerk.scan("GP-1040", code)
    clerk.scan("2", code)
    reply = clerk.scan("", code)
    assert (reply.tone, reply.word) == ("ask", "PHOTO?")
    assert yard.cores() == []
    clerk.photograph(code)
    done = clerk.scan("", code)
    assert (done.tone, done.word) == ("ask", "PART CREDIT")
    assert done.line.startswith("15.00 EUR.")
    assert yard.cores()[0].photos == 1


def test_a_fault_that_counts_each_time_goes_up_with_every_digit(yard: Yard, clerk: Clerk) -> None:
    family = (FOLDER / "families" / "GPB.toml").read_text(encoding="utf-8")
    each = family.replace('value = "3.50"', 'value = "3.50"\neach = true')
    import_family("GPB.toml", each.encode(), by="Ilse Thornby", now=TODAY)
    yard.sell("S1", 1, day="2026-10-31")
    autumn = Clerk(start=yard.now)
    code = autumn.open()
    autumn.scan("GP-1040", code)
    autumn.scan("3", code)
    reply = autumn.scan("3", code)
    assert reply.line.startswith("17.00 EUR of 24.00 EUR")


def test_a_printed_reason_ticks_its_fault_and_stops_for_another_family(
    yard: Yard, clerk: Clerk
) -> None:
    with writing("Ilse Thornby", TODAY) as writer:
        port = make_shop_code("reason", number_for_reason(writer, "GPB", "port"))
        bent = make_shop_code("reason", number_for_reason(writer, "CLB", "bent"))
        assert number_for_reason(writer, "GPB", "port") == 1
    yard.sell("S1", 1)
    code = clerk.open()
    assert "Scan the number of the core first" in clerk.scan(port, code).line
    clerk.scan("GP-1040", code)
    assert clerk.scan(port, code).word == "PART CREDIT"
    assert clerk.scan(port, code).word == "PART CREDIT"
    other = clerk.scan(bent, code)
    assert other.tone == "stop"
    assert "a fault of family CLB; the core in hand is of family GPB" in other.line
    missing = clerk.scan(make_shop_code("reason", 99), code)
    assert "No fault is printed under reason 99" in missing.line
    assert yard.is_sound()


def test_refusing_asks_for_the_reason(yard: Yard, clerk: Clerk) -> None:
    yard.sell("S1", 1)
    code = clerk.open()
    assert "No core is in hand to refuse" in clerk.scan(order("refuse"), code).line
    clerk.scan("GP-1040", code)
    reply = clerk.scan(order("refuse"), code)
    assert (reply.tone, reply.word) == ("ask", "REASON?")
    assert clerk.scan("1", code).word == "REFUSE"
    clerk.tell(code, no_photo="too dark")
    done = clerk.scan("", code)
    assert (done.tone, done.word) == ("stop", "REFUSED")
    assert "kept until 2026-05-30" in done.line


def test_a_bin_says_where_the_core_lies(yard: Yard, clerk: Clerk) -> None:
    yard.sell("S1", 1)
    code = clerk.open()
    bin_code = make_shop_code("bin", 7)
    clerk.scan("GP-1040", code)
    clerk.scan(bin_code, code)
    assert held_of(clerk, code).place_name == "bin 7"
    clerk.scan("", code)
    assert yard.cores()[0].place == bin_code


def test_the_hold_order_takes_a_core_in_without_judging(yard: Yard, clerk: Clerk) -> None:
    yard.sell("S1", 1)
    code = clerk.open()
    clerk.scan("GP-1040", code)
    assert clerk.scan(order("hold"), code).word == "COUNTED"
    tag = yard.cores()[0].tag
    reply = clerk.scan(tag, code)
    assert reply.word == "COUNTED"
    assert choose(clerk, reply, "Judge it now", code).word == "ACCEPT"
    done = clerk.scan("", code)
    assert (done.word, done.print_tags) == ("ACCEPTED", (tag,))
    assert len(yard.cores()) == 1
    assert yard.is_sound()
