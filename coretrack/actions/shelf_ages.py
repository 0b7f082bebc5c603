"""How long bodies have been good: what "oldest first" goes by."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import date, datetime

from coretrack.actions.desk_day import desk_day, the_desk
from coretrack.records import happenings

VERDICTS = ("inspected", "overridden")
"""The events that make a body good; to be put back on the shelf does not make it younger."""


def good_since(tags: Iterable[str]) -> dict[str, date]:
    """Return the shop's day on which each body got its present verdict. Call with a connection."""
    desk = the_desk()
    told = happenings.last_times("core", tags, VERDICTS)
    return {tag: desk.day_of(at) for tag, at in told.items()}


def shop_today(now: datetime) -> date:
    """Return the shop's day. Call with a connection."""
    return desk_day(now).today
