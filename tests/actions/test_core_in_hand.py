"""The core in hand: what is proposed before it is stored, what is asked, and what is stored."""

from __future__ import annotations

from typing import Any

import pytest
from core_yard import FOLDER, Yard, money
from dock_station import Clerk, held_of

from coretrack.actions import core_in_hand, deliveries
from coretrack.actions.acting import Changed
from coretrack.actions.delivery_views import CoreChange, Proposal
from coretrack.actions.setting_up import import_family
from coretrack.errors import InvalidInput, NotAllowed
from coretrack.figures.tags import make_shop_code
from coretrack.records import photos
from coretrack.records.database import connection


@pytest.fixture
def clerk() -> Clerk:
    return Clerk()


def fields(shown: Proposal) -> list[str]:
    return [need.field for need in shown.needs]


def test_a_clean_core_is_proposed_with_everything_known_of_its_line(
    yard: Yard, clerk: Clerk
) -> None:
    yard.sell("S1", 6, day="2026-05-04")
    yard.sell("S2", 1, day="2026-05-08")
    code = clerk.open()
    shown = clerk.take(code, "gp.1044")
    assert (shown.outcome, shown.word, shown.credit) == ("accept", "ACCEPT", money("20.00"))
    assert shown.line is not None
    assert (shown.line.key, shown.line.number, shown.line.sold_on) == (
        "S1/1",
        "GP-1040",
        "2026-05-04",
    )
    assert (shown.line.due_on, shown.line.late, shown.line.criteria_version) == (
        "2026-06-03",
        False,
        1,
    )
    assert shown.line.window == "30 days, then 25 % off for each full week"
    assert (shown.owed_before, shown.owed_after) == (6, 5)
    assert [line.key for line in shown.others] == ["S2/1"]
    assert shown.settles == "20.00 EUR to give back"
    assert shown.notes == (
        "Sold GP-1040, received GP-1044: both are core group GPB-A (Two-bolt flange).",
    )
    assert (shown.needs, shown.ready) == ((), True)


def test_another_line_can_be_chosen_and_changes_the_fingerprint(yard: Yard, clerk: Clerk) -> None:
    yard.sell("S1", 1, charge="30.00")
    yard.sell("S2", 1, day="2026-05-08", charge="10.00")
    code = clerk.open()
    first = clerk.take(code)
    assert first.line is not None
    assert (first.line.key, first.credit) == ("S1/1", money("30.00"))
    clerk.tell(code, line="S2/1")
    chosen = clerk.proposal(code)
    assert chosen.line is not None
    assert (chosen.line.key, chosen.credit) == ("S2/1", money("10.00"))
    assert chosen.fingerprint != first.fingerprint
    with pytest.raises(Changed, match=r"you saw ACCEPTED 30\.00 on line S1/1"):
        clerk.store(code, first.fingerprint)
    assert clerk.store(code).amount == money("10.00")
    assert [yard.line(key).credited for key in ("S1/1", "S2/1")] == [0, 1]


def test_a_superseded_number_is_said(yard: Yard, clerk: Clerk) -> None:
    yard.sell("S1", 1)
    assert clerk.take(clerk.open()).notes == ("GP-1040 was superseded by GP-1044.",)


def test_the_paper_of_the_delivery_says_which_line_is_answered(yard: Yard, clerk: Clerk) -> None:
    yard.sell("S1", 1)
    yard.sell("S2", 1, day="2026-05-08")
    code = clerk.open(reference="S2")
    shown = clerk.take(code)
    assert shown.line is not None
    assert shown.line.key == "S2/1"


def test_a_line_of_another_customer_is_offered_and_never_taken_by_itself(
    yard: Yard, clerk: Clerk
) -> None:
    yard.sell("S1", 1, customer="BROD")
    code = clerk.open(reference="S1")
    shown = clerk.take(code)
    assert (shown.outcome, [line.customer for line in shown.others]) == ("excess", ["BROD"])
    clerk.tell(code, line="S1/1")
    assert "sold 2026-05-04 to BROD" in clerk.proposal(code).sentence
    clerk.store(code)
    assert yard.line("S1/1").credited == 1
    came = yard.history("core", yard.cores()[0].tag)[0][1]
    assert (came["source"], came["customer"]) == ("ANSL", "BROD")
    assert yard.is_sound()


