"""The page of files names every column, heading and key that coretrack reads, and no other."""

from __future__ import annotations

import ast
import re
import tomllib
from collections.abc import Callable, Iterator, Mapping
from dataclasses import fields
from importlib import import_module
from inspect import getsource
from pathlib import Path
from pkgutil import iter_modules
from typing import Any

import pytest

import coretrack.actions
from coretrack.errors import InvalidInput
from coretrack.figures import shop_files
from coretrack.figures.columns import Column
from coretrack.figures.labels import Layout, RollStock, SheetStock
from coretrack.figures.plan_files import family_from_toml
from coretrack.figures.rates import FIXED_ITEMS
from coretrack.figures.shop_files import shop_from_toml

IMPORTS: dict[str, tuple[Column, ...]] = {
    module.name: columns
    for module in iter_modules(coretrack.actions.__path__)
    if (columns := getattr(import_module(f"coretrack.actions.{module.name}"), "COLUMNS", None))
    and module.name != "typed_sale"
}
"""Columns by module; a typed sale has those of the file of sales, see the test below."""

MISSPELT = "kye"
"""A key that no table has; the complaint about it lists those that are read."""

FAMILY = f"""
code = "F"
{MISSPELT} = 1
[prices]
{MISSPELT} = 1
[[charges]]
{MISSPELT} = 1
[[groups]]
{MISSPELT} = 1
[[groups.numbers]]
{MISSPELT} = 1
[[faults]]
{MISSPELT} = 1
[[operations]]
{MISSPELT} = 1
""" + "".join(
    f'[[checks]]\nkind = "{kind}"\n{MISSPELT} = 1\n'
    + (f"[[checks.rework]]\n{MISSPELT} = 1\n" if kind in ("dimension", "attribute") else "")
    for kind in ("dimension", "crack", "attribute", "look")
)

SHOP_TABLES = {
    "_shop": {"shop": "shop", "charges": "charges"},
    "_person": {"table": "people"},
    "_gauge": {"table": "gauges"},
    "_source": {"table": "sources"},
    "_rate": {"table": "rates"},
}
"""Which function of the reader reads which table of a shop file, by its variable."""


@pytest.fixture
def described(page: Callable[[str], str]) -> Callable[[str], list[list[str]]]:
    """Return the rows of the table behind a mark of the page, cell by cell."""
    text = page("files.md")

    def rows(mark: str) -> list[list[str]]:
        found = re.search(rf"<!-- {re.escape(mark)} -->\n((?:\|.*\n)+)", text)
        assert found, f"there is no table for {mark}"
        lines = found[1].splitlines()[2:]
        return [[cell.strip() for cell in line.strip("|").split("|")] for line in lines]

    return rows


def names(cell: str) -> set[str]:
    """Return what stands in backticks."""
    return set(re.findall(r"`([^`]+)`", cell))


def test_every_import_has_a_table(page: Callable[[str], str]) -> None:
    assert set(re.findall(r"<!-- columns: (\w+) -->", page("files.md"))) == set(IMPORTS)


@pytest.mark.parametrize("module", sorted(IMPORTS))
def test_the_table_of_an_import_has_its_columns_and_no_other(
    module: str, described: Callable[[str], list[list[str]]]
) -> None:
    told = {
        frozenset(names(row[0]) | names(row[1])): row for row in described(f"columns: {module}")
    }

    for column in IMPORTS[module]:
        headings = frozenset({column.key, *column.names})
        assert headings in told, f"{module}, {column.key}: {sorted(headings)}"
        row = told.pop(headings)
        assert row[2] == ("yes" if column.required else "no")
        assert row[3] == column.kind
    assert not told


def test_a_typed_sale_is_a_row_of_the_file_of_sales() -> None:
    from coretrack.actions import sales, typed_sale

    assert typed_sale.COLUMNS is sales.COLUMNS


def test_every_kind_of_cell_is_explained(page: Callable[[str], str]) -> None:
    kinds = {column.kind for columns in IMPORTS.values() for column in columns}
    explained = page("files.md").split("## What a cell may hold")[1].split("\n## ")[0]

    assert kinds <= set(re.findall(r"^\| (\w+) \|", explained, re.MULTILINE))


class Asked(dict[str, Any]):
    """A table that notes which keys are asked for by `in`, as optional keys are."""

    def __init__(self, values: Mapping[str, Any], path: str, found: dict[str, set[str]]) -> None:
        super().__init__(
            {key: noting(value, f"{path}.{key}", found) for key, value in values.items()}
        )
        self._asked = found.setdefault(path, set())

    def __contains__(self, key: object) -> bool:
        self._asked.add(str(key))
        return super().__contains__(key)


