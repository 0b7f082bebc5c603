"""Cores in the house that the shop does not own or cannot use yet, as the lists show them.

Refused cores in the hold bin, excess cores, unknown cores, and comebacks that wait for their test.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime
from typing import Any

from coretrack.actions.desk_day import DeskDay, days_since, desk_day
from coretrack.errors import NotFound
from coretrack.figures.core_story import StateShown, notes_told, state_shown
from coretrack.figures.lifecycle import CoreFacts
from coretrack.figures.money import Money
from coretrack.figures.plain_words import counted
from coretrack.figures.trade_objects import Place
from coretrack.records import core_queries, list_queries, photos, queries
from coretrack.records.database import connection
from coretrack.records.happenings import Happened, first_of_each, history, last_of_each
from coretrack.records.photos import StoredPhoto

LISTED = ("hold", "excess", "unknown", "comeback")
"""States that have a list of their own."""

MOST_PICTURES = 3
"""Photos of one core in a list; its own page shows all."""


@dataclass(frozen=True)
class HoldDay:
    """Until when a refused core is kept, in words; `tone` is good, wait, ask or stop.

    `left` counts to the last day, which is inside: from below zero on it may be cleared out. It is
    `None` for a core that was refused before such days were noted.
    """

    words: str
    tone: str
    left: int | None

    @property
    def over(self) -> bool:
        """Whether the last day is over."""
        return self.left is not None and self.left < 0


@dataclass(frozen=True)
class CoreHere:
    """One core of a list. `customer` sent it; `why` is what it was refused or kept back for.

    `since` is the day it came in, `mass_g` 0 when it was not weighed, `pictures` its first photos.
    """

    tag: str
    state: str
    stream: str
    number: str
    family: str
    serial: str
    customer: str
    customer_name: str
    delivery: str
    since: str
    age_days: int
    why: str
    hold_until: str
    hold: HoldDay
    place: str
    photos: int
    pictures: tuple[int, ...]
    mass_g: int
    note: str


@dataclass(frozen=True)
class FollowUp:
    """A customer whose refused cores lie here: how many, and the first day that ends.

    `deliveries` are those whose notice of refusal can be printed.
    """

    customer: str
    name: str
    cores: int
    first_day: str
    over: int
    deliveries: tuple[str, ...]


@dataclass(frozen=True)
class CoresHere:
    """The cores in one state; those in the hold bin whose day is over first, else the oldest."""

    state: str
    cores: tuple[CoreHere, ...]
    follow_up: tuple[FollowUp, ...]
    over: int
    today: str


@dataclass(frozen=True)
class CoreToSettle:
    """One core with all that a decision about it needs; `version` goes back with the form.

    `sums` are the lines of the dock's arithmetic as it was judged, `bins` where it can be put.
    """

    core: CoreHere
    state: StateShown
    sums: tuple[tuple[str, Money], ...]
    all_photos: tuple[StoredPhoto, ...]
    bins: tuple[Place, ...]
    version: int
    currency: str
    hold_days: int

    @property
    def can_leave(self) -> bool:
        """Whether it can be sent back."""
        return self.core.state in ("hold", "excess", "comeback")

    @property
    def can_be_bought(self) -> bool:
        """Whether the shop can buy it."""
        return self.core.state in ("hold", "excess")


def hold_day(hold_until: str, today: date) -> HoldDay:
    """Return how long a refused core is still kept; the last day itself is inside."""
    if not hold_until:
        return HoldDay("no last day was noted", "ask", None)
    left = (date.fromisoformat(hold_until) - today).days
    if left < 0:
        return HoldDay(f"over by {counted(-left, 'day')}", "stop", left)
    if left == 0:
        return HoldDay("today is the last day", "ask", 0)
    return HoldDay(f"{counted(left, 'day')} left", "wait", left)


def cores_here(state: str, now: datetime, customer: str = "") -> CoresHere:
    """Return the cores in one of the LISTED states, all or those a customer sent."""
    with connection():
        desk = desk_day(now)
        cores = shown_cores(list_queries.cores_in([state], customer), desk, pictures=True)
    cores.sort(key=_order)
    over = sum(core.hold.over for core in cores)
    follow_up = tuple(_follow_up(cores)) if state == "hold" else ()
    return CoresHere(state, tuple(cores), follow_up, over, desk.today.isoformat())


def _order(core: CoreHere) -> tuple[str, str, str]:
    """Sort refused cores by their last day, those without one first; others by their age."""
    return (core.hold_until if core.state == "hold" else "", core.since, core.tag)


def _follow_up(cores: Sequence[CoreHere]) -> list[FollowUp]:
    """Return whom to ask about refused cores, the first day that ends first."""
    by_customer: dict[str, list[CoreHere]] = {}
    for core in cores:
        by_customer.setdefault(core.customer, []).append(core)
    found = [
        FollowUp(
            code,
            mine[0].customer_name,
            len(mine),
            min((core.hold_until for core in mine if core.hold_until), default=""),
            sum(core.hold.over for core in mine),
            tuple(sorted({core.delivery for core in mine if core.hold_until})),
        )
        for code, mine in by_customer.items()
    ]
    return sorted(found, key=lambda each: (each.first_day, each.customer))


def shown_cores(
    cores: Sequence[CoreFacts], desk: DeskDay, *, pictures: bool = False
) -> list[CoreHere]:
    """Return cores as the lists show them, inside the caller's connection, in the same order."""
    tags = [core.tag for core in cores]
    came = first_of_each("core", tags)
    judged = last_of_each("core", tags, ("accepted", "held"))
    lots = list_queries.lots_with_keys(core.lot for core in cores)
    places = {place.key: place.name for place in core_queries.places()}
    return [
        _shown(
            core,
            desk,
            came[core.tag].detail,
            judged.get(core.tag),
            lots[core.lot].source if core.lot in lots else core.source,
            places.get(core.place, core.place),
            photos.photos_of("core", core.tag) if pictures and core.photos else [],
        )
        for core in cores
    ]


