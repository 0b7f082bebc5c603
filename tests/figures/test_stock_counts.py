"""A stock-take's arithmetic: every core under exactly one result, whatever was scanned where."""

from __future__ import annotations

from hypothesis import given
from hypothesis import strategies as st

from coretrack.figures.stock_counts import (
    FOUND,
    LEFT,
    MISSING,
    NOT_EXPECTED,
    RESULTS,
    WRONG_BIN,
    Compared,
    Expected,
    as_it_stands,
    compare,
    tally,
)

PLACES = st.sampled_from(["", "bin 1", "bin 2", "bin 3"])
TAGS = st.integers(1, 12).map(lambda number: f"tag {number}")
MAPPED = st.dictionaries(TAGS, PLACES)


@given(MAPPED, MAPPED, MAPPED, st.sets(TAGS))
def test_results_add_up_to_all_that_was_expected_and_all_that_was_found(
    books: dict[str, str], found: dict[str, str], now_in: dict[str, str], gone: set[str]
) -> None:
    expected = [Expected(tag, place) for tag, place in books.items()]
    rows = compare(as_it_stands(expected, found, now_in, gone), found)
    counts = tally(rows)
    assert {row.tag for row in rows} == books.keys() | found.keys()
    assert len(rows) == len(books.keys() | found.keys())
    assert counts[FOUND] + counts[WRONG_BIN] + counts[MISSING] + counts[LEFT] == len(books)
    assert counts[FOUND] + counts[WRONG_BIN] + counts[NOT_EXPECTED] == len(found)
    assert list(counts) == list(RESULTS)


@given(MAPPED, MAPPED)
def test_settling_a_count_twice_changes_nothing_more(
    books: dict[str, str], found: dict[str, str]
) -> None:
    expected = [Expected(tag, place) for tag, place in books.items()]
    once = as_it_stands(expected, found, {}, books.keys() - found.keys())
    assert as_it_stands(once, found, {}, ()) == once


@given(TAGS, PLACES, st.sampled_from(["", "gone", "elsewhere"]))
def test_what_is_expected_reads_back_as_it_was_kept(tag: str, place: str, how: str) -> None:
    each = Expected(tag, place, how)
    assert Expected.from_text(each.to_text()) == each


def test_what_has_to_be_looked_at_comes_first() -> None:
    expected = [Expected("a", "bin 1"), Expected("b", "bin 1"), Expected("c", "bin 1")]
    rows = compare(expected, {"a": "bin 1", "b": "bin 2", "z": "bin 1"})
    assert rows == (
        Compared("c", MISSING, "bin 1", ""),
        Compared("b", WRONG_BIN, "bin 1", "bin 2"),
        Compared("z", NOT_EXPECTED, "", "bin 1"),
        Compared("a", FOUND, "bin 1", "bin 1"),
    )
