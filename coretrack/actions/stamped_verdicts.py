"""Which crack results behind a verdict had no good check of lamp or bath on their day."""

from __future__ import annotations

from coretrack.actions.bench_sitting import Sitting
from coretrack.actions.look_records import newest_reading
from coretrack.figures.plans import Check


def stamps_behind(sitting: Sitting) -> str:
    """Return what lacks behind the crack results a verdict rests on, "" when nothing does.

    Results that are typed count, and those of an earlier sitting where they carry over. Call with a
    connection.
    """
    told = []
    for check in sitting.plan.in_order():
        stamps = _stamps(sitting, check) if check.kind == "crack" else ()
        if stamps:
            told.append(f"{check.name}: stamped {', '.join(stamps)}.")
    return " ".join(told)


def _stamps(sitting: Sitting, check: Check) -> tuple[str, ...]:
    typed = sitting.hand.of_check(check.code)
    if typed:
        return tuple(dict.fromkeys(stamp for entry in typed for stamp in entry.stamps))
    if not sitting.core.inspections or check.code not in sitting.merged:
        return ()
    reading, _, _ = newest_reading(sitting.core.tag, check.code)
    return tuple(reading.get("stamps", ()))
