"""A repeatability and reproducibility study at the bench: begun, measured, finished, applied.

The order is drawn by lot and kept: each round every inspector measures every piece in an order of
its own, and nobody is shown an earlier reading of the piece in hand: answers name cells, not
readings, since the last answers stay on the page. What was typed is kept as typed beside its value.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from fractions import Fraction
from typing import Any

from coretrack.actions.acting import Changed, act_once
from coretrack.actions.gauges import known_gauge
from coretrack.actions.offers import MARK, offer, taken_apart
from coretrack.actions.study_cells import (
    Cell,
    StudyTold,
    cell_of,
    cells_missing,
    check_of,
    check_told,
    design_of,
    missing_cells,
)
from coretrack.actions.study_results import StudyResult, study_result
from coretrack.actions.typed_fields import plain_words
from coretrack.errors import Forbidden, InvalidInput, NotAllowed, NotFound
from coretrack.figures.bench_objects import GaugeStudy
from coretrack.figures.dates import shop_day
from coretrack.figures.limits import plain_text
from coretrack.figures.plain_words import counted
from coretrack.figures.readings import Question, Reading, Refusal, read_reading
from coretrack.figures.scan_replies import ScanReply, Spot
from coretrack.figures.scans import read_scan
from coretrack.figures.tolerances import MICRO
from coretrack.figures.trade_objects import Gauge
from coretrack.figures.units import canonical_unit, convert_difference, dimension_of
from coretrack.records import gauge_queries, queries
from coretrack.records.database import connection
from coretrack.records.times import to_text
from coretrack.records.writer import Writer

_REDO = frozenset({"undo", "again"})


@dataclass(frozen=True)
class StudyView:
    """A study as its page shows it. `missing` are the cells not measured yet, in the drawn order.

    `last` is the cell measured last, with what was typed; nothing was typed as far as this page
    tells while the same piece comes next. `result` is None while cells are missing.
    """

    study: GaugeStudy
    gauge: Gauge
    check_name: str
    inspectors: tuple[str, ...]
    pieces: tuple[str, ...]
    trials: int
    missing: tuple[Cell, ...]
    total: int
    last: Cell | None
    last_typed: str
    result: StudyResult | None

    @property
    def next(self) -> Cell | None:
        """The cell that is measured next."""
        return self.missing[0] if self.missing else None


def begin_study(told: StudyTold, *, by: str, station: str, now: datetime, key: str) -> str:
    """Begin a study, draw its order and return its key; InvalidInput names every wrong field."""

    def act(writer: Writer) -> dict[str, Any]:
        gauge = next((g for g in queries.gauges() if g.key == told.gauge), None)
        wrong: dict[str, str] = {}
        if gauge is None:
            wrong["gauge"] = f"'{told.gauge}' is not in the register; choose a gauge"
        check, family = check_told(told.check, wrong)
        unit = check.unit if check else (gauge.unit if gauge else "")
        if gauge and not unit:
            wrong["check"] = f"gauge {gauge.key} has no unit; choose the check it measures"
        elif gauge and gauge.unit and dimension_of(gauge.unit) != dimension_of(unit):
            wrong["check"] = f"it is measured in {unit}, and the gauge reads {gauge.unit}"
        design = design_of(told, key, wrong)
        if wrong or gauge is None:
            raise InvalidInput("; ".join(f"{k}: {v}" for k, v in wrong.items()), wrong)
        number = len(gauge_queries.studies_of(gauge.key)) + 1
        study = f"{gauge.key}/{number}"
        zone = writer.get("shop", "shop").time_zone
        detail = {
            "key": study,
            "gauge": gauge.key,
            "family": family,
            "check_code": check.code if check else "",
            "unit": canonical_unit(unit),
            "status": "open",
            "design": design,
            "day": shop_day(now, zone).isoformat(),
        }
        writer.event("gauge study", study, "set", detail)
        return {"key": study}

    return str(act_once("study", key, act, by=by, station=station, now=now)["key"])


def study_view(key: str) -> StudyView:
    """Return a study with what is missing or what it came to; NotFound when there is none."""
    with connection():
        study = gauge_queries.study(key)
        if study is None:
            raise NotFound(f"There is no gauge study '{key}'.")
        gauge = known_gauge(study.gauge)
        check = check_of(study)
    missing = missing_cells(study)
    last = study.readings[-1] if study.readings else None
    return StudyView(
        study=study,
        gauge=gauge,
        check_name=check.name if check else "",
        inspectors=tuple(study.design["inspectors"]),
        pieces=tuple(study.design["pieces"]),
        trials=int(study.design["trials"]),
        missing=missing,
        total=len(study.design["order"]),
        last=cell_of(last) if last else None,
        last_typed="" if last is None or _comes_again(last, missing) else str(last["typed"]),
        result=None if missing else study_result(study, gauge, check.usable if check else None),
    )


def enter_reading(
    key_of_study: str,
    cell: Cell | None,
    text: str,
    *,
    insist: bool = False,
    by: str,
    station: str,
    now: datetime,
    key: str,
) -> str:
    """Enter one reading (of the next cell without one told) and return it in words.

    InvalidInput says why a text is no reading, or asks back what does not fit; `insist` takes such
    a reading as typed.
    """

    def act(writer: Writer) -> dict[str, Any]:
        study = _open(writer, key_of_study)
        wanted = _wanted(study, cell)
        read = _read(study, text)
        insisted = read.value if isinstance(read, Question) and insist else None
        value = read.value if isinstance(read, Reading) else insisted
        if value is None:
            said = "" if isinstance(read, Reading) else read.text
            raise InvalidInput(said, {"reading": said})
        return {"said": _put(writer, study, wanted, text, value)}

    return str(act_once("study reading", key, act, by=by, station=station, now=now)["said"])


def measure_again(
    key_of_study: str, cell: Cell | None, *, by: str, station: str, now: datetime, key: str
) -> str:
    """Take a reading out of a study, the last one without a cell; return which, in words."""

    def act(writer: Writer) -> dict[str, Any]:
        return {"said": _take_out(writer, _open(writer, key_of_study), cell)}

    return str(act_once("study again", key, act, by=by, station=station, now=now)["said"])


def give_up_study(
    key_of_study: str, why: str, *, by: str, station: str, now: datetime, key: str
) -> None:
    """Give a study up for a reason; its readings stay in the history."""

    def act(writer: Writer) -> dict[str, Any]:
        study = _open(writer, key_of_study)
        words = plain_words(why, "reason")
        if not words:
            raise InvalidInput("Say why the study is given up.", {"reason": "say why"})
        writer.event("gauge study", study.key, "set", {"status": "given up"}, why=words)
        return {}

    act_once("study end", key, act, by=by, station=station, now=now)


def apply_study(
    key_of_study: str, *, role: str, by: str, station: str, now: datetime, key: str
) -> str:
    """Give the gauge the U that its study proposes and close the study; the owner only.

    Return what was done, in words. NotAllowed while cells are missing or nothing is proposed.
    """
    if role != "owner":
        raise Forbidden("Only the owner gives a gauge its uncertainty.")

    def act(writer: Writer) -> dict[str, Any]:
        study = _open(writer, key_of_study)
        gauge: Gauge = writer.get("gauge", study.gauge)
        missing = missing_cells(study)
        if missing:
            raise NotAllowed(f"{cells_missing(missing)} Measure them first.")
        check = check_of(study)
        result = study_result(study, gauge, check.usable if check else None)
        if not result.uncertainty:
            raise NotAllowed(f"The study proposes no U: {result.why}.")
        detail = {"status": "done", "proposed": result.uncertainty}
        writer.event("gauge study", study.key, "set", detail)
        told = {"uncertainty": result.uncertainty, "unit": result.unit}
        writer.event("gauge", gauge.key, "set", told, why=f"gauge study {study.key}")
        before = f"{gauge.uncertainty} {gauge.unit}".strip()
        return {
            "said": f"U of {gauge.key} is {result.uncertainty} {result.unit} now (was {before}). "
            "Plans keep the U they were stored with; change them where it counts."
        }

    return str(act_once("study apply", key, act, by=by, station=station, now=now)["said"])


def take_scan(writer: Writer, code: str, text: str, spot: Spot, now: datetime) -> ScanReply:
    """Answer one scan or typed text at a study's page, inside the caller's transaction.

    A text is the reading of the next cell in the drawn order; the orders undo and again take the
    last one back. A tag or another code is never a number.
    """
    del now
    study = _open(writer, code)
    if spot.seen and spot.seen != seen_of(study):
        raise Changed(f"The reading '{text[:20]}' was typed for another cell; look, then measure.")
    if text.startswith(MARK):
        verb, told = taken_apart(text)
        if verb == "reading":
            value, _, typed = told.partition("|")
            return _took(writer, study, typed, int(value))
        raise InvalidInput("This choice belongs to another page; measure again.")
    scanned = read_scan(text)
    order = scanned.code.order if scanned.code is not None else text.strip().casefold()
    if order in _REDO:
        return ScanReply(
            "note", "TAKEN BACK", f"{_take_out(writer, study, None)}; measure it again."
        )
    if scanned.tag or scanned.code is not None:
        return ScanReply(
            "stop", "NO READING", "A tag or card is no reading; nothing was entered. Measure again."
        )
    read = _read(study, text)
    if isinstance(read, Refusal):
        return ScanReply("stop", "NO READING", read.text)
    if isinstance(read, Question):
        values = [(one.value, one.text) for one in read.suggestions]
        if read.value is not None:
            values.append((read.value, f"{text.strip()} as typed"))
        offers = tuple(offer(words, "reading", f"{value}|{text}") for value, words in values)
        return ScanReply("ask", "SURE?", read.text, offers=offers)
    return _took(writer, study, text, read.value)


def _comes_again(last: Mapping[str, Any], missing: Sequence[Cell]) -> bool:
    """Return whether the piece measured last is the next one too: its reading stays hidden."""
    return bool(missing) and missing[0].piece == str(last["piece"])


def seen_of(study: GaugeStudy) -> str:
    """Return what tells one state of a study's readings from another."""
    return str(len(study.readings))


