"""Rates within strata of like cores: against statsmodels, and where nothing can be compared."""

from __future__ import annotations

import random
import sys

import numpy as np
import pytest
from statsmodels.stats.contingency_tables import StratifiedTable

from coretrack.figures.stratified import (
    NOTHING_DIFFERS,
    NOTHING_SHARED,
    Stratum,
    compare_strata,
)


def _strata(seed: int, step: float = 0.08, least: int = 5) -> list[Stratum]:
    rng = random.Random(seed)
    strata = []
    for number in range(rng.randint(2, 7)):
        n1, n2, base = rng.randint(least, 60), rng.randint(least, 60), rng.uniform(0.1, 0.7)
        a = sum(rng.random() < base + step for _ in range(n1))
        c = sum(rng.random() < base for _ in range(n2))
        strata.append(Stratum(f"S{number}", n1, a, n2, c))
    return strata


@pytest.mark.parametrize("seed", range(15))
@pytest.mark.parametrize("corrected", [False, True])
def test_tests_and_odds_are_those_of_the_reference(seed: int, corrected: bool) -> None:
    strata = _strata(seed)
    reference = StratifiedTable(
        [
            np.array(
                [
                    [one.first_count, one.first_n - one.first_count],
                    [one.second_count, one.second_n - one.second_count],
                ],
                dtype=float,
            )
            for one in strata
        ]
    )
    found = compare_strata(strata, corrected=corrected)
    test = reference.test_null_odds(correction=corrected)
    assert found.chi_square == pytest.approx(test.statistic, rel=1e-9)
    assert found.p_value == pytest.approx(test.pvalue, rel=1e-9)
    assert found.odds_ratio == pytest.approx(reference.oddsratio_pooled, rel=1e-9)
    bounds = (found.odds_interval.low, found.odds_interval.high)
    assert bounds == pytest.approx(reference.oddsratio_pooled_confint(), rel=1e-9)
    assert found.unlike_p == pytest.approx(reference.test_equal_odds(adjust=True).pvalue, rel=1e-6)


def test_the_difference_covers_the_truth_as_often_as_it_says(
    capsys: pytest.CaptureFixture[str],
) -> None:
    held, runs = 0, 600
    for seed in range(runs):
        found = compare_strata(_strata(seed, 0.08, least=8)).interval
        held += (found.low or -1.0) <= 0.08 <= (found.high or 1.0)
    with capsys.disabled():
        sys.stdout.write(f"\nadjusted difference of two inspectors: {held / runs:.3f} for 0.95\n")
    assert 0.93 <= held / runs <= 0.975


def test_better_cores_on_one_bench_are_not_taken_for_mildness() -> None:
    """Both scrap 10 % of the good source and 50 % of the poor one; one bench gets the poor one."""
    found = compare_strata(
        [Stratum("good source", 40, 4, 160, 16), Stratum("poor source", 160, 80, 40, 20)]
    )
    assert found.plain == pytest.approx(0.24)
    assert found.difference == pytest.approx(0.0)
    assert found.p_value == pytest.approx(1.0)


def test_like_strata_give_the_plain_difference() -> None:
    found = compare_strata([Stratum("a", 50, 20, 50, 10), Stratum("b", 50, 20, 50, 10)])
    assert found.difference == pytest.approx(0.2)
    assert found.plain == pytest.approx(0.2)


def test_strata_that_one_never_judged_say_nothing() -> None:
    alone = [Stratum("a", 50, 20, 0, 0), Stratum("b", 0, 0, 50, 10)]
    assert compare_strata(alone).why == NOTHING_SHARED
    assert compare_strata([]).difference is None
    with_one = [*alone, Stratum("c", 20, 8, 20, 5)]
    assert compare_strata(with_one).strata == 1
    assert compare_strata(with_one).unlike_p is None


@pytest.mark.parametrize("counts", [(0, 0), (20, 30)])
def test_all_or_none_in_every_stratum_is_unknown_and_not_alike(counts: tuple[int, int]) -> None:
    found = compare_strata([Stratum("a", 20, counts[0], 30, counts[1])])
    assert found.difference is None
    assert found.why == NOTHING_DIFFERS


def test_none_on_one_side_has_a_difference_but_no_odds_ratio() -> None:
    found = compare_strata([Stratum("a", 20, 0, 30, 9)])
    assert found.difference == pytest.approx(-0.3)
    assert found.odds_ratio is None
    assert found.odds_interval.why is not None
    assert found.chi_square is not None


def test_impossible_counts_are_refused() -> None:
    with pytest.raises(ValueError, match="cannot be"):
        compare_strata([Stratum("a", 5, 6, 5, 1)])
