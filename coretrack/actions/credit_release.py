"""Credits leave the house: one credit note a customer, each core on one note, once."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime
from hashlib import sha256
from typing import Any

from coretrack.actions.acting import Changed, act_once
from coretrack.actions.cores_here import arithmetic_of
from coretrack.actions.desk_day import DeskDay, desk_day
from coretrack.actions.line_words import settled_words
from coretrack.errors import InvalidInput
from coretrack.figures.credits import CreditLine, CreditResult
from coretrack.figures.history import canonical
from coretrack.figures.lifecycle import CoreFacts
from coretrack.figures.money import Money
from coretrack.figures.plain_words import counted
from coretrack.figures.trade_objects import CreditNote, Line, Lot
from coretrack.records import list_queries, queries
from coretrack.records.database import connection
from coretrack.records.happenings import Happened, last_of_each
from coretrack.records.writer import Writer

COUNTER = "credit notes"


@dataclass(frozen=True)
class CreditDays:
    """Credits judged on `day`, or with `upto` all of them until that day, it included."""

    day: date
    upto: bool = False

    def holds(self, judged: date) -> bool:
        """Return whether a credit judged on that day is meant."""
        return judged <= self.day if self.upto else judged == self.day


@dataclass(frozen=True)
class CreditCore:
    """A core whose credit waits; `settles` says what its charge mode makes of the money."""

    tag: str
    number: str
    family: str
    delivery: str
    invoice: str
    outcome: str
    judged_on: str
    mode: str
    charge: Money
    credit: Money
    settles: str
    state: str


@dataclass(frozen=True)
class CustomerCredits:
    """What waits for one customer; the credits add up to `total`.

    `modes` are the sums by charge mode. `differences` are deliveries among these whose count does
    not agree yet: their credits are released all the same. `seen` goes back with the form.
    """

    customer: str
    name: str
    cores: tuple[CreditCore, ...]
    total: Money
    modes: tuple[tuple[str, int, Money], ...]
    differences: tuple[str, ...]
    seen: str


@dataclass(frozen=True)
class CreditsWaiting:
    """Credits of some days: by customer what can leave now, and what waits for teardown.

    `elsewhere` counts credits of other days, with their money; `released` are the notes made on
    this day already.
    """

    days: CreditDays
    customers: tuple[CustomerCredits, ...]
    cores: int
    total: Money
    teardown: tuple[CustomerCredits, ...]
    teardown_cores: int
    teardown_total: Money
    elsewhere: int
    elsewhere_money: Money
    released: tuple[CreditNote, ...]
    names: Mapping[str, str]
    currency: str
    today: str


@dataclass(frozen=True)
class Released:
    """The notes of one release; `said` is the sentence for the person."""

    notes: tuple[str, ...]
    said: str


@dataclass(frozen=True)
class _Credit:
    """A waiting credit with the customer it belongs to and whether teardown has to come first."""

    customer: str
    shown: CreditCore
    before_teardown: bool


def note_number(number: int) -> str:
    """Return the number of the `number`-th credit note as it is printed."""
    return f"CN-{number:06d}"


def credits_waiting(days: CreditDays, now: datetime) -> CreditsWaiting:
    """Return the credits of some days that have not left the house."""
    with connection():
        desk = desk_day(now)
        every = _waiting(desk)
        released = list_queries.credit_notes_on(days.day.isoformat())
        meant = [each for each in every if days.holds(_day(each))]
        ready = _by_customer([each for each in meant if not each.before_teardown], desk)
        later = _by_customer([each for each in meant if each.before_teardown], desk)
    total, teardown = sum(one.total for one in ready), sum(one.total for one in later)
    return CreditsWaiting(
        days=days,
        customers=ready,
        cores=sum(len(one.cores) for one in ready),
        total=total,
        teardown=later,
        teardown_cores=sum(len(one.cores) for one in later),
        teardown_total=teardown,
        elsewhere=len(every) - len(meant),
        elsewhere_money=sum(each.shown.credit for each in every) - total - teardown,
        released=tuple(released),
        names={note.customer: desk.name(note.customer) for note in released},
        currency=desk.shop.currency,
        today=desk.today.isoformat(),
    )


def waiting_of(
    customer: str, desk: DeskDay
) -> tuple[CustomerCredits | None, CustomerCredits | None]:
    """Return what of one customer can leave now, and what waits for teardown; `None` for nothing.

    Inside the caller's connection.
    """
    every = _waiting(desk, customer)
    ready = _by_customer([each for each in every if not each.before_teardown], desk)
    later = _by_customer([each for each in every if each.before_teardown], desk)
    return next(iter(ready), None), next(iter(later), None)


def _day(credit: _Credit) -> date:
    return date.fromisoformat(credit.shown.judged_on)


def _waiting(desk: DeskDay, customer: str = "") -> list[_Credit]:
    """Return every waiting credit, in the order the cores came in."""
    cores = list_queries.credits_waiting(customer)
    lines = list_queries.lines_with_keys(core.line for core in cores)
    judged = last_of_each("core", [core.tag for core in cores], ("accepted",))
    late = {family.key for family in queries.families() if family.credit_when == "teardown"}
    found = []
    for core in cores:
        line = lines.get(core.line)
        found.append(
            _Credit(
                line.customer if line else core.source,
                _shown(core, line, judged[core.tag], desk),
                # The first verdict is the teardown's: until then nobody has seen the inside.
                core.family in late and not core.first_grade,
            )
        )
    return found


def _shown(core: CoreFacts, line: Line | None, judged: Happened, desk: DeskDay) -> CreditCore:
    settles = ""
    if line is not None:
        result = CreditResult(core.acceptance, core.credit, sums_of(judged.detail))
        settles = settled_words(line, result, desk.shop.currency)
    return CreditCore(
        tag=core.tag,
        number=core.number,
        family=core.family,
        delivery=core.lot,
        invoice=line.invoice if line else "",
        outcome=core.acceptance,
        judged_on=desk.day_of(judged.at).isoformat(),
        mode=line.mode if line else "",
        charge=line.charge if line else core.credit,
        credit=core.credit,
        settles=settles,
        state=core.state,
    )


def sums_of(detail: Mapping[str, Any]) -> tuple[CreditLine, ...]:
    """Return the lines of the dock's arithmetic as they were stored with the judgement."""
    return tuple(CreditLine(text, amount) for text, amount in arithmetic_of(detail))


