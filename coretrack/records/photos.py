"""Stored photos: rows of their own, named by the events of the object they belong to."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from coretrack.records.station_tables import PhotoRow


@dataclass(frozen=True)
class StoredPhoto:
    """What is known of a stored photo, without the picture itself.

    `kind` is core, lot or draft, `key` the object's; `what` says what it shows; `at` is UTC text,
    `width` and `height` are pixels.
    """

    id: int
    kind: str
    key: str
    sha256: str
    what: str
    at: str
    by: str
    width: int
    height: int


_COLUMNS = (
    PhotoRow.id,
    PhotoRow.object_kind,
    PhotoRow.object_key,
    PhotoRow.sha256,
    PhotoRow.what,
    PhotoRow.at,
    PhotoRow.by,
    PhotoRow.width,
    PhotoRow.height,
)


def photos_of(kind: str, key: str) -> list[StoredPhoto]:
    """Return an object's photos, oldest first."""
    rows = (
        PhotoRow.select(*_COLUMNS)
        .where(PhotoRow.object_kind == kind, PhotoRow.object_key == key)
        .order_by(PhotoRow.id)
    )
    return [_photo(row) for row in rows]


def photo(photo_id: int) -> StoredPhoto | None:
    """Return what is known of one photo, or None."""
    row = PhotoRow.select(*_COLUMNS).where(PhotoRow.id == photo_id).first()
    return _photo(row) if row else None


def content_of(photo_id: int) -> bytes | None:
    """Return a photo's JPEG, or None when there is no such photo."""
    row = PhotoRow.select(PhotoRow.content).where(PhotoRow.id == photo_id).first()
    return bytes(row.content) if row else None


def keep(
    kind: str,
    key: str,
    content: bytes,
    *,
    sha256: str,
    what: str,
    at: str,
    by: str,
    size: tuple[int, int],
) -> StoredPhoto:
    """Store a photo inside the caller's transaction and return it; `size` is width and height."""
    row = PhotoRow.create(
        object_kind=kind,
        object_key=key,
        sha256=sha256,
        what=what,
        at=at,
        by=by,
        width=size[0],
        height=size[1],
        content=content,
    )
    return _photo(row)


def give_to(photo_id: int, kind: str, key: str) -> None:
    """Let a photo belong to another object, inside the caller's transaction."""
    PhotoRow.update(object_kind=kind, object_key=key).where(PhotoRow.id == photo_id).execute()


def drop(photo_id: int) -> None:
    """Remove one photo, inside the caller's transaction."""
    PhotoRow.delete().where(PhotoRow.id == photo_id).execute()


def drop_all(kind: str, key: str) -> int:
    """Remove an object's photos, inside the caller's transaction; return how many there were."""
    wanted = (PhotoRow.object_kind == kind, PhotoRow.object_key == key)
    return int(PhotoRow.delete().where(*wanted).execute())


def _photo(row: Any) -> StoredPhoto:
    return StoredPhoto(
        id=row.id,
        kind=row.object_kind,
        key=row.object_key,
        sha256=row.sha256,
        what=row.what,
        at=row.at,
        by=row.by,
        width=row.width,
        height=row.height,
    )