@pytest.mark.parametrize(
    ("faults", "credit", "outcome"),
    [
        (("scuff",), "20.00", "accept"),
        (("box",), "20.00", "accept"),
        (("port",), "15.00", "part credit"),
        (("port", "plug"), "11.50", "part credit"),
        (("older", "plug"), "12.00", "part credit"),
        (("cracked", "plug"), "0.00", "refuse"),
    ],
)
def test_ticked_faults_are_worked_out_line_by_line(
    yard: Yard, clerk: Clerk, faults: tuple[str, ...], credit: str, outcome: str
) -> None:
    yard.sell("S1", 1)
    shown = clerk.take(clerk.open(), faults=faults)
    assert (shown.outcome, shown.credit) == (outcome, money(credit))
    assert sum(line.amount for line in shown.arithmetic) == shown.credit
    assert shown.credit % 100 == 0


def test_a_deduction_needs_a_photo_or_the_reason_why_there_is_none(
    yard: Yard, clerk: Clerk
) -> None:
    yard.sell("S1", 3)
    code = clerk.open()
    assert fields(clerk.take(code, faults=("port",))) == ["photo"]
    with pytest.raises(NotAllowed) as refused:
        clerk.store(code)
    assert list(refused.value.fields) == ["photo"]
    clerk.tell(code, no_photo="camera broken")
    stored = clerk.store(code)
    assert (stored.word, stored.amount) == ("PART CREDIT", money("15.00"))
    assert yard.history("core", stored.tag)[1][1]["no_photo"] == "camera broken"


def test_photos_of_the_core_in_hand_go_with_it(yard: Yard, clerk: Clerk) -> None:
    yard.sell("S1", 1)
    code = clerk.open()
    clerk.take(code, faults=("port",))
    clerk.photograph(code)
    clerk.photograph(code, "number")
    assert clerk.proposal(code).ready
    held = held_of(clerk, code)
    assert (held.photos, held.draft_key) == (2, f"core/{code}/Ilse Thornby")
    stored = clerk.store(code)
    with connection():
        assert [photo.what for photo in photos.photos_of("core", stored.tag)] == ["fault", "number"]
        assert photos.photos_of("draft", held.draft_key) == []
    assert [event for event, _ in yard.history("core", stored.tag)] == [
        "received", "accepted", "photographed", "photographed",
    ]  # fmt: skip
    assert yard.is_sound()


def test_a_refusal_by_word_needs_its_reason_and_is_held_from_today(
    yard: Yard, clerk: Clerk
) -> None:
    yard.sell("S1", 1)
    code = clerk.open()
    shown = clerk.take(code, refuse=True, no_photo="too dark")
    assert (shown.outcome, fields(shown)) == ("refuse", ["refusal"])
    clerk.tell(code, refusal="welded")
    shown = clerk.proposal(code)
    assert (shown.hold_until, shown.credit, shown.needs) == ("2026-05-30", 0, ())
    assert "No credit: welded" in shown.sentence
    stored = clerk.store(code)
    assert (stored.word, stored.hold_until) == ("REFUSED", "2026-05-30")
    core = yard.cores()[0]
    assert (core.state, core.hold_until) == ("hold", "2026-05-30")
    assert (yard.line("S1/1").refused, yard.line("S1/1").credited) == (1, 0)
    assert yard.is_sound()


def test_a_core_that_only_came_late_needs_no_photo(yard: Yard, clerk: Clerk) -> None:
    yard.sell("S1", 1, day="2026-04-10")
    code = clerk.open()
    shown = clerk.take(code)
    assert (shown.outcome, shown.credit, shown.needs) == ("part credit", money("15.00"), ())
    stored = clerk.store(code)
    accepted = yard.history("core", stored.tag)[1][1]
    assert accepted["no_photo"].startswith("it only came late")


def test_a_fault_that_counts_each_time_is_taken_off_as_often(yard: Yard, clerk: Clerk) -> None:
    family = (FOLDER / "families" / "GPB.toml").read_text(encoding="utf-8")
    each = family.replace('value = "3.50"', 'value = "3.50"\neach = true')
    import_family("GPB.toml", each.encode(), by="Ilse Thornby", now=clerk.now)
    yard.sell("S1", 1, day="2026-10-31")
    autumn = Clerk(start=yard.now)
    code = autumn.open(pieces=2)
    shown = autumn.take(code, faults=("plug", "plug"), no_photo="none")
    assert shown.credit == money("24.00") - 2 * money("3.50")
    autumn.store(code)
    assert yard.history("core", yard.cores()[0].tag)[1][1]["faults"] == ["plug", "plug"]


