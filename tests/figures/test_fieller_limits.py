"""Fieller's limits of a ratio, and the second reckoning of a cost."""

from __future__ import annotations

import math
import sys

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import stats

from coretrack.figures.dispersion import Batch
from coretrack.figures.fieller import METHOD, cost_cross_check, fieller_interval, fieller_limits
from coretrack.figures.intervals import Interval, normal_quantile
from coretrack.figures.ratios import ratio_estimate, ratio_interval

SEEDLINGS_X = [1, 0, 8, 2, 76, 60, 25, 2, 1, 31]
SEEDLINGS_Y = [0, 0, 1, 2, 10, 15, 3, 2, 1, 27]


def test_limits_from_means_and_variances() -> None:
    """Inputs of a public script; its own second formula squares the variances, ours does not."""
    found = fieller_limits(0.15, 0.25, 0.002, 0.005, 0.0001, normal_quantile(0.975))
    assert found.low == pytest.approx(0.230626, abs=5e-7)
    assert found.high == pytest.approx(1.484021, abs=5e-7)
    assert found.g == pytest.approx(0.307317, abs=5e-7)


def test_one_lot_that_carries_the_ratio_makes_it_far_less_sure() -> None:
    """Seedlings of S. Lohr, Sampling: Design and Analysis, example 3.5."""
    found = fieller_interval(SEEDLINGS_Y, SEEDLINGS_X)
    assert found.low == pytest.approx(-0.026218, abs=5e-6)
    assert found.high == pytest.approx(2.642398, abs=5e-6)
    plain = ratio_interval(ratio_estimate(SEEDLINGS_Y, SEEDLINGS_X))
    assert plain.low == pytest.approx(0.035380, abs=5e-6)
    assert plain.high == pytest.approx(0.556853, abs=5e-6)


@settings(deadline=None, max_examples=60)
@given(
    st.lists(st.tuples(st.integers(1, 10**6), st.integers(1, 60)), min_size=3, max_size=20),
    st.sampled_from([0.8, 0.95]),
)
def test_both_ends_are_where_the_students_test_just_holds(
    lots: list[tuple[int, int]], level: float
) -> None:
    """At each end theta the mean of y - theta x is exactly t standard errors from zero."""
    found = fieller_interval([y for y, _ in lots], [x for _, x in lots], level)
    if found.low is None or found.high is None:
        assert found.why
        return
    y, x = (np.array(values, dtype=float) for values in zip(*lots, strict=True))
    reach = stats.t.ppf((1 + level) / 2, len(lots) - 1)
    for theta in (found.low, found.high):
        rest = y - theta * x
        error = rest.std(ddof=1) / math.sqrt(len(lots))
        if error > 1e-6 * y.mean():
            assert abs(rest.mean()) / error == pytest.approx(reach, rel=1e-3)
    assert found.low <= y.sum() / x.sum() * (1 + 1e-9)
    assert found.high >= y.sum() / x.sum() * (1 - 1e-9)


def test_lots_that_are_all_alike_leave_no_width() -> None:
    found = fieller_interval([40, 40, 40], [2, 2, 2])
    assert (found.low, found.high) == pytest.approx((20.0, 20.0))


def test_nothing_to_work_from_gives_no_bounds_and_says_why() -> None:
    assert "one lot" in (fieller_interval([1], [1]).why or "")
    assert "zero" in (fieller_interval([1, 2], [0, 0]).why or "")
    loose = fieller_interval([5, 9, 7], [0, 1, 0])
    assert loose.low is None
    assert "cannot be ruled out" in (loose.why or "")
    with pytest.raises(ValueError, match="each lot needs both"):
        fieller_interval([1], [1, 2])
    with pytest.raises(ValueError, match="variance"):
        fieller_limits(1, 1, -1, 1, 0, 2)
    with pytest.raises(ValueError, match="zero bodies"):
        fieller_limits(1, 0, 1, 0, 0, 2)


LOTS = [
    Batch("L1", 40, 28, 1_120_0000),
    Batch("L2", 50, 33, 1_360_0000),
    Batch("L3", 45, 30, 1_250_0000),
    Batch("L4", 42, 27, 1_130_0000),
    Batch("L5", 0, 0, 0),
]


def test_the_second_reckoning_agrees_with_the_first_where_lots_are_alike() -> None:
    used = ratio_interval(ratio_estimate([lot.cost for lot in LOTS[:4]], [28, 33, 30, 27]))
    found = cost_cross_check(LOTS, used)
    assert found.agrees is True
    assert found.interval.method == METHOD
    assert found.sentence.startswith("reckoned a second way (Fieller) it lies between 3")
    assert found.sentence.endswith("; the two agree")


def test_the_second_reckoning_says_when_the_first_is_too_sure() -> None:
    narrow = Interval(411_000.0, 412_000.0, "ratio over lots")
    found = cost_cross_check(LOTS, narrow)
    assert found.agrees is False
    assert "take the wider one" in found.sentence
    unknown = cost_cross_check(LOTS, Interval(None, None, "x", why="none"))
    assert unknown.agrees is None
    assert cost_cross_check(LOTS[:1], narrow).sentence.startswith("no second reckoning: one lot")


def test_over_many_shops_the_limits_hold_the_true_cost_as_often_as_promised() -> None:
    """Shops of 12 lots whose yields differ by 0.10: 95 % promised, 1,500 runs scatter by 0.6 %."""
    random = np.random.default_rng(20_26)
    runs, inside = 1_500, 0
    for _ in range(runs):
        good = random.binomial(40, random.beta(14, 7, size=12))
        cost = np.rint(40 * 270_000 + random.normal(0, 300_000, size=12))
        found = fieller_interval([int(c) for c in cost], [int(k) for k in good])
        if found.low is not None and found.high is not None:
            inside += found.low <= 270_000 / (14 / 21) <= found.high
    sys.stdout.write(
        f"\ncost per good body by Fieller over 12 lots: {inside / runs:.3f} for 0.95\n"
    )
    assert 0.93 <= inside / runs <= 0.97
