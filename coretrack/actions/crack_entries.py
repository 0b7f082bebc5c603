"""What is told of a crack indication at the bench: kind, length, place, mark, photo, stamps.

An indication is an indication from the word alone; what is told of it afterwards changes no
verdict, and is kept in its reading for good.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace
from datetime import datetime
from typing import Any

from coretrack.actions.acting import act_once
from coretrack.actions.bench_hand import BenchHand, Entry, hand_of, keep_hand
from coretrack.actions.bench_sitting import Sitting
from coretrack.actions.body_pictures import BodyPicture, picture_of, picture_with
from coretrack.actions.desk_day import the_desk
from coretrack.actions.process_stamps import StampBook
from coretrack.actions.typed_fields import plain_words
from coretrack.errors import InvalidInput, NotAllowed
from coretrack.figures.core_facts import CoreFacts
from coretrack.figures.cracks import (
    KINDS,
    THOUSAND,
    ZONES,
    BadLength,
    Crack,
    crack_from_dict,
    crack_words,
    in_zone,
    read_length,
    read_told,
)
from coretrack.figures.plans import Check
from coretrack.figures.tags import only_digits, show_tag
from coretrack.records import happenings, photos, queries
from coretrack.records.database import connection
from coretrack.records.photos import StoredPhoto
from coretrack.records.times import from_text
from coretrack.records.writer import Writer

LONGEST_PLACE = 120
SEEN = ("indication", "unsure")
"""Results of which something can be told."""


@dataclass(frozen=True)
class CrackTold:
    """The form about one indication, as typed; `at` and `by` say which entry of the check it is."""

    check: str
    at: str
    by: str
    kind: str = ""
    length: str = ""
    place: str = ""
    x: str = ""
    y: str = ""
    photo: str = ""


@dataclass(frozen=True)
class CrackPanel:
    """The indication that something can be told of, and what is told: `picture` to mark it on.

    `name` is its check's, `photos` those of the core; `told` whether anything is told already.
    """

    check: str
    name: str
    at: str
    by: str
    result: str
    crack: Crack
    words: str
    picture: BodyPicture | None
    photos: tuple[StoredPhoto, ...]
    kinds: tuple[str, ...] = KINDS


@dataclass(frozen=True)
class CrackShown:
    """One crack result of a core's history; `when` by the shop's clock, `stamps` what lacked."""

    when: str
    by: str
    check: str
    result: str
    words: str
    crack: Crack
    picture: BodyPicture | None
    photo: int
    stamps: tuple[str, ...]


def told_at(writer: Writer, family: str, check: Check, entry: Entry) -> Entry:
    """Return a crack check's entry with its stamps, and what its words tell in parts."""
    at = from_text(entry.at) if entry.at else writer.at
    stamps = StampBook(writer, writer.station).stamps(check.method, at)
    crack = read_told(entry.detail) if entry.detail else Crack()
    if crack.place and not crack.marked:
        picture = picture_of(family)
        crack = in_zone(crack, picture.sha256 if picture else "")
    return replace(entry, stamps=stamps, crack=crack.to_dict())


def tell(tag: str, told: CrackTold, *, by: str, station: str, now: datetime, key: str) -> str:
    """Keep what is told of an indication that is typed and not stored; return it in words.

    InvalidInput names each field and what would be right; NotAllowed once its verdict is stored.
    """

    def act(writer: Writer) -> dict[str, Any]:
        core = writer.get("core", tag)
        hand = hand_of(tag)
        place = _place_of(hand, told)
        if place is None:
            raise NotAllowed(
                f"This indication of core {show_tag(tag)} is stored, or was taken back; nothing "
                "can be told of it here any more."
            )
        picture = picture_of(core.family)
        crack = _crack(told, picture, photos.photos_of("core", tag))
        entry = replace(hand.entries[place], crack=crack.to_dict(), detail=crack_words(crack))
        entries = (*hand.entries[:place], entry, *hand.entries[place + 1 :])
        words = crack_words(crack)
        keep_hand(writer, replace(hand, entries=entries), "told of the crack", words)
        return {"words": words}

    return str(act_once("crack told", key, act, by=by, station=station, now=now)["words"])