def test_credit_after_teardown_is_said(yard: Yard, clerk: Clerk) -> None:
    family = (FOLDER / "families" / "CLB.toml").read_text(encoding="utf-8")
    later = family.replace('metal = "steel"', 'metal = "steel"\ncredit_when = "teardown"')
    import_family("CLB.toml", later.encode(), by="Ilse Thornby", now=clerk.now)
    yard.sell("S1", 1, number="CB-77", charge="9.00")
    shown = clerk.take(clerk.open(), "CB-77")
    assert shown.after_teardown
    assert shown.sentence.endswith("Released after teardown.")


def test_a_comeback_earns_nothing_and_comes_from_the_own_bay(yard: Yard, clerk: Clerk) -> None:
    yard.sell("S1", 1)
    code = clerk.open(goods="comebacks")
    stored = clerk.receive(code)
    assert (stored.word, stored.amount) == ("COMEBACK", 0)
    core = yard.cores()[0]
    assert (core.stream, core.state, core.source) == ("comeback", "comeback", "OWN")
    assert yard.line("S1/1").credited == 0


def test_in_a_mixed_delivery_it_is_asked_each_time(yard: Yard, clerk: Clerk) -> None:
    yard.sell("S1", 1)
    code = clerk.open(goods="mixed")
    assert fields(clerk.take(code)) == ["kind"]
    clerk.tell(code, comeback=False)
    assert clerk.store(code).word == "ACCEPTED"
    assert fields(clerk.take(code)) == ["kind"]


@pytest.mark.parametrize("spelled", ["A-1", "A1"])
def test_a_serial_that_is_in_the_house_stays_in_hand_and_stops_the_core(
    yard: Yard, clerk: Clerk, spelled: str
) -> None:
    yard.sell("S1", 3)
    yard.bring_back("A-1")
    code = clerk.open()
    shown = clerk.take(code, serial=spelled)
    assert held_of(clerk, code).serial == spelled
    assert fields(shown) == ["serial"]
    assert "a core is taken once" in shown.needs[0].text
    with pytest.raises(NotAllowed, match="a core is taken once"):
        clerk.store(code)
    clerk.tell(code, serial="")
    assert fields(clerk.proposal(code)) == ["serial"], "wiping it out is no answer"
    clerk.tell(code, serial="B7")
    assert fields(clerk.proposal(code)) == []
    clerk.store(code)
    assert yard.core("B7").acceptance == "accept"


def test_a_serial_that_cannot_be_read_is_said_and_kept_in_the_history(
    yard: Yard, clerk: Clerk
) -> None:
    yard.sell("S1", 3)
    yard.bring_back("A1")
    code = clerk.open()
    clerk.take(code, serial="A1")
    clerk.tell(code, no_serial=True)
    shown = clerk.proposal(code)
    assert (shown.outcome, shown.needs) == ("accept", ())
    assert any("Taken in without a serial. Serial A1 came in before" in n for n in shown.notes)
    with pytest.raises(Changed, match="Look at this core first"):
        clerk.store(code, seen="")
    tag = clerk.store(code).tag
    came = yard.history("core", tag)[0][1]
    assert (came["serial"], came["no_serial"], came["serial_told"]) == ("", True, "A1")
    assert "came in before" in came["serial_warning"]
    clerk.undo(code)
    held = held_of(clerk, code)
    assert (held.serial, held.no_serial) == ("A1", True)
    clerk.tell(code, serial="A2")
    assert not held_of(clerk, code).no_serial
    assert yard.is_sound()


def test_lines_in_time_go_before_late_ones_and_the_very_number_before_its_group(
    yard: Yard, clerk: Clerk
) -> None:
    yard.sell("OLD", 1, day="2026-01-05")
    yard.sell("OTHER", 1, day="2026-05-04", number="GP-1044")
    yard.sell("SAME", 1, day="2026-05-06")
    code = clerk.open()
    shown = clerk.take(code)
    assert shown.line is not None
    assert (shown.outcome, shown.line.key) == ("accept", "SAME/1")
    assert [line.key for line in shown.others] == ["OTHER/1", "OLD/1"], "the best paid first"
    assert "Older and past its window, so passed over: line OLD/1, sold 2026-01-05." in shown.notes
    for _ in range(2):
        clerk.store(code)
        clerk.take(code)
    last = clerk.proposal(code)
    assert last.line is not None
    assert (last.outcome, last.line.key) == ("refuse", "OLD/1")


