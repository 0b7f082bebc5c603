"""JCGM 106:2012, the examples of sections 7.3.3, 7.4 and 8.3.3.

The inputs of 7.4 were read in an article that states them; the other numbers are from memory, and
each was recomputed to the precision printed.
"""

from __future__ import annotations

import pytest

from coretrack.figures.conformance import conformance_probability, nonconformance_probability
from coretrack.figures.tolerances import Limits


def test_breakdown_voltage_below_an_upper_limit() -> None:
    chance = conformance_probability(-5_470_000, Limits(None, -5_400_000), 50_000)
    assert chance == pytest.approx(0.92, abs=0.005)
    assert chance == pytest.approx(0.919243, abs=5e-7)


def test_burst_strength_above_a_lower_limit() -> None:
    chance = conformance_probability(509_700_000, Limits(490_000_000, None), 8_600_000)
    assert chance == pytest.approx(0.99, abs=0.005)
    assert chance == pytest.approx(0.989010, abs=5e-7)


def test_oil_viscosity_between_two_limits() -> None:
    chance = conformance_probability(13_600_000, Limits(12_500_000, 16_300_000), 1_800_000)
    assert chance == pytest.approx(0.66, abs=0.005)
    assert chance == pytest.approx(0.662630, abs=5e-7)


def test_speed_is_acted_on_only_when_99_9_percent_sure() -> None:
    # 100 km/h, relative standard uncertainty 2 %: act at 100 / (1 - 3.09 x 0.02), printed as 107.
    act_at = 100 / (1 - 3.09 * 0.02)
    assert act_at == pytest.approx(106.587, abs=5e-4)
    reading = round(act_at * 1_000_000)
    sure = nonconformance_probability(reading, Limits(None, 100_000_000), 0.02 * reading)
    assert sure == pytest.approx(0.999, abs=1e-5)
    at_107 = nonconformance_probability(107_000_000, Limits(None, 100_000_000), 0.02 * 107e6)
    assert at_107 > 0.999
