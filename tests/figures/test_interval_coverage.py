"""How often 95 % intervals hold the true yield: exactly for chance alone, simulated for lots."""

from __future__ import annotations

import math
import random
import sys

import pytest

from coretrack.figures.discrete import binomial
from coretrack.figures.dispersion import Batch, spread_interval
from coretrack.figures.intervals import clopper_pearson, wilson

SIZES = (20, 60, 150, 600)


def _coverage(method: object, n: int, share: float) -> float:
    assert callable(method)
    chances = binomial(n, share)
    held = [method(good, n) for good in range(n + 1)]
    return math.fsum(
        chance
        for chance, found in zip(chances, held, strict=True)
        if found.low <= share <= found.high
    )


def test_wilson_holds_the_truth_about_as_often_as_it_says(
    capsys: pytest.CaptureFixture[str],
) -> None:
    """L. D. Brown and others (2001): near 0.95 on average, dips to about 0.92 for single shares."""
    lines = []
    for n in SIZES:
        found = [_coverage(wilson, n, share / 100) for share in range(50, 96, 3)]
        lines.append(f"n {n}: mean {sum(found) / len(found):.3f}, least {min(found):.3f}")
        assert 0.94 <= sum(found) / len(found) <= 0.965
        assert min(found) > 0.9
    with capsys.disabled():
        sys.stdout.write("\nWilson, yields 0.50 to 0.95: " + "; ".join(lines) + "\n")


@pytest.mark.parametrize("n", SIZES[:3])
def test_the_exact_interval_never_holds_it_less_often(n: int) -> None:
    assert all(_coverage(clopper_pearson, n, share / 100) >= 0.95 for share in (50, 69, 83, 94))


def test_lots_that_differ_need_the_widened_interval(capsys: pytest.CaptureFixture[str]) -> None:
    """12 lots of 40 whose own yields spread by 0.09 about 0.69."""
    rng, runs, plain, wide = random.Random(12), 1000, 0, 0
    size = 0.69 * 0.31 / 0.09**2 - 1
    for _ in range(runs):
        lots = []
        for number in range(12):
            share = rng.betavariate(0.69 * size, 0.31 * size)
            lots.append(Batch(str(number), 40, sum(rng.random() < share for _ in range(40))))
        good = sum(lot.good for lot in lots)
        for found, counts in ((wilson(good, 480), "plain"), (spread_interval(good, 480, lots), "")):
            inside = (found.low or 0.0) <= 0.69 <= (found.high or 1.0)
            plain += inside and counts == "plain"
            wide += inside and counts == ""
    with capsys.disabled():
        told = f"plain {plain / runs:.3f}, widened {wide / runs:.3f} for 0.95"
        sys.stdout.write(f"\n12 lots that differ by 9 points: {told}\n")
    assert plain / runs < 0.85
    assert 0.9 <= wide / runs <= 0.985
