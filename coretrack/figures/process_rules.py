"""The day's checks of lamps and baths for crack checks: what is measured, and when it is good.

The limits that a shop begins with are those vendors' notes on non-destructive testing give: for
wet fluorescent work UV-A of at least 10 W/m² (1,000 µW/cm²) at the part, peak at 365 nm, and at
most 20 lx of ambient light, lamp and bath checked daily; for colour penetrant white light of about
1,100 lx (100 fc). For a bath's concentration no limit is given: the shop states its own. The
method's standard, the maker's sheet and qualified people decide; a shop changes all of it.

A light meter shows a bare number, and 500 is a dim lamp in one of its units and a furnace in
another: a number says its unit or is asked back, and so is one far beyond what is wanted.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

from coretrack.figures.bench_objects import ProcessRule
from coretrack.figures.limits import MICRO, Limits, describe_limits, plain_text
from coretrack.figures.numbers import clean_text
from coretrack.figures.readings import Question, Reading, Refusal, read_reading
from coretrack.figures.units import UnknownUnit, canonical_unit, convert, split_quantity

NOTES = "testing vendors' notes on this method; your procedure and its standard decide"
NO_SOURCE = "no limits stated yet: take them from your procedure"


FAR_BEYOND = 10
"""A reading over so many times the most that is wanted is asked back (common sense, no source)."""

REALLY = "Really"
"""How the question begins about a reading that may be right all the same."""

_UNIT_SIGNS = "%\"″”'"

UNIT, SURE = "unit-", "sure-"
"""What the fields beside a quantity's are called, before its code: its unit, and "it is right"."""


@dataclass(frozen=True)
class Quantity:
    """Something measured at a process check, in `unit`; `also` are other units it may come in.

    `usual` is the most that is taken without a question while no limit is stated, in millionths;
    None for anything.
    """

    code: str
    name: str
    unit: str
    also: tuple[str, ...] = ()
    usual: int | None = None

    @property
    def units(self) -> tuple[str, ...]:
        """The units that a reading may come in; of several one has to be told."""
        return (self.unit, *self.also)


@dataclass(frozen=True)
class ProcessKind:
    """A kind of process check; `panel` when a panel or ring with known defects is shown to it."""

    code: str
    name: str
    quantities: tuple[Quantity, ...]
    panel: bool
    rule: ProcessRule
    hints: tuple[str, ...] = ()


DISTANCE = Quantity("distance", "At the distance of", "mm", ("cm", "in"))

KINDS = {
    kind.code: kind
    for kind in (
        ProcessKind(
            "uv lamp",
            "UV-A lamp",
            (
                Quantity("uva", "UV-A at the part", "W/m²", ("µW/cm²", "mW/cm²")),
                Quantity("ambient", "White light in the booth", "lx", ("fc",)),
                DISTANCE,
            ),
            False,
            ProcessRule(
                "uv lamp",
                ("fluorescent penetrant", "magnetic particle"),
                {"uva": [10 * MICRO, None], "ambient": [None, 20 * MICRO]},
                NOTES,
            ),
            (
                "Let the lamp warm up 5 minutes and the eyes get used to the dark for 1 minute.",
                "No glasses that darken by themselves.",
            ),
        ),
        ProcessKind(
            "white light",
            "White light",
            (Quantity("light", "White light at the part", "lx", ("fc",)), DISTANCE),
            False,
            ProcessRule("white light", ("penetrant",), {"light": [1100 * MICRO, None]}, NOTES),
        ),
        ProcessKind(
            "bath",
            "Bath",
            (Quantity("concentration", "Settled, ml in 100 ml", "%", usual=10 * MICRO),),
            True,
            ProcessRule("bath", ("fluorescent penetrant", "magnetic particle"), {}, NO_SOURCE),
        ),
    )
}


@dataclass(frozen=True)
class Measured:
    """What was measured, judged: `values` in millionths by quantity, `why` it is not good."""

    typed: Mapping[str, str]
    values: Mapping[str, int]
    why: tuple[str, ...] = ()
    problems: Mapping[str, str] = field(default_factory=dict)

    @property
    def result(self) -> str:
        """Good, or not good."""
        return "not good" if self.why else "good"


def rule_of(kind: str, stored: ProcessRule | None) -> ProcessRule:
    """Return the rule in force: the shop's own, else the one it begins with."""
    return stored or KINDS[kind].rule


def limits_of(rule: ProcessRule, quantity: str) -> Limits | None:
    """Return the limits of one quantity, or None when none are stated."""
    pair: Sequence[int | None] | None = rule.limits.get(quantity)
    return None if pair is None else Limits(*pair)


def limits_words(rule: ProcessRule, quantity: Quantity) -> str:
    """Return the limits of one quantity in words, "" when none are stated."""
    limits = limits_of(rule, quantity.code)
    if limits is None:
        return ""
    words = describe_limits(limits, quantity.unit)
    if quantity.unit == "W/m²":
        other = Limits(
            *(None if end is None else end * 100 for end in (limits.lower, limits.upper))
        )
        words += f" ({describe_limits(other, 'µW/cm²')})"
    return words


