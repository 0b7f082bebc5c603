"""Undo at the dock: what a person stored last is taken back by events that reverse it.

Nothing is deleted. A core that was taken in leaves the books as "taken back" and its tag is not
used again; a judgement made later on is "unjudged". What was typed lies in the hand again.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace
from datetime import datetime
from typing import Any

from coretrack.actions.delivery_views import DONE_WORDS, Undone
from coretrack.actions.hands import Hand, drop_hand, hand_of, keep_hand
from coretrack.actions.judged import ONLY_LATE
from coretrack.actions.proposals import delivery_of
from coretrack.actions.typed_fields import kilograms
from coretrack.errors import NotAllowed
from coretrack.figures.lifecycle import CoreFacts
from coretrack.figures.tags import show_tag
from coretrack.figures.trade_objects import Lot
from coretrack.records import photos
from coretrack.records.happenings import Happened, history_of_cores
from coretrack.records.times import to_text
from coretrack.records.writer import Writer

TAKEN_IN, JUDGED_LATER = "core", "judgement"


@dataclass(frozen=True)
class Act:
    """Something done to a core that can be taken back: taking it in, or judging it later on."""

    what: str
    tag: str
    by: str
    number: int
    received: Happened
    accepted: Happened | None

    @property
    def words(self) -> str:
        """Return the act in words, for the button that takes it back."""
        outcome = self.accepted.detail["outcome"] if self.accepted else "counted"
        if self.accepted and self.accepted.detail.get("refused"):
            outcome = "refuse"
        if self.accepted is None and not self.received.detail["family"]:
            outcome = "unknown"
        number = self.received.detail["number"]
        core = f"core {show_tag(self.tag)}{f' ({number})' if number else ''}"
        word = DONE_WORDS[outcome].lower()
        return f"{core}, {word}" if self.what == TAKEN_IN else f"judging {core}: {word}"


def acts_of(events: Iterable[Happened]) -> dict[str, list[Act]]:
    """Return per core what was done to it at the dock and still stands, oldest first."""
    stacks: dict[str, list[Act]] = {}
    for event in events:
        stack = stacks.setdefault(event.key, [])
        if event.event == "received":
            stack.append(Act(TAKEN_IN, event.key, event.by, event.number, event, None))
        elif event.event == "accepted" and stack:
            first = stack[0]
            if event.detail.get("later"):
                who = (event.key, event.by, event.number)
                stack.append(Act(JUDGED_LATER, *who, first.received, event))
            else:
                stack[0] = Act(TAKEN_IN, first.tag, first.by, first.number, first.received, event)
        elif event.event == "unjudged" and len(stack) > 1:
            stack.pop()
        elif event.event == "taken back":
            stack.clear()
    return {tag: stack for tag, stack in stacks.items() if stack}


def last_act(events: Iterable[Happened], person: str) -> tuple[Act | None, Act | None]:
    """Return what a person did last that still stands, and what somebody did upon it since."""
    stacks = acts_of(events)
    mine = [act for stack in stacks.values() for act in stack if act.by == person]
    if not mine:
        return None, None
    last = max(mine, key=lambda act: act.number)
    top = stacks[last.tag][-1]
    return last, None if top == last else top


def undo_words(lot: Lot, events: Iterable[Happened], person: str) -> tuple[str, str]:
    """Return what the person can take back in words, or why nothing can be taken back."""
    act, above = last_act(events, person)
    if act is None:
        return "", f"{person} has stored nothing in this delivery."
    if lot.status != "open":
        return "", f"Delivery {lot.key} is not open; reopen it first."
    if above is not None:
        return "", _judged_since(act, above)
    return act.words, ""


def undo_in(writer: Writer, delivery: str, now: datetime, *, drop_in_hand: bool = False) -> Undone:
    """Take back what the writer's person stored last, inside the caller's transaction."""
    lot = delivery_of(writer, delivery)
    act, above = last_act(history_of_cores(delivery), writer.by)
    if act is None:
        raise NotAllowed(f"There is nothing to undo: {writer.by} has stored nothing here.")
    if lot.status != "open":
        raise NotAllowed(f"Delivery {delivery} is not open; reopen it to undo what was stored.")
    if above is not None:
        raise NotAllowed(_judged_since(act, above))
    core: CoreFacts = writer.get("core", act.tag)
    if core.acceptance == "bought":
        raise NotAllowed(f"{core.called} was bought meanwhile; it cannot be undone at the dock.")
    empty = Hand(delivery, writer.by)
    held = hand_of(delivery, writer.by) or empty
    if replace(held, comeback=False) != empty or photos.photos_of("draft", held.key):
        if not drop_in_hand:
            what = held.number_text or "one without a number yet"
            raise NotAllowed(
                f"Another core is in hand ({what}); store it or put it back, then undo.",
                {"in hand": "store it or put it back first"},
            )
        drop_hand(writer, delivery)
    hand = _as_typed(act, core, delivery)
    _reverse(writer, lot, act, core)
    keep_hand(writer, hand)
    return Undone(act.what, act.tag, _said(act))


def _judged_since(act: Act, above: Act) -> str:
    return (
        f"Core {show_tag(act.tag)} was judged later by {above.by}; that has to be undone first, "
        f"by {above.by}."
    )


def _reverse(writer: Writer, lot: Lot, act: Act, core: CoreFacts) -> None:
    """Write the events that take the act back; the rules refuse what is settled already."""
    event = "taken back" if act.what == TAKEN_IN else "unjudged"
    writer.event("core", act.tag, event, {})
    if core.line and core.acceptance in ("accept", "part credit"):
        told = {"tag": act.tag, "credit": core.credit}
        writer.event("line", core.line, "uncredited", told)
    elif core.line and core.acceptance == "refuse":
        writer.event("line", core.line, "unrefused", {"tag": act.tag, "credit": 0})
    if act.what == TAKEN_IN:
        writer.event("lot", lot.key, "set", {"pieces": lot.pieces - 1})
    if act.what == TAKEN_IN:
        _photos_back(writer, act.tag, lot.key)


def _photos_back(writer: Writer, tag: str, delivery: str) -> None:
    """Let the core in hand have the photos again; the core taken back keeps its own as proof."""
    draft = Hand(delivery, writer.by).key
    for each in photos.photos_of("core", tag):
        content = photos.content_of(each.id)
        if content is not None:
            photos.keep(
                "draft",
                draft,
                content,
                sha256=each.sha256,
                what=each.what,
                at=to_text(writer.at),
                by=writer.by,
                size=(each.width, each.height),
            )


def _as_typed(act: Act, core: CoreFacts, delivery: str) -> Hand:
    """Return the core as it was told before it was stored."""
    came = act.received.detail
    judged: dict[str, Any] = dict(act.accepted.detail) if act.accepted else {}
    refusal = judged.get("refusal") or came.get("refusal_seen", "")
    no_photo = judged.get("no_photo") or came.get("no_photo", "")
    illegible = bool(came.get("illegible")) and act.what == TAKEN_IN
    return Hand(
        delivery,
        act.by,
        comeback=core.stream == "comeback",
        number_text="" if illegible else core.number,
        illegible=illegible,
        serial=core.serial or came.get("serial_told", ""),
        invoice=came.get("invoice", ""),
        line=judged.get("line", "") if judged.get("chosen") else "",
        faults=(*judged.get("faults", ()), *came.get("faults_seen", ())),
        refuse=bool(refusal or judged.get("refused")),
        refusal=refusal,
        no_photo="" if no_photo == ONLY_LATE else no_photo,
        mass=kilograms(came["mass_g"]) if came.get("mass_g") else "",
        place=core.place,
        note=judged.get("note") or came.get("note", ""),
        tag="" if act.what == TAKEN_IN else act.tag,
        no_serial=bool(came.get("no_serial")),
    )


def _said(act: Act) -> str:
    if act.what == TAKEN_IN:
        return (
            f"Taken back: {act.words}. Throw its label away: the tag {show_tag(act.tag)} is void. "
            "What was typed is in hand again."
        )
    return f"Taken back: {act.words}. It waits to be judged again."
