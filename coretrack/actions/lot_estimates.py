"""How many pieces a lot may hold, guessed from its weight until they are counted.

The guess stands beside the paper's number and the count; no core is ever made from it.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from coretrack.actions.acting import act_once
from coretrack.actions.lot_beginning import lot_being_sorted, on_paper, read_ticket
from coretrack.actions.lot_fields import Fields, whole_count
from coretrack.actions.typed_fields import grams
from coretrack.errors import InvalidInput
from coretrack.figures.piece_estimates import (
    ALL_COUNTED,
    PieceEstimate,
    Sample,
    estimate_pieces,
    one_by_one,
    together,
)
from coretrack.figures.plain_words import counted
from coretrack.records.writer import Writer

MOST_SAMPLED = 200


@dataclass(frozen=True)
class Weighing:
    """What is typed beside the scale, each as typed; masses are in kilograms.

    `masses` are the sampled pieces one by one, parted by blanks or lines; else `count` of them and
    their mass together in `total`. `pieces` is the paper's number.
    """

    gross: str = ""
    tare: str = ""
    masses: str = ""
    count: str = ""
    total: str = ""
    pieces: str = ""


def weigh(
    code: str, told: Weighing, *, by: str, station: str, now: datetime, key: str
) -> dict[str, Any]:
    """Keep weights, sample and paper's number of a lot, and the estimate they give.

    Without a sample the weigh ticket alone is kept. InvalidInput names every wrong field.
    """

    def act(writer: Writer) -> dict[str, Any]:
        lot_being_sorted(writer, code)
        estimate = _read(told)
        net = estimate.get("gross_g", 0) - estimate.get("tare_g", 0)
        writer.event("lot", code, "set", {"mass_g": net, "estimate": estimate})
        return estimate

    return act_once("weigh lot", key, act, by=by, station=station, now=now)


def estimate_words(estimate: Mapping[str, Any]) -> str:
    """Return an estimate as a sentence; a dash in words where there is none yet."""
    pieces = estimate.get("pieces")
    if pieces is None:
        return "no estimate: weigh the lot and a sample of it"
    low, high, why = estimate["low"], estimate["high"], estimate["why"]
    if low is not None and high is not None:
        if low == high == pieces and estimate["method"] == ALL_COUNTED:
            return f"{pieces:,} pieces: all of them were weighed"
        if low == high == pieces:
            sampled = counted(estimate["sampled"], "piece")
            return f"about {pieces:,} pieces: by the {sampled} weighed no other number fits"
        return f"about {pieces:,} pieces, {low:,} to {high:,}"
    if low is not None:
        return f"about {pieces:,} pieces, at least {low:,}; {why}"
    return f"about {pieces:,} pieces, no interval: {why}"


def _read(told: Weighing) -> dict[str, Any]:
    fields = Fields()
    gross, tare = read_ticket(fields, told.gross, told.tare)
    paper = fields.read("pieces", lambda: on_paper(told.pieces), 0)
    sample = _sample(fields, told)
    if sample is not None and not gross and not {"gross", "tare"} & fields.problems.keys():
        fields.problems["gross"] = "The lot's own mass is missing; weigh it with its boxes."
    fields.settle()
    kept = {"on_paper": paper, "gross_g": gross, "tare_g": tare}
    estimate: dict[str, Any] = {name: value for name, value in kept.items() if value}
    if sample is None:
        return estimate
    found = _estimate(gross, tare, sample)
    return {
        **estimate,
        "sampled": sample.count,
        "sample_g": sample.total_g,
        "pieces": found.pieces,
        "low": found.low,
        "high": found.high,
        "method": found.method,
        "why": found.why or "",
    }


def _estimate(gross: int, tare: int, sample: Sample) -> PieceEstimate:
    try:
        return estimate_pieces(gross, tare, sample)
    except InvalidInput as error:
        named = {"sample": "masses", "gross": "gross", "tare": "tare"}
        fields = {named.get(name, "masses"): error.message for name in error.fields}
        raise InvalidInput(error.message, fields) from None


def _sample(fields: Fields, told: Weighing) -> Sample | None:
    """Return the weighed sample; None when there is none, or one that cannot be used."""
    if told.masses.strip():
        if told.count.strip() or told.total.strip():
            fields.problems["masses"] = (
                "The sample is given both one by one and together; leave one of the two empty."
            )
            return None
        return fields.read("masses", lambda: one_by_one(_masses(told.masses)), None)
    if not told.count.strip() and not told.total.strip():
        return None
    count = fields.read("count", lambda: _count(told.count), 0)
    total = fields.read("total", lambda: _total(told.total), 0)
    if "count" in fields.problems or "total" in fields.problems:
        return None
    return fields.read("total", lambda: together(count, total), None)


def _masses(text: str) -> list[int]:
    """Return the masses of single pieces in grams; a blank, a line or a semicolon parts them."""
    parts = [part.strip(",") for part in text.replace(";", " ").split()]
    units = [part for part in parts if part.isalpha()]
    if units:
        raise InvalidInput(f"'{units[0]}': type kilograms without the unit, such as 1.25 1.31.")
    masses = [grams(part) for part in parts if part]
    if len(masses) > MOST_SAMPLED:
        raise InvalidInput(f"More than {MOST_SAMPLED} pieces: count the lot, or weigh a part.")
    if not masses:
        raise InvalidInput("No mass is readable here; type kilograms such as 1.25 1.31 1.28.")
    return masses


def _count(text: str) -> int:
    if not text.strip():
        raise InvalidInput("How many pieces were weighed together?")
    return whole_count(text, "number of sampled pieces", 10_000)


def _total(text: str) -> int:
    if not text.strip():
        raise InvalidInput("What do the sampled pieces weigh together, in kilograms?")
    return grams(text)
