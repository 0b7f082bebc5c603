"""Core lines, lots, families, numbers, sources, rates … as plain values, and what events change.

Every class here is the present state of one kind of object. Its history is a chain of events;
`apply` replays them. An event named "set" gives fields new values; a core line has events of its
own because credits are counted there.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from typing import Any

from coretrack.errors import NotAllowed
from coretrack.figures.money import Money


@dataclass(frozen=True)
class Line:
    """A sale whose core is still owed. Charge, window and criteria are frozen at the sale.

    `after`: what a core is worth that arrives after the window: "nothing", "full" or "slide"
    (`slide_percent` of the charge for each completed `slide_days`, `slide_most` at most). A core
    that comes more than `nothing_after` days after the sale earns nothing (0: no such day).
    """

    key: str
    invoice: str = ""
    line: str = ""
    sold_on: str = ""
    customer: str = ""
    number: str = ""
    core_group: str = ""
    family: str = ""
    criteria_version: int = 0
    quantity: int = 0
    charge: Money = 0
    mode: str = "up front"
    window_days: int = 0
    after: str = "nothing"
    slide_percent: str = "0"
    slide_days: int = 7
    credited: int = 0
    credited_money: Money = 0
    refused: int = 0
    waived: int = 0
    forfeited: int = 0
    slide_most: str = "100"
    nothing_after: int = 0

    @property
    def owed(self) -> int:
        """Units sold whose core is still expected: not back, not waived, not forfeited."""
        return self.quantity - self.credited - self.waived - self.forfeited


@dataclass(frozen=True)
class Lot:
    """Cores that arrived together: a delivery of returns or a purchase.

    `basis` of a purchase: piece, weight or lump. `price` is per piece, per kilogram or for all;
    `price_total` and `freight` are what the shop owes for the lot. `status` is empty for what came
    in by file, else open, closed or difference (counted and judged do not agree, and
    `difference_by` looks after it). `counted` is the number told to whoever brought the cores,
    before any was judged; `arrived_on` the carrier's day, `reference` the customer's own paper.
    `sorting` holds what a purchased lot was sorted into so far, `estimate` how its pieces were
    guessed from their weight.
    """

    key: str
    kind: str = ""
    source: str = ""
    received_on: str = ""
    paper: str = ""
    basis: str = ""
    price: Money = 0
    price_total: Money = 0
    freight: Money = 0
    mass_g: int = 0
    pieces: int = 0
    bid_yield: str = ""
    status: str = ""
    counted: int = 0
    arrived_on: str = ""
    carrier: str = ""
    reference: str = ""
    note: str = ""
    difference_by: str = ""
    photos: int = 0
    sorting: tuple[Mapping[str, Any], ...] = ()
    estimate: Mapping[str, Any] = field(default_factory=dict)


@dataclass(frozen=True)
class Family:
    """A core family: one inspection plan, one weight, one set of acceptance faults and prices.

    `definition` holds the prices of the family file as plain JSON values.
    """

    key: str
    name: str = ""
    mass_g: int = 0
    metal: str = ""
    credit_when: str = "sight"
    standard_yield: str = ""
    plan_version: int = 0
    criteria_version: int = 0
    definition: Mapping[str, Any] = field(default_factory=dict)


@dataclass(frozen=True)
class PlanVersion:
    """One version of a family's plan; the key is `FAMILY/VERSION`. Never changed once stored."""

    key: str
    family: str = ""
    number: int = 0
    definition: Mapping[str, Any] = field(default_factory=dict)


@dataclass(frozen=True)
class Criteria:
    """One version of a family's acceptance faults; the key is `FAMILY/VERSION`. Never changed.

    A core line names the version in force at its sale, so that a later change cannot touch it.
    """

    key: str
    family: str = ""
    number: int = 0
    faults: tuple[Mapping[str, Any], ...] = ()


@dataclass(frozen=True)
class Number:
    """A part number as written, the key it is matched by, and the core group it belongs to."""

    key: str
    shown: str = ""
    kind: str = ""
    core_group: str = ""
    group_name: str = ""
    family: str = ""
    valid_from: str = ""
    superseded_by: str = ""


@dataclass(frozen=True)
class Source:
    """Where cores come from: customer, dealer, salvage yard, broker, own comeback."""

    key: str
    name: str = ""
    kind: str = ""


@dataclass(frozen=True)
class Rate:
    """A dated rate; the key is `ITEM@DATE`. `amount` is a decimal string in the item's own unit."""

    key: str
    item: str = ""
    valid_from: str = ""
    amount: str = ""


@dataclass(frozen=True)
class CoreCharge:
    """A dated core charge of a family; the key is `FAMILY@DATE`."""

    key: str
    family: str = ""
    valid_from: str = ""
    amount: Money = 0


@dataclass(frozen=True)
class Gauge:
    """A gauge: what it reads to, its expanded uncertainty U, and when its check falls due."""

    key: str
    name: str = ""
    kind: str = ""
    unit: str = ""
    resolution: str = ""
    uncertainty: str = ""
    due_on: str = ""
    checked_on: str = ""
    interval_days: int = 0
    out_of_use: bool = False
    note: str = ""


@dataclass(frozen=True)
class Person:
    """Someone who signs in; `role` is clerk, inspector or owner."""

    key: str
    name: str = ""
    role: str = ""
    password_hash: str = ""
    badge: int = 0
    pin_hash: str = ""
    active: bool = True