def _by_customer(credits: Iterable[_Credit], desk: DeskDay) -> tuple[CustomerCredits, ...]:
    groups: dict[str, list[CreditCore]] = {}
    for credit in credits:
        groups.setdefault(credit.customer, []).append(credit.shown)
    lots = list_queries.lots_with_keys(core.delivery for cores in groups.values() for core in cores)
    found = [_customer_credits(code, cores, lots, desk) for code, cores in groups.items()]
    return tuple(sorted(found, key=lambda one: (one.name.casefold(), one.customer)))


def _customer_credits(
    code: str, cores: Sequence[CreditCore], lots: Mapping[str, Lot], desk: DeskDay
) -> CustomerCredits:
    modes: dict[str, list[Money]] = {}
    for core in cores:
        modes.setdefault(core.mode, []).append(core.credit)
    parted = {core.delivery for core in cores if core.delivery in lots}
    return CustomerCredits(
        customer=code,
        name=desk.name(code),
        cores=tuple(cores),
        total=sum(core.credit for core in cores),
        modes=tuple((mode, len(money), sum(money)) for mode, money in sorted(modes.items())),
        differences=tuple(sorted(key for key in parted if lots[key].status == "difference")),
        seen=_fingerprint(cores),
    )


def _fingerprint(cores: Sequence[CreditCore]) -> str:
    """Return what tells one set of credits from another: whoever releases saw exactly these."""
    told = canonical(sorted([core.tag, core.credit] for core in cores))
    return sha256(told.encode()).hexdigest()[:16]


def release_credits(
    ticked: Mapping[str, str],
    days: CreditDays,
    *,
    by: str,
    station: str,
    now: datetime,
    key: str,
) -> Released:
    """Release the credits of the ticked customers: one credit note each, its cores marked with it.

    `ticked` holds, by customer, the `seen` of what the page showed. Changed (a Conflict) when
    that is not what waits now; InvalidInput when nobody is ticked. The same `key` again makes no
    second note and answers the same.
    """
    if not ticked:
        raise InvalidInput("Tick at least one customer.", {"customer": "tick at least one"})

    def act(writer: Writer) -> dict[str, Any]:
        # Of two people who press at once the second comes here after the first (see act_once).
        desk = desk_day(now)
        meant = [e for e in _waiting(desk) if days.holds(_day(e)) and not e.before_teardown]
        waiting = {one.customer: one for one in _by_customer(meant, desk)}
        _refuse_changed(ticked, waiting, desk)
        wanted = [one for code, one in waiting.items() if code in ticked]
        notes = [_release(writer, one, desk) for one in wanted]
        return {"notes": notes, "said": _said(wanted, notes)}

    answer = act_once("release credits", key, act, by=by, station=station, now=now)
    return Released(tuple(answer["notes"]), str(answer["said"]))


def _refuse_changed(
    ticked: Mapping[str, str], waiting: Mapping[str, CustomerCredits], desk: DeskDay
) -> None:
    changed = [
        code for code, seen in ticked.items() if code not in waiting or waiting[code].seen != seen
    ]
    if not changed:
        return
    names = ", ".join(desk.name(code) for code in changed)
    gone = [code for code in changed if code not in waiting]
    why = "released or taken back by somebody else" if gone else "changed by somebody else"
    raise Changed(
        f"Meanwhile the credits of {names} were {why}. Nothing was released; look at what waits"
        " now and press again."
    )


def _release(writer: Writer, one: CustomerCredits, desk: DeskDay) -> str:
    number = note_number(writer.next_number(COUNTER))
    tags = [core.tag for core in one.cores]
    writer.event(
        "credit note",
        number,
        "set",
        {
            "key": number,
            "customer": one.customer,
            "day": desk.today.isoformat(),
            "tags": tags,
            "total": one.total,
        },
    )
    for tag in tags:
        writer.event("core", tag, "credit released", {"note": number})
    return number


def _said(wanted: Sequence[CustomerCredits], notes: Sequence[str]) -> str:
    cores = counted(sum(len(one.cores) for one in wanted), "core")
    made = notes[0] if len(notes) == 1 else f"{notes[0]} to {notes[-1]}"
    return f"{counted(len(notes), 'credit note')} made ({made}) for {cores}."
