"""Tumours in 70 groups of rats: R. E. Tarone, Biometrics 38 (1982) 215.

Data in CRAN package `BayesGOF` (`rat`), whose vignette prints the maximum-likelihood prior; moment
fit and group 71 after A. Gelman and others, Bayesian Data Analysis, chapter 5 (from memory). The
book's 0.223 for group 71 is the mean by its rounded parameters' unrounded ones.
"""

from __future__ import annotations

import pytest

from coretrack.figures.dispersion import Batch, dispersion_test
from coretrack.figures.shrinkage import likelihood_prior, moment_prior, shrunken

TUMOURS_TEXT = (
    "3 2 2 2 2 2 2 2 2 2 1 5 2 5 2 7 7 3 3 2 9 10 4 4 4 4 4 4 4 10 4 4 4 5 11 12 5 5 6 5 6 6 6 6"
    " 16 15 15 9"
)
RATS_TEXT = (
    "27 25 24 23 20 20 20 20 20 20 10 49 19 46 17 49 47 20 20 13 48 50 20 20 20 20 20 20 20 48 19"
    " 19 19 22 46 49 20 20 23 19 22 20 20 20 52 46 47 24"
)
TUMOURS = [0] * 14 + [1] * 8 + [int(text) for text in TUMOURS_TEXT.split()]
FIRST_RATS = [20] * 7 + [19] * 4 + [18] * 2 + [17] + [20] * 4 + [19] * 2 + [18] * 2
RATS = FIRST_RATS + [int(text) for text in RATS_TEXT.split()]
GROUPS = list(zip(TUMOURS, RATS, strict=True))


def test_data_are_complete() -> None:
    assert (len(GROUPS), sum(TUMOURS), sum(RATS)) == (70, 263, 1725)


def test_maximum_likelihood_prior() -> None:
    prior = likelihood_prior(GROUPS)
    assert prior.a == pytest.approx(2.304768, abs=5e-5)
    assert prior.b == pytest.approx(14.079707, abs=5e-4)


def test_moment_prior_and_the_group_that_is_asked_for() -> None:
    prior = moment_prior(GROUPS)
    assert prior.mean == pytest.approx(0.136, abs=5e-4)
    assert prior.sd == pytest.approx(0.103, abs=1e-3)
    assert prior.a == pytest.approx(1.4, abs=0.05)
    assert prior.b == pytest.approx(8.6, abs=0.05)
    assert shrunken(4, 14, prior).rate == pytest.approx(0.223, abs=2e-3)


def test_the_groups_differ_far_more_than_chance() -> None:
    found = dispersion_test(
        [Batch(str(n), rats, tumours) for n, (tumours, rats) in enumerate(GROUPS)]
    )
    assert found.statistic == pytest.approx(140.84, abs=5e-3)
    assert found.p_value == pytest.approx(7.6e-7, abs=5e-8)
