"""`people` and `serve`: badges and PINs from a terminal, addresses, warnings, the first code."""

from __future__ import annotations

import http.client
import re
import socket
import subprocess
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from datetime import datetime
from pathlib import Path
from typing import Any

import pytest
from browser.browsing import browser
from click.testing import CliRunner, Result
from databases import TestDatabase
from small_shop import SmallShop, command
from staff import CLERK, OWNER, PASSWORDS, PIN, add_staff

from coretrack import clock
from coretrack.actions import people, setting_up, signing_in
from coretrack.cli import serving
from coretrack.config import Settings
from coretrack.errors import InvalidInput
from coretrack.resources import data_dir

Run = Callable[..., Result]

MEGABYTE = 1024 * 1024


@pytest.fixture
def secrets(tmp_path: Path) -> dict[str, str]:
    """Files that hold a password and a PIN."""
    files = {"password": "five quiet lorries\n", "pin": f"{PIN}\n", "empty": "\n"}
    for name, text in files.items():
        (tmp_path / name).write_text(text, encoding="utf-8")
    return {name: str(tmp_path / name) for name in files}


def test_a_person_is_added_with_badge_and_pin_and_listed(
    shop: SmallShop, run: Run, secrets: dict[str, str]
) -> None:
    done = run(
        "people", "Vera Lund", "--role", "clerk", "--password-file", secrets["password"],
        "--badge", "--pin-file", secrets["pin"],
    )  # fmt: skip
    assert done.output.splitlines() == [
        "Vera Lund is clerk.", "Vera Lund has a new PIN.", "Vera Lund has badge 0010000119.",
    ]  # fmt: skip
    assert signing_in.sign_in_by_badge("0010000119", PIN, station="", now=clock.now())
    listed = run("people").output
    assert re.search(r"Vera Lund +clerk +0010000119 +name and password, or badge and PIN", listed)


def test_passwords_and_pins_are_asked_for_twice(shop: SmallShop, run: Run) -> None:
    word = "five quiet lorries\n"
    assert run("people", "Vera Lund", "--role", "clerk", typed=word * 2).exit_code == 0
    assert run("people", "Vera Lund", "--pin", typed=f"{PIN}\n" * 2).exit_code == 0
    changed = run("people", "Vera Lund", "--password", typed="six loud ferries\n" * 2)
    assert changed.output.splitlines()[-1] == "Vera Lund has a new password."
    assert "six loud" not in changed.output


def test_leaving_coming_back_and_being_let_in_again(
    shop: SmallShop, run: Run, now: datetime
) -> None:
    add_staff(now)
    assert run("people", CLERK, "--inactive").output == f"{CLERK} can no longer sign in.\n"
    assert "gone" in run("people").output
    assert run("people", CLERK, "--active").output == f"{CLERK} works here again.\n"
    assert run("people", CLERK, "--unlock").output == f"{CLERK} is as before.\n"
    for _ in range(5):
        with pytest.raises(InvalidInput):
            signing_in.sign_in(CLERK, "never the right one", station="", now=clock.now())
    assert "shut until" in run("people").output
    assert run("people", CLERK, "--unlock").output == f"{CLERK} is let in again.\n"
    assert signing_in.sign_in(CLERK, PASSWORDS[CLERK], station="", now=clock.now())


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (("Vera Lund",), "nobody called 'Vera Lund'"),
        ((CLERK, "--active", "--inactive"), "not both"),
        ((CLERK, "--role", "boss"), "'boss' is not a role"),
        ((OWNER, "--inactive"), "only owner"),
        ((CLERK, "--pin-file", "{empty}"), "PIN file is empty"),
    ],
)
def test_what_cannot_be_done_is_said_in_one_line(
    shop: SmallShop,
    run: Run,
    now: datetime,
    secrets: dict[str, str],
    words: tuple[str, ...],
    said: str,
) -> None:
    add_staff(now)
    done = run("people", *(word.format(**secrets) for word in words))
    assert done.exit_code == 1
    assert said in done.output
    assert done.output.count("\n") == 1


@pytest.fixture
def served_with(monkeypatch: pytest.MonkeyPatch) -> dict[str, Any]:
    """What waitress was asked for instead of serving."""
    asked: dict[str, Any] = {}

    def note(app: object, **options: Any) -> None:
        asked.update(options, app=app)

    monkeypatch.setattr("waitress.serve", note)
    monkeypatch.setattr(serving, "own_address", lambda: "192.0.2.10")
    return asked


def test_this_computer_only_needs_no_warning(
    shop: SmallShop, run: Run, now: datetime, served_with: dict[str, Any]
) -> None:
    add_staff(now)
    assert run("serve").output == "The pages: http://127.0.0.1:8321/  (Ctrl+C ends)\n"
    assert served_with["host"] == "127.0.0.1"
    client = served_with["app"].test_client()
    assert client.get("/sign-in", headers={"Host": "shop.example"}).status_code == 403


def test_other_stations_are_told_the_address_and_the_danger(
    shop: SmallShop, run: Run, now: datetime, served_with: dict[str, Any]
) -> None:
    add_staff(now)
    said = run("serve", "--host", "0.0.0.0", "--port", "8400").output
    assert "The pages: http://127.0.0.1:8400/" in said
    assert "Other stations: http://192.0.2.10:8400/" in said
    assert "can overhear what is sent, passwords and PINs included" in said
    client = served_with["app"].test_client()
    assert client.get("/sign-in", headers={"Host": "shop.example"}).status_code == 200


