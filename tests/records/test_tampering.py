"""One byte changed behind coretrack's back, anywhere it keeps what happened, is found and named."""

from __future__ import annotations

import json
from collections.abc import Callable, Iterator
from datetime import timedelta
from typing import Any

import pytest
from databases import TestDatabase
from made_events import NOW, one_good_core
from small_shop import SmallShop

from coretrack.actions import upkeep
from coretrack.errors import Unavailable
from coretrack.figures.history import START, canonical, event_hash
from coretrack.records import database
from coretrack.records.bench_tables import ReadingRow
from coretrack.records.kinds import KINDS
from coretrack.records.tables import EventRow, SealRow, TallyRow
from coretrack.records.verify import verify
from coretrack.records.writer import writing

TABLES = [kind.table for kind in KINDS.values()] + [EventRow, ReadingRow, TallyRow, SealRow]
KEYS = {kind.table._meta.table_name: (name, kind.key) for name, kind in KINDS.items()}
Execute = Callable[..., list[tuple[Any, ...]]]
AT_THE_BENCH: tuple[tuple[str, str, dict[str, Any]], ...] = (
    ("wash", "B1/1", {"basket": "B1", "status": "done", "slots": {"1": "T-1"}, "counted": 1}),
    ("process check", "2026-10-31/lamp/booth", {"measured": {"UV-A": "12 W/m²"}, "result": "good"}),
    ("process rule", "uv lamp", {"methods": ["penetrant"], "limits": {"uva": [10, None]}}),
    ("gauge study", "PG1/1", {"gauge": "PG1", "design": {"trials": 2}, "readings": [{"value": 5}]}),
    ("second look", "T-1/1", {"tag": "T-1", "why": "drawn", "findings": [{"check": "bore"}]}),
    ("stock take", "C1", {"scope": {"place": "BIN:2"}, "expected": ["T-1"], "found": {"T-1": ""}}),
)
"""One object of each kind that only the bench has."""


@pytest.fixture
def books(db: TestDatabase, shop: SmallShop) -> TestDatabase:
    """Books with something of every kind, sealed twice, without the triggers that guard them."""
    with writing("Edda Mallin", NOW) as writer:
        lot = {"key": "L1", "kind": "purchase", "source": shop.broker, "pieces": 2}
        writer.event("lot", "L1", "set", {**lot, "received_on": "2026-09-01"})
        sold = {
            "key": "A7/1",
            "invoice": "A7",
            "customer": "ANSL",
            "quantity": 2,
            "charge": 200_000,
        }
        writer.event("line", "A7/1", "opened", sold)
        writer.event("line", "A7/1", "credited", {"credit": 170_000})
        writer.event("line", "A8/1", "opened", {**sold, "key": "A8/1", "invoice": "A8"})
        writer.event("line", "A8/1", "waived", {"units": 1})
        stock = {"key": "a4-24", "next_free": 7}
        writer.event("label stock", "a4-24", "set", stock)
        reason = {"key": "PMP/cover", "number": 3, "family": "PMP", "fault": "cover"}
        writer.event("reason", "PMP/cover", "set", reason)
        place = {"key": "BIN:2", "kind": "bin", "number": 2, "name": "Hold bin"}
        writer.event("place", "BIN:2", "set", place)
        note = {"key": "CN-1", "customer": "ANSL", "tags": ["T-9"], "total": 170_000}
        writer.event("credit note", "CN-1", "set", note)
        person = {"key": "Edda Mallin", "role": "clerk", "password_hash": "x"}
        writer.event("person", "Edda Mallin", "set", person)
        file = {"key": "f00", "name": "a.csv", "action": "sales", "answer": {"rows": 1}}
        writer.event("file", "f00", "set", file)
        for kind, key, told in AT_THE_BENCH:
            writer.event(kind, key, "set", {"key": key, **told})
    one_good_core("T-1")
    upkeep.seal(NOW)
    one_good_core("T-2")
    upkeep.seal(NOW + timedelta(days=1))
    db.without_guards()
    assert verify()[1] == []
    return db


def things() -> set[str]:
    return {difference.thing for difference in verify()[1]}


def changed(value: Any) -> Any:
    """Return the value with its last byte changed, or its smallest possible change."""
    if isinstance(value, bool):
        return not value
    if isinstance(value, int):
        return value + 1
    if value is None:
        return 1
    return (value[:-1] + ("x" if value[-1] != "x" else "y")) if value else "x"


def named(table: str, row: dict[str, Any]) -> str:
    """Return what a difference in this row must be called."""
    if table in KEYS:
        kind, key = KEYS[table]
        return f"{kind} {row[key]}"
    if table == "event":
        return f"{row['object_kind']} {row['object_key']}"
    if table == "reading":
        return f"core {row['tag']}"
    if table == "seal":
        return f"seal of {row['at'][:10]}"
    return f"roll-up {row['family']} / {row['grouping']} / {row['value']} / {row['month']}"


