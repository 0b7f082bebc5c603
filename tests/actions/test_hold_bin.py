"""Refused, excess, unknown and comeback cores: listed with their days, and settled once."""

from __future__ import annotations

from datetime import UTC, date, datetime, timedelta
from typing import Any

import pytest
from core_yard import Yard, money
from hypothesis import given
from hypothesis import strategies as st

from coretrack.actions import cards
from coretrack.actions.cores_here import core_to_settle, cores_here, hold_day
from coretrack.actions.hold_bin import Decision, settle_core
from coretrack.errors import Conflict, InvalidInput, NotAllowed, NotFound

REFUSED_ON = "2026-05-20"
LAST_DAY = date(2026, 5, 30)
"""Ten days after, as the shop's settings have it; the day itself is inside."""


def at(day: str, hour: int = 15) -> datetime:
    return datetime.combine(date.fromisoformat(day), datetime.min.time(), UTC).replace(hour=hour)


def settle(
    yard: Yard, serial: str, what: str, day: str = "2026-05-25", role: str = "clerk", **told: Any
) -> str:
    """Decide about the core with this serial, as its page showed it."""
    tag = yard.core(serial).tag
    seen = told.pop("seen", core_to_settle(tag, at(day)).version)
    key = told.pop("key", f"{serial}/{what}/{day}/{seen}")
    decision = Decision(tag, what, seen, **told)
    return settle_core(decision, role=role, by="Oda Fenn", station="dock 1", now=at(day), key=key)


@pytest.fixture
def refused(yard: Yard) -> Yard:
    """Two cores of ANSL, refused for a crack on 20 and 22 May; the day is told by hold_days."""
    yard.sell("S1", 4)
    for serial, day in (("R1", REFUSED_ON), ("R2", "2026-05-22")):
        yard.now = at(day)
        yard.bring_back(serial, faults="cracked", day=day)
    return yard


def test_the_hold_bin_lists_the_core_that_is_over_first_with_its_days(refused: Yard) -> None:
    here = cores_here("hold", at("2026-05-31"))
    assert [core.serial for core in here.cores] == ["R1", "R2"]
    first, second = here.cores
    assert (first.hold_until, first.hold.left, first.hold.words) == (
        LAST_DAY.isoformat(),
        -1,
        "over by 1 day",
    )
    assert (second.hold.left, second.hold.words) == (1, "1 day left")
    assert (first.why, first.customer, first.age_days) == ("Visible crack", "ANSL", 11)
    assert here.over == 1
    (follow,) = here.follow_up
    assert (follow.customer, follow.cores, follow.first_day, follow.over) == (
        "ANSL",
        2,
        LAST_DAY.isoformat(),
        1,
    )
    assert len(follow.deliveries) == 2


@given(st.integers(-400, 400))
def test_the_last_day_itself_is_never_over(days: int) -> None:
    shown = hold_day((LAST_DAY + timedelta(days)).isoformat(), LAST_DAY)
    assert shown.left == days
    assert shown.over == (days < 0)


def test_a_core_refused_before_days_were_noted_says_so() -> None:
    assert hold_day("", LAST_DAY).left is None
    assert not hold_day("", LAST_DAY).over


def test_a_core_sent_back_is_gone_and_may_come_again(refused: Yard) -> None:
    said = settle(refused, "R1", "send back", reason="Van, note 7")
    assert said.endswith("was sent back to Ansell Hydraulics.")
    assert refused.core("R1").state == "sent back"
    assert [core.serial for core in cores_here("hold", at("2026-05-25")).cores] == ["R2"]
    assert refused.history("core", refused.core("R1").tag)[-1] == ("left", {"to": "sent back"})
    refused.now = at("2026-05-26")
    assert refused.bring_back("R1", day="2026-05-26").stored == 1
    assert refused.is_sound()


