"""Every event tried on a core in every state: it is allowed, or refused in words a shop can use."""

from __future__ import annotations

from typing import Any

import pytest

from coretrack.errors import NotAllowed
from coretrack.figures.lifecycle import (
    GONE,
    INSPECTABLE,
    NOT_OURS,
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
UNJUDGED: tuple[str, dict[str, Any]] = ("unjudged", {})
TAKEN_BACK: tuple[str, dict[str, Any]] = ("taken back", {})
BOUGHT_HERE = ("bought", {"costs": {"price": 95_000}})
HELD = ("held", {"hold_until": "2026-09-11"})
SENT_BACK = ("left", {"to": "sent back"})
CLEARED_OUT = ("left", {"to": "cleared out"})
RELEASED = ("credit released", {"note": "CN-1"})
BASKETED = ("basketed", {"basket": "B-1", "slot": 3})
TAG_BOUND = ("tag bound", {"number": 17})
PICKED = ("picked", {"into": "UNIT-5"})
BASKETED = ("basketed", {"basket": "0040000105", "slot": 3})
TAGGED = ("tag bound", {"number": 12})
BEGUN = ("rework begun", {"operation": "hone", "person": "Una Pryor"})
PICKED = ("picked", {"into": "B-7"})

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
    "good return": [("received", RETURNED), judged("accept"), graded("keep")],
    "counted again": [("received", RETURNED), judged("refuse"), UNJUDGED],
    "held excess": [("received", RETURNED), judged("excess"), HELD],
    "bought excess": [("received", RETURNED), judged("excess"), BOUGHT_HERE],
    "bought refused": [("received", RETURNED), judged("refuse"), BOUGHT_HERE],
    "credit released": [("received", RETURNED), judged("accept"), RELEASED],
    "sent back": [("received", RETURNED), judged("refuse"), SENT_BACK],
    "cleared out": [("received", RETURNED), judged("excess"), CLEARED_OUT],
    "taken back": [("received", RETURNED), judged("accept"), TAKEN_BACK],
    "unknown taken back": [("received", STRANGE_RETURN), TAKEN_BACK],
    "basketed": [("received", BOUGHT), BASKETED],
    "tagged": [("received", BOUGHT), TAGGED],
    "rework begun": [("received", BOUGHT), graded("rework", "hone", "lap"), BEGUN],
    "built": [("received", BOUGHT), graded("keep"), PICKED],
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
    "unjudged": UNJUDGED,
    "taken back": TAKEN_BACK,
    "bought": BOUGHT_HERE,
    "held": HELD,
    "sent back": SENT_BACK,
    "cleared out": CLEARED_OUT,
    "left for nowhere": ("left", {"to": "the yard next door"}),
    "credit released": RELEASED,
    "put": ("put", {"place": "BIN:2"}),
    "photographed": ("photographed", {"sha256": "0" * 64}),
    "label printed": ("label printed", {"stock": "roll-50x25"}),
    "polished": ("polished", {}),
    "basketed": BASKETED,
    "basketed elsewhere": ("basketed", {"basket": "0040000202", "slot": 1}),
    "unbasketed": ("unbasketed", {}),
    "tag bound": TAGGED,
    "tag released": ("tag released", {"number": 12}),
    "reopened": ("reopened", {"was": "keep"}),
    "rework begun": BEGUN,
    "rework put down": ("rework put down", {"operation": "hone"}),
    "crack checked": ("crack checked", {"rack": "R-1", "result": "none"}),
    "looked at again": ("looked at again", {"grade": "keep", "inspector": "Bo Lind"}),
    "picked": PICKED,
    "put back": ("put back", {}),
}

KNOWN_RETURNS = {"counted", "counted again"}
STRANGERS = {"unknown", "unknown return"}
INSPECTED = {
    "open",
    "undecided",
    "good",
    "scrapped",
    "rework",
    "reinspect",
    "good after rework",
    "good return",
    "rework begun",
}
GOOD = {"good", "good after rework", "good return"}
IN_REWORK = {"rework", "rework begun"}
CREDITED = {"waiting return", "part credited"}
NOT_CREDITED = {"hold", "excess", "held excess"}
BOUGHT_RETURNS = {"bought excess", "bought refused"}
JUDGED = CREDITED | NOT_CREDITED | BOUGHT_RETURNS | {"comeback"}
AWAY = {"sent back", "cleared out", "taken back", "unknown taken back"}
CAN_BE_INSPECTED = {
    "waiting",
    "waiting return",
    "part credited",
    "comeback",
    "open",
    "undecided",
    "reinspect",
    "bought excess",
    "bought refused",
    "credit released",
    "basketed",
    "tagged",
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
    "honed": IN_REWORK,
    "sleeved": set(),
    "overridden to keep": INSPECTED,
    "overridden to scrap": INSPECTED,
    "reopened": GOOD | IN_REWORK | {"scrapped"},
    "unjudged": JUDGED,
    # A bought core carries its share of its lot's price; only what came back is taken back.
    "taken back": JUDGED | KNOWN_RETURNS | {"unknown return"},
    "bought": NOT_CREDITED,
    "held": {"excess"},
    "sent back": NOT_CREDITED | {"comeback"},
    "cleared out": NOT_CREDITED | {"comeback"},
    "left for nowhere": set(),
    "credit released": CREDITED | {"good return"},
    "put": set(WAYS) - AWAY - {"built"},
    "photographed": set(WAYS),
    "label printed": set(WAYS) - AWAY,
    "polished": set(),
    "basketed": CAN_BE_INSPECTED,
    "basketed elsewhere": CAN_BE_INSPECTED - {"basketed"},
    "unbasketed": {"basketed"},
    "tag bound": set(WAYS) - AWAY - {"tagged"},
    "tag released": {"tagged"},
    "rework begun": IN_REWORK,
    "rework put down": {"rework begun"},
    "crack checked": CAN_BE_INSPECTED,
    "looked at again": INSPECTED | {"built"},
    "picked": GOOD,
    "put back": {"built"},
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
    named = {*STATE_AFTER_GRADE.values(), *INSPECTABLE, *NOT_OURS, "unknown", "built"}
    assert named <= states | {"waiting"}
    assert states <= named | {"built"}
    events = {event for event, _ in EVENTS.values()}
    assert events - {"polished", "received"} == set(lifecycle._HANDLERS)
    assert set(ALLOWED) == set(EVENTS)
    assert {core_in(state).state for state in AWAY} == GONE


@pytest.mark.parametrize("what", EVENTS)
@pytest.mark.parametrize("state", WAYS)
def test_each_event_in_each_state_is_allowed_or_refused_in_words(state: str, what: str) -> None:
    core = core_in(state)
    event, detail = EVENTS[what]

    if state in ALLOWED[what]:
        after = apply(core, event, detail)
        assert after.tag == core.tag
        assert not (after.state in GONE and after.place)
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
