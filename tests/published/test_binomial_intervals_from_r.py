"""Binomial intervals printed by R package `binom` (binom.confint, 95 % two-sided).

Read in statsmodels, stats/tests/results/results_proportion.py; Wilson 19 of 38 and the floating
point traps 38 of 38 and 0 of 77 are in the same project's test_proportion.py.
"""

from __future__ import annotations

import pytest

from coretrack.figures.intervals import (
    AGRESTI_COULL,
    EXACT,
    METHODS,
    WILSON,
    agresti_coull,
    clopper_pearson,
    wilson,
)

PRINTED = [
    (18, 20, EXACT, 0.6830172859809176, 0.9876514728297052, 1e-12),
    (18, 20, WILSON, 0.6989663547715128, 0.972133518786232, 1e-12),
    (18, 20, AGRESTI_COULL, 0.6867561125596077, 0.984343760998137, 1e-12),
    (4, 20, EXACT, 0.05733399705003284, 0.436614002996668, 1e-12),
    (4, 20, WILSON, 0.0806576625797981, 0.4160174322518935, 1e-12),
    (4, 20, AGRESTI_COULL, 0.0749115102767071, 0.4217635845549845, 1e-12),
    (4, 200, EXACT, 0.005475565879556443, 0.05041360908989634, 1e-12),
    (4, 200, WILSON, 0.00780442641634947, 0.05028708690582643, 1e-12),
    (4, 200, AGRESTI_COULL, 0.005991954548218395, 0.0520995587739575, 1e-12),
    (190, 200, EXACT, 0.9099724622986486, 0.975765835, 1e-9),
    (190, 200, WILSON, 0.910421851861224, 0.972617354, 1e-9),
    (190, 200, AGRESTI_COULL, 0.909307307911624, 0.973731898, 1e-9),
    (1, 30, EXACT, 0.000843571, 0.172169460, 5e-8),
    (1, 30, WILSON, 0.005908590, 0.166703910, 5e-8),
    (29, 30, EXACT, 0.827830500, 0.999156400, 5e-8),
    (29, 30, WILSON, 0.833296100, 0.994091400, 5e-8),
    (0, 30, EXACT, 0.0, 0.115703310, 5e-8),
    (0, 30, WILSON, 0.0, 0.113513390, 5e-8),
    (0, 30, AGRESTI_COULL, 0.0, 0.134711700, 5e-8),
    (30, 30, EXACT, 0.884296700, 1.0, 5e-8),
    (30, 30, WILSON, 0.886486600, 1.0, 5e-8),
]


@pytest.mark.parametrize(("good", "n", "method", "low", "high", "digits"), PRINTED)
def test_interval_is_the_printed_one(
    good: int, n: int, method: str, low: float, high: float, digits: float
) -> None:
    found = METHODS[method](good, n, 0.95)
    assert found.low == pytest.approx(low, abs=digits)
    assert found.high == pytest.approx(high, abs=digits)
    assert found.method == method


def test_agresti_coull_is_clipped_where_r_prints_a_negative_share() -> None:
    # Printed: -0.008305484 to 0.180917980.
    found = agresti_coull(1, 30)
    assert found.low == 0.0
    assert found.high == pytest.approx(0.180917980, abs=5e-8)


def test_wilson_19_of_38() -> None:
    found = wilson(19, 38)
    assert found.low == pytest.approx(0.348499283643951, abs=1e-14)
    assert found.high == pytest.approx(0.651500716356049, abs=1e-14)


def test_all_of_38_ends_at_exactly_one_and_none_of_77_starts_at_exactly_zero() -> None:
    for method in (wilson, clopper_pearson):
        assert method(38, 38).high == 1.0
        assert method(0, 77).low == 0.0
