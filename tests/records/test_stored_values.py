"""What goes in comes out the same: texts stay texts, moments keep their order, WAL or nothing."""

from __future__ import annotations

import sqlite3
from datetime import UTC, datetime, timedelta, timezone
from pathlib import Path

import pytest
from databases import TestDatabase
from hypothesis import given
from hypothesis import strategies as st
from made_events import NOW, one_good_core

from coretrack.errors import InvalidInput, Unavailable
from coretrack.records import queries
from coretrack.records.database import (
    close_database,
    connection,
    database,
    open_database,
    transaction,
)
from coretrack.records.times import from_text, to_text
from coretrack.records.verify import verify
from coretrack.records.writer import writing

LIKE_NUMBERS = ("00420", "0010", "1E10", "1.0", "+7", "0x1F", "１２", "1_000", " 7", "Infinity")


@pytest.mark.parametrize("text", LIKE_NUMBERS)
def test_part_numbers_and_serials_that_look_like_numbers_stay_text(
    db: TestDatabase, text: str
) -> None:
    one_good_core("T-1", number=text, serial=text)
    with writing("Edda Mallin", NOW) as writer:
        number = {"key": text, "shown": text, "kind": "OE", "core_group": "G", "family": "PMP"}
        writer.event("number", text, "set", number)
    kind = "typeof({})" if db.is_sqlite else "pg_typeof({})::text"

    for table, column in (("core", "number"), ("core", "serial"), ("number", "key")):
        query = f"SELECT {column}, {kind.format(column)} FROM {table}"  # noqa: S608
        assert db.sql(query) == [(text, "text")]
    with connection():
        assert queries.numbers([text])[text].shown == text
        assert [core.number for core in queries.cores_with_serial(text)] == [text]
    assert verify()[1] == []


def test_the_sqlite_module_alone_reads_the_same_texts(sqlite_db: TestDatabase) -> None:
    for place, text in enumerate(("00420", "0010", "1E10")):
        one_good_core(f"T-{place}", number=text)

    link = sqlite3.connect(sqlite_db.file)
    rows = link.execute("SELECT number, typeof(number) FROM core ORDER BY id").fetchall()
    link.close()

    assert rows == [("00420", "text"), ("0010", "text"), ("1E10", "text")]


def test_a_database_in_memory_is_refused_because_it_cannot_log_ahead() -> None:
    open_database("sqlite:///:memory:")

    with pytest.raises(Unavailable, match=r"'memory' instead of 'wal'.*not on a shared or network"):
        verify()

    assert database.is_closed()
    close_database()


def test_a_data_folder_that_cannot_be_made_is_told(tmp_path: Path) -> None:
    (tmp_path / "file").write_text("in the way", encoding="utf-8")

    with pytest.raises(Unavailable, match=r"data folder .* cannot be made"):
        open_database(f"sqlite:///{tmp_path / 'file' / 'data' / 'coretrack.db'}")


def test_an_unknown_database_address_names_the_known_ones() -> None:
    with pytest.raises(InvalidInput, match=r"'mysql://…' is not known; use sqlite:///"):
        open_database("mysql://localhost/shop")


@pytest.mark.postgres
def test_a_server_that_does_not_answer_is_told(migrated_postgres: str) -> None:
    open_database("postgresql://postgres@127.0.0.1:1/nothing")

    with pytest.raises(Unavailable, match="cannot be opened"):
        verify()

    close_database()


@pytest.mark.postgres
def test_what_stands_behind_the_question_mark_of_an_address_reaches_the_driver(
    migrated_postgres: str,
) -> None:
    open_database(f"{migrated_postgres}?application_name=bench%20one")

    with connection():
        name = database.execute_sql("SHOW application_name").fetchone()

    assert name == ("bench one",)
    close_database()


def test_a_question_asked_wrongly_is_no_outage(db: TestDatabase) -> None:
    def ask() -> None:
        with connection(), transaction():
            database.execute_sql('INSERT INTO "once" (key, at, answer) VALUES (NULL, NULL, NULL)')

    with pytest.raises(Exception, match=r"(?i)null") as told:
        ask()
    assert not isinstance(told.value, Unavailable)


def test_serials_and_papers_with_other_letters_are_found_as_written(db: TestDatabase) -> None:
    one_good_core("T-1", serial="ÄB-7é")
    with writing("Edda Mallin", NOW) as writer:
        writer.event("line", "RÉ-12/1", "opened", {"key": "RÉ-12/1", "invoice": "RÉ-12"})
        writer.event("lot", "Łódź-1", "set", {"key": "Łódź-1"})

    with connection():
        assert [core.tag for core in queries.cores_with_serial("ÄB-7é")] == ["T-1"]
        assert queries.papers("RÉ-12") == ["RÉ-12"]
        assert queries.papers("Łódź-1") == ["Łódź-1"]


def test_numbers_are_found_by_their_beginning_whatever_order_the_database_sorts_in(
    db: TestDatabase,
) -> None:
    keys = ("AB", "AB1", "AB-1", "ABÉ", "A%", "A_B", "AC", "B")
    with writing("Edda Mallin", NOW) as writer:
        for key in keys:
            writer.event("number", key, "set", {"key": key, "shown": key})

    with connection():
        found = {
            start: {number.key for number in queries.numbers_starting(start, 20)}
            for start in ("AB", "A%", "A_", "C", "")
        }
        assert len(queries.numbers_starting("A", 3)) == 3

    assert found == {
        "AB": {"AB", "AB1", "AB-1", "ABÉ"},
        "A%": {"A%"},
        "A_": {"A_B"},
        "C": set(),
        "": set(keys),
    }


def test_core_lines_come_oldest_first_and_by_key_on_every_database(db: TestDatabase) -> None:
    keys = ("a-10/1", "B-9/1", "A-10/1", "a_1/1", "B9/1")
    with writing("Edda Mallin", NOW) as writer:
        for place, key in enumerate(keys):
            line = {"key": key, "customer": "ANSL", "core_group": "G", "quantity": 1}
            line["sold_on"] = "2026-05-01" if place == 4 else "2026-05-02"
            writer.event("line", key, "opened", line)

    with connection():
        found = [line.key for line in queries.open_lines("ANSL", core_group="G")]

    assert found == ["B9/1", *sorted(keys[:4])]


@given(
    st.lists(
        st.datetimes(
            min_value=datetime(1970, 1, 1),  # noqa: DTZ001 - Hypothesis adds the zone
            max_value=datetime(2200, 1, 1),  # noqa: DTZ001
            timezones=st.sampled_from([UTC, timezone(timedelta(hours=-6))]),
        ),
        min_size=2,
        max_size=6,
    )
)
def test_stored_moments_sort_as_texts_like_as_moments(moments: list[datetime]) -> None:
    texts = [to_text(moment) for moment in moments]

    assert [from_text(text) for text in sorted(texts)] == sorted(moments)


def test_a_moment_without_a_zone_is_never_stored() -> None:
    with pytest.raises(ValueError, match="needs a time zone"):
        to_text(datetime(2026, 10, 31))  # noqa: DTZ001 - that is the point
