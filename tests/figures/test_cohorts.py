"""Cohorts by receipt: open cores beside the yield, the 90 % warning, and the two ends."""

from __future__ import annotations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from coretrack.figures.cohorts import cohort_table
from coretrack.figures.yields import Counts


def _counts(good: int, scrapped: int, waiting: int = 0) -> Counts:
    decided = good + scrapped
    return Counts(decided + waiting, decided, good, 0, scrapped)


def test_open_cores_stand_beside_and_bound_the_yield() -> None:
    table = cohort_table([("2026-09", _counts(69, 31)), ("2026-10", _counts(40, 10, 50))])
    september, october = table.cohorts
    assert september.settled
    assert (september.low_end, september.high_end) == (0.69, 0.69)
    assert not october.settled
    assert october.row.body_yield == 0.8
    assert (october.open, october.low_end, october.high_end) == (50, 0.4, 0.9)
    assert "good-looking cores tend to be graded first" in october.row.warnings[0]
    assert table.settled_only.body_yield == 0.69
    assert table.sentence == (
        "50 cores are still open; once they are decided the yield of all will lie between 54.5 %"
        " and 79.5 %. Not settled yet (under 90 % decided): 2026-10"
    )


@pytest.mark.parametrize(("waiting", "settled"), [(10, True), (11, False)])
def test_exactly_nine_tenths_is_settled(waiting: int, settled: bool) -> None:
    good = 90 if waiting == 10 else 89
    table = cohort_table([("2026-10", _counts(good, 0, waiting))])
    assert table.cohorts[0].settled is settled


def test_an_empty_cohort_has_no_figure_and_is_not_settled() -> None:
    table = cohort_table([("2026-09", _counts(5, 5)), ("2026-10", Counts())])
    empty = table.cohorts[1]
    assert empty.low_end is None
    assert empty.decided_share is None
    assert not empty.settled
    assert table.sentence == "1 month settled: 90 % or more decided in each"


def test_nothing_received_says_so() -> None:
    table = cohort_table([])
    assert table.why == "no core has come in yet"
    assert table.together.row.body_yield is None
    assert table.settled_only.body_yield is None


def test_months_that_differ_widen_the_yield_of_all() -> None:
    months = [
        (f"2026-0{n}", _counts(good, 100 - good)) for n, good in enumerate((90, 50, 88, 52, 91))
    ]
    assert cohort_table(months).together.row.spread_factor > 5


@settings(deadline=None, max_examples=50)
@given(
    st.lists(st.builds(_counts, st.integers(0, 50), st.integers(0, 50), st.integers(0, 50))),
)
def test_cohorts_add_up_and_the_ends_hold_any_outcome(counts: list[Counts]) -> None:
    table = cohort_table([(f"m{n}", one) for n, one in enumerate(counts)])
    assert table.together.open == sum(one.open for one in counts)
    assert table.together.row.counts.good == sum(one.good for one in counts)
    for cohort in table.cohorts:
        if cohort.low_end is None or cohort.high_end is None:
            continue
        assert 0 <= cohort.low_end <= cohort.high_end <= 1
