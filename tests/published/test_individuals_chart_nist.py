"""Chart of individuals: the flow rates of ten batches, NIST/SEMATECH e-Handbook 6.3.2.2.

The batches are from memory; mean, mean moving range and limits were read in a public repository
that quotes the page.
"""

from __future__ import annotations

from fractions import Fraction

import pytest

from coretrack.figures.weekly import individual_limits

FLOW = ["49.6", "47.6", "49.9", "51.3", "47.8", "51.2", "52.6", "52.4", "53.6", "52.1"]


def test_limits_are_the_printed_ones() -> None:
    low, high = individual_limits([Fraction(rate) for rate in FLOW])
    assert float(low) == pytest.approx(45.8159, abs=5e-5)
    assert float(high) == pytest.approx(55.8041, abs=5e-5)