def test_the_invoice_told_goes_before_a_line_in_time_and_the_better_one_is_named(
    yard: Yard, clerk: Clerk
) -> None:
    yard.sell("OLD", 1, day="2026-01-05")
    yard.sell("NEW", 1, day="2026-05-04")
    code = clerk.open(reference="OLD")
    shown = clerk.take(code)
    assert shown.line is not None
    assert (shown.outcome, shown.line.key) == ("refuse", "OLD/1")
    assert [line.key for line in shown.others] == ["NEW/1"]
    assert any("Line NEW/1, sold 2026-05-04, would pay more: 20.00 EUR" in n for n in shown.notes)
    clerk.tell(code, line="OLD/1")
    assert not any("would pay more" in note for note in clerk.proposal(code).notes)


def test_in_time_is_reckoned_by_the_day_the_core_arrived(yard: Yard, clerk: Clerk) -> None:
    yard.sell("S1", 1, day="2026-04-18")
    yard.sell("S2", 1, day="2026-05-06")
    late, in_time = clerk.open(), clerk.open(arrived_on="2026-05-18")
    keys = [line.key for code in (late, in_time) if (line := clerk.take(code).line) is not None]
    assert keys == ["S2/1", "S1/1"]


def test_an_excess_core_is_refused_at_once_and_undone_at_once(yard: Yard, clerk: Clerk) -> None:
    code = clerk.open()
    shown = clerk.take(code, refuse=True, serial="A1")
    assert (shown.outcome, shown.word, fields(shown)) == ("refuse", "REFUSE", ["refusal", "photo"])
    clerk.tell(code, refusal="full of concrete", no_photo="camera broken")
    shown = clerk.proposal(code)
    assert (shown.needs, shown.hold_until, shown.credit) == ((), "2026-05-30", 0)
    assert "Refused: full of concrete" in shown.sentence
    stored = clerk.store(code)
    assert (stored.word, stored.outcome, stored.hold_until) == ("REFUSED", "refuse", "2026-05-30")
    core = yard.core("A1")
    assert (core.state, core.acceptance, core.hold_until) == ("hold", "excess", "2026-05-30")
    assert [event for event, _ in yard.history("core", core.tag)] == [
        "received",
        "accepted",
        "held",
    ]
    (row,) = clerk.view(code).cores
    assert (row.outcome, row.word, row.why) == ("refuse", "REFUSED", "full of concrete")
    assert "refused" in clerk.view(code).undo
    clerk.undo(code)
    held = held_of(clerk, code)
    assert (held.refuse, held.refusal, held.no_photo) == (True, "full of concrete", "camera broken")
    with connection():
        assert yard.cores()[0].state == "taken back"
    assert yard.is_sound()


def test_a_refusing_fault_is_reason_enough_to_refuse_an_excess_core(
    yard: Yard, clerk: Clerk
) -> None:
    code = clerk.open()
    clerk.take(code, serial="A1", faults=("cracked",), no_photo="no camera")
    assert clerk.proposal(code).outcome == "excess", "nobody said yet that it is refused"
    clerk.tell(code, refuse=True)
    assert clerk.proposal(code).needs == ()
    clerk.store(code)
    core = yard.core("A1")
    assert (core.state, list(core.faults)) == ("hold", ["cracked"])
    clerk.undo(code)
    assert held_of(clerk, code).refuse
    faults = [(tick.code, tick.times) for tick in held_of(clerk, code).faults if tick.times]
    assert faults == [("cracked", 1)]
    assert yard.is_sound()


def test_a_comeback_is_asked_for_its_complaint_and_an_unreadable_core_for_a_photo(
    yard: Yard, clerk: Clerk
) -> None:
    code = clerk.open(goods="mixed")
    shown = clerk.take(code, comeback=True)
    assert (shown.outcome, shown.needs) == ("comeback", ())
    assert any("what does the customer complain of" in note for note in shown.notes)
    assert held_of(clerk, code).ask_note.startswith("What does the customer complain of")
    clerk.tell(code, note="noisy on S1")
    assert not any("complain" in note for note in clerk.proposal(code).notes)
    clerk.store(code)
    clerk.tell(code, illegible=True, comeback=False)
    assert held_of(clerk, code).offer_photo
    assert any("A photo of the core helps" in note for note in clerk.proposal(code).notes)
    clerk.photograph(code)
    assert not held_of(clerk, code).offer_photo


