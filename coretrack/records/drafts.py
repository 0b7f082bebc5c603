"""What somebody has begun and not finished: plain rows, kept inside the caller's transaction.

A draft is no history: it is changed and goes, and nothing is sealed or verified.
"""

from __future__ import annotations

import json
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from peewee import fn

from coretrack.figures.history import canonical
from coretrack.records.statements import rows_with
from coretrack.records.station_tables import DraftRow
from coretrack.records.times import from_text, to_text


@dataclass(frozen=True)
class Draft:
    """A draft as kept: whose it is, when it was last changed, and what it holds."""

    key: str
    person: str
    at: datetime
    body: Mapping[str, Any]


def read(key: str) -> Draft | None:
    """Return a draft, or None when there is none."""
    rows = rows_with(DraftRow, "key", key)
    return _draft(rows[0]) if rows else None


def beginning(start: str) -> list[Draft]:
    """Return the drafts whose key begins with `start`, by key."""
    rows = DraftRow.select().where(fn.SUBSTR(DraftRow.key, 1, len(start)) == start)
    return sorted((_draft(row) for row in rows), key=lambda draft: draft.key)


def keep(key: str, person: str, at: datetime, body: Mapping[str, Any]) -> None:
    """Keep a draft under its key, in place of what was there."""
    told = {"person": person, "at": to_text(at), "body": canonical(body)}
    DraftRow.insert(key=key, **told).on_conflict(
        conflict_target=[DraftRow.key], update=told
    ).execute()


def drop(key: str) -> bool:
    """Remove a draft; return whether there was one."""
    return bool(DraftRow.delete().where(DraftRow.key == key).execute())


def _draft(row: Any) -> Draft:
    return Draft(row.key, row.person, from_text(row.at), json.loads(row.body))
