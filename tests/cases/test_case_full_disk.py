"""A disk that gets full while pages are served: plain words, nothing half stored, well again after.

The limit is set on the running server's process, which SQLite meets like a full disk.
"""

from __future__ import annotations

import json
import re
import resource
from typing import TYPE_CHECKING

import pytest
from real_server import RunningServer, Window, running_server
from upload_forms import FILES

from coretrack.records import database

if TYPE_CHECKING:
    from conftest import CounterShop


@pytest.fixture
def served_shop(staffed: CounterShop) -> CounterShop:
    """The shop with people who sign in, its database closed here: another process serves it."""
    database.close_database()
    return staffed


def with_room_for(server: RunningServer, most: int | None) -> None:
    """Let no file of a running server grow past `most` bytes; None takes the limit away."""
    _, hard = resource.prlimit(server.pid, resource.RLIMIT_FSIZE)
    soft = resource.RLIM_INFINITY if most is None else most
    resource.prlimit(server.pid, resource.RLIMIT_FSIZE, (soft, hard))


def counts(shop: CounterShop) -> tuple[int, int, int, int]:
    """Return how many events, lots, cores and remembered forms there are."""
    return tuple(  # type: ignore[return-value]
        shop.rows(table) for table in ("event", "lot", "core", '"once"')
    )


DISK_FULL = re.compile(r"disk.*(full|cannot be written)")
SCRIPT = {"Content-Type": "application/json", "Accept": "application/json"}
SCAN = json.dumps({"text": "00420", "page": "home", "key": "s1"}).encode()


def test_aw_110_a_delivery_that_finds_no_room_keeps_what_was_typed_and_is_begun_later(
    served_shop: CounterShop,
) -> None:
    told = {"customer": "HALV", "pieces": "4", "goods": "cores", "key": "k", "note": "wet box"}
    with running_server(served_shop.data) as server:
        window = Window(server.port)
        window.sign_in()
        before = counts(served_shop)

        with_room_for(server, 33_000)  # enough to read, too little for the delivery's pages
        status, page = window.send("/receiving/", "/receiving/deliveries", told)
        assert status == 503
        assert DISK_FULL.search(page)
        assert 'value="wet box"' in page
        assert "Traceback" not in page
        assert counts(served_shop) == before

        with_room_for(server, None)
        status, _ = window.send("/receiving/", "/receiving/deliveries", told)
        assert status == 303, "the server does not work again"
    assert served_shop.rows("lot where source = 'HALV'") == 1
    assert served_shop.json("verify")["differences"] == []


def test_aw_110_without_any_room_pages_are_shown_or_say_so_and_a_scan_is_sent_again_later(
    served_shop: CounterShop,
) -> None:
    with running_server(served_shop.data) as server:
        window = Window(server.port)
        window.sign_in()
        headers = {**SCRIPT, "X-CSRFToken": window.token("/receiving/")}
        before = counts(served_shop)

        with_room_for(server, 0)
        for address in ("/receiving/", "/sign-in"):
            status, page = window.ask("GET", address)
            # What can still be read is shown; what cannot says why.
            assert status == 200 or (status == 503 and DISK_FULL.search(page))
        status, answer = window.ask("POST", "/receiving/scan", SCAN, headers)
        # By this status the page's script keeps a scan and sends it again.
        assert status == 503
        assert DISK_FULL.search(json.loads(answer)["error"])
        assert counts(served_shop) == before

        with_room_for(server, None)
        status, answer = window.ask("POST", "/receiving/scan", SCAN, headers)
        assert (status, json.loads(answer)["reply"]["word"]) == (200, "NUMBER")
    assert served_shop.json("verify")["differences"] == []


def test_aw_110_a_file_that_finds_no_room_half_way_leaves_nothing_and_goes_in_later(
    served_shop: CounterShop,
) -> None:
    rows = "".join(f"00420,F{place:05d}\n" for place in range(1500))
    content = f"number,serial\n{rows}".encode()
    told = {"kind": "lot", "key": "k", "source": "MERE", "price": "10", "lot": "LARGE"}
    with running_server(served_shop.data) as server:
        window = Window(server.port)
        window.sign_in()
        status, led = window.upload(
            f"{FILES}/?kind=lot", f"{FILES}/upload", told, "lot.csv", content
        )
        assert status == 303
        waiting = re.findall(r"upload=([\w-]+)", led)[0]
        store, page = f"{FILES}/store?upload={waiting}", f"{FILES}/preview?upload={waiting}"
        before = counts(served_shop)

        with_room_for(server, (served_shop.data / "coretrack.db").stat().st_size + 4096)
        status, _ = window.send(page, store, {"key": "k"})
        assert status == 303
        status, said = window.ask("GET", page)
        assert DISK_FULL.search(said)
        assert "Traceback" not in said
        assert counts(served_shop) == before

        with_room_for(server, None)
        status, said = window.send(page, store, {"key": "k"})
        assert status == 303, said
    assert served_shop.rows("core where lot = 'LARGE'") == 1500
    assert served_shop.json("verify")["differences"] == []
