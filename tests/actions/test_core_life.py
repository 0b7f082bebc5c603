"""The page of one core: found by anything, told in sentences, without the shop's costs."""

from __future__ import annotations

from dataclasses import asdict

import pytest
from core_yard import Yard, money
from dock_station import Clerk

from coretrack.actions import cards, core_life, station_labels
from coretrack.errors import NotAllowed, NotFound
from coretrack.figures.core_story import event_sentence, state_shown
from coretrack.figures.lifecycle import CoreFacts, apply
from coretrack.figures.tags import make_shop_code, show_tag
from coretrack.records.writer import writing

ODD_SERIALS = ["7731/120 A?B#1", "A/B", ".."]


def tag_of(yard: Yard, serial: str) -> str:
    return str(yard.core(serial).tag)


def put(yard: Yard, tag: str, place: str, key: str = "") -> str:
    return core_life.put_core(tag, place, by=yard.by, station="dock", now=yard.now, key=key)


def test_a_credited_core_shows_its_line_its_arithmetic_and_no_cost(yard: Yard) -> None:
    yard.sell(charge="40")
    yard.bring_back("A1", faults="port", delivery="D1")
    view = core_life.core_view(tag_of(yard, "A1"))
    assert view.state.words == "waiting for inspection"
    assert view.acceptance == "accepted for part of the credit"
    assert view.faults == ("Port thread damaged",)
    assert view.credit == money("30") == sum(amount for _, amount in view.arithmetic)
    assert (view.lot, view.invoice, view.source, view.stream) == ("D1", "S1", "ANSL", "return")
    assert view.credit_note == ""
    names = set(asdict(view))
    assert not names & {"price", "freight", "receive", "wash", "inspect", "rework", "recovery"}


def test_what_was_noted_of_a_refused_core_stands_on_its_page(yard: Yard) -> None:
    clerk = Clerk()
    yard.sell("S1", 2)
    code = clerk.open()
    told = {"refuse": True, "refusal": "melted", "no_photo": "camera broken", "note": "smells"}
    refused = core_life.core_view(clerk.receive(code, serial="A1", **told).tag)
    assert (refused.refusal, refused.no_photo) == ("melted", "camera broken")
    assert (refused.note, refused.no_serial) == ("smells", "")
    nameless = core_life.core_view(clerk.receive(code, serial="A1", no_serial=True, note="x").tag)
    assert "cannot be read or is disputed; A1 was told" in nameless.no_serial
    assert "came in before" in nameless.history[0].sentence
    assert (nameless.serial, nameless.note, nameless.refusal) == ("", "x", "")


def test_an_excess_core_that_was_refused_is_called_refused(yard: Yard) -> None:
    clerk = Clerk()
    code = clerk.open()
    told = {"refuse": True, "refusal": "melted", "no_photo": "no camera"}
    view = core_life.core_view(clerk.receive(code, serial="A1", **told).tag)
    assert (view.acceptance, view.refusal) == ("refused", "melted")
    assert view.state.words == "refused, in the hold bin"


def test_what_the_shop_paid_stands_nowhere_on_the_page(yard: Yard) -> None:
    yard.buy("B1", price="17.31")
    view = core_life.core_view(tag_of(yard, "B1"))
    assert "17.31" not in str(view)
    assert str(money("17.31")) not in str(view)
    assert view.credit is None
    assert view.stream == "purchased lot"


