"""What every import promises: preview stores nothing, a row is whole or absent, twice is once."""

from __future__ import annotations

import threading
import time
from collections.abc import Callable
from dataclasses import replace
from typing import Any

import pytest
from core_yard import GOOD, Yard, csv_bytes, why

from coretrack.actions.dock import Dock
from coretrack.actions.imports import ImportAnswer
from coretrack.actions.returns import ReturnTerms, import_returns
from coretrack.errors import InvalidInput, NotAllowed
from coretrack.records.database import connection
from coretrack.records.tables import MODELS

SALES = csv_bytes("invoice,date,customer,number,quantity", [
    ("S1", "2026-05-04", "ANSL", "GP-1040", 2), ("S2", "2026-05-04", "NOBO", "GP-1040", 2),
])  # fmt: skip
RETURNS = csv_bytes("received,customer,number,serial,faults", [
    ("2026-05-20", "ANSL", "GP-1040", "A1", ""),
    ("2026-05-20", "ANSL", "GP-1040", "A2", "port"),
    ("2026-05-20", "ANSL", "GP-1040", "A1", ""),
    ("2026-05-20", "ANSL", "ZZ-9", "A4", ""),
])  # fmt: skip
LOT = csv_bytes("number,serial,quantity", [("GP-1040", "B1", ""), ("CB-77", "", "3"), ("", "", 0)])
BENCH = csv_bytes("time,inspector,core,check,reading", [
    *[("2026-05-21 09:00", "Bela Quirke", "A1", "bore", reading) for reading in GOOD],
    ("2026-05-21 09:01", "Bela Quirke", "A2", "bore", "0.9453"),
    ("2026-05-21 09:02", "Bela Quirke", "A2", "crack", "indication"),
])  # fmt: skip


def everything(yard: Yard) -> dict[str, int]:
    """Return how many rows every table holds, and the last tag that was given."""
    with connection():
        rows = {model._meta.table_name: model.select().count() for model in MODELS}
    return {**rows, "last tag": yard.tags_given()}


def steps(yard: Yard) -> dict[str, Callable[[], ImportAnswer]]:
    return {
        "sales": lambda: yard.sell_file(SALES),
        "returns": lambda: yard.take_in(RETURNS),
        "lot": lambda: yard.take_in(LOT, source="COPP", lot="L1", price="9", freight="2"),
        "grades": lambda: yard.grade(BENCH)[0],
        "tipped": lambda: yard.tip("A1", "X9"),
    }


def told(answer: ImportAnswer) -> dict[str, Any]:
    return replace(answer, preview=False).to_dict()


def test_a_preview_stores_nothing_and_tells_what_the_import_then_does(yard: Yard) -> None:
    for name, do in steps(yard).items():
        before = everything(yard)
        yard.preview = True
        shown = do()
        assert everything(yard) == before, name
        yard.preview = False
        done = do()
        assert told(shown) == told(done), name
        assert (shown.preview, done.preview) == (True, False)
        assert done.stored > 0, name
        assert done.rejected, name
    assert yard.is_sound()


def test_everything_again_changes_nothing(yard: Yard) -> None:
    for do in steps(yard).values():
        do()
    before = {k: v for k, v in everything(yard).items() if k not in ("event", "imported_file")}
    for name, do in steps(yard).items():
        again = do()
        assert again.stored == 0, name
        assert again.already + len(again.rejected) == again.rows, name
    after = {k: v for k, v in everything(yard).items() if k not in ("event", "imported_file")}
    assert after == before
    assert yard.is_sound()


def test_a_row_that_fails_half_way_leaves_nothing_of_itself(
    yard: Yard, monkeypatch: pytest.MonkeyPatch
) -> None:
    yard.sell("S1", 3)
    whole = Dock.store

    def fails_at_the_end(dock: Any, tag: str, arrival: Any, judgement: Any) -> None:
        whole(dock, tag, arrival, judgement)
        if dock._writer.get("core", tag).serial == "A2":
            raise NotAllowed("the printer burns", {"serial": "burnt"})

    monkeypatch.setattr(Dock, "store", fails_at_the_end)
    answer = yard.bring_back("A1", "A2", "A3", delivery="D1")
    assert (answer.stored, why(answer)) == (2, "the printer burns")
    cores = yard.cores()
    assert [core.serial for core in cores] == ["A1", "A3"]
    assert [int(core.tag[1:-2]) for core in cores] == [1, 2]
    assert yard.tags_given() == 2
    assert (yard.line("S1/1").credited, yard.lot("D1").pieces) == (2, 2)
    assert yard.tally("family")["GPB"]["received"] == 2
    assert yard.is_sound()
    monkeypatch.undo()
    assert yard.bring_back("A2", delivery="D1").stored == 1


def test_a_first_row_that_fails_leaves_no_object_it_would_have_made(
    yard: Yard, monkeypatch: pytest.MonkeyPatch
) -> None:
    def fails(*_: Any) -> None:
        raise NotAllowed("no")

    monkeypatch.setattr(Dock, "store", fails)
    before = everything(yard)
    answer = yard.bring_back("A1", delivery="D1")
    assert (answer.stored, len(answer.rejected)) == (0, 1)
    after = everything(yard)
    # The file itself is noted and the day sealed, and the counter stands at nothing.
    changed = {k for k in after if after[k] != before[k]}
    assert changed == {"event", "imported_file", "counter", "seal"}
    assert after["event"] == before["event"] + 1
    assert after["last tag"] == 0


