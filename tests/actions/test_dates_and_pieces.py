"""Slips that a shop makes on a Monday: dates out of time, serials in another dress, lump lots."""

from __future__ import annotations

import pytest
from core_yard import Yard, csv_bytes, money, why

from coretrack.actions import setting_up
from coretrack.errors import InvalidInput


def test_a_sale_over_a_year_ahead_is_asked_back(yard: Yard) -> None:
    answer = yard.sell("S1", day="2099-01-01")
    assert "over a year ahead of today (2026-10-31)" in why(answer)
    assert answer.rejected[0].column == "date"


def test_a_date_a_little_ahead_is_stored_and_said(yard: Yard) -> None:
    answer = yard.sell("S1", day="2026-11-05")
    assert answer.stored == 1
    assert any("dated after today" in note for note in answer.notes)


def test_a_reading_before_the_core_arrived_is_stored_and_said_once(yard: Yard) -> None:
    yard.buy("B1", day="2026-05-06")
    answer = yard.measure("B1", at="2026-05-05 09:00")
    assert answer.rejected == ()
    said = [note for note in answer.notes if "was received on 2026-05-06" in note]
    assert len(said) == 1
    assert "after 2026-05-05; check both days" in said[0]


def test_without_a_day_of_arrival_today_is_taken_and_said(yard: Yard) -> None:
    content = csv_bytes("number,serial", [("GP-1040", "B1")])
    answer = yard.take_in(content, source="COPP", lot="L1", price="10")
    assert yard.core("B1").received_on == "2026-10-31"
    assert any("taken as today, 2026-10-31 (--received)" in note for note in answer.notes)


@pytest.mark.parametrize("dressed", ["SN500", "SN 500", "S-N500"])
def test_a_serial_in_another_dress_earns_no_second_credit(yard: Yard, dressed: str) -> None:
    yard.sell("S1", 4)
    yard.bring_back("SN-500")
    again = yard.bring_back(dressed, day="2026-05-21")
    assert "is SN-500 without its blanks and dashes" in why(again)
    assert yard.line("S1/1").credited == 1
    twice = yard.bring_back("SN-600", "SN600", day="2026-05-22")
    assert "stands twice in this file" in why(twice)


LOT = "number,serial,quantity"


def test_a_lump_lot_comes_in_whole_or_not_at_all(yard: Yard) -> None:
    wrong = csv_bytes(LOT, [("GP-1040", "B1", 1), ("GP-1040", "B2", 0), ("GP-1040", "B3", 1)])
    terms = {"source": "COPP", "lot": "L1", "received": "2026-05-06", "basis": "lump"}
    answer = yard.take_in(wrong, price="100.00", **terms)
    assert (answer.stored, len(answer.rejected)) == (0, 3)
    assert sum("waits for the other rows" in row.why for row in answer.rejected) == 2
    assert yard.cores() == []
    assert yard.tags_given() == 0

    right = csv_bytes(LOT, [("GP-1040", "B1", 1), ("GP-1040", "B2", 1), ("GP-1040", "B3", 1)])
    answer = yard.take_in(right, price="100.00", **terms)
    assert answer.stored == 3
    assert sorted(core.price for core in yard.cores()) == [
        money("33.33"), money("33.33"), money("33.34"),
    ]  # fmt: skip
    assert yard.is_sound()


def test_books_with_money_in_them_keep_their_currency(yard: Yard) -> None:
    yard.buy("B1")
    with pytest.raises(InvalidInput, match="cannot become CHF"):
        setting_up.set_shop("Yard", "CHF", "UTC", 1, by=yard.by, now=yard.now)


def test_an_unknown_kind_of_source_is_named(yard: Yard) -> None:
    with pytest.raises(InvalidInput, match="'brokr' is not a kind of source; use one of customer"):
        setting_up.add_source("BB", "B", "brokr", by=yard.by, now=yard.now)
