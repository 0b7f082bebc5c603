"""The core in hand: told bit by bit, judged by the rules before it is stored, stored with one yes.

Every function is one transaction. The core in hand is a draft of its own for each delivery and
person, so two clerks can work on one delivery.
"""

from __future__ import annotations

import json
from dataclasses import asdict, replace
from datetime import datetime
from typing import Any

from coretrack.actions import storing, undoing
from coretrack.actions.acting import act_once
from coretrack.actions.delivery_views import CoreChange, Proposal, Stored, Undone
from coretrack.actions.hands import Hand, changed_hand, drop_hand, hand_of, keep_hand, new_hand
from coretrack.actions.proposals import Judging, delivery_of
from coretrack.errors import InvalidInput, NotAllowed
from coretrack.figures.lifecycle import CoreFacts
from coretrack.figures.part_numbers import match_key
from coretrack.records import queries
from coretrack.records.core_queries import answer_given
from coretrack.records.database import connection, snapshot
from coretrack.records.happenings import first_detail
from coretrack.records.writer import Writer


def change(
    delivery: str, told: CoreChange, *, by: str, station: str, now: datetime, key: str = ""
) -> None:
    """Change what is told of the core in hand; a first change takes a core into the hand.

    InvalidInput or NotAllowed names the field that cannot be used; nothing is changed then.
    """

    def act(writer: Writer) -> dict[str, Any]:
        change_in(writer, delivery, told, now)
        return {}

    act_once("in hand", key, act, by=by, station=station, now=now)


def change_in(writer: Writer, delivery: str, told: CoreChange, now: datetime) -> Hand:
    """Change the writer's core in hand inside the caller's transaction and return it."""
    lot = delivery_of(writer, delivery)
    hand = hand_of(delivery, writer.by) or new_hand(delivery, writer.by, lot.basis)
    after = changed_hand(hand, told)
    judging = Judging(writer, lot, now, hold=True)
    if after.serial != hand.serial:
        # The hand keeps what was typed; the proposal says that it cannot be taken and what to do.
        refused = hand.refused_serial if not after.serial else ""
        refused = after.serial if after.serial and judging.seen_before(after) else refused
        after = replace(after, refused_serial=refused)
    if not after.tag and lot.status != "open":
        raise NotAllowed(f"Delivery {delivery} is not open; reopen it to take in more cores.")
    if after.faults and (told.faults is not None or told.number is not None):
        after = replace(after, faults=_checked_faults(judging, hand, after))
    keep_hand(writer, after)
    return after


def _known_faults(judging: Judging, hand: Hand) -> set[str]:
    """Return the codes of the faults that the sale or the family of the core knows."""
    judged = judging.judge(hand)
    if judged.number is None:
        return set()
    family = judging.catalogue.family(judged.number.family)
    present = judging.catalogue.faults(family.key, family.criteria_version)
    return {fault.code for fault in (*judging.faults(judged), *present)}


def _checked_faults(judging: Judging, before: Hand, after: Hand) -> tuple[str, ...]:
    """Return the ticked faults; another number may be of a family that does not have them all.

    InvalidInput for a fault that was ticked for the very number in hand and is none of its own.
    """
    known = _known_faults(judging, after)
    if after.number_text != before.number_text and before.named:
        return tuple(code for code in after.faults if code in known)
    wrong = [code for code in after.faults if code not in known]
    if wrong and not known:
        raise InvalidInput("Say the number first; its family has the faults.", {"faults": "number"})
    if wrong:
        raise InvalidInput(
            f"The family of this core has no acceptance fault '{wrong[0]}'; it has: "
            f"{', '.join(sorted(known))}.",
            {"faults": wrong[0]},
        )
    return after.faults


def proposal(delivery: str, *, by: str, now: datetime) -> Proposal | None:
    """Return what the rules say of the core in the person's hand, None when there is none."""
    with snapshot():
        writer = Writer(by, now)
        hand = hand_of(delivery, by)
        if hand is None:
            return None
        return Judging(writer, delivery_of(writer, delivery), now, hold=False).proposal(hand)


