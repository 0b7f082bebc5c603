"""What is known of one core: its facts, its states, and what money on it is posted for."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from typing import Any

from coretrack.figures.money import Money
from coretrack.figures.tags import show_tag

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

AFTER_BENCH = frozenset({"good", "scrapped", "built"})
"""States of a body that is decided; a built one was picked from the shelf for a unit."""

NOT_OURS = frozenset({"counted", "hold", "excess"}) | GONE
"""States in which the shop does not own the core: not judged, refused, offered too many, gone."""

STATE_AFTER_GRADE = {
    "keep": "good",
    "rework": "rework",
    "scrap": "scrapped",
    "undecided": "undecided",
    "open": "open",
}

STATE_AFTER_ACCEPTANCE = {"refuse": "hold", "excess": "excess", "comeback": "comeback"}

INSPECTABLE = frozenset({"waiting", "comeback", "open", "undecided", "reinspect"})


STATE_WORDS = {
    "counted": "counted, not judged yet",
    "unknown": "unknown core, to be identified",
    "waiting": "waiting for inspection",
    "hold": "refused, in the hold bin",
    "excess": "excess core, to be refused or bought",
    "comeback": "comeback under warranty",
    "sent back": "sent back to the customer",
    "cleared out": "cleared out of the hold bin as metal",
    "taken back": "taken in by mistake, out of the books",
    "open": "inspection begun, checks missing",
    "undecided": "undecided, to be measured again",
    "rework": "in rework",
    "reinspect": "rework finished, to be inspected again",
    "good": "good body",
    "built": "good body, picked for a build",
    "scrapped": "scrapped",
}
"""The states of a core as people say them."""

OUTCOMES = {
    "accept": "accepted",
    "part credit": "accepted for part of the credit",
    "refuse": "refused",
    "excess": "excess: no unit is owed for it",
    "comeback": "a comeback under warranty, no core credit",
    "bought": "bought",
}
"""What the dock decided, in words."""


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
    by, `place` the bin it lies in; `photos` and `labels` count what was made of it. `basket` and
    `slot` say where it lies in the wash, `metal_tag` the number wired to it (0: none),
    `rework_begun` the operation somebody is busy with, `built_into` what it was picked for.
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
    basket: str = ""
    slot: int = 0
    metal_tag: int = 0
    rework_begun: str = ""
    built_into: str = ""

    @property
    def called(self) -> str:
        """The core by its tag, as messages name it: "Core 1000 0042 35"."""
        return f"Core {show_tag(self.tag)}"

    @property
    def state_words(self) -> str:
        """Its state as people say it."""
        if self.state == "built" and self.built_into:
            return f"good body, picked for {self.built_into}"
        return STATE_WORDS.get(self.state, self.state)

    @property
    def outcome_words(self) -> str:
        """What the dock decided, as people say it."""
        return OUTCOMES.get(self.acceptance, self.acceptance) or "not judged"

    @property
    def decided(self) -> bool:
        """Whether the body is known to be good or scrapped."""
        return self.state in AFTER_BENCH

    @property
    def in_stream(self) -> bool:
        """Whether the core counts in its family's yield: owned by the shop, family known.

        A comeback joins once it is inspected; until then it is a warranty matter.
        """
        if not self.family or self.state in NOT_OURS:
            return False
        return self.stream != "comeback" or bool(self.grade)


def posted(core: CoreFacts, detail: Mapping[str, Any]) -> CoreFacts:
    """Return the core with an event's `costs` added to what was posted on it before."""
    costs: Mapping[str, Money] = detail.get("costs", {})
    return replace(core, **{part: getattr(core, part) + money for part, money in costs.items()})