@pytest.mark.parametrize("day", ["2026-05-21", LAST_DAY.isoformat()])
def test_the_clerk_cannot_clear_out_before_the_last_day_is_over(refused: Yard, day: str) -> None:
    with pytest.raises(NotAllowed, match=r"kept for its owner until 2026-05-30, that day included"):
        settle(refused, "R1", "clear out", day)
    assert refused.core("R1").state == "hold"


def test_the_owner_clears_out_early_only_with_a_reason(refused: Yard) -> None:
    with pytest.raises(InvalidInput) as told:
        settle(refused, "R1", "clear out", role="owner", key="first")
    assert set(told.value.fields) == {"reason"}
    said = settle(refused, "R1", "clear out", role="owner", reason="he said so on the phone")
    assert "before its last day; no money is posted" in said
    assert refused.is_sound()


def test_after_the_last_day_the_clerk_clears_out_and_no_money_is_posted(refused: Yard) -> None:
    before = refused.core("R1")
    settle(refused, "R1", "clear out", "2026-05-31")
    after = refused.core("R1")
    assert after.state == "cleared out"
    assert (after.recovery, after.disposal) == (before.recovery, before.disposal) == (0, 0)
    assert refused.tally("family") == {"GPB": {"refused": 2}}
    assert refused.is_sound()


def test_a_bought_core_costs_its_price_and_waits_for_inspection(refused: Yard) -> None:
    said = settle(refused, "R1", "buy", price="4,50")
    assert "was bought for 4.50 EUR" in said
    core = refused.core("R1")
    assert (core.state, core.acceptance, core.price, core.credit) == (
        "waiting",
        "bought",
        money("4.50"),
        0,
    )
    assert refused.line("S1/1").credited == 0
    refused.measure("R1", at="2026-05-28 09:00")
    assert refused.core("R1").state == "good"
    assert refused.tally("family")["GPB"]["price"] == money("4.50")
    assert refused.is_sound()


@pytest.mark.parametrize("price", ["", "  ", "-3", "12..5", "1000000105", "abc", "0.00001"])
def test_a_price_that_cannot_be_meant_is_refused_by_name(refused: Yard, price: str) -> None:
    with pytest.raises(InvalidInput) as told:
        settle(refused, "R1", "buy", price=price)
    assert set(told.value.fields) == {"price"}
    assert refused.core("R1").state == "hold"


def test_a_core_left_for_nothing_is_bought_for_zero_when_that_is_typed(refused: Yard) -> None:
    settle(refused, "R1", "buy", price="0")
    assert (refused.core("R1").state, refused.core("R1").price) == ("waiting", 0)


def test_a_core_is_put_into_a_bin_that_there_is(refused: Yard) -> None:
    cards.make_places(
        "bin", 1, 2, "Hold", by="Oda Fenn", station="", now=at(REFUSED_ON), key="bins"
    )
    tag = refused.core("R1").tag
    first, second = core_to_settle(tag, at("2026-05-25")).bins
    settle(refused, "R1", "put", place=second.key)
    assert [core.place for core in cores_here("hold", at("2026-05-25")).cores] == ["Hold 2", ""]
    for wrong in ("", "Hold 2", "0031234567"):
        with pytest.raises(InvalidInput) as told:
            settle(refused, "R1", "put", place=wrong)
        assert set(told.value.fields) == {"place"}
    assert "already" in settle(refused, "R1", "put", place=second.key)
    assert refused.core("R1").place == second.key != first.key
    assert refused.is_sound()


def test_an_excess_core_is_refused_bought_or_sent_back(yard: Yard) -> None:
    yard.now = at(REFUSED_ON)
    yard.bring_back("E1", "E2", "E3")
    assert len(cores_here("excess", at("2026-05-25")).cores) == 3
    with pytest.raises(InvalidInput) as told:
        settle(yard, "E1", "refuse")
    assert set(told.value.fields) == {"reason"}
    assert "until 2026-06-04" in settle(yard, "E1", "refuse", reason="not wanted")
    settle(yard, "E2", "buy", price="6")
    settle(yard, "E3", "send back")
    assert [yard.core(s).state for s in ("E1", "E2", "E3")] == ["hold", "waiting", "sent back"]
    (held,) = cores_here("hold", at("2026-05-25")).cores
    assert (held.serial, held.why, held.hold_until) == ("E1", "not wanted", "2026-06-04")
    assert cores_here("excess", at("2026-05-25")).cores == ()
    assert yard.is_sound()


