"""Finds the known columns of a table by their headings, leniently but never by a guess.

Case, blanks, no-break spaces, byte-order marks, dashes, underscores, dots and brackets do not
count. A unit in a heading, such as `BODY OD (mm)`, is split off where the column holds a number.
"""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import lru_cache

from coretrack.errors import InvalidInput
from coretrack.figures.table import Cell, Row, column_letters
from coretrack.figures.typed_cells import (
    CellProblem,
    code_text,
    count,
    number,
    percent,
    quantity,
    reading_text,
    yes,
)
from coretrack.figures.units import UnknownUnit, canonical_unit, dimension_of

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
    "quantity",
    "reading_text",
    "split_unit",
    "yes",
]

REJECT_HEADINGS = ("rejected row", "rejected column", "rejected value", "why rejected")
"""The columns a rejects file adds; a corrected one is imported again without taking them out."""

KINDS_WITH_UNIT = frozenset({"number", "money", "count", "reading"})

_BRACKETED = re.compile(r"(?P<name>.*\S)\s*[(\[{]\s*(?P<unit>[^()\[\]{}]*?)\s*[)\]}]", re.DOTALL)
_TRAILING = re.compile(
    r"(?P<name>.*?[^\s_,/])(?P<joint>\s+in\s+|\s*/\s*|[\s_,]+)(?P<unit>[^\s_,/()\[\]{}]+)",
    re.DOTALL | re.IGNORECASE,
)
_CURRENCY = re.compile(r"[A-Z]{3}")
_CURRENCY_SIGN = re.compile(r"[€£$¥]")
_CURRENCY_CODES = frozenset(
    {
        *("AUD", "BRL", "CAD", "CHF", "CNY", "CZK", "DKK", "EUR", "GBP", "HKD"),
        *("HUF", "ILS", "INR", "JPY", "KRW", "MXN", "NOK", "NZD", "PLN", "RON"),
        *("RUB", "SEK", "SGD", "THB", "TRY", "TWD", "USD", "ZAR"),
    }
)
"""Currencies (ISO 4217, from memory) that a heading may name without brackets, as in `cost USD`."""
_ALSO_WORDS = frozenset(
    {"in", "m", "s", "t", "g", "h", "l", "n", "k", "c", "f", "min", "count", "piece", "pieces"}
)
"""Units that are words too: behind a mere blank they belong to the name (date in)."""


@dataclass(frozen=True)
class Column:
    """A column that is wanted: its key, the headings it may have, and what its cells hold.

    `kind`: code, text, number, money, date, time, percent, count, yes or reading. A column that
    `repeats` may stand several times, numbered (`guide bore 1`, `guide bore 2`). A number's `unit`
    is the one it is wanted in; headings and cells may name another of the same kind.
    """

    key: str
    names: tuple[str, ...]
    required: bool = False
    kind: str = "text"
    repeats: bool = False
    unit: str = ""


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


@lru_cache(maxsize=4096)
def fold_heading(heading: str) -> str:
    """Return the form in which two spellings of one heading are equal: letters and digits only."""
    folded = unicodedata.normalize("NFKC", heading).casefold()
    return "".join(sign for sign in folded if sign.isalnum())


@lru_cache(maxsize=4096)
def split_unit(heading: str) -> tuple[str, str | None]:
    """Return a heading's name (folded to small letters) and the unit it names, None without one.

    `BODY OD (mm)`, `body_od_mm`, `Body OD, mm`, `body od / mm`, `body od in mm` and `body od mm`
    give ("body od", "mm"). Behind a mere blank a unit that is also a word (`date in`) stays with
    the name.
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


def match_columns(
    headings: Sequence[str], wanted: Sequence[Column], one_of: Sequence[str] = ()
) -> ColumnMap:
    """Return where the `wanted` columns stand under `headings`.

    InvalidInput when a required column is missing, or every column of `one_of` (it lists what was
    found and what is accepted), when two headings could be the same column (it names both), and
    when a heading names a unit that its column cannot have.
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
        _refuse_unfit_unit(heading, column, unit)
        _settle_unit(column, unit, headings, places, units)
        places.setdefault(column.key, []).append(place)
    _refuse_doubles(headings, places, wanted)
    _refuse_missing(headings, places, wanted, one_of)
    kept = {key: tuple(found) for key, found in places.items()}
    return ColumnMap(tuple(headings), kept, units, tuple(unknown))


