"""Units of checks with exact factors (Fraction), and conversion between units of one dimension.

Factors: 1 in = 25.4 mm, 1 lb = 0.45359237 kg, 1 lbf = 4.4482216152605 N (all exact by definition;
from memory). Hardness scales are dimensions of their own: HRC to HV is a table with spread, not a
factor, so it is refused here.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction

from coretrack.figures.numbers import clean_text, parse_number, quoted


class UnknownUnit(ValueError):
    """No such unit is known; `str()` names some that are."""


class NotConvertible(ValueError):
    """The two units measure different things."""


@dataclass(frozen=True)
class Unit:
    """One unit: value in the dimension's base unit = value × factor + shift."""

    name: str
    dimension: str
    factor: Fraction
    shift: Fraction = Fraction(0)


_INCH = Fraction(254, 10)
_POUND = Fraction("0.45359237")
_POUND_FORCE = Fraction("4.4482216152605")
_FOOT = Fraction("0.3048")
_PSI = _POUND_FORCE / Fraction("0.0254") ** 2

# name, dimension, factor to the base unit (mm, Pa, s, kg, °C, N, N·m, °, ml, W/m², lx), others
_TABLE: tuple[tuple[str, str, Fraction, str], ...] = (
    ("mm", "length", Fraction(1), "millimetre millimetres millimeter millimeters"),
    ("µm", "length", Fraction(1, 1000), "um micron microns micrometre micrometres micrometer"),
    ("nm", "length", Fraction(1, 1_000_000), "nanometre nanometres"),
    ("cm", "length", Fraction(10), "centimetre centimetres centimeter centimeters"),
    ("m", "length", Fraction(1000), "metre metres meter meters"),
    ("in", "length", _INCH, "in. inch inches \" ″ ” '' ´´ zoll"),
    ("thou", "length", _INCH / 1000, "mil mils thous"),
    ("µin", "length", _INCH / 1_000_000, "uin microinch microinches"),
    ("ft", "length", _INCH * 12, "foot feet"),
    ("Pa", "pressure", Fraction(1), "pascal"),
    ("kPa", "pressure", Fraction(1000), ""),
    ("MPa", "pressure", Fraction(1_000_000), "MPA Mpa"),
    ("mbar", "pressure", Fraction(100), "millibar"),
    ("bar", "pressure", Fraction(100_000), "bars"),
    ("psi", "pressure", _PSI, "lbf/in2 lb/in2"),
    ("ms", "time", Fraction(1, 1000), ""),
    ("s", "time", Fraction(1), "sec secs second seconds"),
    ("min", "time", Fraction(60), "minute minutes mins"),
    ("h", "time", Fraction(3600), "hour hours hr hrs"),
    ("kg", "mass", Fraction(1), "kilogram kilograms kilo kilos"),
    ("g", "mass", Fraction(1, 1000), "gram grams"),
    ("t", "mass", Fraction(1000), "tonne tonnes"),
    ("lb", "mass", _POUND, "lbs pound pounds"),
    ("oz", "mass", _POUND / 16, "ounce ounces"),
    ("N", "force", Fraction(1), "newton newtons"),
    ("kN", "force", Fraction(1000), ""),
    ("lbf", "force", _POUND_FORCE, ""),
    ("N·m", "torque", Fraction(1), "Nm N*m N.m"),
    ("lbf·ft", "torque", _POUND_FORCE * Fraction("0.3048"), "lbf*ft lbf-ft ft-lb ft·lb lb-ft"),
    ("ml", "volume", Fraction(1), "mL cc cm3 cm³"),
    ("l", "volume", Fraction(1000), "L litre litres liter liters"),
    ("°", "angle", Fraction(1), "deg degree degrees"),
    ("HRC", "Rockwell C hardness", Fraction(1), "Rc"),
    ("HRB", "Rockwell B hardness", Fraction(1), ""),
    ("HV", "Vickers hardness", Fraction(1), ""),
    ("HB", "Brinell hardness", Fraction(1), "HBW"),
    ("count", "count", Fraction(1), "pcs pc piece pieces drop drops band bands pieces. counts"),
    ("%", "share", Fraction(1), "percent pct ％"),
    ("W/m²", "irradiance", Fraction(1), "W/m2 W/m^2"),
    ("µW/cm²", "irradiance", Fraction(1, 100), "uW/cm2 uW/cm² µW/cm2 uW/cm^2 µW/cm^2"),
    ("mW/cm²", "irradiance", Fraction(10), "mW/cm2 mW/cm^2"),
    ("lx", "illuminance", Fraction(1), "lux"),
    ("fc", "illuminance", 1 / _FOOT**2, "footcandle footcandles"),
)

_SMALL_LENGTHS = {"µm", "nm", "thou", "µin"}

_UNITS = {name: Unit(name, dimension, factor) for name, dimension, factor, _ in _TABLE} | {
    "°C": Unit("°C", "temperature", Fraction(1)),
    "°F": Unit("°F", "temperature", Fraction(5, 9), Fraction(-160, 9)),
    "K": Unit("K", "temperature", Fraction(1), Fraction("-273.15")),
}
_TEMPERATURES = {
    "°C": "C degC deg.C celsius ℃ ºC ° C",
    "°F": "F degF deg.F fahrenheit ℉ ºF ° F",
    "K": "kelvin",
}


