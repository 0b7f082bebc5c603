"""The slot map of a wash basket: which slot is next, what lies in it, whether a count agrees."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Mapping
from itertools import chain

from coretrack.errors import NotAllowed
from coretrack.figures.plain_words import are, counted
from coretrack.figures.tags import show_tag

MOST_SLOTS = 99
"""Slots of one basket; their numbers are typed and printed with two digits at most."""

Slots = Mapping[str, str]
"""Slot number as text → the tag of the core in it, as `Wash.slots` keeps it."""


def in_order(slots: Slots) -> tuple[tuple[int, str], ...]:
    """Return slot and tag of everything in the basket, by slot."""
    return tuple(sorted((int(slot), tag) for slot, tag in slots.items()))


def slot_of(slots: Slots, tag: str) -> int:
    """Return the slot a core lies in, 0 when it does not lie in this basket."""
    return next((slot for slot, each in in_order(slots) if each == tag), 0)


def next_slot(slots: Slots, wanted: int = 0) -> int:
    """Return the slot that the next core goes into.

    It is `wanted` or the first free one after it; without a wish the one after the last core, and
    a free one before it only when the basket's end is reached. NotAllowed when all are taken.
    """
    taken = {int(slot) for slot in slots}
    start = wanted or max(taken, default=0) + 1
    after, before = range(start, MOST_SLOTS + 1), range(1, min(start, MOST_SLOTS + 1))
    for slot in chain(after, before):
        if slot not in taken:
            return slot
    raise NotAllowed(f"All {MOST_SLOTS} slots of this basket are taken; take another basket.")


def with_core(slots: Slots, slot: int, tag: str) -> dict[str, str]:
    """Return the map with a core in a slot; NotAllowed when the slot or the core is there."""
    if not 1 <= slot <= MOST_SLOTS:
        raise NotAllowed(f"There is no slot {slot}; slots are 1 to {MOST_SLOTS}.")
    if str(slot) in slots:
        raise NotAllowed(f"Slot {slot} is taken by core {show_tag(slots[str(slot)])}.")
    if slot_of(slots, tag):
        raise NotAllowed(f"Core {show_tag(tag)} lies in slot {slot_of(slots, tag)} already.")
    return dict(as_texts([*in_order(slots), (slot, tag)]))


def without_core(slots: Slots, tag: str) -> dict[str, str]:
    """Return the map without a core."""
    return {slot: each for slot, each in as_texts(in_order(slots)) if each != tag}


def as_texts(places: Iterable[tuple[int, str]]) -> list[tuple[str, str]]:
    """Return slots as they are stored, by number."""
    return [(str(slot), tag) for slot, tag in sorted(places)]


def count_differs(told: int, mapped: int) -> str:
    """Return why a count cannot be right, "" when it agrees with the slot map."""
    if told == mapped:
        return ""
    apart = abs(told - mapped)
    if told < mapped:
        what = f"{are(apart, 'core')} not in the basket; look for it"
        what = what if apart == 1 else what.replace("look for it", "look for them")
    else:
        what = f"{are(apart, 'core')} in the basket that nobody scanned"
    return f"{counted(told, 'core')} counted, {mapped} in the slot map: {what}."


def family_counts(families: Iterable[str]) -> dict[str, int]:
    """Return how many cores there are of each family, by its code."""
    return dict(sorted(Counter(families).items()))
