"""What a reading could have been when it does not fit: wrong unit, wrong scale, lost point."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from fractions import Fraction

from coretrack.figures.limits import Limits, decimal_places, plain_text, to_micro
from coretrack.figures.numbers import half_up
from coretrack.figures.units import convert, convert_difference, dimension_of

REFERENCE_TEMPERATURE = 20
"""°C, the reference temperature of dimensions (ISO 1; from memory)."""

_TEMPERATURE_SPREAD = 25
# The units whose mix-up is common in shops; rarer ones would only make up far-fetched questions.
_CONFUSED = {
    "length": ("mm", "in", "µm", "thou"),
    "pressure": ("bar", "psi", "kPa", "MPa"),
    "time": ("s", "min"),
    "mass": ("kg", "g", "lb"),
    "temperature": ("°C", "°F", "K"),
    "force": ("N", "lbf"),
    "torque": ("N·m", "lbf·ft"),
}
# dimension: unit, least, most; rough bounds of what a shop of this kind can meet (no source).
_SENSE: dict[str, tuple[str, int | None, int | None]] = {
    "length": ("m", -5, 5),
    "pressure": ("bar", -1, 10_000),
    "time": ("h", 0, 1000),
    "mass": ("kg", 0, 5000),
    "temperature": ("°C", -273, 2000),
    "count": ("count", 0, 1_000_000),
    "Rockwell C hardness": ("HRC", 0, 100),
    "Rockwell B hardness": ("HRB", 0, 130),
    "Vickers hardness": ("HV", 0, 3000),
    "Brinell hardness": ("HB", 0, 1000),
    "share": ("%", -1000, 1000),
    "angle": ("°", -360, 360),
}


@dataclass(frozen=True)
class Suggestion:
    """What a reading may have been: `value` in millionths of the check's unit, and why."""

    value: int
    text: str


def plausible_band(unit: str, nominal: int | None) -> Limits | None:
    """Return the band in which a reading is taken without a question, None when none is known.

    Half to one and a half times `nominal` (millionths of `unit`): wide enough for any worn body,
    narrow enough for a slip of 25.4 or of ten. For temperatures nominal ± 25 °C, since their zero
    is arbitrary; their nominal is 20 °C when none is given. A nominal of 0 gives no band. Common
    sense, no source.
    """
    if dimension_of(unit) == "temperature":
        centre = (
            to_micro(convert(REFERENCE_TEMPERATURE, "°C", unit)) if nominal is None else nominal
        )
        spread = to_micro(convert_difference(_TEMPERATURE_SPREAD, "°C", unit))
        return Limits(centre - spread, centre + spread)
    if not nominal:
        return None
    half = abs(nominal) // 2
    return Limits(nominal - half, nominal + half)


def sense(value: Fraction, unit: str) -> str:
    """Return why `value` (in `unit`) cannot be a reading at all; empty when it can."""
    scale, least, most = _SENSE.get(dimension_of(unit), (unit, None, None))
    scaled = convert(value, unit, scale)
    if least is not None and scaled < least:
        return f"it is less than {least} {scale}".removesuffix(" count")
    if most is not None and scaled > most:
        return f"it is more than {most} {scale}".removesuffix(" count")
    return ""


def better_readings(
    value: Fraction,
    unit: str,
    band: Limits,
    nominal: int | None,
    resolution: int | None = None,
    *,
    sure: bool = False,
) -> tuple[Suggestion, ...]:
    """Return what else `value` (in `unit`) may mean so that it falls into `band`, three at most.

    Tried are the units of the same kind, both ways (typed in one, gauge set to the other), and a
    decimal point lost or misplaced by one to three digits. The nearest to the nominal size, or to
    the band's middle, comes first; when it is within a tenth, farther ones are left out, and with
    `sure` they are always left out. `resolution` (millionths) only shortens the texts.
    """
    found: dict[int, str] = {}
    for micro, how in _candidates(value, unit):
        found.setdefault(micro, f"{_shown(micro, unit, resolution)} ({how})")
    centre = _centre(band, nominal)
    fitting = [Suggestion(*item) for item in found.items() if band.contains(item[0])]
    fitting.sort(key=lambda each: abs(each.value - centre))
    near = [each for each in fitting if 10 * abs(each.value - centre) <= abs(centre)]
    return tuple((near if near or sure else fitting)[:3])


def _candidates(value: Fraction, unit: str) -> Iterator[tuple[int, str]]:
    """Yield what `value` may stand for in millionths of `unit`, and how it came about."""
    typed = plain_text(to_micro(value))
    temperature = dimension_of(unit) == "temperature"
    for other in _CONFUSED.get(dimension_of(unit), ()):
        if other != unit:
            yield to_micro(convert(value, other, unit)), f"{typed} {other}"
            if not temperature:
                yield to_micro(convert(value, unit, other)), _factor(unit, other)
    for scale in () if temperature else (10, 100, 1000):
        yield to_micro(value / scale), f"divided by {scale}: the decimal point was lost"
        yield to_micro(value * scale), f"times {scale}: the decimal point was misplaced"


def _shown(value: int, unit: str, resolution: int | None) -> str:
    """Return the value for a question: to the resolution, or to three decimals, if that is near."""
    places = 3 if resolution is None else decimal_places(resolution)
    step: int = 10 ** (6 - places)
    short = half_up(Fraction(value, step)) * step
    near = 1000 * abs(short - value) <= abs(value)
    return f"{plain_text(short if near else value)} {unit}"


def _factor(unit: str, other: str) -> str:
    """Return how the typed value came about from the right one, such as "times 25.4"."""
    ratio = convert_difference(1, other, unit)
    number = plain_text(to_micro(max(ratio, 1 / ratio)))
    return f"typed {'times' if ratio > 1 else 'divided by'} {number}"


def _centre(band: Limits, nominal: int | None) -> int:
    if nominal is not None:
        return nominal
    ends = [end for end in (band.lower, band.upper) if end is not None]
    return sum(ends) // len(ends) if ends else 0
