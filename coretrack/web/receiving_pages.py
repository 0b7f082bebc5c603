"""What the receiving station's templates are given."""

from __future__ import annotations

import secrets
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

from coretrack.actions.customers import BUYING
from coretrack.actions.delivery_replies import proposal_said
from coretrack.actions.delivery_views import (
    SECOND_COUNT_FROM,
    DeliveryRow,
    DeliveryView,
    LineShown,
)
from coretrack.figures.scan_replies import Spot
from coretrack.figures.trade_objects import Source
from coretrack.web.panel import READY, Panel, panel_of


@dataclass(frozen=True)
class MenuItem:
    """A list of things to look after: its name, where it is, how many."""

    name: str
    address: str
    count: int


@dataclass(frozen=True)
class HomePage:
    """receiving/home.html; `typed` keeps a form that was not stored, `problems` say why."""

    open: Sequence[DeliveryRow]
    customers: Sequence[Source]
    people: Sequence[str]
    menu: Sequence[MenuItem]
    typed: Mapping[str, str] = field(default_factory=dict)
    problems: Mapping[str, str] = field(default_factory=dict)
    title: str = "Receiving"
    second_count_from: int = SECOND_COUNT_FROM
    buying: Sequence[str] = BUYING
    key: str = field(default_factory=lambda: secrets.token_hex(16))


@dataclass(frozen=True)
class DeliveryPage:
    """receiving/delivery.html"""

    view: DeliveryView
    typed: Mapping[str, str] = field(default_factory=dict)
    problems: Mapping[str, str] = field(default_factory=dict)
    second_count_from: int = SECOND_COUNT_FROM
    key: str = field(default_factory=lambda: secrets.token_hex(16))

    @property
    def title(self) -> str:
        """The page's heading: which delivery, from whom."""
        return f"Delivery {self.view.code}, {self.view.customer_name}"

    @property
    def panel(self) -> Panel | None:
        """What the large panel says here: what is proposed for the core in hand."""
        proposal = self.view.proposal
        return panel_of(proposal_said(proposal), proposed=True) if proposal else None

    @property
    def panel_after_keeping(self) -> Panel:
        """What the panel says once what was typed about the core in hand was kept, or not."""
        if self.problems:
            said = " ".join(dict.fromkeys(self.problems.values()))
            return Panel("stop", "NOT KEPT", said, "What you typed is still on the page.")
        return self.panel or READY

    @property
    def owed_now(self) -> tuple[LineShown, ...]:
        """What is owed of the core group in hand; these lines stand before the others."""
        hand = self.view.in_hand
        group = hand.core_group if hand else ""
        return tuple(line for line in self.view.owed if group and line.core_group == group)

    @property
    def owed_else(self) -> tuple[LineShown, ...]:
        """What is owed beside the core group in hand."""
        now = self.owed_now
        return tuple(line for line in self.view.owed if line not in now)

    @property
    def spot(self) -> Spot:
        """Where a scan on this page is made, and what the person has seen proposed."""
        proposal = self.view.proposal
        return Spot("delivery", self.view.code, proposal.fingerprint if proposal else "")
