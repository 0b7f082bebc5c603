"""Credits leave the house once: one note a customer, parts that add up, two clerks at once."""

from __future__ import annotations

import threading
from collections.abc import Mapping
from datetime import UTC, date, datetime
from typing import Any

import pytest
from core_yard import Yard, money
from dock_station import TODAY, Clerk
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from coretrack.actions import deliveries, people
from coretrack.actions.credit_release import (
    CreditDays,
    CreditsWaiting,
    Released,
    credits_waiting,
    note_number,
    release_credits,
)
from coretrack.actions.receiving_lists import customer_account, desk_counts
from coretrack.errors import Conflict, CoretrackError, InvalidInput
from coretrack.records.database import connection, release
from coretrack.records.station_tables import CreditNoteRow
from coretrack.records.tables import CounterRow
from coretrack.records.writer import writing

ALL = CreditDays(date(2026, 12, 31), upto=True)
NOW = datetime(2026, 6, 10, 15, tzinfo=UTC)


def waiting(days: CreditDays = ALL) -> CreditsWaiting:
    return credits_waiting(days, NOW)


def ticks(shown: CreditsWaiting, *customers: str) -> dict[str, str]:
    """Return the ticks of a page for these customers, of all when none is named."""
    wanted = customers or tuple(one.customer for one in shown.customers)
    return {one.customer: one.seen for one in shown.customers if one.customer in wanted}


def let_go(
    ticked: Mapping[str, str] | None = None, days: CreditDays = ALL, **told: Any
) -> Released:
    who = {"by": "Oda Fenn", "station": "dock 1", "now": NOW, "key": "k", **told}
    return release_credits(ticks(waiting(days)) if ticked is None else ticked, days, **who)


def notes() -> list[Any]:
    with connection():
        return list(CreditNoteRow.select().order_by(CreditNoteRow.key))


def adds_up(yard: Yard) -> None:
    """Assert that what left on notes and what waits is what the lines credited, to the last bit."""
    shown = waiting()
    left = sum(note.total for note in notes())
    assert left + shown.total + shown.teardown_total == sum(
        line.credited_money for line in yard.lines()
    )
    assert yard.is_sound()


@pytest.fixture
def credited(yard: Yard) -> Yard:
    """Two customers with credits of two days: ANSL 20 + 15 and 20, BROD 20."""
    yard.sell("S1", 4)
    yard.sell("S2", 2, customer="BROD")
    yard.bring_back("A1", day="2026-05-20")
    yard.bring_back("A2", day="2026-05-20", faults="port")
    yard.bring_back("A3", day="2026-05-21")
    yard.bring_back("B1", day="2026-05-21", customer="BROD")
    yard.bring_back("R1", day="2026-05-21", faults="cracked")
    return yard


def test_credits_wait_by_customer_with_sums_that_add_up(credited: Yard) -> None:
    shown = waiting()
    assert [(one.customer, len(one.cores), one.total) for one in shown.customers] == [
        ("ANSL", 3, money("55")),
        ("BROD", 1, money("20")),
    ]
    assert (shown.cores, shown.total) == (4, money("75"))
    assert shown.elsewhere == 0
    counts = desk_counts(NOW)
    assert (counts.credits_waiting, counts.credits_money) == (4, money("75"))
    adds_up(credited)


def test_credits_of_one_day_leave_the_other_days_waiting(credited: Yard) -> None:
    day = CreditDays(date(2026, 5, 21))
    shown = waiting(day)
    assert [(one.customer, one.total) for one in shown.customers] == [
        ("ANSL", money("20")),
        ("BROD", money("20")),
    ]
    assert (shown.elsewhere, shown.elsewhere_money) == (2, money("35"))
    assert waiting(CreditDays(date(2026, 5, 20), upto=True)).total == money("35")
    assert waiting(CreditDays(date(2026, 5, 22))).customers == ()
    let_go(days=day)
    assert credited.core("A3").credit_note == "CN-000001"
    assert credited.core("A1").credit_note == ""
    adds_up(credited)


