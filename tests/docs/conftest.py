"""The pages of documentation, and a folder in which their examples are run."""

from __future__ import annotations

import re
import shlex
import shutil
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path

import pytest
from click.testing import CliRunner, Result

from coretrack.cli.main import main
from coretrack.records import database

ROOT = Path(__file__).resolve().parents[2]
DOCS = ROOT / "docs"


@dataclass(frozen=True)
class Example:
    """One command of a page, its exit code and what the page says it prints."""

    command: str
    exit_code: int
    printed: str


@pytest.fixture(scope="session")
def root() -> Path:
    """The folder that holds the whole project."""
    return ROOT


@pytest.fixture(scope="session")
def page() -> Callable[[str], str]:
    """Return the text of a page in docs/, by name."""

    def text(name: str) -> str:
        return (DOCS / name).read_text(encoding="utf-8")

    return text


@pytest.fixture(scope="session")
def sections() -> dict[str, str]:
    """The sections of the page of commands, by heading."""
    text = (DOCS / "commands.md").read_text(encoding="utf-8")
    parts = re.split(r"^## (.+)$", text, flags=re.MULTILINE)
    return dict(zip(parts[1::2], parts[2::2], strict=True))


@pytest.fixture(scope="session")
def examples() -> list[Example]:
    """Every example of the page of commands that is to be run, in its order."""
    text = (DOCS / "commands.md").read_text(encoding="utf-8")
    blocks = re.findall(r"```console\n(.*?)\n```", text, flags=re.DOTALL)
    found = []
    for block in blocks:
        for part in re.split(r"^\$ ", block, flags=re.MULTILINE)[1:]:
            command, _, printed = part.partition("\n")
            command, _, remark = command.partition(" # exit ")
            found.append(Example(command, int(remark or 0), printed.rstrip("\n")))
    return found


@pytest.fixture
def first_shop(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[Callable[..., Result]]:
    """Run a line such as `coretrack yield --by lot` in a copy of docs/first_shop."""
    folder = tmp_path / "first_shop"
    shutil.copytree(DOCS / "first_shop", folder)
    (folder / "password.txt").write_text("a password for the example\n", encoding="utf-8")
    (folder / "pin.txt").write_text("4711\n", encoding="utf-8")
    monkeypatch.chdir(folder)
    environment = {"CORETRACK_DATA": str(tmp_path / "data"), "CORETRACK_DATABASE_URL": ""}

    def run(line: str) -> Result:
        program, *words = shlex.split(line)
        assert program == "coretrack"
        done = CliRunner(env=environment).invoke(main, words)
        if done.exception is not None and not isinstance(done.exception, SystemExit):
            raise done.exception
        return done

    yield run
    database.close_database()
