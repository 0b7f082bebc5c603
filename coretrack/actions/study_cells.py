"""A gauge study before its first reading: what was told, its cells, the order drawn by lot."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from random import Random
from typing import Any

from coretrack.actions.typed_fields import plain_words
from coretrack.figures.bench_objects import GaugeStudy
from coretrack.figures.numbers import NotANumber, parse_number
from coretrack.figures.plain_words import are
from coretrack.figures.plans import Check, plan_from_dict
from coretrack.figures.trade_objects import Family
from coretrack.records import objects, queries
from coretrack.records.database import connection

MOST_INSPECTORS, MOST_PIECES, MOST_TRIALS, MOST_READINGS = 6, 30, 5, 300


@dataclass(frozen=True)
class StudyTold:
    """A study as typed: a check is `FAMILY/CODE`, `inspectors` and `pieces` one a line or by comma.

    `pieces` may be a count alone. `calibration` is the U of the gauge's certificate, in the study's
    unit; without a check the unit is the gauge's.
    """

    gauge: str = ""
    check: str = ""
    inspectors: str = ""
    pieces: str = "10"
    trials: str = "3"
    calibration: str = ""


@dataclass(frozen=True)
class Cell:
    """One reading to be taken: who, which piece, which round (from 1)."""

    inspector: str
    piece: str
    trial: int


def numeric_checks() -> list[tuple[str, str]]:
    """Return every measured check of the present plans as `FAMILY/CODE` and its name."""
    with connection():
        return [
            (f"{family.key}/{check.code}", f"{family.key}: {check.name}, {check.unit}")
            for family in queries.families()
            for check in _checks(family)
            if check.numeric
        ]


def missing_cells(study: GaugeStudy) -> tuple[Cell, ...]:
    """Return the cells that have no reading yet, in the drawn order."""
    have = {cell_of(reading) for reading in study.readings}
    order = (Cell(str(who), str(piece), int(trial)) for who, piece, trial in study.design["order"])
    return tuple(cell for cell in order if cell not in have)


def cells_missing(missing: Sequence[Cell], most: int = 6) -> str:
    """Return which cells lack a reading, in one sentence."""
    named = [f"{cell.inspector}, piece {cell.piece}, round {cell.trial}" for cell in missing[:most]]
    more = f"; and {len(missing) - most} more" if len(missing) > most else ""
    return f"{are(len(missing), 'reading')} missing: {'; '.join(named)}{more}."


def cell_of(reading: Mapping[str, Any]) -> Cell:
    """Return the cell that a stored reading belongs to."""
    return Cell(str(reading["inspector"]), str(reading["piece"]), int(reading["trial"]))


def _checks(family: Family) -> tuple[Check, ...]:
    stored = objects.one("plan", f"{family.key}/{family.plan_version}")
    return plan_from_dict({**stored.definition, "version": 0}).in_order() if stored else ()


def _find_check(family: str, code: str) -> Check | None:
    known = next((one for one in queries.families() if one.key == family), None)
    checks = _checks(known) if known else ()
    return next((check for check in checks if check.code == code and check.numeric), None)


def check_of(study: GaugeStudy) -> Check | None:
    """Return the study's check as plans have it now, if it is still measured in the same unit."""
    found = _find_check(study.family, study.check_code) if study.check_code else None
    return found if found and found.unit == study.unit else None


def check_told(text: str, wrong: dict[str, str]) -> tuple[Check | None, str]:
    """Return the check that `FAMILY/CODE` names and its family; notes where it names none."""
    if not text:
        return None, ""
    family, _, code = text.partition("/")
    check = _find_check(family, code)
    if check is None:
        wrong["check"] = f"'{text}' is no measured check of a plan; choose one of the list"
    return check, family


def design_of(told: StudyTold, seed: str, wrong: dict[str, str]) -> dict[str, Any]:
    """Return the design with its drawn order; notes what is wrong."""
    inspectors = _names(told.inspectors)
    pieces = _names(told.pieces)
    if len(pieces) == 1 and pieces[0].isascii() and pieces[0].isdecimal():
        pieces = [str(number) for number in range(1, min(int(pieces[0][:4]), 1000) + 1)]
    trials = int(told.trials) if told.trials.strip() in ("2", "3", "4", "5") else 0
    for name, values, most in (
        ("inspectors", inspectors, MOST_INSPECTORS),
        ("pieces", pieces, MOST_PIECES),
    ):
        least = 1 if name == "inspectors" else 2
        if not least <= len(values) <= most:
            wrong[name] = f"{len(values)} given; take {least} to {most}"
        elif len(set(values)) < len(values):
            wrong[name] = "one stands there twice; give each its own name"
    if not trials:
        wrong["trials"] = f"take 2 to {MOST_TRIALS} rounds, usually 3"
    if len(inspectors) * len(pieces) * trials > MOST_READINGS:
        wrong["pieces"] = f"more than {MOST_READINGS} readings in all; take fewer pieces or rounds"
    order: list[list[Any]] = []
    if not wrong:
        order = _drawn(inspectors, pieces, trials, seed)
    return {
        "inspectors": inspectors,
        "pieces": pieces,
        "trials": trials,
        "order": order,
        "calibration": _calibration(told.calibration, wrong),
    }


def _drawn(
    inspectors: Sequence[str], pieces: Sequence[str], trials: int, seed: str
) -> list[list[Any]]:
    lot = Random(seed)
    order: list[list[Any]] = []
    for trial in range(1, trials + 1):
        for inspector in lot.sample(inspectors, len(inspectors)):
            drawn = lot.sample(pieces, len(pieces))
            order += [[inspector, piece, trial] for piece in drawn]
    return order


def _calibration(text: str, wrong: dict[str, str]) -> str:
    if not text.strip():
        return ""
    try:
        value = parse_number(text, comma_is_decimal=True)
    except NotANumber as error:
        wrong["calibration"] = str(error)
        return ""
    if value < 0:
        wrong["calibration"] = "an uncertainty is 0 or more"
    return f"{value:f}"


def _names(text: str) -> list[str]:
    parts = (plain_words(part, "name")[:60] for part in re.split(r"[\n,;]", text))
    return [part for part in parts if part]
