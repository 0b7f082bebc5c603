"""Writing: all of an action or nothing of it, the second of two writers told, numbers gapless."""

from __future__ import annotations

import threading
import time
from collections.abc import Callable
from typing import Any

import pytest
from databases import TestDatabase
from made_events import NOW, one_good_core

from coretrack.errors import Conflict, InvalidInput, NotFound
from coretrack.figures.lifecycle import COST_PARTS
from coretrack.records import database
from coretrack.records.database import connection
from coretrack.records.tables import TallyRow
from coretrack.records.verify import verify
from coretrack.records.writer import Writer, writing

EVERYTHING = ("event", "core", "reading", "tally", "once", "counter", "source")


def all_rows(db: TestDatabase) -> dict[str, list[tuple[Any, ...]]]:
    return {table: db.sql(f"SELECT * FROM {table} ORDER BY 1") for table in EVERYTHING}  # noqa: S608


def together(jobs: list[Callable[[], None]]) -> list[BaseException | None]:
    """Run the jobs at the same moment in a thread each; return what each raised."""
    raised: list[BaseException | None] = [None] * len(jobs)
    start = threading.Barrier(len(jobs))

    def run(place: int, job: Callable[[], None]) -> None:
        start.wait()
        try:
            job()
        except BaseException as error:  # handed to the test, which judges it
            raised[place] = error
        finally:
            database.release()

    threads = [threading.Thread(target=run, args=pair) for pair in enumerate(jobs)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    return raised


def set_source(key: str, name: str, writer: Writer) -> None:
    writer.event("source", key, "set", {"key": key, "name": name, "kind": "broker"})


def test_the_second_of_two_who_read_the_same_state_is_told_and_stores_nothing(
    db: TestDatabase,
) -> None:
    with writing("Edda Mallin", NOW) as writer:
        set_source("COPP", "Coppard", writer)
    with connection():
        slow = Writer("Odhran Vale", NOW)
        assert slow.version("source", "COPP") == 1
        with writing("Una Pryor", NOW) as quick:
            quick.event("source", "COPP", "set", {"name": "Coppard Brokers"})
        before = all_rows(db)

        slow.event("source", "COPP", "set", {"name": "Coppard & Son"})
        slow.remember("form:1", "done")
        with (
            pytest.raises(Conflict, match="source COPP was changed meanwhile"),
            database.transaction(),
        ):
            slow.flush()

    assert all_rows(db) == before
    assert verify() == (2, [])


def test_a_form_filled_in_on_an_older_state_is_told_who_changed_it(db: TestDatabase) -> None:
    with writing("Edda Mallin", NOW) as writer:
        set_source("COPP", "Coppard", writer)
    with writing("Una Pryor", NOW) as writer:
        writer.event("source", "COPP", "set", {"name": "Coppard Brokers"})

    with (
        pytest.raises(Conflict, match="changed meanwhile by Una Pryor"),
        writing("Odhran Vale", NOW) as writer,
    ):
        writer.expect("source", "COPP", 1)


def test_of_eight_writers_changing_one_core_each_either_counts_or_is_told(
    db: TestDatabase,
) -> None:
    one_good_core()

    def grade() -> None:
        with writing("Una Pryor", NOW) as writer:
            writer.event("core", "T-1", "overridden", {"grade": "scrap"}, why="cracked")

    raised = together([grade] * 8)

    told = [error for error in raised if error is not None]
    assert all(isinstance(error, Conflict) for error in told), told
    assert db.sql("SELECT version FROM core") == [(2 + 8 - len(told),)]
    assert verify() == (2 + 8 - len(told), [])


def test_of_eight_writers_storing_the_same_new_thing_one_wins(db: TestDatabase) -> None:
    all_have_looked = threading.Barrier(8)

    def add(place: int) -> Callable[[], None]:
        def job() -> None:
            with connection():
                writer = Writer(f"person {place}", NOW)
                writer.event("source", "NEW", "set", {"key": "NEW", "name": f"name {place}"})
                all_have_looked.wait()
                with database.transaction():
                    writer.flush()

        return job

    raised = together([add(place) for place in range(8)])

    assert [type(error) for error in raised if error] == [Conflict] * 7
    winner = raised.index(None)
    assert db.sql("SELECT name FROM source") == [(f"name {winner}",)]
    assert verify() == (1, [])


def test_a_key_acted_on_once_is_refused_the_second_time_with_all_that_came_with_it(
    db: TestDatabase,
) -> None:
    with writing("Edda Mallin", NOW) as writer:
        writer.remember("form:7", "core T-7 kept")
    with connection():
        assert Writer("x", NOW).answers(["form:7", "form:8"]) == {"form:7": "core T-7 kept"}
    before = all_rows(db)

    def again() -> None:
        with writing("Edda Mallin", NOW) as writer:
            set_source("LATE", "Late", writer)
            writer.remember("form:7", "again")

    with pytest.raises(Conflict):
        again()

    assert all_rows(db) == before


def test_more_keys_than_a_statement_takes_are_all_answered(db: TestDatabase) -> None:
    keys = [f"row:{place}" for place in range(1700)]
    with writing("Edda Mallin", NOW) as writer:
        for key in keys:
            writer.remember(key, "stored")

    with writing("Edda Mallin", NOW) as writer:
        assert writer.answers([*keys, "row:none"]).keys() == set(keys)


def test_running_numbers_are_gapless_and_given_once_from_eight_threads(db: TestDatabase) -> None:
    given: list[int] = []

    def take() -> None:
        for round_ in range(12):
            try:
                with writing("Edda Mallin", NOW) as writer:
                    first = writer.next_number("tags", 3)
                    if round_ % 3 == 2:
                        raise NotFound("changed his mind")
            except NotFound:
                continue
            given.extend(range(first, first + 3))

    raised = together([take] * 8)

    assert raised == [None] * 8
    assert sorted(given) == list(range(1, 8 * 8 * 3 + 1))


def test_an_action_that_fails_leaves_no_event_state_tally_reading_key_or_number(
    db: TestDatabase,
) -> None:
    one_good_core("T-1")
    before = all_rows(db)

    def fail_late() -> None:
        with writing("Una Pryor", NOW) as writer:
            writer.next_number("tags", 5)
            writer.event("core", "T-1", "overridden", {"grade": "scrap", "costs": {"rework": 1}})
            set_source("COPP", "Coppard", writer)
            writer.remember("form:1", "done")
            writer.flush()
            writer.event("core", "T-1", "source lost", {})
            raise ZeroDivisionError

    with pytest.raises(ZeroDivisionError):
        fail_late()

    assert all_rows(db) == before
    assert verify() == (2, [])


def test_one_core_seen_through_two_flushes_of_one_action_stays_whole(db: TestDatabase) -> None:
    one_good_core("T-1")

    with writing("Una Pryor", NOW) as writer:
        writer.event("core", "T-1", "overridden", {"grade": "scrap"})
        writer.flush()
        writer.event("core", "T-1", "source lost", {})
        writer.flush()

    assert db.sql("SELECT state, version FROM core") == [("scrapped", 4)]
    assert verify() == (4, [])


def test_two_actions_that_move_the_same_roll_ups_in_other_orders_do_not_block_each_other(
    db: TestDatabase, monkeypatch: pytest.MonkeyPatch
) -> None:
    # Many slow statements, so that the actions surely meet half-way.
    monkeypatch.setattr("coretrack.records.writer._CHUNK", 2)
    insert = TallyRow.insert_many

    def slowly(rows: list[dict[str, Any]]) -> Any:
        time.sleep(0.01)
        return insert(rows)

    monkeypatch.setattr(TallyRow, "insert_many", slowly)
    lots = [f"L{place}" for place in range(6)]

    def arrivals(batch: int, order: list[str]) -> Callable[[], None]:
        def job() -> None:
            for turn in range(2):
                with writing("Edda Mallin", NOW) as writer:
                    for lot in order:
                        tag = f"T-{batch}-{turn}-{lot}"
                        detail = {"tag": tag, "stream": "purchase", "lot": lot, "source": "COPP"}
                        detail |= {"family": "PMP", "received_on": "2026-09-01"}
                        writer.event("core", tag, "received", detail)

        return job

    raised = together([arrivals(0, lots), arrivals(1, lots[::-1]), arrivals(2, lots)])

    assert raised == [None] * 3
    received = db.sql("SELECT received FROM tally WHERE \"grouping\" = 'family'")
    assert received == [(3 * 2 * 6,)]
    assert verify() == (36, [])


def test_a_number_no_database_can_store_is_refused_in_words(db: TestDatabase) -> None:
    with pytest.raises(InvalidInput, match="cannot be stored"), writing("E", NOW) as writer:
        writer.event("family", "PMP", "set", {"key": "PMP", "mass_g": 2**70})

    assert db.sql("SELECT count(*) FROM event") == [(0,)]


def test_a_nul_sign_is_kept_whole_or_refused_in_words_never_cut(db: TestDatabase) -> None:
    def store() -> None:
        with writing("E", NOW) as writer:
            set_source("COPP", "nul \0 sign", writer)

    if db.is_sqlite:
        store()
        assert db.sql("SELECT name FROM source") == [("nul \0 sign",)]
        assert verify() == (1, [])
    else:
        with pytest.raises(InvalidInput, match="cannot be stored"):
            store()
        assert db.sql("SELECT count(*) FROM event") == [(0,)]


def test_what_is_not_there_is_told_as_such(db: TestDatabase) -> None:
    with connection():
        writer = Writer("E", NOW)
        assert writer.find("core", "T-9") is None
        assert writer.version("core", "T-9") == 0
        with pytest.raises(NotFound, match="There is no core 'T-9'"):
            writer.get("core", "T-9")


def test_a_row_attempted_in_vain_leaves_the_rest_of_its_file_as_if_it_had_not_been(
    db: TestDatabase,
) -> None:
    def bad_row(writer: Writer, known: str) -> None:
        with writer.attempt():
            writer.next_number("tags", 7)
            set_source(known, "wrong", writer)
            set_source("GHOST", "never", writer)
            received = {"tag": "T-0", "stream": "purchase", "received_on": "2026-09-01"}
            writer.event("core", "T-0", "received", {**received, "family": "PMP"})
            writer.remember("row:x", "stored")
            raise NotFound("half-way")

    def store() -> list[int]:
        numbers = []
        with writing("Edda Mallin", NOW) as writer:
            for place in range(4):
                with writer.attempt():
                    numbers.append(writer.next_number("tags"))
                    set_source(f"S{place}", "first", writer)
                with pytest.raises(NotFound):
                    bad_row(writer, f"S{place}")
        return numbers

    assert store() == [1, 2, 3, 4]
    assert db.sql("SELECT key, name, version FROM source ORDER BY key") == [
        (f"S{place}", "first", 1) for place in range(4)
    ]
    assert [db.sql(f"SELECT count(*) FROM {table}") for table in ("core", "tally", "once")] == [  # noqa: S608
        [(0,)]
    ] * 3
    assert verify() == (4, [])


def test_costs_beyond_what_a_float_holds_are_summed_to_the_last_digit(db: TestDatabase) -> None:
    huge = 2**53 + 1
    one_good_core("T-1", costs={"price": huge})
    one_good_core("T-2", costs={"price": huge})

    rows = db.sql(f"SELECT {', '.join(COST_PARTS)} FROM tally WHERE \"grouping\" = 'family'")  # noqa: S608

    assert rows[0][0] == 2 * huge
    assert verify() == (4, [])
