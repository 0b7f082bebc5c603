"""Two shares compared: against SciPy and statsmodels, and where nothing can be said."""

from __future__ import annotations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import stats
from statsmodels.stats.proportion import confint_proportions_2indep, proportions_ztest

from coretrack.figures.two_rates import (
    FISHER,
    HIGHER,
    LOWER,
    POOLED_Z,
    compare_rates,
    fisher_p_value,
    points,
)

SHARE = st.integers(1, 120).flatmap(lambda n: st.tuples(st.integers(0, n), st.just(n)))


@settings(deadline=None, max_examples=60)
@given(SHARE, SHARE)
def test_interval_and_tests_are_those_of_the_references(
    first: tuple[int, int], second: tuple[int, int]
) -> None:
    found = compare_rates(first, second)
    low, high = confint_proportions_2indep(*second, *first, method="newcomb", compare="diff")
    assert (found.interval.low, found.interval.high) == pytest.approx((low, high), abs=1e-9)
    table = [[second[0], second[1] - second[0]], [first[0], first[1] - first[0]]]
    assert fisher_p_value(first, second) == pytest.approx(stats.fisher_exact(table)[1], rel=1e-6)
    for side, name in ((HIGHER, "greater"), (LOWER, "less")):
        assert fisher_p_value(first, second, side) == pytest.approx(
            stats.fisher_exact(table, alternative=name)[1], rel=1e-6
        )
    if found.test == POOLED_Z and found.z is not None:
        z, p = proportions_ztest([second[0], first[0]], [second[1], first[1]])
        assert (found.z, found.p_value) == pytest.approx((z, p), rel=1e-9)


def test_few_cores_take_the_exact_test() -> None:
    assert compare_rates((1, 6), (5, 7)).test == FISHER
    assert compare_rates((40, 60), (50, 70)).test == POOLED_Z


@pytest.mark.parametrize("empty", [((0, 0), (3, 9)), ((3, 9), (0, 0)), ((0, 0), (0, 0))])
def test_nothing_on_a_side_gives_no_change_and_a_reason(
    empty: tuple[tuple[int, int], tuple[int, int]],
) -> None:
    found = compare_rates(*empty)
    assert found.change is None
    assert found.interval.low is None
    assert found.p_value is None
    assert not found.clear
    assert found.why is not None
    assert "nothing to compare" in found.why


def test_all_good_on_both_sides_is_no_change_but_not_a_certainty() -> None:
    found = compare_rates((12, 12), (9, 9))
    assert found.change == 0
    assert found.interval.low is not None
    assert found.interval.low < -0.1
    assert found.p_value == 1.0
    assert found.odds_ratio is None


def test_a_change_within_chance_and_a_clear_one_read_differently() -> None:
    assert compare_rates((41, 60), (38, 60)).sentence == (
        "68.3 % before (60 cores), 63.3 % after (60 cores): from −21.4 to +11.7 points, so chance"
        " alone can explain it"
    )
    assert compare_rates((410, 600), (320, 600)).sentence.endswith("more than chance explains")
    assert ": down, from −" in compare_rates((410, 600), (320, 600)).sentence


def test_lots_that_differ_widen_the_interval_and_weaken_the_test() -> None:
    plain = compare_rates((410, 600), (360, 600))
    wide = compare_rates((410, 600), (360, 600), widening=4.0)
    assert plain.clear
    assert not wide.clear
    assert wide.p_value is not None
    assert plain.p_value is not None
    assert wide.p_value > plain.p_value
    assert wide.change == plain.change


def test_impossible_numbers_are_refused() -> None:
    with pytest.raises(ValueError, match="cannot be"):
        compare_rates((7, 5), (1, 2))
    with pytest.raises(ValueError, match="1 or more"):
        compare_rates((1, 5), (1, 2), widening=0.5)
    with pytest.raises(ValueError, match="side is"):
        fisher_p_value((1, 5), (1, 2), "sideways")


def test_points_carry_their_sign_and_no_negative_zero() -> None:
    assert [points(value) for value in (0.042, -0.003, 0.0, -0.0001)] == [
        "+4.2",
        "−0.3",
        "0.0",
        "0.0",
    ]
