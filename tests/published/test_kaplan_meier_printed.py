"""The 21 treated patients of the 6-mercaptopurine trial, weeks in remission.

E. J. Freireich and others, Blood 21 (1963) 699; curve and standard errors as printed in the
textbooks of survival analysis, such as D. Collett, Modelling Survival Data (from memory).
"""

from __future__ import annotations

import pytest

from coretrack.figures.return_days import Stay, return_days

ENDED = (6, 6, 6, 7, 10, 13, 16, 22, 23)
CUT_OFF = (6, 9, 10, 11, 17, 19, 20, 25, 32, 32, 34, 35)
PRINTED = [
    (6, 21, 0.857, 0.0764),
    (7, 17, 0.807, 0.0869),
    (10, 15, 0.753, 0.0963),
    (13, 12, 0.690, 0.1068),
    (16, 11, 0.627, 0.1141),
    (22, 7, 0.538, 0.1282),
    (23, 6, 0.448, 0.1346),
]


def test_curve_risk_sets_and_standard_errors() -> None:
    stays = [Stay(week, True) for week in ENDED] + [Stay(week, False) for week in CUT_OFF]
    curve = return_days(stays)
    assert [(step.days, step.at_risk) for step in curve.steps] == [row[:2] for row in PRINTED]
    for step, (_, _, share, error) in zip(curve.steps, PRINTED, strict=True):
        assert step.still_out == pytest.approx(share, abs=5e-4)
        assert step.standard_error == pytest.approx(error, abs=5e-5)
    assert curve.median == 23
    assert (curve.units, curve.returned, curve.open) == (21, 9, 12)
