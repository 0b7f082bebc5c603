"""Limit deviations of ISO 286 tolerance classes, from tables, for nominal sizes up to 500 mm.

Standard tolerances and fundamental deviations are the tables of ISO 286-1:2010; only additions are
done here, since the standard's formula does not give back its rounded table. Size steps are "over
a, up to and including b". The half micrometres of js and JS (± half an odd tolerance) are kept
exactly; the rounding that the standard permits from grade 7 up is not used.
"""

from __future__ import annotations

import re
from bisect import bisect_left
from decimal import Decimal
from fractions import Fraction

from coretrack.figures.limits import Limits

MICROMETRE = 1000
"""Deviations are counted in millionths of a millimetre; one micrometre is a thousand of them."""

_STEPS = (3, 6, 10, 18, 30, 50, 80, 120, 180, 250, 315, 400, 500)
_FINE_STEPS = (
    *(3, 6, 10, 18, 30, 50, 65, 80, 100, 120, 140, 160, 180),
    *(200, 225, 250, 280, 315, 355, 400, 450, 500),
)

# Standard tolerances in µm, one column a size step.
_TOLERANCES: dict[int, tuple[int, ...]] = {
    5: (4, 5, 6, 8, 9, 11, 13, 15, 18, 20, 23, 25, 27),
    6: (6, 8, 9, 11, 13, 16, 19, 22, 25, 29, 32, 36, 40),
    7: (10, 12, 15, 18, 21, 25, 30, 35, 40, 46, 52, 57, 63),
    8: (14, 18, 22, 27, 33, 39, 46, 54, 63, 72, 81, 89, 97),
    9: (25, 30, 36, 43, 52, 62, 74, 87, 100, 115, 130, 140, 155),
    10: (40, 48, 58, 70, 84, 100, 120, 140, 160, 185, 210, 230, 250),
    11: (60, 75, 90, 110, 130, 160, 190, 220, 250, 290, 320, 360, 400),
}

# Fundamental deviations of shafts in µm: the upper one of e to g (below zero), the lower one of k
# to s. Holes E, F, G mirror e, f, g.
_SHAFT_UPPER: dict[str, tuple[int, ...]] = {
    "e": (-14, -20, -25, -32, -40, -50, -60, -72, -85, -100, -110, -125, -135),
    "f": (-6, -10, -13, -16, -20, -25, -30, -36, -43, -50, -56, -62, -68),
    "g": (-2, -4, -5, -6, -7, -9, -10, -12, -14, -15, -17, -18, -20),
    "h": (0,) * 13,
}
_SHAFT_LOWER: dict[str, tuple[int, ...]] = {
    "k": (0, 1, 1, 1, 2, 2, 2, 3, 3, 4, 4, 4, 5),
    "m": (2, 4, 6, 7, 8, 9, 11, 13, 15, 17, 20, 21, 23),
    "n": (4, 8, 10, 12, 15, 17, 20, 23, 27, 31, 34, 37, 40),
    "p": (6, 12, 15, 18, 22, 26, 32, 37, 43, 50, 56, 62, 68),
    "r": (
        *(10, 15, 19, 23, 28, 34, 41, 43, 51, 54, 63, 65, 68),
        *(77, 80, 84, 94, 98, 108, 114, 126, 132),
    ),
    "s": (
        *(14, 19, 23, 28, 35, 43, 53, 59, 71, 79, 92, 100, 108),
        *(122, 130, 140, 158, 170, 190, 208, 232, 252),
    ),
}

# Upper deviations of the transition and press-fit holes in µm; the standard's corrections for fine
# grades and its exceptions (K, M, N up to 3 mm; M6 over 250 up to 315 mm) are already in them.
_HOLE_UPPER: dict[str, tuple[int, ...]] = {
    "K7": (0, 3, 5, 6, 6, 7, 9, 10, 12, 13, 16, 17, 18),
    "M6": (-2, -1, -3, -4, -4, -4, -5, -6, -8, -8, -9, -10, -10),
    "M7": (-2, *(0,) * 12),
    "N7": (-4, -4, -4, -5, -7, -8, -9, -10, -12, -14, -14, -16, -17),
    "P7": (-6, -8, -9, -11, -14, -17, -21, -24, -28, -33, -36, -41, -45),
}

