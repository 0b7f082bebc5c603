"""The pages of the shelf and of stock-takes: what a browser without a window sees and sends."""

from __future__ import annotations

import re
from itertools import count
from urllib.parse import quote_plus

import pytest
from bench_floor import bin_code, file_rows, furnish
from core_yard import Yard
from databases import TestDatabase
from station_client import StationClient, words
from werkzeug.test import TestResponse

keys = (f"shelf-page-{number}" for number in count())
clock = count(1_000_000, 5_000)
"""The page's own milliseconds; the same code within a second is one scan."""

BUILD = "B-7/ü #1"


@pytest.fixture
def yard(db: TestDatabase) -> Yard:
    yard = Yard()
    yard.set_up()
    furnish(yard)
    yard.buy("G1", "G2", "W1")
    yard.measure("G1", at="2026-05-21 09:00")
    yard.measure("G2", at="2026-05-23 09:00")
    return yard


@pytest.fixture
def desk(yard: Yard) -> StationClient:
    return StationClient(role="clerk")


def send(desk: StationClient, path: str, code: str = "", **fields: object) -> TestResponse:
    told = {"key": next(keys), **fields}
    return desk.post(f"/shelf/{path}", told, query_string={"code": code} if code else None)


def scan(desk: StationClient, text: str, code: str = "", page: str = "shelf") -> TestResponse:
    body = {"key": next(keys), "text": text, "page": page, "code": code, "at": next(clock)}
    headers = {"Accept": "application/json", "X-CSRFToken": desk.token()}
    return desk.client.post("/receiving/scan", json=body, headers=headers)


def taken(desk: StationClient) -> str:
    """Begin a count of the whole shelf and return its code."""
    answer = send(desk, "takes", family="", place="")
    assert answer.status_code == 303
    return answer.location.split("code=")[1]


def version(desk: StationClient, code: str) -> str:
    found = re.search(r'name="version" value="(\d+)"', desk.get("/shelf/take", code=code).text)
    assert found is not None
    return found[1]


def test_the_shelf_is_filled_by_scan_and_told_by_family_and_bin(
    desk: StationClient, yard: Yard
) -> None:
    opened = scan(desk, bin_code(2)).get_json()
    assert opened["go"] == f"/shelf/?at={quote_plus('bin:' + bin_code(2))}".replace("%3A", ":")
    answer = scan(desk, yard.core("G1").tag, "bin:" + bin_code(2)).get_json()
    assert answer["reply"]["word"] == "SHELF 2"
    assert "good bodies in Shelf 2" in answer["html"]
    page = desk.text("/shelf/")
    assert "good bodies 2 on the shelf 2 built 0" in page
    assert "Shelf 2 1 GPB" in page
    assert "no bin 1 GPB" in page
    only = desk.text("/shelf/", place=bin_code(2))
    assert yard.core("G1").tag[:4] in only
    assert "On the shelf, oldest first: Shelf 2" in only
    assert "Begin the stock-take" not in only
    assert "The whole shelf" in only


def test_a_build_with_any_name_is_picked_for_by_scan(desk: StationClient, yard: Yard) -> None:
    answer = desk.get("/shelf/pick", into=f"  {BUILD} ", family="GPB")
    assert answer.status_code == 303
    page = desk.get(answer.location).text
    assert f'data-code="pick:{BUILD}"' in page
    assert "Take these first" in page
    asked = scan(desk, yard.core("G2").tag, f"pick:{BUILD}").get_json()["reply"]
    assert asked["word"] == "OLDER FIRST"
    assert yard.core("G2").state == "good"
    assert (
        scan(desk, asked["offers"][0]["scan"], f"pick:{BUILD}").get_json()["reply"]["word"]
        == "PICKED"
    )
    assert yard.core("G2").built_into == BUILD
    shown = desk.text("/shelf/")
    assert "good bodies 2 on the shelf 1 built 1" in shown
    assert f"{BUILD} 1" in shown
    back = send(desk, "put-back", tag=yard.core("G2").tag, at=f"pick:{BUILD}")
    assert back.status_code == 303
    assert "is on the shelf again, in no bin." in words(desk.get(back.location))
    assert yard.core("G2").state == "good"
    assert yard.is_sound()


