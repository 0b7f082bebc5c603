"""Books kept by an earlier coretrack come through the upgrade as they were, and go on."""

from __future__ import annotations

import pytest
from databases import TestDatabase
from made_events import NOW, photographed
from small_shop import coretrack

from coretrack.actions import upkeep
from coretrack.errors import Unavailable
from coretrack.records import queries, schema
from coretrack.records.database import connection
from coretrack.records.verify import verify
from coretrack.records.writer import writing

KEPT = 'SELECT id, object_kind, object_key, sequence, "by", body, hash FROM event ORDER BY id'
ROLL_UPS = "SELECT family, value, month, received, decided, price, credit FROM tally ORDER BY id"
LATER = ["0002_receiving_station", "0003_bench"]


def test_books_of_an_earlier_version_are_refused_until_setup_has_run(
    old_books: TestDatabase,
) -> None:
    assert schema.pending() == LATER
    with pytest.raises(
        Unavailable,
        match=r"needs an upgrade first \(0002_receiving_station, 0003_bench\): "
        "run 'coretrack setup'",
    ):
        schema.require_current()
    refused = coretrack(old_books, "verify")
    assert refused.returncode == 1
    assert "run 'coretrack setup'" in refused.stderr

    done = coretrack(old_books, "setup")

    assert done.returncode == 0, done.stderr
    schema.require_current()
    checked = coretrack(old_books, "verify")
    assert checked.returncode == 0, checked.stdout + checked.stderr


def test_no_event_state_roll_up_or_seal_differs_after_the_upgrade(old_books: TestDatabase) -> None:
    before = [old_books.sql(query) for query in (KEPT, ROLL_UPS, "SELECT * FROM seal")]

    assert schema.upgrade() == LATER

    assert [old_books.sql(query) for query in (KEPT, ROLL_UPS, "SELECT * FROM seal")] == before
    assert verify() == (len(before[0]), [])
    states = {state for (state,) in old_books.sql("SELECT state FROM core")}
    assert states == {"good", "scrapped", "waiting", "hold", "excess", "unknown", "comeback"}


def test_old_rows_hold_what_their_objects_have_before_anything_new_happens(
    old_books: TestDatabase,
) -> None:
    schema.upgrade()

    with connection():
        person_active = old_books.sql("SELECT active FROM person")
        shop = queries.shop()
        lines = queries.lines_of_paper("S1")
        held = [core for tag in ("2000000709",) if (core := queries.core(tag))]
    assert [bool(active) for (active,) in person_active] == [True]
    assert shop is not None
    assert (shop.hold_days, shop.paper_size, shop.print_command) == (10, "a4", ())
    assert shop.second_look_percent == "0"
    assert [(line.owed, line.waived, line.forfeited) for line in lines] == [(2, 0, 0)]
    assert [(core.state, core.hold_until, core.photos) for core in held] == [("hold", "", 0)]


def test_work_goes_on_in_upgraded_books(old_books: TestDatabase) -> None:
    schema.upgrade()
    with writing("Edda Mallin", NOW, "dock") as writer:
        writer.event("core", "2000000709", "put", {"place": "BIN:2"})
        writer.event("core", "2000000709", "unjudged", {}, why="the crack is a scratch")
        writer.event("line", "S1/1", "unrefused", {"tag": "2000000709"})
        writer.event("core", "2000000806", "bought", {"costs": {"price": 90_000}})
        writer.event("line", "S1/1", "waived", {"units": 2})
        writer.event("lot", "L1", "set", {"status": "closed", "counted": 4})
        writer.event("person", "Edda Mallin", "set", {"badge": 7})
        writer.event("shop", "shop", "set", {"second_look_percent": "5"})
        writer.event("core", "2000000709", "tag bound", {"number": 3})
        writer.event("wash", "B1/1", "set", {"key": "B1/1", "slots": {"1": "2000000709"}})
    photographed("core", "2000000127", b"\xff\xd8 a bore")
    upkeep.seal(NOW)

    assert verify()[1] == []
