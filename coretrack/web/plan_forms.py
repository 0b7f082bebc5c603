"""The plan editor's form: fields into the tables of a family file and back, problems to fields.

A field's name is a letter, a row and a key: `c0-code` is the code of the first check,
`c0-b1-limits` the limits of its second rework band, `o2-minutes` and `f0-effect` belong to an
operation and to a criterion; the family's own fields have no prefix.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

from coretrack.figures.hardness import convert_hardness
from coretrack.figures.limits import Limits
from coretrack.figures.numbers import NotANumber, parse_number
from coretrack.figures.plans import NUMERIC_KINDS
from coretrack.figures.printed_limits import class_names, read_size, understand_printed
from coretrack.figures.tolerances import NotLimits
from coretrack.figures.units import UnknownUnit, canonical_unit

HEADER = ("code", "name", "mass_g", "metal", "standard_yield", "credit_when", "part_percent")
LIMITS = ("new", "usable", "plausible")
COMMON = ("code", "name", "kind", "order", "gauge_kind")
NUMERIC = ("unit", "resolution", "nominal", *LIMITS, "readings", "judged", "rule", "uncertainty")
CHECK = (*COMMON, *NUMERIC, "method", "look_scraps", "look_reworks")
OPERATION = (
    *("code", "name", "minutes", "consumables", "most_passes"),
    *("check", "removes", "allowance", "disturbs"),
)
CRITERION = ("code", "name", "effect", "value", "exclusive", "each")
BAND = ("operation", "limits")

MOST_ROWS = 200
"""Checks, operations or criteria of one plan; more is no plan but a mistake."""

_OF_KIND = {
    **dict.fromkeys(NUMERIC_KINDS, NUMERIC),
    "crack": ("method",),
    "attribute": (),
    "look": ("look_scraps", "look_reworks"),
}
_SIZES = frozenset({"resolution", "uncertainty", "removes", "allowance"})
_AMOUNTS = frozenset({"consumables", "value", "standard_yield", "part_percent"})
_LISTS = frozenset({"look_scraps", "disturbs"})
_FLAGS = frozenset({"exclusive", "each"})
_LETTERS = {"c": ("checks", CHECK), "o": ("operations", OPERATION), "f": ("faults", CRITERION)}

Fields = dict[str, str]


@dataclass
class Row:
    """One check, operation or criterion as typed; `bands` are a check's rework bands."""

    fields: Fields
    bands: list[Fields] = field(default_factory=list)

    @property
    def kind(self) -> str:
        """The kind of a check; empty for other rows."""
        return self.fields.get("kind", "")

    @property
    def shown(self) -> tuple[str, ...]:
        """The keys of a check that its kind has."""
        return (*COMMON, *_OF_KIND.get(self.kind, ()))

    @property
    def has_bands(self) -> bool:
        """Whether a check of this kind may send to rework by bands."""
        return self.kind in (*NUMERIC_KINDS, "attribute")


@dataclass
class PlanForm:
    """The whole form as typed."""

    header: Fields
    checks: list[Row] = field(default_factory=list)
    operations: list[Row] = field(default_factory=list)
    criteria: list[Row] = field(default_factory=list)

    def rows(self, letter: str) -> list[Row]:
        """Return the rows of a letter."""
        return {"c": self.checks, "o": self.operations, "f": self.criteria}[letter]


def form_of(tables: Mapping[str, Any]) -> PlanForm:
    """Return the tables of a family file as the form shows them, checks in bench order."""
    checks = sorted(tables.get("checks", ()), key=lambda table: int(table.get("order", 0)))
    return PlanForm(
        {name: _shown(tables.get(name, "")) for name in HEADER},
        [_row(table, CHECK) for table in checks],
        [_row(table, OPERATION) for table in tables.get("operations", ())],
        [_row(table, CRITERION) for table in tables.get("faults", ())],
    )


