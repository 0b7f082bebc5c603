"""Stored objects as plain values, asked by statements that are made once a table."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from coretrack.records.kinds import KINDS
from coretrack.records.statements import rows_where, rows_with


def one(kind: str, key: str) -> Any | None:
    """Return the object of this kind with this key, or None."""
    definition = KINDS[kind]
    rows = rows_with(definition.table, definition.key, key)
    return definition.from_row(rows[0]) if rows else None


def every(kind: str, wanted: Mapping[str, str] | None = None, also: str = "") -> list[Any]:
    """Return the objects whose columns hold what is `wanted`, in the order they were stored.

    `also` is one more condition, written out in SQL; it is never made of what a person typed.
    """
    definition = KINDS[kind]
    return [definition.from_row(row) for row in rows_where(definition.table, wanted or {}, also)]
