"""The picture of a family's body, on which cracks are marked: taken in by the owner, kept for good.

An older picture stays, since marks were made on it; the newest one is marked on.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from typing import Any

from coretrack.actions.acting import act_once
from coretrack.errors import InvalidInput
from coretrack.figures.plain_words import counted
from coretrack.paper.photos import clean_photo
from coretrack.records import objects, photos, queries
from coretrack.records.database import connection
from coretrack.records.happenings import last_of_each
from coretrack.records.photos import StoredPhoto
from coretrack.records.times import to_text
from coretrack.records.writer import Writer

KIND = "family"
MOST_PICTURES = 12


@dataclass(frozen=True)
class BodyPicture:
    """A picture to mark on: the photo's number and hash, its size in pixels."""

    id: int
    sha256: str
    width: int
    height: int

    @property
    def drawn_height(self) -> int:
        """Its height where its width is drawn as 1000."""
        return max(1, round(1000 * self.height / self.width))


@dataclass(frozen=True)
class FamilyPicture:
    """A family and the picture of its body, None while it has none; `others` are older ones."""

    code: str
    name: str
    picture: BodyPicture | None
    others: int
    crack_checks: int


def add_picture(
    content: bytes, family: str, *, by: str, station: str, now: datetime, key: str
) -> BodyPicture:
    """Clean and store a picture of a family's body; it is marked on from now on.

    InvalidInput when it is no photo or the family has MOST_PICTURES already, NotFound without the
    family.
    """
    cleaned = clean_photo(content)

    def act(writer: Writer) -> dict[str, Any]:
        writer.get("family", family)
        present = photos.photos_of(KIND, family)
        same = next((each for each in present if each.sha256 == cleaned.sha256), None)
        if same is None:
            if len(present) >= MOST_PICTURES:
                raise InvalidInput(
                    f"There are {counted(MOST_PICTURES, 'picture')} of this body already; no more "
                    "are kept.",
                    {"photo": f"at most {MOST_PICTURES}"},
                )
            same = photos.keep(
                KIND,
                family,
                cleaned.content,
                sha256=cleaned.sha256,
                what="body",
                at=to_text(now),
                by=by,
                size=(cleaned.width, cleaned.height),
            )
        writer.event(KIND, family, "photographed", {"sha256": cleaned.sha256, "what": "body"})
        return {"id": same.id, "sha256": same.sha256, "width": same.width, "height": same.height}

    return BodyPicture(**act_once("body picture", key, act, by=by, station=station, now=now))


def picture_of(family: str) -> BodyPicture | None:
    """Return the picture that a family's cracks are marked on. Call with a connection."""
    told = last_of_each(KIND, [family], ["photographed"]).get(family)
    return picture_with(family, str(told.detail["sha256"])) if told else None


def picture_with(family: str, sha256: str) -> BodyPicture | None:
    """Return one picture of a family, also an older one. Call with a connection."""
    found = [each for each in photos.photos_of(KIND, family) if each.sha256 == sha256]
    return _picture(found[0]) if found else None


def pictures_view() -> tuple[FamilyPicture, ...]:
    """Return every family with the picture of its body."""
    with connection():
        return tuple(
            FamilyPicture(
                family.key,
                family.name,
                picture_of(family.key),
                max(0, len(photos.photos_of(KIND, family.key)) - 1),
                _crack_checks(family.key, family.plan_version),
            )
            for family in queries.families()
        )


def _crack_checks(family: str, version: int) -> int:
    plan = objects.one("plan", f"{family}/{version}")
    return sum(check["kind"] == "crack" for check in plan.definition["checks"]) if plan else 0


def _picture(photo: StoredPhoto) -> BodyPicture:
    return BodyPicture(photo.id, photo.sha256, photo.width, photo.height)
