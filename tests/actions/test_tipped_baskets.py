"""A tipped basket: the family keeps its cores, the source and the lot lose them, counts exact."""

from __future__ import annotations

from core_yard import Yard, why


def test_family_yield_keeps_the_cores_and_source_and_lot_drop_them(yard: Yard) -> None:
    yard.buy("A1", "A2", "A3", "A4")
    yard.measure("A1")
    yard.measure("A2", crack="indication")
    answer = yard.tip("A1", "A2", "A3")
    assert (answer.stored, answer.rejected) == (3, ())
    family = yard.tally("family")["GPB"]
    assert (family["received"], family["decided"], family["source_lost"]) == (4, 2, 3)
    assert yard.tally("lot")["L1"] == {"received": 1}
    assert yard.tally("source")["COPP"] == {"received": 1}
    assert yard.tally("number")["GP-1040"]["received"] == 4
    assert yard.is_sound()


def test_what_happens_later_to_such_a_core_stays_out_of_source_and_lot(yard: Yard) -> None:
    yard.buy("A1", "A2")
    yard.tip("A1")
    yard.measure("A1")
    assert yard.tally("family")["GPB"]["kept_first_pass"] == 1
    assert yard.tally("lot")["L1"] == {"received": 1}


def test_a_core_loses_its_source_once_and_unknown_marks_are_named(yard: Yard) -> None:
    yard.buy("A1")
    tag = yard.core("A1").tag
    assert yard.tip(f"{tag[:4]} {tag[4:]}").stored == 1
    again = yard.tip("a1", "X9")
    assert (again.stored, again.already) == (0, 1)
    assert why(again) == "no core has this tag or serial; receive it first"
    assert [e for e, _ in yard.history("core", tag)].count("source lost") == 1
