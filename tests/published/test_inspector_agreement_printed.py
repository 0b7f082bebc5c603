"""Kappa of two and of several inspectors.

AIAG, Measurement Systems Analysis, 4th edition, chapter III section C (tables and kappas from
memory, recomputed); J. L. Fleiss, Psychol. Bull. 76 (1971) 378, with z as R package `irr` prints
it; the ten subjects of an online encyclopaedia's page on Fleiss' kappa; a statistical package's
printout of three grades, quoted in the tests of statsmodels.
"""

from __future__ import annotations

import pytest

from coretrack.figures.agreement import LINEAR, cohens_kappa, fleiss_kappa

PATIENTS = (
    "00060 03003 01401 00006 03030 20400 00402 20310 20040 00006 10050 11040 03300 10050 02031"
    " 00501 30012 51000 02040 10203 00006 01050 02013 20040 10041 05010 40002 02040 10500 00006"
)
SUBJECTS = (
    "0,0,0,0,14 0,2,6,4,2 0,0,3,5,6 0,3,9,2,0 2,2,8,1,1 7,7,0,0,0 3,2,6,3,0 2,5,3,2,2 6,5,2,1,0"
    " 0,2,2,3,7"
)
THREE_GRADES = ((0, 4, 1), (0, 8, 0), (0, 1, 5))


@pytest.mark.parametrize(
    ("table", "printed"),
    [
        (((44, 6), (3, 97)), 0.86),
        (((42, 5), (9, 94)), 0.79),
        (((43, 7), (8, 92)), 0.78),
        (((45, 5), (3, 97)), 0.88),
        (((45, 2), (3, 100)), 0.92),
        (((42, 9), (6, 93)), 0.77),
    ],
)
def test_three_inspectors_and_the_reference_over_fifty_parts(
    table: tuple[tuple[int, int], ...], printed: float
) -> None:
    assert cohens_kappa(table).value == pytest.approx(printed, abs=5e-3)


def test_two_by_two_textbook_table() -> None:
    assert cohens_kappa(((20, 5), (10, 15))).value == pytest.approx(0.4, abs=1e-12)


def test_three_grades_with_their_interval() -> None:
    found = cohens_kappa(THREE_GRADES)
    assert found.value == pytest.approx(0.4842, abs=5e-5)
    assert found.standard_error == pytest.approx(0.1380, abs=5e-5)
    assert (found.interval.low, found.interval.high) == pytest.approx((0.2137, 0.7547), abs=5e-5)
    assert found.null_error == pytest.approx(0.1484, abs=5e-5)
    assert found.z == pytest.approx(3.2626, abs=5e-5)


def test_three_grades_weighted_by_their_distance() -> None:
    found = cohens_kappa(THREE_GRADES, LINEAR)
    assert found.value == pytest.approx(0.4701, abs=5e-5)
    assert found.standard_error == pytest.approx(0.1457, abs=5e-5)
    assert (found.interval.low, found.interval.high) == pytest.approx((0.1845, 0.7558), abs=6e-5)


def test_thirty_patients_and_six_raters() -> None:
    found = fleiss_kappa([[int(count) for count in row] for row in PATIENTS.split()])
    assert found.value == pytest.approx(0.4302445, abs=5e-8)
    assert found.z == pytest.approx(17.65183, abs=5e-6)
    assert found.cores == 30


def test_ten_subjects_and_fourteen_raters() -> None:
    rows = [[int(count) for count in row.split(",")] for row in SUBJECTS.split()]
    assert fleiss_kappa(rows).value == pytest.approx(0.210, abs=5e-4)
