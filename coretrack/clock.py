"""The only place that reads the clock."""

from __future__ import annotations

from datetime import UTC, datetime


def now() -> datetime:
    """Return the present moment as an aware UTC time."""
    return datetime.now(UTC)