def rows_of(execute: Execute, table: type[Any]) -> Iterator[dict[str, Any]]:
    names = [field.column_name for field in table._meta.sorted_fields]
    columns = ", ".join(f'"{name}"' for name in names)
    for values in execute(f'SELECT {columns} FROM "{table._meta.table_name}" ORDER BY id'):  # noqa: S608
        yield dict(zip(names, values, strict=True))


def test_a_change_in_any_column_of_anything_stored_is_found_and_named(
    books: TestDatabase,
) -> None:
    missed = []
    with books.tool() as execute:
        for table in TABLES:
            name = table._meta.table_name
            stored = list(rows_of(execute, table))
            for row in (stored[0], stored[-1])[: len(stored)]:
                # A row's own number says nothing of the trade; all else does.
                for column in [column for column in row if column != "id"]:
                    update = f'UPDATE "{name}" SET "{column}" = ? WHERE id = ?'  # noqa: S608
                    execute(update, (changed(row[column]), row["id"]))
                    if named(name, row) not in things():
                        missed.append(f"{name}.{column} of {named(name, row)}")
                    execute(update, (row[column], row["id"]))
    assert missed == []
    assert things() == set()


@pytest.mark.parametrize("sequence", [1, 2])
def test_every_single_byte_of_an_events_text_counts(sqlite_db: TestDatabase, sequence: int) -> None:
    tags = [f"T-{place}" for place in range(10, 90)]
    for tag in tags:
        one_good_core(tag)
    sqlite_db.without_guards()
    select = "SELECT id, CAST(body AS BLOB) FROM event WHERE sequence = ? ORDER BY id"
    with sqlite_db.tool() as execute:
        bodies = execute(select, (sequence,))
        for first in range(0, len(bodies[0][1]), len(tags)):
            # Another byte in each core's event, so that one replay judges many of them.
            hit = set()
            for place, (tag, (number, body)) in enumerate(zip(tags, bodies, strict=True)):
                if first + place < len(body):
                    other = bytearray(body)
                    other[first + place] ^= 1 << (place % 8)
                    update = "UPDATE event SET body = CAST(? AS TEXT) WHERE id = ?"
                    execute(update, (bytes(other), number))
                    hit.add(f"core {tag}")
            assert hit <= things()
            for number, body in bodies:
                execute("UPDATE event SET body = CAST(? AS TEXT) WHERE id = ?", (body, number))
    assert things() == set()


@pytest.mark.parametrize(
    "forged",
    [
        ("costs", {"pricf": 1}),
        ("costs", ["price"]),
        ("costs", {"price": "much"}),
        ("readings", [{"chekc": "bore"}]),
        ("readings", [{"check": "bore", "typed": ["24"]}]),
        ("readings", 7),
        ("received_on", 20260901),
        ("tag", None),
    ],
    ids=str,
)
def test_an_event_rewritten_into_nonsense_with_a_fitting_hash_is_still_named(
    db: TestDatabase, forged: tuple[str, Any]
) -> None:
    one_good_core("T-1")
    one_good_core("T-2")
    db.without_guards()
    body = json.loads(db.sql("SELECT body FROM event WHERE id = 1")[0][0])
    body["detail"][forged[0]] = forged[1]
    text = canonical(body)
    db.sql("UPDATE event SET body = ?, hash = ? WHERE id = 1", (text, event_hash(START, text)))

    assert "core T-1" in things()
    assert not any("T-2" in thing for thing in things())


def test_a_deleted_last_event_is_named_even_when_state_and_roll_ups_were_set_back(
    books: TestDatabase,
) -> None:
    last = "SELECT max(id) FROM event WHERE object_key = 'A7/1'"
    before = "SELECT hash FROM event WHERE object_key = 'A7/1' AND sequence = 1"
    head = books.sql(before)[0][0]
    books.sql("DELETE FROM event WHERE id = ?", books.sql(last)[0])

    assert "line A7/1" in things()

    set_back = (
        "UPDATE line SET version = 1, head = ?, credited = 0, credited_money = 0 WHERE key = 'A7/1'"
    )
    books.sql(set_back, (head,))

    assert things() == {"seal of 2026-10-31", "seal of 2026-11-01"}


def test_an_object_whose_history_or_row_is_gone_is_named(books: TestDatabase) -> None:
    kept = books.sql("SELECT * FROM source WHERE key = 'BROD'")
    books.sql("DELETE FROM source WHERE key = 'BROD'")
    assert things() == {"source BROD"}
    marks = ", ".join("?" * len(kept[0]))
    books.sql(f"INSERT INTO source VALUES ({marks})", kept[0])  # noqa: S608
    assert things() == set()

    books.sql("DELETE FROM event WHERE object_key = 'BROD'")
    assert "source BROD" in things()


