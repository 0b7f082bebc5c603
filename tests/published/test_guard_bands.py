"""Guard-band factors: acceptance limit = tolerance limit - r U, with U = 2u.

ILAC-G8:09/2019, sections 4.1 and 4.2 (definitions read; the factor table and the ISO 14253-1
values are from memory). The risk is that of a reading exactly at the acceptance limit.
"""

from __future__ import annotations

from decimal import Decimal

import pytest

from coretrack.figures.conformance import (
    acceptance_limits,
    conformance_probability,
    guard_factor,
    nonconformance_probability,
)
from coretrack.figures.tolerances import Limits

UPPER = Limits(None, 10_000_000)
STANDARD = 2_000
EXPANDED = 2 * STANDARD


def risk_at(factor: Decimal | float) -> float:
    accepted = acceptance_limits(UPPER, EXPANDED, factor)
    assert accepted is not None
    assert accepted.upper is not None
    return nonconformance_probability(accepted.upper, UPPER, STANDARD)


@pytest.mark.parametrize(
    ("factor", "risk", "stated_worst"),
    [
        (Decimal(0), 0.5, 0.5),
        (Decimal(1), 0.02275, 0.025),
        (Decimal("0.83"), 0.04846, 0.05),
        (Decimal("1.5"), 0.00135, 0.0016),
        (Decimal(3), 9.9e-10, 1e-6),
    ],
)
def test_the_risk_at_the_acceptance_limit(
    factor: Decimal, risk: float, stated_worst: float
) -> None:
    assert risk_at(factor) == pytest.approx(risk, rel=5e-3)
    assert risk_at(factor) <= stated_worst


def test_a_one_sided_95_percent_limit() -> None:
    # ISO 14253-1:2017: 1.65 u for a one-sided case, exactly 1.644854 u.
    assert guard_factor(0.95) == pytest.approx(1.644854 / 2, abs=5e-7)
    assert risk_at(guard_factor(0.95)) == pytest.approx(0.05, abs=1e-4)
    assert risk_at(Decimal("0.825")) == pytest.approx(0.04947, abs=5e-5)
    assert acceptance_limits(UPPER, EXPANDED, guard_factor(0.95)) == Limits(None, 9_996_710)


@pytest.mark.parametrize(
    ("reading", "chance"),
    [(9_998_000, 0.841345), (9_997_000, 0.933193), (9_996_700, 0.950529)],
)
def test_readings_below_an_upper_limit(reading: int, chance: float) -> None:
    assert conformance_probability(reading, UPPER, STANDARD) == pytest.approx(chance, abs=5e-7)
