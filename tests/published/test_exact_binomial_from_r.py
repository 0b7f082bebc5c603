"""R `binom.test(51, 235, 1/6)`, the die example of its help page.

Read in statsmodels, stats/tests/test_proportion.py, test_binom_test.
"""

from __future__ import annotations

import pytest

from coretrack.figures.intervals import AT_LEAST, AT_MOST, EXACT, clopper_pearson, one_sided
from coretrack.figures.rate_tests import DIFFERENT, exact_p_value


@pytest.mark.parametrize(
    ("side", "printed"),
    [
        (AT_MOST, 0.982022657605858),
        (AT_LEAST, 0.02654424571169085),
        (DIFFERENT, 0.0437479701823997),
    ],
)
def test_p_value_is_the_printed_one(side: str, printed: float) -> None:
    assert exact_p_value(51, 235, 1 / 6, side) == pytest.approx(printed, abs=1e-12)


def test_upper_limit_alone() -> None:
    found = one_sided(51, 235, 0.95, AT_MOST, EXACT)
    assert found.low == 0.0
    assert found.high == pytest.approx(0.2659460862574313, abs=1e-12)


def test_lower_limit_alone() -> None:
    found = one_sided(51, 235, 0.95, AT_LEAST, EXACT)
    assert found.low == pytest.approx(0.1735252778065201, abs=1e-12)
    assert found.high == 1.0


def test_both_limits() -> None:
    found = clopper_pearson(51, 235, 0.95)
    assert found.low == pytest.approx(0.1660633298083073, abs=1e-12)
    assert found.high == pytest.approx(0.2752683640289254, abs=1e-12)
