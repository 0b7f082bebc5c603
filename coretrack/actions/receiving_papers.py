"""Papers of the desk, from what was stored: receipts, credit notes, notices of refusal.

The arithmetic on them is the one that was stored with the judgement; nothing is worked out anew.
The same stored facts always give the same bytes.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from typing import Any

from coretrack.actions.credit_release import CreditDays, note_number, sums_of
from coretrack.actions.desk_day import Desk, the_desk
from coretrack.actions.line_words import settled_words
from coretrack.actions.printing import PrintedFile
from coretrack.errors import InvalidInput, NotFound
from coretrack.figures.core_facts import OUTCOMES
from coretrack.figures.core_story import outcome_of
from coretrack.figures.credits import CreditLine, CreditResult
from coretrack.figures.lifecycle import CoreFacts
from coretrack.figures.tags import show_tag
from coretrack.figures.trade_objects import CreditNote, Line, Lot
from coretrack.paper import credit_note, paper_bundle, receipt, refusal_notice
from coretrack.paper.core_blocks import JudgedCore
from coretrack.paper.file_names import safe_file_name
from coretrack.paper.paper_photos import PaperPhoto
from coretrack.records import list_queries, photos, queries
from coretrack.records.database import connection
from coretrack.records.happenings import Happened, history, last_of_each

BY_FILE = "import"
"""The station of what came in by file: its moments are days, so no time is printed."""

MOST_NOTES = 1000
"""Credit notes in one PDF."""


@dataclass(frozen=True)
class _Told:
    """What is stored of some judged cores, read in a few questions for all of them."""

    desk: Desk
    judged: Mapping[str, Happened]
    refused: Mapping[str, Happened]
    lines: Mapping[str, Line]
    families: Mapping[str, str]


def receipt_file(code: str) -> PrintedFile:
    """Return the receipt of a delivery as PDF; NotFound when there is none.

    InvalidInput while nothing is counted.
    """
    with connection():
        desk = the_desk()
        lot = queries.lot(code)
        if lot is None or lot.kind != "return":
            raise NotFound(f"There is no delivery '{code}'.")
        cores = [core for core in queries.cores_of_lot(code) if core.state != "taken back"]
        told = history("lot", code)
    return PrintedFile(
        safe_file_name(f"receipt {code}", ".pdf"),
        receipt.receipt_pdf(_receipt(lot, cores, told, desk), desk.shop.paper_size),
    )


def _receipt(
    lot: Lot, cores: Sequence[CoreFacts], told: Sequence[Happened], desk: Desk
) -> receipt.Receipt:
    """Return the receipt; who counted signs it, for a delivery by file whoever read it in."""
    counting = [each for each in told if each.detail.get("counted")] or told[:1]
    counted = counting[-1]
    pieces = lot.counted or len(cores)
    if not pieces:
        raise InvalidInput(
            f"Delivery {lot.key} has no count yet; count its pieces first, then print the receipt.",
            {"pieces": "not counted yet"},
        )
    return receipt.Receipt(
        shop_name=desk.shop.name,
        delivery=lot.key,
        customer=desk.name(lot.source),
        customer_code=lot.source,
        pieces=pieces,
        arrived=date.fromisoformat(lot.arrived_on or lot.received_on),
        received_by=counted.by,
        received_at=desk.moment(counted.at),
        reference=lot.reference,
        carrier=lot.carrier,
        note=lot.note,
        cores=tuple(
            receipt.ReceiptCore(
                core.tag, core.number, OUTCOMES.get(outcome_of(core), outcome_of(core))
            )
            for core in cores
        ),
    )


def credit_note_file(number: str) -> PrintedFile:
    """Return one credit note as PDF, as often as it is asked for; NotFound when there is none."""
    with connection():
        note = list_queries.credit_note(number)
        if note is None:
            raise NotFound(f"There is no credit note '{number}'.")
        (paper,) = _notes([note])
        size = the_desk().shop.paper_size
    return PrintedFile(
        safe_file_name(f"credit note {number}", ".pdf"), credit_note.credit_note_pdf(paper, size)
    )


def notice_file(*, tag: str = "", delivery: str = "") -> PrintedFile:
    """Return the notice of refusal of one core, or of all refused ones of a delivery, as PDF.

    NotFound when there is no such core or none of the delivery is held; InvalidInput for a core
    that is not refused or was refused without a last day.
    """
    with connection():
        if tag:
            core = queries.core(tag)
            if core is None:
                raise NotFound(f"There is no core with tag '{tag}'.")
            cores, number = [core], show_tag(tag)
        else:
            cores = [c for c in queries.cores_of_lot(delivery) if c.state == "hold"]
            cores = [c for c in cores if c.hold_until]
            number = delivery
            if not cores:
                raise NotFound(
                    f"No refused core of delivery '{delivery}' lies in the hold bin with a last"
                    " day."
                )
        (paper,) = _notices(cores, number)
        size = the_desk().shop.paper_size
    return PrintedFile(
        safe_file_name(f"notice of refusal {number}", ".pdf"),
        refusal_notice.refusal_notice_pdf(paper, size),
    )


def papers_file(first: str, last: str, days: CreditDays | None = None) -> PrintedFile:
    """Return the credit notes from `first` to `last`, and the notices of refusal of some days.

    All in one PDF. The notices are those of every customer with cores refused on `days` that are
    still held. NotFound when there is nothing to print.
    """
    with connection():
        notes = list_queries.credit_notes(_numbers(first, last))
        refused = _refused(days) if days else []
        if not notes and not refused:
            raise NotFound("There is no credit note and no refused core to print.")
        desk = the_desk()
        papers, notices = _notes(notes), _notices(refused, "")
    name = " ".join(["papers", *(note.key for note in notes[:1]), *(n.key for n in notes[1:][-1:])])
    content = paper_bundle.bundle_pdf(
        f"Credit notes and notices, {desk.shop.name}",
        desk.shop.name,
        papers,
        notices,
        desk.shop.paper_size,
    )
    return PrintedFile(safe_file_name(name, ".pdf"), content)


def notes_between(first: str, last: str) -> tuple[tuple[CreditNote, ...], Desk]:
    """Return the credit notes from one number to another; NotFound when there is none."""
    with connection():
        notes = list_queries.credit_notes(_numbers(first, last))
        if not notes:
            raise NotFound(f"There is no credit note from '{first}' to '{last}'.")
        return tuple(notes), the_desk()


def refused_on(days: CreditDays) -> tuple[int, int]:
    """Return how many cores refused on these days are still held, and of how many customers."""
    with connection():
        cores = _refused(days)
        told = _told(cores)
        return len(cores), len({_customer(core, told) for core in cores})


def _numbers(first: str, last: str) -> list[str]:
    """Return the numbers from one credit note to another; [] when they are none."""
    places = [
        int(text[3:]) if text.startswith("CN-") and text[3:].isascii() and text[3:].isdigit() else 0
        for text in (first, last)
    ]
    if not all(places):
        return []
    return [note_number(n) for n in range(places[0], min(places[1], places[0] + MOST_NOTES) + 1)]


def _refused(days: CreditDays) -> list[CoreFacts]:
    """Return the cores refused on these days that still lie in the hold bin, with a last day."""
    desk = the_desk()
    start, end = desk.bounds(days.day)
    tags = list_queries.refused_since("" if days.upto else start, end)
    cores = queries.cores_tagged(tags)
    return [cores[tag] for tag in tags if cores[tag].hold_until]


def _told(cores: Sequence[CoreFacts]) -> _Told:
    tags = [core.tag for core in cores]
    return _Told(
        desk=the_desk(),
        judged=last_of_each("core", tags, ("accepted",)),
        refused=last_of_each("core", tags, ("accepted", "held")),
        lines=list_queries.lines_with_keys(core.line for core in cores if core.line),
        families={family.key: family.name for family in queries.families()},
    )


def _customer(core: CoreFacts, told: _Told) -> str:
    """Return whose the core is: its line's customer, else whoever sent the delivery."""
    line = told.lines.get(core.line)
    if line is not None:
        return line.customer
    lot = queries.lot(core.lot) if core.lot else None
    return lot.source if lot else core.source


