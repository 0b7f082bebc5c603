"""Yield rows: rates, intervals, warnings, and nothing where nothing is known."""

from __future__ import annotations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from coretrack.figures.dispersion import WIDENED
from coretrack.figures.intervals import EXACT, METHODS, clopper_pearson, wilson
from coretrack.figures.yields import Batch, Counts, rolled_yield, yield_row

COUNTS = st.builds(
    lambda first, rework, scrapped, waiting: Counts(
        received=first + rework + scrapped + waiting,
        decided=first + rework + scrapped,
        kept_first_pass=first,
        kept_after_rework=rework,
        scrapped=scrapped,
    ),
    *[st.integers(0, 200)] * 4,
)


def _counts(first: int, rework: int, scrapped: int, waiting: int = 0, lost: int = 0) -> Counts:
    decided = first + rework + scrapped
    return Counts(decided + waiting, decided, first, rework, scrapped, source_lost=lost)


def test_first_pass_and_body_yield_with_wilson() -> None:
    row = yield_row("INJ", _counts(78, 25, 47))
    assert row.first_pass_yield == 78 / 150
    assert row.body_yield == 103 / 150
    assert row.interval == wilson(103, 150)
    assert row.warnings == ()
    assert row.why is None


@pytest.mark.parametrize("waiting", [0, 12])
def test_nothing_decided_gives_no_rate_no_bound_and_a_reason(waiting: int) -> None:
    row = yield_row("INJ", Counts(received=waiting))
    assert row.first_pass_yield is None
    assert row.body_yield is None
    assert row.interval.low is None
    assert row.interval.high is None
    assert row.dispersion_p is None
    assert row.why == "no core of this group has been decided yet"


def test_under_nine_tenths_decided_is_said_and_exactly_nine_tenths_is_not() -> None:
    below = yield_row("INJ", _counts(60, 0, 29, waiting=11))
    exact = yield_row("INJ", _counts(60, 0, 30, waiting=10))
    assert below.warnings == (
        "only 89 of 100 cores are decided (89.0 %); good-looking cores tend to be graded first, so"
        " the yield may still fall",
    )
    assert exact.warnings == ()


def test_few_decided_cores_are_said() -> None:
    assert "only 1 core is decided" in yield_row("INJ", _counts(1, 0, 0)).warnings[0]
    assert "only 19 cores are decided" in yield_row("INJ", _counts(9, 5, 5)).warnings[0]
    assert yield_row("INJ", _counts(10, 5, 5)).warnings == ()


def test_cores_that_lost_their_source_are_said() -> None:
    row = yield_row("INJ", _counts(20, 5, 5, lost=3))
    assert row.warnings == (
        "3 cores have lost the source: counted in the family's yield, in no source's and no lot's",
    )
    waiting = yield_row("INJ", Counts(received=4, source_lost=1))
    assert waiting.warnings[0].startswith("1 core has lost the source")


def test_lots_that_differ_widen_the_interval_and_are_said() -> None:
    goods = (4, 18, 7, 19, 17)
    batches = [Batch(f"L{n}", 20, good) for n, good in enumerate(goods)]
    row = yield_row("INJ", _counts(65, 0, 35), batches)
    assert row.interval.method == WIDENED
    assert row.dispersion_p is not None
    assert row.dispersion_p < 0.001
    assert row.spread_factor > 5
    assert row.warnings == (
        "lots differ more than chance explains (p under 0.001); the interval carries"
        f" {row.spread_factor:.1f} times the variance of chance alone",
    )


def test_steady_lots_leave_the_interval_alone() -> None:
    batches = [Batch(f"L{n}", 20, good) for n, good in enumerate((13, 14, 12, 13, 13))]
    row = yield_row("INJ", _counts(65, 0, 35), batches)
    assert row.interval == wilson(65, 100)
    assert row.dispersion_p is not None
    assert row.dispersion_p > 0.9
    assert row.spread_factor == 1.0


def test_another_method_can_be_asked_for() -> None:
    row = yield_row("INJ", _counts(5, 0, 0), method=EXACT)
    assert row.interval == clopper_pearson(5, 5)
    with pytest.raises(ValueError, match="no interval method"):
        yield_row("INJ", _counts(5, 0, 0), method="Wald")


@settings(deadline=None)
@given(COUNTS, st.sampled_from(sorted(METHODS)))
def test_every_row_is_a_figure_inside_its_bounds_or_says_why_not(
    counts: Counts, method: str
) -> None:
    row = yield_row("INJ", counts, method=method)
    if counts.decided == 0:
        assert row.body_yield is None
        assert row.why
        return
    assert row.body_yield is not None
    assert row.first_pass_yield is not None
    assert row.interval.low is not None
    assert row.interval.high is not None
    assert 0 <= row.first_pass_yield <= row.body_yield <= 1
    assert row.interval.low <= row.body_yield <= row.interval.high
    assert row.interval.low < row.interval.high


@pytest.mark.parametrize(
    ("counts", "said"),
    [
        (Counts(received=9, decided=9, kept_first_pass=3, scrapped=5), "add up to 8"),
        (Counts(received=5, decided=6, kept_first_pass=6), "6 cores decided of only 5 received"),
        (Counts(received=-1), "received is -1"),
    ],
)
def test_counts_that_contradict_each_other_are_refused(counts: Counts, said: str) -> None:
    with pytest.raises(ValueError, match=said):
        yield_row("INJ", counts)


def test_rolled_yield_is_the_product_of_its_stages() -> None:
    """Stages of a solved exercise that prints 0.582 because it took the third one as 0.80."""
    scrap = ((75, 850), (72, 1202), (83, 943), (70, 894), (88, 1200))
    stages = [(entered - lost, entered) for lost, entered in scrap]
    assert rolled_yield(stages) == pytest.approx(0.667662, abs=5e-7)


def test_rolled_yield_is_unknown_while_a_stage_has_seen_no_core() -> None:
    assert rolled_yield([(9, 10), (0, 0)]) is None
    assert rolled_yield([]) is None
    assert rolled_yield([(0, 10), (5, 5)]) == 0.0
    with pytest.raises(ValueError, match="cannot have passed"):
        rolled_yield([(11, 10)])
