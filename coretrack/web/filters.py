"""How figures look on a page: money, rates, counts and times as text."""

from __future__ import annotations

from datetime import datetime

from flask import Flask

from coretrack.figures.money import Money, shown
from coretrack.figures.tags import show_tag
from coretrack.figures.wording import rate, sentence


def register(app: Flask) -> None:
    """Add the filters to the templates of `app`."""
    app.jinja_env.filters.update(
        money=money, rate=rate, count=count, moment=moment, sentence=sentence, tag=show_tag
    )


def money(amount: Money | None) -> str:
    """Return an amount with two places, or a dash while it is unknown."""
    return shown(amount)


def count(number: int) -> str:
    """Return a count with its thousands apart."""
    return f"{number:,}"


def moment(when: datetime) -> str:
    """Return day and time in the zone the time carries."""
    zone = f" {when.tzname()}" if when.tzname() else ""
    return f"{when:%Y-%m-%d %H:%M}{zone}"
