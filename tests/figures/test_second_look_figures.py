"""Draws at a set share, shares as typed, and what finished second looks say."""

from __future__ import annotations

from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from coretrack.figures.agreement import cohens_kappa
from coretrack.figures.second_looks import (
    FEWEST,
    PARTS,
    agreement,
    agreement_row,
    is_drawn,
    share_from,
)

PERCENT = st.integers(0, PARTS).map(lambda hundredths: f"{Decimal(hundredths) / 100:f}")


@given(PERCENT)
def test_of_all_numbers_exactly_the_share_is_drawn(percent: str) -> None:
    drawn = sum(is_drawn(number, percent) for number in range(PARTS))
    assert Decimal(drawn) * 100 / PARTS == Decimal(percent)


@given(PERCENT)
def test_a_share_is_read_as_it_is_written(percent: str) -> None:
    for text in (percent, f" {percent} %", percent.replace(".", ",")):
        assert Decimal(share_from(text)) == Decimal(percent)


@pytest.mark.parametrize("text", ["", "five", "-0.01", "100.01", "1.005", "1e1", "NaN", "5 mm"])
def test_what_is_no_share_is_refused(text: str) -> None:
    with pytest.raises(ValueError, match="0 to 100 percent"):
        share_from(text)


def test_misses_and_false_rejects_are_counted_against_the_second_look() -> None:
    pairs = [("keep", "scrap"), ("rework", "scrap"), ("scrap", "scrap"), ("scrap", "keep"),
             ("keep", "keep"), ("rework", "keep"), ("keep", "undecided")]  # fmt: skip
    row = agreement_row("GPB", pairs)
    assert (row.looks, row.graded, row.unsure) == (7, 6, 1)
    assert (row.errors.miss.count, row.errors.miss.total) == (2, 3)
    assert (row.errors.false_reject.count, row.errors.false_reject.total) == (1, 3)
    assert row.table == ((1, 0, 1), (1, 0, 1), (1, 0, 1))


def test_a_kappa_is_shown_from_enough_cores_on() -> None:
    pairs = [("keep", "keep")] * 10 + [("scrap", "scrap")] * 7 + [("keep", "scrap")] * 2
    few = agreement_row("", pairs)
    assert few.kappa.value is None
    assert few.kappa.why == f"19 cores graded twice; from {FEWEST} on it is shown"
    enough = agreement_row("", [*pairs, ("rework", "keep")])
    assert enough.kappa.value == cohens_kappa(enough.table).value
    assert enough.words == "fair"


def test_nothing_looked_at_is_unknown_and_never_nought() -> None:
    (row,) = agreement([])
    assert (row.agreed.share, row.kappa.value) == (None, None)
    assert (row.errors.miss.share, row.errors.false_reject.share) == (None, None)
    assert row.errors.miss.why == "no bad core has been graded twice yet"
