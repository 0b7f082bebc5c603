"""Capability: what holds for any readings, one-sided limits, and where nothing can be said."""

from __future__ import annotations

import math
import random

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st
from scipy import stats

from coretrack.figures.capability import Capability, Indices, capability, cp_interval, pooled_sd
from coretrack.figures.limits import Limits

sizes = st.integers(-(10**6), 10**6)
groups_of_readings = st.lists(st.lists(sizes, min_size=1, max_size=6), min_size=1, max_size=8)


def numbers(found: Indices) -> list[float | None]:
    return [each.value for each in (found.both_limits, found.lower, found.upper, found.nearest)]


@given(groups_of_readings, st.integers(-(10**9), 10**9))
def test_moving_readings_and_limits_together_changes_nothing(
    groups: list[list[int]], shift: int
) -> None:
    here = capability(groups, Limits(-500_000, 700_000))
    moved = capability(
        [[value + shift for value in group] for group in groups],
        Limits(shift - 500_000, shift + 700_000),
    )
    assert numbers(moved.within) == numbers(here.within)
    assert numbers(moved.overall) == numbers(here.overall)
    assert moved.outside == here.outside


@given(groups_of_readings)
def test_mirrored_readings_swap_the_two_sides(groups: list[list[int]]) -> None:
    here = capability(groups, Limits(-500_000, 700_000)).overall
    mirrored = capability(
        [[-value for value in group] for group in groups], Limits(-700_000, 500_000)
    ).overall
    assert mirrored.lower.value == here.upper.value
    assert mirrored.nearest.value == here.nearest.value


@given(groups_of_readings)
def test_nearest_is_never_above_both_limits_and_each_interval_holds_its_figure(
    groups: list[list[int]],
) -> None:
    found = capability(groups, Limits(-500_000, 700_000))
    for indices in (found.within, found.overall):
        if indices.nearest.value is None or indices.both_limits.value is None:
            assert indices.nearest.why
            continue
        assert indices.nearest.value <= indices.both_limits.value * (1 + 1e-12)
        for index in (indices.lower, indices.upper, indices.nearest):
            low, high = index.interval.low, index.interval.high
            if low is not None and high is not None and index.value is not None:
                assert low <= index.value <= high


@given(st.lists(sizes, min_size=2, max_size=30))
def test_overall_spread_is_that_of_all_readings(values: list[int]) -> None:
    assume(len(set(values)) > 1)
    found = capability([values], Limits(-500_000, 700_000)).overall
    assert found.sd == pytest.approx(stats.tstd(values))
    assert found.degrees == len(values) - 1


def test_interval_of_cp_covers_as_often_as_it_says() -> None:
    chance = random.Random(11)
    covered = 0
    for _ in range(400):
        values = [round(chance.gauss(0, 1000)) for _ in range(20)]
        interval = capability([values], Limits(-4000, 4000)).overall.both_limits.interval
        assert interval.low is not None
        assert interval.high is not None
        covered += interval.low <= 4 / 3 <= interval.high
    assert 0.92 < covered / 400 < 0.98


def test_cp_interval_agrees_with_chi_square() -> None:
    found = cp_interval(1.5, 24, 0.9)
    wanted = [1.5 * math.sqrt(stats.chi2.ppf(tail, 24) / 24) for tail in (0.05, 0.95)]
    assert [found.low, found.high] == pytest.approx(wanted)


def test_groups_apart_make_the_overall_spread_larger_than_the_one_within() -> None:
    groups = [[100, 101, 99], [200, 201, 199]]
    found = capability(groups, Limits(0, 300))
    assert found.within.sd is not None
    assert found.overall.sd is not None
    assert found.overall.sd > 10 * found.within.sd
    assert found.within.degrees == 4


@pytest.mark.parametrize(
    ("limits", "there", "missing"),
    [(Limits(None, 20), "upper", "lower"), (Limits(0, None), "lower", "upper")],
)
def test_a_one_sided_limit_has_its_side_only(limits: Limits, there: str, missing: str) -> None:
    found = capability([[8, 10, 12]], limits).overall
    assert getattr(found, there) == found.nearest
    assert found.nearest.value == pytest.approx(10 / 6)
    assert getattr(found, missing).value is None
    assert getattr(found, missing).why == f"there is no {missing} limit"
    assert found.both_limits.value is None
    assert found.both_limits.why is not None
    assert "no width" in found.both_limits.why


def test_single_readings_in_time_order_take_moving_ranges_and_no_interval() -> None:
    found = capability([[10], [12], [11], [15]], Limits(0, 20)).within
    assert found.sd == pytest.approx((2 + 1 + 4) / 3 / 1.128)
    assert found.nearest.value is not None
    assert found.nearest.interval.low is None
    assert found.nearest.interval.why is not None


def test_a_mean_outside_the_limits_gives_a_negative_figure() -> None:
    found = capability([[25, 26, 27]], Limits(0, 20))
    assert found.overall.nearest.value is not None
    assert found.overall.nearest.value < 0
    assert found.outside == 3


def _all_missing(found: Capability) -> set[str | None]:
    every = [
        getattr(indices, name)
        for indices in (found.within, found.overall)
        for name in ("both_limits", "lower", "upper", "nearest")
    ]
    assert all(each.value is None and each.interval.low is None for each in every)
    assert all(each.why == each.interval.why for each in every)
    return {each.why for each in every}


def test_nothing_to_work_from_is_said_plainly() -> None:
    limits = Limits(0, 20)
    assert _all_missing(capability([], limits)) == {"no reading yet"}
    assert _all_missing(capability([[]], limits)) == {"no reading yet"}
    assert _all_missing(capability([[5]], limits)) == {
        "one reading has no spread; measure two or more"
    }
    assert _all_missing(capability([[5, 6]], Limits(None, None))) == {"the check has no limits"}
    alike = capability([[9_012_000] * 3], limits)
    assert _all_missing(alike) == {
        "all 3 readings are 9.012: no spread was seen, so the gauge may show too few digits"
    }
    assert alike.mean == 9_012_000


def test_alike_within_groups_but_not_between_has_an_overall_figure_only() -> None:
    found = capability([[5, 5], [7, 7]], Limits(0, 20))
    assert found.within.nearest.value is None
    assert found.within.nearest.why is not None
    assert "only the groups differ" in found.within.nearest.why
    assert found.overall.nearest.value is not None


def test_limits_that_meet_give_zero_width_and_no_division_by_it() -> None:
    found = capability([[4, 5, 6]], Limits(5, 5)).overall
    assert numbers(found) == [0.0, 0.0, 0.0, 0.0]


def test_few_readings_are_mentioned() -> None:
    assert capability([[4, 5, 6]], Limits(0, 9)).notes
    assert not capability([[4, 5, 6] * 10], Limits(0, 9)).notes


def test_no_group_with_two_readings_has_no_pooled_spread() -> None:
    with pytest.raises(ValueError, match="no group has two readings"):
        pooled_sd([[1], [2], []])
