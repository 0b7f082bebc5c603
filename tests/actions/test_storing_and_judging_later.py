"""Cores are stored once, by one of two clerks, and unknown ones are judged later on."""

from __future__ import annotations

import threading

import pytest
from core_yard import Yard, money
from dock_station import Clerk, credited_agree, held_of

from coretrack.actions import core_in_hand, deliveries
from coretrack.actions.acting import Changed
from coretrack.actions.delivery_views import Proposal
from coretrack.errors import Conflict, CoretrackError, NotAllowed, NotFound


@pytest.fixture
def clerk() -> Clerk:
    return Clerk()


def fields(shown: Proposal) -> list[str]:
    return [need.field for need in shown.needs]


def test_the_same_key_stores_one_core_and_answers_the_same(yard: Yard, clerk: Clerk) -> None:
    yard.sell("S1", 2)
    code = clerk.open()
    shown = clerk.take(code).fingerprint
    first = clerk.store(code, shown, key="k1")
    assert clerk.store(code, shown, key="k1") == first
    assert len(yard.cores()) == 1


def test_a_core_nobody_saw_is_stored_only_when_it_is_clean(yard: Yard, clerk: Clerk) -> None:
    yard.sell("S1", 2)
    code = clerk.open()
    clerk.take(code)
    assert clerk.store(code, "").word == "ACCEPTED"
    clerk.take(code, faults=("scuff",))
    with pytest.raises(Changed, match="Look at this core first"):
        clerk.store(code, "")
    clerk.tell(code, faults=())
    yard.sell("S2", 1)
    with pytest.raises(Changed, match="Look at this core first"):
        clerk.store(code, "")
    assert len(yard.cores()) == 1
    assert clerk.store(code).word == "ACCEPTED"


def test_a_clerk_who_works_on_the_same_line_does_not_stop_the_other(
    yard: Yard, clerk: Clerk
) -> None:
    yard.sell("S1", 3)
    code = clerk.open()
    seen = clerk.take(code).fingerprint
    Clerk("Bela Quirke", "dock 2").receive(code)
    assert clerk.proposal(code).fingerprint != seen
    assert clerk.store(code, seen).word == "ACCEPTED"


def test_two_clerks_at_one_moment_share_the_last_unit_and_the_second_loses_nothing(
    yard: Yard,
) -> None:
    yard.sell("S1", 1)
    clerks = (Clerk("Ilse Thornby", "dock 1"), Clerk("Bela Quirke", "dock 2"))
    code = clerks[0].open()
    seen = {who.by: who.take(code, serial=f"SN {who.by}").fingerprint for who in clerks}
    start = threading.Barrier(2)
    stored, told = [], []

    def work(who: Clerk) -> None:
        start.wait()
        try:
            stored.append(who.store(code, seen[who.by]))
        except CoretrackError as error:
            told.append((who, error))

    threads = [threading.Thread(target=work, args=(who,)) for who in clerks]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    (first,) = stored
    ((loser, error),) = told
    winner = next(who for who in clerks if who is not loser)
    assert first.word == "ACCEPTED"
    assert isinstance(error, Conflict)
    assert f"{winner.by} at " in error.message
    assert "credited on line S1/1" in error.message
    assert "an excess core" in error.message
    held = held_of(loser, code)
    assert (held.number, held.serial) == ("GP-1040", f"SN {loser.by}")
    assert (len(yard.cores()), yard.line("S1/1").credited, yard.lot(code).pieces) == (1, 1, 1)
    assert loser.store(code).word == "EXCESS"
    credited_agree(yard)
    assert yard.is_sound()


def test_many_clerks_at_once_credit_as_many_as_were_sold(yard: Yard) -> None:
    yard.sell("S1", 5)
    clerks = [Clerk(f"Clerk {n}", f"dock {n}") for n in range(4)]
    code = clerks[0].open()
    words: list[str] = []

    def work(who: Clerk) -> None:
        for _ in range(2):
            who.take(code)
            while True:
                try:
                    words.append(who.store(code).word)
                    break
                except Changed:
                    continue

    threads = [threading.Thread(target=work, args=(who,)) for who in clerks]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert sorted(words) == ["ACCEPTED"] * 5 + ["EXCESS"] * 3
    assert (yard.line("S1/1").credited, yard.lot(code).pieces) == (5, 8)
    assert yard.tags_given() == 8
    assert yard.is_sound()


