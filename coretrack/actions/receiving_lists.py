"""The clerk's lists: what waits at the desk, what the shop has of a customer, the deliveries."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date, datetime

from coretrack.actions.cores_here import CoreHere, shown_cores
from coretrack.actions.credit_release import CustomerCredits, waiting_of
from coretrack.actions.desk_day import DeskDay, days_since, desk_day
from coretrack.actions.open_lines import OwedLine, owed_line, past_due
from coretrack.actions.receiving import RETURNING
from coretrack.errors import NotFound
from coretrack.figures.core_story import state_shown
from coretrack.figures.lifecycle import CoreFacts
from coretrack.figures.money import Money
from coretrack.figures.plain_words import counted
from coretrack.figures.scans import read_scan
from coretrack.figures.tags import show_tag
from coretrack.figures.trade_objects import CreditNote, Lot, Source
from coretrack.records import list_queries, queries
from coretrack.records.database import connection

THEIRS = ("counted", "unknown", "hold", "excess", "comeback")
"""States in which a core in the house is still the customer's."""

AT_WORK = ("waiting", "open", "undecided", "rework", "reinspect")
"""States in which a core is the shop's and not decided yet."""

MOST_CUSTOMERS = 100
MOST_LINES = 12
MOST_THEIRS = 50
LAST_DELIVERIES = 12
LAST_NOTES = 12


@dataclass(frozen=True)
class DeskCounts:
    """How much waits at the desk. Money is charge money owed, and credit ready to be released.

    `past_due` counts lines, `hold_over` refused cores whose last day is over. `credits_waiting`
    and its money leave out `credits_teardown`, which wait for the bench first.
    """

    open_lines: int
    units_owed: int
    money_owed: Money
    past_due: int
    hold: int
    hold_over: int
    unknown: int
    excess: int
    comebacks: int
    deliveries_open: int
    deliveries_difference: int
    deliveries_today: int
    credits_waiting: int
    credits_money: Money
    credits_teardown: int
    currency: str
    today: str


@dataclass(frozen=True)
class CustomerFound:
    """A customer that a search found; `why` says by what when it is not the name or code."""

    code: str
    name: str
    kind: str
    why: str = ""


@dataclass(frozen=True)
class CustomerSearch:
    """What a search found; `only` is the code when it is exactly one customer."""

    text: str
    found: tuple[CustomerFound, ...]
    more: int = 0

    @property
    def only(self) -> str:
        """The one customer it must be, empty when there are none or several."""
        return self.found[0].code if self.text and len(self.found) == 1 else ""


@dataclass(frozen=True)
class InState:
    """Cores of a customer in one state: how many, since how many days the oldest of them."""

    state: str
    words: str
    chip: str
    cores: int
    oldest_days: int
    is_theirs: bool


@dataclass(frozen=True)
class DeliveryLine:
    """A delivery in a list. `counted` is 0 when nobody counted (it came in by file).

    `difference` is counted less stored, `None` while not counted.
    """

    code: str
    status: str
    customer: str
    customer_name: str
    reference: str
    carrier: str
    arrived_on: str
    received_on: str
    counted: int
    taken: int
    judged: int
    held: int
    difference: int | None
    difference_by: str
    note: str

    @property
    def has_receipt(self) -> bool:
        """Whether a receipt can be printed."""
        return bool(self.counted or self.taken)

    @property
    def agrees(self) -> str:
        """What the count and the cores stored say to each other, in words."""
        if self.difference is None:
            return "not counted"
        if not self.difference:
            return "agrees"
        if self.difference > 0:
            return f"{counted(self.difference, 'piece')} not stored"
        return f"{counted(-self.difference, 'core')} more than counted"


