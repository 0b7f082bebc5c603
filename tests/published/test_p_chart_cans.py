"""p chart of frozen-juice cans: D. C. Montgomery, Introduction to Statistical Quality Control.

Data in R package `qcc` (`orangejuice`); NIST/SEMATECH e-Handbook 6.3.3.2 prints the same average
0.2313 for wafers. Limits, the points beyond them and Z are from memory and recompute.
"""

from __future__ import annotations

import pytest

from coretrack.figures.control_charts import Sample, p_chart
from coretrack.figures.rate_tests import change_z

BEFORE = "12 15 8 10 4 7 16 9 14 10 5 6 17 12 22 8 10 5 13 11 20 18 24 15 9 12 7 13 9 6"
AFTER = "9 6 12 5 6 4 6 3 7 6 2 4 3 6 5 4 8 5 6 7 5 6 3 5"


def _samples(counts: str) -> list[Sample]:
    return [Sample(str(n), 50, int(count)) for n, count in enumerate(counts.split(), start=1)]


def test_first_chart_and_its_two_points_beyond() -> None:
    chart = p_chart(_samples(BEFORE))
    assert chart.centre == pytest.approx(0.2313, abs=5e-5)
    assert chart.points[0].lower == pytest.approx(0.0524, abs=5e-5)
    assert chart.points[0].upper == pytest.approx(0.4102, abs=5e-5)
    assert [point.name for point in chart.beyond] == ["15", "23"]
    assert [point.rate for point in chart.beyond] == [0.44, 0.48]


def test_without_the_two_samples_with_a_known_cause() -> None:
    chart = p_chart(_samples(BEFORE), left_out=("15", "23"))
    assert chart.centre == pytest.approx(0.2150, abs=1e-9)
    assert chart.points[0].lower == pytest.approx(0.0407, abs=5e-5)
    assert chart.points[0].upper == pytest.approx(0.3893, abs=5e-5)
    assert [point.name for point in chart.points if point.left_out] == ["15", "23"]


def test_after_the_repair_the_lower_limit_is_clipped_to_zero() -> None:
    chart = p_chart(_samples(AFTER))
    assert chart.centre == pytest.approx(0.1108, abs=5e-5)
    assert chart.points[0].lower == 0.0
    assert chart.points[0].upper == pytest.approx(0.2440, abs=5e-5)


def test_the_change_is_seven_standard_errors() -> None:
    assert change_z(301, 1400, 133, 1200) == pytest.approx(7.10, abs=5e-3)
