"""What the shelf's pages show: good bodies by family, bin and age, and what was picked of them."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime

from coretrack.actions.shelf import PICK, build_named
from coretrack.actions.shelf_ages import good_since, shop_today
from coretrack.errors import NotFound
from coretrack.figures.lifecycle import CoreFacts
from coretrack.paper.cells import to_csv
from coretrack.records import happenings, queries, shelf_queries
from coretrack.records.database import connection

MOST_LISTED = 50
"""Bodies of one page of a family's or a bin's list; the file holds all."""

OLDEST_SHOWN = 5
"""So many of the oldest of each family stand on the shelf's own page."""

BUILDS_SHOWN = 12


@dataclass(frozen=True)
class Body:
    """A good body; `since` is the day it became good, `into` what it was picked for, if it was."""

    tag: str
    family: str
    number: str
    serial: str
    place: str
    place_name: str
    since: str
    days: int
    metal_tag: int
    into: str


@dataclass(frozen=True)
class FamilyOnShelf:
    """A family's good bodies: on the shelf, of these in no bin, and built; good is their sum."""

    family: str
    name: str
    on_shelf: int
    in_no_bin: int
    built: int
    oldest_days: int | None

    @property
    def good(self) -> int:
        """Good bodies, as every yield counts them."""
        return self.on_shelf + self.built


@dataclass(frozen=True)
class BinOnShelf:
    """A bin and the good bodies in it; the code "" is no bin."""

    code: str
    name: str
    count: int
    families: tuple[str, ...]
    oldest_days: int | None


@dataclass(frozen=True)
class Build:
    """What bodies were picked for, how many, and the last day one was."""

    into: str
    count: int
    last_day: str


@dataclass(frozen=True)
class ShelfView:
    """The whole shelf, or one page of the bodies of a family or a bin, oldest first.

    Without either `bodies` are the oldest of every family. `found` is how many fit the filter,
    `part` the page shown and `parts` how many pages there are.
    """

    families: tuple[FamilyOnShelf, ...]
    bins: tuple[BinOnShelf, ...]
    builds: tuple[Build, ...]
    bodies: tuple[Body, ...]
    found: int
    part: int
    parts: int
    family: str
    place: str | None
    today: str

    @property
    def family_name(self) -> str:
        """The name of the family that is listed, "" for none."""
        names = {each.family: each.name for each in self.families}
        return names.get(self.family, self.family)

    @property
    def place_name(self) -> str:
        """The name of the bin that is listed, "no bin" where bodies in none are."""
        names = {each.code: each.name for each in self.bins}
        return names.get(self.place or "", "") or "no bin"

    @property
    def good(self) -> int:
        """All good bodies, on the shelf and built."""
        return sum(family.good for family in self.families)


@dataclass(frozen=True)
class BinView:
    """One bin that bodies are put into."""

    code: str
    name: str
    bodies: tuple[Body, ...]


@dataclass(frozen=True)
class PickView:
    """One build: what was picked, and per family the bodies to take first."""

    into: str
    picked: tuple[Body, ...]
    first: tuple[Body, ...]
    family: str
    families: tuple[tuple[str, str], ...]


