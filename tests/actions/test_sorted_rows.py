"""What a lot was sorted into is told by small events, and they lead to the same rows."""

from __future__ import annotations

import json
from dataclasses import asdict

import pytest
from core_yard import Yard
from hypothesis import given
from hypothesis import strategies as st
from lot_desk import Sorting

from coretrack.actions.lot_rows import SortedRow, change_between, moved
from coretrack.errors import InvalidInput, NotAllowed
from coretrack.figures.trade_objects import Lot, apply_lot
from coretrack.records import queries
from coretrack.records.database import connection
from coretrack.records.happenings import history
from coretrack.records.verify import verify
from coretrack.records.writer import writing

ROWS = [
    SortedRow(number="GP-1040"),
    SortedRow(number="GP-1040", serial="A1"),
    SortedRow(number="GP-1040", serial="A2"),
    SortedRow(number="CB-77", mass_g=900),
    SortedRow(number_text="smeared 7"),
    SortedRow(),
]


@pytest.fixture
def lots(yard: Yard) -> Sorting:
    return Sorting(yard)


@given(st.lists(st.tuples(st.sampled_from(ROWS), st.sampled_from([1, 1, 1, 3, -1])), max_size=30))
def test_moving_pieces_and_replaying_what_was_told_give_the_same_rows(
    moves: list[tuple[SortedRow, int]],
) -> None:
    rows: tuple[SortedRow, ...] = ()
    lot = Lot("L1")
    for row, pieces in moves:
        try:
            after = moved(rows, row, pieces)
        except InvalidInput:
            continue
        told = json.loads(json.dumps(change_between(rows, after)))
        assert len(told["out"]) + len(told["into"]) <= 2
        lot = apply_lot(lot, "sorted", {"changes": [told]})
        rows = after
        assert list(lot.sorting) == [asdict(each) for each in rows]


def test_a_change_of_rows_that_are_not_there_is_refused() -> None:
    lot = Lot("L1", sorting=(asdict(SortedRow(number="CB-77", count=2)),))
    other = asdict(SortedRow(number="GP-1040", count=2))
    for at in (0, 1, -1):
        with pytest.raises(NotAllowed, match="sorted meanwhile"):
            apply_lot(lot, "sorted", {"changes": [{"at": at, "out": [other], "into": []}]})
    with pytest.raises(NotAllowed, match="no such lot"):
        apply_lot(None, "sorted", {"changes": []})


def test_the_event_of_a_scan_stays_small_however_much_is_sorted(lots: Sorting) -> None:
    code = lots.begin()
    for number in range(40):
        lots.scan(code, "GP-1040")
        lots.change(code, "GP-1040", serial=f"SER-{number:04d}")
    lots.scan(code, "CB-77", "CB-77")
    lots.change(code, "CB-77", mass="1.2")
    with connection():
        events = history("lot", code)
        lot = queries.lot(code)
    assert lot is not None
    assert len(lot.sorting) == 41
    sizes = [len(json.dumps(event.detail)) for event in events if event.event == "sorted"]
    assert len(sizes) == 83
    assert max(sizes) < 500
    assert verify()[1] == []


def test_sorting_that_was_told_as_a_whole_still_replays(lots: Sorting) -> None:
    code = lots.begin()
    whole = [asdict(SortedRow(number="GP-1040", count=2)), asdict(SortedRow(count=1))]
    with writing("Ilse Thornby", lots.yard.now) as writer:
        writer.event("lot", code, "set", {"sorting": whole}, why="one piece: GP-1040")
    lots.scan(code, "GP-1040", "CB-77")
    assert lots.counts(code) == {"GP-1040": 3, "not readable": 1, "CB-77": 1}
    assert verify()[1] == []