def test_what_is_no_shop_mistake_leaves_nothing_of_the_whole_file(
    yard: Yard, monkeypatch: pytest.MonkeyPatch
) -> None:
    whole = Dock.store

    def breaks(dock: Any, tag: str, arrival: Any, judgement: Any) -> None:
        whole(dock, tag, arrival, judgement)
        if dock._writer.get("core", tag).serial == "A3":
            raise ZeroDivisionError

    monkeypatch.setattr(Dock, "store", breaks)
    before = everything(yard)
    with pytest.raises(ZeroDivisionError):
        yard.bring_back("A1", "A2", "A3")
    assert everything(yard) == before


def test_one_file_brought_by_four_people_at_once_acts_once(yard: Yard) -> None:
    yard.sell("S1", 6)
    answers: list[Any] = []
    start = threading.Barrier(4)

    def bring() -> None:
        start.wait()
        try:
            answers.append(yard.bring_back("A1", "A2", "A3", delivery="D1"))
        except Exception as error:
            answers.append(error)

    threads = [threading.Thread(target=bring) for _ in range(4)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    from coretrack.errors import Conflict

    stored = [answer.stored for answer in answers if isinstance(answer, ImportAnswer)]
    assert sorted(stored, reverse=True)[0] == 3
    assert sum(stored) == 3
    assert all(isinstance(a, ImportAnswer | Conflict) for a in answers), answers
    assert (len(yard.cores()), yard.line("S1/1").credited) == (3, 3)
    assert yard.is_sound()


def test_two_files_of_the_same_serial_at_once_earn_one_credit(yard: Yard) -> None:
    yard.sell("S1", 6)
    start = threading.Barrier(2)
    seen: list[Any] = []

    def bring(day: str) -> None:
        start.wait()
        try:
            seen.append(yard.bring_back("A1", day=day))
        except Exception as error:
            seen.append(error)

    days = ("2026-05-20", "2026-05-21")
    threads = [threading.Thread(target=bring, args=(day,)) for day in days]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert (len(yard.cores()), yard.line("S1/1").credited) == (1, 1), seen


def test_a_serial_that_two_customers_bring_at_once_is_taken_once(yard: Yard) -> None:
    yard.sell("S1", 1)
    yard.sell("S2", 1, customer="BROD")
    first_is_at_it, second_runs = threading.Event(), threading.Event()
    seen: dict[str, Any] = {}

    def wait_for_second(done: int, of: int) -> None:
        first_is_at_it.set()
        second_runs.wait(5)
        time.sleep(0.2)

    def bring(customer: str, progress: Any) -> None:
        rows = [("2026-05-20", customer, "GP-1040", "A1")]
        request = yard.request(csv_bytes("received,customer,number,serial", rows))
        seen[customer] = import_returns(
            request, ReturnTerms(), by="x", now=yard.now, progress=progress
        )

    first = threading.Thread(target=bring, args=("ANSL", wait_for_second))
    first.start()
    assert first_is_at_it.wait(20)
    second = threading.Thread(target=bring, args=("BROD", None))
    second.start()
    second_runs.set()
    first.join()
    second.join()
    assert (seen["ANSL"].stored, seen["BROD"].stored) == (1, 0)
    assert "came in before as core" in why(seen["BROD"])
    assert (yard.line("S1/1").credited, yard.line("S2/1").credited) == (1, 0)


def test_the_same_file_twice_in_one_go_counts_once(yard: Yard) -> None:
    yard.buy("A1", "A2")
    bench = csv_bytes("time,core,check,reading", [("2026-05-21 09:00", "A1", "crack", "none")])
    first, second = yard.grade(bench, bench)
    assert (first.stored, second.stored, second.already) == (1, 0, 1)
    assert any("is given twice here" in note for note in second.notes)
    assert yard.grade(bench)[0].already == 1


def test_files_that_overlap_count_their_common_rows_once(yard: Yard) -> None:
    yard.buy("A1", "A2")
    rows = [("2026-05-21 09:00", "A1", "crack", "none"), ("2026-05-21 09:10", "A2", "look", "A")]
    heading = "time,core,check,reading"
    first, second = yard.grade(csv_bytes(heading, rows[:1]), csv_bytes(heading, rows))
    assert (first.stored, second.stored, second.already) == (1, 1, 1)
    assert yard.core("A1").inspections == 1


def test_a_file_with_rejected_rows_tries_them_again(yard: Yard) -> None:
    answer = yard.sell_file(SALES)
    assert (answer.stored, len(answer.rejected)) == (1, 1)
    from coretrack.actions.setting_up import add_source

    add_source("NOBO", "Noborough", "customer", by="x", now=yard.now)
    again = yard.sell_file(SALES)
    assert (again.stored, again.already, again.rejected) == (1, 1, ())
    last = yard.sell_file(SALES)
    assert "this very file was imported before" in last.notes[0]


def test_a_missing_column_and_a_wrong_basis_stop_the_whole_file(yard: Yard) -> None:
    before = everything(yard)
    with pytest.raises(InvalidInput, match="The column is missing: 'customer'"):
        yard.sell_file(csv_bytes("invoice,date,number,quantity", [("S1", "x", "GP-1040", 1)]))
    with pytest.raises(InvalidInput, match="'pallet' is not a basis"):
        yard.buy("A1", basis="pallet")
    assert everything(yard) == before


def test_before_the_shop_is_set_up_an_import_says_so(db: object) -> None:
    from coretrack.errors import NotFound

    with pytest.raises(NotFound, match="There is no shop yet"):
        Yard().sell("S1")