def test_each_ticked_customer_gets_one_note_with_a_running_number(credited: Yard) -> None:
    done = let_go()
    assert done.notes == ("CN-000001", "CN-000002")
    assert done.said == "2 credit notes made (CN-000001 to CN-000002) for 4 cores."
    first, second = notes()
    assert (first.customer, first.total, first.day) == ("ANSL", money("55"), "2026-06-10")
    assert (second.customer, second.total) == ("BROD", money("20"))
    assert credited.core("B1").credit_note == "CN-000002"
    tag = credited.core("A1").tag
    assert credited.history("core", tag)[-1] == ("credit released", {"note": "CN-000001"})
    assert waiting().customers == ()
    assert [note.key for note in customer_account("ANSL", NOW).notes] == ["CN-000001"]
    assert [note.key for note in waiting(CreditDays(date(2026, 6, 10))).released] == [
        "CN-000001",
        "CN-000002",
    ]
    adds_up(credited)


def test_a_customer_that_is_not_ticked_keeps_waiting(credited: Yard) -> None:
    let_go(ticks(waiting(), "BROD"))
    assert [one.customer for one in waiting().customers] == ["ANSL"]
    let_go(key="later")
    assert [note.key for note in notes()] == ["CN-000001", "CN-000002"]
    adds_up(credited)


def test_the_same_form_sent_twice_makes_its_notes_once(credited: Yard) -> None:
    ticked = ticks(waiting())
    done = let_go(ticked)
    assert let_go(ticked) == done
    assert len(notes()) == 2
    with pytest.raises(Conflict, match="released or taken back by somebody else"):
        let_go(ticked, key="another form")
    assert len(notes()) == 2
    adds_up(credited)


def test_what_changed_since_the_page_was_looked_at_is_not_released(credited: Yard) -> None:
    ticked = ticks(waiting())
    credited.bring_back("A9", day="2026-05-22")
    with pytest.raises(Conflict, match="Ansell Hydraulics were changed by somebody else"):
        let_go(ticked)
    assert notes() == []
    let_go({"BROD": ticked["BROD"]}, key="only BROD")
    assert [note.customer for note in notes()] == ["BROD"]
    adds_up(credited)


def test_nobody_ticked_or_a_strange_tick_makes_no_note(credited: Yard) -> None:
    with pytest.raises(InvalidInput, match="Tick at least one"):
        let_go({})
    for ticked in ({"NOBODY": "x"}, {"ANSL": ""}, {"ANSL": "0" * 16}):
        with pytest.raises(Conflict):
            let_go(ticked)
    assert notes() == []
    with connection():
        assert CounterRow.get_or_none(CounterRow.name == "credit notes") is None


def test_a_family_credited_after_teardown_waits_for_its_first_verdict(credited: Yard) -> None:
    with writing("Ilse Thornby", NOW) as writer:
        writer.event("family", "GPB", "set", {"credit_when": "teardown"})
    shown = waiting()
    assert shown.customers == ()
    assert (shown.teardown_cores, shown.teardown_total) == (4, money("75"))
    assert desk_counts(NOW).credits_teardown == 4
    assert desk_counts(NOW).credits_waiting == 0
    account = customer_account("ANSL", NOW)
    assert account.waiting is None
    assert account.teardown is not None
    credited.measure("A1", at="2026-05-22 09:00", crack="crack")
    assert credited.core("A1").first_grade == "scrap"
    shown = waiting()
    assert [core.tag for core in shown.customers[0].cores] == [credited.core("A1").tag]
    assert shown.teardown_cores == 3
    let_go()
    assert [note.total for note in notes()] == [money("20")]
    adds_up(credited)


def test_an_open_difference_is_said_and_holds_nothing_back(yard: Yard) -> None:
    yard.sell("S1", 4)
    clerk = Clerk()
    people.add_person("Una Pryor", "clerk", "long-enough-here", by=yard.by, now=TODAY)
    code = clerk.open("ANSL", 2)
    clerk.receive(code, serial="A1")
    deliveries.close_delivery(code, difference_by="Una Pryor", note="one short", **clerk.who)
    (one,) = waiting().customers
    assert one.differences == (code,)
    let_go()
    assert yard.core("A1").credit_note == "CN-000001"
    adds_up(yard)


