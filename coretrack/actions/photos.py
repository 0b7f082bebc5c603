"""Photos of cores, deliveries and the core in hand: cleaned, stored once, named by an event."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime

from coretrack.errors import Conflict, InvalidInput, NotFound
from coretrack.figures.lifecycle import CoreFacts
from coretrack.figures.plain_words import counted
from coretrack.figures.scans import read_scan
from coretrack.figures.tags import show_tag
from coretrack.paper.photo_codes import FoundCode, codes_in
from coretrack.paper.photos import Photo, clean_photo, thumbnail
from coretrack.records import photos as stored
from coretrack.records import queries
from coretrack.records.database import connection, transaction
from coretrack.records.photos import StoredPhoto
from coretrack.records.times import to_text
from coretrack.records.unseen import unseen
from coretrack.records.writer import Writer, writing

__all__ = [
    "KINDS",
    "MOST_PHOTOS",
    "SHOWS",
    "Album",
    "StoredPhoto",
    "add_photo",
    "album",
    "codes_on",
    "count_draft_photos",
    "draft_key",
    "move_draft_photos",
    "photo",
    "photos_of",
    "remove_draft_photo",
    "thumbnail_of",
]

KINDS = ("core", "lot", "draft")
"""What a photo can belong to; a draft is the core in hand, which has no tag yet."""

SHOWS = ("whole core", "number", "fault", "box", "paper")
"""What a photo can show."""

MOST_PHOTOS = 12
"""Photos of one object: enough for any quarrel, and no phone fills the disk."""

_TRIES = 3


@dataclass(frozen=True)
class Album:
    """An object's photos, and how many more may be added; `title` names the object in words."""

    kind: str
    key: str
    title: str
    photos: tuple[StoredPhoto, ...]
    room: int


def draft_key(delivery: str, person: str) -> str:
    """Return the key of the core that `person` has in hand of a delivery."""
    return f"core/{delivery}/{person}"


def add_photo(
    content: bytes,
    kind: str,
    key: str,
    what: str,
    *,
    by: str,
    station: str,
    now: datetime,
    action_key: str = "",
) -> StoredPhoto:
    """Clean and store a photo of a core, a lot or the core in hand; return it as stored.

    The very same photo on the same object is stored once, and a form sent twice answers the same.
    InvalidInput when it is no photo or the object has MOST_PHOTOS; NotFound without the object.
    """
    if kind not in KINDS:
        raise InvalidInput(f"'{kind}' has no photos; it is {', '.join(KINDS)}.", {"kind": kind})
    if what not in SHOWS:
        raise InvalidInput(
            f"'{what}' is not what a photo shows; choose {', '.join(SHOWS)}.",
            {"what": f"choose {', '.join(SHOWS)}"},
        )
    cleaned = clean_photo(content)
    for _ in range(_TRIES - 1):
        try:
            return _store(cleaned, kind, key, what, (by, station, now), action_key)
        except Conflict:
            # A photo hangs on nothing that somebody else may have changed meanwhile.
            continue
    return _store(cleaned, kind, key, what, (by, station, now), action_key)


def _store(
    cleaned: Photo,
    kind: str,
    key: str,
    what: str,
    told: tuple[str, str, datetime],
    action_key: str,
) -> StoredPhoto:
    by, station, now = told
    with writing(by, now, station) as writer:
        if action_key and (answer := writer.answers([action_key]).get(action_key)):
            return _known(int(answer))
        _refuse_unknown(kind, key, by)
        present = stored.photos_of(kind, key)
        same = next((each for each in present if each.sha256 == cleaned.sha256), None)
        if same is None:
            if len(present) >= MOST_PHOTOS:
                raise InvalidInput(
                    f"There are {counted(MOST_PHOTOS, 'photo')} already; no more are kept of one "
                    "core or delivery.",
                    {"photo": f"at most {MOST_PHOTOS}"},
                )
            same = stored.keep(
                kind,
                key,
                cleaned.content,
                sha256=cleaned.sha256,
                what=what,
                at=to_text(now),
                by=by,
                size=(cleaned.width, cleaned.height),
            )
            _note(writer, kind, key, same)
        if action_key:
            writer.remember(action_key, str(same.id))
        return same