def test_a_number_nobody_knows_is_kept_as_typed_and_earns_nothing(yard: Yard, clerk: Clerk) -> None:
    yard.sell("S1", 1)
    code = clerk.open()
    shown = clerk.take(code, "GP-1099x", mass="1.25 kg", place="bin 9", note="found below")
    assert (shown.outcome, shown.needs) == ("unknown", ())
    assert shown.notes == (
        "Numbers that begin alike: GP-1040, GP-1044.",
        "A photo of the core helps whoever identifies it.",
    )
    clerk.photograph(code, "whole core")
    stored = clerk.store(code)
    assert (stored.word, stored.amount, stored.print_tags) == ("UNKNOWN", 0, (stored.tag,))
    core = yard.cores()[0]
    assert (core.state, core.number, core.place, core.photos) == ("unknown", "GP-1099x", "bin 9", 1)
    assert yard.history("core", core.tag)[0][1]["mass_g"] == 1250
    assert yard.line("S1/1").credited == 0
    assert yard.is_sound()


def test_an_illegible_number_is_an_answer(yard: Yard, clerk: Clerk) -> None:
    code = clerk.open()
    clerk.tell(code, illegible=True)
    assert clerk.proposal(code).sentence.startswith("The number is illegible")
    clerk.store(code)
    assert (yard.cores()[0].number, yard.cores()[0].state) == ("illegible", "unknown")


def test_an_unknown_core_is_judged_once_its_number_is_known(yard: Yard, clerk: Clerk) -> None:
    yard.sell("S1", 1, day="2026-04-30")
    code = clerk.open(arrived_on="2026-05-19")
    tag = clerk.receive(code, "smeared").tag
    deliveries.count_delivery(code, 1, **clerk.who)
    assert deliveries.close_delivery(code, **clerk.who) == "closed"
    late = Clerk(start=yard.now)
    assert core_in_hand.judge_core(tag, **late.who) == code
    late.tell(code, number="GP-1044", faults=("port",), no_photo="see the first ones")
    shown = late.proposal(code)
    assert (shown.outcome, shown.line and shown.line.late) == ("part credit", False)
    stored = late.store(code)
    assert (stored.tag, stored.amount, stored.print_tags) == (tag, money("15.00"), (tag,))
    assert yard.cores()[0].state == "waiting"
    assert yard.lot(code).pieces == 1
    with pytest.raises(NotAllowed, match="waiting for inspection; only a returned core"):
        core_in_hand.judge_core(tag, **late.who)
    assert yard.is_sound()


def test_a_core_is_held_from_the_day_it_was_judged(yard: Yard, clerk: Clerk) -> None:
    yard.sell("S1", 1)
    code = clerk.open()
    tag = clerk.receive(code, "smeared").tag
    late = Clerk(start=yard.now)
    core_in_hand.judge_core(tag, **late.who)
    late.tell(code, number="GP-1040", faults=("cracked",), no_photo="none")
    assert late.store(code).hold_until == "2026-11-10"


def test_identifying_alone_leaves_the_judgement_open(yard: Yard, clerk: Clerk) -> None:
    tag = clerk.receive(clerk.open(), "smeared").tag
    with pytest.raises(NotFound, match="No core group has the number 'GP-9'"):
        core_in_hand.identify_core(tag, "GP-9", **clerk.who)
    core = core_in_hand.identify_core(tag, "gp1040", **clerk.who)
    assert (core.state, core.number, core.family) == ("counted", "GP-1040", "GPB")
    with pytest.raises(NotAllowed, match="already known as family GPB"):
        core_in_hand.identify_core(tag, "CB-77", **clerk.who)


def test_a_core_can_be_taken_in_without_judging_it(yard: Yard, clerk: Clerk) -> None:
    yard.sell("S1", 1)
    code = clerk.open()
    clerk.take(code, faults=("port",))
    stored = core_in_hand.store(code, seen="", unjudged=True, **clerk.who)
    assert (stored.word, stored.amount) == ("COUNTED", 0)
    assert (yard.cores()[0].state, yard.line("S1/1").credited) == ("counted", 0)
    core_in_hand.judge_core(stored.tag, **clerk.who)
    held = held_of(clerk, code)
    assert [tick.code for tick in held.faults if tick.times] == ["port"]
    clerk.tell(code, no_photo="none")
    assert clerk.store(code).amount == money("15.00")
    assert yard.is_sound()
