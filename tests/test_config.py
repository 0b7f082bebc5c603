"""Settings: what was told, else the environment, else our own."""

from __future__ import annotations

from pathlib import Path

import pytest

from coretrack.config import read_settings
from coretrack.errors import InvalidInput


def test_what_is_told_goes_before_the_environment(tmp_path: Path) -> None:
    environment = {"CORETRACK_DATA": str(tmp_path / "other")}
    settings = read_settings(str(tmp_path), "127.0.0.2", 99, environment)
    assert settings.data_folder == tmp_path
    assert settings.database_url == f"sqlite:///{tmp_path / 'coretrack.db'}"
    assert (settings.host, settings.port) == ("127.0.0.2", 99)


def test_the_environment_goes_before_the_usual_folder(tmp_path: Path) -> None:
    environment = {
        "CORETRACK_DATA": str(tmp_path),
        "CORETRACK_DATABASE_URL": "postgresql://shop@db/cores",
    }
    settings = read_settings(environment=environment)
    assert settings.data_folder == tmp_path
    assert settings.database_url == "postgresql://shop@db/cores"
    assert settings.host == "127.0.0.1"


def test_with_nothing_told_there_is_a_folder_of_the_persons_own() -> None:
    settings = read_settings(environment={})
    assert settings.data_folder.is_absolute()
    assert settings.data_folder.name == "coretrack"


def test_an_address_that_is_none_is_refused() -> None:
    with pytest.raises(InvalidInput, match="no address"):
        read_settings(environment={"CORETRACK_DATABASE_URL": "foo"})
