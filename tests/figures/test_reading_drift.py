"""Drift of readings: a worn gauge is found, a steady one is left alone."""

from __future__ import annotations

import random

import pytest

from coretrack.figures.reading_drift import ReadingPoint, judged, reading_drift


def _points(seed: int, count: int, start: float = 0.0, slope: float = 0.0) -> list[ReadingPoint]:
    rng = random.Random(seed)
    return [
        ReadingPoint(f"day {n}", round(10_000_000 + start + slope * n + rng.gauss(0, 2000)))
        for n in range(count)
    ]


def test_a_gauge_that_wears_is_found_with_its_side_and_day() -> None:
    found = reading_drift(_points(1, 40), _points(2, 40, slope=150), noun="gauge A-3")
    assert found.alarm is True
    assert found.side == "up"
    assert found.since is not None
    assert found.sentence.startswith("gauge A-3: drifting up, alarm at day ")
    assert reading_drift(_points(1, 40), _points(2, 40, slope=-150)).side == "down"


def test_a_steady_gauge_is_left_alone() -> None:
    found = reading_drift(_points(3, 60), _points(4, 40))
    assert found.alarm is False
    assert found.sentence == "readings: no drift in 40 points"
    assert len(found.points) == 40


def test_limits_open_from_the_first_point_to_the_long_run() -> None:
    chart = judged(_points(3, 30), 10_000_000.0, 2000.0)
    widths = [point.upper - point.lower for point in chart.points]
    assert widths == sorted(widths)
    assert widths[0] == pytest.approx(2 * 2.962 * 2000 * 0.2)


@pytest.mark.parametrize(
    ("before", "after", "why"),
    [
        (_points(1, 9), _points(2, 5), "only 9 points before; the usual spread takes 10"),
        (_points(1, 20), [], "no point since"),
        (
            [ReadingPoint("d", 5_050_000)] * 12,
            _points(2, 5),
            "all points before are 5.05: no spread was seen, so the gauge may show too few digits",
        ),
    ],
)
def test_without_a_usual_spread_there_is_no_verdict(
    before: list[ReadingPoint], after: list[ReadingPoint], why: str
) -> None:
    found = reading_drift(before, after)
    assert found.alarm is None
    assert found.why == why


def test_impossible_charts_are_refused() -> None:
    with pytest.raises(ValueError, match="no chart"):
        judged([], 0.0, 1.0, weight=0)
    with pytest.raises(ValueError, match="no chart"):
        judged([], 0.0, 0.0)