def test_an_object_wiped_out_altogether_breaks_the_seals_and_the_roll_ups(
    books: TestDatabase,
) -> None:
    for statement in (
        "DELETE FROM event WHERE object_key = 'T-1'",
        "DELETE FROM core WHERE tag = 'T-1'",
        "DELETE FROM reading WHERE tag = 'T-1'",
    ):
        books.sql(statement)

    found = things()

    assert {"seal of 2026-10-31", "seal of 2026-11-01"} <= found
    assert "roll-up PMP / family / PMP / 2026-09" in found


def test_a_seal_taken_away_is_missed_by_the_next_one(books: TestDatabase) -> None:
    books.sql("DELETE FROM seal WHERE id = 1")

    assert things() == {"seal of 2026-11-01"}


def test_rows_that_no_event_made_are_named(books: TestDatabase) -> None:
    statement = "INSERT INTO source (version, head, key, name, kind) VALUES (1, 'h', 'X', '', '')"
    books.sql(statement)
    books.sql(
        "INSERT INTO reading (tag, inspection, check_code, place, typed, result, gauge, "
        "gauge_overdue, read_at) SELECT 'T-2', inspection, check_code, place, typed, result, "
        "gauge, gauge_overdue, read_at FROM reading WHERE tag = 'T-1'"
    )

    assert things() == {"source X", "core T-2"}


@pytest.mark.parametrize(
    "statement",
    [
        "UPDATE core SET price = 'dear' WHERE tag = 'T-1'",
        "UPDATE core SET source_lost = 2 WHERE tag = 'T-1'",
        "UPDATE core SET serial = CAST(X'53FF' AS TEXT) WHERE tag = 'T-1'",
        "UPDATE core SET tag = X'542D31' WHERE tag = 'T-1'",
        "UPDATE core SET findings = '[' WHERE tag = 'T-1'",
        "UPDATE reading SET typed = CAST(X'FE' AS TEXT) WHERE tag = 'T-1'",
        "UPDATE event SET sequence = 'two' WHERE object_key = 'T-1' AND sequence = 1",
        "UPDATE event SET body = X'00' WHERE object_key = 'T-1'",
        "UPDATE event SET hash = X'00' WHERE object_key = 'T-1'",
        "UPDATE event SET object_kind = CAST(X'C0' AS TEXT) WHERE object_key = 'T-1'",
    ],
)
def test_values_of_a_kind_that_coretrack_never_writes_are_named_not_stumbled_over(
    sqlite_db: TestDatabase, statement: str
) -> None:
    one_good_core("T-1")
    upkeep.seal(NOW)
    sqlite_db.without_guards()
    sqlite_db.sql(statement)

    assert "core T-1" in things()


@pytest.mark.parametrize("column", ["at", "upto", "objects", "digest"])
def test_a_seal_turned_into_nonsense_is_named(sqlite_db: TestDatabase, column: str) -> None:
    one_good_core("T-1")
    upkeep.seal(NOW)
    sqlite_db.without_guards()
    sqlite_db.sql(f"UPDATE seal SET {column} = CAST(X'80' AS TEXT)")  # noqa: S608

    assert len(things()) == 1
    assert things().pop().startswith("seal of ")


def test_an_index_that_no_longer_fits_its_table_is_reported(sqlite_db: TestDatabase) -> None:
    one_good_core("T-1")
    pages = "SELECT rootpage FROM sqlite_master WHERE name = ?"
    with sqlite_db.tool() as execute:
        execute("PRAGMA writable_schema = 1")
        lot, serial = (execute(pages, (name,))[0][0] for name in ("core_lot", "core_serial"))
        swap = "UPDATE sqlite_master SET rootpage = ? WHERE name = ?"
        execute(swap, (serial, "core_lot"))
        execute(swap, (lot, "core_serial"))

    assert things() == {"database file"}


def test_a_database_file_overwritten_in_the_middle_is_refused_in_words(
    sqlite_db: TestDatabase,
) -> None:
    for place in range(40):
        one_good_core(f"T-{place}")
    database.close_database()
    sqlite_db.sql("PRAGMA wal_checkpoint(TRUNCATE)")
    content = bytearray(sqlite_db.file.read_bytes())
    middle = len(content) // 2
    content[middle : middle + 20_000] = b"\xa5" * 20_000
    sqlite_db.file.write_bytes(content)

    try:
        found = things()
    except Unavailable as error:
        assert "damaged" in error.message  # noqa: PT017 - either answer is right
    else:
        assert "database file" in found