@dataclass(frozen=True)
class CustomerAccount:
    """Everything the desk knows of one customer, on one page.

    `owed` counts units of all open lines (`lines` shows the oldest MOST_LINES), `theirs` are cores
    in the house that are still the customer's. `waiting` are credits ready to leave, `teardown`
    those that wait for the bench.
    """

    customer: Source
    lines: tuple[OwedLine, ...]
    line_count: int
    owed: int
    money_owed: Money
    past_due: int
    states: tuple[InState, ...]
    theirs: tuple[CoreHere, ...]
    theirs_count: int
    deliveries: tuple[DeliveryLine, ...]
    waiting: CustomerCredits | None
    teardown: CustomerCredits | None
    notes: tuple[CreditNote, ...]
    currency: str
    today: str


@dataclass(frozen=True)
class Deliveries:
    """The deliveries of one day, and all that are open or have a difference."""

    day: str
    today: str
    of_day: tuple[DeliveryLine, ...]
    open: tuple[DeliveryLine, ...]
    difference: tuple[DeliveryLine, ...]


def today(now: datetime) -> date:
    """Return the shop's day at `now`."""
    with connection():
        return desk_day(now).today


def desk_counts(now: datetime) -> DeskCounts:
    """Return how much waits at the desk now."""
    with connection():
        desk = desk_day(now)
        day = desk.today.isoformat()
        days = list_queries.open_line_days()
        states = list_queries.cores_per_state(("hold", "unknown", "excess", "comeback"))
        is_open, difference, came = list_queries.count_deliveries(day)
        credits = list_queries.credit_totals()
        over = list_queries.held_past(day)
    return DeskCounts(
        open_lines=sum(day.lines for day in days),
        units_owed=sum(day.units for day in days),
        money_owed=sum(day.money for day in days),
        past_due=past_due(days, desk.today),
        hold=states.get("hold", 0),
        hold_over=over,
        unknown=states.get("unknown", 0),
        excess=states.get("excess", 0),
        comebacks=states.get("comeback", 0),
        deliveries_open=is_open,
        deliveries_difference=difference,
        deliveries_today=came,
        credits_waiting=credits.cores - credits.teardown,
        credits_money=credits.money - credits.teardown_money,
        credits_teardown=credits.teardown,
        currency=desk.shop.currency,
        today=day,
    )


def find_customers(text: str) -> CustomerSearch:
    """Return the customers that `text` may mean: by any part of name or code, else by a core.

    A tag, serial, invoice, delivery, credit note or customer's own paper leads to its customer.
    An empty text finds all.
    """
    bare = " ".join(text.split())
    words = bare.casefold().split()
    with connection():
        known = {each.key: each for each in queries.sources() if each.kind in RETURNING}
        named = [
            CustomerFound(each.key, each.name, each.kind)
            for each in known.values()
            if all(word in f"{each.key} {each.name}".casefold() for word in words)
        ]
        exact = [
            each
            for each in named
            if bare.casefold() in (each.code.casefold(), each.name.casefold())
        ]
        found = exact if len(exact) == 1 else named
        if bare and not found:
            found = [
                CustomerFound(code, known[code].name, known[code].kind, why)
                for code, why in _by_thing(bare).items()
                if code in known
            ]
    found = sorted(found, key=lambda each: (each.name.casefold(), each.code))
    return CustomerSearch(bare, tuple(found[:MOST_CUSTOMERS]), max(0, len(found) - MOST_CUSTOMERS))


def _by_thing(text: str) -> dict[str, str]:
    """Return the customers to whom a tag, serial or paper leads, and what it is."""
    found: dict[str, str] = {}
    for core in _cores_called(text):
        lot = queries.lot(core.lot) if core.lot else None
        named = f"core {show_tag(core.tag)}" + (f", serial {core.serial}" if core.serial else "")
        found.setdefault(lot.source if lot else core.source, named)
    for paper in dict.fromkeys([text, *queries.papers(text)]):
        for line in queries.lines_of_paper(paper):
            found.setdefault(line.customer, f"invoice {line.invoice}")
    for lot in list_queries.deliveries_called(text):
        paper = f", their paper {lot.reference}" if lot.reference else ""
        found.setdefault(lot.source, f"delivery {lot.key}{paper}")
    note = list_queries.credit_note(text.upper())
    if note is not None:
        found.setdefault(note.customer, f"credit note {note.key}")
    return found