def _took(writer: Writer, study: GaugeStudy, typed: str, value: int) -> ScanReply:
    said = _put(writer, study, _wanted(study, None), typed, value)
    after: GaugeStudy = writer.get("gauge study", study.key)
    missing = missing_cells(after)
    if not missing:
        return ScanReply("good", "COMPLETE", f"{said} All cells have a reading.", undo="the last")
    cell = missing[0]
    left = counted(len(missing), "reading")
    line = f"{said} Next: {cell.inspector}, piece {cell.piece}; {left} to go."
    return ScanReply("good", f"PIECE {cell.piece}", line, undo="the last reading")


def _put(writer: Writer, study: GaugeStudy, cell: Cell, typed: str, value: int) -> str:
    reading = {
        "inspector": cell.inspector,
        "piece": cell.piece,
        "trial": cell.trial,
        "typed": typed.strip()[:80],
        "value": value,
        "by": writer.by,
        "at": to_text(writer.at),
    }
    writer.event("gauge study", study.key, "set", {"readings": [*study.readings, reading]})
    by = "" if writer.by == cell.inspector else f", typed by {writer.by}"
    return f"{cell.inspector}, piece {cell.piece} is in{by}."


def _take_out(writer: Writer, study: GaugeStudy, cell: Cell | None) -> str:
    if not study.readings:
        raise NotAllowed("Nothing is measured in this study yet.")
    chosen = cell or cell_of(study.readings[-1])
    left = [reading for reading in study.readings if cell_of(reading) != chosen]
    if len(left) == len(study.readings):
        raise NotFound(f"Piece {chosen.piece} was not measured by {chosen.inspector} then.")
    writer.event("gauge study", study.key, "set", {"readings": left}, why="to be measured again")
    return f"The reading of {chosen.inspector}, piece {chosen.piece} is out"