def form_sent(sent: Mapping[str, str]) -> PlanForm:
    """Return the form as it was sent, rows without holes."""
    form = PlanForm({name: sent.get(name, "") for name in HEADER})
    for letter, (_, keys) in _LETTERS.items():
        for number in _numbers(sent, rf"{letter}(\d+)-.+"):
            start = f"{letter}{number}"
            row = Row({key: sent.get(f"{start}-{key}", "") for key in keys})
            row.bands = [
                {key: sent.get(f"{start}-b{band}-{key}", "") for key in BAND}
                for band in _numbers(sent, rf"{start}-b(\d+)-.+")
            ]
            form.rows(letter).append(row)
    return form


def changed_by(form: PlanForm, act: str) -> bool:
    """Let a button add or take out a row or band ("add:c", "drop:c:0", "band:c:0", "unband:0:1").

    Return whether the button was such a one.
    """
    match act.split(":"):
        case ["add", ("c" | "o" | "f") as letter]:
            rows = form.rows(letter)
            rows.append(Row(dict.fromkeys(_LETTERS[letter][1], "")))
            if letter == "c":
                rows[-1].fields |= {"kind": "dimension", "unit": "mm", "order": _next_order(form)}
        case ["drop", ("c" | "o" | "f") as letter, number] if number.isdecimal():
            del form.rows(letter)[int(number) : int(number) + 1]
        case ["band", number] if number.isdecimal():
            for row in form.checks[int(number) : int(number) + 1]:
                row.bands.append(dict.fromkeys(BAND, ""))
        case ["unband", number, band] if number.isdecimal() and band.isdecimal():
            for row in form.checks[int(number) : int(number) + 1]:
                del row.bands[int(band) : int(band) + 1]
        case _:
            return False
    return True


def put_in_order(form: PlanForm, codes: Sequence[str]) -> None:
    """Give the checks the order of `codes`; one that is not named keeps its place behind them."""
    place = {code: number for number, code in enumerate(codes, start=1)}
    for later, row in enumerate(form.checks, start=len(codes) + 1):
        row.fields["order"] = str(place.get(row.fields["code"], later))
    form.checks.sort(key=lambda row: int(row.fields["order"]))


def form_tables(form: PlanForm) -> dict[str, Any]:
    """Return the form as the tables of a family file; what is left empty is left out."""
    return {
        **_filled(form.header, HEADER),
        "checks": [_check(row) for row in form.checks],
        "operations": [_filled(row.fields, OPERATION) for row in form.operations],
        "faults": [_filled(row.fields, CRITERION) for row in form.criteria],
    }


def problems_by_field(form: PlanForm, problems: Mapping[str, str]) -> dict[str, str]:
    """Return what is wrong by the name of the field; a problem of no field stays where it was."""
    fields = fields_of_places(form, problems)
    found: dict[str, str] = {}
    for place, text in problems.items():
        name = fields.get(place, place)
        found[name] = f"{found[name]}; {text}" if name in found else text
    return found


def fields_of_places(form: PlanForm, problems: Mapping[str, str]) -> dict[str, str]:
    """Return the name of the field that each place of a family file is typed in."""
    return {place: name for place, name in _places(form) if place in problems}


def _places(form: PlanForm) -> Iterator[tuple[str, str]]:
    yield from ((name, name) for name in HEADER)
    for letter, (table, keys) in _LETTERS.items():
        for number, row in enumerate(form.rows(letter)):
            title = _title(table, row.fields["code"], number)
            yield title, f"{letter}{number}-code"
            yield from ((f"{title}, {key}", f"{letter}{number}-{key}") for key in keys)
            yield f"{title}, rework", f"{letter}{number}-b{_odd_band(form, row)}-operation"
            for place, band in enumerate(row.bands):
                inside = f"{title}, {_title('rework', band['operation'], place)}"
                for at, key in (("", "limits"), *((f", {key}", key) for key in BAND)):
                    yield f"{inside}{at}", f"{letter}{number}-b{place}-{key}"


def _odd_band(form: PlanForm, row: Row) -> int:
    """Return which band of a check names no operation of the plan, the first one if all do."""
    known = {one.fields["code"].strip() for one in form.operations}
    odd = (n for n, band in enumerate(row.bands) if band["operation"].strip() not in known)
    return next(odd, 0)


