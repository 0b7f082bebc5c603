"""Unknown cores get their number, and returned ones are judged then."""

from __future__ import annotations

from core_yard import Yard, csv_bytes, money, why

from coretrack.actions import identifying
from coretrack.actions.imports import ImportAnswer


def identify(yard: Yard, *rows: tuple[str, ...], headings: str = "core,number") -> ImportAnswer:
    request = yard.request(csv_bytes(headings, rows), "identify.csv")
    return identifying.identify_cores(request, by=yard.by, now=yard.now)


def test_an_unknown_return_is_credited_once_it_is_identified(yard: Yard) -> None:
    yard.sell("S1", 1, charge="20.00")
    assert yard.bring_back("A1", number="ZZ-9").items[0]["outcome"] == "unknown"
    assert (yard.core("A1").state, yard.core("A1").credit) == ("unknown", 0)

    item = identify(yard, ("A1", "GP-1040")).items[0]

    assert (item["outcome"], item["line"], item["credit"]) == ("accept", "S1/1", "20.00")
    core = yard.core("A1")
    assert (core.family, core.state, core.credit) == ("GPB", "waiting", money("20.00"))
    assert yard.line("S1/1").credited == 1
    assert yard.tally("family")["GPB"]["received"] == 1
    assert yard.is_sound()


def test_faults_seen_at_the_dock_count_when_the_core_is_identified(yard: Yard) -> None:
    yard.sell("S1", 1, charge="20.00")
    yard.bring_back("A1", number="ZZ-9", faults="cracked")
    item = identify(yard, ("A1", "GP-1040")).items[0]
    assert (item["outcome"], yard.core("A1").state) == ("refuse", "hold")
    assert yard.line("S1/1").credited == 0


def test_the_window_runs_to_the_arrival_not_to_the_day_of_identifying(yard: Yard) -> None:
    yard.sell("S1", 1, day="2026-05-04", charge="20.00")
    yard.bring_back("A1", number="ZZ-9", day="2026-05-20")
    # `yard.now` is the end of October, long after every window.
    assert identify(yard, ("A1", "GP-1040")).items[0]["credit"] == "20.00"


def test_an_unknown_piece_of_a_lot_joins_its_family_with_its_cost(yard: Yard) -> None:
    yard.buy("B1", number="ZZ-9", price="10.00")
    assert yard.tally("family").get("GPB", {}).get("received", 0) == 0
    item = identify(yard, ("B1", "GP-1040")).items[0]
    assert (item["state"], yard.core("B1").price) == ("waiting", money("10.00"))
    assert "outcome" not in item
    assert yard.measure("B1").items[0]["grade"] == "keep"
    assert yard.tally("family")["GPB"]["price"] == money("10.00")
    assert yard.is_sound()


def test_a_known_core_is_not_identified_again(yard: Yard) -> None:
    yard.buy("B1")
    assert "already known as family GPB" in why(identify(yard, ("B1", "GP-2080")))


def test_a_number_that_no_group_has_is_asked_back(yard: Yard) -> None:
    yard.buy("B1", number="ZZ-9")
    assert "no core group has this number" in why(identify(yard, ("B1", "GP-9999")))
    assert yard.core("B1").state == "unknown"


def test_a_comeback_stays_one(yard: Yard) -> None:
    yard.sell("S1", 1)
    yard.bring_back("A1", number="ZZ-9", comeback="yes")
    item = identify(yard, ("A1", "GP-1040")).items[0]
    assert (item["outcome"], yard.core("A1").credit) == ("comeback", 0)
    assert yard.line("S1/1").credited == 0
