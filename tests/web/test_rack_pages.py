"""Pages of racks, of the day's lamp and bath checks, of body pictures, and the booth's cookie."""

from __future__ import annotations

import re
from io import BytesIO
from itertools import count

import pytest
from core_yard import Yard
from databases import TestDatabase
from made_photos import bench_top
from station_client import StationClient, words
from werkzeug.test import TestResponse

keys = (f"rack-page-{number}" for number in count())
clock = count(1_000_000, 5_000)
"""The page's own milliseconds; the same code within a second is one scan."""


@pytest.fixture
def yard(db: TestDatabase) -> Yard:
    yard = Yard()
    yard.set_up()
    yard.buy("A1", "A2", "A3")
    return yard


@pytest.fixture
def bench(yard: Yard) -> StationClient:
    return StationClient(role="inspector", name="Bela Quirke")


@pytest.fixture
def owner(yard: Yard) -> StationClient:
    return StationClient(role="owner")


def send(client: StationClient, path: str, code: str = "", **fields: object) -> TestResponse:
    told = {"key": next(keys), **fields}
    return client.post(path, told, query_string={"code": code} if code else None)


def scan(
    bench: StationClient, text: str, code: str = "", page: str = "rack", seen: str = ""
) -> TestResponse:
    body = {"key": next(keys), "text": text, "page": page, "code": code, "at": next(clock)}
    headers = {"Accept": "application/json", "X-CSRFToken": bench.token()}
    return bench.client.post("/receiving/scan", json={**body, "seen": seen}, headers=headers)


def picture() -> bytes:
    buffer = BytesIO()
    bench_top(640, 480, seed=3).save(buffer, "JPEG")
    return buffer.getvalue()


def take_in(owner: StationClient, content: bytes, name: str = "body.jpg") -> TestResponse:
    return send(owner, "/plans/pictures/add", family="GPB", photo=(BytesIO(content), name))


def begun(bench: StationClient, yard: Yard) -> str:
    """Begin a rack with the three cores; return what its page shows it has seen."""
    opened = scan(bench, yard.core("A1").tag).get_json()
    assert opened["go"] == "/bench/racks/rack?code=R-0001"
    for serial in ("A2", "A3"):
        last = scan(bench, yard.core(serial).tag, "R-0001").get_json()
    return str(last["spot"]["seen"])


def test_the_first_core_opens_its_rack_and_the_next_gives_the_fresh_page(
    bench: StationClient, yard: Yard
) -> None:
    begun(bench, yard)
    page = bench.text("/bench/racks/rack", code="R-0001")
    assert "In the rack: 3" in page
    assert "A crack in a pressure-holding body injures people" in page
    assert "no white light check today" in page
    home = bench.text("/bench/racks/")
    assert "R-0001" in home
    assert "not counted yet" in home


def test_a_wrong_count_stays_typed_and_stands_at_its_field(
    bench: StationClient, yard: Yard
) -> None:
    begun(bench, yard)
    answer = send(bench, "/bench/racks/count", "R-0001", count="4")
    assert answer.status_code == 422
    assert 'value="4" aria-invalid="true" aria-describedby="w-count"' in answer.text
    assert "1 core is in the rack that nobody scanned" in words(answer)
    assert send(bench, "/bench/racks/count", "R-0001", count="3").status_code == 303
    assert "3 counted: scan the exceptions" in bench.text("/bench/racks/rack", code="R-0001")


def test_storing_leads_back_to_all_racks_and_the_page_is_gone(
    bench: StationClient, yard: Yard
) -> None:
    begun(bench, yard)
    send(bench, "/bench/racks/count", "R-0001", count="3")
    scan(bench, yard.core("A2").tag, "R-0001")
    asked = scan(bench, "done", "R-0001").get_json()
    assert asked["reply"]["word"] == "STORE?"
    answer = scan(bench, "", "R-0001", seen=asked["spot"]["seen"]).get_json()
    assert (answer["reply"]["word"], answer["html"]) == ("STORED", None)
    assert bench.get(answer["go"]).status_code == 303
    assert bench.get("/bench/racks/rack", code="R-0001").status_code == 404
    late = scan(bench, yard.core("A1").tag, "R-0001").get_json()
    assert "There is no rack 'R-0001' at work" in late["reply"]["line"]
    tag = yard.core("A2").tag
    page = bench.text("/cores/core", tag=tag)
    assert "Crack check by the rack (rack R-0001, 3 counted by hand): unsure." in page
    assert yard.is_sound()


def test_one_core_is_taken_out_and_a_rack_is_given_up_by_hand(
    bench: StationClient, yard: Yard
) -> None:
    begun(bench, yard)
    tag = yard.core("A2").tag
    assert send(bench, "/bench/racks/take-out", "R-0001", tag=tag).status_code == 303
    assert "In the rack: 2" in bench.text("/bench/racks/rack", code="R-0001")
    again = send(bench, "/bench/racks/take-out", "R-0001", tag=tag)
    assert (again.status_code, "is not in rack R-0001" in words(again)) == (422, True)
    assert send(bench, "/bench/racks/give-up", "R-0001").status_code == 303
    assert "Racks at work" not in bench.text("/bench/racks/")


