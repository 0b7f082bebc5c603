"""What the dock does to a core: received, judged, taken back, held, bought, sent home, credited."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from typing import Any

from coretrack.errors import NotAllowed
from coretrack.figures.core_facts import (
    COST_PARTS,
    GONE,
    STATE_AFTER_ACCEPTANCE,
    CoreFacts,
    posted,
)


def received(detail: Mapping[str, Any]) -> CoreFacts:
    """Return a core as it is when it has just been received."""
    facts = CoreFacts(
        tag=detail["tag"],
        stream=detail["stream"],
        lot=detail.get("lot", ""),
        source=detail.get("source", ""),
        family=detail.get("family", ""),
        core_group=detail.get("core_group", ""),
        number=detail.get("number", ""),
        serial=detail.get("serial", ""),
        received_on=detail["received_on"],
        month=detail["received_on"][:7],
        removed=dict(detail.get("removed", {})),
        done=dict(detail.get("done", {})),
    )
    facts = posted(facts, detail)
    if facts.stream == "purchase":
        facts = replace(facts, acceptance="bought", state="waiting")
    return facts if facts.family else replace(facts, state="unknown")


def _accepted(core: CoreFacts, detail: Mapping[str, Any]) -> CoreFacts:
    if core.acceptance:
        raise NotAllowed(
            f"{core.called} is already judged at the dock ({core.outcome_words}); "
            "one core earns one credit."
        )
    refuse_once_gone(core)
    outcome = detail["outcome"]
    if not core.family:
        raise NotAllowed(f"{core.called} is unknown; identify it before it is judged or credited.")
    state = STATE_AFTER_ACCEPTANCE.get(outcome, "waiting")
    return replace(
        posted(core, detail),
        acceptance=outcome,
        line=detail.get("line", ""),
        faults=tuple(detail.get("faults", ())),
        hold_until=detail.get("hold_until", ""),
        state=state,
    )


def _unjudged(core: CoreFacts, detail: Mapping[str, Any]) -> CoreFacts:
    """Take the dock's judgement back: the core stands there again as it was counted.

    Only the dock posts a credit or a price on a returned core, so both fall back to nothing.
    """
    del detail
    refuse_once_settled(core)
    if not core.acceptance or core.stream == "purchase":
        raise NotAllowed(f"{core.called} has no judgement of the dock to take back.")
    return replace(
        core,
        acceptance="",
        line="",
        faults=(),
        credit=0,
        price=0,
        hold_until="",
        state="counted",
    )


def _taken_back(core: CoreFacts, detail: Mapping[str, Any]) -> CoreFacts:
    """Take a core out of the books that was taken in by mistake; its tag is not used again."""
    del detail
    refuse_once_settled(core)
    if core.stream == "purchase":
        raise NotAllowed(f"{core.called} carries its share of the price of lot {core.lot}.")
    return replace(
        posted(core, {"costs": {part: -getattr(core, part) for part in COST_PARTS}}),
        acceptance="",
        line="",
        faults=(),
        hold_until="",
        place="",
        state="taken back",
    )


def refuse_once_settled(core: CoreFacts) -> None:
    """Raise NotAllowed when the dock cannot take anything back: inspected, or the credit is out."""
    if core.grade or core.inspections:
        raise NotAllowed(f"{core.called} has been inspected; that cannot be undone at the dock.")
    if core.credit_note:
        raise NotAllowed(
            f"The credit for {core.called.replace('C', 'c', 1)} left with {core.credit_note}; it "
            "cannot be undone."
        )
    refuse_once_gone(core)


def refuse_once_gone(core: CoreFacts) -> None:
    """Raise NotAllowed when a core has left the house."""
    if core.state in GONE:
        raise NotAllowed(f"{core.called} is no longer in the house ({core.state_words}).")


def _bought(core: CoreFacts, detail: Mapping[str, Any]) -> CoreFacts:
    """Buy a core that earned no credit: an excess one, or a refused one that is still wanted."""
    if core.state not in ("excess", "hold"):
        raise NotAllowed(
            f"{core.called}: {core.state_words}; only excess and refused cores can be bought."
        )
    return replace(posted(core, detail), acceptance="bought", hold_until="", state="waiting")


def _held(core: CoreFacts, detail: Mapping[str, Any]) -> CoreFacts:
    """Refuse an excess core: it waits in the hold bin until its day."""
    if core.state != "excess":
        raise NotAllowed(f"{core.called}: {core.state_words}; only an excess core is put aside so.")
    return replace(core, state="hold", hold_until=detail["hold_until"])


def _left(core: CoreFacts, detail: Mapping[str, Any]) -> CoreFacts:
    """Let a core leave the hold bin: `to` is "sent back" or "cleared out"."""
    if core.state not in ("hold", "excess", "comeback"):
        raise NotAllowed(
            f"{core.called}: {core.state_words}; only refused, excess and comeback cores leave so."
        )
    to = detail["to"]
    if to not in ("sent back", "cleared out"):
        raise NotAllowed(f"'{to}' is not a way out of the hold bin.")
    return replace(core, state=to, place="")


def _credit_released(core: CoreFacts, detail: Mapping[str, Any]) -> CoreFacts:
    if core.credit_note or core.acceptance not in ("accept", "part credit"):
        raise NotAllowed(f"{core.called} has no credit waiting to be released.")
    return replace(core, credit_note=detail["note"])


def _identified(core: CoreFacts, detail: Mapping[str, Any]) -> CoreFacts:
    if core.family:
        raise NotAllowed(f"{core.called} is already known as family {core.family}.")
    refuse_once_gone(core)
    state = core.state
    if state == "unknown":
        state = "waiting" if core.acceptance else "counted"
    return replace(
        core,
        family=detail["family"],
        core_group=detail.get("core_group", ""),
        number=detail.get("number", core.number),
        state=state,
    )


HANDLERS = {
    "accepted": _accepted,
    "unjudged": _unjudged,
    "taken back": _taken_back,
    "bought": _bought,
    "held": _held,
    "left": _left,
    "credit released": _credit_released,
    "identified": _identified,
}
"""What each of these events does to a core that is there."""
