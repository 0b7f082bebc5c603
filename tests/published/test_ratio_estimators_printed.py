"""Ratio estimators with printed results.

Seedlings and farm acres: S. L. Lohr, Sampling: Design and Analysis (seedling data and the farm
result as in the vignette of CRAN package `SDaA`). Oranges: R. L. Scheaffer, W. Mendenhall and
R. L. Ott, Elementary Survey Sampling, ratio chapter (printed result from memory).
"""

from __future__ import annotations

from decimal import Decimal
from fractions import Fraction

import pytest

from coretrack.figures.ratios import ratio_error, ratio_estimate

SUGAR = ".021 .030 .025 .022 .033 .027 .019 .021 .023 .025"
FRUIT = ".40 .48 .43 .42 .50 .46 .39 .41 .42 .44"


def test_seedlings() -> None:
    found = ratio_estimate([0, 0, 1, 2, 10, 15, 3, 2, 1, 27], [1, 0, 8, 2, 76, 60, 25, 2, 1, 31])
    assert found.ratio == Fraction(61, 206)
    assert float(found.ratio) == pytest.approx(0.2961, abs=5e-5)
    assert found.standard_error == pytest.approx(0.115, abs=5e-4)
    assert found.standard_error == pytest.approx(0.115262, abs=5e-7)


def test_sugar_in_a_load_of_oranges() -> None:
    sugar = [Decimal(t) for t in SUGAR.split()]
    weight = [Decimal(t) for t in FRUIT.split()]
    found = ratio_estimate(sugar, weight)
    assert found.ratio is not None
    assert found.standard_error is not None
    assert float(1800 * found.ratio) == pytest.approx(101.79, abs=5e-3)
    assert 2 * 1800 * found.standard_error == pytest.approx(6.3, abs=0.05)
    assert 2 * 1800 * found.standard_error == pytest.approx(6.308492, abs=5e-6)


def test_farm_acres_from_the_printed_summary() -> None:
    """The 300 counties are not at hand; their printed means and residual spread are.

    Means 297,897.0467 and 301,953.7233 acres and residual standard deviation 31,657.218 are from
    memory of the book; ratio 0.9865652 and standard error 0.006053015 are the vignette's, which
    leaves the finite correction out. With it (300 of 3,078) the book prints 0.00575 (from memory).
    """
    mean_then, mean_now = Decimal("301953.7233"), Decimal("297897.0467")
    variance = Decimal("31657.218") ** 2
    assert float(mean_now / mean_then) == pytest.approx(0.9865652, abs=5e-8)
    assert ratio_error(variance, mean_then, 300) == pytest.approx(0.006053015, abs=5e-9)
    assert ratio_error(variance, mean_then, 300, 3078) == pytest.approx(0.00575, abs=5e-6)
