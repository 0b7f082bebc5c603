"""What `verify` says of photos: each is the picture that was taken, and none is missing."""

from __future__ import annotations

import tracemalloc

import pytest
from databases import TestDatabase
from made_events import NOW, one_good_core, photographed, store_photo

from coretrack.records.station_tables import DraftRow, SessionRow, SignInRow
from coretrack.records.verify import verify
from coretrack.records.writer import writing

PICTURE = bytes(range(256)) * 8


@pytest.fixture
def pictures(db: TestDatabase) -> TestDatabase:
    """Books with a photo of each of two cores, of a lot, and of a core still in hand."""
    one_good_core("T-1")
    one_good_core("T-2")
    with writing("Edda Mallin", NOW) as writer:
        writer.event("lot", "L1", "set", {"key": "L1", "kind": "purchase"})
        store_photo("draft", "D-1", b"in hand")
    photographed("core", "T-1", PICTURE)
    photographed("core", "T-2", b"another")
    photographed("lot", "L1", b"")
    assert verify() == (8, [])
    return db


def told() -> set[tuple[str, str]]:
    """Return each thing that differs with the last words on it."""
    return {(found.thing, found.what.split(" ", 2)[2]) for found in verify()[1]}


DIFFERS = "is not the picture that was taken: its bytes differ"
UNNAMED = "is stored but no event names it"
MISSING = "is missing"


@pytest.mark.parametrize(("kind", "key"), [("core", "T-1"), ("lot", "L1"), ("draft", "D-1")])
@pytest.mark.parametrize("content", [b"another picture", PICTURE[:-1] + b"\x00", PICTURE + b"\n"])
def test_a_changed_picture_is_named(
    pictures: TestDatabase, kind: str, key: str, content: bytes
) -> None:
    update = "UPDATE photo SET content = ? WHERE object_kind = ? AND object_key = ?"
    pictures.sql(update, (content, kind, key))

    assert told() == {(f"{kind} {key}", DIFFERS)}


def test_a_picture_that_is_gone_is_named(pictures: TestDatabase) -> None:
    pictures.sql("DELETE FROM photo WHERE object_key = 'T-1'")

    assert told() == {("core T-1", MISSING)}


def test_a_picture_of_a_draft_may_go_with_it(pictures: TestDatabase) -> None:
    pictures.sql("DELETE FROM photo WHERE object_kind = 'draft'")

    assert told() == set()


def test_a_picture_put_to_another_core_is_named_with_both(pictures: TestDatabase) -> None:
    pictures.sql("UPDATE photo SET object_key = 'T-2' WHERE object_key = 'T-1'")

    assert told() == {("core T-1", MISSING), ("core T-2", UNNAMED)}


def test_a_picture_exchanged_together_with_its_hash_is_named(pictures: TestDatabase) -> None:
    of_another = "(SELECT {} FROM (SELECT * FROM photo) AS p WHERE p.object_key = 'T-2')"
    pictures.sql(
        f"UPDATE photo SET content = {of_another.format('content')}, "  # noqa: S608
        f"sha256 = {of_another.format('sha256')} WHERE object_key = 'T-1'"
    )

    assert told() == {("core T-1", MISSING), ("core T-1", UNNAMED)}


def test_a_changed_hash_is_named(pictures: TestDatabase) -> None:
    pictures.sql("UPDATE photo SET sha256 = ? WHERE object_key = 'T-1'", ("0" * 64,))

    assert told() == {("core T-1", DIFFERS), ("core T-1", UNNAMED), ("core T-1", MISSING)}


def test_a_picture_that_no_event_names_is_told(pictures: TestDatabase) -> None:
    with writing("Edda Mallin", NOW):
        store_photo("core", "T-1", b"a better looking core")

    assert told() == {("core T-1", UNNAMED)}


def test_an_event_that_names_no_picture_is_told(pictures: TestDatabase) -> None:
    with writing("Edda Mallin", NOW) as writer:
        writer.event("core", "T-1", "photographed", {"what": "whole"})

    assert {thing for thing, _ in told()} == {"core T-1"}


@pytest.mark.parametrize("nonsense", ["'a word'", "7", "CAST(X'FF' AS TEXT)"])
def test_a_picture_of_a_kind_that_coretrack_never_writes_is_named_not_stumbled_over(
    sqlite_db: TestDatabase, nonsense: str
) -> None:
    one_good_core("T-1")
    photographed("core", "T-1", PICTURE)
    for column in ("content", "sha256", "object_key", "object_kind"):
        kept = sqlite_db.sql(f"SELECT {column} FROM photo")[0]  # noqa: S608
        sqlite_db.sql(f"UPDATE photo SET {column} = {nonsense}")  # noqa: S608
        assert "core T-1" in {thing for thing, _ in told()}, column
        sqlite_db.sql(f"UPDATE photo SET {column} = ?", kept)  # noqa: S608
    assert verify() == (3, [])


def test_pictures_are_read_one_after_the_other(db: TestDatabase) -> None:
    size, count = 1_000_000, 12
    one_good_core("T-1")
    for place in range(count):
        photographed("core", "T-1", bytes([place]) * size)
    tracemalloc.start()
    try:
        assert verify()[1] == []
        peak = tracemalloc.get_traced_memory()[1]
    finally:
        tracemalloc.stop()

    assert peak < count * size / 2


def test_what_is_begun_and_who_is_signed_in_is_no_history(pictures: TestDatabase) -> None:
    with writing("Edda Mallin", NOW):
        DraftRow.insert(key="D-1", person="Edda Mallin", at="2026-10-31", body="{}").execute()
        SignInRow.insert(key="Edda Mallin", failures=2, until="").execute()
        SessionRow.insert(
            token_hash="t",
            person="Edda Mallin",
            station="dock",
            started_at="2026-10-31",
            seen_at="2026-10-31",
            ends_at="2026-10-31",
            by_badge=True,
            locked=False,
        ).execute()

    assert verify() == (8, [])