def test_the_history_is_readable_by_the_shops_clock(yard: Yard) -> None:
    yard.sell(charge="40")
    yard.bring_back("A1", delivery="D1", faults="port")
    tag = tag_of(yard, "A1")
    cards.make_places("bin", 4, 4, "Shelf", by=yard.by, station="dock", now=yard.now, key="")
    put(yard, tag, make_shop_code("bin", 4))
    station_labels.note_printed([tag], by=yard.by, station="dock", now=yard.now, key="")
    view = core_life.core_view(tag)
    said = [told.sentence for told in view.history]
    assert said[0].startswith("Taken in as return on 2026-05-20 from ANSL, D1; number GP-1040")
    assert said[1].startswith(
        "Judged at the dock: accepted for part of the credit, credit 30.00, on line S1"
    )
    assert said[2:] == ["Put into Shelf 4.", "Label printed on roll-50x25."]
    last = view.history[-1]
    # 12:00 UTC is 07:00 in the yard's zone, still on summer time that day.
    assert (last.when, last.by, last.station) == ("2026-10-31 07:00", yard.by, "dock")
    assert (view.place_name, view.labels) == ("Shelf 4", 1)
    assert said[1].endswith("Faults: Port thread damaged.")
    assert view.history[1].why == "Port thread damaged"


def test_a_body_seen_before_names_its_other_lives(yard: Yard) -> None:
    yard.sell(quantity=2)
    yard.bring_back("A1", delivery="D1")
    first = tag_of(yard, "A1")
    yard.measure("A1")
    yard.bring_back("A1", delivery="D2", day="2026-07-20")
    second = tag_of(yard, "A1")
    assert first != second
    assert [life.tag for life in core_life.core_view(second).lives] == [first]
    assert (
        core_life.core_view(second)
        .history[0]
        .sentence.endswith(f"The same body was here before as {show_tag(first)}.")
    )
    before = core_life.core_view(first)
    assert before.verdict.startswith("Inspected by Bela Quirke: Keep")
    assert before.state.chip == "good"
    assert {reading.check for reading in before.readings} >= {"bore", "face"}
    assert "not an approval for service" in before.safety
    assert core_life.core_view(second).safety == ""


@pytest.mark.parametrize("serial", ODD_SERIALS)
def test_any_serial_finds_its_core_at_once(yard: Yard, serial: str) -> None:
    yard.buy(serial, "PLAIN-1")
    found = core_life.cores_found(serial)
    assert found.only == tag_of(yard, serial)
    assert core_life.core_view(found.only).serial == serial


def test_a_core_is_found_by_tag_number_paper_and_part_of_a_serial(yard: Yard) -> None:
    yard.sell("INV-77", quantity=2)
    yard.bring_back("QX%71", "QX_72", delivery="D1", invoice="INV-77")
    tags = {tag_of(yard, "QX%71"), tag_of(yard, "QX_72")}
    tag = tag_of(yard, "QX%71")
    assert core_life.cores_found(show_tag(tag)).only == tag
    assert core_life.cores_found(f"]C1{tag}\r").only == tag
    for text in ("gp1040", "GP-1040", "d1", "qx", "INV-77", tag[:6]):
        found = core_life.cores_found(text)
        assert {row.tag for row in found.rows} == tags, text
        assert found.only == ""
    assert [row.serial for row in core_life.cores_found("x_7").rows] == ["QX_72"]
    assert [row.serial for row in core_life.cores_found("%").rows] == ["QX%71"]
    assert core_life.cores_found("nothing like it").rows == ()


def test_searching_for_nothing_shows_the_newest_cores_first(yard: Yard) -> None:
    yard.buy("B1", "B2")
    rows = core_life.cores_found("  ").rows
    assert [row.serial for row in rows] == ["B2", "B1"]


def test_a_long_list_is_cut_off_and_says_so(yard: Yard) -> None:
    yard.buy(*(f"B{n}" for n in range(core_life.MOST_FOUND + 5)))
    found = core_life.cores_found("B")
    assert len(found.rows) == core_life.MOST_FOUND
    assert found.more


def test_a_tag_nobody_has_is_said_and_how_to_look(yard: Yard) -> None:
    with pytest.raises(NotFound, match=r"'A/B'\. Look for it by its serial"):
        core_life.core_view("A/B")


