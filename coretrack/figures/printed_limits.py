"""Limits and sizes as a plan writes them, also as a pair: `6.00..6.05 mm (0.236..0.238 in)`.

The part in brackets says the same in another unit and is only held against the first: manuals
misprint such pairs often. One that disagrees is refused, since nobody can tell which half is right.
"""

from __future__ import annotations

import re
from decimal import Decimal
from fractions import Fraction

from coretrack.figures import iso286
from coretrack.figures.limits import MICRO, Limits, plain_text, to_micro
from coretrack.figures.numbers import NotANumber, clean_text, parse_number, quoted
from coretrack.figures.printed_pairs import NotAPair, pair_disagrees
from coretrack.figures.tolerances import LimitsReading, NotLimits, understand_limits
from coretrack.figures.units import (
    NotConvertible,
    UnknownUnit,
    canonical_unit,
    comma_is_decimal,
    convert,
    dimension_of,
    split_quantity,
)

_BRACKETS = re.compile(r"(?P<first>[^()]*\S)\s*\((?P<second>[^()]+)\)\s*")
_UNIT_AT_END = re.compile(r"[^\d\s.,+\-±/()](?:[^\d+\-±()]*)$")
_PLACES = re.compile(r"\d[.,](\d+)|(?<!\d)[.,](\d+)")


def understand_printed(text: str, unit: str, nominal: int | None = None) -> LimitsReading:
    """Return what limits mean; a second unit in brackets must agree. Raises NotLimits.

    Each end of a pair may be off by half of its last printed digit.
    """
    pair = _BRACKETS.fullmatch(clean_text(text))
    if pair is None:
        return understand_limits(text, unit=unit, nominal=nominal)
    first = understand_limits(pair["first"], unit=unit, nominal=nominal)
    own, other = _unit_of(pair["first"]) or unit, _unit_of(pair["second"])
    if other is None:
        raise NotLimits(f"{quoted(pair['second'])} has no unit; write it like 0.236..0.238 in")
    try:
        shown = understand_limits(pair["first"], unit=own, nominal=_in(nominal, unit, own)).limits
        second = understand_limits(pair["second"], unit=other, nominal=_in(nominal, unit, other))
        _agree(shown, _ends(pair["first"], own), second.limits, _ends(pair["second"], other))
    except (NotAPair, NotConvertible) as error:
        raise NotLimits(str(error)) from error
    return first


def read_size(text: str, unit: str) -> int:
    """Return a size such as `17`, `17,5 mm` or `1.278 in (32.46 mm)` in millionths of `unit`.

    ValueError says what is wrong; a pair that disagrees is refused, and so is what is finer than a
    millionth.
    """
    pair = _BRACKETS.fullmatch(clean_text(text))
    first = pair["first"] if pair else text
    number, given = split_quantity(first)
    own = canonical_unit(given) if given else unit
    if pair is not None:
        told = pair_disagrees(first if given else f"{first} {unit}", pair["second"])
        if told is not None:
            raise NotAPair(told.text)
    value = parse_number(number, comma_is_decimal=comma_is_decimal(own))
    exact = convert(value, own, unit) * MICRO
    if exact.denominator != 1:
        raise NotANumber(f"{quoted(text)} is finer than a millionth of {unit}")
    return int(exact)


def class_names(limits: Limits, unit: str, nominal: int | None) -> tuple[str, ...]:
    """Return the ISO 286 classes that give exactly these limits around `nominal`, shafts first."""
    ends = (limits.lower, limits.upper)
    if nominal is None or None in ends or not unit or dimension_of(unit) != "length":
        return ()
    size = convert(Fraction(nominal, MICRO), unit, "mm")
    wanted = [convert(Fraction(end or 0, MICRO), unit, "mm") - size for end in ends]
    found = []
    for name in iso286.supported_classes():
        try:
            allowed = iso286.deviations(size, name)
        except iso286.OutsideSizes:
            return ()
        if [allowed.lower, allowed.upper] == [to_micro(part) for part in wanted]:
            found.append(name)
    return tuple(found)


def limits_as_text(limits: Limits, resolution: int | None = None) -> str:
    """Return limits so that they are read back exactly: `6.00..6.05`, `>= 55` or `<= 0.3`.

    At least the decimals of `resolution` are written. ValueError without a limit on either side.
    """
    places = _decimals(resolution)
    low, high = (None if end is None else plain_text(end, places) for end in _both(limits))
    if low is not None and high is not None:
        return f"{low}..{high}"
    if low is None and high is None:
        raise ValueError("limits that are open on both sides cannot be written")
    return f"<= {high}" if low is None else f">= {low}"


def _both(limits: Limits) -> tuple[int | None, int | None]:
    return limits.lower, limits.upper


def _decimals(resolution: int | None) -> int:
    text = plain_text(resolution or 0)
    return len(text.partition(".")[2])


def _unit_of(text: str) -> str | None:
    found = _UNIT_AT_END.search(text.strip())
    if found is None:
        return None
    try:
        return canonical_unit(found[0].strip())
    except UnknownUnit:
        return None


def _in(nominal: int | None, unit: str, other: str) -> int | None:
    if nominal is None:
        return None
    return to_micro(convert(Fraction(nominal, MICRO), unit, other))


def _ends(text: str, unit: str) -> tuple[int, str]:
    """Return how many decimals a text prints at most, and its unit."""
    places = [len(whole or bare) for whole, bare in _PLACES.findall(text)]
    return max(places, default=0), unit


def _agree(first: Limits, printed: tuple[int, str], second: Limits, other: tuple[int, str]) -> None:
    """Raise NotAPair where an end of `first` is not the same end of `second`."""
    for one, two in ((first.lower, second.lower), (first.upper, second.upper)):
        if (one is None) != (two is None):
            raise NotAPair("one half of the pair has a limit where the other has none")
        if one is None or two is None:
            continue
        told = pair_disagrees(_printed(one, *printed), _printed(two, *other))
        if told is not None:
            raise NotAPair(told.text)


def _printed(end: int, places: int, unit: str) -> str:
    value = Decimal(plain_text(end))
    shown = round(value, places) if -int(value.as_tuple().exponent) < places else value
    return f"{shown:f} {unit}"