def hints(form: PlanForm) -> dict[str, str]:
    """Return what typed limits mean, by field: both ends, and the ISO 286 class that gives them."""
    found: dict[str, str] = {}
    for number, row in enumerate(form.checks):
        if row.kind not in NUMERIC_KINDS:
            continue
        typed = {f"c{number}-{key}": row.fields[key] for key in LIMITS}
        typed |= {
            f"c{number}-b{place}-limits": band["limits"] for place, band in enumerate(row.bands)
        }
        for name, text in typed.items():
            hint = limits_hint(text, row.fields["unit"], row.fields["nominal"])
            if hint:
                found[name] = hint
    return found


def limits_hint(text: str, unit: str, nominal: str, *, flag: bool = False) -> str:
    """Return in words what limits mean; nothing while they cannot be read, or why with `flag`."""
    if not text.strip():
        return ""
    if not unit.strip():
        return "⚠ give the unit first" if flag else ""
    try:
        own = canonical_unit(unit)
        size = read_size(nominal, own) if nominal.strip() else None
        told = understand_printed(text, own, size)
    except (NotLimits, UnknownUnit, NotANumber, ValueError) as error:
        return f"⚠ {error}" if flag else ""
    around = told.nominal if told.nominal is not None else size
    names = class_names(told.limits, own, around)
    said = f"; the limits of class {' or '.join(names)}" if names else ""
    return f"{told.understood}{said}{_other_scale(told.limits, own)}"


def _other_scale(limits: Limits, unit: str) -> str:
    """Return limits of steel's hardness in the other scale, measured numbers in brackets."""
    if unit not in ("HRC", "HV"):
        return ""
    ends = [convert_hardness(end, unit) for end in (limits.lower, limits.upper) if end is not None]
    told = [end.text for end in ends if end.text]
    return f"; of steel about {' to '.join(told)}" if told else ""


def _row(table: Mapping[str, Any], keys: Iterable[str]) -> Row:
    fields = {key: _shown(table.get(key, "")) for key in keys}
    if "kind" in fields and fields["kind"] in NUMERIC_KINDS:
        fields["readings"] = fields["readings"] or "1"
    bands = [{key: _shown(band.get(key, "")) for key in BAND} for band in table.get("rework", ())]
    return Row(fields, bands)


def _shown(value: Any) -> str:
    if isinstance(value, bool):
        return "yes" if value else ""
    if isinstance(value, list):
        return ", ".join(": ".join(part) if isinstance(part, list) else str(part) for part in value)
    return str(value)


def _check(row: Row) -> dict[str, Any]:
    table = _filled(row.fields, row.shown)
    if row.has_bands:
        keys = BAND if row.kind in NUMERIC_KINDS else BAND[:1]
        bands = [_filled(band, keys) for band in row.bands if any(map(str.strip, band.values()))]
        if bands:
            table["rework"] = bands
    return table


def _filled(typed: Mapping[str, str], keys: Iterable[str]) -> dict[str, Any]:
    return {key: _value(key, text) for key in keys if (text := typed.get(key, "").strip())}


def _value(key: str, text: str) -> Any:
    if key in _FLAGS:
        return True
    if key in _LISTS:
        return [part.strip() for part in re.split(r"[,;]", text) if part.strip()]
    if key == "look_reworks":
        pairs = [part for part in re.split(r"[,;]", text) if part.strip()]
        return [[half.strip() for half in pair.split(":")] for pair in pairs]
    if key in _SIZES or key in _AMOUNTS:
        try:
            return f"{parse_number(text, comma_is_decimal=key in _SIZES):f}"
        except NotANumber:
            return text
    return text


def _title(table: str, code: str, number: int) -> str:
    """Return how the reader of a family file names a row."""
    return f"{table} {code.strip()}" if code.strip() else f"{table} no. {number + 1}"


def _numbers(sent: Mapping[str, str], pattern: str) -> list[int]:
    found = {
        int(hit[1]) for name in sent if (hit := re.fullmatch(pattern, name)) and len(hit[1]) < 5
    }
    return sorted(found)[:MOST_ROWS]


def _next_order(form: PlanForm) -> str:
    given = [int(text) for row in form.checks if (text := row.fields["order"]).isdecimal()]
    return str(max(given, default=0) + 1)
