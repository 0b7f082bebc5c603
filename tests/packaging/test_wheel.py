"""The wheel carries everything it needs, nothing else, and works far from the checkout."""

from __future__ import annotations

import os
import shutil
import subprocess
import sys
import sysconfig
import tarfile
import venv
import zipfile
from dataclasses import dataclass
from pathlib import Path

import pytest

pytestmark = pytest.mark.slow

ROOT = Path(__file__).resolve().parents[2]
SHIPPED = ("coretrack", "templates", "labels", "sample_cores", "docs", "tests")
BESIDE = ("README.md", "DEVELOPERS.md", "pyproject.toml", ".gitignore")
STRAY = ("shop.db", "coretrack/coretrack.db", "coretrack/coretrack.db-wal", "labels/shop.db")
"""Databases somebody left lying about; they may hold a real shop."""

OPEN_THE_PAGE = """
from coretrack import clock
from coretrack.actions.overview import shop_summary
from coretrack.config import read_settings
from coretrack.records import database
from coretrack.web.app import create_app
from coretrack.web.here import SignedIn

settings = read_settings()
database.open_database(settings.database_url)
app = create_app(
    settings,
    summary=lambda: shop_summary(clock.now()),
    secret="for this test",
    signed_in=lambda: SignedIn("Edda Mallin", "owner"),
)
client = app.test_client()
for path in ("/sign-in", "/office/", "/static/style.css", "/office/figures.json"):
    print(path, client.get(path).status_code)
"""


@dataclass(frozen=True)
class Built:
    """The source archive and the wheel, and the names of what is in them."""

    source: Path
    wheel: Path

    def in_source(self) -> set[str]:
        """Return the paths in the source archive, without its first folder."""
        with tarfile.open(self.source) as archive:
            return {name.partition("/")[2] for name in archive.getnames()}

    def in_wheel(self) -> set[str]:
        """Return the paths in the wheel."""
        with zipfile.ZipFile(self.wheel) as archive:
            return set(archive.namelist())


def scripts(environment: Path) -> Path:
    """Return the folder in which an environment keeps its programs."""
    return environment / ("Scripts" if os.name == "nt" else "bin")


@dataclass(frozen=True)
class Installed:
    """An environment of its own with the wheel in it, and a folder far from the checkout."""

    environment: Path
    elsewhere: Path

    def run(self, program: str, *words: str) -> subprocess.CompletedProcess[str]:
        """Run a program of the environment in that folder; it must succeed."""
        without_ours = {
            name: value
            for name, value in os.environ.items()
            if not name.startswith(("CORETRACK_", "PYTHON"))
        }
        done = subprocess.run(
            [str(scripts(self.environment) / program), *words],
            cwd=self.elsewhere,
            env=without_ours | {"CORETRACK_DATA": str(self.elsewhere / "trial")},
            capture_output=True,
            text=True,
            check=False,
        )
        assert done.returncode == 0, done.stdout + done.stderr
        return done


@pytest.fixture(scope="module")
def built(tmp_path_factory: pytest.TempPathFactory) -> Built:
    """Build the source archive, and the wheel from that, in a copy of the project."""
    project = tmp_path_factory.mktemp("project")
    for name in SHIPPED:
        shutil.copytree(ROOT / name, project / name, ignore=shutil.ignore_patterns("__pycache__"))
    for name in BESIDE:
        shutil.copyfile(ROOT / name, project / name)
    for name in STRAY:
        (project / name).write_bytes(b"a shop's secrets")
    out = tmp_path_factory.mktemp("out")
    done = subprocess.run(
        [sys.executable, "-m", "build", "--no-isolation", "--outdir", str(out), str(project)],
        cwd=out,
        capture_output=True,
        text=True,
        check=False,
    )
    assert done.returncode == 0, done.stdout + done.stderr
    [source], [wheel] = out.glob("*.tar.gz"), out.glob("*.whl")
    return Built(source, wheel)


