"""What the rework pages ask: how the passes of each operation ended on bodies that are decided."""

# mypy: disable-error-code="has-type, misc, index, arg-type"
# peewee's stubs type every select as model rows, also after .tuples() and .dicts().

from __future__ import annotations

import json
from dataclasses import dataclass, field

from peewee import fn

from coretrack.figures.lifecycle import AFTER_BENCH
from coretrack.records.tables import CoreRow, EventRow

JUDGED = ("inspected", "overridden")
"""Events that send a body to rework."""


def sent_to_rework() -> dict[str, str]:
    """Return when each body that is in rework was sent there, as stored UTC text."""
    rows = (
        EventRow.select(EventRow.object_key, fn.MAX(EventRow.at))
        .join(CoreRow, on=(CoreRow.tag == EventRow.object_key))
        .where(
            EventRow.object_kind == "core",
            EventRow.event.in_(JUDGED),
            CoreRow.state == "rework",
        )
        .group_by(EventRow.object_key)
        .tuples()
    )
    return dict(rows)


@dataclass
class PassesDone:
    """The passes of one operation on decided bodies, and the bodies among them that are good."""

    passes: int = 0
    good: set[str] = field(default_factory=set)


def passes_done() -> dict[tuple[str, str], PassesDone]:
    """Return, per family and operation, the passes on bodies that are good or scrapped by now.

    A body counts in the life in which it was reworked.
    """
    rows = (
        EventRow.select(EventRow.body, CoreRow.tag, CoreRow.family, CoreRow.state)
        .join(CoreRow, on=(CoreRow.tag == EventRow.object_key))
        .where(
            EventRow.object_kind == "core",
            EventRow.event == "reworked",
            CoreRow.reworks > 0,
            CoreRow.state.in_(sorted(AFTER_BENCH)),
        )
        .tuples()
    )
    found: dict[tuple[str, str], PassesDone] = {}
    for body, tag, family, state in rows:
        operation = json.loads(body)["detail"]["operation"]
        done = found.setdefault((family, operation), PassesDone())
        done.passes += 1
        if state != "scrapped":
            done.good.add(tag)
    return found
