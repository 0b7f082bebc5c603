"""Finds the known columns of a table by their headings, leniently but never by a guess.

Case, blanks, no-break spaces, byte-order marks, dashes, underscores, dots and brackets do not
count. A unit in a heading, such as `BODY OD (mm)`, is split off where the column holds a number.
"""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from coretrack.errors import InvalidInput
from coretrack.figures.table import Cell, Row, column_letters
from coretrack.figures.typed_cells import (
    CellProblem,
    code_text,
    count,
    number,
    percent,
    reading_text,
    yes,
)
from coretrack.figures.units import UnknownUnit, canonical_unit

__all__ = [
    "REJECT_HEADINGS",
    "CellProblem",
    "Column",
    "ColumnMap",
    "code_text",
    "count",
    "fold_heading",
    "match_columns",
    "number",
    "percent",
    "reading_text",
    "split_unit",
    "yes",
]

REJECT_HEADINGS = ("rejected row", "rejected column", "rejected value", "why rejected")
"""The columns a rejects file adds; a corrected one is imported again without taking them out."""

KINDS_WITH_UNIT = frozenset({"number", "money", "count", "reading"})

_BRACKETED = re.compile(r"(?P<name>.*\S)\s*[(\[{]\s*(?P<unit>[^()\[\]{}]*?)\s*[)\]}]", re.DOTALL)
_TRAILING = re.compile(
    r"(?P<name>.*[^\s_,])(?P<joint>[\s_,]+)(?P<unit>[^\s_,()\[\]{}]+)", re.DOTALL
)
_CURRENCY = re.compile(r"[A-Z]{3}|[€£$¥]")
_ALSO_WORDS = frozenset(
    {"in", "m", "s", "t", "g", "h", "l", "n", "k", "c", "f", "min", "count", "piece", "pieces"}
)
"""Units that are words too: behind a mere blank they belong to the name (date in)."""


@dataclass(frozen=True)
class Column:
    """A column that is wanted: its key, the headings it may have, and what its cells hold.

    `kind`: code, text, number, money, date, time, percent, count, yes or reading. A column that
    `repeats` may stand several times, numbered (`guide bore 1`, `guide bore 2`).
    """

    key: str
    names: tuple[str, ...]
    required: bool = False
    kind: str = "text"
    repeats: bool = False


@dataclass(frozen=True)
class ColumnMap:
    """Where each wanted column stands, counted from 0; `unknown` are headings nobody asked for."""

    headings: tuple[str, ...]
    places: Mapping[str, tuple[int, ...]]
    units: Mapping[str, str]
    unknown: tuple[str, ...]

    def has(self, key: str) -> bool:
        """Return whether the file has the column `key`."""
        return key in self.places

    def heading(self, key: str) -> str:
        """Return the heading as the file writes it; KeyError when the column is missing."""
        return self.headings[self.places[key][0]]

    def unit(self, key: str) -> str | None:
        """Return the unit its heading names, None without one."""
        return self.units.get(key)

    def cell(self, row: Row, key: str) -> Cell | None:
        """Return the row's cell in the column `key`, None when the file has no such column."""
        places = self.places.get(key, ())
        return row.cells[places[0]] if places else None

    def cells(self, row: Row, key: str) -> tuple[Cell, ...]:
        """Return the row's cells in all columns of `key`, in the file's order."""
        return tuple(row.cells[place] for place in self.places.get(key, ()))


def fold_heading(heading: str) -> str:
    """Return the form in which two spellings of one heading are equal: letters and digits only."""
    folded = unicodedata.normalize("NFKC", heading).casefold()
    return "".join(sign for sign in folded if sign.isalnum())


def split_unit(heading: str) -> tuple[str, str | None]:
    """Return a heading's name (folded to small letters) and the unit it names, None without one.

    `BODY OD (mm)`, `body_od_mm`, `Body OD, mm` and `body od mm` give ("body od", "mm"). Behind a
    mere blank a unit that is also a word (`date in`) stays with the name.
    """
    plain = " ".join(heading.replace("\ufeff", "").split())
    found = _BRACKETED.fullmatch(plain)
    unit = _unit(found["unit"]) if found else None
    if found is None:
        found = _TRAILING.fullmatch(plain)
        if found and not (found["joint"].isspace() and found["unit"].casefold() in _ALSO_WORDS):
            unit = _unit(found["unit"])
    name = found["name"] if found and unit else plain
    return " ".join(name.replace("_", " ").casefold().split()).rstrip(" ,"), unit


