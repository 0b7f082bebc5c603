"""Undo at the dock: reversed by events, nothing typed lost, refused once something is settled."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from itertools import count
from pathlib import Path
from typing import Any

import pytest
from core_yard import Yard, money
from databases import copied
from dock_station import Clerk, credited_agree, held_of
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from coretrack.actions import core_in_hand, deliveries
from coretrack.errors import CoretrackError, NotAllowed
from coretrack.records import database, photos
from coretrack.records.database import connection
from coretrack.records.writer import writing


@pytest.fixture
def clerk() -> Clerk:
    return Clerk()


def test_an_undone_core_leaves_the_books_and_lies_in_the_hand_again(
    yard: Yard, clerk: Clerk
) -> None:
    yard.sell("S1", 2)
    code = clerk.open()
    told: dict[str, Any] = {
        "serial": "A1",
        "faults": ("port", "plug"),
        "mass": "1.25 kg",
        "place": "bin 9",
        "note": "oily",
        "invoice": "S1",
        "line": "S1/1",
    }
    clerk.take(code, **told)
    clerk.photograph(code)
    before = held_of(clerk, code)
    seen = clerk.proposal(code)
    stored = clerk.store(code)
    assert clerk.view(code).undo == f"core {stored.tag[:4]} {stored.tag[4:8]} {stored.tag[8:]} " + (
        "(GP-1040), part credit"
    )
    undone = clerk.undo(code)
    assert (undone.what, undone.tag) == ("core", stored.tag)
    assert "Throw its label away" in undone.sentence
    assert held_of(clerk, code) == before
    assert clerk.proposal(code) == seen
    line, page = yard.line("S1/1"), clerk.view(code)
    assert (line.credited, line.credited_money, yard.lot(code).pieces) == (0, 0, 0)
    assert (page.cores, page.credited, page.undo) == ((), 0, "")
    core = yard.cores()[0]
    assert (core.state, core.credit, core.receive) == ("taken back", 0, 0)
    assert yard.is_sound()
    again = clerk.store(code)
    assert again.tag != stored.tag
    assert (yard.core("A1").tag, yard.line("S1/1").credited) == (again.tag, 1)
    with connection():
        assert len(photos.photos_of("core", stored.tag)) == 1
        assert len(photos.photos_of("core", again.tag)) == 1
    assert yard.is_sound()


def test_a_refused_core_comes_back_with_its_reason(yard: Yard, clerk: Clerk) -> None:
    yard.sell("S1", 1)
    code = clerk.open()
    clerk.take(code, refuse=True, refusal="welded", no_photo="too dark")
    before = held_of(clerk, code)
    clerk.store(code)
    assert yard.line("S1/1").refused == 1
    clerk.undo(code)
    assert held_of(clerk, code) == before
    assert yard.line("S1/1").refused == 0
    assert yard.is_sound()


def test_an_unknown_core_comes_back_as_it_was_read(yard: Yard, clerk: Clerk) -> None:
    code = clerk.open()
    clerk.tell(code, illegible=True, note="no label")
    before = held_of(clerk, code)
    clerk.store(code)
    clerk.undo(code)
    assert held_of(clerk, code) == before


def test_undo_twice_takes_back_the_one_before(yard: Yard, clerk: Clerk) -> None:
    yard.sell("S1", 3)
    code = clerk.open()
    tags = [clerk.receive(code, serial=serial).tag for serial in ("A1", "A2", "A3")]
    assert clerk.undo(code).tag == tags[2]
    with pytest.raises(NotAllowed, match="Another core is in hand"):
        clerk.undo(code)
    assert clerk.undo(code, drop_in_hand=True).tag == tags[1]
    assert (yard.line("S1/1").credited, yard.lot(code).pieces) == (1, 1)
    assert yard.is_sound()


def test_the_same_undo_key_acts_once(yard: Yard, clerk: Clerk) -> None:
    yard.sell("S1", 2)
    code = clerk.open()
    clerk.receive(code)
    clerk.receive(code)
    first = clerk.undo(code, key="u1")
    assert clerk.undo(code, key="u1") == first
    assert yard.line("S1/1").credited == 1


def test_everybody_undoes_what_they_stored_themselves(yard: Yard, clerk: Clerk) -> None:
    yard.sell("S1", 2)
    code = clerk.open()
    mine = clerk.receive(code).tag
    other = Clerk("Bela Quirke", "dock 2")
    theirs = other.receive(code).tag
    assert clerk.undo(code).tag == mine
    assert other.undo(code).tag == theirs
    with pytest.raises(NotAllowed, match="nothing to undo: Bela Quirke"):
        other.undo(code, drop_in_hand=True)


def test_nothing_is_undone_in_a_closed_delivery_until_it_is_reopened(
    yard: Yard, clerk: Clerk
) -> None:
    yard.sell("S1", 1)
    code = clerk.open(pieces=1)
    clerk.receive(code)
    deliveries.close_delivery(code, **clerk.who)
    assert clerk.view(code).why_no_undo == f"Delivery {code} is not open; reopen it first."
    with pytest.raises(NotAllowed, match="reopen it"):
        clerk.undo(code)
    deliveries.reopen(code, **clerk.who)
    clerk.undo(code)
    assert yard.line("S1/1").credited == 0


def test_an_inspected_core_is_not_undone(yard: Yard, clerk: Clerk) -> None:
    yard.sell("S1", 1)
    code = clerk.open()
    clerk.receive(code, serial="A1")
    yard.measure("A1")
    with pytest.raises(NotAllowed, match="has been inspected"):
        clerk.undo(code)
    assert (yard.line("S1/1").credited, yard.lot(code).pieces) == (1, 1)
    assert clerk.view(code).in_hand is None
    assert yard.is_sound()


def test_a_credit_that_left_the_house_is_not_undone(yard: Yard, clerk: Clerk) -> None:
    yard.sell("S1", 1)
    code = clerk.open()
    tag = clerk.receive(code).tag
    with writing("Ilse Thornby", clerk.now) as writer:
        writer.event("core", tag, "credit released", {"note": "CN-000001"})
    with pytest.raises(NotAllowed, match="left with CN-000001"):
        clerk.undo(code)
    assert yard.line("S1/1").credited == 1


def test_a_core_bought_meanwhile_is_not_undone(yard: Yard, clerk: Clerk) -> None:
    code = clerk.open()
    tag = clerk.receive(code).tag
    with writing("Ilse Thornby", clerk.now) as writer:
        writer.event("core", tag, "bought", {"costs": {"price": money("4.00")}})
    with pytest.raises(NotAllowed, match="was bought meanwhile"):
        clerk.undo(code)


def test_a_judgement_made_later_is_taken_back_alone(yard: Yard, clerk: Clerk) -> None:
    yard.sell("S1", 1)
    code = clerk.open()
    tag = clerk.receive(code, "smeared", serial="A1").tag
    other = Clerk("Bela Quirke", "dock 2")
    core_in_hand.judge_core(tag, **other.who)
    other.tell(code, number="GP-1040", faults=("port",), no_photo="none")
    other.store(code)
    assert clerk.view(code).why_no_undo.endswith("undone first, by Bela Quirke.")
    with pytest.raises(NotAllowed, match="judged later by Bela Quirke"):
        clerk.undo(code)
    undone = other.undo(code)
    assert (undone.what, undone.tag) == ("judgement", tag)
    assert (yard.line("S1/1").credited, yard.core("A1").state) == (0, "counted")
    held = held_of(other, code)
    assert (held.tag, held.number, held.no_photo) == (tag, "GP-1040", "none")
    assert [tick.code for tick in held.faults if tick.times] == ["port"]
    other.store(code)
    assert yard.line("S1/1").credited == 1
    assert yard.lot(code).pieces == 1
    assert yard.is_sound()


STEPS = st.lists(
    st.one_of(
        st.tuples(
            st.sampled_from(["receive"]),
            st.sampled_from(["GP-1040", "00731", "GP-2080", "CB-77", "nobody knows"]),
            st.sampled_from([(), ("port",), ("plug", "port"), ("cracked",)]),
            st.sampled_from(["", "A1", "A2", "B-3", "B3"]),
            st.booleans(),
        ),
        st.tuples(st.sampled_from(["undo", "close", "reopen", "judge"])),
    ),
    max_size=12,
)


def act(clerk: Clerk, yard: Yard, code: str, step: tuple[Any, ...]) -> None:
    """Do one step; what the rules refuse is part of a clerk's day."""
    try:
        match step[0]:
            case "receive":
                _, number, faults, serial, comeback = step
                core_in_hand.drop(code, **clerk.who)
                clerk.take(code, number, serial=serial, comeback=comeback, no_photo="none")
                if number != "nobody knows":
                    known = {"CB-77": ("bent",) if faults else ()}
                    clerk.tell(code, faults=known.get(number, faults))
                clerk.store(code)
            case "undo":
                clerk.undo(code, drop_in_hand=True)
            case "close":
                core_in_hand.drop(code, **clerk.who)
                deliveries.count_delivery(code, max(1, yard.lot(code).pieces), **clerk.who)
                deliveries.close_delivery(code, **clerk.who)
            case "reopen":
                deliveries.reopen(code, **clerk.who)
            case "judge":
                unknown = [core for core in yard.cores() if core.state in ("unknown", "counted")]
                if unknown:
                    core_in_hand.drop(code, **clerk.who)
                    core_in_hand.judge_core(unknown[0].tag, **clerk.who)
                    clerk.tell(code, number="GP-1040")
                    clerk.store(code)
    except CoretrackError:
        pass


