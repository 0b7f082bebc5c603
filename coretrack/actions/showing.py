"""A delivery as its page shows it: put together from the lot, its cores, drafts and history."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime
from zoneinfo import ZoneInfo

from coretrack.actions.delivery_views import (
    DONE_WORDS,
    TONES,
    AtWork,
    CoreInHand,
    CoreShown,
    DeliveryView,
    FaultTick,
    OutcomeTotal,
)
from coretrack.actions.dock import lines_of_invoice
from coretrack.actions.hands import Hand, hand_of, new_hand, place_words
from coretrack.actions.judged import COMPLAINT
from coretrack.actions.line_words import line_shown
from coretrack.actions.photos import count_draft_photos
from coretrack.actions.proposals import Judging
from coretrack.actions.undoing import undo_words
from coretrack.figures.core_story import outcome_of
from coretrack.figures.credits import effect_words
from coretrack.figures.lifecycle import CoreFacts
from coretrack.figures.plain_words import are
from coretrack.figures.tags import make_shop_code
from coretrack.figures.trade_objects import Lot
from coretrack.records import queries
from coretrack.records.delivery_queries import people_here
from coretrack.records.drafts import beginning
from coretrack.records.happenings import Happened, history, history_of_cores
from coretrack.records.writer import Writer


def view_of(writer: Writer, lot: Lot, now: datetime) -> DeliveryView:
    """Return the page of a delivery for the writer's person."""
    judging = Judging(writer, lot, now, hold=False)
    zone = judging.catalogue.zone
    cores = [core for core in queries.cores_of_lot(lot.key) if core.state != "taken back"]
    happened = history_of_cores(lot.key)
    own = history("lot", lot.key)
    opened = own[0]
    hand = _hand(lot, writer.by)
    owed = queries.open_lines(lot.source)
    undo, why_no_undo = undo_words(lot, happened, writer.by)
    shown = _shown(writer, cores, happened, zone)
    return DeliveryView(
        code=lot.key,
        barcode=barcode(lot.key),
        status=lot.status,
        customer=lot.source,
        customer_name=judging.source.name,
        reference=lot.reference,
        carrier=lot.carrier,
        arrived_on=lot.arrived_on,
        received_on=lot.received_on,
        goods=lot.basis,
        note=lot.note,
        opened_by=opened.by,
        opened_at=f"{opened.moment.astimezone(zone):%Y-%m-%d %H:%M}",
        counted=lot.counted,
        counted_by=_counted_by(own),
        taken=lot.pieces,
        left=lot.counted - lot.pieces,
        not_judged=sum(core.state in ("counted", "unknown") for core in cores),
        difference_by=lot.difference_by,
        photos=lot.photos,
        currency=judging.catalogue.shop.currency,
        credited=sum(core.credit for core in cores),
        totals=_totals(shown),
        cores=shown,
        in_hand=in_hand(judging, hand) if hand else None,
        proposal=judging.proposal(hand) if hand else None,
        owed=tuple(line_shown(line, judging.arrived, lot.source) for line in owed),
        at_work=_at_work(lot, writer.by, zone),
        undo=undo,
        why_no_undo=why_no_undo,
        people=tuple(people_here()),
        notes=(*_opening_notes(lot, opened), *_notes(judging, lot)),
        may_give_up=lot.status == "open" and not lot.pieces and not beginning(f"core/{lot.key}/"),
    )


def in_hand(judging: Judging, hand: Hand) -> CoreInHand:
    """Return the core in hand for the page."""
    judged = judging.judge(hand)
    number = judged.number
    currency, photos = judging.catalogue.shop.currency, judging.photos(hand)
    ticks = tuple(
        FaultTick(
            position=place,
            code=fault.code,
            name=fault.name,
            words=effect_words(fault, currency),
            times=hand.faults.count(fault.code),
            each=fault.each,
        )
        for place, fault in enumerate(judging.faults(judged), start=1)
    )
    return CoreInHand(
        delivery=hand.delivery,
        person=hand.person,
        draft_key=hand.key,
        comeback=True if judging.is_comeback(hand) else hand.comeback,
        number_text=hand.number_text,
        illegible=hand.illegible,
        number=number.shown if number else "",
        number_kind=number.kind if number else "",
        core_group=number.core_group if number else "",
        group_name=number.group_name if number else "",
        family=number.family if number else "",
        family_name=judging.catalogue.family(number.family).name if number else "",
        superseded_by=number.superseded_by if number else "",
        serial=hand.serial,
        invoice=hand.invoice,
        line=hand.line,
        faults=ticks,
        refuse=hand.refuse,
        refusal=hand.refusal,
        no_photo=hand.no_photo,
        mass=hand.mass,
        place=hand.place,
        place_name=place_words(judging.writer, hand.place),
        note=hand.note,
        tag=hand.tag,
        photos=photos,
        no_serial=hand.no_serial,
        ask_note=COMPLAINT if judging.is_comeback(hand) else "",
        offer_photo=hand.named and number is None and not photos,
    )