def test_a_serial_taken_in_by_somebody_else_meanwhile_stops_the_store(
    yard: Yard, clerk: Clerk
) -> None:
    yard.sell("S1", 3)
    code = clerk.open()
    other = Clerk("Bela Quirke", "dock 2")
    clerk.take(code, serial="A1")
    other.receive(code, serial="A1")
    with pytest.raises(NotAllowed, match="Serial A1 came in before"):
        clerk.store(code)
    assert yard.line("S1/1").credited == 1


def test_a_body_that_was_kept_and_sold_may_come_again_and_is_said(yard: Yard, clerk: Clerk) -> None:
    yard.sell("S1", 2)
    yard.bring_back("A1", day="2026-05-10")
    yard.measure("A1", at="2026-05-11 09:00")
    code = clerk.open()
    notes = clerk.take(code, serial="A1").notes
    assert "This body was here before" in notes[-1]
    assert clerk.store(code).word == "ACCEPTED"


@pytest.mark.parametrize(
    ("told", "field"),
    [
        ({"number": "GP\x001"}, "number"),
        ({"serial": "Ä\u200bB"}, "serial"),
        ({"invoice": "x" * 90}, "invoice"),
        ({"mass": "heavy"}, "mass"),
        ({"mass": "3000 kg"}, "mass"),
        ({"mass": "0"}, "mass"),
        ({"note": "x" * 501}, "note"),
        ({"faults": ("dented",)}, "faults"),
        ({"place": make_shop_code("badge", 1)}, "place"),
    ],
)
def test_what_cannot_be_used_names_its_field_and_changes_nothing(
    yard: Yard, clerk: Clerk, told: dict[str, Any], field: str
) -> None:
    yard.sell("S1", 1)
    code = clerk.open()
    clerk.take(code, note="kept")
    with pytest.raises(InvalidInput) as refused:
        clerk.tell(code, **told)
    assert field in refused.value.fields
    held = held_of(clerk, code)
    assert (held.number, held.note) == ("GP-1040", "kept")


def test_a_dropped_core_leaves_nothing_behind(yard: Yard, clerk: Clerk) -> None:
    code = clerk.open()
    clerk.take(code)
    clerk.photograph(code)
    assert core_in_hand.drop(code, **clerk.who)
    assert not core_in_hand.drop(code, **clerk.who)
    assert clerk.view(code).in_hand is None
    assert (yard.cores(), yard.tags_given()) == ([], 0)


def test_a_core_that_somebody_left_in_hand_can_be_dropped_by_another(
    yard: Yard, clerk: Clerk
) -> None:
    code = clerk.open(pieces="")
    other = Clerk("Bela Quirke", "dock 2")
    other.take(code)
    with pytest.raises(NotAllowed, match="Bela Quirke has a core"):
        deliveries.close_delivery(code, **clerk.who)
    assert core_in_hand.drop(code, of="Bela Quirke", **clerk.who)
    assert deliveries.close_delivery(code, **clerk.who) == "closed"


def test_nothing_in_hand_cannot_be_stored(yard: Yard, clerk: Clerk) -> None:
    with pytest.raises(NotAllowed, match="No core is in hand"):
        clerk.store(clerk.open(), "")


def test_a_bought_core_is_not_judged_at_the_dock(yard: Yard, clerk: Clerk) -> None:
    yard.buy("A1", number="who knows")
    with pytest.raises(NotAllowed, match="only a returned core"):
        core_in_hand.judge_core(yard.core("A1").tag, **clerk.who)


def test_what_a_form_does_not_say_stays(yard: Yard, clerk: Clerk) -> None:
    yard.sell("S1", 1)
    code = clerk.open()
    clerk.tell(code, number="GP-1040", serial="A1", mass="1,5", note="oily")
    core_in_hand.change(code, CoreChange(note=""), **clerk.who)
    held = held_of(clerk, code)
    assert (held.number, held.serial, held.mass, held.note) == ("GP-1040", "A1", "1,5", "")


def test_another_number_keeps_the_ticks_that_its_family_has(yard: Yard, clerk: Clerk) -> None:
    yard.sell("S1", 1)
    code = clerk.open()
    clerk.take(code, faults=("port",))
    clerk.tell(code, number="GP-2080", faults=("port", "plug"))
    assert [tick.code for tick in held_of(clerk, code).faults if tick.times] == ["port", "plug"]
    clerk.tell(code, number="CB-77", faults=("port", "plug"))
    assert held_of(clerk, code).number == "CB-77"
    assert [tick.code for tick in held_of(clerk, code).faults if tick.times] == []
