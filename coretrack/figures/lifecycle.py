"""A core's life: what is known of it, and what each event changes.

`apply` is the only place that says what an event does to a core. The stored row, the tallies and
`coretrack verify` all come from it, so they cannot drift apart.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field, replace
from typing import Any

from coretrack.errors import NotAllowed
from coretrack.figures.money import Money

COST_PARTS = (
    "price",
    "freight",
    "credit",
    "receive",
    "wash",
    "inspect",
    "rework",
    "reinspect",
    "disposal",
    "recovery",
)
"""What money on a core is posted for; `recovery` is what its scrap metal brought in."""

GONE = frozenset({"sent back", "cleared out", "taken back"})
"""States in which the core is not in the house.

Sent back to the customer; cleared out of the hold bin as metal; taken in by mistake and taken back.
"""

NOT_OURS = frozenset({"counted", "hold", "excess"}) | GONE
"""States in which the shop does not own the core: not judged, refused, offered too many, gone."""

STATE_AFTER_GRADE = {
    "keep": "good",
    "rework": "rework",
    "scrap": "scrapped",
    "undecided": "undecided",
    "open": "open",
}

_STATE_AFTER_ACCEPTANCE = {"refuse": "hold", "excess": "excess", "comeback": "comeback"}

INSPECTABLE = frozenset({"waiting", "comeback", "open", "undecided", "reinspect"})


@dataclass(frozen=True)
class CoreFacts:
    """What is known of one core now. Text that is not known is empty, money is ten-thousandths.

    `stream`: return, purchase or comeback. `acceptance`: empty until judged at the dock, then
    accept, part credit, refuse, excess, comeback or bought. `grade`: the latest verdict;
    `first_grade`: the first one that was not open; `reworks`: rework passes in this life.
    `removed` is the stock taken off per check in millionths, `done` the passes per rework
    operation; both include earlier lives of the body. `findings` are the observations the body is
    judged by now, `done_since` the rework operations finished since they were made. `hold_until` is
    the last day a refused core is kept for the customer, `credit_note` the paper its credit left
    by, `place` the bin it lies in; `photos` and `labels` count what was made of it.
    """

    tag: str
    stream: str = ""
    lot: str = ""
    source: str = ""
    source_lost: bool = False
    line: str = ""
    family: str = ""
    core_group: str = ""
    number: str = ""
    serial: str = ""
    received_on: str = ""
    month: str = ""
    acceptance: str = ""
    faults: tuple[str, ...] = ()
    state: str = "counted"
    grade: str = ""
    first_grade: str = ""
    plan_version: int = 0
    inspector: str = ""
    inspections: int = 0
    reworks: int = 0
    operations: tuple[str, ...] = ()
    reasons: tuple[str, ...] = ()
    findings: tuple[Mapping[str, Any], ...] = ()
    done_since: tuple[str, ...] = ()
    removed: Mapping[str, int] = field(default_factory=dict)
    done: Mapping[str, int] = field(default_factory=dict)
    price: Money = 0
    freight: Money = 0
    credit: Money = 0
    receive: Money = 0
    wash: Money = 0
    inspect: Money = 0
    rework: Money = 0
    reinspect: Money = 0
    disposal: Money = 0
    recovery: Money = 0
    hold_until: str = ""
    credit_note: str = ""
    place: str = ""
    photos: int = 0
    labels: int = 0

    @property
    def decided(self) -> bool:
        """Whether the body is known to be good or scrapped."""
        return self.state in ("good", "scrapped")

    @property
    def in_stream(self) -> bool:
        """Whether the core counts in its family's yield: owned by the shop, family known.

        A comeback joins once it is inspected; until then it is a warranty matter.
        """
        if not self.family or self.state in NOT_OURS:
            return False
        return self.stream != "comeback" or bool(self.grade)


def apply(core: CoreFacts | None, event: str, detail: Mapping[str, Any]) -> CoreFacts:
    """Return the core after `event`; NotAllowed when the event cannot follow its present state."""
    if event == "received":
        if core is not None:
            raise NotAllowed(f"Core {core.tag} is already received.")
        return _received(detail)
    if core is None:
        raise NotAllowed("This core has not been received.")
    try:
        handler = _HANDLERS[event]
    except KeyError:
        raise NotAllowed(f"'{event}' is not something that happens to a core.") from None
    return handler(core, detail)


def _received(detail: Mapping[str, Any]) -> CoreFacts:
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
    facts = _post(facts, detail)
    if facts.stream == "purchase":
        facts = replace(facts, acceptance="bought", state="waiting")
    return facts if facts.family else replace(facts, state="unknown")


def _accepted(core: CoreFacts, detail: Mapping[str, Any]) -> CoreFacts:
    if core.acceptance:
        raise NotAllowed(
            f"Core {core.tag} is already judged at the dock ({core.acceptance}); "
            "one core earns one credit."
        )
    _refuse_once_gone(core)
    outcome = detail["outcome"]
    if not core.family:
        raise NotAllowed(
            f"Core {core.tag} is unknown; identify it before it is judged or credited."
        )
    state = _STATE_AFTER_ACCEPTANCE.get(outcome, "waiting")
    return replace(
        _post(core, detail),
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
    _refuse_once_settled(core)
    if not core.acceptance or core.stream == "purchase":
        raise NotAllowed(f"Core {core.tag} has no judgement of the dock to take back.")
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
    _refuse_once_settled(core)
    if core.stream == "purchase":
        raise NotAllowed(f"Core {core.tag} carries its share of the price of lot {core.lot}.")
    return replace(
        _post(core, {"costs": {part: -getattr(core, part) for part in COST_PARTS}}),
        acceptance="",
        line="",
        faults=(),
        hold_until="",
        place="",
        state="taken back",
    )


def _refuse_once_settled(core: CoreFacts) -> None:
    if core.grade or core.inspections:
        raise NotAllowed(f"Core {core.tag} has been inspected; that cannot be undone at the dock.")
    if core.credit_note:
        raise NotAllowed(
            f"The credit for core {core.tag} left with {core.credit_note}; it cannot be undone."
        )
    _refuse_once_gone(core)


def _refuse_once_gone(core: CoreFacts) -> None:
    if core.state in GONE:
        raise NotAllowed(f"Core {core.tag} is no longer in the house ({core.state}).")


def _bought(core: CoreFacts, detail: Mapping[str, Any]) -> CoreFacts:
    """Buy a core that earned no credit: an excess one, or a refused one that is still wanted."""
    if core.state not in ("excess", "hold"):
        raise NotAllowed(
            f"Core {core.tag} is {core.state}; only excess and refused cores can be bought."
        )
    return replace(_post(core, detail), acceptance="bought", hold_until="", state="waiting")


def _held(core: CoreFacts, detail: Mapping[str, Any]) -> CoreFacts:
    """Refuse an excess core: it waits in the hold bin until its day."""
    if core.state != "excess":
        raise NotAllowed(f"Core {core.tag} is {core.state}; only an excess core is put aside so.")
    return replace(core, state="hold", hold_until=detail["hold_until"])


def _left(core: CoreFacts, detail: Mapping[str, Any]) -> CoreFacts:
    """Let a core leave the hold bin: `to` is "sent back" or "cleared out"."""
    if core.state not in ("hold", "excess", "comeback"):
        raise NotAllowed(
            f"Core {core.tag} is {core.state}; only refused, excess and comeback cores leave so."
        )
    to = detail["to"]
    if to not in ("sent back", "cleared out"):
        raise NotAllowed(f"'{to}' is not a way out of the hold bin.")
    return replace(core, state=to, place="")


def _credit_released(core: CoreFacts, detail: Mapping[str, Any]) -> CoreFacts:
    if core.credit_note or core.acceptance not in ("accept", "part credit"):
        raise NotAllowed(f"Core {core.tag} has no credit waiting to be released.")
    return replace(core, credit_note=detail["note"])


def _put(core: CoreFacts, detail: Mapping[str, Any]) -> CoreFacts:
    _refuse_once_gone(core)
    return replace(core, place=detail["place"])


def _photographed(core: CoreFacts, detail: Mapping[str, Any]) -> CoreFacts:
    del detail
    return replace(core, photos=core.photos + 1)


def _label_printed(core: CoreFacts, detail: Mapping[str, Any]) -> CoreFacts:
    del detail
    _refuse_once_gone(core)
    return replace(core, labels=core.labels + 1)


def _identified(core: CoreFacts, detail: Mapping[str, Any]) -> CoreFacts:
    if core.family:
        raise NotAllowed(f"Core {core.tag} is already known as family {core.family}.")
    _refuse_once_gone(core)
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


def _source_lost(core: CoreFacts, detail: Mapping[str, Any]) -> CoreFacts:
    del detail
    return replace(core, source_lost=True)


def _inspected(core: CoreFacts, detail: Mapping[str, Any]) -> CoreFacts:
    if core.state not in INSPECTABLE:
        raise NotAllowed(_why_not_inspectable(core))
    grade = detail["grade"]
    return replace(
        _post(core, detail),
        grade=grade,
        first_grade=core.first_grade or ("" if grade == "open" else grade),
        plan_version=detail["plan_version"],
        inspector=detail["inspector"],
        inspections=core.inspections + 1,
        operations=tuple(detail.get("operations", ())),
        reasons=tuple(detail.get("reasons", ())),
        findings=tuple(detail.get("findings", ())),
        done_since=(),
        state=STATE_AFTER_GRADE[grade],
    )


def _why_not_inspectable(core: CoreFacts) -> str:
    reasons = {
        "unknown": "its family is not known yet; identify it first",
        "counted": "it has not been judged at the dock yet",
        "hold": "it was refused and lies in the hold bin",
        "excess": "it is an excess core that the shop has not bought",
        "sent back": "it was sent back to the customer",
        "cleared out": "it was cleared out of the hold bin as metal",
        "taken back": "it was taken in by mistake and taken out of the books",
        "rework": "its rework is not finished",
        "good": "it is already graded keep",
        "scrapped": "it is already scrapped",
    }
    return f"Core {core.tag} cannot be inspected: {reasons.get(core.state, core.state)}."


def _reworked(core: CoreFacts, detail: Mapping[str, Any]) -> CoreFacts:
    operation = detail["operation"]
    if core.state != "rework" or operation not in core.operations:
        waiting = ", ".join(core.operations) or "none"
        raise NotAllowed(
            f"Core {core.tag} is not waiting for '{operation}' (waiting for: {waiting})."
        )
    left = tuple(code for code in core.operations if code != operation)
    done = {**core.done, operation: core.done.get(operation, 0) + 1}
    removed = dict(core.removed)
    if detail.get("check") and detail.get("removed"):
        removed[detail["check"]] = removed.get(detail["check"], 0) + detail["removed"]
    return replace(
        _post(core, detail),
        operations=left,
        reworks=core.reworks + 1,
        done_since=(*core.done_since, operation),
        done=done,
        removed=removed,
        state="rework" if left else "reinspect",
    )


def _overridden(core: CoreFacts, detail: Mapping[str, Any]) -> CoreFacts:
    if not core.grade:
        raise NotAllowed(f"Core {core.tag} has no verdict to override.")
    grade = detail["grade"]
    return replace(
        _post(core, detail),
        grade=grade,
        operations=tuple(detail.get("operations", ())),
        state=STATE_AFTER_GRADE[grade],
    )


def _post(core: CoreFacts, detail: Mapping[str, Any]) -> CoreFacts:
    costs: Mapping[str, Money] = detail.get("costs", {})
    return replace(core, **{part: getattr(core, part) + money for part, money in costs.items()})


_HANDLERS: dict[str, Callable[[CoreFacts, Mapping[str, Any]], CoreFacts]] = {
    "accepted": _accepted,
    "unjudged": _unjudged,
    "taken back": _taken_back,
    "bought": _bought,
    "held": _held,
    "left": _left,
    "credit released": _credit_released,
    "put": _put,
    "photographed": _photographed,
    "label printed": _label_printed,
    "identified": _identified,
    "source lost": _source_lost,
    "inspected": _inspected,
    "reworked": _reworked,
    "overridden": _overridden,
}
