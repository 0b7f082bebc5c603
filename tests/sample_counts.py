"""Lines, cores and their counts for the second opinion on the invented shop."""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import date, datetime
from fractions import Fraction

from sample_rules import UNIT, money

PARTS = (
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


@dataclass
class Line:
    sold: date
    invoice: str
    customer: str
    group: str
    number: str
    quantity: int
    charge: Fraction
    window: int
    accepted: int = 0


@dataclass
class Core:
    serial: str
    number: str
    source: str
    received: date
    lot: str = ""
    family: str = ""
    outcome: str = ""
    state: str = "waiting"
    reworked: bool = False
    source_lost: bool = False
    inspector: str = ""
    money: dict[str, int] = field(default_factory=lambda: dict.fromkeys(PARTS, 0))
    looks: list[tuple[datetime, str, str, str]] = field(default_factory=list)
    work: list[tuple[datetime, str, str]] = field(default_factory=list)
    reasons: tuple[str, ...] = ()

    @property
    def counted(self) -> bool:
        """Whether the core belongs to its family's stream."""
        return self.outcome in ("accept", "part credit", "bought") and bool(self.family)

    @property
    def decided(self) -> bool:
        return self.state in ("keep", "scrap")


@dataclass
class Figures:
    """Counts and costs of one group of cores; costs are those of decided cores."""

    received: int = 0
    decided: int = 0
    kept_first_pass: int = 0
    kept_after_rework: int = 0
    scrapped: int = 0
    undecided: int = 0
    refused: int = 0
    excess: int = 0
    source_lost: int = 0
    costs: dict[str, int] = field(default_factory=lambda: dict.fromkeys(PARTS, 0))

    @property
    def good(self) -> int:
        return self.kept_first_pass + self.kept_after_rework

    @property
    def open(self) -> int:
        return self.received - self.decided

    @property
    def first_pass_yield(self) -> Fraction | None:
        return Fraction(self.kept_first_pass, self.decided) if self.decided else None

    @property
    def body_yield(self) -> Fraction | None:
        return Fraction(self.good, self.decided) if self.decided else None

    @property
    def net_cost(self) -> int:
        return sum(self.costs.values()) - 2 * self.costs["recovery"]

    @property
    def cost_per_good_body(self) -> int | None:
        """Ten-thousandths, rounded half-up; `None` while no body is good."""
        return money(Fraction(self.net_cost, self.good * UNIT)) if self.good else None

    def add(self, core: Core) -> None:
        self.refused += core.outcome == "refuse"
        self.excess += core.outcome == "excess"
        if not core.counted:
            return
        self.received += 1
        self.source_lost += core.source_lost
        self.undecided += core.state == "undecided"
        if not core.decided:
            return
        self.decided += 1
        self.scrapped += core.state == "scrap"
        self.kept_first_pass += core.state == "keep" and not core.reworked
        self.kept_after_rework += core.state == "keep" and core.reworked
        for part in PARTS:
            self.costs[part] += core.money[part]