def test_a_core_is_put_into_a_bin_once_and_taken_out_again(yard: Yard) -> None:
    yard.buy("B1")
    tag, bin_code = tag_of(yard, "B1"), make_shop_code("bin", 4)
    cards.make_places("bin", 4, 4, "", by=yard.by, station="dock", now=yard.now, key="")
    assert put(yard, tag, bin_code, "k1") == "Bin 4"
    assert put(yard, tag, bin_code, "k1") == "Bin 4"
    assert put(yard, tag, bin_code) == "Bin 4"
    assert [event for event, _ in yard.history("core", tag)].count("put") == 1
    assert put(yard, tag, "") == ""
    assert core_life.core_view(tag).place == ""
    with pytest.raises(NotFound, match="no bin, basket or rack"):
        put(yard, tag, make_shop_code("bin", 5))
    with pytest.raises(NotFound):
        put(yard, "1000000023", bin_code)
    assert yard.is_sound()


def test_a_core_that_left_the_house_is_not_put_anywhere(yard: Yard) -> None:
    yard.sell()
    yard.bring_back("A1")
    tag = tag_of(yard, "A1")
    cards.make_places("bin", 4, 4, "", by=yard.by, station="dock", now=yard.now, key="")
    with writing(yard.by, yard.now) as writer:
        writer.event("core", tag, "taken back", {}, why="counted twice")
    with pytest.raises(NotAllowed, match="no longer in the house"):
        put(yard, tag, make_shop_code("bin", 4))
    view = core_life.core_view(tag)
    assert view.gone
    assert view.state.words == "taken in by mistake, out of the books"
    assert view.history[-1].why == "counted twice"


def test_a_judgement_that_was_taken_back_shows_no_arithmetic(yard: Yard) -> None:
    yard.sell(charge="40")
    yard.bring_back("A1", delivery="D1")
    tag = tag_of(yard, "A1")
    with writing(yard.by, yard.now) as writer:
        writer.event("core", tag, "unjudged", {})
    view = core_life.core_view(tag)
    assert (view.acceptance, view.arithmetic, view.credit) == ("", (), None)
    assert view.state.words == "counted, not judged yet"


def test_every_event_of_a_core_has_a_sentence_without_costs() -> None:
    costs = {"costs": {"price": 991_100, "wash": 882_200}}
    told = {
        "bought": costs,
        "held": {"hold_until": "2026-06-01"},
        "left": {"to": "sent back"},
        "credit released": {"note": "CN-5"},
        "photographed": {"sha256": "aa", "what": "fault"},
        "identified": {"family": "GPB", "number": "GP-1040"},
        "source lost": {"basket": "B1"},
        "reworked": {"operation": "hone", "person": "Bela Quirke", **costs},
        "overridden": {"grade": "scrap", **costs},
    }
    said = {event: event_sentence(event, detail) for event, detail in told.items()}
    assert said["bought"] == "Bought by the shop."
    assert said["held"] == "Excess core refused; kept until 2026-06-01."
    assert said["left"] == "Sent back to the customer."
    assert said["credit released"] == "Credit left the house with CN-5."
    assert said["identified"] == "Identified as family GPB, number GP-1040."
    assert said["reworked"] == "Rework hone finished by Bela Quirke."
    assert not any("99.11" in text or "88.22" in text for text in said.values())


def test_every_state_a_core_can_reach_has_words_of_its_own() -> None:
    from coretrack.figures.lifecycle import GONE, NOT_OURS, STATE_AFTER_GRADE

    states = {*GONE, *NOT_OURS, *STATE_AFTER_GRADE.values(), "unknown", "waiting", "comeback"}
    words = {state: state_shown(CoreFacts("1", state=state)) for state in states | {"reinspect"}}
    assert all(shown.words != state for state, shown in words.items() if state != "scrapped")
    assert {shown.chip for shown in words.values()} == {"good", "wait", "ask", "stop"}


def test_a_received_core_alone_tells_its_first_sentence() -> None:
    detail = {"tag": "1", "stream": "purchase", "received_on": "2026-05-06", "source": "COPP"}
    assert apply(None, "received", detail).stream == "purchase"
    assert event_sentence("received", detail) == (
        "Taken in as purchased lot on 2026-05-06 from COPP."
    )
