"""The page of one core: found by anything, told in sentences, without the shop's costs."""

from __future__ import annotations

from dataclasses import asdict

import pytest
from bench_desk import Inspector
from bench_floor import Floor, basket, bin_code, furnish
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
    (told,) = before.past.verdicts
    assert (told.grade, told.by, told.what) == ("keep", "Bela Quirke", "verdict")
    assert told.sentence.startswith("Keep")
    assert before.state.chip == "good"
    assert {reading.check for reading in told.readings} >= {"Gear bore", "Crack check"}
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


def test_a_reading_is_told_as_typed_as_read_with_limits_result_and_gauge(yard: Yard) -> None:
    yard.buy("B1")
    yard.measure("B1", bore=("24,010", "24.045", "24.011"), crack="unsure", gauge="BG1")
    (told,) = core_life.core_view(tag_of(yard, "B1")).past.verdicts
    bore = [reading for reading in told.readings if reading.check == "Gear bore"]
    assert [reading.typed for reading in bore] == ["24,010", "24.045", "24.011"]
    assert [reading.value for reading in bore] == ["24.010 mm", "24.045 mm", "24.011 mm"]
    assert [reading.result for reading in bore] == ["inside", "outside", "inside"]
    assert {reading.limits for reading in bore} == {"24.000 to 24.040 mm"}
    assert all(reading.gauge.startswith("BG1") for reading in bore)
    (crack,) = [reading for reading in told.readings if reading.check == "Crack check"]
    assert (crack.result, crack.chip, crack.gauge) == ("unsure", "ask", "")
    assert told.grade == "scrap"
    assert "0.005 mm above the upper usable limit of 24.040 mm" in told.sentence


def test_an_overdue_gauge_stands_beside_every_reading_taken_with_it(yard: Yard) -> None:
    yard.buy("B1")
    with writing(yard.by, yard.now) as writer:
        writer.event("gauge", "BG1", "set", {"due_on": "2026-05-01"})
    yard.measure("B1")
    (told,) = core_life.core_view(tag_of(yard, "B1")).past.verdicts
    assert {reading.overdue for reading in told.readings if reading.gauge} == {True}


def test_rework_passes_and_stock_removed_over_all_lives_stand_together(yard: Yard) -> None:
    yard.sell(quantity=2)
    yard.bring_back("A1", delivery="D1")
    yard.measure("A1", bore=("23.970", "23.971", "23.972"))
    yard.finish("A1", "hone", minutes="14")
    yard.measure("A1", at="2026-05-23 09:00")
    first = core_life.core_view(tag_of(yard, "A1")).past
    assert [(told.grade, told.pass_number) for told in first.verdicts] == [
        ("keep", 2),
        ("rework", 1),
    ]
    assert first.verdicts[1].operations == ("Hone the bore",)
    (done,) = first.reworks
    assert (done.operation, done.minutes, done.by) == ("Hone the bore", "14", "Bela Quirke")
    assert done.removed.endswith("off Gear bore")
    yard.bring_back("A1", delivery="D2", day="2026-07-20")
    second = core_life.core_view(tag_of(yard, "A1")).past
    assert second.verdicts == second.reworks == ()
    assert second.stock == first.stock != ()
    assert [(told.operation, told.done) for told in second.passes] == [("Hone the bore", 1)]