def _open(writer: Writer, key: str) -> GaugeStudy:
    study: GaugeStudy = writer.get("gauge study", key)
    if study.status != "open":
        raise NotAllowed(f"Gauge study {key} is {study.status}; begin another one.")
    return study


def _wanted(study: GaugeStudy, cell: Cell | None) -> Cell:
    missing = missing_cells(study)
    if cell is not None and cell not in missing:
        raise InvalidInput(
            "This cell has its reading already, or is not part of the study.",
            {"cell": "choose one that is missing; take a reading out to measure it again"},
        )
    if not missing:
        raise NotAllowed("Every cell has its reading. Take one out to measure it again.")
    return cell or missing[0]


def _step(study: GaugeStudy) -> int | None:
    """Return the step of the study's gauge in millionths of the study's unit, None if not known."""
    gauge = known_gauge(study.gauge)
    if not gauge.resolution or not gauge.unit:
        return None
    step = convert_difference(Fraction(gauge.resolution), gauge.unit, study.unit) * MICRO
    return int(step) or None if step.denominator == 1 else None


def _finer(read: Reading, step: int | None) -> bool:
    """Return whether a reading says more than the gauge shows: a study is of what it shows.

    What was converted from another unit is never round.
    """
    return bool(step) and read.given_unit == read.unit and read.value % (step or 1) != 0


def _read(study: GaugeStudy, text: str) -> Reading | Question | Refusal:
    check = check_of(study)
    step = _step(study) or (check.resolution if check else None)
    if check is None:
        read = read_reading(text, unit=study.unit, resolution=step)
    else:
        read = read_reading(
            text,
            unit=study.unit,
            resolution=step,
            nominal=check.nominal,
            plausible=check.plausible,
        )
    if isinstance(read, Reading) and _finer(read, step):
        size = f"{plain_text(step or 0)} {study.unit}"
        said = f"{text.strip()} is finer than the gauge shows ({size}). Is it right?"
        return Question(text.strip(), said, value=read.value, unit=study.unit)
    return read
