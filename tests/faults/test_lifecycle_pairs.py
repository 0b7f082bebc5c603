"""Every event tried on a core in every state: it is allowed, or refused in words a shop can use."""

from __future__ import annotations

from typing import Any

import pytest

from coretrack.errors import NotAllowed
from coretrack.figures.lifecycle import (
    INSPECTABLE,
    STATE_AFTER_GRADE,
    CoreFacts,
    apply,
)
from coretrack.figures.tallies import contribution

DAY = "2026-09-01"
BOUGHT = {"tag": "T-1", "stream": "purchase", "family": "PMP", "lot": "L1", "received_on": DAY}
RETURNED = {**BOUGHT, "stream": "return"}
STRANGE = {**BOUGHT, "family": ""}
STRANGE_RETURN = {**RETURNED, "family": ""}


def judged(outcome: str) -> tuple[str, dict[str, Any]]:
    return "accepted", {"outcome": outcome}


def graded(grade: str, *operations: str) -> tuple[str, dict[str, Any]]:
    told = {"grade": grade, "plan_version": 1, "inspector": "Una Pryor"}
    return "inspected", {**told, "operations": list(operations)}


HONED = ("reworked", {"operation": "hone"})

WAYS: dict[str, list[tuple[str, dict[str, Any]]]] = {
    "unknown": [("received", STRANGE)],
    "unknown return": [("received", STRANGE_RETURN)],
    "counted": [("received", RETURNED)],
    "waiting": [("received", BOUGHT)],
    "waiting return": [("received", RETURNED), judged("accept")],
    "part credited": [("received", RETURNED), judged("part credit")],
    "hold": [("received", RETURNED), judged("refuse")],
    "excess": [("received", RETURNED), judged("excess")],
    "comeback": [("received", {**RETURNED, "stream": "comeback"}), judged("comeback")],
    "open": [("received", BOUGHT), graded("open")],
    "undecided": [("received", BOUGHT), graded("undecided")],
    "good": [("received", BOUGHT), graded("keep")],
    "scrapped": [("received", BOUGHT), graded("scrap")],
    "rework": [("received", BOUGHT), graded("rework", "hone", "lap")],
    "reinspect": [("received", BOUGHT), graded("rework", "hone"), HONED],
    "good after rework": [
        ("received", BOUGHT),
        graded("rework", "hone"),
        HONED,
        graded("keep"),
    ],
}
"""A way into every state there is."""

EVENTS: dict[str, tuple[str, dict[str, Any]]] = {
    "received again": ("received", BOUGHT),
    "accepted": judged("accept"),
    "refused": judged("refuse"),
    "identified": ("identified", {"family": "VLV"}),
    "source lost": ("source lost", {}),
    "kept": graded("keep"),
    "sent to rework": graded("rework", "hone"),
    "scrapped": graded("scrap"),
    "left open": graded("open"),
    "honed": HONED,
    "sleeved": ("reworked", {"operation": "sleeve"}),
    "overridden to keep": ("overridden", {"grade": "keep"}),
    "overridden to scrap": ("overridden", {"grade": "scrap"}),
    "polished": ("polished", {}),
}

KNOWN_RETURNS = {"counted"}
STRANGERS = {"unknown", "unknown return"}
INSPECTED = {
    "open",
    "undecided",
    "good",
    "scrapped",
    "rework",
    "reinspect",
    "good after rework",
}
CAN_BE_INSPECTED = {
    "waiting",
    "waiting return",
    "part credited",
    "comeback",
    "open",
    "undecided",
    "reinspect",
}

ALLOWED: dict[str, set[str]] = {
    "received again": set(),
    "accepted": KNOWN_RETURNS,
    "refused": KNOWN_RETURNS,
    "identified": STRANGERS,
    "source lost": set(WAYS),
    "kept": CAN_BE_INSPECTED,
    "sent to rework": CAN_BE_INSPECTED,
    "scrapped": CAN_BE_INSPECTED,
    "left open": CAN_BE_INSPECTED,
    "honed": {"rework"},
    "sleeved": set(),
    "overridden to keep": INSPECTED,
    "overridden to scrap": INSPECTED,
    "polished": set(),
}
"""In which states each event may happen; in all others it is refused."""


def core_in(state: str) -> CoreFacts:
    core: CoreFacts | None = None
    for event, detail in WAYS[state]:
        core = apply(core, event, detail)
    assert core is not None
    return core


def test_the_table_covers_every_state_and_every_event() -> None:
    from coretrack.figures import lifecycle

    states = {core_in(state).state for state in WAYS}
    named = {*STATE_AFTER_GRADE.values(), *INSPECTABLE, "counted", "hold", "excess", "unknown"}
    assert named <= states | {"waiting"}
    assert states <= named
    events = {event for event, _ in EVENTS.values()}
    assert events - {"polished", "received"} == set(lifecycle._HANDLERS)
    assert set(ALLOWED) == set(EVENTS)


@pytest.mark.parametrize("what", EVENTS)
@pytest.mark.parametrize("state", WAYS)
def test_each_event_in_each_state_is_allowed_or_refused_in_words(state: str, what: str) -> None:
    core = core_in(state)
    event, detail = EVENTS[what]

    if state in ALLOWED[what]:
        after = apply(core, event, detail)
        assert after.tag == core.tag
        assert all(count >= 0 for row in contribution(after).values() for count in row.values())
    else:
        with pytest.raises(NotAllowed) as refused:
            apply(core, event, detail)
        assert len(refused.value.message.split()) >= 4
        assert refused.value.message.endswith(".")
        assert core_in(state) == core


@pytest.mark.parametrize("what", [what for what in EVENTS if what != "received again"])
def test_nothing_happens_to_a_core_that_was_never_received(what: str) -> None:
    with pytest.raises(NotAllowed, match="has not been received"):
        apply(None, *EVENTS[what])
