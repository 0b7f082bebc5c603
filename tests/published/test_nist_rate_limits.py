"""NIST/SEMATECH e-Handbook of Statistical Methods, sections 7.2.4 and 7.2.4.1.

The handbook then writes the exact interval as (0.071, 0.400); the upper end is a slip for 0.401,
so the limit itself is tested.
"""

from __future__ import annotations

import pytest

from coretrack.figures.intervals import AT_LEAST, clopper_pearson, one_sided, wilson_bounds
from coretrack.figures.rate_tests import rate_z


def test_26_defective_of_200_does_not_reject_ten_percent() -> None:
    z = rate_z(26, 200, 0.10)
    assert z == pytest.approx(1.414, abs=5e-4)
    assert z is not None
    assert z < 1.645


def test_lower_limit_of_26_of_200_with_the_table_value_of_z() -> None:
    assert wilson_bounds(26, 200, 1.645)[0] == pytest.approx(0.09577, abs=5e-6)


def test_lower_limit_of_26_of_200_with_z_unrounded() -> None:
    found = one_sided(26, 200, 0.95, AT_LEAST)
    assert found.low == pytest.approx(0.0957727, abs=5e-8)
    assert found.high == 1.0


def test_exact_limits_of_4_of_20_at_ninety_percent() -> None:
    found = clopper_pearson(4, 20, 0.90)
    assert found.low == pytest.approx(0.071354, abs=1e-6)
    assert found.high == pytest.approx(0.401029, abs=2e-6)