def test_what_was_undone_is_not_released_and_what_was_released_is_not_undone(yard: Yard) -> None:
    yard.sell("S1", 4)
    clerk = Clerk()
    code = clerk.open("ANSL", 2)
    clerk.receive(code, serial="A1")
    ticked = ticks(waiting())
    clerk.undo(code)
    with pytest.raises(Conflict):
        let_go(ticked)
    clerk.receive(code, serial="A1")
    let_go(key="again")
    with pytest.raises(CoretrackError):
        clerk.undo(code)
    adds_up(yard)


def test_the_charge_mode_says_what_becomes_of_the_money(yard: Yard) -> None:
    yard.sell("S1", 1)
    yard.sell("S2", 1, mode="billed later", number="GP-2080")
    yard.sell("S3", 1, mode="core first", number="CB-77", charge="9.00")
    yard.bring_back("A1")
    yard.bring_back("A2", number="GP-2080", faults="port")
    yard.bring_back("A3", number="CB-77")
    (one,) = waiting().customers
    assert [(core.mode, core.settles) for core in one.cores] == [
        ("up front", "20.00 EUR to give back"),
        ("billed later", "5.00 EUR to bill"),
        ("core first", "counts as one unit"),
    ]
    assert one.modes == (
        ("billed later", 1, money("15")),
        ("core first", 1, money("9")),
        ("up front", 1, money("20")),
    )


def test_two_clerks_who_press_at_once_release_once(credited: Yard) -> None:
    ticked = ticks(waiting())
    start = threading.Barrier(2)
    ended: list[Released | CoretrackError] = []

    def press(name: str) -> None:
        try:
            start.wait(timeout=20)
            ended.append(let_go(ticked, by=name, key=f"form of {name}"))
        except CoretrackError as error:
            ended.append(error)
        finally:
            release()

    people_there = [threading.Thread(target=press, args=(name,)) for name in ("Oda", "Una")]
    for one in people_there:
        one.start()
    for one in people_there:
        one.join(timeout=60)
    assert sorted(type(one).__name__ for one in ended) == ["Changed", "Released"]
    assert [note.key for note in notes()] == ["CN-000001", "CN-000002"]
    adds_up(credited)


def test_the_same_form_at_the_same_moment_answers_twice_and_acts_once(credited: Yard) -> None:
    ticked = ticks(waiting())
    start = threading.Barrier(2)
    ended: list[Released] = []

    def press() -> None:
        try:
            start.wait(timeout=20)
            ended.append(let_go(ticked))
        finally:
            release()

    twice = [threading.Thread(target=press) for _ in range(2)]
    for one in twice:
        one.start()
    for one in twice:
        one.join(timeout=60)
    assert [one.notes for one in ended] == [("CN-000001", "CN-000002")] * 2
    adds_up(credited)


def test_numbers_of_credit_notes_run_on_past_their_zeros() -> None:
    assert [note_number(number) for number in (1, 999_999, 1_000_000)] == [
        "CN-000001",
        "CN-999999",
        "CN-1000000",
    ]


@settings(
    max_examples=12, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture]
)
@given(
    cores=st.lists(
        st.tuples(
            st.sampled_from(["", "port", "plug", "older", "cracked", "port;plug;plug"]),
            st.sampled_from(["ANSL", "BROD"]),
        ),
        min_size=1,
        max_size=6,
    ),
    ticked=st.sets(st.sampled_from(["ANSL", "BROD"])),
    charge=st.sampled_from(["19.99", "0.01", "20.00", "33.3333"]),
)
def test_notes_and_what_waits_are_always_what_the_lines_credited(
    sqlite_db: object, cores: list[tuple[str, str]], ticked: set[str], charge: str
) -> None:
    yard = Yard()
    yard.set_up()
    place = yard.tags_given()
    for number, (faults, customer) in enumerate(cores, start=place + 1):
        yard.sell(f"H{number}", customer=customer, charge=charge)
        yard.bring_back(f"H{number}", customer=customer, faults=faults)
    chosen = ticks(waiting(), *ticked) if ticked else {}
    if chosen:
        let_go(chosen, key=f"key {place}")
    adds_up(yard)
