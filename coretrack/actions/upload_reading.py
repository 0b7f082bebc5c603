"""Files that come in by the browser: what they can be, what they would store, storing them."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import asdict, dataclass, replace
from datetime import datetime
from functools import partial
from typing import Any

from coretrack.actions import receiving
from coretrack.actions.baskets import import_source_lost
from coretrack.actions.grading import grade_files
from coretrack.actions.identifying import identify_cores
from coretrack.actions.import_words import (
    answer_without_options,
    outcomes,
    shown_fields,
    shown_names,
    without_options,
)
from coretrack.actions.imports import FileRequest, ImportAnswer, RejectedRow, rejects_of
from coretrack.actions.lot_fields import Fields
from coretrack.actions.process_files import import_process_checks
from coretrack.actions.receiving import RETURNING, ManifestTerms, manifest_terms
from coretrack.actions.sales import import_sales
from coretrack.actions.standards import import_standards
from coretrack.actions.typed_fields import clean_code
from coretrack.actions.upload_box import Upload, UploadBox
from coretrack.errors import CoretrackError, InvalidInput, NotFound, Unavailable
from coretrack.figures.trade_objects import Lot, Source
from coretrack.records import queries
from coretrack.records.database import connection
from coretrack.records.lot_queries import SORTING

CHOICES: Mapping[str, tuple[str, ...]] = {
    "hidden": ("include", "skip"),
    "dates": ("day first", "month first"),
    "decimal": (".", ","),
}
"""What can be answered to a question about a file; no answer leaves it to the file."""

READING = (*CHOICES, "sheet")
"""How a file is read, told beside every kind of file."""

MOST_SHOWN = 50
"""Rejected rows on the page; the rejects file holds all of them."""

MOST_UNDERSTOOD = 20
"""Rows that a preview shows as they were understood."""


@dataclass(frozen=True)
class UploadKind:
    """What a file can be: its code, its name and use in plain words, the `roles` that may read it.

    `columns` says what its rows hold, `told` names the things that can be said beside it.
    """

    code: str
    name: str
    about: str
    columns: str
    roles: tuple[str, ...]
    told: tuple[str, ...] = ()


KINDS = (
    UploadKind(
        "sales",
        "Sales with core charges",
        "Every row opens a core line: units that were sold and whose core is owed.",
        "invoice, date, customer, number, quantity; also line, core charge, mode, window days",
        ("clerk",),
    ),
    UploadKind(
        "returns",
        "Cores a customer sends back",
        "Every row is a core: it gets a tag, is matched to an open core line, judged and credited.",
        "number or serial; also customer, delivery, received, invoice, faults, comeback, carrier "
        "date, mass, note",
        ("clerk",),
        ("source", "lot", "received"),
    ),
    UploadKind(
        "lot",
        "A purchased lot's manifest",
        "Every row is a piece, or several of a kind: price and freight are spread over them.",
        "number or serial; also quantity, mass, price, lot, received, note",
        ("clerk",),
        ("source", "lot", "received", "basis", "price", "freight", "mass", "bid_yield"),
    ),
    UploadKind(
        "identify",
        "Numbers of unknown cores",
        "Every row says which number an unknown core carries; a return is judged and credited.",
        "core (its tag or serial), number; also faults, note",
        ("clerk",),
    ),
    UploadKind(
        "readings",
        "Gauge readings and finished rework",
        "Readings of the bench, by core and check; every core gets its verdict.",
        "core, and check with reading or a column a check; also time, inspector, gauge, unit, "
        "operation, minutes, note",
        ("inspector",),
    ),
    UploadKind(
        "process checks",
        "Checks of lamps and baths",
        "The log of a booth or line: every row is one check of a day. Read it in before that day's "
        "readings.",
        "time, check, place; also UV-A, ambient light, white light, distance, concentration, "
        "panel, by, note",
        ("inspector",),
    ),
    UploadKind(
        "source lost",
        "Cores whose source was lost",
        "A basket tipped: its cores keep their family and lose their source, for good.",
        "core (its tag or serial); also time, basket, note",
        ("clerk", "inspector"),
    ),
    UploadKind(
        "standards",
        "Scrap rates to be expected",
        "The scrap that each family is expected to have; what goes beyond it is abnormal.",
        "family, standard scrap rate",
        (),
    ),
)
"""In the order of the page. An owner may read all of them."""


@dataclass(frozen=True)
class Answer:
    """What a file stored, or would store. `rejected` are the first MOST_SHOWN of `left_out`.

    `deliveries` and `lots` are those its cores came in with, `tags` counts the cores, `ending` is
    that of its rejects file ("" when no row was left out).
    """

    rows: int
    stored: int
    already: int
    left_out: int
    hidden_rows: int
    rejected: tuple[RejectedRow, ...]
    notes: tuple[str, ...]
    outcomes: tuple[str, ...]
    deliveries: tuple[str, ...]
    lots: tuple[str, ...]
    tags: int
    ending: str = ""


@dataclass(frozen=True)
class Preview:
    """What a file would do: `names` head the columns of the rows as they were `understood`.

    `asks` are the questions of READING that must be answered before anything is stored.
    """

    answer: Answer
    names: tuple[str, ...]
    understood: tuple[Mapping[str, str], ...]
    asks: tuple[str, ...]


def kind_called(code: str) -> UploadKind:
    """Return the kind of file with this code; NotFound when there is none."""
    found = next((kind for kind in KINDS if kind.code == code), None)
    if found is None:
        raise NotFound("Choose what the file is.")
    return found


def sources_for(kind: UploadKind) -> list[Source]:
    """Return whom such a file can come from; nobody where that is not asked."""
    if "source" not in kind.told:
        return []
    bought = kind.code == "lot"
    with connection():
        return [one for one in queries.sources() if bought != (one.kind in RETURNING)]


def begun_lot(code: str) -> Lot:
    """Return a lot that was begun and still waits for its pieces; NotFound for any other."""
    with connection():
        lot = queries.lot(code)
    if lot is None or lot.status != SORTING:
        raise NotFound(f"There is no lot '{code}' that waits for its manifest.")
    return lot


def preview(box: UploadBox, upload: Upload, *, by: str, now: datetime) -> Preview:
    """Return what the file would store; nothing is stored.

    InvalidInput says why nothing of it can be read, and beside which field that can be changed.
    """
    request = _request(upload, box.content(upload.token), preview=True)
    answer = _read_in(request, upload.told, by=by, now=now)
    # A tag is given when the core is stored: by then somebody else may have taken this one.
    shown = [
        {name: value for name, value in item.items() if name != "tag"}
        for item in answer.items[:MOST_UNDERSTOOD]
    ]
    asks = ("hidden",) if answer.hidden_rows and request.hidden is None else ()
    return Preview(
        _answer(answer), shown_names(shown), tuple(shown_fields(item) for item in shown), asks
    )


def store(box: UploadBox, upload: Upload, *, by: str, now: datetime) -> None:
    """Store the good rows of a file that was looked at; sent again it changes nothing."""
    if upload.answer is not None:
        return
    try:
        content = box.content(upload.token)
    except NotFound:
        if box.find(upload.token).answer is None:
            raise
        return  # the same button, pressed twice: the other press was faster
    request = _request(upload, content)
    answer = _read_in(request, upload.told, by=by, now=now)
    told, left_out = _answer(answer), None
    if answer.rejected:
        made = rejects_of(request, answer)
        told, left_out = replace(told, ending=made.ending), made.content
    try:
        box.answer(upload.token, asdict(told), left_out)
    except Unavailable as error:
        raise Unavailable(
            f"The good rows are stored, but what was left out cannot be kept: {error.message} "
            "Rows that are stored are not stored twice."
        ) from error


def answer_of(upload: Upload) -> Answer:
    """Return what came of a file; NotFound while it is not stored."""
    if upload.answer is None:
        raise NotFound(f"Nothing of {upload.name} was stored yet.")
    told: dict[str, Any] = dict(upload.answer)
    told["rejected"] = tuple(RejectedRow(**one) for one in told["rejected"])
    for name in ("notes", "outcomes", "deliveries", "lots"):
        told[name] = tuple(told[name])
    return Answer(**told)


def rejects(box: UploadBox, upload: Upload, *, by: str, now: datetime) -> tuple[str, bytes]:
    """Return ending and content of the rejects file, before or after the file was stored."""
    if upload.answer is not None:
        ending = str(upload.answer["ending"])
        if not ending:
            raise NotFound(f"No row of {upload.name} was left out.")
        return ending, box.rejects(upload.token)
    request = _request(upload, box.content(upload.token), preview=True)
    answer = _read_in(request, upload.told, by=by, now=now)
    if not answer.rejected:
        raise NotFound(f"No row of {upload.name} would be left out.")
    made = rejects_of(request, answer)
    return made.ending, made.content


def _request(upload: Upload, content: bytes, *, preview: bool = False) -> FileRequest:
    told = {
        name: answer for name in CHOICES if (answer := upload.told.get(name, "")) in CHOICES[name]
    }
    sheet = upload.told.get("sheet", "").strip() or None
    return FileRequest(upload.name, content, preview=preview, sheet=sheet, **told)


def _read_in(
    request: FileRequest, told: Mapping[str, str], *, by: str, now: datetime
) -> ImportAnswer:
    """Read a file in as what it was said to be, every message in the words of the pages."""
    kind = kind_called(told.get("kind", ""))
    try:
        return answer_without_options(_by_kind(kind, request, told, by=by, now=now))
    except CoretrackError as error:
        error.message = without_options(error.message)
        error.fields = {name: without_options(text) for name, text in error.fields.items()}
        raise


def _by_kind(
    kind: UploadKind, request: FileRequest, told: Mapping[str, str], *, by: str, now: datetime
) -> ImportAnswer:
    match kind.code:
        case "sales":
            return import_sales(request, by=by, now=now)
        case "identify":
            return identify_cores(request, by=by, now=now)
        case "readings":
            return grade_files([request], by=by, now=now)[0]
        case "process checks":
            return import_process_checks(request, by=by, now=now)
        case "source lost":
            return import_source_lost(request, by=by, now=now)
        case "standards":
            return import_standards(request, by=by, now=now)
    return receiving.import_manifest(request, _terms(kind, told), by=by, now=now)


def _terms(kind: UploadKind, told: Mapping[str, str]) -> ManifestTerms:
    """Return what was told beside a manifest; InvalidInput names every field that is wrong."""
    fields = Fields()
    given = {name: told.get(name, "").strip() for name in kind.told}
    given["lot"] = fields.read("lot", partial(clean_code, given["lot"], "lot"), "")
    source = fields.read("source", partial(_sender, kind, given.pop("source")), None)
    given = {name: text for name, text in given.items() if text}
    for name, text in given.items():
        one: dict[str, Any] = {name: text}
        fields.read(name, partial(manifest_terms, None, **one), None)
    fields.settle()
    terms: dict[str, Any] = dict(given)
    return manifest_terms(source.key if source else None, **terms)


def _sender(kind: UploadKind, told: str) -> Source | None:
    """Return who the cores come from; only returns may leave it to the file's own column."""
    bought = kind.code == "lot"
    if not told:
        if bought:
            raise InvalidInput("Say who sold the lot: the code or name of a broker or yard.")
        return None
    source = receiving.source_called(told)
    if bought == (source.kind in RETURNING):
        right = "Cores a customer sends back" if bought else "A purchased lot's manifest"
        raise InvalidInput(
            f"{source.name or source.key} is a {source.kind}; read the file in as “{right}”."
        )
    return source


def _answer(answer: ImportAnswer) -> Answer:
    tags = (len(item["tags"]) if "tags" in item else "tag" in item for item in answer.items)
    return Answer(
        rows=answer.rows,
        stored=answer.stored,
        already=answer.already,
        left_out=len(answer.rejected),
        hidden_rows=answer.hidden_rows,
        rejected=answer.rejected[:MOST_SHOWN],
        notes=answer.notes,
        outcomes=tuple(outcomes(answer)),
        deliveries=_named(answer, "delivery"),
        lots=_named(answer, "lot"),
        tags=sum(tags),
    )


def _named(answer: ImportAnswer, what: str) -> tuple[str, ...]:
    return tuple(dict.fromkeys(str(item[what]) for item in answer.items if item.get(what)))
