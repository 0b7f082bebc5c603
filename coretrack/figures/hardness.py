"""Rockwell C and Vickers hardness of steel, turned into each other for display only.

Hardness scales measure different things; the table is an average over many steels and is not for
austenitic ones, nor for a case too thin for the test. Nothing is judged by a converted number.
Source: ASTM E140, table 1 (rows 34 to 20 HRC from memory); ISO 18265:2013, table A.1 agrees with it
within 0.2 HRC.
"""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction

from coretrack.figures.limits import MICRO, plain_text
from coretrack.figures.numbers import half_up

_VICKERS = (
    238, 243, 248, 254, 260, 266, 272, 279, 286, 294, 302, 310, 318, 327, 336,
    345, 354, 363, 372, 382, 392, 402, 412, 423, 434, 446, 458, 471, 484, 498,
    513, 528, 544, 560, 577, 595, 613, 633, 653, 674, 697, 720, 746, 772, 800, 832, 865, 900, 940,
)  # fmt: skip
"""HV at 20, 21 … 68 HRC."""

LOWEST, HIGHEST = 20, 68
"""The table's ends in HRC; outside nothing is converted."""

_WHOLE, _TENTH = MICRO, MICRO // 10


@dataclass(frozen=True)
class ConvertedHardness:
    """A converted number in millionths, rounded as its scale is shown: HV whole, HRC to 0.1.

    `text` has the measured number in brackets, as the standard asks: "595 HV (55 HRC)". `value` and
    `text` are `None`, with `why`, where the table does not reach.
    """

    value: int | None
    scale: str
    text: str | None
    why: str | None = None


def convert_hardness(value: int, scale: str) -> ConvertedHardness:
    """Return a reading (millionths of `scale`, HRC or HV) in the other of the two scales.

    Between rows it is interpolated. ValueError for another scale.
    """
    rows = [
        (Fraction(MICRO * (LOWEST + row)), Fraction(MICRO * vickers))
        for row, vickers in enumerate(_VICKERS)
    ]
    if scale == "HRC":
        other, step = "HV", _WHOLE
    elif scale == "HV":
        other, step = "HRC", _TENTH
        rows = [(vickers, rockwell) for rockwell, vickers in rows]
    else:
        raise ValueError(f"only HRC and HV are converted, not {scale}")
    measured = f"{plain_text(value)} {scale}"
    if not rows[0][0] <= value <= rows[-1][0]:
        ends = f"{plain_text(int(rows[0][0]))} to {plain_text(int(rows[-1][0]))} {scale}"
        return ConvertedHardness(
            None, other, None, f"{measured} has no counterpart in {other}; the table holds {ends}"
        )
    after = next(index for index, row in enumerate(rows) if value <= row[0])
    right, left = rows[after], rows[max(0, after - 1)]
    part = Fraction(0) if right is left else (value - left[0]) / (right[0] - left[0])
    converted = half_up((left[1] + part * (right[1] - left[1])) / step) * step
    return ConvertedHardness(converted, other, f"{plain_text(converted)} {other} ({measured})")