def _notes(notes: Sequence[CreditNote]) -> list[credit_note.CreditNote]:
    tags = [tag for note in notes for tag in note.tags]
    cores = queries.cores_tagged(tags)
    told = _told(list(cores.values()))
    left = {note.key: history("credit note", note.key)[0].at for note in notes}
    return [
        credit_note.CreditNote(
            number=note.key,
            day=date.fromisoformat(note.day),
            shop_name=told.desk.shop.name,
            customer=told.desk.name(note.customer),
            customer_code=note.customer,
            currency=told.desk.shop.currency,
            cores=tuple(_credited(cores[tag], told, left[note.key]) for tag in note.tags),
            total=note.total,
        )
        for note in notes
    ]


def _credited(core: CoreFacts, told: _Told, left: str) -> JudgedCore:
    """Return a credited core as its note shows it: with the photos there were when it `left`."""
    judged = told.judged[core.tag]
    line = told.lines.get(core.line)
    credit = int(judged.detail.get("costs", {}).get("credit", 0))
    sums = sums_of(judged.detail)
    if line is not None and line.mode != "up front":
        # A remark of zero: the note states a credit, and this is what becomes of the money.
        result = CreditResult(core.acceptance, credit, sums)
        words = settled_words(line, result, told.desk.shop.currency)
        sums = (*sums, CreditLine(f"Charge mode {line.mode}: {words}", 0))
    return _core(core, told, judged, sums, credit, pictures=_pictures(core, told.desk, left))


