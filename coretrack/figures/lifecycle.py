"""A core's life: what each event changes in what is known of it.

`apply` is the only place that says what an event does to a core. The stored row, the tallies and
`coretrack verify` all come from it, so they cannot drift apart.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import replace
from typing import Any

from coretrack.errors import NotAllowed
from coretrack.figures import bench_events, dock_events
from coretrack.figures.core_facts import (
    AFTER_BENCH,
    COST_PARTS,
    GONE,
    INSPECTABLE,
    NOT_OURS,
    STATE_AFTER_GRADE,
    CoreFacts,
)
from coretrack.figures.dock_events import refuse_once_gone

__all__ = [
    "AFTER_BENCH",
    "COST_PARTS",
    "GONE",
    "INSPECTABLE",
    "NOT_OURS",
    "STATE_AFTER_GRADE",
    "CoreFacts",
    "apply",
]


def apply(core: CoreFacts | None, event: str, detail: Mapping[str, Any]) -> CoreFacts:
    """Return the core after `event`; NotAllowed when the event cannot follow its present state."""
    if event == "received":
        if core is not None:
            raise NotAllowed(f"{core.called} is already received.")
        return dock_events.received(detail)
    if core is None:
        raise NotAllowed("This core has not been received.")
    try:
        handler = _HANDLERS[event]
    except KeyError:
        raise NotAllowed(f"'{event}' is not something that happens to a core.") from None
    return handler(core, detail)


def _put(core: CoreFacts, detail: Mapping[str, Any]) -> CoreFacts:
    refuse_once_gone(core)
    if core.state == "built":
        raise NotAllowed(f"{core.called} was picked for {core.built_into}; put it back first.")
    return replace(core, place=detail["place"])


def _photographed(core: CoreFacts, detail: Mapping[str, Any]) -> CoreFacts:
    del detail
    return replace(core, photos=core.photos + 1)


def _label_printed(core: CoreFacts, detail: Mapping[str, Any]) -> CoreFacts:
    del detail
    refuse_once_gone(core)
    return replace(core, labels=core.labels + 1)


def _source_lost(core: CoreFacts, detail: Mapping[str, Any]) -> CoreFacts:
    del detail
    return replace(core, source_lost=True)


_HANDLERS: dict[str, Callable[[CoreFacts, Mapping[str, Any]], CoreFacts]] = {
    **dock_events.HANDLERS,
    **bench_events.HANDLERS,
    "source lost": _source_lost,
    "put": _put,
    "photographed": _photographed,
    "label printed": _label_printed,
}
