"""A stock-take by scan: found, missing, in the wrong bin, not expected; closed under a name."""

from __future__ import annotations

from dataclasses import replace

import pytest
from bench_floor import Floor, bin_code, file_rows, furnish
from core_yard import Yard

from coretrack.actions import stock_takes
from coretrack.actions.stock_take_views import take_csv, take_view, takes_view
from coretrack.errors import Conflict, InvalidInput, NotAllowed, NotFound

GOOD = ("G1", "G2", "G3", "G4")


@pytest.fixture
def floor(yard: Yard) -> Floor:
    """G1 and G2 in shelf 1, G3 in shelf 2, G4 in no bin; S1 scrapped; at a count of everything."""
    furnish(yard)
    yard.buy(*GOOD, "S1")
    for serial in GOOD:
        yard.measure(serial)
    yard.measure("S1", crack="indication")
    floor = Floor(yard, page="shelf")
    floor.scan(bin_code(1))
    floor.core("G1", "G2")
    floor.scan(bin_code(2))
    floor.core("G3")
    return replace(floor, page="take", code=begun(floor))


def begun(floor: Floor, family: str = "", place: str = "") -> str:
    return stock_takes.begin_take(family, place, **floor.told())


def counts(floor: Floor) -> dict[str, int]:
    """Return how many cores each result has; those without any are left out."""
    return {name: number for name, number in take_view(floor.code, floor.by).counts if number}


def close(floor: Floor, note: str = "", move: bool = False, seen: int | None = None) -> None:
    version = take_view(floor.code, floor.by).version if seen is None else seen
    stock_takes.close_take(floor.code, note, version, move, **floor.told())


def test_every_result_is_told_at_the_scan_and_in_the_list(floor: Floor) -> None:
    assert counts(floor) == {"missing": 4}
    assert floor.scan(bin_code(1)).word == "SHELF 1"
    assert floor.core("G1").word == "FOUND"
    wrong = floor.core("G3")
    assert (wrong.tone, wrong.word) == ("ask", "WRONG BIN")
    assert "is in Shelf 2 by the books; counted in Shelf 1" in wrong.line
    assert floor.core("S1").word == "NOT EXPECTED"
    assert floor.core("G1").word == "COUNTED"
    assert counts(floor) == {
        "missing": 2,
        "in the wrong bin": 1,
        "not expected": 1,
        "found": 1,
    }
    assert floor.yard.core("G3").place == bin_code(2)
    assert floor.yard.is_sound()


def test_a_body_is_counted_in_a_bin_or_said_to_lie_in_none(floor: Floor) -> None:
    asked = floor.core("G4")
    assert (asked.word, counts(floor)) == ("BIN FIRST", {"missing": 4})
    assert floor.choose(asked, "no bin").word == "FOUND"
    assert floor.core("G1").word == "WRONG BIN"
    assert counts(floor) == {"missing": 2, "in the wrong bin": 1, "found": 1}


def test_a_body_scanned_in_two_bins_lies_in_the_last_one_only(floor: Floor) -> None:
    floor.scan(bin_code(1))
    floor.core("G1")
    floor.scan(bin_code(2))
    assert floor.core("G1").word == "TWICE"
    assert counts(floor) == {"missing": 3, "in the wrong bin": 1}
    floor.order("undo")
    assert counts(floor) == {"missing": 3, "found": 1}
    floor.order("undo")
    assert counts(floor) == {"missing": 4}
    assert "nothing of yours" in floor.order("undo").line


def test_a_count_of_one_bin_says_what_belongs_elsewhere(floor: Floor) -> None:
    floor.code = begun(floor, place=bin_code(1))
    assert take_view(floor.code, floor.by).here == "Shelf 1"
    assert [floor.core("G1").word, floor.core("G2").word] == ["FOUND", "FOUND"]
    assert "Close the count" in floor.scan("done").line
    assert floor.core("G3").word == "WRONG BIN"
    view = take_view(floor.code, floor.by)
    assert (view.expected, view.counted) == (2, 3)
    assert counts(floor) == {"in the wrong bin": 1, "found": 2}
    assert floor.scan("undo").word == "TAKEN BACK"
    assert counts(floor) == {"found": 2}


