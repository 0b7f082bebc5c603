"""Moments as stored: UTC text of one fixed width, so that text order is time order everywhere."""

from __future__ import annotations

from datetime import UTC, datetime

_FORMAT = "%Y-%m-%dT%H:%M:%S.%fZ"


def to_text(moment: datetime) -> str:
    """Return an aware `moment` as UTC text; ValueError for a naive one."""
    if moment.tzinfo is None:
        raise ValueError("a stored moment needs a time zone")
    return moment.astimezone(UTC).strftime(_FORMAT)


def from_text(text: str) -> datetime:
    """Return the aware UTC moment that `to_text` wrote."""
    return datetime.fromisoformat(text)
