"""HRC and HV of steel: ASTM E140 table 1 and ISO 18265:2013 table A.1.

E140 rows 34 to 20 HRC and ISO rows outside 240 to 470 HV are from memory; the two tables confirm
each other.
"""

from __future__ import annotations

import re

import pytest

from coretrack.figures.hardness import convert_hardness
from coretrack.figures.limits import to_micro
from coretrack.figures.numbers import parse_number

E140 = {
    68: "940 900 865 832 800 772 746 720 697 674 653 633 613 595 577 560 544 528 513",
    49: "498 484 471 458 446 434 423 412 402 392 382 372 363 354 345",
    34: "336 327 318 310 302 294 286 279 272 266 260 254 248 243 238",
}
ISO_18265 = """
240 20.3 245 21.3 250 22.2 255 23.1 260 24.0 265 24.8 270 25.6 275 26.4 280 27.1 285 27.8 290 28.5
295 29.2 300 29.8 310 31.0 320 32.2 330 33.3 340 34.4 350 35.5 360 36.6 370 37.7 380 38.8 390 39.8
400 40.8 410 41.8 420 42.7 430 43.6 440 44.5 450 45.3 460 46.1 470 46.9 480 47.7 490 48.4 500 49.1
510 49.8 520 50.5 530 51.1 540 51.7 550 52.3 560 53.0 570 53.6 580 54.1 590 54.7 600 55.2 610 55.7
620 56.3 630 56.8 640 57.3 650 57.8 660 58.3 670 58.8 680 59.2 690 59.7 700 60.1 720 61.0 740 61.8
760 62.5 780 63.3 800 64.0 820 64.7 840 65.3 860 65.9 880 66.4 900 67.0 920 67.5 940 68.0
"""
PRINTED = [
    (first - row, int(vickers))
    for first, line in E140.items()
    for row, vickers in enumerate(line.split())
]


@pytest.mark.parametrize(("rockwell", "vickers"), PRINTED)
def test_every_row_of_the_table_both_ways(rockwell: int, vickers: int) -> None:
    assert convert_hardness(to_micro(rockwell), "HRC").value == to_micro(vickers)
    assert convert_hardness(to_micro(vickers), "HV").value == to_micro(rockwell)


def test_the_table_is_whole() -> None:
    assert [rockwell for rockwell, _ in PRINTED] == list(range(68, 19, -1))


@pytest.mark.parametrize(("vickers", "rockwell"), re.findall(r"(\d+) (\d+\.\d)", ISO_18265))
def test_the_other_standard_differs_by_two_tenths_at_most(vickers: str, rockwell: str) -> None:
    found = convert_hardness(to_micro(int(vickers)), "HV").value
    assert found is not None
    assert abs(found - to_micro(parse_number(rockwell))) <= 200_000


def test_anchors_are_shown_with_the_measured_number_in_brackets() -> None:
    assert convert_hardness(to_micro(55), "HRC").text == "595 HV (55 HRC)"
    assert convert_hardness(to_micro(60), "HRC").text == "697 HV (60 HRC)"


def test_between_rows_it_is_interpolated_and_shown_to_a_tenth() -> None:
    """The other standard has 52.3 at 550 HV."""
    assert convert_hardness(to_micro(550), "HV").text == "52.4 HRC (550 HV)"
