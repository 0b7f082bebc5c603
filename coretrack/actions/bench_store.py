"""A verdict stored at the bench, as it was proposed, and overruled by the owner with a reason."""

from __future__ import annotations

from collections import Counter
from dataclasses import asdict, dataclass
from datetime import datetime
from typing import Any

from coretrack.actions.acting import Changed, act_once
from coretrack.actions.bench_hand import drop_hand
from coretrack.actions.bench_sitting import Sitting, sitting_of
from coretrack.actions.inspecting import Bench, Reading, inspect, override_in
from coretrack.actions.look_drawing import draw, refuse_same_eyes
from coretrack.actions.reopening import MEASURE_AGAIN, reopen_in
from coretrack.actions.stamped_verdicts import stamps_behind
from coretrack.errors import NotAllowed
from coretrack.figures.dates import shop_day
from coretrack.figures.grading import Verdict
from coretrack.figures.tags import show_tag
from coretrack.records.writer import Writer

MEANWHILE = "Somebody typed or stored something here meanwhile; look at what is new, then say yes."


@dataclass(frozen=True)
class StoredVerdict:
    """A verdict as it was stored, with the names of its rework operations.

    `look` says why it is looked at again: drawn, undecided, or ""; `stamped` what lacked behind its
    crack results.
    """

    tag: str
    verdict: Verdict
    operations: tuple[str, ...]
    look: str = ""
    stamped: str = ""


def store_in(
    writer: Writer, tag: str, seen: str, now: datetime, *, unfinished: bool = False
) -> StoredVerdict:
    """Store what is typed of a core and the verdict it leads to, inside the caller's transaction.

    `seen` is what the person had before them (empty: not told); Changed when it is no longer so.
    `unfinished` stores an inspection that was broken off: the core stays open.
    """
    sitting = sitting_of(writer, tag)
    if not sitting.can_be_inspected or not sitting.hand.entries:
        raise NotAllowed(f"Nothing is typed of core {show_tag(tag)} that could be stored.")
    if seen and seen != sitting.seen:
        raise Changed(MEANWHILE)
    if sitting.hand.asked is not None:
        raise NotAllowed("A reading was asked back; answer that first.")
    if not sitting.decided and not unfinished:
        names = ", ".join(check.name for check in sitting.waiting)
        raise NotAllowed(f"Not measured yet: {names}.")
    zone = writer.get("shop", "shop").time_zone
    readings = readings_of(sitting, writer.by)
    refuse_same_eyes(sitting, readings, writer.by)
    stamped = stamps_behind(sitting)
    decided = inspect(
        writer,
        Bench(writer),
        tag,
        sitting.observations,
        readings,
        inspector=writer.by,
        at=now,
        day=shop_day(now, zone),
        stopped=bool(sitting.waiting) and not unfinished,
        withdrawn=[asdict(e) for e in (*sitting.hand.withdrawn, *sitting.hand.aside)],
        plan=sitting.plan,
        stamped=stamped,
    )
    drop_hand(writer, tag)
    names_of = {operation.code: operation.name for operation in sitting.plan.operations}
    named = tuple(names_of[code] for code in decided.operations)
    return StoredVerdict(tag, decided, named, draw(writer, tag, decided), stamped)


def readings_of(sitting: Sitting, inspector: str) -> list[Reading]:
    """Return what is typed at a sitting as readings, those of others with their names."""
    places: Counter[str] = Counter()
    readings = []
    for entry in sitting.hand.entries:
        places[entry.check] += 1
        readings.append(
            Reading(
                check=entry.check,
                place=places[entry.check],
                typed=entry.typed,
                value=entry.value,
                result=entry.result,
                gauge=entry.gauge,
                overdue=entry.overdue,
                at=entry.at,
                by="" if entry.by == inspector else entry.by,
                detail=entry.detail,
                crack=entry.crack,
                stamps=entry.stamps,
            )
        )
    return readings


def overrule(
    tag: str,
    to: str,
    reason: str,
    operations: tuple[str, ...] = (),
    *,
    role: str,
    by: str,
    station: str,
    now: datetime,
    key: str,
) -> str:
    """Let the owner change a stored verdict for good, with a reason; a crack never.

    `to` may also be "measure again": the body is inspected anew from the first check on. Returns
    what was done in a sentence. Forbidden for any other role.
    """

    def act(writer: Writer) -> dict[str, Any]:
        if to == MEASURE_AGAIN:
            reopen_in(writer, tag, reason, role=role)
            said = f"Core {show_tag(tag)} is open again: it waits for the bench, every check anew."
            return {"said": said}
        core = override_in(writer, tag, to, reason, role=role, operations=operations)
        return {"said": f"Core {show_tag(tag)} is {core.grade} now, by the owner."}

    return str(act_once("overrule", key, act, by=by, station=station, now=now)["said"])