def _unit(text: str) -> str | None:
    try:
        return canonical_unit(text)
    except UnknownUnit:
        return None


def match_columns(headings: Sequence[str], wanted: Sequence[Column]) -> ColumnMap:
    """Return where the `wanted` columns stand under `headings`.

    InvalidInput when a required column is missing (it lists what was found and what is accepted)
    and when two headings could be the same column (it names both).
    """
    places: dict[str, list[int]] = {}
    units: dict[str, str] = {}
    unknown: list[str] = []
    for place, heading in enumerate(headings):
        if not fold_heading(heading) or heading.casefold() in REJECT_HEADINGS:
            continue
        column, unit = _find(heading, wanted)
        if column is None:
            unknown.append(heading)
            continue
        _settle_unit(column, unit, headings, places, units)
        places.setdefault(column.key, []).append(place)
    _refuse_doubles(headings, places, wanted)
    _refuse_missing(headings, places, wanted)
    kept = {key: tuple(found) for key, found in places.items()}
    return ColumnMap(tuple(headings), kept, units, tuple(unknown))


def _find(heading: str, wanted: Sequence[Column]) -> tuple[Column | None, str | None]:
    """The whole heading counts before its name without a unit, so `window days` stays itself."""
    whole = fold_heading(heading)
    for column in wanted:
        if whole in _spellings(column):
            return column, None
    name, unit = split_unit(heading)
    if unit is None:
        bracket = _BRACKETED.fullmatch(heading.strip())
        if bracket and _CURRENCY.fullmatch(bracket["unit"]):
            name, unit = bracket["name"], bracket["unit"]
    for column in wanted:
        measured = column.kind in KINDS_WITH_UNIT or (column.kind == "percent" and unit == "%")
        short = fold_heading(name)
        if unit and measured and short in _spellings(column):
            return column, unit
        if column.repeats and re.sub(r"\d+$", "", short) in _spellings(column):
            return column, unit
    return None, None


def _spellings(column: Column) -> set[str]:
    return {fold_heading(name) for name in (column.key, *column.names)}


def _settle_unit(
    column: Column,
    unit: str | None,
    headings: Sequence[str],
    places: Mapping[str, list[int]],
    units: dict[str, str],
) -> None:
    earlier = places.get(column.key)
    if column.repeats and earlier and units.get(column.key) != unit:
        raise InvalidInput(
            f"The columns of '{headings[earlier[0]]}' name different units "
            f"({units.get(column.key) or 'none'} and {unit or 'none'}); use one unit."
        )
    if unit:
        units[column.key] = unit


def _refuse_doubles(
    headings: Sequence[str], places: Mapping[str, list[int]], wanted: Sequence[Column]
) -> None:
    for column in wanted:
        found = places.get(column.key, [])
        if len(found) > 1 and not column.repeats:
            named = " and ".join(
                f"'{headings[place]}' (column {column_letters(place + 1)})" for place in found
            )
            raise InvalidInput(
                f"Both {named} could be the column '{column.names[0]}'; rename or take out "
                "the one that is not meant.",
                {headings[place]: "could be the same column" for place in found},
            )


def _refuse_missing(
    headings: Sequence[str], places: Mapping[str, list[int]], wanted: Sequence[Column]
) -> None:
    missing = [column for column in wanted if column.required and column.key not in places]
    if not missing:
        return
    seen = ", ".join(f"'{heading}'" for heading in headings if heading) or "none"
    needed = "; ".join(
        f"'{column.names[0]}'"
        + (f" (or {', '.join(column.names[1:])})" if len(column.names) > 1 else "")
        for column in missing
    )
    noun = "column is" if len(missing) == 1 else "columns are"
    raise InvalidInput(
        f"The {noun} missing: {needed}. The headings found are: {seen}.",
        {column.names[0]: "missing" for column in missing},
    )