def measured(kind: ProcessKind, rule: ProcessRule, told: Mapping[str, str]) -> Measured:
    """Return what was typed of a process check, judged by the rule.

    `told` maps quantities to what was typed, UNIT with one to the unit that was chosen beside it,
    SURE with one to the reading that the person insists on, and "panel" to "found" or "not found".
    A quantity with limits has to be measured; `problems` says at which field something is missing,
    no reading, or asked back. `typed` holds every reading with its unit.
    """
    typed: dict[str, str] = {}
    values: dict[str, int] = {}
    why: list[str] = []
    problems: dict[str, str] = {}
    for quantity in kind.quantities:
        text, limits = clean_text(told.get(quantity.code, "")), limits_of(rule, quantity.code)
        if not text:
            if limits is not None:
                problems[quantity.code] = f"measure it: {limits_words(rule, quantity)}"
            continue
        answer = _read(quantity, limits, text, told)
        if isinstance(answer, str):
            problems[quantity.code] = answer
            continue
        typed[quantity.code], values[quantity.code] = answer.as_typed, answer.value
        if limits is not None and not limits.contains(answer.value):
            shown = f"{plain_text(answer.value)} {quantity.unit}"
            why.append(f"{quantity.name} is {shown}, wanted {limits_words(rule, quantity)}")
    if kind.panel:
        panel = told.get("panel", "")
        if panel not in ("found", "not found"):
            problems["panel"] = "say whether every known defect of the panel was found"
        else:
            typed["panel"] = panel
            if panel == "not found":
                why.append("not every known defect of the panel was found")
    return Measured(typed, values, tuple(why), problems)


def _read(
    quantity: Quantity, limits: Limits | None, text: str, told: Mapping[str, str]
) -> Reading | str:
    """Return a quantity's reading, its unit in `as_typed`; a question or what is wrong as text."""
    bare, text = text, with_unit(quantity, told)
    if not text:
        return f"{bare} of which unit? Choose {' or '.join(quantity.units)}"
    answer = read_reading(text, unit=quantity.unit)
    if isinstance(answer, Question | Refusal):
        return answer.text
    if answer.value < 0:
        return "it cannot be less than nothing; zero the meter"
    if quantity.unit == "%" and answer.value > 100 * MICRO:
        return f"{text} cannot be: a hundred is all there is"
    if told.get(SURE + quantity.code) != text:
        return _really(quantity, limits, answer) or answer
    return answer


def with_unit(quantity: Quantity, told: Mapping[str, str]) -> str:
    """Return a quantity's reading as typed, with the unit chosen beside it; "" without any."""
    text = clean_text(told.get(quantity.code, ""))
    if has_unit(text):
        return text
    chosen = str(told.get(UNIT + quantity.code, "")).strip() if quantity.also else quantity.unit
    return f"{text} {chosen}" if chosen in quantity.units else ""


def has_unit(text: str) -> bool:
    """Return whether a reading was typed with a unit of its own."""
    return any(sign.isalpha() or sign in _UNIT_SIGNS for sign in text)


def unit_told(quantity: Quantity, typed: str) -> str:
    """Return the unit that a stored reading was told in, "" when it is none of the quantity's."""
    try:
        unit = canonical_unit(split_quantity(typed)[1] or "")
    except UnknownUnit:
        return ""
    return unit if unit in quantity.units else ""


def _really(quantity: Quantity, limits: Limits | None, reading: Reading) -> str:
    """Return the question about a reading far beyond what is wanted, "" when it may well be."""
    ends = (limits.upper if limits.upper is not None else limits.lower) if limits else None
    most = quantity.usual if ends is None else ends * FAR_BEYOND
    if most is None or reading.value <= most:
        return ""
    said = f"{REALLY} {reading.as_typed}?"
    if ends is not None and limits is not None:
        wanted = describe_limits(limits, quantity.unit)
        said += f" It is more than {FAR_BEYOND} times what is wanted ({wanted})."
    else:
        said += f" It is more than {plain_text(most)} {quantity.unit}."
    number = split_quantity(reading.as_typed)[0]
    fits = []
    for unit in quantity.units:
        if unit == reading.given_unit:
            continue
        other = convert(
            convert(reading.value, quantity.unit, reading.given_unit), unit, quantity.unit
        )
        if most / FAR_BEYOND**2 <= other <= most:
            fits.append(f"{number} {unit}")
    if fits:
        said += f" Or was it {' or '.join(fits)}?"
    return f"{said} Put it right, or tick at the page that it is"


def stamps_for(
    method: str, rules: Mapping[str, ProcessRule], results: Mapping[str, Sequence[str]]
) -> tuple[str, ...]:
    """Return what has to be said beside a result that was found by `method`.

    `results` are the results of the day's checks of each kind where the result was made. One that
    is not good stamps; so does having none. A method without checks is never stamped.
    """
    stamps = []
    for code, rule in rules.items():
        if method not in rule.methods:
            continue
        name = KINDS[code].name
        name = name if name.startswith("UV") else name.lower()
        found = results.get(code, ())
        if not found:
            stamps.append(f"no {name} check that day")
        elif "not good" in found:
            stamps.append(f"{name} check not good that day")
    return tuple(stamps)


def shown_values(kind: ProcessKind, told: Mapping[str, Any]) -> str:
    """Return what was measured as typed, in a line."""
    parts = [
        f"{quantity.name} {_with_unit(quantity, str(told[quantity.code]))}"
        for quantity in kind.quantities
        if told.get(quantity.code)
    ]
    if told.get("panel"):
        parts.append(f"known defects {told['panel']}")
    return ", ".join(parts)


def _with_unit(quantity: Quantity, typed: str) -> str:
    """Return a reading as typed; one without a unit of its own was in the quantity's."""
    return typed if has_unit(typed) else f"{typed} {quantity.unit}"
