"""The slot map of a wash basket: no slot twice, no core twice, counts that agree exactly."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from coretrack.errors import NotAllowed
from coretrack.figures.wash_slots import (
    MOST_SLOTS,
    count_differs,
    family_counts,
    in_order,
    next_slot,
    slot_of,
    with_core,
    without_core,
)


@given(st.lists(st.integers(0, MOST_SLOTS), max_size=MOST_SLOTS))
def test_a_basket_filled_in_any_order_has_each_slot_and_core_once(wishes: list[int]) -> None:
    slots: dict[str, str] = {}
    for number, wanted in enumerate(wishes):
        slot = next_slot(slots, wanted)
        assert str(slot) not in slots
        assert not wanted or slot == wanted or str(wanted) in slots
        slots = with_core(slots, slot, f"core {number}")
    assert len(slots) == len(wishes)
    assert sorted(tag for _, tag in in_order(slots)) == sorted(
        f"core {number}" for number in range(len(wishes))
    )


def test_slots_are_in_the_order_of_their_numbers_not_of_their_texts() -> None:
    slots = with_core(with_core({}, 10, "b"), 9, "a")
    assert in_order(slots) == ((9, "a"), (10, "b"))
    assert (slot_of(slots, "b"), slot_of(slots, "c")) == (10, 0)
    assert in_order(without_core(slots, "a")) == ((10, "b"),)


def test_after_the_last_core_and_round_to_a_free_slot_at_the_end() -> None:
    assert next_slot({}) == 1
    assert next_slot({"3": "a"}) == 4
    assert next_slot({"3": "a"}, 3) == 4
    assert next_slot({str(MOST_SLOTS): "a"}) == 1
    with pytest.raises(NotAllowed, match="take another basket"):
        next_slot({str(slot): f"core {slot}" for slot in range(1, MOST_SLOTS + 1)})


@pytest.mark.parametrize(("slot", "tag"), [(1, "b"), (2, "a"), (0, "b"), (100, "b")])
def test_a_taken_slot_a_core_twice_and_a_slot_there_is_not_are_refused(slot: int, tag: str) -> None:
    with pytest.raises(NotAllowed):
        with_core({"1": "a"}, slot, tag)


@given(st.integers(0, 99), st.integers(0, 99))
def test_only_the_exact_count_agrees(told: int, mapped: int) -> None:
    assert bool(count_differs(told, mapped)) == (told != mapped)


def test_a_wrong_count_says_which_way() -> None:
    assert "2 cores are not in the basket; look for them" in count_differs(6, 8)
    assert "1 core is in the basket that nobody scanned" in count_differs(9, 8)
    assert family_counts(["b", "a", "b"]) == {"a": 1, "b": 2}
