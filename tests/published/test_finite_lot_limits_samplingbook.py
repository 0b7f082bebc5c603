"""Limits for the number of bad bodies in a finite lot, against CRAN package `samplingbook`.

Its vignette "Some Remarks on Sprop" (J. Manitz; numbers of G. Kauermann and H. Küchenhoff,
Stichproben, 2010, p. 53) keeps the first total that the test already rejects. Strict inversion
does not, so ours are one body narrower on each side that is open: the printed limits are tested as
bounds that ours may not leave, and the difference exactly.
"""

from __future__ import annotations

import pytest

from coretrack.figures.finite_lots import bad_in_lot


@pytest.mark.parametrize(
    ("bad", "inspected", "lot", "printed", "strict"),
    [
        (3, 10, 50, (4, 32), (5, 31)),
        (45, 100, 300, (110, 161), (111, 160)),
        (2, 100, 300, (2, 19), (2, 18)),
    ],
)
def test_strict_limits_lie_one_body_inside_the_printed_ones(
    bad: int, inspected: int, lot: int, printed: tuple[int, int], strict: tuple[int, int]
) -> None:
    found = bad_in_lot(bad, inspected, lot)
    assert (found.fewest, found.most) == strict
    assert printed[0] <= strict[0] <= printed[0] + 1
    assert strict[1] == printed[1] - 1
