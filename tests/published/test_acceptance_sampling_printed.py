"""Acceptance sampling against printed values.

A. Kiermeier, R package AcceptanceSampling, manual (also J. Statistical Software 26(6), 2008), read;
the points of plan J of MIL-STD-105E with AQL 1.0 % are from memory.
"""

from __future__ import annotations

import pytest

from coretrack.figures.sample_plans import (
    chance_accepted,
    double_chance_accepted,
    share_accepted_at,
    smallest_plan,
)


@pytest.mark.parametrize(
    ("bad_share", "printed"),
    [(0.01, 0.9999980), (0.02, 0.9999695), (0.05, 0.9989715), (0.10, 0.9872048)],
)
def test_chance_of_passing_with_ten_checked_and_three_allowed(
    bad_share: float, printed: float
) -> None:
    assert chance_accepted(10, 3, bad_share) == pytest.approx(printed, abs=5e-8)


@pytest.mark.parametrize(("bad_share", "printed"), [(0.05, 0.35848592), (0.15, 0.03875953)])
def test_chance_of_passing_with_none_allowed(bad_share: float, printed: float) -> None:
    assert chance_accepted(20, 0, bad_share) == pytest.approx(printed, abs=5e-9)


def test_smallest_plan_that_tells_five_from_fifteen_percent() -> None:
    found = smallest_plan(0.05, 0.95, 0.15, 0.075)
    assert (found.size, found.most_bad) == (80, 7)


@pytest.mark.parametrize(
    ("percent_passing", "printed"),
    [(99, 0.55), (95, 1.03), (90, 1.38), (75, 2.16), (50, 3.33), (25, 4.84), (10, 6.52), (5, 7.66)],
)
def test_quality_at_which_plan_j_passes_so_often(percent_passing: int, printed: float) -> None:
    found = 100 * share_accepted_at(80, 2, percent_passing / 100)
    assert found == pytest.approx(printed, abs=0.0055)


@pytest.mark.parametrize(
    ("bad_share", "chance"), [(0.01, 0.9915), (0.04, 0.8949), (0.10, 0.5952), (0.20, 0.2241)]
)
def test_double_plan_of_letter_e(bad_share: float, chance: float) -> None:
    """Plan facts from the standard, chances computed here: a regression value."""
    found = double_chance_accepted((8, 8), (0, 1), (2, 2), bad_share)
    assert found == pytest.approx(chance, abs=5e-4)
