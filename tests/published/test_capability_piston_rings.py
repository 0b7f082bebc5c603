"""Capability of piston rings, 25 samples of 5: L. Scrucca, R News 4/1 (2004) 11, R package `qcc`.

Data of D. C. Montgomery, Introduction to Statistical Quality Control; limits by mean range from
memory. The article takes all readings less one as the degrees of freedom of its intervals, although
its standard deviation has those within samples only; and its columns headed 2.5 % and 97.5 % hold
one-sided 95 % limits for Cp_l and Cp_u, which are 90 % two-sided.

The textbook case (USL 20, LSL 8, mean 16, s 2) is NIST/SEMATECH e-Handbook 6.1.6, from memory.
"""

from __future__ import annotations

import math

import pytest

from coretrack.figures.capability import (
    Capability,
    Index,
    capability,
    cp_interval,
    cpk_interval,
    pooled_sd,
)
from coretrack.figures.limits import Limits
from coretrack.figures.spreads import d2, mean_of

THOUSANDTHS = """
30,2,19,-8,8 -5,-8,1,11,4 -12,24,21,5,2 2,-4,-7,15,9 -8,7,15,-11,14 9,-6,-3,-15,-7 -5,6,-6,0,5
-15,3,-7,15,-12 8,-5,9,5,4 -2,0,-10,7,-5 -6,-2,-6,-5,-10 4,0,7,0,-4 -17,2,-2,-3,12 6,-33,-6,0,-16
12,14,-2,-1,7 0,-16,5,-2,-4 -6,12,-14,5,7 6,10,18,3,0 -16,2,3,5,-3 0,10,13,20,3 -12,1,9,5,-4
4,-1,-10,6,9 10,-11,-10,9,14 15,8,-7,0,10 -18,-16,-5,17,13
"""
SAMPLES = [
    [74_000_000 + 1000 * int(value) for value in sample.split(",")]
    for sample in THOUSANDTHS.split()
]
LIMITS = Limits(73_950_000, 74_050_000)
ALL_LESS_ONE = 124


@pytest.fixture
def rings() -> Capability:
    return capability(SAMPLES, LIMITS)


def number(index: Index) -> float:
    assert index.value is not None
    return index.value


def test_centre_and_standard_deviation_within_samples(rings: Capability) -> None:
    sd, degrees = pooled_sd(SAMPLES)
    assert degrees == 100
    assert sd / 1e6 == pytest.approx(0.009887547, abs=5e-10)
    assert rings.within.sd == sd
    assert rings.mean is not None
    assert float(rings.mean) / 1e6 == pytest.approx(74.00118, abs=5e-6)
    half = 3 * sd / math.sqrt(5)
    assert (float(rings.mean) - half) / 1e6 == pytest.approx(73.98791, abs=5e-6)
    assert (float(rings.mean) + half) / 1e6 == pytest.approx(74.01444, abs=5e-6)


def test_limits_by_the_mean_range(rings: Capability) -> None:
    mean_range = mean_of([max(sample) - min(sample) for sample in SAMPLES])
    sd = float(mean_range) / d2(5)
    assert rings.mean is not None
    low, high = (float(rings.mean) + side * sd / math.sqrt(5) for side in (-3, 3))
    assert (low / 1e6, high / 1e6) == pytest.approx((73.988, 74.014), abs=5e-4)


def test_cp_and_cpk(rings: Capability) -> None:
    found = rings.within
    assert number(found.both_limits) == pytest.approx(1.686, abs=5e-4)
    assert number(found.lower) == pytest.approx(1.725, abs=5e-4)
    assert number(found.upper) == pytest.approx(1.646, abs=5e-4)
    assert found.nearest == found.upper


def test_intervals_as_the_article_takes_them(rings: Capability) -> None:
    within = rings.within
    cp = cp_interval(number(within.both_limits), ALL_LESS_ONE)
    assert (cp.low, cp.high) == pytest.approx((1.476, 1.895), abs=5e-4)
    cpk = cpk_interval(number(within.nearest), 125, ALL_LESS_ONE)
    assert (cpk.low, cpk.high) == pytest.approx((1.433, 1.859), abs=5e-4)
    lower = cpk_interval(number(within.lower), 125, ALL_LESS_ONE, level=0.90)
    assert (lower.low, lower.high) == pytest.approx((1.539, 1.912), abs=5e-4)


def test_our_intervals_take_the_degrees_within_samples_and_are_wider(rings: Capability) -> None:
    ours = rings.within.both_limits.interval
    assert ours.low is not None
    assert ours.high is not None
    assert ours.low < 1.476
    assert ours.high > 1.895
    assert ours == cp_interval(number(rings.within.both_limits), 100)


def test_textbook_case_has_cp_of_one_and_cpk_of_two_thirds() -> None:
    spread = capability([[14, 16, 18]], Limits(8, 20))
    assert spread.overall.sd == 2.0
    assert number(spread.overall.both_limits) == pytest.approx(1.0)
    assert number(spread.overall.upper) == pytest.approx(0.6667, abs=5e-5)
    assert number(spread.overall.lower) == pytest.approx(1.3333, abs=5e-5)
    assert number(spread.overall.nearest) == pytest.approx(0.6667, abs=5e-5)
