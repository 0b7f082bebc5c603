"""Which stored verdicts are looked at again: drawn by lot at the shop's share, or undecided ones.

The lot is drawn in the verdict's own transaction by the computer's source of secrets, so that
nobody, the inspector at the body least of all, can know before what will be drawn; a verdict
cannot be stored twice to draw again. What was drawn stands in the look's history.
"""

from __future__ import annotations

from secrets import randbelow

from coretrack.actions import look_records
from coretrack.actions.bench_sitting import Sitting
from coretrack.actions.inspecting import Reading, undecided_checks
from coretrack.errors import NotAllowed
from coretrack.figures.agreement import GRADES
from coretrack.figures.grading import Verdict
from coretrack.figures.lifecycle import CoreFacts
from coretrack.figures.second_looks import PARTS, is_drawn
from coretrack.figures.trade_objects import Shop
from coretrack.records.writer import Writer

DRAWN, UNDECIDED = "drawn", "undecided"


def draw(writer: Writer, tag: str, decided: Verdict) -> str:
    """Note whether the verdict just stored is looked at again; return why, "" for not."""
    core: CoreFacts = writer.get("core", tag)
    if decided.grade == "undecided":
        look_records.want(writer, core, UNDECIDED)
        return UNDECIDED
    shop: Shop = writer.get("shop", "shop")
    if decided.grade not in GRADES or not is_drawn(0, shop.second_look_percent):
        return ""
    number = randbelow(PARTS)
    if not is_drawn(number, shop.second_look_percent):
        return ""
    share = f"{shop.second_look_percent} percent"
    look_records.want(writer, core, DRAWN, f"number {number} of {PARTS} drawn at {share}")
    return DRAWN


def refuse_same_eyes(sitting: Sitting, readings: list[Reading], inspector: str) -> None:
    """Raise NotAllowed when the same person settles with the same gauge what was undecided.

    Measuring again until a reading falls on the right side would prove nothing.
    """
    if sitting.core.state != "undecided" or sitting.verdict.grade not in ("keep", "rework"):
        return
    unsettled = undecided_checks(sitting.plan, sitting.core)
    told = [reading.as_detail() for reading in readings]
    same = look_records.same_eyes(sitting.core.tag, unsettled, told, inspector)
    if same:
        checks = [sitting.plan.check(code) for code in same]
        names = ", ".join(check.name for check in checks)
        of_them = [reading for reading in readings if reading.check in same]
        who = ", ".join(dict.fromkeys(reading.by or inspector for reading in of_them))
        if checks[0].numeric:
            because = f"{who} measured it again with the same gauge: another one or another person"
        else:
            because = f"{who} looked at it again: another person"
        raise NotAllowed(
            f"{names} was undecided, and {because} has to. Everything typed stays here for them."
        )
