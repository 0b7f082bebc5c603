"""A plan file taken in, written out and taken in again: exact, whole, or not at all."""

from __future__ import annotations

import copy
import tomllib
from collections.abc import Iterator
from itertools import count
from pathlib import Path
from typing import Any

import pytest
from core_yard import Yard
from databases import copied
from drawn_families import family_files
from hypothesis import given, settings
from hypothesis import strategies as st

from coretrack.actions import plan_editing
from coretrack.actions.plan_editing import plan_file, save_file, stored_plan
from coretrack.errors import InvalidInput
from coretrack.figures.plan_files import family_from_toml
from coretrack.figures.plan_writing import tables_as_toml
from coretrack.records import database

numbers = count(1)


@pytest.fixture(scope="module")
def books(migrated_file: Path, tmp_path_factory: pytest.TempPathFactory) -> Iterator[Yard]:
    """One shop for all drawn families; each has a code of its own."""
    fresh = copied(migrated_file, tmp_path_factory.mktemp("families") / "data")
    database.open_database(fresh.url)
    yard = Yard()
    yard.set_up()
    yield yard
    database.close_database()


def taken_in(books: Yard, text: str) -> tuple[str, tuple[str, ...]]:
    key = f"file-{next(numbers)}"
    return save_file(text, by=books.by, station="office", now=books.now, key=key)


def own(told: dict[str, Any]) -> dict[str, Any]:
    """Return the drawn family under a code, and with numbers, that no other has."""
    number = next(numbers)
    mine = copy.deepcopy(told)
    mine["code"] = f"F{number}"
    mine["groups"][0]["code"] = f"G{number}"
    for one in mine["groups"][0]["numbers"]:
        one["number"] = f"{one['number']}-{number}"
    mine["groups"][0]["numbers"][0]["superseded_by"] = f"N-2-{number}"
    return mine


@settings(max_examples=15, deadline=None)
@given(family_files())
def test_what_goes_out_comes_in_exactly_and_changes_nothing(
    books: Yard, told: dict[str, Any]
) -> None:
    told = own(told)
    code, _ = taken_in(books, tables_as_toml(told))
    assert stored_plan(code, 1).checks == family_from_toml(told).plan.checks
    name, text = plan_file(code)
    assert tomllib.loads(text)["code"] == code
    assert plan_editing.look_at_file(text).changes == ()
    events = books.events()
    assert taken_in(books, text) == (code, ())
    assert books.events() == events
    assert plan_file(code) == (name, text)


@settings(max_examples=15, deadline=None)
@given(family_files(), st.data())
def test_a_file_with_one_wrong_value_names_its_place_and_stores_nothing(
    books: Yard, told: dict[str, Any], data: st.DataObject
) -> None:
    told = own(told)
    table = data.draw(st.sampled_from(("checks", "operations", "faults")))
    needed = {"checks": "usable", "operations": "minutes", "faults": "value"}[table]
    rows = [row for row in told[table] if needed in row]
    if not rows:
        return
    row = data.draw(st.sampled_from(rows))
    key, wrong = {
        "checks": ("usable", "9..1"),
        "operations": ("minutes", "ten"),
        "faults": ("value", "lots"),
    }[table]
    row[key] = wrong
    events = books.events()
    with pytest.raises(InvalidInput) as refused:
        taken_in(books, tables_as_toml(told))
    assert list(refused.value.fields) == [f"{table} {row['code']}, {key}"]
    assert wrong in refused.value.fields[f"{table} {row['code']}, {key}"]
    assert books.events() == events
    assert all(line.code != told["code"] for line in plan_editing.plans_view())


def test_a_file_that_is_no_toml_is_refused_with_its_line(books: Yard) -> None:
    with pytest.raises(InvalidInput, match="line 2"):
        taken_in(books, 'code = "X"\nname = \n')