# Grades that a shop meets and that are supported for each letter.
_GRADES: dict[str, tuple[int, ...]] = {
    "e": (7, 8, 9),
    "f": (6, 7, 8, 9),
    "g": (5, 6, 7),
    "h": (5, 6, 7, 8, 9, 10, 11),
    "js": (5, 6, 7, 8, 9, 10, 11),
    "k": (5, 6, 7),
    "m": (5, 6, 7),
    "n": (5, 6, 7),
    "p": (5, 6, 7),
    "r": (6, 7),
    "s": (6, 7),
    "E": (7, 8, 9),
    "F": (6, 7, 8, 9),
    "G": (6, 7),
    "H": (5, 6, 7, 8, 9, 10, 11),
    "JS": (5, 6, 7, 8, 9, 10, 11),
    "K": (7,),
    "M": (6, 7),
    "N": (7,),
    "P": (7,),
}
_CLASS = re.compile(r"(?a)(?P<letter>[A-Za-z]{1,2})(?P<grade>\d{1,2})")


class UnknownClass(ValueError):
    """The tolerance class is not in the tables; `str()` lists those that are."""


class OutsideSizes(ValueError):
    """The nominal size is outside the tables (over 0, up to 500 mm)."""


def supported_classes() -> tuple[str, ...]:
    """Return the names of all classes in the tables, shafts first."""
    return tuple(f"{letter}{grade}" for letter, grades in _GRADES.items() for grade in grades)


def deviations(nominal: Decimal | Fraction | int, tolerance_class: str) -> Limits:
    """Return lower and upper deviation in millionths of a mm for `nominal` (mm).

    Source: ISO 286-1:2010 and ISO 286-2:2010 with Cor.1:2006 of the former edition's slips.
    Raises UnknownClass or OutsideSizes.
    """
    letter, grade = _letter_and_grade(tolerance_class)
    width = standard_tolerance(nominal, grade)
    step = _step(_STEPS, nominal)
    lowered = letter.lower()
    if lowered == "js":
        return Limits(-(width // 2), width // 2)
    if letter == "H":
        return Limits(0, width)
    if tolerance_class in _HOLE_UPPER:
        upper = _HOLE_UPPER[tolerance_class][step] * MICROMETRE
        return Limits(upper - width, upper)
    if lowered in _SHAFT_UPPER:
        nearest = _SHAFT_UPPER[lowered][step] * MICROMETRE
        lower = -nearest if letter.isupper() else nearest - width
        return Limits(lower, lower + width)
    row = _SHAFT_LOWER[letter]
    lower = row[step if len(row) == len(_STEPS) else _step(_FINE_STEPS, nominal)] * MICROMETRE
    return Limits(lower, lower + width)


def standard_tolerance(nominal: Decimal | Fraction | int, grade: int) -> int:
    """Return the width of grade IT5 to IT11 in millionths of a mm for `nominal` (mm).

    Source: table 1 of ISO 286-1:2010. Raises UnknownClass or OutsideSizes.
    """
    if grade not in _TOLERANCES:
        raise UnknownClass(f"IT{grade} is not in the tables; IT5 to IT11 are")
    return _TOLERANCES[grade][_step(_STEPS, nominal)] * MICROMETRE


def _letter_and_grade(tolerance_class: str) -> tuple[str, int]:
    """Return the parts of a class name, or raise UnknownClass with the supported ones."""
    found = _CLASS.fullmatch(tolerance_class)
    if found and int(found["grade"]) in _GRADES.get(found["letter"], ()):
        return found["letter"], int(found["grade"])
    listed = ", ".join(
        f"{letter}{grades[0]}" if len(grades) == 1 else f"{letter}{grades[0]}–{grades[-1]}"
        for letter, grades in _GRADES.items()
    )
    raise UnknownClass(
        f"the tolerance class '{tolerance_class[:12]}' is not in the tables; supported are {listed}"
        " (small letters are shafts, capitals are holes). Type the deviations instead"
    )


def _step(steps: tuple[int, ...], nominal: Decimal | Fraction | int) -> int:
    """Return the index of the size step that holds `nominal`; its upper end belongs to it."""
    size = Fraction(nominal)
    if not 0 < size <= steps[-1]:
        raise OutsideSizes(
            f"{float(size):g} mm is outside the ISO 286 tables, which go from over 0 to 500 mm"
        )
    return bisect_left(steps, size)
