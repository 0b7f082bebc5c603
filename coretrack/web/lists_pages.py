"""What the templates of the clerk's lists are given."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

from coretrack.actions.cores_here import CoresHere, CoreToSettle
from coretrack.actions.credit_release import CreditsWaiting
from coretrack.actions.open_lines import LineView, OpenLines
from coretrack.actions.receiving_lists import (
    CustomerAccount,
    CustomerSearch,
    Deliveries,
    DeskCounts,
)
from coretrack.figures.tags import show_tag
from coretrack.figures.trade_objects import CreditNote


@dataclass(frozen=True)
class OverviewPage:
    """lists/overview.html"""

    counts: DeskCounts
    title: str = "Lists"


@dataclass(frozen=True)
class CustomersPage:
    """lists/customers.html"""

    search: CustomerSearch
    title: str = "What have you of mine?"


@dataclass(frozen=True)
class CustomerPage:
    """lists/customer.html"""

    account: CustomerAccount

    @property
    def title(self) -> str:
        """The customer's name and code."""
        customer = self.account.customer
        return f"{customer.name} ({customer.key})" if customer.name else customer.key


@dataclass(frozen=True)
class LinesPage:
    """lists/lines.html; `asked` are the filter's arguments, for the link to the file."""

    lines: OpenLines
    asked: Mapping[str, str]
    title: str = "Open core lines"


@dataclass(frozen=True)
class LinePage:
    """lists/line.html; `typed` keeps a form that was not stored, `problems` say why."""

    view: LineView
    is_owner: bool
    typed: Mapping[str, str] = field(default_factory=dict)
    problems: Mapping[str, str] = field(default_factory=dict)

    @property
    def title(self) -> str:
        """Which line, whose."""
        return f"Core line {self.view.line.key}, {self.view.line.customer_name}"


@dataclass(frozen=True)
class CoresPage:
    """lists/cores.html: the cores in one state; `intro` says what is to be done with them."""

    title: str
    intro: str
    none: str
    here: CoresHere
    customer: str


@dataclass(frozen=True)
class CorePage:
    """lists/core.html; `typed` keeps a form that was not stored, `problems` say why."""

    item: CoreToSettle
    is_owner: bool
    typed: Mapping[str, str] = field(default_factory=dict)
    problems: Mapping[str, str] = field(default_factory=dict)

    @property
    def title(self) -> str:
        """The core's tag."""
        return f"Core {show_tag(self.item.core.tag)}"


@dataclass(frozen=True)
class DeliveriesPage:
    """lists/deliveries.html; `problem` says what is wrong with the day that was asked for."""

    deliveries: Deliveries
    typed_day: str
    problem: str = ""
    title: str = "Deliveries"


@dataclass(frozen=True)
class CreditsPage:
    """lists/credits.html; `unticked` are customers left out on a form that was not stored.

    `refused` counts refused cores of these days whose notices can be printed, `refused_customers`
    whose they are.
    """

    waiting: CreditsWaiting
    typed_day: str
    refused: int
    refused_customers: int
    unticked: frozenset[str] = frozenset()
    problem: str = ""
    title: str = "Credits to release"


@dataclass(frozen=True)
class ReleasedPage:
    """lists/released.html: the notes of one release; `names` are customers by code."""

    notes: tuple[CreditNote, ...]
    names: Mapping[str, str]
    currency: str
    papers: Mapping[str, str]
    title: str = "Credit notes"

    @property
    def total(self) -> int:
        """What the notes come to together."""
        return sum(note.total for note in self.notes)