def test_what_a_core_cost_is_told_only_when_asked_and_adds_up(yard: Yard) -> None:
    yard.sell(quantity=2, charge="40")
    yard.bring_back("A1", delivery="D1", faults="port")
    yard.buy("B1", "B2", price="17.31", freight="9.43")
    yard.measure("A1", bore=("23.970", "23.971", "23.972"))
    yard.finish("A1", "hone", minutes="14")
    yard.measure("A1", at="2026-05-23 09:00")
    yard.measure("B1", crack="indication")
    yard.measure("B2", bore=("24.300", "24.301", "24.302"))
    yard.overrule("B2", "rework", operations=("hone",))
    with writing(yard.by, yard.now) as writer:
        writer.event("core", tag_of(yard, "A1"), "put", {"place": make_shop_code("bin", 4)})
    for serial in ("A1", "B1", "B2"):
        core = yard.core(serial)
        asked = core_life.core_view(core.tag, costs=True).past
        parts = ("price", "freight", "credit", "receive", "wash", "inspect", "rework", "reinspect")
        spent = sum(getattr(core, part) for part in (*parts, "disposal")) - core.recovery
        assert sum(line.amount for line in asked.costs) == asked.cost == spent
        assert asked.cost > 0
        untold = core_life.core_view(core.tag).past
        assert (untold.costs, untold.cost) == ((), None)
    scrapped = core_life.core_view(tag_of(yard, "B1"), costs=True).past.costs
    assert any(line.part == "less scrap recovery" and line.amount < 0 for line in scrapped)
    overruled = core_life.core_view(tag_of(yard, "B2"), costs=True).past
    assert any(line.what == "Overruled by the owner" for line in overruled.costs)
    assert [(told.what, told.grade) for told in overruled.verdicts] == [
        ("overruled", "rework"),
        ("verdict", "scrap"),
    ]
    assert overruled.verdicts[0].why == "seen by me"
    assert "it was scrap" in overruled.verdicts[0].sentence


def test_where_a_core_is_comes_first_whatever_became_of_it(yard: Yard) -> None:
    yard.buy("B1")
    yard.sell()
    yard.bring_back("A1")
    tag = tag_of(yard, "B1")
    furnish(yard)

    def where() -> tuple[str, ...]:
        return core_life.core_view(tag).past.where

    assert where() == ("In the house; no bin or basket is noted.",)
    Floor(yard).scan(basket(2), tag)
    assert where() == ("In Basket 2, slot 1.",)
    with writing(yard.by, yard.now) as writer:
        writer.event("core", tag, "tag bound", {"number": 17})
    assert where() == ("In Basket 2, slot 1, with metal tag 17 wired to it.",)
    bela = Inspector().at(tag)
    bela.type("24.010", "24.012")
    assert where()[1].startswith(
        "At the bench: 2 entries kept with it, the last by Bela Quirke at bench 1, 2026-05-21 09:"
    )
    assert where()[1].endswith("; the verdict is not stored yet.")
    bela.type("24.011", "3.0", "go", "none", "A", "")
    with writing(yard.by, yard.now) as writer:
        writer.event("core", tag, "put", {"place": bin_code(1)})
        writer.event("core", tag, "tag released", {"number": 17})
    lay = core_life.core_view(tag).past.stays
    assert [(stay.what, bool(stay.until)) for stay in lay][:2] == [
        ("Basket 2, slot 1", lay[0].until != ""),
        ("metal tag 17", True),
    ]
    assert lay[-1].what == "Shelf 1"
    with writing(yard.by, yard.now) as writer:
        writer.event("core", tag, "picked", {"into": "unit 88"})
    assert where() == ("Not on the shelf: picked for unit 88.",)
    other = tag_of(yard, "A1")
    with writing(yard.by, yard.now) as writer:
        writer.event("core", other, "taken back", {}, why="counted twice")
    gone = core_life.core_view(other).past
    assert gone.where == ("Not in the house: taken in by mistake, out of the books.",)
    assert f"by {yard.by}" in gone.seen


def test_rework_that_somebody_is_at_stands_with_where_it_is(yard: Yard) -> None:
    yard.buy("B1")
    yard.measure("B1", bore=("23.970", "23.971", "23.972"))
    tag = tag_of(yard, "B1")
    assert core_life.core_view(tag).past.waiting == ("Hone the bore",)
    with writing("Una Pryor", yard.now) as writer:
        writer.event("core", tag, "rework begun", {"operation": "hone", "person": "Una Pryor"})
    past = core_life.core_view(tag).past
    assert past.where[1] == "Una Pryor is at rework Hone the bore since 2026-10-31 07:00."


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