def _aliases() -> tuple[dict[str, str], dict[str, str]]:
    """Return the spellings as they stand and those that hold whatever the case."""
    exact: dict[str, str] = {}
    for name, _, _, others in _TABLE:
        exact |= dict.fromkeys([name, *others.split()], name)
    for name, others in _TEMPERATURES.items():
        exact |= {name: name} | dict.fromkeys(
            [word for word in others.split() if word != "°"], name
        )
    loose: dict[str, str] = {}
    clashing: set[str] = set()
    for spelling, name in exact.items():
        folded = spelling.casefold()
        if len(spelling) > 1 and loose.setdefault(folded, name) != name:
            clashing.add(folded)
    # A wrong capital can mean a thousandfold (mPa, MPa), and one letter tells too little.
    for folded in clashing | {"mpa", "pa", "ms", "mn"}:
        loose.pop(folded, None)
    return exact, loose


_EXACT, _LOOSE = _aliases()
# Only the two micro signs are folded together; wider folding would turn superscripts into digits.
_MICRO_SIGN = {0x03BC: "µ"}
_QUANTITY = re.compile(
    r"(?a)(?P<number>[+-]?\s*[\d.,' \u2019]*\d[.,]?)\s*(?P<unit>[^\d\s+\-].*)?", re.DOTALL
)


def canonical_unit(text: str) -> str:
    """Return the one spelling of a unit (`um`, `μm` and `micron` are `µm`; `"` is `in`).

    Raises UnknownUnit.
    """
    plain = clean_text(text).translate(_MICRO_SIGN)
    name = _EXACT.get(plain) or _EXACT.get(plain.replace(" ", ""))
    name = name or _LOOSE.get(plain.replace(" ", "").casefold())
    if name is None:
        raise UnknownUnit(
            f"{quoted(text)} is not a known unit; known are mm, µm, in, thou, bar, psi, kPa, MPa, "
            "s, min, HRC, HV, count, °C, °F, kg, g, lb and %"
        )
    return name


def unit_of(text: str) -> Unit:
    """Return the unit that `text` names. Raises UnknownUnit."""
    return _UNITS[canonical_unit(text)]


def dimension_of(text: str) -> str:
    """Return what the unit measures, such as `length`. Raises UnknownUnit."""
    return unit_of(text).dimension


def comma_is_decimal(unit: str) -> bool:
    """Return whether a comma before three digits is surely a decimal mark in figures of `unit`.

    It is for lengths in units that gauges show to three decimals; elsewhere `1,600` may as well be
    one thousand six hundred (common practice, no source). Raises UnknownUnit.
    """
    return dimension_of(unit) == "length" and canonical_unit(unit) not in _SMALL_LENGTHS


def units_of_dimension(dimension: str) -> tuple[Unit, ...]:
    """Return every unit that measures `dimension`."""
    return tuple(unit for unit in _UNITS.values() if unit.dimension == dimension)


def convert(value: Decimal | Fraction | int, from_unit: str, to_unit: str) -> Fraction:
    """Return `value` in `to_unit`, exactly. Raises UnknownUnit or NotConvertible."""
    start, goal = _pair(from_unit, to_unit)
    return (Fraction(value) * start.factor + start.shift - goal.shift) / goal.factor


def convert_difference(value: Decimal | Fraction | int, from_unit: str, to_unit: str) -> Fraction:
    """Return a difference (a deviation, a rounding step) in `to_unit`, exactly.

    Unlike `convert` it leaves the zero of temperature scales out.
    """
    start, goal = _pair(from_unit, to_unit)
    return Fraction(value) * start.factor / goal.factor


def split_quantity(text: str) -> tuple[str, str | None]:
    """Return the number's text and the unit's text after it (None when there is none).

    Nothing is checked: text that does not begin with a number comes back whole.
    """
    plain = clean_text(text)
    found = _QUANTITY.fullmatch(plain)
    if found is None:
        return plain, None
    return found["number"].strip(), (found["unit"] or "").strip() or None


def unit_after_number(unit: str, text: str) -> str:
    """Return the canonical name of the `unit` that `split_quantity` found in `text`.

    What cannot be a unit (`_000`, `e3`, `¹`) is reported as a fault of the number, otherwise
    UnknownUnit is raised.
    """
    try:
        return canonical_unit(unit)
    except UnknownUnit:
        if not unit[0].isalpha() or any(sign.isdigit() for sign in unit):
            parse_number(text)
        raise


def _pair(from_unit: str, to_unit: str) -> tuple[Unit, Unit]:
    """Return both units, or raise when they measure different things."""
    start, goal = unit_of(from_unit), unit_of(to_unit)
    if start.dimension != goal.dimension:
        raise NotConvertible(
            f"{start.name} is a unit of {start.dimension} and cannot be turned into {goal.name}, "
            f"a unit of {goal.dimension}"
        )
    return start, goal