def _notices(cores: Sequence[CoreFacts], number: str) -> list[refusal_notice.RefusalNotice]:
    """Return one notice a customer; where `number` is empty it is the customer's code and day."""
    told = _told(cores)
    by_customer: dict[str, list[CoreFacts]] = {}
    for core in cores:
        _refuse_unless_held(core, told)
        by_customer.setdefault(_customer(core, told), []).append(core)
    return [
        _notice(code, mine, number, told)
        for code, mine in sorted(by_customer.items(), key=lambda item: told.desk.name(item[0]))
    ]


def _refuse_unless_held(core: CoreFacts, told: _Told) -> None:
    named = f"Core {show_tag(core.tag)}"
    refusal = told.refused.get(core.tag)
    if refusal is None or core.acceptance not in ("refuse", "excess") or core.state == "excess":
        raise InvalidInput(
            f"{named} is not refused ({core.outcome_words}; now: {core.state_words}); only"
            " refused cores have a notice."
        )
    if not core.hold_until:
        raise InvalidInput(
            f"{named} was refused before last days were noted; it has no notice. Write to the"
            " customer by hand."
        )


def _notice(
    customer: str, cores: Sequence[CoreFacts], number: str, told: _Told
) -> refusal_notice.RefusalNotice:
    desk = told.desk
    days = [desk.day_of(_refusal(core, told).at) for core in cores]
    name = number or f"{customer} {max(days).isoformat()}"
    return refusal_notice.RefusalNotice(
        number=name,
        day=max(days),
        shop_name=desk.shop.name,
        customer=desk.name(customer),
        customer_code=customer,
        currency=desk.shop.currency,
        cores=tuple(_refused_core(core, told) for core in cores),
    )


def _refusal(core: CoreFacts, told: _Told) -> Happened:
    """Return the event that refused a core: kept back as an excess one, else judged so."""
    return told.refused[core.tag]


def _refused_core(core: CoreFacts, told: _Told) -> JudgedCore:
    refusal = _refusal(core, told)
    return _core(
        core,
        told,
        refusal,
        sums_of(told.judged[core.tag].detail),
        0,
        hold_until=date.fromisoformat(core.hold_until),
        pictures=_pictures(core, told.desk, ""),
    )


def _core(
    core: CoreFacts,
    told: _Told,
    event: Happened,
    sums: tuple[CreditLine, ...],
    credit: int,
    *,
    hold_until: date | None = None,
    pictures: tuple[PaperPhoto, ...] = (),
) -> JudgedCore:
    line = told.lines.get(core.line)
    judged = told.judged[core.tag]
    by_file = event.station == BY_FILE
    sale: dict[str, Any] = {
        "invoice": line.invoice,
        "line": line.line,
        "sold_on": date.fromisoformat(line.sold_on),
        "number_sold": line.number,
        "charge": line.charge,
        "criteria_version": line.criteria_version,
    } if line else {}  # fmt: skip
    return JudgedCore(
        tag=core.tag,
        number_read=core.number,
        arithmetic=sums,
        credit=credit,
        delivery=core.lot,
        arrived=date.fromisoformat(judged.detail.get("arrived") or core.received_on),
        judged_by=event.by,
        judged_at=None if by_file else told.desk.moment(event.at),
        family=told.families.get(core.family, core.family),
        serial=core.serial,
        reasons=(event.why,) if event.why else (),
        hold_until=hold_until,
        photos=pictures,
        no_photo="" if pictures else str(judged.detail.get("no_photo", "")),
        **sale,
    )


def _pictures(core: CoreFacts, desk: Desk, until: str) -> tuple[PaperPhoto, ...]:
    """Return a core's photos; `until` leaves out those taken later, empty takes all."""
    if not core.photos:
        return ()
    return tuple(
        PaperPhoto(photos.content_of(photo.id) or b"", desk.moment(photo.at), photo.what)
        for photo in photos.photos_of("core", core.tag)
        if not until or photo.at <= until
    )