def test_behind_tls_nothing_is_warned_of_and_cookies_are_for_https(
    shop: SmallShop, run: Run, now: datetime, served_with: dict[str, Any]
) -> None:
    add_staff(now)
    assert "overhear" not in run("serve", "--behind-tls").output
    assert served_with["app"].config["SESSION_COOKIE_SECURE"] is True
    client = served_with["app"].test_client()
    assert client.get("/sign-in", headers={"Host": "cores.example"}).status_code == 200


def test_without_an_owner_a_code_is_said_that_makes_one(
    shop: SmallShop, run: Run, served_with: dict[str, Any], now: datetime
) -> None:
    found = re.search(r"asks for the code ([A-Z2-9]{4}-[A-Z2-9]{4})\.", run("serve").output)
    assert found is not None
    access = served_with["app"].config["CORETRACK_ACCESS"]
    assert access.first_owner_code == found[1].replace("-", "")
    add_staff(now)
    assert "code" not in run("serve").output


def test_the_demo_with_its_known_passwords_is_served_to_nobody_else(
    db: TestDatabase, run: Run, now: datetime, served_with: dict[str, Any]
) -> None:
    folder = data_dir("sample_cores") / "shop"
    setting_up.set_up_from_folder(folder, by="demo", now=now, demo=True)
    for words in (("--host", "0.0.0.0"), ("--behind-tls",)):
        refused = run("serve", *words)
        assert refused.exit_code == 1
        assert "demo's shop, whose passwords anybody can read" in refused.output
    assert served_with == {}
    told = {one.name: one.demo_password for one in setting_up.demo_people(folder)}
    assert len(told) == len(people.all_people(now)) == 4
    serving.serve_pages(Settings(db.folder, db.url), demo=True)
    page = served_with["app"].test_client().get("/sign-in").text
    for name, password in told.items():
        assert name in page
        assert password in page
        assert signing_in.sign_in(name, password, station="", now=now)


def test_the_key_that_signs_cookies_is_for_its_owner_alone(
    shop: SmallShop, run: Run, db: TestDatabase, served_with: dict[str, Any]
) -> None:
    run("serve")
    key = db.folder / "session-key"
    assert key.stat().st_mode & 0o077 == 0
    before = key.read_text(encoding="ascii")
    run("serve")
    assert key.read_text(encoding="ascii") == before


@contextmanager
def really_served(db: TestDatabase) -> Iterator[int]:
    """Run `coretrack serve` as it is used while the block runs; gives its port."""
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        port = int(probe.getsockname()[1])
    words = command(db, "serve", "--port", str(port))
    with subprocess.Popen(words, env=db.environment, stdout=subprocess.PIPE) as server:
        try:
            give_up = time.monotonic() + 60
            while not _answers(port):
                assert time.monotonic() < give_up
                assert server.poll() is None
                time.sleep(0.1)
            yield port
        finally:
            server.terminate()


def _answers(port: int) -> bool:
    with socket.socket() as probe:
        return probe.connect_ex(("127.0.0.1", port)) == 0


@pytest.fixture
def staffed(sqlite_db: TestDatabase, now: datetime) -> TestDatabase:
    """A shop with people, on a file that a server of its own opens."""
    setting_up.set_up_from_folder(SmallShop().folder, by=OWNER, now=now)
    add_staff(now)
    return sqlite_db


def test_a_file_of_sixty_megabytes_is_answered_by_a_page(staffed: TestDatabase) -> None:
    with really_served(staffed) as port:
        link = http.client.HTTPConnection("127.0.0.1", port, timeout=60)
        kind = {"Content-Type": "multipart/form-data; boundary=edge"}
        link.request("POST", "/sign-in", b"x" * 60 * MEGABYTE, kind)
        answer = link.getresponse()
        page = answer.read().decode()
        link.close()
    assert answer.status == 413
    assert "It has 60.0 MB; 48 MB at once are the most. Nothing was stored." in page


@pytest.mark.browser
def test_the_browser_shows_that_page_and_no_broken_connection(
    staffed: TestDatabase, tmp_path: Path
) -> None:
    file = tmp_path / "sales.csv"
    file.write_bytes(b"x" * 60 * MEGABYTE)
    with really_served(staffed) as port, browser() as running:
        page = running.new_page()
        page.goto(f"http://127.0.0.1:{port}/sign-in")
        page.evaluate(
            """() => {
                const form = document.querySelector("form");
                form.enctype = "multipart/form-data";
                const file = document.createElement("input");
                Object.assign(file, {type: "file", name: "file", id: "file"});
                form.append(file);
            }"""
        )
        page.set_input_files("#file", str(file))
        page.get_by_role("button", name="Sign in").click()
        page.get_by_text("48 MB at once are the most").wait_for()


def test_the_demo_goes_where_data_or_folder_say_and_not_to_two_places(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    from coretrack.cli import demo
    from coretrack.cli.main import main

    monkeypatch.setenv("CORETRACK_DATA", str(tmp_path / "real"))
    assert demo.folder_of(None, str(tmp_path / "here")) == tmp_path / "here"
    assert demo.folder_of(tmp_path / "here", None) == tmp_path / "here"
    assert demo.folder_of(tmp_path / "here", str(tmp_path / "here")) == tmp_path / "here"
    assert demo.folder_of(None, None) == Path("demo_shop")
    words = ["--data", str(tmp_path / "a"), "demo", "--no-serve", "--folder", str(tmp_path / "b")]
    refused = CliRunner().invoke(main, words)
    assert refused.exit_code == 1
    assert "give one of them" in refused.output
    assert list(tmp_path.iterdir()) == []
