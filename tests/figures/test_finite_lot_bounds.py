"""Bad bodies in a whole lot: strict inversion of the hypergeometric test."""

from __future__ import annotations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.stats import hypergeom

from coretrack.figures.finite_lots import bad_in_lot
from coretrack.figures.intervals import clopper_pearson

SAMPLES = st.integers(1, 60).flatmap(
    lambda lot: st.integers(1, lot).flatmap(
        lambda n: st.tuples(st.integers(0, n), st.just(n), st.just(lot))
    )
)


@pytest.mark.parametrize(
    ("bad", "inspected", "lot", "at_95", "at_90"),
    [
        (0, 10, 50, (0, 13), (0, 11)),
        (1, 10, 50, (1, 20), (1, 18)),
        (2, 20, 100, (2, 29), (3, 26)),
        (5, 50, 200, (9, 40), (10, 37)),
    ],
)
def test_worked_limits(
    bad: int, inspected: int, lot: int, at_95: tuple[int, int], at_90: tuple[int, int]
) -> None:
    first, second = bad_in_lot(bad, inspected, lot), bad_in_lot(bad, inspected, lot, 0.90)
    assert (first.fewest, first.most) == at_95
    assert (second.fewest, second.most) == at_90


@settings(deadline=None)
@given(SAMPLES, st.sampled_from([0.8, 0.9, 0.95]))
def test_limits_are_the_totals_that_neither_test_rejects(
    sample: tuple[int, int, int], level: float
) -> None:
    bad, inspected, lot = sample
    # A chance of exactly the tail is rejected; SciPy's floats may land on either side of it.
    tail = (1 - level) / 2 + 1e-12
    kept = [
        total
        for total in range(bad, lot - inspected + bad + 1)
        if hypergeom.sf(bad - 1, lot, total, inspected) > tail
        and hypergeom.cdf(bad, lot, total, inspected) > tail
    ]
    found = bad_in_lot(bad, inspected, lot, level)
    assert (found.fewest, found.most) == (kept[0], kept[-1])


@given(st.integers(1, 500).flatmap(lambda n: st.tuples(st.integers(0, n), st.just(n))))
def test_a_lot_inspected_whole_leaves_no_doubt(counts: tuple[int, int]) -> None:
    bad, lot = counts
    found = bad_in_lot(bad, lot, lot)
    assert (found.fewest, found.most) == (bad, bad)


def test_a_huge_lot_comes_close_to_the_exact_share() -> None:
    found, share = bad_in_lot(3, 20, 20_000), clopper_pearson(3, 20)
    assert found.fewest is not None
    assert found.most is not None
    assert found.fewest / 20_000 == pytest.approx(share.low, abs=5e-4)
    assert found.most / 20_000 == pytest.approx(share.high, abs=5e-4)


def test_nothing_inspected_gives_no_limits() -> None:
    found = bad_in_lot(0, 0, 40)
    assert found.fewest is None
    assert found.most is None
    assert found.why == "no body of this lot has been inspected yet"


@pytest.mark.parametrize("sample", [(5, 4, 10), (1, 11, 10), (-1, 4, 10)])
def test_samples_that_cannot_be_are_refused(sample: tuple[int, int, int]) -> None:
    with pytest.raises(ValueError, match="cannot be"):
        bad_in_lot(*sample)
