"""Why we scrap: every piece and all money once, only reason apart, unmeasured apart."""

from __future__ import annotations

from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from coretrack.figures.scrap_reasons import NO_REASON, ScrapCase, reason_pareto

CASES = [
    ScrapCase("1", ("crack",), 200_000, ("bore", "seat")),
    ScrapCase("2", ("crack",), 200_000),
    ScrapCase("3", ("bore", "seat"), 300_001),
    ScrapCase("4", ("bore",), 100_000, ("seat",)),
    ScrapCase("5", (), 50_000),
]


def test_only_reason_with_others_and_money() -> None:
    found = reason_pareto(CASES)
    assert [row.reason for row in found.rows] == ["crack", "bore", "seat"]
    crack, bore, seat = found.rows
    assert (crack.cores, crack.only, crack.with_others, crack.pieces) == (2, 2, 0, 2)
    assert (bore.cores, bore.only, bore.with_others) == (2, 1, 1)
    assert bore.pieces == Fraction(3, 2)
    assert (bore.money, seat.money) == (100_000 + 150_001, 150_000)
    assert bore.only_money == 100_000
    assert found.without_reason is not None
    assert (found.without_reason.reason, found.without_reason.cores) == (NO_REASON, 1)
    assert found.sentence == (
        "crack leads: 2 of 5 scrapped cores, 47.1 % of the money; it is the only reason on 2."
        " 1 core has no recorded reason"
    )


def test_what_was_not_measured_stands_apart_and_bounds_the_rescue() -> None:
    found = reason_pareto(CASES)
    assert found.unmeasured == (("seat", 2), ("bore", 1))
    crack = found.rows[0]
    assert (crack.rescued_least, crack.rescued_most) == (1, 2)
    assert [row.unmeasured for row in found.rows] == [0, 1, 2]
    assert found.without_reason is not None
    assert found.without_reason.rescued_most == 0


def test_the_share_of_a_catch_all_reason_is_told() -> None:
    found = reason_pareto([ScrapCase("1", ("other",), 10), ScrapCase("2", ("crack", "other"), 10)])
    assert found.other_share == 0.75


def test_nothing_scrapped_has_no_share_at_all() -> None:
    found = reason_pareto([])
    assert found.why == "nothing has been scrapped yet"
    assert found.other_share is None
    assert found.rows == ()


def test_scrap_that_pays_has_no_running_share() -> None:
    found = reason_pareto([ScrapCase("1", ("crack",), -500), ScrapCase("2", ("bore",), 900)])
    assert [row.cumulative for row in found.rows] == [None, None]
    free = reason_pareto([ScrapCase("1", ("crack",), 0)])
    assert free.rows[0].cumulative is None
    assert free.sentence == "crack leads: 1 of 1 scrapped core; it is the only reason on 1"


def test_contradictions_are_refused() -> None:
    with pytest.raises(ValueError, match="twice"):
        reason_pareto([ScrapCase("1", ("crack", "crack"), 5)])
    with pytest.raises(ValueError, match="not measured"):
        reason_pareto([ScrapCase("1", ("crack",), 5, ("crack",))])


@given(
    st.lists(
        st.builds(
            ScrapCase,
            st.just("c"),
            st.sets(st.sampled_from(["crack", "bore", "seat", "other"])).map(
                lambda names: tuple(sorted(names))
            ),
            st.integers(0, 10**7),
        ),
        min_size=1,
        max_size=40,
    )
)
def test_all_rows_add_up_to_all_pieces_and_all_money(cases: list[ScrapCase]) -> None:
    found = reason_pareto(cases)
    rows = [*found.rows, *([found.without_reason] if found.without_reason else [])]
    assert sum(row.pieces for row in rows) == len(cases)
    assert sum(row.money for row in rows) == sum(case.money for case in cases)
    for row in rows:
        assert row.only + row.with_others == row.cores
        assert row.rescued_least <= row.rescued_most <= row.only