def shelf_view(
    now: datetime, family: str = "", place: str | None = None, part: int = 1
) -> ShelfView:
    """Return the shelf; `family` and `place` ("" for no bin) choose the bodies, `part` the page."""
    with connection():
        good, built = shelf_queries.good_bodies(), shelf_queries.built_bodies()
        names = _places()
        today, since = shop_today(now), good_since(core.tag for core in good)
        shown = [_body(core, names, since, today) for core in good]
        builds = _builds(built)
        families = {each.key: each.name for each in queries.families()}
    shown.sort(key=lambda body: (body.since, body.tag))
    whole = not family and place is None
    wanted = [body for body in shown if _fits(body, family, place)]
    parts = 1 if whole else max(1, -(-len(wanted) // MOST_LISTED))
    part = min(max(part, 1), parts)
    page = wanted[(part - 1) * MOST_LISTED : part * MOST_LISTED]
    return ShelfView(
        families=_by_family(shown, built, families),
        bins=_by_bin(shown, names),
        builds=builds[:BUILDS_SHOWN],
        bodies=tuple(_oldest(shown) if whole else page),
        found=len(wanted),
        part=part,
        parts=parts,
        family=family,
        place=place,
        today=today.isoformat(),
    )


def _oldest(bodies: Sequence[Body]) -> Iterator[Body]:
    """Return the oldest of every family, by family; `bodies` come oldest first."""
    for family in sorted({body.family for body in bodies}):
        yield from [body for body in bodies if body.family == family][:OLDEST_SHOWN]


def _fits(body: Body, family: str, place: str | None) -> bool:
    return (not family or body.family == family) and (place is None or body.place == place)


def bin_view(code: str, now: datetime) -> BinView:
    """Return one bin and the good bodies in it, oldest first; NotFound when there is none."""
    with connection():
        found = shelf_queries.place(code)
        if found is None or found.kind != "bin":
            raise NotFound("There is no such bin; scan its card or choose one of the list.")
        bodies = _bodies(shelf_queries.good_bodies(place=code), now)
    return BinView(code, found.name, bodies)


def pick_view(into: str, family: str, now: datetime) -> PickView:
    """Return what was picked for a build and what to take first; InvalidInput without a build."""
    build = build_named(into)
    with connection():
        picked = _bodies(shelf_queries.built_bodies(build), now)
        first = _bodies(shelf_queries.good_bodies(family), now) if family else ()
        families = tuple((each.key, each.name) for each in queries.families())
    return PickView(build, picked, first[:10], family, families)


def shelf_csv(now: datetime, family: str = "", place: str | None = None) -> bytes:
    """Return all bodies on the shelf that fit as a CSV file, oldest first."""
    headings = ("tag", "family", "number", "serial", "bin", "good since", "days", "metal tag")
    with connection():
        bodies = _bodies(shelf_queries.good_bodies(family, place), now)
    return to_csv(
        headings,
        (
            (
                body.tag,
                body.family,
                body.number,
                body.serial,
                body.place_name,
                date.fromisoformat(body.since),
                body.days,
                body.metal_tag or None,
            )
            for body in bodies
        ),
    )


def spot_of_build(into: str) -> str:
    """Return the spot of a build's page."""
    return PICK + into


def _places() -> dict[str, str]:
    """Return the names of all places by code; "" is no bin."""
    kinds = ("bin", "basket", "rack")
    return {place.key: place.name for kind in kinds for place in shelf_queries.places_of(kind)}


def _bodies(cores: Sequence[CoreFacts], now: datetime) -> tuple[Body, ...]:
    names, today = _places(), shop_today(now)
    since = good_since(core.tag for core in cores)
    shown = [_body(core, names, since, today) for core in cores]
    return tuple(sorted(shown, key=lambda body: (body.since, body.tag)))


def _body(
    core: CoreFacts, names: Mapping[str, str], since: Mapping[str, date], today: date
) -> Body:
    return Body(
        core.tag,
        core.family,
        core.number,
        core.serial,
        core.place,
        names.get(core.place, core.place),
        since[core.tag].isoformat(),
        max(0, (today - since[core.tag]).days),
        core.metal_tag,
        core.built_into,
    )


def _by_family(
    shown: Iterable[Body], built: Iterable[CoreFacts], names: Mapping[str, str]
) -> tuple[FamilyOnShelf, ...]:
    mine: dict[str, list[Body]] = {}
    for body in shown:
        mine.setdefault(body.family, []).append(body)
    used = Counter(core.family for core in built)
    return tuple(
        FamilyOnShelf(
            family,
            names.get(family, family),
            len(bodies := mine.get(family, [])),
            sum(not body.place for body in bodies),
            used[family],
            max((body.days for body in bodies), default=None),
        )
        for family in sorted(mine.keys() | used.keys())
    )


def _by_bin(shown: Iterable[Body], names: Mapping[str, str]) -> tuple[BinOnShelf, ...]:
    mine: dict[str, list[Body]] = {}
    for body in shown:
        mine.setdefault(body.place, []).append(body)
    return tuple(
        BinOnShelf(
            code,
            names.get(code, code),
            len(bodies),
            tuple(sorted({body.family for body in bodies})),
            max(body.days for body in bodies),
        )
        for code, bodies in sorted(mine.items())
    )


def _builds(built: Sequence[CoreFacts]) -> tuple[Build, ...]:
    """Return what was picked for, the newest first."""
    told = happenings.last_times("core", [core.tag for core in built], ["picked"])
    counts = Counter(core.built_into for core in built)
    last: dict[str, str] = {}
    for core in built:
        at = told[core.tag][:10]
        last[core.built_into] = max(at, last.get(core.built_into, ""))
    order = sorted(counts, key=lambda into: (last[into], into), reverse=True)
    return tuple(Build(into, counts[into], last[into]) for into in order)
