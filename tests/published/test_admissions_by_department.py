"""Admissions to six departments by sex: P. J. Bickel and others, Science 187 (1975) 398.

R prints for `mantelhaen.test(UCBAdmissions)`: X² 1.4269 with its continuity correction (1.5246
without), p 0.2323, common odds ratio 0.9046968 (0.7719074 to 1.0603298) (from memory; it
recomputes). Thrown together the difference is 14 points the other way.
"""

from __future__ import annotations

import pytest

from coretrack.figures.stratified import Stratum, compare_strata

DEPARTMENTS = [
    Stratum("A", 825, 512, 108, 89),
    Stratum("B", 560, 353, 25, 17),
    Stratum("C", 325, 120, 593, 202),
    Stratum("D", 417, 138, 375, 131),
    Stratum("E", 191, 53, 393, 94),
    Stratum("F", 373, 22, 341, 24),
]


def test_odds_ratio_and_its_interval() -> None:
    found = compare_strata(DEPARTMENTS)
    assert found.odds_ratio == pytest.approx(0.9046968, abs=5e-8)
    assert found.odds_interval.low == pytest.approx(0.7719074, abs=5e-8)
    assert found.odds_interval.high == pytest.approx(1.0603298, abs=5e-8)


def test_chi_square_with_and_without_correction() -> None:
    corrected = compare_strata(DEPARTMENTS, corrected=True)
    assert corrected.chi_square == pytest.approx(1.4269, abs=5e-5)
    assert corrected.p_value == pytest.approx(0.2323, abs=5e-5)
    assert compare_strata(DEPARTMENTS).chi_square == pytest.approx(1.5246, abs=5e-5)


def test_like_with_like_turns_the_plain_difference_round() -> None:
    found = compare_strata(DEPARTMENTS)
    assert found.plain == pytest.approx(0.14, abs=5e-3)
    assert found.difference is not None
    assert found.difference < 0
