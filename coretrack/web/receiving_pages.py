"""What the receiving station's templates are given."""

from __future__ import annotations

import secrets
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

from coretrack.actions.delivery_views import SECOND_COUNT_FROM, DeliveryRow, DeliveryView
from coretrack.figures.scan_replies import Spot
from coretrack.figures.trade_objects import Source


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
    def spot(self) -> Spot:
        """Where a scan on this page is made, and what the person has seen proposed."""
        proposal = self.view.proposal
        return Spot("delivery", self.view.code, proposal.fingerprint if proposal else "")
