"""Beetles killed by carbon disulphide: C. I. Bliss, Annals of Applied Biology 22 (1935) 134.

Logistic fit as printed by A. J. Dobson, An Introduction to Generalized Linear Models: -60.72 (5.18)
and 34.27 (2.91), deviance 11.23 on 6 degrees (from memory; it recomputes).
"""

from __future__ import annotations

import pytest

from coretrack.figures.logistic import CountAt, logistic_fit

DOSES = (1.6907, 1.7242, 1.7552, 1.7842, 1.8113, 1.8369, 1.8610, 1.8839)
TREATED = (59, 60, 62, 56, 63, 59, 62, 60)
KILLED = (6, 13, 18, 28, 52, 53, 61, 60)


def test_slope_intercept_errors_and_deviance() -> None:
    fit = logistic_fit([CountAt(*row) for row in zip(DOSES, TREATED, KILLED, strict=True)])
    assert fit.intercept is not None
    assert fit.slope is not None
    assert fit.slope == pytest.approx(34.27, abs=5e-3)
    assert fit.slope_error == pytest.approx(2.91, abs=5e-3)
    assert fit.intercept - fit.slope * fit.middle == pytest.approx(-60.72, abs=5e-3)
    assert fit.deviance == pytest.approx(11.23, abs=5e-3)
    assert fit.degrees == 6