def _note(writer: Writer, kind: str, key: str, photo: StoredPhoto) -> None:
    """Let the object's history name the photo; a draft has no history."""
    if kind != "draft":
        detail = {"sha256": photo.sha256, "what": photo.what}
        writer.event(kind, key, "photographed", detail)


def _refuse_unknown(kind: str, key: str, by: str) -> None:
    if kind == "core":
        if queries.core(key) is None:
            raise NotFound(f"There is no core with tag '{key}'.")
        return
    lot = key
    if kind == "draft":
        start, end = "core/", f"/{by}"
        if not key.startswith(start) or not key.endswith(end):
            raise NotFound("There is no such core in your hand; open the delivery again.")
        lot = key.removeprefix(start).removesuffix(end)
    if queries.lot(lot) is None:
        raise NotFound(f"There is no delivery or lot '{lot}'.")


def album(kind: str, key: str, *, by: str) -> Album:
    """Return what a page of an object's photos shows; NotFound when `by` has no such object."""
    if kind not in KINDS:
        raise NotFound(f"'{kind}' has no photos; it is {', '.join(KINDS)}.")
    with connection():
        found = key
        if kind == "core":
            found = read_scan(key).tag or key
        _refuse_unknown(kind, found, by)
        taken = stored.photos_of(kind, found)
    titles = {"core": f"core {show_tag(found)}", "lot": f"delivery {found}"}
    title = titles.get(kind, "the core in hand")
    return Album(kind, found, title, tuple(taken), max(0, MOST_PHOTOS - len(taken)))


def photos_of(kind: str, key: str) -> list[StoredPhoto]:
    """Return an object's photos, oldest first."""
    with connection():
        return stored.photos_of(kind, key)


def photo(photo_id: int) -> tuple[bytes, StoredPhoto]:
    """Return a photo's JPEG and what is known of it; NotFound when there is none."""
    with connection():
        return _content(photo_id), _known(photo_id)


def thumbnail_of(photo_id: int) -> tuple[bytes, StoredPhoto]:
    """Return a photo as a small JPEG and what is known of it; NotFound when there is none."""
    content, known = photo(photo_id)
    return thumbnail(content), known


def _content(photo_id: int) -> bytes:
    content = stored.content_of(photo_id)
    if content is None:
        raise NotFound(f"There is no photo {photo_id}; it may have been dropped with its draft.")
    return content


def _known(photo_id: int) -> StoredPhoto:
    known = stored.photo(photo_id)
    # A photo may show a crack that whoever makes the blind second look has yet to find.
    if known is None or (known.kind == "core" and known.key in unseen()):
        raise NotFound(f"There is no photo {photo_id}; it may have been dropped with its draft.")
    return known


def codes_on(content: bytes) -> tuple[FoundCode, ...]:
    """Return every code in a photo, the likeliest first; the photo is not kept.

    InvalidInput when it is no photo.
    """
    return codes_in(content)


def count_draft_photos(draft: str) -> int:
    """Return how many photos were taken of a core in hand."""
    return len(photos_of("draft", draft))


def move_draft_photos(writer: Writer, draft: str, tag: str) -> int:
    """Give a draft's photos to the core it became, each by an event; return how many.

    Runs inside the caller's transaction, after the core was received there.
    """
    core: CoreFacts = writer.get("core", tag)
    seen: set[str] = set()
    for each in stored.photos_of("draft", draft):
        if each.sha256 in seen:
            # Two phones at the same moment: the second row is the same picture.
            stored.drop(each.id)
            continue
        seen.add(each.sha256)
        stored.give_to(each.id, "core", core.tag)
        _note(writer, "core", core.tag, each)
    return len(seen)


def remove_draft_photo(photo_id: int, draft: str) -> None:
    """Remove one photo of the core in hand; stored cores keep theirs for good."""
    with connection(), transaction():
        known = stored.photo(photo_id)
        if known is not None and (known.kind, known.key) == ("draft", draft):
            stored.drop(photo_id)