@pytest.fixture(scope="module")
def installed(built: Built, tmp_path_factory: pytest.TempPathFactory) -> Installed:
    """Install the wheel into a new environment that borrows this one's libraries."""
    environment = tmp_path_factory.mktemp("environment")
    venv.create(environment, with_pip=False)
    python = str(scripts(environment) / "python")
    words = ["--python", python, "install", "--no-deps", "--no-index", "--quiet"]
    done = subprocess.run(
        [sys.executable, "-m", "pip", *words, str(built.wheel)],
        capture_output=True,
        text=True,
        check=False,
    )
    assert done.returncode == 0, done.stdout + done.stderr
    own = next(environment.rglob("site-packages"))
    (own / "libraries.pth").write_text(sysconfig.get_paths()["purelib"] + "\n", encoding="utf-8")
    return Installed(environment, tmp_path_factory.mktemp("elsewhere"))


def wanted_files() -> set[str]:
    """Return every file of the package and of the folders that travel inside it."""
    found = set()
    for folder, inside in (
        ("coretrack", "coretrack"),
        *((name, f"coretrack/_data/{name}") for name in ("templates", "labels", "sample_cores")),
    ):
        for path in (ROOT / folder).rglob("*"):
            made = path.suffix == ".pyc" or ".db" in path.name or "_data" in path.parts
            if path.is_file() and not made:
                found.add(f"{inside}/{path.relative_to(ROOT / folder).as_posix()}")
    return found


def test_the_wheel_holds_the_package_and_its_folders_and_no_more(built: Built) -> None:
    inside = {name for name in built.in_wheel() if ".dist-info/" not in name}

    assert inside == wanted_files()
    for name in (
        "coretrack/_data/templates/base.html",
        "coretrack/_data/labels/stocks/letter-30.toml",
        "coretrack/_data/sample_cores/shop/shop.toml",
        "coretrack/records/migrations/0001_initial.py",
        "coretrack/web/static/style.css",
    ):
        assert name in inside


def test_nothing_lands_beside_the_package(built: Built) -> None:
    tops = {name.partition("/")[0] for name in built.in_wheel()}

    assert {top for top in tops if not top.endswith(".dist-info")} == {"coretrack"}


def test_no_database_leaves_with_a_build(built: Built) -> None:
    names = built.in_wheel() | built.in_source()

    assert [name for name in names if ".db" in Path(name).name] == []


def test_the_source_archive_holds_what_a_reader_needs(built: Built) -> None:
    inside = built.in_source()

    for name in (
        "README.md",
        "DEVELOPERS.md",
        "docs/files.md",
        "docs/first_shop/shop.toml",
        "tests/packaging/test_wheel.py",
        "templates/base.html",
        "labels/layouts/core-tag.toml",
        "sample_cores/README.md",
    ):
        assert name in inside


def test_the_installed_command_explains_itself(installed: Installed) -> None:
    assert "Commands:" in installed.run("coretrack", "--help").stdout
    assert "version" in installed.run("coretrack", "--version").stdout


def test_the_demo_runs_from_the_wheel_alone(installed: Installed) -> None:
    said = installed.run("coretrack", "demo", "--no-serve", "--folder", "trial").stdout

    trial = installed.elsewhere / "trial"
    assert "charge that makes whole" in said
    assert (trial / "coretrack.db").exists()
    kinds = {path.suffix for path in (trial / "papers").iterdir()}
    assert {".pdf", ".xlsx", ".png"} <= kinds
    assert "agree" in installed.run("coretrack", "verify").stdout

    where = installed.run("python", "-c", "import coretrack; print(coretrack.__file__)").stdout
    assert Path(where.strip()).is_relative_to(installed.environment.resolve())
    pages = installed.run("python", "-c", OPEN_THE_PAGE).stdout
    assert pages.splitlines() == [
        "/sign-in 200",
        "/office/ 200",
        "/static/style.css 200",
        "/office/figures.json 200",
    ]
