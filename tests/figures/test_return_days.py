"""Days to return: against statsmodels on random sales, and where nothing is known."""

from __future__ import annotations

import math
import random
import sys

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from statsmodels.duration.survfunc import SurvfuncRight

from coretrack.figures.return_days import (
    PLAIN,
    ReturnDays,
    Stay,
    product_interval,
    return_days,
    returned_by,
)

STAYS = st.lists(
    st.builds(Stay, st.integers(1, 90), st.booleans(), st.integers(1, 4)), min_size=1, max_size=60
)


def _one_by_one(stays: list[Stay]) -> tuple[list[int], list[int]]:
    single = [stay for stay in stays for _ in range(stay.units)]
    return [stay.days for stay in single], [int(stay.returned) for stay in single]


@settings(deadline=None, max_examples=60)
@given(STAYS)
def test_curve_and_errors_are_those_of_the_reference(stays: list[Stay]) -> None:
    curve = return_days(stays, method=PLAIN)
    if curve.returned == 0:
        assert curve.steps == ()
        assert curve.why == "no core has come back yet"
        return
    days, status = _one_by_one(stays)
    with np.errstate(divide="ignore", invalid="ignore"):
        reference = SurvfuncRight(days, status)
    at = [step.days for step in curve.steps]
    assert at == list(reference.surv_times)
    assert [step.at_risk for step in curve.steps] == list(reference.n_risk)
    assert [step.still_out for step in curve.steps] == pytest.approx(
        list(reference.surv_prob), abs=1e-12
    )
    for step, error in zip(curve.steps, reference.surv_prob_se, strict=True):
        if step.still_out > 0:
            assert step.standard_error == pytest.approx(error, abs=1e-12)


def test_plain_and_median_limits_are_those_of_the_reference() -> None:
    rng = random.Random(4)
    stays = [Stay(rng.randint(1, 70), rng.random() < 0.8) for _ in range(120)]
    days, status = _one_by_one(stays)
    reference = SurvfuncRight(days, status)
    curve = return_days(stays)
    assert curve.median == reference.quantile(0.5)
    with np.errstate(divide="ignore", invalid="ignore"):
        low, high = reference.quantile_ci(0.5, method="cloglog")
    assert (curve.median_low, curve.median_high) == (low, high)
    plain = return_days(stays, method=PLAIN).steps[20]
    half = 1.959964 * reference.surv_prob_se[20]
    assert plain.interval.low == pytest.approx(reference.surv_prob[20] - half, abs=1e-6)
    assert plain.interval.high == pytest.approx(reference.surv_prob[20] + half, abs=1e-6)


def test_late_sales_are_not_yet_known_rather_than_unreturned() -> None:
    """A growing shop: of 40 old sales 30 came back at day 20; 160 were sold last week."""
    stays = [Stay(20, True, 30), Stay(60, False, 10), Stay(7, False, 160)]
    found = returned_by(return_days(stays), 30)
    assert found.share == pytest.approx(0.75)
    assert found.interval.low is not None
    assert found.interval.high is not None
    assert found.interval.low < 0.75 < found.interval.high
    assert found.at_risk == 40


def test_coverage_of_the_interval_with_cores_still_out(capsys: pytest.CaptureFixture[str]) -> None:
    rng = random.Random(11)
    truth, held, runs = 1 - math.exp(-30 / 20), 0, 600
    for _ in range(runs):
        stays = []
        for _ in range(60):
            back, seen = math.ceil(rng.expovariate(1 / 20)), rng.randint(10, 90)
            stays.append(Stay(min(back, seen), back <= seen))
        found = returned_by(return_days(stays), 30)
        if found.interval.low is not None and found.interval.high is not None:
            held += found.interval.low <= truth <= found.interval.high
    with capsys.disabled():
        share = f"{held / runs:.3f} for 0.95"
        sys.stdout.write(f"\nreturned within 30 days, 60 units, some still out: {share}\n")
    assert 0.93 <= held / runs <= 0.98


def test_nothing_sold_and_nothing_back_say_so() -> None:
    empty = return_days([])
    assert empty == ReturnDays(0, 0, 0, (), None, None, None, None, empty.why, empty.why_no_median)
    assert returned_by(empty, 30).share is None
    waiting = return_days([Stay(12, False, 8)])
    assert waiting.why == "no core has come back yet"
    assert waiting.open == 8
    early = returned_by(waiting, 10)
    assert early.share == 0.0
    assert early.interval.high is None
    assert early.interval.why is not None


def test_beyond_what_was_followed_nothing_is_known() -> None:
    curve = return_days([Stay(5, True), Stay(9, False)])
    found = returned_by(curve, 30)
    assert found.share is None
    assert found.why == "no sale has been followed for more than 9 days"
    everything = return_days([Stay(5, True), Stay(9, True)])
    assert returned_by(everything, 30).share == 1.0
    assert returned_by(everything, 30).interval.low is None


def test_a_median_that_is_not_reached_is_not_made_up() -> None:
    curve = return_days([Stay(5, True), Stay(40, False, 9)])
    assert curve.median is None
    assert curve.why_no_median == "fewer than half are back yet"
    assert curve.median_high is None


def test_a_product_of_all_or_none_has_no_bounds_rather_than_false_certainty() -> None:
    assert product_interval(1.0, 0.0, 0.95).low is None
    assert product_interval(0.0, math.inf, 0.95).high is None


def test_a_core_that_came_before_its_sale_counts_as_day_nought() -> None:
    curve = return_days([Stay(-3, True), Stay(9, True), Stay(20, False, 2)])
    assert [(step.days, step.returned) for step in curve.steps] == [(0, 1), (9, 1)]


def test_impossible_stays_are_refused() -> None:
    with pytest.raises(ValueError, match="cannot be"):
        return_days([Stay(1, True, -2)])
    with pytest.raises(ValueError, match="method"):
        return_days([Stay(1, True)], method="guess")
