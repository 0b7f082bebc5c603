"""The few statements that run once a row, as texts made once a table.

Peewee puts a statement together anew each time it runs; for an import of thousands of rows that
was most of its time. What is asked here is the same on SQLite and PostgreSQL.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from functools import cache
from types import SimpleNamespace
from typing import Any

from peewee import BooleanField

from coretrack.records.database import database


@cache
def _columns(table: Any) -> tuple[tuple[str, ...], frozenset[str]]:
    """Return the names of a table's columns, and which of them hold yes or no."""
    table_fields = table._meta.sorted_fields
    yes_no = {field.column_name for field in table_fields if isinstance(field, BooleanField)}
    return tuple(field.column_name for field in table_fields), frozenset(yes_no)


@cache
def _select(table: Any, wanted: tuple[str, ...], also: str, mark: str) -> str:
    names = ", ".join(f'"{name}"' for name in _columns(table)[0])
    conditions = [f'"{column}" = {mark}' for column in wanted] + ([also] if also else [])
    where = f" WHERE {' AND '.join(conditions)}" if conditions else ""
    return f'SELECT {names} FROM "{table._meta.table_name}"{where}'  # noqa: S608


@cache
def _update(table: Any, names: tuple[str, ...], key: str, mark: str) -> str:
    settings = ", ".join(f'"{name}" = {mark}' for name in names)
    where = f'"{key}" = {mark} AND "version" = {mark}'
    return f'UPDATE "{table._meta.table_name}" SET {settings} WHERE {where}'  # noqa: S608


@cache
def _insert(table: Any, names: tuple[str, ...], mark: str) -> tuple[str, str]:
    """Return the statement up to its values, and the marks of one row of them."""
    columns = ", ".join(f'"{name}"' for name in names)
    one = f"({', '.join(mark for _ in names)})"
    return f'INSERT INTO "{table._meta.table_name}" ({columns}) VALUES ', one  # noqa: S608


def rows_with(table: Any, column: str, value: str) -> list[SimpleNamespace]:
    """Return the rows whose `column` holds `value`, in no order, their columns as attributes."""
    return _rows(table, _select(table, (column,), "", database.param), (value,))


def rows_where(table: Any, wanted: Mapping[str, str], also: str) -> list[SimpleNamespace]:
    """Return the rows whose columns hold what is `wanted`, in the order they were inserted.

    `also` is one more condition in SQL, empty for none.
    """
    text = _select(table, tuple(wanted), also, database.param)
    return _rows(table, f'{text} ORDER BY "id"', tuple(wanted.values()))


def _rows(table: Any, text: str, values: tuple[str, ...]) -> list[SimpleNamespace]:
    found = database.execute_sql(text, values).fetchall()
    names, yes_no = _columns(table)
    rows = [dict(zip(names, row, strict=True)) for row in found]
    for row in rows:
        row.update({name: bool(row[name]) for name in yes_no})
    return [SimpleNamespace(**row) for row in rows]


def update_row(table: Any, key: str, value: str, version: int, changes: Mapping[str, Any]) -> bool:
    """Change the row with this key if it is still at `version`; return whether it was."""
    text = _update(table, tuple(changes), key, database.param)
    cursor = database.execute_sql(text, (*changes.values(), value, version))
    return bool(cursor.rowcount == 1)


def insert_rows(table: Any, rows: Sequence[Mapping[str, Any]]) -> None:
    """Insert rows, which all name the same columns; peewee's IntegrityError when one is there."""
    names = tuple(rows[0])
    text, one = _insert(table, names, database.param)
    text += ", ".join([one] * len(rows))
    database.execute_sql(text, [row[name] for row in rows for name in names])


def add_to_counter(table: Any, name: str, count: int) -> int:
    """Raise the counter `name` by `count`, making it if need be, and return its new value."""
    mark, counter = database.param, table._meta.table_name
    text = (
        f'INSERT INTO "{counter}" ("name", "value") VALUES ({mark}, {mark}) '  # noqa: S608
        f'ON CONFLICT ("name") DO UPDATE SET "value" = "{counter}"."value" + EXCLUDED."value" '
        'RETURNING "value"'
    )
    return int(database.execute_sql(text, (name, count)).fetchone()[0])
