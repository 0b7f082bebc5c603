"""Setting up: files read again change only what differs, and nothing is reset on the side."""

from __future__ import annotations

import shutil
from pathlib import Path

import pytest
from core_yard import FOLDER, Yard

from coretrack.actions import people, setting_up
from coretrack.errors import InvalidInput, NotAllowed, NotFound
from coretrack.records import queries
from coretrack.records.database import connection


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    """A copy of the yard's files that may be changed."""
    return Path(shutil.copytree(FOLDER, tmp_path / "files"))


def test_the_same_folder_again_changes_nothing(yard: Yard) -> None:
    assert [change for change in yard.set_up() if not change.startswith("Passwords")] == []


def test_passwords_in_a_shop_file_are_passed_over_and_said(yard: Yard) -> None:
    assert yard.set_up()[-1].startswith("Passwords in the shop file were passed over")
    with connection():
        assert queries.people() == 0


def test_files_saved_with_a_byte_order_mark_are_read(yard: Yard, folder: Path) -> None:
    for path in (folder / "shop.toml", folder / "families" / "GPB.toml"):
        path.write_bytes(b"\xef\xbb\xbf" + path.read_bytes())
    assert len(yard.set_up(folder)) == 1


def test_a_copy_of_a_family_file_is_refused_naming_both(yard: Yard, folder: Path) -> None:
    shutil.copy(folder / "families" / "GPB.toml", folder / "families" / "GPB copy.toml")
    with pytest.raises(InvalidInput, match=r"GPB copy\.toml and GPB\.toml both describe"):
        yard.set_up(folder)


def test_a_number_cannot_belong_to_two_families(yard: Yard, folder: Path) -> None:
    path = folder / "families" / "CLB.toml"
    path.write_text(path.read_text(encoding="utf-8").replace("CB-77", "gp 1040"), encoding="utf-8")
    events = yard.events()
    with pytest.raises(InvalidInput, match="belongs to family GPB already"):
        yard.set_up(folder)
    assert yard.events() == events


def test_changing_a_shops_name_does_not_reset_its_window(yard: Yard) -> None:
    setting_up.set_shop("New Name", "EUR", "America/Chicago", 2, by="x", now=yard.now)
    with connection():
        shop = queries.shop()
    assert shop is not None
    assert (shop.name, shop.window_days, shop.after, shop.slide_percent) == (
        "New Name", 30, "slide", "25",
    )  # fmt: skip


def test_a_new_charge_counts_from_its_day_and_older_ones_stay(yard: Yard, folder: Path) -> None:
    path = folder / "families" / "GPB.toml"
    text = path.read_text(encoding="utf-8")
    path.write_text(text + '\n[[charges]]\nfrom = 2026-09-01\namount = "31.00"\n', encoding="utf-8")
    assert yard.set_up(folder)[:-1] == ["core charge GPB@2026-09-01"]
    with connection():
        assert [c.valid_from for c in queries.charges("GPB")] == [
            "2025-01-01", "2026-07-01", "2026-09-01",
        ]  # fmt: skip


def test_an_unreadable_file_is_named(yard: Yard, folder: Path) -> None:
    with pytest.raises(NotFound, match=r"There is no file .*shop\.toml"):
        yard.set_up(folder / "families")
    (folder / "families" / "GPB.toml").write_bytes(b"\xff\xfe")
    with pytest.raises(InvalidInput, match=r"GPB\.toml is not a readable TOML file"):
        yard.set_up(folder)


def test_the_first_owner_is_made_once(yard: Yard) -> None:
    with pytest.raises(InvalidInput, match="use 10 signs or more"):
        people.add_owner("Ilse Thornby", "short", now=yard.now)
    people.add_owner("Ilse Thornby", "long enough words", now=yard.now)
    with pytest.raises(NotAllowed, match="There are people already"):
        people.add_owner("Somebody Else", "long enough words", now=yard.now)
    with pytest.raises(InvalidInput, match="'boss' is not a role"):
        people.add_person("X", "boss", "long enough words", by="x", now=yard.now)