def _find(heading: str, wanted: Sequence[Column]) -> tuple[Column | None, str | None]:
    """The whole heading counts before its name without a unit, so `window days` stays itself.

    A unit that is only a sign, as in `reading (")`, counts all the same.
    """
    whole = fold_heading(heading)
    name, unit = split_unit(heading)
    short = fold_heading(name)
    for column in wanted:
        if column.kind == "money":
            priced, currency = _split_currency(heading)
            if currency and fold_heading(priced) in _spellings(column):
                return column, currency
        if whole in _spellings(column):
            return column, unit if short == whole and _measured(column, unit) else None
    for column in wanted:
        if _measured(column, unit) and short in _spellings(column):
            return column, unit
        if column.repeats and re.sub(r"\d+$", "", short) in _spellings(column):
            return column, unit
        word = _word_as_unit(heading, column) if unit is None else None
        if word:
            return column, word
    return None, None


def _word_as_unit(heading: str, column: Column) -> str | None:
    """Return a unit that is a word too (`mass g`) where it measures what the column wants."""
    found = _TRAILING.fullmatch(heading.strip()) if column.unit else None
    unit = _unit(found["unit"]) if found else None
    if found is None or unit is None or fold_heading(found["name"]) not in _spellings(column):
        return None
    return unit if dimension_of(unit) == dimension_of(column.unit) else None


def _measured(column: Column, unit: str | None) -> bool:
    return unit is not None and (
        column.kind in KINDS_WITH_UNIT or (column.kind == "percent" and unit == "%")
    )


def _split_currency(heading: str) -> tuple[str, str | None]:
    """Return the heading's name and the currency it names: `cost (USD)`, `cost USD`, `€ each`."""
    sign = _CURRENCY_SIGN.search(heading)
    if sign:
        return heading.replace(sign.group(), " "), sign.group()
    bracket = _BRACKETED.fullmatch(heading.strip())
    if bracket and _CURRENCY.fullmatch(bracket["unit"]):
        return bracket["name"], bracket["unit"]
    found = _TRAILING.fullmatch(heading.strip())
    if found and found["unit"].upper() in _CURRENCY_CODES:
        return found["name"], found["unit"].upper()
    return heading, None


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


def _refuse_unfit_unit(heading: str, column: Column, unit: str | None) -> None:
    wanted = _unit_wanted(column, unit) if unit else ""
    if wanted:
        raise InvalidInput(
            f"Column '{heading}' names {unit}, but {wanted} there; rename or take out the column.",
            {heading: f"names {unit}"},
        )


def _unit_wanted(column: Column, unit: str) -> str:
    """Return what belongs into a column instead of its `unit`, empty when the unit fits."""
    if column.kind == "money":
        fits = unit == "count" or _CURRENCY.fullmatch(unit) or _CURRENCY_SIGN.fullmatch(unit)
        return "" if fits else "amounts of money per piece belong"
    if column.kind == "count" and unit != "count":
        return "a number of pieces belongs"
    if column.unit and dimension_of(unit) != dimension_of(column.unit):
        return f"a {dimension_of(column.unit)} in {column.unit} belongs"
    return ""


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
    headings: Sequence[str],
    places: Mapping[str, list[int]],
    wanted: Sequence[Column],
    one_of: Sequence[str],
) -> None:
    missing = [column for column in wanted if column.required and column.key not in places]
    choice = [column for column in wanted if column.key in one_of]
    if choice and not any(column.key in places for column in choice):
        needed = "; ".join(_accepted(column) for column in choice)
        what = f"At least one of these columns is needed: {needed}"
    elif missing:
        choice = missing
        noun = "column is" if len(missing) == 1 else "columns are"
        what = f"The {noun} missing: {'; '.join(_accepted(column) for column in missing)}"
    else:
        return
    seen = ", ".join(f"'{heading}'" for heading in headings if heading) or "none"
    raise InvalidInput(
        f"{what}. The headings found are: {seen}.",
        {column.names[0]: "missing" for column in choice},
    )


def _accepted(column: Column) -> str:
    others = f" (or {', '.join(column.names[1:])})" if len(column.names) > 1 else ""
    return f"'{column.names[0]}'{others}"
