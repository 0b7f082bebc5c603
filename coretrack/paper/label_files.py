"""Reads the label stocks and layouts from labels/stocks/*.toml and labels/layouts/*.toml."""

from __future__ import annotations

import tomllib
from dataclasses import fields
from decimal import Decimal
from functools import cache
from pathlib import Path
from typing import Any, TypeVar

from coretrack.errors import InvalidInput, NotFound
from coretrack.figures.labels import Layout, RollStock, SheetStock, Stock, in_units
from coretrack.resources import data_dir

Kind = TypeVar("Kind", SheetStock, RollStock, Layout)

_TEXTS = {"title", "layout"}
_WHOLE = {"columns", "rows"}
_POINTS = {"shown_most", "shown_least", "row_most", "row_least"}


@cache
def load_stocks(folder: Path | None = None) -> dict[str, Stock]:
    """Return all label stocks by name; `folder` instead of the labels/ that ships with coretrack.

    A file's own name is the stock's name. A wrong file is refused with its key and what is right.
    """
    found: dict[str, Stock] = {}
    for path in _files(folder, "stocks"):
        table = _table(path)
        kind = table.pop("kind", None)
        if kind == "sheet":
            found[path.stem] = _filled(SheetStock, path, table)
        elif kind == "roll":
            found[path.stem] = _filled(RollStock, path, table)
        else:
            raise InvalidInput(f'{path.name}: kind must be "sheet" or "roll", not {kind!r}.')
    return found


@cache
def load_layouts(folder: Path | None = None) -> dict[str, Layout]:
    """Return all layouts by name, as `load_stocks` does for stocks."""
    return {path.stem: _filled(Layout, path, _table(path)) for path in _files(folder, "layouts")}


def stock_named(name: str, folder: Path | None = None) -> Stock:
    """Return the stock of that name, or raise NotFound with the names there are."""
    stocks = load_stocks(folder)
    if name not in stocks:
        raise NotFound(f"There is no label stock '{name}'; there are {', '.join(stocks)}.")
    return stocks[name]


def layout_named(name: str, folder: Path | None = None) -> Layout:
    """Return the layout of that name, or raise NotFound with the names there are."""
    layouts = load_layouts(folder)
    if name not in layouts:
        raise NotFound(f"There is no label layout '{name}'; there are {', '.join(layouts)}.")
    return layouts[name]


def layout_for(stock: Stock, folder: Path | None = None) -> Layout:
    """Return the layout that a stock names as its usual one."""
    return layout_named(stock.layout, folder)


def _files(folder: Path | None, kind: str) -> list[Path]:
    """Return the TOML files of one kind, by name."""
    return sorted(((folder or data_dir("labels")) / kind).glob("*.toml"))


def _table(path: Path) -> dict[str, Any]:
    """Return a file's keys, numbers with a point as exact decimals."""
    try:
        return tomllib.loads(path.read_text(encoding="utf-8"), parse_float=Decimal)
    except (tomllib.TOMLDecodeError, UnicodeDecodeError) as error:
        raise InvalidInput(f"{path.name} is not a readable TOML file: {error}") from error


def _filled(kind: type[Kind], path: Path, table: dict[str, Any]) -> Kind:
    """Return a dataclass filled from a file; every key must be there and none beside them."""
    wanted = {field.name for field in fields(kind)} - {"name"}
    if missing := wanted - table.keys():
        raise InvalidInput(f"{path.name}: missing {', '.join(sorted(missing))}.")
    if unknown := table.keys() - wanted:
        raise InvalidInput(f"{path.name}: unknown {', '.join(sorted(unknown))}.")
    values = {key: _value(path, key, value) for key, value in table.items()}
    return kind(name=path.stem, **values)


def _value(path: Path, key: str, value: object) -> Any:
    """Return one value in the unit its dataclass wants: 1/10 000 mm, tenths of a point, count."""
    if key in _TEXTS:
        if isinstance(value, str):
            return value
        raise InvalidInput(f"{path.name}: {key} must be a text in quotes.")
    if key == "dpi":
        if isinstance(value, list) and all(type(each) is int for each in value):
            return tuple(value)
        raise InvalidInput(f"{path.name}: dpi must be a list of whole numbers, such as [203, 300].")
    if key in _WHOLE:
        if type(value) is int:
            return value
        raise InvalidInput(f"{path.name}: {key} must be a whole number.")
    if type(value) is not int and not (isinstance(value, Decimal) and value.is_finite()):
        raise InvalidInput(f"{path.name}: {key} must be a number.")
    try:
        return int(Decimal(value) * 10) if key in _POINTS else in_units(Decimal(value))
    except ValueError as error:
        raise InvalidInput(f"{path.name}: {key}: {error}.") from error
