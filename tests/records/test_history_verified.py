"""What `verify` makes of legal histories: nothing; and the roll-ups against a recount."""

from __future__ import annotations

import threading
from collections import Counter
from datetime import timedelta
from pathlib import Path

import pytest
from databases import TestDatabase, copied, emptied
from hypothesis import HealthCheck, given, settings
from made_events import LIVES, NOW, Step, live, one_good_core

from coretrack.actions import upkeep
from coretrack.figures.lifecycle import COST_PARTS
from coretrack.figures.tallies import COUNTERS
from coretrack.records import database
from coretrack.records.verify import verify


def emptied_again(db: TestDatabase, request: pytest.FixtureRequest) -> None:
    database.close_database()
    if db.is_sqlite:
        for leftover in db.folder.iterdir():
            leftover.unlink()
        template: Path = request.getfixturevalue("migrated_file")
        copied(template, db.folder)
    else:
        emptied(db.url, db.folder)
    database.open_database(db.url)


def recounted(db: TestDatabase) -> dict[tuple[str, str, str, str], Counter[str]]:
    """Count every roll-up anew from the core rows alone, by rules written here once more."""
    columns = (
        "family, stream, lot, source, source_lost, number, month, acceptance, state, grade, "
        "plan_version, inspector, reworks, " + ", ".join(COST_PARTS)
    )
    rows: dict[tuple[str, str, str, str], Counter[str]] = {}
    for values in db.sql(f"SELECT {columns} FROM core"):  # noqa: S608 - names of our own columns
        core = dict(zip(columns.split(", "), values, strict=True))
        counted = counted_once(core)
        groups = {
            "family": core["family"],
            "number": core["number"],
            "month": core["month"],
            "plan": str(core["plan_version"] or ""),
            "inspector": core["inspector"],
        }
        if not core["source_lost"]:
            months = {"return": "returns", "comeback": "comebacks"}
            batch = months.get(core["stream"], core["lot"])
            groups |= {"source": core["source"], "lot": core["lot"], "batch": batch}
        for grouping, value in groups.items():
            key = (core["family"], grouping, value, core["month"])
            rows.setdefault(key, Counter()).update(counted)
    return {key: counts for key, counts in rows.items() if any(counts.values())}


def counted_once(core: dict[str, object]) -> dict[str, int]:
    if not core["family"]:
        return {}
    if core["acceptance"] == "refuse":
        return {"refused": 1}
    if core["state"] in ("counted", "hold", "excess", "sent back", "cleared out", "taken back"):
        return {}
    if core["stream"] == "comeback" and not core["grade"]:
        return {}
    counts = {"received": 1, "source_lost": int(bool(core["source_lost"]))}
    counts["sent_to_rework"] = int(bool(core["reworks"]) or core["grade"] == "rework")
    if core["state"] in ("good", "scrapped"):
        way = "kept_after_rework" if core["reworks"] else "kept_first_pass"
        counts["decided"] = 1
        counts["scrapped" if core["state"] == "scrapped" else way] = 1
        counts |= {part: core[part] for part in COST_PARTS}
    return counts


def stored_roll_ups(db: TestDatabase) -> dict[tuple[str, ...], dict[str, int]]:
    names = (*COUNTERS, *COST_PARTS)
    rows = db.sql(f'SELECT family, "grouping", value, month, {", ".join(names)} FROM tally')  # noqa: S608
    found = {row[:4]: dict(zip(names, row[4:], strict=True)) for row in rows}
    return {
        key: {name: number for name, number in counts.items() if number}
        for key, counts in found.items()
        if any(counts.values())
    }


@given(steps=LIVES)
@settings(
    max_examples=25,
    deadline=None,
    suppress_health_check=[HealthCheck.function_scoped_fixture, HealthCheck.too_slow],
)
def test_any_legal_history_verifies_and_its_roll_ups_equal_a_recount(
    db: TestDatabase, request: pytest.FixtureRequest, steps: list[Step]
) -> None:
    emptied_again(db, request)
    half = len(steps) // 2
    live(steps[:half])
    upkeep.seal(NOW)
    allowed = live(steps[half:])
    upkeep.seal(NOW + timedelta(days=1))

    events, differences = verify()

    assert differences == []
    assert events >= allowed
    expected = {
        key: {name: number for name, number in counts.items() if number}
        for key, counts in recounted(db).items()
    }
    assert stored_roll_ups(db) == expected


def test_an_empty_database_verifies_and_gets_no_seal(db: TestDatabase) -> None:
    upkeep.seal(NOW)

    assert verify() == (0, [])
    assert db.sql("SELECT count(*) FROM seal") == [(0,)]


def test_one_seal_a_day_is_written(db: TestDatabase) -> None:
    one_good_core()

    wrote = [upkeep.seal_if_due(NOW + timedelta(hours=h)) for h in (0, 3, 11, 12, 20, 36)]

    assert wrote == [True, False, False, True, False, True]
    assert verify() == (2, [])


def test_verifying_while_others_write_finds_nothing_wrong(db: TestDatabase) -> None:
    one_good_core("T-0")
    stop = threading.Event()

    def work() -> None:
        for place in range(1, 400):
            if stop.is_set():
                break
            one_good_core(f"T-{place}")
        database.release()

    writer = threading.Thread(target=work)
    writer.start()
    try:
        answers = [verify() for _ in range(8)]
    finally:
        stop.set()
        writer.join()

    assert [differences for _, differences in answers] == [[]] * 8
    assert answers[-1][0] > answers[0][0], "nobody wrote meanwhile"