def _cores_called(text: str) -> list[CoreFacts]:
    """Return the cores with this tag or serial; blanks and dashes in a serial do not count."""
    tag = read_scan(text).tag
    core = queries.core(tag) if tag else None
    if core is not None:
        return [core]
    loose = text.replace("-", "").replace(" ", "")
    return (
        queries.cores_with_serial(text)
        or queries.cores_with_loose_serials([loose]).get(loose, [])[::-1]
    )


def customer_account(code: str, now: datetime) -> CustomerAccount:
    """Return everything the desk knows of a customer; NotFound when there is none of this code."""
    with connection():
        desk = desk_day(now)
        customer = desk.sources.get(code)
        if customer is None:
            raise NotFound(f"There is no customer with the code '{code}'.")
        lines = [owed_line(line, desk) for line in queries.open_lines(code)]
        here = list_queries.cores_in((*THEIRS, *AT_WORK), code)
        theirs = [core for core in here if core.state in THEIRS]
        ready, teardown = waiting_of(code, desk)
        return CustomerAccount(
            customer=customer,
            lines=tuple(lines[:MOST_LINES]),
            line_count=len(lines),
            owed=sum(line.owed for line in lines),
            money_owed=sum(line.money for line in lines),
            past_due=sum(line.standing.past for line in lines),
            states=tuple(_states(here, desk)),
            theirs=tuple(shown_cores(theirs[-MOST_THEIRS:][::-1], desk)),
            theirs_count=len(theirs),
            deliveries=_delivery_lines(list_queries.deliveries_of(code, LAST_DELIVERIES), desk),
            waiting=ready,
            teardown=teardown,
            notes=tuple(list_queries.credit_notes_of(code, LAST_NOTES)),
            currency=desk.shop.currency,
            today=desk.today.isoformat(),
        )


def _states(cores: Sequence[CoreFacts], desk: DeskDay) -> list[InState]:
    found = []
    for state in (*THEIRS, *AT_WORK):
        mine = [core for core in cores if core.state == state]
        if mine:
            shown = state_shown(mine[0])
            oldest = max(days_since(core.received_on, desk.today) for core in mine)
            found.append(
                InState(state, shown.words, shown.chip, len(mine), oldest, state in THEIRS)
            )
    return found


def deliveries_on(day: date | None, now: datetime) -> Deliveries:
    """Return the deliveries of a day (today when none is told), and those not settled yet."""
    with connection():
        desk = desk_day(now)
        wanted = (day or desk.today).isoformat()
        return Deliveries(
            wanted,
            desk.today.isoformat(),
            _delivery_lines(list_queries.deliveries_on(wanted), desk),
            _delivery_lines(list_queries.deliveries_with(["open"]), desk),
            _delivery_lines(list_queries.deliveries_with(["difference"]), desk),
        )


def _delivery_lines(lots: Iterable[Lot], desk: DeskDay) -> tuple[DeliveryLine, ...]:
    lots = list(lots)
    counts = list_queries.lot_counts(lot.key for lot in lots)
    return tuple(
        _delivery_line(lot, counts.get(lot.key, list_queries.LotCounts()), desk) for lot in lots
    )


def _delivery_line(lot: Lot, counts: list_queries.LotCounts, desk: DeskDay) -> DeliveryLine:
    return DeliveryLine(
        code=lot.key,
        status=lot.status or "by file",
        customer=lot.source,
        customer_name=desk.name(lot.source),
        reference=lot.reference,
        carrier=lot.carrier,
        arrived_on=lot.arrived_on or lot.received_on,
        received_on=lot.received_on,
        counted=lot.counted,
        taken=counts.taken,
        judged=counts.judged,
        held=counts.held,
        difference=lot.counted - counts.taken if lot.counted else None,
        difference_by=lot.difference_by,
        note=lot.note,
    )
