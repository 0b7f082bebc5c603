"""The arrows between the packages point one way; this reads every import and says which breaks it.

figures knows nobody; records and paper know figures; actions know those; web and cli know actions.
"""

from __future__ import annotations

import ast
import shutil
from collections.abc import Iterator
from pathlib import Path

import pytest

PACKAGE = Path(__file__).resolve().parent.parent / "coretrack"

LEAVES = {"errors", "clock", "resources", "config"}
OPENING = {"records.database", "records.schema"}

ALLOWED: dict[str, set[str]] = {
    "": LEAVES | {"cli"},
    "errors": set(),
    "clock": {"errors"},
    "resources": {"errors"},
    "config": {"errors"},
    "figures": {"figures", "errors"},
    "paper": {"paper", "figures", "errors", "resources"},
    "records": {"records", "figures", "errors"},
    "actions": {"actions", "records", "paper", "figures", "errors", "clock", "resources"},
    "web": {"web", "actions", "paper", "figures", *LEAVES, *OPENING},
    "cli": {"cli", "actions", "paper", "figures", *LEAVES, *OPENING},
}
"""What each part may import of ours. A dotted name lets in that one module only."""

SERVES = {"cli.serving": "web"}
"""The one module of the terminal that starts the pages."""

LIBRARIES: dict[str, set[str]] = {
    "peewee": {"records", "actions"},
    "playhouse": {"records"},
    "psycopg": {"records"},
    "sqlite3": {"records"},
    "flask": {"web"},
    "flask_wtf": {"web"},
    "jinja2": {"web"},
    "waitress": {"cli"},
    "click": {"cli"},
    "reportlab": {"paper"},
    "openpyxl": {"paper"},
    "barcode": {"paper"},
    "PIL": {"paper"},
    "scipy": {"figures"},
    "stdnum": {"figures"},
    "biip": {"figures"},
}
"""Which parts may use a library; one that is not listed here is free."""


def imports(file: Path, package: Path) -> Iterator[tuple[int, str]]:
    """Yield line and full name of everything a file imports, also inside functions."""
    home = ["coretrack", *file.relative_to(package).with_suffix("").parts]
    for node in ast.walk(ast.parse(file.read_text(encoding="utf-8"))):
        if isinstance(node, ast.Import):
            yield from ((node.lineno, alias.name) for alias in node.names)
        elif isinstance(node, ast.ImportFrom):
            start = home[: -node.level] if node.level else []
            base = ".".join([*start, *(node.module or "").split(".")]).strip(".")
            yield from ((node.lineno, f"{base}.{alias.name}") for alias in node.names)


def problems(package: Path) -> list[str]:
    """Return every import that breaks the rule, with its file and line."""
    found = []
    for file in sorted(package.rglob("*.py")):
        place = file.relative_to(package)
        module = ".".join(place.with_suffix("").parts)
        part = place.parts[0] if len(place.parts) > 1 else module.removesuffix("__init__")
        part = "" if part == "__main__" else part
        for line, name in imports(file, package):
            if not is_allowed(part, module, name):
                found.append(f"coretrack/{place.as_posix()}:{line} imports {name}")
    return found


def is_allowed(part: str, module: str, name: str) -> bool:
    first, _, rest = name.partition(".")
    if first != "coretrack":
        return part in LIBRARIES.get(first, {part})
    if rest.partition(".")[0] not in ALLOWED or not rest:
        return True  # a name of the package itself, like its version
    allowed = ALLOWED[part] | ({SERVES[module]} if module in SERVES else set())
    return any(f"{rest}.".startswith(f"{known}.") for known in allowed)


def test_every_import_follows_the_arrows() -> None:
    assert problems(PACKAGE) == []


def test_every_part_of_the_package_is_known_to_the_rule() -> None:
    parts = {
        path.stem
        for path in PACKAGE.iterdir()
        if (path.is_dir() and any(path.glob("*.py"))) or path.suffix == ".py"
    }

    assert parts - {"__init__", "__main__"} == set(ALLOWED) - {""}


PLANTED = (
    ("figures/money.py", "from coretrack.records import tables"),
    ("figures/money.py", "from ..records import tables"),
    ("figures/money.py", "import coretrack.paper.charts"),
    ("figures/money.py", "from coretrack import clock"),
    ("figures/money.py", "import sqlite3"),
    ("records/times.py", "from coretrack.actions import sales"),
    ("records/times.py", "from coretrack.paper import charts"),
    ("records/times.py", "import flask"),
    ("paper/charts.py", "from coretrack.records.queries import shop"),
    ("actions/sales.py", "from coretrack.web import app"),
    ("actions/sales.py", "import flask"),
    ("actions/sales.py", "from coretrack.cli import main"),
    ("web/pages.py", "from coretrack.records.tables import CoreRow"),
    ("web/pages.py", "from coretrack.records import queries"),
    ("web/pages.py", "from coretrack.cli import main"),
    ("cli/upkeep.py", "from coretrack.records.writer import writing"),
    ("cli/upkeep.py", "from coretrack.web.app import create_app"),
    ("cli/upkeep.py", "import reportlab.pdfgen"),
    ("errors.py", "from coretrack.figures import money"),
)


@pytest.mark.parametrize(("file", "line"), PLANTED)
@pytest.mark.parametrize("inside", [False, True], ids=["at the top", "in a function"])
def test_a_planted_import_against_an_arrow_is_caught(
    tmp_path: Path, file: str, line: str, inside: bool
) -> None:
    copy = tmp_path / "coretrack" / file
    copy.parent.mkdir(parents=True)
    shutil.copyfile(PACKAGE / file, copy)
    planted = f"\n\ndef planted():\n    {line}\n" if inside else f"\n\n{line}\n"
    copy.write_text(copy.read_text(encoding="utf-8") + planted, encoding="utf-8")

    (caught,) = problems(tmp_path / "coretrack")

    assert caught.startswith(f"coretrack/{file}:")


@pytest.mark.parametrize(
    ("file", "line"),
    [
        ("figures/money.py", "from coretrack.figures.money import Money"),
        ("figures/money.py", "from coretrack.errors import InvalidInput"),
        ("cli/serving.py", "from coretrack.web.app import create_app"),
        ("cli/upkeep.py", "from coretrack.records import database, schema"),
        ("web/pages.py", "from coretrack.records.database import acquire"),
        ("cli/main.py", "from coretrack import __version__"),
    ],
)
def test_imports_along_the_arrows_are_let_through(tmp_path: Path, file: str, line: str) -> None:
    copy = tmp_path / "coretrack" / file
    copy.parent.mkdir(parents=True)
    copy.write_text(f"{line}\n", encoding="utf-8")

    assert problems(tmp_path / "coretrack") == []
