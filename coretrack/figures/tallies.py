"""What one core adds to the roll-ups, so that they can be kept up to date event by event."""

from __future__ import annotations

from coretrack.figures.lifecycle import COST_PARTS, CoreFacts

GROUPINGS = ("family", "source", "lot", "number", "month", "plan", "inspector", "batch")
"""What yields can be rolled up by; a batch is a purchased lot, or one month of returns."""

COUNTERS = (
    "received",
    "decided",
    "kept_first_pass",
    "kept_after_rework",
    "scrapped",
    "sent_to_rework",
    "refused",
    "source_lost",
)

RETURNS = "returns"
"""The batch that all returns of one month share."""

COMEBACKS = "comebacks"
"""The batch of one month's comebacks: kept apart, for no core charge brings them in."""

_BATCHES = {"return": RETURNS, "comeback": COMEBACKS}

TallyKey = tuple[str, str, str, str]
"""family, grouping, value, month received."""


def contribution(core: CoreFacts) -> dict[TallyKey, dict[str, int]]:
    """Return the counters and costs that this core adds, per roll-up row.

    Costs are counted once the core is decided, so that money and bodies speak of the same cores.
    A core whose source was lost stays in every grouping but source, lot and batch.
    """
    if core.acceptance == "refuse" and core.family:
        counts = {"refused": 1}
    elif core.in_stream:
        counts = _counts(core)
    else:
        return {}
    return {(core.family, grouping, value, core.month): counts for grouping, value in _values(core)}


def _values(core: CoreFacts) -> list[tuple[str, str]]:
    values = [
        ("family", core.family),
        ("number", core.number),
        ("month", core.month),
        ("plan", str(core.plan_version) if core.plan_version else ""),
        ("inspector", core.inspector),
    ]
    if not core.source_lost:
        values += [
            ("source", core.source),
            ("lot", core.lot),
            ("batch", core.lot if core.stream == "purchase" else _BATCHES[core.stream]),
        ]
    return values


def _counts(core: CoreFacts) -> dict[str, int]:
    counts = {"received": 1, "source_lost": int(core.source_lost)}
    if core.reworks or core.grade == "rework":
        counts["sent_to_rework"] = 1
    if core.decided:
        counts["decided"] = 1
        if core.state == "scrapped":
            counts["scrapped"] = 1
        elif core.reworks:
            counts["kept_after_rework"] = 1
        else:
            counts["kept_first_pass"] = 1
        counts |= {part: getattr(core, part) for part in COST_PARTS}
    return {name: number for name, number in counts.items() if number}


def change(before: CoreFacts | None, after: CoreFacts) -> dict[TallyKey, dict[str, int]]:
    """Return what to add to each roll-up row when a core changes from `before` to `after`."""
    old = contribution(before) if before is not None else {}
    new = contribution(after)
    rows: dict[TallyKey, dict[str, int]] = {}
    for key in old.keys() | new.keys():
        was, now = old.get(key, {}), new.get(key, {})
        moved = {
            name: now.get(name, 0) - was.get(name, 0)
            for name in was.keys() | now.keys()
            if now.get(name, 0) != was.get(name, 0)
        }
        if moved:
            rows[key] = moved
    return rows
