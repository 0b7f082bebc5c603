"""A family written as a file and read again is the same family, to the last digit."""

from __future__ import annotations

import tomllib
from pathlib import Path
from typing import Any

import pytest
from drawn_families import family_files
from hypothesis import given

from coretrack.figures.plan_files import FamilyFile, family_from_toml
from coretrack.figures.plan_writing import family_tables, tables_as_toml

SHOPS = Path(__file__).resolve().parent.parent / "shops"


def again(family: FamilyFile) -> FamilyFile:
    return family_from_toml(tomllib.loads(tables_as_toml(family_tables(family))))


@given(family_files())
def test_a_family_comes_back_from_its_file_exactly(told: dict[str, Any]) -> None:
    family = family_from_toml(told)
    assert again(family) == family
    text_once = tables_as_toml(family_tables(family))
    assert tables_as_toml(family_tables(again(family))) == text_once


@pytest.mark.parametrize("path", sorted(SHOPS.glob("*/families/*.toml")), ids=lambda p: p.stem)
def test_the_made_up_families_come_back_exactly(path: Path) -> None:
    family = family_from_toml(tomllib.loads(path.read_text()))
    assert again(family) == family


def test_a_written_file_reads_as_a_person_would_write_it() -> None:
    path = SHOPS / "yard" / "families" / "GPB.toml"
    written = tables_as_toml(family_tables(family_from_toml(tomllib.loads(path.read_text()))))
    assert 'usable = "24.000..24.040"' in written
    assert 'rework = [{ operation = "hone", limits = "23.900..24.000" }]' in written
    assert (
        '[[groups.numbers]]\nnumber = "GP-1040"\nkind = "OE"\nsuperseded_by = "GP-1044"' in written
    )
    assert "from = 2026-07-01" in written