def _shown(
    core: CoreFacts,
    desk: DeskDay,
    came: Mapping[str, Any],
    judged: Happened | None,
    customer: str,
    place: str,
    pictures: Sequence[StoredPhoto],
) -> CoreHere:
    return CoreHere(
        tag=core.tag,
        state=core.state,
        stream=core.stream,
        number=core.number,
        family=core.family,
        serial=core.serial,
        customer=customer,
        customer_name=desk.name(customer),
        delivery=core.lot,
        since=core.received_on,
        age_days=days_since(core.received_on, desk.today),
        why=judged.why if judged else "",
        hold_until=core.hold_until,
        hold=hold_day(core.hold_until, desk.today),
        place=place,
        photos=core.photos,
        pictures=tuple(photo.id for photo in pictures[:MOST_PICTURES]),
        mass_g=int(came.get("mass_g") or 0),
        note=notes_told(came, judged.detail if judged else {}),
    )


def core_to_settle(tag: str, now: datetime) -> CoreToSettle:
    """Return one core with what a decision about it needs; NotFound when there is none."""
    with connection():
        desk = desk_day(now)
        facts = queries.core(tag)
        if facts is None:
            raise NotFound(f"There is no core with tag '{tag}'.")
        events = history("core", tag)
        (core,) = shown_cores([facts], desk, pictures=True)
        judged = [each for each in events if each.event == "accepted"]
        return CoreToSettle(
            core=core,
            state=state_shown(facts),
            sums=arithmetic_of(judged[-1].detail) if judged else (),
            all_photos=tuple(photos.photos_of("core", tag)),
            bins=tuple(place for place in core_queries.places() if place.kind == "bin"),
            version=len(events),
            currency=desk.shop.currency,
            hold_days=desk.shop.hold_days,
        )


def arithmetic_of(detail: Mapping[str, Any]) -> tuple[tuple[str, Money], ...]:
    """Return the lines of a dock's judgement as they were stored with it."""
    return tuple((text, amount) for text, amount in detail.get("arithmetic", ()))
