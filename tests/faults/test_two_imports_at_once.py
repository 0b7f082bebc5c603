"""Two people import at the same moment, each in a process of his own."""

from __future__ import annotations

import subprocess
from pathlib import Path

from databases import TestDatabase
from small_shop import SmallShop, command, manifest, readings, told

from coretrack.records.verify import verify

A = [f"A{place:04d}" for place in range(50)]
B = [f"B{place:04d}" for place in range(50)]


def started(db: TestDatabase, *words: str) -> subprocess.Popen[str]:
    return subprocess.Popen(
        command(db, *words),
        env=db.environment,
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
    )


def ended(*processes: subprocess.Popen[str]) -> list[tuple[int, str, str]]:
    spoken = [process.communicate(timeout=120) for process in processes]
    return [(process.returncode, *said) for process, said in zip(processes, spoken, strict=True)]


def written(folder: Path, name: str, text: str) -> str:
    (folder / name).write_text(text, encoding="utf-8")
    return str(folder / name)


def verified() -> None:
    events, differences = verify()
    assert events
    assert differences == []


def test_two_lots_and_two_benches_at_once_add_up(
    db: TestDatabase, shop: SmallShop, tmp_path: Path
) -> None:
    lots = [written(tmp_path, f"{s[0][0]}.csv", manifest(s)) for s in (A, B)]
    terms = ("--source", shop.broker, "--price")
    both = ended(
        started(db, "intake", lots[0], "--lot", "LA", *terms, "10"),
        started(db, "intake", lots[1], "--lot", "LB", *terms, "12.50"),
    )
    assert [code for code, _, _ in both] == [0, 0], both

    benches = [written(tmp_path, f"bench{s[0][0]}.csv", readings(s)) for s in (A, B)]
    both = ended(*(started(db, "grade", bench) for bench in benches))
    assert [code for code, _, _ in both] == [0, 0], both

    verified()
    by_lot = {row["group"]: row for row in told(db, "cost", "--by", "lot")}
    assert {lot: by_lot[lot]["decided"] for lot in ("LA", "LB")} == {"LA": 38, "LB": 38}
    prices = db.sql("SELECT lot, sum(price), count(DISTINCT tag) FROM core GROUP BY lot ORDER BY 1")
    assert [(lot, int(price), tags) for lot, price, tags in prices] == [
        ("LA", 50 * 100_000, 50),
        ("LB", 50 * 125_000, 50),
    ]
    numbers = [int(tag[1:8]) for (tag,) in db.sql("SELECT tag FROM core")]
    assert sorted(numbers) == list(range(1, 101))


def test_the_same_file_given_twice_at_once_is_stored_once(
    db: TestDatabase, shop: SmallShop, tmp_path: Path
) -> None:
    lot = written(tmp_path, "lot.csv", manifest(A))
    words = ("intake", lot, "--lot", "LA", "--source", shop.broker, "--price", "10")

    both = ended(started(db, *words), started(db, *words))

    # The later one finds all of it done, or is told that somebody else was quicker.
    assert 0 in [code for code, _, _ in both]
    for code, said, wrong in both:
        assert "Traceback" not in wrong
        if code:
            assert "at the same moment" in wrong or "changed meanwhile" in wrong
        else:
            assert "50 stored" in said or "nothing was changed" in said
    assert db.sql("SELECT count(*), sum(price) FROM core")[0] == (50, 50 * 100_000)
    assert db.sql("SELECT value FROM counter") == [(50,)]
    verified()
