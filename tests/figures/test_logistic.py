"""Logistic regression of counts: against statsmodels, and where no slope can be told."""

from __future__ import annotations

import math
import random

import numpy as np
import pytest
import statsmodels.api as sm

from coretrack.figures.logistic import (
    ALL_OR_NONE,
    LOGISTIC,
    LOGISTIC_WIDENED,
    ONE_VALUE,
    SEPARATED,
    CountAt,
    logistic_fit,
    share_at,
    slope_interval,
    widened,
)


def _random_points(seed: int) -> list[CountAt]:
    rng = random.Random(seed)
    slope, start = rng.uniform(-0.2, 0.2), rng.uniform(-1, 1)
    points = []
    for week in range(rng.randint(4, 20)):
        size = rng.randint(1, 60)
        share = 1 / (1 + math.exp(-(start + slope * week)))
        points.append(CountAt(week, size, sum(rng.random() < share for _ in range(size))))
    return points


@pytest.mark.parametrize("seed", range(12))
def test_fit_and_shares_are_those_of_the_reference(seed: int) -> None:
    points = _random_points(seed)
    fit = logistic_fit(points)
    if fit.why is not None:
        return
    x = sm.add_constant([point.x - fit.middle for point in points])
    table = np.array([[point.count, point.size - point.count] for point in points])
    reference = sm.GLM(table, x, family=sm.families.Binomial()).fit(tol=1e-12)
    assert (fit.intercept, fit.slope) == pytest.approx(tuple(reference.params), abs=1e-6)
    assert (fit.intercept_error, fit.slope_error) == pytest.approx(tuple(reference.bse), rel=1e-5)
    assert fit.covariance == pytest.approx(reference.cov_params()[0, 1], abs=1e-8)
    assert fit.deviance == pytest.approx(reference.deviance, rel=1e-6, abs=1e-8)
    assert fit.dispersion == pytest.approx(reference.pearson_chi2 / reference.df_resid, rel=1e-5)
    predicted = reference.get_prediction([[1.0, 3 - fit.middle]]).conf_int(alpha=0.05)[0]
    shown = share_at(fit, 3).interval
    assert (shown.low, shown.high) == pytest.approx(tuple(predicted), abs=1e-5)


def test_yes_and_no_one_by_one_gives_the_same_as_logit() -> None:
    rng = random.Random(3)
    points = []
    for _ in range(80):
        x = rng.uniform(5, 60)
        points.append(CountAt(x, 1, int(rng.random() < 1 / (1 + math.exp(-(x - 30) / 8)))))
    fit = logistic_fit(points)
    x = sm.add_constant([point.x for point in points])
    reference = sm.Logit([point.count for point in points], x).fit(disp=0, tol=1e-12)
    assert fit.slope == pytest.approx(reference.params[1], rel=1e-6)
    assert fit.slope_error == pytest.approx(reference.bse[1], rel=1e-5)


def test_lumpy_groups_widen_the_errors_as_the_reference_does() -> None:
    points = [CountAt(week, 40, count) for week, count in enumerate((20, 36, 14, 33, 12, 34, 10))]
    plain = logistic_fit(points)
    wide = widened(plain)
    x = sm.add_constant([point.x - plain.middle for point in points])
    table = np.array([[point.count, point.size - point.count] for point in points])
    reference = sm.GLM(table, x, family=sm.families.Binomial()).fit(tol=1e-12)
    # The reference's own scale="X2" forgets how many each group holds.
    root = math.sqrt(reference.pearson_chi2 / reference.df_resid)
    assert wide.slope_error == pytest.approx(reference.bse[1] * root, rel=1e-5)
    assert (plain.method, wide.method) == (LOGISTIC, LOGISTIC_WIDENED)
    narrow, broad = slope_interval(plain), slope_interval(wide)
    assert broad.low is not None
    assert narrow.low is not None
    assert broad.low < narrow.low
    assert widened(wide) == wide


def test_steadier_than_chance_is_not_made_narrower() -> None:
    fit = logistic_fit([CountAt(week, 40, 20 + week) for week in range(6)])
    assert widened(fit) == fit


@pytest.mark.parametrize(
    ("points", "why"),
    [
        ([], ONE_VALUE),
        ([CountAt(3, 10, 4), CountAt(3, 12, 6)], ONE_VALUE),
        ([CountAt(1, 10, 4), CountAt(2, 0, 0)], ONE_VALUE),
        ([CountAt(1, 10, 0), CountAt(2, 10, 0)], ALL_OR_NONE),
        ([CountAt(1, 10, 10), CountAt(2, 10, 10)], ALL_OR_NONE),
        ([CountAt(1, 10, 0), CountAt(2, 10, 10)], SEPARATED),
        ([CountAt(1, 10, 0), CountAt(2, 10, 4), CountAt(3, 10, 10)], SEPARATED),
        ([CountAt(1, 10, 10), CountAt(2, 10, 0)], SEPARATED),
    ],
)
def test_where_no_slope_can_be_told_it_says_why(points: list[CountAt], why: str) -> None:
    fit = logistic_fit(points)
    assert fit.slope is None
    assert fit.why == why
    assert share_at(fit, 2).share is None
    assert share_at(fit, 2).why == why
    assert slope_interval(fit).low is None
    assert widened(fit) == fit


def test_large_and_far_off_values_do_not_break_the_fit() -> None:
    near = [CountAt(week, 50, 10 + 3 * week) for week in range(8)]
    far = [CountAt(1e6 + point.x * 1000, point.size, point.count) for point in near]
    one, other = logistic_fit(near), logistic_fit(far)
    assert one.slope is not None
    assert other.slope == pytest.approx(one.slope / 1000, rel=1e-8)
    assert share_at(other, 1e6 + 9000).share == pytest.approx(share_at(one, 9).share, rel=1e-8)