def test_a_build_without_a_name_is_asked_for_at_its_field(desk: StationClient) -> None:
    answer = desk.get("/shelf/pick", into="  ")
    assert answer.status_code == 422
    assert 'aria-describedby="w-into"' in answer.text
    assert desk.get("/shelf/", at="pick:").status_code == 422


def test_a_body_that_was_never_picked_is_not_put_back(desk: StationClient, yard: Yard) -> None:
    answer = send(desk, "put-back", tag=yard.core("G1").tag, at="")
    assert "was not picked for a build" in words(desk.get(answer.location))


def test_a_stock_take_is_counted_and_closed_under_a_name(desk: StationClient, yard: Yard) -> None:
    code = taken(desk)
    scan(desk, bin_code(1), code, "take")
    found = scan(desk, yard.core("G1").tag, code, "take").get_json()
    assert found["reply"]["word"] == "WRONG BIN"
    assert "in the wrong bin" in found["html"]
    bare = send(desk, "take", code, version=version(desk, code), note="", move="yes")
    assert bare.status_code == 422
    assert 'aria-describedby="w-note"' in bare.text
    assert 'name="move" value="yes" checked' in bare.text
    told = {"note": "asked the washer", "move": "yes"}
    stale = send(desk, "take", code, version="1", **told)
    assert stale.status_code == 409
    assert 'value="asked the washer"' in stale.text
    done = send(desk, "take", code, version=version(desk, code), **told)
    assert done.status_code == 303
    page = desk.text("/shelf/take", code=code)
    assert "Closed by Ilse Thornby: 1 missing, 1 in the wrong bin." in page
    assert "closed" in page
    assert "Close it" not in page
    assert yard.core("G1").place == bin_code(1)
    assert yard.is_sound()


def test_shelf_and_stock_take_come_as_files(desk: StationClient, yard: Yard) -> None:
    code = taken(desk)
    for path, name, rows in (
        ("shelf.csv", "shelf.csv", 3),
        ("shelf.csv?family=GPB&place=none", "shelf.csv", 3),
        (f"shelf.csv?place={bin_code(1)}", "shelf.csv", 1),
        (f"take.csv?code={code}", f"stock-take-{code}.csv", 3),
    ):
        answer = desk.get(f"/shelf/{path}")
        assert answer.mimetype == "text/csv"
        assert f'filename="{name}"' in answer.headers["Content-Disposition"]
        assert len(file_rows(answer.data)) == rows


def test_a_stock_take_of_what_there_is_not_is_refused_at_its_field(desk: StationClient) -> None:
    answer = send(desk, "takes", family="nothing", place="")
    assert answer.status_code == 422
    assert "There is no family" in words(answer) or "choose one" in words(answer)
    assert desk.get("/shelf/take", code="ST-9").status_code == 404
    assert desk.get("/shelf/take.csv", code="ST-9").status_code == 404
    assert desk.get("/shelf/", at="bin:0030009999").status_code == 404


@pytest.mark.parametrize("role", ["clerk", "inspector", "owner"])
def test_the_shelf_is_for_everybody_who_works_with_it(yard: Yard, role: str) -> None:
    client = StationClient(role=role)
    assert "Shelf" in client.text("/shelf/")
    assert "Shelf" in client.text("/cores/")


def test_no_page_has_inline_style_or_script_and_hostile_names_are_text(
    desk: StationClient, yard: Yard
) -> None:
    build = "<script>alert(1)</script>"
    scan(desk, yard.core("G1").tag, f"pick:{build}")
    code = taken(desk)
    for path in ("/shelf/", f"/shelf/take?code={code}", f"/shelf/?at=pick:{build}"):
        page = desk.get(path).text
        assert "<script>alert" not in page
        assert not re.search(r"<script(?! src)|\sstyle=|\son[a-z]+=|<style", page)
