"""EWMA chart: NIST/SEMATECH e-Handbook 6.3.2.4, twenty points, λ 0.3 (from memory; recomputes).

Mean 50 and σ 2.0539 are given there; it takes the limits of the long run, 47.4115 and 52.5884, with
3 σ, and no point lies outside. Average runs: J. M. Lucas and M. S. Saccucci, Technometrics 32
(1990) 1, as tabled by D. C. Montgomery, Introduction to Statistical Quality Control (from memory).
"""

from __future__ import annotations

import math

import numpy as np
import pytest

from coretrack.figures.reading_drift import WEIGHT, WIDTH, ReadingPoint, judged

DATA = (
    "52.0 47.0 53.0 49.3 50.1 47.0 51.0 50.1 51.2 50.5 49.6 47.6 49.9 51.3 47.8 51.2 52.6 52.4 53.6"
    " 52.1"
)
PRINTED = (
    "50.60 49.52 50.56 50.18 50.16 49.21 49.75 49.85 50.26 50.33 50.11 49.36 49.52 50.05 49.38"
    " 49.92 50.73 51.23 51.94 51.99"
)


def test_weighted_means_and_limits_of_the_long_run() -> None:
    points = [ReadingPoint(str(n), round(float(x) * 10)) for n, x in enumerate(DATA.split())]
    chart = judged(points, 500.0, 20.539, weight=0.3, width=3)
    assert [point.weighted / 10 for point in chart.points] == pytest.approx(
        [float(text) for text in PRINTED.split()], abs=6e-3
    )
    last = chart.points[-1]
    assert (last.lower / 10, last.upper / 10) == pytest.approx((47.4115, 52.5884), abs=5e-3)
    assert chart.alarm is False


@pytest.mark.parametrize(("shift", "run"), [(0.0, 500), (0.5, 41.8), (1.0, 10.5), (2.0, 3.7)])
def test_average_runs_of_our_weight_and_width(shift: float, run: float) -> None:
    """The chain of Brook and Evans on 201 steps between the limits of the long run."""
    limit = WIDTH * math.sqrt(WEIGHT / (2 - WEIGHT))
    steps = 201
    width = 2 * limit / steps
    middle = np.array([-limit + (step + 0.5) * width for step in range(steps)])

    def below(x: np.ndarray) -> np.ndarray:
        return np.vectorize(lambda v: 0.5 * math.erfc(-v / math.sqrt(2)))(x)

    to, start = middle[None, :], middle[:, None]
    chance = below((to + width / 2 - (1 - WEIGHT) * start) / WEIGHT - shift) - below(
        (to - width / 2 - (1 - WEIGHT) * start) / WEIGHT - shift
    )
    runs = np.linalg.solve(np.eye(steps) - chance, np.ones(steps))
    assert runs[steps // 2] == pytest.approx(run, rel=0.02)
