"""A core in hand is stored: judged once more, tagged, credited or refused, its photos with it."""

from __future__ import annotations

from datetime import datetime
from typing import Any
from zoneinfo import ZoneInfo

from coretrack.actions import drafts
from coretrack.actions.acting import Changed
from coretrack.actions.delivery_views import DONE_WORDS, TONES, Proposal, Stored
from coretrack.actions.fingerprints import same_decision
from coretrack.actions.fingerprints import seen as taken_apart
from coretrack.actions.hands import Hand, hand_of
from coretrack.actions.judged import ONLY_LATE, Judged
from coretrack.actions.lookups import Catalogue
from coretrack.actions.photos import move_draft_photos
from coretrack.actions.proposals import Judging, delivery_of
from coretrack.actions.typed_fields import grams
from coretrack.errors import NotAllowed, NotFound
from coretrack.figures.lifecycle import CoreFacts
from coretrack.figures.money import shown
from coretrack.figures.tags import show_tag
from coretrack.records.happenings import last_of
from coretrack.records.writer import Writer

ILLEGIBLE = "illegible"
"""What stands as the number of a core whose number cannot be read."""


def store_in(
    writer: Writer, delivery: str, seen: str, now: datetime, *, unjudged: bool = False
) -> Stored:
    """Store the writer's core in hand inside the caller's transaction.

    Everything is asked before anything is written: whatever is raised leaves the draft as it was.
    """
    lot = delivery_of(writer, delivery)
    hand = hand_of(delivery, writer.by)
    if hand is None:
        raise NotAllowed("No core is in hand; scan or type its number first.")
    judging = Judging(writer, lot, now, hold=True)
    proposal = judging.proposal(hand)
    judged = judging.judge(hand)
    if unjudged:
        _refuse_unjudged(hand, judged, proposal)
    elif proposal.needs:
        need = proposal.needs[0]
        raise NotAllowed(need.text, {each.field: each.text for each in proposal.needs})
    else:
        _check_seen(judging, judged, proposal, seen)
    tag = hand.tag or judging.desk.take_tags(1)[0]
    if not hand.tag:
        _receive(judging, judged, tag, unjudged)
        writer.event("lot", lot.key, "set", {"pieces": lot.pieces + 1})
    elif not judging.core(hand).family:
        identify_in(writer, tag, hand.number_text, now)
    if judged.offered and judged.judgement and not unjudged:
        judging.dock.store(tag, judged.offered, judged.judgement, at=now, more=_more(judged))
    if hand.place and hand.place != writer.get("core", tag).place:
        writer.event("core", tag, "put", {"place": hand.place})
    labels = writer.get("core", tag).labels
    move_draft_photos(writer, hand.key, tag)
    drafts.drop_draft(writer, hand.key)
    outcome = "counted" if unjudged else proposal.outcome
    return _stored(judging, tag, outcome, proposal, print_label=not hand.tag or not labels)


def identify_in(writer: Writer, tag: str, number: str, now: datetime) -> CoreFacts:
    """Let an unknown core be identified inside the caller's transaction."""
    found = Catalogue(writer).number(number) if number.strip() else None
    if found is None:
        raise NotFound(f"No core group has the number '{number}'; add it to its family first.")
    detail = {"family": found.family, "core_group": found.core_group, "number": found.shown}
    facts: CoreFacts = writer.event("core", tag, "identified", detail, at=now)
    return facts


def _refuse_unjudged(hand: Hand, judged: Judged, proposal: Proposal) -> None:
    """Raise NotAllowed unless the core can be taken in without judging it."""
    if hand.tag:
        raise NotAllowed(
            f"Core {show_tag(hand.tag)} is in the house already; it only waits to be judged."
        )
    if judged.number is None and hand.named:
        raise NotAllowed("An unknown core waits to be judged as it is; store it.")
    stops = [need for need in proposal.needs if need.field not in ("photo", "refusal")]
    if stops:
        raise NotAllowed(stops[0].text, {need.field: need.text for need in stops})


def _check_seen(judging: Judging, judged: Judged, proposal: Proposal, seen: str) -> None:
    """Raise Changed unless the person saw this proposal, or need not have seen it."""
    if not seen:
        if not _is_clean(judged, proposal):
            raise Changed(
                f"Look at this core first: {proposal.sentence} Nothing was stored; it is in hand."
            )
        return
    if same_decision(seen, proposal.fingerprint):
        return
    raise Changed(_what_changed(judging, proposal, seen))


