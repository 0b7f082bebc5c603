"""What happened to objects, read from their events: told as it was written, never changed."""

# mypy: disable-error-code="has-type, misc, index, arg-type"
# peewee's stubs type every select as model rows, also after .tuples() and .dicts().

from __future__ import annotations

import json
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from peewee import chunked

from coretrack.records.tables import CoreRow, EventRow
from coretrack.records.times import from_text

_CHUNK = 400

_COLUMNS = (
    EventRow.id,
    EventRow.object_key,
    EventRow.event,
    EventRow.at,
    EventRow.by,
    EventRow.body,
)


@dataclass(frozen=True)
class Happened:
    """One event of an object as it was told.

    `number` counts up over all events; `at` is the stored UTC text, `moment` the same as a time.
    """

    number: int
    key: str
    event: str
    at: str
    by: str
    station: str
    why: str
    detail: Mapping[str, Any]

    @property
    def moment(self) -> datetime:
        """Return when it happened, aware, in UTC."""
        return from_text(self.at)


def history(kind: str, key: str) -> list[Happened]:
    """Return everything that happened to an object, oldest first."""
    return _told(_of(kind, key).order_by(EventRow.sequence))


def last_of(kind: str, key: str) -> Happened | None:
    """Return the newest event of an object, or None."""
    found = _told(_of(kind, key).order_by(EventRow.sequence.desc()).limit(1))
    return found[0] if found else None


def first_detail(kind: str, key: str) -> Mapping[str, Any]:
    """Return what was told when an object came into the books, {} when it never did."""
    found = first_of_each(kind, [key]).get(key)
    return found.detail if found else {}


def first_of_each(kind: str, keys: Iterable[str]) -> dict[str, Happened]:
    """Return how each of these objects came into the books."""
    found: dict[str, Happened] = {}
    for some in chunked(sorted(set(keys)), _CHUNK):
        found |= {each.key: each for each in _told(_some(kind, some, EventRow.sequence == 1))}
    return found


def last_of_each(kind: str, keys: Iterable[str], events: Sequence[str]) -> dict[str, Happened]:
    """Return the newest of these events of each object that had one."""
    found: dict[str, Happened] = {}
    for some in chunked(sorted(set(keys)), _CHUNK):
        rows = _some(kind, some, EventRow.event.in_(list(events))).order_by(EventRow.sequence)
        found |= {each.key: each for each in _told(rows)}
    return found


def last_times(kind: str, keys: Iterable[str], events: Sequence[str]) -> dict[str, str]:
    """Return when the newest of these events of each object was, without reading what was told."""
    found: dict[str, str] = {}
    for some in chunked(sorted(set(keys)), _CHUNK):
        rows = (
            EventRow.select(EventRow.object_key, EventRow.at)
            .where(
                EventRow.object_kind == kind,
                EventRow.object_key.in_(some),
                EventRow.event.in_(list(events)),
            )
            .order_by(EventRow.sequence)
        )
        found |= dict(rows.tuples())
    return found


def newest_of(kind: str, event: str, limit: int) -> list[Happened]:
    """Return the newest events of a sort, over all objects of a kind, newest first."""
    rows = EventRow.select(*_COLUMNS).where(EventRow.object_kind == kind, EventRow.event == event)
    return _told(rows.order_by(EventRow.id.desc()).limit(limit))


def history_of_cores(lot: str) -> list[Happened]:
    """Return all events of a lot's cores, in the order they were written."""
    tags = CoreRow.select(CoreRow.tag).where(CoreRow.lot == lot)
    rows = EventRow.select(*_COLUMNS).where(
        EventRow.object_kind == "core", EventRow.object_key.in_(tags)
    )
    return _told(rows.order_by(EventRow.id))


def _of(kind: str, key: str) -> Any:
    return EventRow.select(*_COLUMNS).where(
        EventRow.object_kind == kind, EventRow.object_key == key
    )


def _some(kind: str, keys: Iterable[str], more: Any) -> Any:
    return EventRow.select(*_COLUMNS).where(
        EventRow.object_kind == kind, EventRow.object_key.in_(list(keys)), more
    )


def _told(rows: Any) -> list[Happened]:
    return [
        _happened(number, key, event, at, by, json.loads(body))
        for number, key, event, at, by, body in rows.tuples()
    ]


def _happened(
    number: int, key: str, event: str, at: str, by: str, body: Mapping[str, Any]
) -> Happened:
    station, why = body.get("station", ""), body.get("why", "")
    return Happened(number, key, event, at, by, station, why, body["detail"])
