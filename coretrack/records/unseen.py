"""Cores whose verdict whoever asks now may not see: a blind second look at them is wanted.

Set once a request by `web/blind.py`; every list of cores that a bench page shows asks here. What is
written is never filtered: the books stay whole whoever writes.
"""

# mypy: disable-error-code="has-type, misc"
# peewee's stubs type every select as model rows, also after .tuples().

from __future__ import annotations

from collections.abc import Iterable
from contextvars import ContextVar
from dataclasses import dataclass

from coretrack.figures.lifecycle import CoreFacts
from coretrack.records.bench_tables import SecondLookRow


@dataclass
class _Looker:
    """Somebody who might make a second look; `tags` is None until it is asked."""

    name: str
    tags: frozenset[str] | None = None


_LOOKER: ContextVar[_Looker | None] = ContextVar("looker", default=None)


def look_as(name: str | None) -> None:
    """Say who looks from now on in this thread; None for somebody who may see everything."""
    _LOOKER.set(None if name is None else _Looker(name))


def unseen() -> frozenset[str]:
    """Return the tags whose verdict is hidden from whoever looks. Call with a connection."""
    looker = _LOOKER.get()
    if looker is None:
        return frozenset()
    if looker.tags is None:
        looker.tags = blind_for(looker.name)
    return looker.tags


def blind_for(name: str) -> frozenset[str]:
    """Return the cores whose blind second look is wanted of anybody but the first inspector."""
    rows = SecondLookRow.select(SecondLookRow.tag).where(
        SecondLookRow.status == "wanted",
        SecondLookRow.why == "drawn",
        SecondLookRow.first_inspector != name,
    )
    return frozenset(tag for (tag,) in rows.tuples())


def seen(cores: Iterable[CoreFacts]) -> list[CoreFacts]:
    """Return the cores without those whose verdict is hidden from whoever looks."""
    hidden = unseen()
    return [core for core in cores if core.tag not in hidden]