def test_more_is_told_of_an_indication_and_stands_on_the_cores_page(
    bench: StationClient, owner: StationClient, yard: Yard
) -> None:
    assert take_in(owner, picture()).status_code == 303
    tag = yard.core("A1").tag
    scan(bench, "#crack", tag, "bench")
    scan(bench, "indication", tag, "bench")
    page = bench.get("/bench/core", tag=tag).text
    entry = {
        name: re.search(rf'name="{name}" value="([^"]+)"', page)[1]  # type: ignore[index]
        for name in ("check", "at", "by")
    }
    wrong = send(bench, "/bench/told", tag=tag, **entry, kind="linear", length="long", x="2000")
    assert wrong.status_code == 422
    assert 'value="long" aria-invalid="true" aria-describedby="crack-length-wrong"' in wrong.text
    assert 'id="crack-x-wrong"' in wrong.text

    told = {"kind": "linear", "length": "4,5", "place": "seat", "x": "250", "y": "700"}
    assert send(bench, "/bench/told", tag=tag, **entry, **told).status_code == 303

    said = "linear, 4.5 mm, at seat, marked in zone 7"
    assert said in bench.text("/bench/core", tag=tag)
    stored = scan(bench, "done", tag, "bench").get_json()["reply"]["word"]
    assert stored == "SCRAP"
    life = bench.get("/cores/core", tag=tag)
    assert said in words(life)
    assert 'transform="translate(250 525)"' in life.text
    late = send(bench, "/bench/told", tag=tag, **entry, kind="pit")
    assert (late.status_code, "is stored, or was taken back" in words(late)) == (422, True)
    assert yard.is_sound()


def test_a_body_picture_is_the_owners_cleaned_and_kept(
    bench: StationClient, owner: StationClient, yard: Yard
) -> None:
    assert bench.get("/plans/pictures/").status_code == 403
    assert "no picture yet" in owner.text("/plans/pictures/")
    none = send(owner, "/plans/pictures/add", family="GPB")
    assert (none.status_code, "No picture was chosen" in words(none)) == (422, True)
    assert take_in(owner, b"<html>").status_code == 422
    assert take_in(owner, picture()).status_code == 303
    page = owner.get("/plans/pictures/").text
    address = re.search(r'<image href="([^"]+)"', page)
    assert address is not None
    assert bench.get(address[1]).mimetype == "image/jpeg"
    assert yard.is_sound()


def test_the_days_check_keeps_what_was_typed_and_says_what_would_be_right(
    bench: StationClient, owner: StationClient
) -> None:
    wrong = send(bench, "/bench/process/check", kind="uv lamp", uva="9", place="Booth 1")
    assert wrong.status_code == 422
    assert 'id="check-uv-lamp-ambient-wrong"' in wrong.text
    assert 'value="9"' in wrong.text
    assert "9 of which unit? Choose W/m²" in words(wrong)
    told = {"uva": "900", "unit-uva": "W/m²", "ambient": "5 lx", "place": "Booth 1"}
    really = send(bench, "/bench/process/check", kind="uv lamp", **told)
    assert really.status_code == 422
    assert 'name="sure-uva" value="900 W/m²"' in really.text
    assert "<option selected>W/m²</option>" in really.text
    told["uva"] = "9"
    assert send(bench, "/bench/process/check", kind="uv lamp", **told).status_code == 303
    page = bench.text("/bench/process/")
    assert "NOT GOOD" in page
    assert "UV-A harms eyes and skin" in page
    assert "qualified people decide" in page
    assert "White light: not checked today" in bench.text("/bench/")
    assert "What the shop asks of it" not in page
    assert send(bench, "/bench/process/rule", kind="bath").status_code == 403
    limits = {"least-uva": "8", "source": "procedure P-3", "method": "magnetic particle"}
    assert send(owner, "/bench/process/rule", kind="uv lamp", **limits).status_code == 303
    assert "at least 8 W/m²" in owner.text("/bench/process/")
    bad = send(owner, "/bench/process/rule", kind="uv lamp", **{**limits, "least-uva": "dark"})
    assert (bad.status_code, 'value="dark"' in bad.text) == (422, True)


def test_the_booth_is_dark_from_the_first_byte_until_it_is_left(bench: StationClient) -> None:
    before = bench.get("/bench/racks/").text
    assert 'class="booth"' not in before
    went = send(bench, "/bench/booth/", booth="on", back="/bench/racks/")
    assert (went.status_code, went.headers["Location"]) == (303, "/bench/racks/")
    cookie = went.headers["Set-Cookie"]
    assert "HttpOnly" in cookie
    assert "SameSite=Lax" in cookie
    for path in ("/bench/racks/", "/bench/", "/bench/process/", "/cores/", "/nowhere"):
        page = bench.get(path).text
        assert '<html lang="en" class="booth">' in page
        assert '<meta name="color-scheme" content="dark">' in page
        assert page.index("booth.css") < page.index("</head>")
    left = send(bench, "/bench/booth/", booth="off", back="https://elsewhere.example/")
    assert left.headers["Location"] == "/bench/"
    assert 'class="booth"' not in bench.get("/bench/racks/").text


@pytest.mark.parametrize("path", ["racks/", "racks/rack?code=R-0001", "process/"])
def test_racks_and_checks_are_the_inspectors_and_the_owners(yard: Yard, path: str) -> None:
    assert StationClient(role="clerk").get(f"/bench/{path}").status_code == 403
    assert StationClient(role="owner").get(f"/bench/{path}").status_code in (200, 404)
    assert "Booth: dark" not in StationClient(role="clerk").text("/receiving/")


def test_no_page_has_inline_style_or_script(
    bench: StationClient, owner: StationClient, yard: Yard
) -> None:
    begun(bench, yard)
    take_in(owner, picture())
    for path in (
        "/bench/racks/",
        "/bench/racks/rack?code=R-0001",
        "/bench/process/",
        "/plans/pictures/",
    ):
        page = owner.get(path).text
        assert not re.search(r"<script(?! src)|\sstyle=|\son[a-z]+=|<style", page)