@dataclass(frozen=True)
class Shop:
    """The shop's own settings; there is one, its key is "shop"."""

    key: str
    name: str = ""
    currency: str = ""
    time_zone: str = "UTC"
    site: int = 1
    window_days: int = 30
    after: str = "nothing"
    slide_percent: str = "0"
    slide_days: int = 7
    hold_days: int = 10
    idle_minutes: int = 10
    paper_size: str = "a4"
    label_stock: str = "roll-50x25"
    sheet_stock: str = "a4-24"
    print_command: tuple[str, ...] = ()
    slide_most: str = "100"
    nothing_after: int = 0
    second_look_percent: str = "0"


@dataclass(frozen=True)
class LabelStock:
    """A stock of labels in use; `next_free` is the first free place of its half-used sheet."""

    key: str
    next_free: int = 1


@dataclass(frozen=True)
class Reason:
    """The number under which an acceptance fault is printed as a code; the key is `FAMILY/CODE`."""

    key: str
    number: int = 0
    family: str = ""
    fault: str = ""


@dataclass(frozen=True)
class Place:
    """A bin, basket or rack with a code of its own; the key is that code's text."""

    key: str
    kind: str = ""
    number: int = 0
    name: str = ""


@dataclass(frozen=True)
class CreditNote:
    """Credits that left the house together for one customer; the key is the paper's number."""

    key: str
    customer: str = ""
    day: str = ""
    tags: tuple[str, ...] = ()
    total: Money = 0


@dataclass(frozen=True)
class ImportedFile:
    """A file that was read in; the key is what was done with it and the hash of its content."""

    key: str
    name: str = ""
    action: str = ""
    answer: Mapping[str, Any] = field(default_factory=dict)


def apply_set(kind: type[Any], now: Any | None, event: str, detail: Mapping[str, Any]) -> Any:
    """Return the object of class `kind` after "set": the named fields get the given values."""
    if event != "set":
        raise NotAllowed(f"'{event}' is not something that happens to a {kind.__name__.lower()}.")
    if now is None:
        return kind(**detail)
    if detail.get("key", now.key) != now.key:
        raise NotAllowed("An object keeps its key for good.")
    return replace(now, **detail)


def apply_lot(lot: Lot | None, event: str, detail: Mapping[str, Any]) -> Lot:
    """Return the lot after "set", "photographed" (its detail names the photo's hash) or "sorted".

    "sorted" tells only the rows that changed: `changes`, one after the other, each with the place
    `at` which the rows `out` stood and the rows `into` which they were made.
    """
    if lot is None and event != "set":
        raise NotAllowed("There is no such lot.")
    if lot is not None and event == "photographed":
        return replace(lot, photos=lot.photos + 1)
    if lot is not None and event == "sorted":
        return replace(lot, sorting=_sorted(lot.sorting, detail["changes"]))
    changed: Lot = apply_set(Lot, lot, event, detail)
    return changed


def _sorted(
    rows: Sequence[Mapping[str, Any]], changes: Sequence[Mapping[str, Any]]
) -> tuple[Mapping[str, Any], ...]:
    """Return a lot's rows after changes; NotAllowed when other rows stand where one was made."""
    after = list(rows)
    for change in changes:
        start, end = change["at"], change["at"] + len(change["out"])
        if start < 0 or after[start:end] != list(change["out"]):
            raise NotAllowed("The lot was sorted meanwhile; these are not its rows any more.")
        after[start:end] = change["into"]
    return tuple(after)


PERSON_NOTES = ("shut out", "let in again")
"""What is noted of a person and changes nothing about them."""


def apply_person(person: Person | None, event: str, detail: Mapping[str, Any]) -> Person:
    """Return the person after "set", or unchanged after one of PERSON_NOTES."""
    if person is not None and event in PERSON_NOTES:
        return person
    changed: Person = apply_set(Person, person, event, detail)
    return changed


def apply_family(family: Family | None, event: str, detail: Mapping[str, Any]) -> Family:
    """Return the family after "set", or unchanged after "photographed" (a picture of its body)."""
    if family is not None and event == "photographed":
        return family
    changed: Family = apply_set(Family, family, event, detail)
    return changed


def apply_line(line: Line | None, event: str, detail: Mapping[str, Any]) -> Line:
    """Return the core line after `event`; NotAllowed when it has no unit left for it."""
    if event == "opened":
        if line is not None:
            raise NotAllowed(f"Core line {line.key} is already open.")
        return Line(**detail)
    if line is None:
        raise NotAllowed("There is no such core line.")
    if event == "credited":
        if line.owed < 1:
            raise NotAllowed(
                f"Line {line.key}: {line.quantity} sold and {_settled(line)}; "
                "one core per unit sold."
            )
        return replace(
            line,
            credited=line.credited + 1,
            credited_money=line.credited_money + detail["credit"],
        )
    if event == "uncredited":
        if line.credited < 1:
            raise NotAllowed(f"Line {line.key} has no credit to take back.")
        return replace(
            line,
            credited=line.credited - 1,
            credited_money=line.credited_money - detail["credit"],
        )
    if event == "refused":
        return replace(line, refused=line.refused + 1)
    if event == "unrefused":
        if line.refused < 1:
            raise NotAllowed(f"Line {line.key} has no refusal to take back.")
        return replace(line, refused=line.refused - 1)
    if event in ("waived", "forfeited"):
        if not 1 <= detail["units"] <= line.owed:
            raise NotAllowed(
                f"Line {line.key} still expects {line.owed}; {detail['units']} cannot be {event}."
            )
        return replace(line, **{event: getattr(line, event) + detail["units"]})
    raise NotAllowed(f"'{event}' is not something that happens to a core line.")


def _settled(line: Line) -> str:
    """Return what became of the units that no core is expected for any more."""
    others = [
        f"{count} {what}"
        for count, what in ((line.waived, "waived"), (line.forfeited, "forfeited"))
        if count
    ]
    return ", ".join([f"{line.credited} already credited", *others])
