"""Chi-square dispersion test.

G. B. Wetherill and D. W. Brown, Statistical Process Control (1991), pp. 212-218, as printed on the
page of `qccOverdispersionTest` of R package `qcc`.
"""

from __future__ import annotations

import pytest

from coretrack.figures.dispersion import Batch, count_dispersion, dispersion_test

BINOMIAL = "12 11 18 11 10 16 9 11 14 15 11 9 10 13 12 8 12 13 10 12 13 16 12 18 16 10 16 10 12 14"
POISSON = "11 8 13 11 13 17 25 23 11 16 9 15 10 16 12 8 9 15 4 12 12 12 15 17 14 17 12 12 7 16"


def test_thirty_lots_of_fifty_differ_no_more_than_chance() -> None:
    lots = [Batch(str(number), 50, int(count)) for number, count in enumerate(BINOMIAL.split())]
    found = dispersion_test(lots)
    assert found.factor == pytest.approx(0.7644566, abs=5e-8)
    assert found.statistic == pytest.approx(22.16924, abs=5e-6)
    assert found.degrees == 29
    assert found.p_value == pytest.approx(0.81311, abs=5e-6)
    assert not found.lumpy


def test_counts_without_an_upper_end() -> None:
    found = count_dispersion([int(count) for count in POISSON.split()])
    assert found.factor == pytest.approx(1.472203, abs=5e-7)
    assert found.statistic == pytest.approx(42.69388, abs=5e-6)
    assert found.p_value == pytest.approx(0.048579, abs=5e-7)
