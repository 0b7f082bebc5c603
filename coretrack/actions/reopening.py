"""A stored verdict opened again for inspection by the owner: every check is done anew.

The way out of a slip of the finger, and of a verdict that nobody trusts any more. Nothing is taken
out of the history, and no body lives by it: it waits for the bench with nothing found yet.
"""

from __future__ import annotations

from coretrack.actions import look_records
from coretrack.actions.inspecting import Bench, judged_with
from coretrack.errors import Forbidden, InvalidInput, NotAllowed
from coretrack.figures.lifecycle import CoreFacts
from coretrack.figures.tags import show_tag
from coretrack.records.writer import Writer

MEASURE_AGAIN = "measure again"
"""What the owner overrules a verdict to so that the body is inspected again."""


def reopen_in(writer: Writer, tag: str, reason: str, *, role: str) -> CoreFacts:
    """Open a stored verdict again inside the caller's transaction; return the core.

    Forbidden for anybody but the owner, InvalidInput without a reason, NotAllowed past a crack.
    What was posted for its scrap is taken back; what its readings said stays in the history.
    """
    if role != "owner":
        raise Forbidden("Only the owner can open a verdict again.")
    if not reason.strip():
        needed = "say why it is measured again; it stays in the history for good"
        raise InvalidInput("To open a verdict again needs a reason.", {"reason": needed})
    core: CoreFacts = writer.get("core", tag)
    _refuse_cracked(writer, core)
    costs = {}
    if core.state == "scrapped":
        costs = {part: -getattr(core, part) for part in ("recovery", "disposal")}
    detail = {"was": core.grade, "costs": costs}
    after: CoreFacts = writer.event("core", tag, "reopened", detail, why=reason.strip())
    look_records.drop(writer, tag, "opened again before anybody looked")
    return after


def _refuse_cracked(writer: Writer, core: CoreFacts) -> None:
    """Raise NotAllowed when an indication was found: no look after it makes that unseen."""
    if not core.findings:
        return
    _, decided = judged_with(Bench(writer).plan_for(core), core, ())
    for judgement in decided.judgements:
        if judgement.kind == "crack" and judgement.outcome == "discard":
            raise NotAllowed(
                f"A crack is never overruled. {judgement.sentence}: core {show_tag(core.tag)} "
                "stays scrapped."
            )
