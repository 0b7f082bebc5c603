"""How sure a reading is, and the limits shrunk or widened by a guard band."""

from __future__ import annotations

from decimal import Decimal
from fractions import Fraction

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from coretrack.figures.conformance import (
    acceptance_limits,
    conformance_probability,
    guard_factor,
    inside,
    nonconformance_probability,
    rejection_limits,
)
from coretrack.figures.tolerances import Limits

sizes = st.integers(-10_000_000, 10_000_000)
uncertainties = st.integers(0, 100_000)


@st.composite
def some_limits(draw: st.DrawFn) -> Limits:
    lower = draw(st.none() | sizes)
    upper = draw(st.none() | sizes)
    if lower is not None and upper is not None:
        lower, upper = min(lower, upper), max(lower, upper)
    return Limits(lower, upper)


@settings(deadline=None)
@given(sizes, some_limits(), st.integers(1, 100_000))
def test_inside_and_outside_add_up_to_certainty(
    reading: int, limits: Limits, uncertainty: int
) -> None:
    inside_chance = conformance_probability(reading, limits, uncertainty)
    outside_chance = nonconformance_probability(reading, limits, uncertainty)
    assert 0 <= inside_chance <= 1
    assert inside_chance + outside_chance == pytest.approx(1, abs=1e-12)


def test_the_probability_agrees_with_the_normal_distribution_of_scipy() -> None:
    from scipy.stats import norm

    expected = norm.cdf(6.0, 5.3, 0.4) - norm.cdf(5.0, 5.3, 0.4)
    found = conformance_probability(5_300_000, Limits(5_000_000, 6_000_000), 400_000)
    assert found == pytest.approx(expected, rel=1e-12)


def test_a_tiny_chance_keeps_its_digits_on_either_side() -> None:
    far = Limits(10_000_000, 10_100_000)
    above = conformance_probability(0, far, 1_000_000)
    below = conformance_probability(20_100_000, far, 1_000_000)
    assert 0 < above < 1e-20
    assert above == pytest.approx(below, rel=1e-9)


def test_without_uncertainty_the_reading_is_the_size_and_a_limit_is_inside() -> None:
    assert conformance_probability(10, Limits(10, 20), 0) == 1
    assert conformance_probability(9, Limits(10, 20), 0) == 0
    assert nonconformance_probability(20, Limits(10, 20), 0) == 0
    assert nonconformance_probability(21, Limits(10, 20), 0) == 1


def test_a_negative_uncertainty_is_refused() -> None:
    with pytest.raises(ValueError, match="zero or more"):
        conformance_probability(1, Limits(0, 2), -1)
    with pytest.raises(ValueError, match="zero or more"):
        acceptance_limits(Limits(0, 2), -1)


@settings(deadline=None)
@given(some_limits(), uncertainties, st.fractions(0, 3))
def test_shrunk_limits_lie_inside_and_widened_limits_outside(
    limits: Limits, uncertainty: int, factor: Fraction
) -> None:
    shrunk = acceptance_limits(limits, uncertainty, factor)
    widened = rejection_limits(limits, uncertainty, factor)
    for end in (limits.lower, limits.upper):
        assert end is None or widened.contains(end)
    if shrunk is not None:
        for end in (shrunk.lower, shrunk.upper):
            assert end is None or limits.contains(end)
    else:
        assert limits.lower is not None
        assert limits.upper is not None
        # Nothing is left only when the two guard bands meet, give or take one count of rounding.
        assert limits.upper - limits.lower < 2 * factor * uncertainty + 2


def test_rounding_never_accepts_or_condemns_more() -> None:
    limits = Limits(0, 100)
    assert acceptance_limits(limits, 5, Decimal("0.83")) == Limits(5, 95)
    assert rejection_limits(limits, 5, Decimal("0.83")) == Limits(-5, 105)


def test_a_gauge_too_coarse_leaves_nothing_to_accept() -> None:
    assert acceptance_limits(Limits(0, 9), 5) is None
    assert acceptance_limits(Limits(0, 10), 5) == Limits(5, 5)
    assert not inside(5, None)


def test_the_guard_factor_needs_a_probability_worth_proving() -> None:
    assert guard_factor(0.5) == 0
    for wrong in (0.4, 1.0, float("nan")):
        with pytest.raises(ValueError, match="probability"):
            guard_factor(wrong)