@pytest.fixture
def books(migrated_file: Path, tmp_path: Path) -> Iterator[Callable[[], Yard]]:
    """Open an empty database and set the shop up in it, anew at each call."""
    numbers = count()

    def fresh() -> Yard:
        database.open_database(copied(migrated_file, tmp_path / str(next(numbers))).url)
        yard = Yard()
        yard.set_up()
        return yard

    yield fresh
    database.close_database()


@settings(
    max_examples=25, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture]
)
@given(steps=STEPS, sold=st.sampled_from([1, 3]))
def test_whatever_is_stored_and_undone_lines_count_their_credited_cores(
    books: Callable[[], Yard], sold: int, steps: list[tuple[Any, ...]]
) -> None:
    yard, clerk = books(), Clerk()
    yard.sell("S1", sold)
    yard.sell("S2", 1, number="GP-2080", charge="10.01")
    code = clerk.open()
    for step in steps:
        act(clerk, yard, code, step)
    credited_agree(yard)
    standing = [core for core in yard.cores() if core.state != "taken back"]
    serials = [core.serial for core in standing if core.serial]
    assert yard.lot(code).pieces == len(standing)
    assert all(core.credit % 100 == 0 for core in standing)
    assert len(set(serials)) == len(serials)
    assert yard.is_sound()
