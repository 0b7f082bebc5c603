"""Inspection errors and the yield: the worked number, its inverse, and unknown error rates."""

from __future__ import annotations

import random
import sys

import pytest
from hypothesis import given
from hypothesis import strategies as st

from coretrack.figures.agreement import inspection_errors
from coretrack.figures.apparent_yield import (
    NO_BETTER,
    apparent_yield,
    bad_among_keeps,
    true_yield,
)


def _looks(right_good: int, rejected: int, missed: int, right_bad: int) -> list[tuple[str, str]]:
    return (
        [("keep", "keep")] * right_good
        + [("scrap", "keep")] * rejected
        + [("keep", "scrap")] * missed
        + [("scrap", "scrap")] * right_bad
    )


def test_worked_number() -> None:
    """y 0.70, f 0.08, m 0.15: apparent 0.689, and 6.5 % of the keeps are bad."""
    assert apparent_yield(0.70, 0.08, 0.15) == pytest.approx(0.689)
    assert bad_among_keeps(0.70, 0.08, 0.15) == pytest.approx(0.065, abs=5e-4)


@given(st.floats(0, 1), st.integers(0, 40), st.integers(0, 40))
def test_the_inverse_finds_the_yield_again(true: float, rejected: int, missed: int) -> None:
    errors = inspection_errors(_looks(100 - rejected, rejected, missed, 100 - missed))
    shown = apparent_yield(true, rejected / 100, missed / 100)
    decided = 10**9
    found = true_yield(round(shown * decided), decided, errors)
    assert found.value == pytest.approx(true, abs=1e-6)
    assert found.interval.low is not None
    assert found.interval.high is not None
    assert 0 <= found.interval.low <= found.interval.high <= 1


def test_the_interval_covers_what_it_says(capsys: pytest.CaptureFixture[str]) -> None:
    rng, held, runs = random.Random(6), 0, 800
    for _ in range(runs):
        f = sum(rng.random() < 0.08 for _ in range(120))
        m = sum(rng.random() < 0.15 for _ in range(80))
        good = sum(rng.random() < 0.689 for _ in range(400))
        found = true_yield(good, 400, inspection_errors(_looks(120 - f, f, m, 80 - m))).interval
        held += (found.low or 0.0) <= 0.70 <= (found.high or 1.0)
    with capsys.disabled():
        sys.stdout.write(f"\nyield behind inspection errors: {held / runs:.3f} for 0.95\n")
    assert 0.93 <= held / runs <= 0.98


def test_unknown_error_rates_give_no_corrected_yield() -> None:
    found = true_yield(60, 100, inspection_errors(_looks(20, 2, 0, 0)))
    assert found.apparent == 0.6
    assert found.value is None
    assert found.why == "no bad core has been graded twice yet"
    assert true_yield(0, 0, inspection_errors([])).why == "no decided core yet"


def test_inspection_no_better_than_a_coin_is_said() -> None:
    assert true_yield(60, 100, inspection_errors(_looks(10, 10, 10, 10))).why == NO_BETTER


def test_nothing_kept_has_no_bad_keeps() -> None:
    assert bad_among_keeps(0.0, 0.1, 0.0) is None
    with pytest.raises(ValueError, match="between 0 and 1"):
        apparent_yield(1.2, 0, 0)