def barcode(code: str) -> str:
    """Return the shop code that stands for a delivery on paper, empty for one in by file."""
    digits = code.removeprefix("D-")
    own = code.startswith("D-") and digits.isascii() and digits.isdigit() and len(digits) <= 7
    return make_shop_code("lot", int(digits)) if own else ""


def _hand(lot: Lot, person: str) -> Hand | None:
    """Return what the person has in hand; a photo alone counts as a core in hand too."""
    hand = hand_of(lot.key, person)
    if hand is None and lot.status == "open":
        empty = new_hand(lot.key, person, lot.basis)
        return empty if count_draft_photos(empty.key) else None
    return hand


def _counted_by(own: Sequence[Happened]) -> str:
    counts = [event for event in own if event.detail.get("counted")]
    return counts[-1].why if counts else ""


def _shown(
    writer: Writer, cores: Sequence[CoreFacts], happened: Sequence[Happened], zone: ZoneInfo
) -> tuple[CoreShown, ...]:
    judged = {event.key: event for event in happened if event.event in ("received", "accepted")}
    why = {event.key: event.why for event in happened if event.event in ("accepted", "held")}
    return tuple(
        CoreShown(
            tag=core.tag,
            number=core.number,
            serial=core.serial,
            family=core.family,
            outcome=shown_outcome(core),
            word=DONE_WORDS.get(shown_outcome(core), shown_outcome(core).upper()),
            tone=TONES.get(shown_outcome(core), "note"),
            state=core.state,
            credit=core.credit,
            line=core.line,
            why=why.get(core.tag, "") if core.acceptance else "",
            hold_until=core.hold_until,
            by=judged[core.tag].by,
            at=f"{judged[core.tag].moment.astimezone(zone):%H:%M}",
            photos=core.photos,
            labels=core.labels,
            place=place_words(writer, core.place),
        )
        for core in reversed(cores)
    )


def shown_outcome(core: CoreFacts) -> str:
    """Return a stored core's outcome: what the dock decided, else unknown or counted."""
    return outcome_of(core) or ("counted" if core.family else "unknown")


def _totals(cores: Sequence[CoreShown]) -> tuple[OutcomeTotal, ...]:
    order = [*DONE_WORDS, *sorted({core.outcome for core in cores} - DONE_WORDS.keys())]
    totals = []
    for outcome in order:
        some = [core for core in cores if core.outcome == outcome]
        if some:
            money = sum(core.credit for core in some)
            totals.append(OutcomeTotal(outcome, some[0].word, some[0].tone, len(some), money))
    return tuple(totals)


def _at_work(lot: Lot, person: str, zone: ZoneInfo) -> tuple[AtWork, ...]:
    return tuple(
        AtWork(
            draft.person,
            str(draft.body.get("number_text", "")),
            f"{draft.at.astimezone(zone):%H:%M}",
        )
        for draft in beginning(f"core/{lot.key}/")
        if draft.person != person
    )


def _opening_notes(lot: Lot, opened: Happened) -> tuple[str, ...]:
    """Return what a part of a name was taken for, until the first core is stored."""
    return (opened.why,) if opened.why and lot.status == "open" and not lot.pieces else ()


def _notes(judging: Judging, lot: Lot) -> tuple[str, ...]:
    """Return what has to be said aloud about the delivery itself."""
    notes = []
    lines = lines_of_invoice(lot.reference) if lot.reference else []
    others = sorted({line.customer for line in lines} - {lot.source})
    if lines and others:
        notes.append(
            f"Invoice {lot.reference} was sold to {', '.join(others)}; this delivery is "
            f"{judging.source.name}'s."
        )
    if lot.counted and lot.pieces > lot.counted:
        more = lot.pieces - lot.counted
        notes.append(f"{are(more, 'core')} stored beyond the count of {lot.counted}: count again.")
    return tuple(notes)
