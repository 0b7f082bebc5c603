"""Rates drawn to the mean of all: against SciPy's beta-binomial, and where nothing is known."""

from __future__ import annotations

import random
import sys

import pytest
from scipy import optimize, stats

from coretrack.figures.shrinkage import (
    Prior,
    efron_morris,
    likelihood_prior,
    moment_prior,
    shrunken,
)


def _groups(seed: int, count: int = 12, a: float = 14, b: float = 6) -> list[tuple[int, int]]:
    rng = random.Random(seed)
    groups = []
    for _ in range(count):
        share, n = rng.betavariate(a, b), rng.randint(4, 80)
        groups.append((sum(rng.random() < share for _ in range(n)), n))
    return groups


@pytest.mark.parametrize("seed", range(5))
def test_fit_reaches_the_likelihood_that_the_reference_finds(seed: int) -> None:
    groups = _groups(seed, a=7, b=3)

    def unlikely(at: tuple[float, float]) -> float:
        a, b = abs(at[0]) + 1e-9, abs(at[1]) + 1e-9
        return -sum(float(stats.betabinom.logpmf(k, n, a, b)) for k, n in groups)

    prior = likelihood_prior(groups)
    assert prior.a is not None
    assert prior.b is not None
    reference = optimize.minimize(unlikely, (5.0, 3.0), method="Nelder-Mead")
    assert unlikely((prior.a, prior.b)) <= reference.fun + 1e-6


def test_the_interval_is_the_beta_distributions() -> None:
    prior = Prior(14.0, 6.0, 0.7, 0.1, 9)
    found = shrunken(3, 10, prior)
    assert found.rate == pytest.approx(17 / 30)
    assert found.weight == pytest.approx(1 / 3)
    bounds = stats.beta.ppf([0.025, 0.975], 17, 13)
    assert (found.interval.low, found.interval.high) == pytest.approx(tuple(bounds))


def test_a_tiny_group_moves_to_the_mean_and_a_large_one_hardly() -> None:
    prior = likelihood_prior([*_groups(2), (0, 2), (70, 400)])
    assert prior.mean is not None
    tiny, large = shrunken(0, 2, prior), shrunken(70, 400, prior)
    assert tiny.rate is not None
    assert large.rate is not None
    assert tiny.rate > 0.4
    assert large.rate < 0.25


def test_groups_that_differ_by_chance_alone_all_stand_at_the_mean() -> None:
    prior = likelihood_prior([(14, 20), (14, 20), (15, 20), (13, 20)])
    assert prior.sd == 0.0
    assert prior.a is None
    found = shrunken(15, 20, prior)
    assert found.rate == pytest.approx(0.7)
    assert found.weight == 0.0


def test_intervals_hold_the_true_rates(capsys: pytest.CaptureFixture[str]) -> None:
    rng, held, told = random.Random(3), 0, 0
    for _ in range(60):
        truths = [rng.betavariate(14, 6) for _ in range(15)]
        sizes = [rng.randint(5, 60) for _ in truths]
        groups = [
            (sum(rng.random() < share for _ in range(n)), n)
            for share, n in zip(truths, sizes, strict=True)
        ]
        prior = likelihood_prior(groups)
        for truth, group in zip(truths, groups, strict=True):
            found = shrunken(*group, prior).interval
            if found.low is not None and found.high is not None:
                told += 1
                held += found.low <= truth <= found.high
    with capsys.disabled():
        sys.stdout.write(f"\ndrawn-in rates of 15 groups: {held / told:.3f} for 0.95\n")
    assert 0.88 <= held / told <= 0.97


@pytest.mark.parametrize("fit", [likelihood_prior, moment_prior])
def test_too_few_groups_give_no_prior_and_a_reason(fit: object) -> None:
    assert callable(fit)
    prior = fit([(3, 10), (5, 12), (0, 0)])
    assert prior.a is None
    assert prior.mean == pytest.approx(8 / 22)
    assert prior.why is not None
    assert shrunken(3, 10, prior).rate is None
    assert shrunken(3, 10, prior).why == prior.why
    assert fit([]).mean is None


@pytest.mark.parametrize("good", [0, 10])
def test_none_or_all_everywhere_is_unknown_and_not_certain(good: int) -> None:
    prior = likelihood_prior([(good, 10)] * 5)
    assert prior.sd is None
    assert prior.why == "none, or all, are counted in every group: how they differ is unknown"


def test_rates_at_the_ends_leave_no_moment_fit() -> None:
    assert moment_prior([(0, 5), (5, 5), (0, 5), (5, 5)]).a is None
    assert moment_prior([(2, 4), (2, 4), (2, 4)]).sd == 0.0


def test_a_group_with_nothing_counted_has_no_rate() -> None:
    found = shrunken(0, 0, Prior(14.0, 6.0, 0.7, 0.1, 9))
    assert found.rate is None
    assert found.why == "nothing counted in this group yet"


def test_impossible_counts_are_refused() -> None:
    with pytest.raises(ValueError, match="cannot be"):
        likelihood_prior([(5, 4)])
    with pytest.raises(ValueError, match="four groups"):
        efron_morris([0.3, 0.3, 0.3, 0.3], 10)