def test_an_excess_core_is_never_cleared_out_unasked(yard: Yard) -> None:
    yard.bring_back("E1")
    with pytest.raises(NotAllowed, match="only refused cores are cleared out"):
        settle(yard, "E1", "clear out", role="owner", reason="no room")


def test_comebacks_and_unknown_cores_have_lists_of_their_own(yard: Yard) -> None:
    yard.now = at(REFUSED_ON)
    yard.bring_back("C1", comeback="yes")
    yard.bring_back("U1", number="QQ-9", mass="1.25", note="blue paint")
    (comeback,) = cores_here("comeback", at("2026-05-25")).cores
    assert (comeback.serial, comeback.customer) == ("C1", "ANSL")
    (unknown,) = cores_here("unknown", at("2026-05-25")).cores
    assert (unknown.number, unknown.mass_g, unknown.note, unknown.age_days) == (
        "QQ-9",
        1250,
        "blue paint",
        5,
    )
    settle(yard, "C1", "send back", reason="no fault found")
    with pytest.raises(NotAllowed):
        settle(yard, "U1", "send back")
    assert yard.is_sound()


def test_a_list_can_be_one_customers(refused: Yard) -> None:
    refused.sell("S2", customer="BROD")
    refused.bring_back("B1", customer="BROD", faults="cracked", day="2026-05-22")
    assert [c.serial for c in cores_here("hold", at("2026-05-25"), "BROD").cores] == ["B1"]
    assert len(cores_here("hold", at("2026-05-25")).cores) == 3


def test_the_same_form_sent_twice_acts_once_and_says_the_same(refused: Yard) -> None:
    seen = core_to_settle(refused.core("R1").tag, at("2026-05-25")).version
    said = settle(refused, "R1", "buy", price="3", key="k", seen=seen)
    before = refused.events()
    assert settle(refused, "R1", "buy", price="3", key="k", seen=seen) == said
    assert refused.events() == before


def test_who_looked_at_an_older_state_is_told_and_changes_nothing(refused: Yard) -> None:
    seen = core_to_settle(refused.core("R1").tag, at("2026-05-25")).version
    settle(refused, "R1", "buy", price="3", seen=seen, key="one")
    before = refused.events()
    with pytest.raises(Conflict, match="changed meanwhile by Oda Fenn"):
        settle(refused, "R1", "send back", seen=seen, key="two")
    assert refused.events() == before


def test_a_core_that_is_credited_cannot_be_settled_here(yard: Yard) -> None:
    yard.sell("S1")
    yard.bring_back("A1")
    for what, more in (("send back", {}), ("buy", {"price": "1"}), ("refuse", {"reason": "x"})):
        with pytest.raises(NotAllowed):
            settle(yard, "A1", what, **more)
    assert yard.core("A1").state == "waiting"
    assert yard.is_sound()


def test_what_is_no_way_or_no_core_is_refused(refused: Yard) -> None:
    with pytest.raises(InvalidInput, match="no way to settle a core"):
        settle(refused, "R1", "burn")
    with pytest.raises(NotFound):
        core_to_settle("9999", at("2026-05-25"))
    with pytest.raises(InvalidInput, match="301 signs; 300 is the most"):
        settle(refused, "R1", "send back", reason="x" * 301)


def test_the_page_of_a_core_shows_the_arithmetic_as_it_was_judged(refused: Yard) -> None:
    item = core_to_settle(refused.core("R1").tag, at("2026-05-25"))
    assert item.sums == (
        ("Core charge", money("20")),
        ("Refused: Visible crack", -money("20")),
    )
    assert item.can_leave
    assert item.can_be_bought
    assert item.hold_days == 10