def _is_clean(judged: Judged, proposal: Proposal) -> bool:
    """Return whether nobody could want to look: full credit, one line only, nothing noted."""
    return (
        proposal.outcome == "accept"
        and len(proposal.arithmetic) == 1
        and not proposal.others
        and not judged.notes
        and not judged.hand.no_serial
    )


def _what_changed(judging: Judging, proposal: Proposal, seen: str) -> str:
    """Return what is new since the person looked, and who did it."""
    before = taken_apart(seen)
    if before is None:
        return f"This is proposed now: {proposal.sentence} Nothing was stored; look and say yes."
    was = DONE_WORDS.get(before.outcome, before.outcome or "nothing")
    on = f" on line {before.line}" if before.line else ""
    parts = [f"Changed meanwhile: you saw {was} {shown(before.credit)}{on}."]
    last = last_of("line", before.line) if before.line else None
    if last is not None:
        zone = ZoneInfo(judging.catalogue.shop.time_zone)
        tag = last.detail.get("tag", "")
        what = f"core {show_tag(tag)} {last.event}" if tag else last.event
        parts.append(
            f"{last.by} at {last.moment.astimezone(zone):%H:%M}: {what} on line {before.line}."
        )
    parts.append(f"Now: {proposal.sentence} Nothing was stored; the core is still in hand.")
    return " ".join(parts)


def _receive(judging: Judging, judged: Judged, tag: str, unjudged: bool) -> None:
    hand, lot = judged.hand, judging.lot
    comeback = judging.is_comeback(hand)
    own = judging.catalogue.comeback_source() if comeback else None
    judgement = judged.judgement if not unjudged else None
    line = judgement.line if judgement else None
    # A core that is not judged yet keeps what was seen on it for the one who will.
    told = bool(line or (judgement and judgement.refused_excess))
    judging.desk.receive(
        tag,
        stream="comeback" if comeback else "return",
        lot=lot.key,
        source=(own or judging.source).key,
        number=judged.number,
        number_text=ILLEGIBLE if hand.illegible else hand.number_text,
        serial="" if hand.no_serial else judging.desk.check_serial(hand.serial),
        day=judging.received,
        costs={},
        extra={
            "note": hand.note,
            "invoice": hand.invoice,
            "customer": line.customer if line else judging.source.key,
            "arrived": judging.arrived.isoformat(),
            "mass_g": grams(hand.mass) if hand.mass else None,
            "illegible": hand.illegible,
            "faults_seen": [] if told else list(hand.faults),
            "refusal_seen": "" if told else hand.refusal,
            "no_photo": "" if told else hand.no_photo,
            **_without_serial(judging, hand),
        },
        at=judging.now,
    )


def _without_serial(judging: Judging, hand: Hand) -> dict[str, Any]:
    """Return what is noted of a core that a person takes in without a serial."""
    if not hand.no_serial:
        return {}
    return {
        "no_serial": True,
        "serial_told": hand.serial or hand.refused_serial,
        "serial_warning": judging.seen_before(hand),
    }


def _more(judged: Judged) -> dict[str, Any]:
    """Return what is noted with a judgement beside its outcome."""
    hand = judged.hand
    why_none = hand.no_photo
    if judged.outcome in ("refuse", "part credit") and judged.only_late and not why_none:
        why_none = ONLY_LATE
    told = {
        "refusal": hand.refusal if hand.refuse else "",
        "refused": bool(judged.judgement and judged.judgement.refused_excess),
        "no_photo": why_none,
        "chosen": bool(hand.line),
        "later": bool(hand.tag),
        "note": hand.note if hand.tag else "",
    }
    return {name: value for name, value in told.items() if value}


def _stored(
    judging: Judging, tag: str, outcome: str, proposal: Proposal, *, print_label: bool
) -> Stored:
    said = proposal.sentence if outcome != "counted" else "Taken in; it waits to be judged."
    credited = outcome in ("accept", "part credit")
    return Stored(
        tag=tag,
        outcome=outcome,
        word=DONE_WORDS[outcome],
        tone=TONES[outcome],
        amount=proposal.credit if credited else 0,
        line=proposal.line.key if proposal.line and outcome != "counted" else "",
        sentence=f"Core {show_tag(tag)}: {said}",
        hold_until=proposal.hold_until if outcome == "refuse" else "",
        after_teardown=proposal.after_teardown and credited,
        print_tags=(tag,) if print_label else (),
    )
