"""A small shop that works through the terminal alone, for cases met at counter and bench."""

from __future__ import annotations

import json
import shutil
import sqlite3
from collections.abc import Iterable, Iterator, Mapping
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import pytest
from click.testing import CliRunner, Result
from staff import add_staff

from coretrack.cli.main import main
from coretrack.records import database

FILES = Path(__file__).parent / "files"
LOT = "LOT-1"
SERIALS = (
    *("N1001", "N1002", "N1003", "N1004", "N1005"),
    *("aB12c", "MY-200", "MZ-200", "AB12", "7731/120 A?B#1", "A/B", ".."),
)
"""The serials of the shop's first lot, in the order of their tags."""


class CounterShop:
    """A shop in a folder, spoken to as its people do: by command line, in this process."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        self.data = folder / "data"

    def run(self, *words: str | Path, exit_code: int | None = 0) -> Result:
        """Run one command; `exit_code` None allows any."""
        done = CliRunner(env={"CORETRACK_DATABASE_URL": ""}).invoke(
            main, ["--data", str(self.data), *map(str, words)]
        )
        database.close_database()
        if done.exception is not None and not isinstance(done.exception, SystemExit):
            raise done.exception
        if exit_code is not None:
            assert done.exit_code == exit_code, done.output
        return done

    def json(self, *words: str | Path, exit_code: int | None = 0) -> Any:
        """Return the JSON answer of a command; NaN and infinity are not JSON."""
        done = self.run(*words, "--json", exit_code=exit_code)
        return json.loads(done.stdout, parse_constant=_no_constant)

    def scan(self, text: str, *options: str) -> Any:
        """Return how a scan is understood here."""
        done = self.run("scan", "--json", *options, "--", text)
        return json.loads(done.stdout, parse_constant=_no_constant)

    def file(self, name: str, content: str) -> Path:
        """Write a file that somebody brings."""
        path = self.folder / name
        path.write_text(content, encoding="utf-8", newline="")
        return path

    def receive(self, serials: Iterable[str], *options: str, number: str = "00420") -> Any:
        """Receive a purchased lot, one row a serial, at 30.00 a piece unless told otherwise."""
        rows = "".join(f'{number},"{serial}"\n' for serial in serials)
        path = self.file("manifest.csv", "number,serial\n" + rows)
        given = {"--source": "MERE", "--received": "2025-10-20", "--price": "30.00"}
        given |= dict(zip(options[::2], options[1::2], strict=True))
        words = [word for pair in given.items() for word in pair]
        return self.json("intake", path, *words)

    def measure(self, readings: Mapping[str, str], *options: str) -> Any:
        """Enter body diameters by tag, as typed or sent by the gauge, a minute apart."""
        rows = "".join(
            f'2025-10-21 08:{minute:02d}:00,Ilse Torn,BM1,{core},body_od,"{text}"\n'
            for minute, (core, text) in enumerate(readings.items())
        )
        path = self.file("readings.csv", "time,inspector,gauge,core,check,reading\n" + rows)
        return self.json("grade", path, *options)

    def tags(self) -> list[str]:
        """Return the tags of all cores, oldest first."""
        return [row[0] for row in self.sql("select tag from core order by id")]

    def tag_of(self, serial: str) -> str:
        """Return the tag of the core with exactly this serial."""
        [(tag,)] = self.sql("select tag from core where serial = ?", serial)
        return str(tag)

    def events(self) -> int:
        """Return how many things ever happened here."""
        [(count,)] = self.sql("select count(*) from event")
        return int(count)

    def rows(self, table: str) -> int:
        """Return how many rows a table has; a condition may follow its name."""
        [(count,)] = self.sql(f"select count(*) from {table}")  # noqa: S608 - a test's own words
        return int(count)

    def sql(self, question: str, *values: object) -> list[tuple[Any, ...]]:
        """Ask the database file, as another program would."""
        connection = sqlite3.connect(self.data / "coretrack.db")
        try:
            return connection.execute(question, values).fetchall()
        finally:
            connection.close()


def _no_constant(name: str) -> None:
    raise ValueError(f"{name} is not JSON")


@pytest.fixture(scope="session")
def settled_shop(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The shop with its first lot received, made once."""
    shop = CounterShop(tmp_path_factory.mktemp("settled"))
    shop.run("setup", "--from", FILES / "shop")
    shop.receive(SERIALS, "--lot", LOT)
    return shop.data


@pytest.fixture
def shop(settled_shop: Path, tmp_path: Path) -> CounterShop:
    """A copy of the settled shop for one test."""
    shutil.copytree(settled_shop, tmp_path / "data")
    return CounterShop(tmp_path)


@pytest.fixture
def opened_books(shop: CounterShop) -> Iterator[CounterShop]:
    """The shop with its database open in this process, as its pages have it."""
    database.open_database(f"sqlite:///{shop.data / 'coretrack.db'}")
    yield shop
    database.close_database()


@pytest.fixture
def staffed(opened_books: CounterShop) -> CounterShop:
    """The shop with people who sign in, its database open in this process."""
    add_staff(datetime.now(UTC))
    return opened_books


@pytest.fixture
def scanning(shop: CounterShop) -> Iterator[CounterShop]:
    """The shop for a test that only scans: afterwards nothing may have happened in it."""
    before = shop.events()
    yield shop
    assert shop.events() == before, "a scan changed something"