def crack_panel(sitting: Sitting) -> CrackPanel | None:
    """Return the newest indication that is typed of a core, to tell more of it; None without."""
    seen = [entry for entry in sitting.hand.entries if entry.result in SEEN]
    cracks = {check.code: check for check in sitting.plan.checks if check.kind == "crack"}
    seen = [entry for entry in seen if entry.check in cracks]
    if not seen or not sitting.can_be_inspected:
        return None
    entry = seen[-1]
    crack = crack_from_dict(entry.crack)
    taken = tuple(photos.photos_of("core", sitting.core.tag))
    fresh = [each for each in taken if each.what == "fault" and each.at >= entry.at]
    if fresh and not crack.photo:
        crack = replace(crack, photo=fresh[-1].sha256)
    return CrackPanel(
        entry.check,
        cracks[entry.check].name,
        entry.at,
        entry.by,
        entry.result,
        crack,
        entry.detail,
        picture_of(sitting.core.family),
        taken,
    )


def cracks_of(tag: str) -> tuple[CrackShown, ...]:
    """Return the indications in a core's stored verdicts that more is told of, oldest first."""
    with connection():
        core = queries.core(tag)
        return _shown(core) if core else ()


def _shown(core: CoreFacts) -> tuple[CrackShown, ...]:
    desk = the_desk()
    taken = {each.sha256: each.id for each in photos.photos_of("core", core.tag)}
    shown = []
    for at, by, reading in _results(core.tag):
        crack = crack_from_dict(reading.get("crack", {}))
        shown.append(
            CrackShown(
                f"{desk.moment(at):%Y-%m-%d %H:%M}",
                by,
                str(reading["check"]),
                str(reading["result"]),
                str(reading.get("detail") or crack_words(crack)),
                crack,
                picture_with(core.family, crack.picture) if crack.picture else None,
                taken.get(crack.photo, 0),
                tuple(reading.get("stamps", ())),
            )
        )
    return tuple(shown)


def _results(tag: str) -> Iterator[tuple[str, str, Mapping[str, Any]]]:
    """Yield when, by whom and what was told of indications, out of stored verdicts."""
    for event in happenings.history("core", tag):
        if event.event != "inspected":
            continue
        for reading in event.detail.get("readings", ()):
            if reading.get("crack"):
                who = str(reading.get("by") or event.detail["inspector"])
                yield str(reading.get("at") or event.at), who, reading


def _place_of(hand: BenchHand, told: CrackTold) -> int | None:
    for place, entry in enumerate(hand.entries):
        mine = (entry.check, entry.at, entry.by) == (told.check, told.at, told.by)
        if mine and entry.result in SEEN:
            return place
    return None


def _crack(told: CrackTold, picture: BodyPicture | None, taken: list[StoredPhoto]) -> Crack:
    problems: dict[str, str] = {}
    length: tuple[str, int | None] = ("", None)
    if told.kind and told.kind not in KINDS:
        problems["kind"] = f"choose one: {', '.join(KINDS)}"
    try:
        length = read_length(told.length)
    except BadLength as error:
        problems["length"] = f"{error}."
    if told.photo and told.photo not in {photo.sha256 for photo in taken}:
        problems["photo"] = "choose one of this core's photos"
    mark = _mark(told, problems)
    if problems:
        raise InvalidInput(
            "Not kept yet: " + "; ".join(text.rstrip(".") for text in problems.values()) + ".",
            problems,
        )
    place = plain_words(told.place, "place", LONGEST_PLACE)
    crack = Crack(told.kind, length[0], length[1], place, photo=told.photo)
    if mark and picture:
        # A mark says more than the number of a zone, which it may have left since.
        crack = replace(crack, place="" if place in ZONES else place)
        return replace(crack, x=mark[0], y=mark[1], picture=picture.sha256)
    return in_zone(crack, picture.sha256 if picture else "")


def _mark(told: CrackTold, problems: dict[str, str]) -> tuple[int, int] | None:
    if not told.x and not told.y:
        return None
    if all(only_digits(part) and int(part) <= THOUSAND for part in (told.x, told.y)):
        return int(told.x), int(told.y)
    problems["x"] = f"a mark is two whole numbers from 0 to {THOUSAND}: across and down"
    return None