def store(
    delivery: str,
    *,
    seen: str,
    by: str,
    station: str,
    now: datetime,
    key: str = "",
    unjudged: bool = False,
) -> Stored:
    """Store the core in hand as it was proposed.

    `seen` is the fingerprint of the proposal the person said yes to. Changed (a Conflict) when the
    rules say something else by now: it tells who changed what, the core stays in hand and nothing
    is stored. An empty `seen` (scans that waited out an outage) lets only a clean full acceptance
    on a single line through. `unjudged` takes the core in without judging it.
    """

    def act(writer: Writer) -> dict[str, Any]:
        return asdict(storing.store_in(writer, delivery, seen, now, unjudged=unjudged))

    return stored_from(act_once("store", key, act, by=by, station=station, now=now))


def stored_earlier(key: str, number: str, serial: str) -> Stored | None:
    """Return what the form with this key stored before, if it told this number and serial.

    A form that was sent, gone back to and changed tells another core: it is no repetition.
    """
    if not key:
        return None
    with connection():
        told = answer_given(f"store:{key}")
        stored = stored_from(json.loads(told)) if told else None
        core = queries.core(stored.tag) if stored else None
    same = core is not None and core.serial == serial.strip()
    if core is None or not same or match_key(core.number) != match_key(number.strip()):
        return None
    return stored


def stored_from(told: dict[str, Any]) -> Stored:
    """Return the answer that was kept as plain values."""
    return Stored(**{**told, "print_tags": tuple(told["print_tags"])})


def undo_last(
    delivery: str,
    *,
    by: str,
    station: str,
    now: datetime,
    key: str = "",
    drop_in_hand: bool = False,
) -> Undone:
    """Take back what the person stored last in this delivery; it lies in the hand again.

    NotAllowed once it was inspected, credited away, changed by somebody else or the delivery was
    closed, and while another core is in hand, unless that one may be dropped.
    """

    def act(writer: Writer) -> dict[str, Any]:
        return asdict(undoing.undo_in(writer, delivery, now, drop_in_hand=drop_in_hand))

    return Undone(**act_once("undo", key, act, by=by, station=station, now=now))


def drop(
    delivery: str, *, by: str, station: str, now: datetime, of: str = "", key: str = ""
) -> bool:
    """Let the core in hand go, its photos too; nothing of it was stored. Whether there was one.

    `of` names somebody else who left a core in hand: without it nobody could close the delivery.
    """

    def act(writer: Writer) -> dict[str, Any]:
        return {"dropped": drop_hand(writer, delivery, of or by)}

    return bool(act_once("drop", key, act, by=by, station=station, now=now)["dropped"])


def judge_core(tag: str, *, by: str, station: str, now: datetime, key: str = "") -> str:
    """Take a core that is in the house into the hand to judge it; return its delivery.

    It has to be counted or unknown. What was noted when it came in is filled in.
    """

    def act(writer: Writer) -> dict[str, Any]:
        return {"delivery": judge_in(writer, tag)}

    return str(act_once("judge", key, act, by=by, station=station, now=now)["delivery"])


def judge_in(writer: Writer, tag: str) -> str:
    """Take a core in the house into the writer's hand, inside the caller's transaction."""
    core: CoreFacts = writer.get("core", tag)
    if core.state not in ("counted", "unknown") or core.stream == "purchase":
        raise NotAllowed(
            f"{core.called}: {core.state_words}; only a returned core that was not "
            "judged yet is judged here."
        )
    delivery_of(writer, core.lot)
    held = hand_of(core.lot, writer.by)
    if held is not None and held.tag != tag:
        raise NotAllowed(f"Another core of {core.lot} is in your hand; store or put it back first.")
    if held is None:
        keep_hand(writer, _noted(core, writer.by))
    return core.lot


def _noted(core: CoreFacts, person: str) -> Hand:
    came = first_detail("core", core.tag)
    return Hand(
        core.lot,
        person,
        comeback=core.stream == "comeback",
        number_text="" if came.get("illegible") and not core.family else core.number,
        illegible=bool(came.get("illegible")) and not core.family,
        serial=core.serial,
        invoice=came.get("invoice", ""),
        faults=tuple(came.get("faults_seen", ())),
        place=core.place,
        tag=core.tag,
    )


def identify_core(
    tag: str, number: str, *, by: str, station: str, now: datetime, key: str = ""
) -> CoreFacts:
    """Say which number an unknown core carries; a returned one still has to be judged.

    NotFound when no core group has the number.
    """

    def act(writer: Writer) -> dict[str, Any]:
        storing.identify_in(writer, tag, number, now)
        return {}

    act_once("identify", key, act, by=by, station=station, now=now)
    with connection():
        core = queries.core(tag)
    if core is None:
        raise NotAllowed(f"There is no core '{tag}'.")
    return core