def test_what_is_picked_while_one_counts_is_not_missing(floor: Floor) -> None:
    replace(floor, page="shelf", code="pick:B-1").core("G2")
    assert counts(floor) == {"missing": 3, "left meanwhile": 1}
    floor.scan(bin_code(1))
    assert floor.core("G2").word == "NOT EXPECTED"
    assert counts(floor) == {"missing": 3, "not expected": 1}


def test_what_is_moved_by_the_books_while_one_counts_lies_right_in_either_bin(
    floor: Floor,
) -> None:
    floor.scan(bin_code(1))
    floor.core("G1")
    mover = replace(floor, page="shelf", code=f"bin:{bin_code(3)}", by="Oda Fenn")
    mover.core("G1", "G2")
    assert counts(floor) == {"missing": 3, "found": 1}
    floor.scan(bin_code(3))
    assert floor.core("G2").word == "FOUND"
    assert counts(floor) == {"missing": 2, "found": 2}


def test_a_closed_count_stays_as_it_was_whatever_happens_later(floor: Floor) -> None:
    floor.scan(bin_code(1))
    floor.core("G1", "G2", "G3")
    with pytest.raises(InvalidInput) as told:
        close(floor)
    assert set(told.value.fields) == {"note"}
    close(floor, "looked behind the shelf", move=True)
    before = counts(floor)
    assert before == {"missing": 1, "in the wrong bin": 1, "found": 2}
    assert floor.yard.core("G3").place == bin_code(1)
    replace(floor, page="shelf", code="pick:B-1").core("G1", "G4")
    assert counts(floor) == before
    view = take_view(floor.code, floor.by)
    assert (view.closed_by, view.note, view.open) == (floor.by, "looked behind the shelf", False)
    assert "is closed" in floor.core("G2").line
    with pytest.raises(NotAllowed, match="is closed"):
        close(floor, "again")
    assert floor.yard.is_sound()


def test_without_a_yes_the_books_keep_their_bins(floor: Floor) -> None:
    floor.scan(bin_code(1))
    floor.core("G1", "G2", "G3")
    close(floor, "G4 is at the washer")
    assert floor.yard.core("G3").place == bin_code(2)


def test_a_count_that_went_on_meanwhile_is_looked_at_before_it_is_closed(floor: Floor) -> None:
    seen = take_view(floor.code, floor.by).version
    floor.scan(bin_code(1))
    replace(floor, by="Oda Fenn", code=floor.code).scan(bin_code(1))
    floor.core("G1")
    with pytest.raises(Conflict, match="changed meanwhile"):
        close(floor, "all of it", seen=seen)
    assert take_view(floor.code, floor.by).open


def test_two_people_count_different_bins_at_once(floor: Floor) -> None:
    other = Floor(floor.yard, "take", floor.code, "Oda Fenn")
    floor.scan(bin_code(1))
    other.scan(bin_code(2))
    words = [floor.core("G1").word, other.core("G3").word, floor.core("G2").word]
    assert words == ["FOUND"] * 3
    assert counts(floor) == {"missing": 1, "found": 3}
    assert take_view(floor.code, floor.by).bins == (("Shelf 1", 2), ("Shelf 2", 1))


def test_the_file_names_each_core_with_its_result(floor: Floor) -> None:
    floor.scan(bin_code(2))
    floor.core("G1", "S1")
    rows = file_rows(take_csv(floor.code))
    assert rows[0][4:7] == ["result", "bin by the books", "counted in"]
    results = {row[1]: row[4:7] for row in rows[1:]}
    assert results[floor.yard.core("G1").tag] == ["in the wrong bin", "Shelf 1", "Shelf 2"]
    assert results[floor.yard.core("S1").tag] == ["not expected", "", "Shelf 2"]
    assert results[floor.yard.core("G4").tag] == ["missing", "no bin", ""]


def test_the_list_of_counts_and_what_there_is_not(floor: Floor) -> None:
    code = begun(floor, family="GPB")
    assert [(take.code, take.scope) for take in takes_view()] == [
        (code, "GPB"),
        (floor.code, "the whole shelf"),
    ]
    with pytest.raises(NotFound):
        take_view("ST-9", floor.by)
    for told in ({"family": "XX"}, {"place": bin_code(9)}):
        with pytest.raises(InvalidInput) as wrong:
            begun(floor, **told)
        assert set(wrong.value.fields) == set(told)
