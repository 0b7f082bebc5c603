"""What the wash pages show: the baskets in use, one basket's slot map, its card."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime

from coretrack.actions.desk_day import desk_day, the_desk
from coretrack.actions.printing import PrintedFile
from coretrack.actions.wash_runs import UNDER_WAY, hand_of
from coretrack.errors import NotFound
from coretrack.figures.bench_objects import Wash
from coretrack.figures.core_story import StateShown, state_shown
from coretrack.figures.lifecycle import CoreFacts
from coretrack.figures.tags import show_tag
from coretrack.figures.trade_objects import Place
from coretrack.figures.wash_slots import family_counts, in_order, next_slot
from coretrack.figures.wording import WASH_LINE, WASH_SAFETY
from coretrack.paper.file_names import safe_file_name
from coretrack.paper.traveller import Traveller, TravellerSlot, traveller_pdf
from coretrack.records import happenings, queries, shelf_queries
from coretrack.records.database import connection

LAST_SHOWN = 10

_STATUS = {
    "loading": StateShown("being loaded", "wait"),
    "washing": StateShown("in the wash", "wait"),
    "done": StateShown("washed", "good"),
    "tipped": StateShown("tipped: sources lost", "stop"),
    "given up": StateShown("given up", "stop"),
}


@dataclass(frozen=True)
class WashShown:
    """One wash in a list: `since` is when it began, by the shop's clock."""

    code: str
    name: str
    status: StateShown
    count: int
    since: str
    by: str


@dataclass(frozen=True)
class Basket:
    """A basket of the shop; `wash` is the one under way in it, empty while it is free."""

    code: str
    name: str
    wash: str


@dataclass(frozen=True)
class WashesView:
    """The page of all baskets."""

    under_way: tuple[WashShown, ...]
    baskets: tuple[Basket, ...]
    last: tuple[WashShown, ...]
    caution: str


@dataclass(frozen=True)
class SlotShown:
    """One core of a slot map."""

    slot: int
    tag: str
    number: str
    family: str
    serial: str
    metal_tag: int
    state: StateShown
    source_lost: bool


@dataclass(frozen=True)
class FamilyCount:
    """How many cores of a family lie in a basket."""

    family: str
    name: str
    count: int


@dataclass(frozen=True)
class WashView:
    """One wash. `tags` are in slot order, as the labels after the wash have to be.

    `next_slot` is where the next scanned core goes; `counting` says that this person was asked for
    the count; `counted` is what was confirmed last.
    """

    code: str
    basket: str
    name: str
    status: str
    status_shown: StateShown
    slots: tuple[SlotShown, ...]
    families: tuple[FamilyCount, ...]
    tags: tuple[str, ...]
    next_slot: int
    counting: bool
    undo: str
    counted: int
    since: str
    by: str
    note: str
    caution: str
    caution_line: str = WASH_LINE

    @property
    def under_way(self) -> bool:
        """Whether the basket is in use."""
        return self.status in UNDER_WAY


def washes_view() -> WashesView:
    """Return the baskets in use, the free ones and the last washes."""
    with connection():
        under_way = shelf_queries.washes_under_way()
        places = shelf_queries.places_of("basket")
        names = {place.key: place.name for place in places}
        busy = {wash.basket: wash.key for wash in under_way}
        return WashesView(
            tuple(_shown(wash, names) for wash in under_way),
            tuple(Basket(place.key, place.name, busy.get(place.key, "")) for place in places),
            tuple(_shown(wash, names) for wash in shelf_queries.last_washes(LAST_SHOWN)),
            WASH_SAFETY,
        )


def wash_view(code: str, person: str) -> WashView:
    """Return one wash as `person` sees it; NotFound when there is none."""
    with connection():
        wash = _wash(code)
        place = shelf_queries.place(wash.basket)
        cores = queries.cores_tagged(wash.slots.values())
        hand = hand_of(code, person)
        families = {family.key: family.name for family in queries.families()}
        shown = _shown(wash, {wash.basket: place.name} if place else {})
    slots = tuple(_slot(slot, cores[tag]) for slot, tag in in_order(wash.slots))
    mine = [tag for tag in hand.steps if tag in wash.slots.values()]
    return WashView(
        code=code,
        basket=wash.basket,
        name=shown.name,
        status=wash.status,
        status_shown=shown.status,
        slots=slots,
        families=tuple(
            FamilyCount(family, families.get(family, family), count)
            for family, count in family_counts(slot.family for slot in slots).items()
        ),
        tags=tuple(slot.tag for slot in slots),
        next_slot=next_slot(wash.slots, hand.wanted) if wash.status == "loading" else 0,
        counting=hand.counting,
        undo=show_tag(mine[-1]) if mine and wash.status == "loading" else "",
        counted=wash.counted,
        since=shown.since,
        by=shown.by,
        note=wash.note,
        caution=WASH_SAFETY,
    )


def wash_card(code: str, now: datetime) -> PrintedFile:
    """Return a basket's card as PDF; InvalidInput while nothing lies in it."""
    with connection():
        wash = _wash(code)
        desk = desk_day(now)
        place: Place | None = shelf_queries.place(wash.basket)
        cores = queries.cores_tagged(wash.slots.values())
        families = {family.key: family.name for family in queries.families()}
        told = happenings.history("wash", code)[-1]
    ordered = [(slot, cores[tag]) for slot, tag in in_order(wash.slots)]
    counts = family_counts(core.family for _, core in ordered)
    name = place.name if place else show_tag(wash.basket)
    card = Traveller(
        shop_name=desk.shop.name,
        basket=name,
        basket_code=wash.basket,
        wash=code,
        slots=tuple(
            TravellerSlot(slot, core.tag, core.number, core.family, core.metal_tag)
            for slot, core in ordered
        ),
        families=tuple((families.get(key, key), count) for key, count in counts.items()),
        made_by=told.by,
        made_at=desk.moment(told.at),
    )
    content = traveller_pdf(card, desk.shop.paper_size)
    return PrintedFile(safe_file_name(f"basket card {code} {name}", ".pdf"), content)


def _wash(code: str) -> Wash:
    wash = shelf_queries.wash(code)
    if wash is None:
        raise NotFound(f"There is no wash '{code}'; choose one of the list or scan its basket.")
    return wash


def _shown(wash: Wash, names: Mapping[str, str]) -> WashShown:
    begun = happenings.history("wash", wash.key)[0]
    return WashShown(
        wash.key,
        names.get(wash.basket, show_tag(wash.basket)),
        _STATUS.get(wash.status, StateShown(wash.status, "wait")),
        len(wash.slots),
        f"{the_desk().moment(begun.at):%Y-%m-%d %H:%M}",
        begun.by,
    )


def _slot(slot: int, core: CoreFacts) -> SlotShown:
    return SlotShown(
        slot,
        core.tag,
        core.number,
        core.family,
        core.serial,
        core.metal_tag,
        state_shown(core),
        core.source_lost,
    )