def noting(value: Any, path: str, found: dict[str, set[str]]) -> Any:
    """Return `value` with every table in it noting what it is asked for."""
    if isinstance(value, Mapping):
        return Asked(value, path, found)
    return [noting(part, path, found) for part in value] if isinstance(value, list) else value


def keys_of_a_family() -> dict[str, set[str]]:
    """Return the keys of every table of a family file, as its reader knows them.

    They are those it asks for, and those it lists when it finds one that it does not know.
    """
    found: dict[str, set[str]] = {}
    family = noting(tomllib.loads(FAMILY), "family", found)
    with pytest.raises(InvalidInput) as refused:
        family_from_toml(family)
    for place, complaint in refused.value.fields.items():
        if MISSPELT in place:
            tables = re.findall(r"(\w+) no\. \d+|^(prices)", place)
            path = ".".join(["family", *("".join(table) for table in tables)])
            found[path].update(complaint.split("known are: ")[1].split(", "))
    return {path: keys - {MISSPELT} for path, keys in found.items()}


FAMILY_KEYS = keys_of_a_family()


def test_the_misspelt_family_reaches_every_table() -> None:
    assert set(FAMILY_KEYS) == {
        "family",
        *(f"family.{name}" for name in ("prices", "charges", "groups", "groups.numbers")),
        *(f"family.{name}" for name in ("faults", "checks", "checks.rework", "operations")),
    }


@pytest.mark.parametrize("table", sorted(FAMILY_KEYS))
def test_the_keys_of_a_family_file_are_described(
    table: str, described: Callable[[str], list[list[str]]]
) -> None:
    told = set().union(*(names(row[0]) for row in described(f"keys: {table}")))

    assert told == FAMILY_KEYS[table]


def keys_of_a_shop() -> dict[str, set[str]]:
    """Return the keys of every table of a shop file, read from the code that asks for them."""
    found: dict[str, set[str]] = {}
    for node in ast.parse(getsource(shop_files)).body:
        if not isinstance(node, ast.FunctionDef) or node.name not in SHOP_TABLES:
            continue
        for call in ast.walk(node):
            for place, key in asked(call):
                found.setdefault(SHOP_TABLES[node.name][place], set()).add(key)
    return found


def asked(call: ast.AST) -> Iterator[tuple[str, str]]:
    """Yield table and key of a call such as `reader.text(table, where, "name")`."""
    if not isinstance(call, ast.Call) or not isinstance(call.func, ast.Attribute):
        return
    if not isinstance(call.func.value, ast.Name) or call.func.value.id != "reader":
        return
    if len(call.args) < 3 or not isinstance(call.args[2], ast.Constant):
        return
    place = call.args[0].id if isinstance(call.args[0], ast.Name) else "charges"
    yield place, str(call.args[2].value)


@pytest.mark.parametrize("table", ["shop", "charges", "people", "gauges", "sources", "rates"])
def test_the_keys_of_a_shop_file_are_described(
    table: str, described: Callable[[str], list[list[str]]]
) -> None:
    mark = "keys: shop" if table == "shop" else f"keys: shop.{table}"
    told = set().union(*(names(row[0]) for row in described(mark)))

    assert told == keys_of_a_shop()[table]


def test_every_rate_is_described(page: Callable[[str], str]) -> None:
    text = page("files.md")

    assert all(f"`{item}`" in text for item in FIXED_ITEMS)


@pytest.mark.parametrize(
    ("mark", "kinds"), [("stock", (SheetStock, RollStock)), ("layout", (Layout,))]
)
def test_the_keys_of_labels_are_described(
    mark: str, kinds: tuple[type[Any], ...], described: Callable[[str], list[list[str]]]
) -> None:
    told = set().union(*(names(row[0]) for row in described(f"keys: {mark}")))
    wanted = {field.name for kind in kinds for field in fields(kind)} - {"name"}

    assert told - {"kind"} == wanted


def test_the_first_shop_shows_every_table_of_its_files(root: Path) -> None:
    folder = root / "docs" / "first_shop"
    shop = tomllib.loads((folder / "shop.toml").read_text(encoding="utf-8"))
    family = tomllib.loads((folder / "families" / "SGH.toml").read_text(encoding="utf-8"))

    assert shop_from_toml(shop).shop.name
    assert family_from_toml(family).plan.checks
    assert set(shop) == {"shop", "charges", "people", "gauges", "sources", "rates"}
    assert set(shown(family)) >= FAMILY_KEYS["family"]


def shown(family: Mapping[str, Any]) -> set[str]:
    """Return the keys at the top of a parsed family file."""
    return set(family)
