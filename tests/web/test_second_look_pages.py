"""The pages of second looks: nothing of a first verdict reaches whoever looks again, anywhere."""

from __future__ import annotations

import re
from io import BytesIO
from itertools import count
from pathlib import Path
from typing import Any

import pytest
from bench_desk import GOOD_BODY, TODAY, Inspector, bodies
from bench_floor import bin_code, furnish
from core_yard import Yard
from databases import TestDatabase, copied
from made_photos import bench_top
from station_client import StationClient, words

from coretrack import clock as the_clock
from coretrack.actions import photos, stock_takes
from coretrack.actions.core_life import put_core
from coretrack.figures.tags import show_tag
from coretrack.records import database
from coretrack.records.writer import writing

WORN = ("23.970", "23.971", "23.972", *GOOD_BODY[3:])
CRACKED = (*GOOD_BODY[:5], "indication linear 4 mm at the port")
GOOD = ("24.0133", "24.0144", "24.0155", *GOOD_BODY[3:])
FIRSTS = {"keep": GOOD, "rework": WORN, "scrap": CRACKED}

keys = (f"second-page-{number}" for number in count())
clock = count(1_000_000, 5_000)


@pytest.fixture(autouse=True)
def one_moment(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(the_clock, "now", lambda: TODAY.replace(hour=20))


def share(yard: Yard, percent: str) -> None:
    with writing(yard.by, yard.now) as writer:
        writer.event("shop", "shop", "set", {"second_look_percent": percent})


def graded(yard: Yard, serial: str, texts: tuple[str, ...]) -> str:
    """Have a body judged for the first time by Bela Quirke; return its tag."""
    inspector = Inspector().at(yard.core(serial).tag)
    inspector.type(*texts)
    inspector.type("")
    return str(yard.core(serial).tag)


def scan(client: StationClient, page: str, code: str, text: str, seen: str = "") -> Any:
    body = {
        "key": next(keys), "text": text, "page": page, "code": code, "seen": seen,
        "at": next(clock),
    }  # fmt: skip
    headers = {"Accept": "application/json", "X-CSRFToken": client.token()}
    return client.client.post("/receiving/scan", json=body, headers=headers).get_json()


def shop_where_first_was(grade: str) -> tuple[Yard, str]:
    """Set up a shop in which one body is drawn, judged so, photographed, put away, counted."""
    yard = Yard(now=TODAY)
    yard.set_up()
    furnish(yard)
    share(yard, "100")
    bodies(yard, 2)
    tag = graded(yard, "B1", FIRSTS[grade])
    told = {"by": "Bela Quirke", "station": "bench 1", "now": TODAY.replace(hour=19)}
    put_core(tag, bin_code(1), key="put", **told)
    stock_takes.begin_take("", "", key="take", **told)
    picture = BytesIO()
    bench_top(120, 160).save(picture, "JPEG")
    photos.add_photo(picture.getvalue(), "core", tag, "whole core", **told)
    return yard, tag


PAGES = (
    "/bench/", "/bench/second/", "/bench/rework/", "/bench/racks/", "/bench/washes/",
    "/bench/washes/tags", "/shelf/", "/shelf/shelf.csv", f"/shelf/?at=bin:{bin_code(1)}",
    "/shelf/?at=pick:B-7&family=GPB", "/shelf/take?code=ST-0001", "/shelf/take.csv?code=ST-0001",
    "/cores/", "/cores/?q=B1", "/cores/?q=GP-1040", "/cores/?q=TAG", "/cores/core?tag=TAG",
    "/bench/core?tag=TAG", "/bench/rework/?tag=TAG", "/bench/second/look?tag=TAG", "/gauges/",
    "/gauges/gauge?code=BG1", "/gauges/recall?code=BG1", "/gauges/recall.csv?code=BG1",
    "/files/", "/receiving/files/", "/labels/", "/labels/?tags=TAG", "/labels/?lot=L1",
    "/photos/new?kind=core&key=TAG", "/photos/1.jpg", "/photos/1-small.jpg", "/photos/scan",
)  # fmt: skip
"""Everything an inspector can open by its address; TAG stands for the body's."""

SPOTS = ("home", "core", "bench", "rework", "shelf", "wash", "second")


def everything_seen(client: StationClient, tag: str) -> dict[str, tuple[int, str]]:
    """Return status and text of every page and answer that an inspector can get about a body."""
    found = {}
    for page in PAGES:
        address = page.replace("TAG", tag)
        answer = client.client.get(address)
        text = answer.get_data(as_text=True) if answer.mimetype != "image/jpeg" else "a picture"
        found[page] = (answer.status_code, _plain(text))
        client.client.get("/cores/")  # what was flashed belongs to the page before
    for spot in SPOTS:
        for text in (tag, "B1"):
            told = scan(client, spot, "", text)
            found[f"scan {text} at {spot}"] = (200, _plain(str({**told, "last": None})))
    for spot in ("bench", "rework"):
        found[f"Enter at {spot}"] = (200, _plain(str(scan(client, spot, tag, ""))))
    return found


def _plain(text: str) -> str:
    """Return a text without what differs at every request: keys and tokens."""
    text = re.sub(r'name="(csrf_token|key)" value="[^"]*"', "", text)
    return re.sub(r'data-token="[^"]*"', "", text)


def test_whatever_the_first_verdict_was_the_second_inspector_sees_the_same(
    migrated_file: Path, tmp_path: Path
) -> None:
    """No page or answer depends on it: three shops that differ only there look alike to her."""
    worlds = {}
    for grade in FIRSTS:
        database.open_database(copied(migrated_file, tmp_path / grade).url)
        try:
            yard, tag = shop_where_first_was(grade)
            assert yard.core("B1").grade == grade
            worlds[grade] = everything_seen(StationClient("inspector", "Una Pryor"), tag)
            # The body can be looked at all the same, and the first inspector sees it as ever.
            assert worlds[grade]["/bench/second/look?tag=TAG"][0] == 200
            bela = StationClient("inspector", "Bela Quirke")
            assert grade in bela.text("/bench/core", tag=tag).lower()
        finally:
            database.close_database()
    for page, seen in worlds["keep"].items():
        for grade in ("rework", "scrap"):
            assert worlds[grade][page] == seen, f"{page} tells {grade} from keep"


@pytest.fixture
def drawn(db: TestDatabase) -> tuple[Yard, str]:
    yard = Yard(now=TODAY)
    yard.set_up()
    share(yard, "100")
    bodies(yard, 2)
    return yard, graded(yard, "B1", CRACKED)


def test_no_word_reading_or_finding_of_the_first_stands_on_any_page(
    drawn: tuple[Yard, str],
) -> None:
    _, tag = drawn
    seen = everything_seen(StationClient("inspector", "Una Pryor"), tag)
    for page, (_, text) in seen.items():
        for told in ("scrapped", "linear", "4 mm", "at the port", "crack indication"):
            assert told not in text, page


def test_the_second_look_is_typed_like_an_inspection_and_stored(drawn: tuple[Yard, str]) -> None:
    yard, tag = drawn
    una = StationClient("inspector", "Una Pryor")
    assert show_tag(tag) in una.text("/bench/second/")
    opened = scan(una, "second", "", tag)
    assert opened["go"] == f"/bench/second/look?tag={tag}"
    page = una.text("/bench/second/look", tag=tag)
    assert "blind second look" in page
    assert "whole life" not in page
    seen = ""
    for text in GOOD_BODY:
        answer = scan(una, "second", tag, text, seen)
        seen = answer["spot"]["seen"]
        assert answer["spot"]["page"] == "second"
    assert answer["reply"]["word"] == "KEEP?"
    stored = scan(una, "second", tag, "", seen)
    assert stored["reply"]["word"] == "DIFFERS"
    assert "In the books: scrap, by Bela Quirke." in stored["reply"]["detail"]
    assert stored["spot"] == {"page": "second", "code": "", "seen": ""}
    assert "scrap" in una.text("/cores/core", tag=tag)
    assert yard.is_sound()


def test_the_first_inspector_cannot_open_it(drawn: tuple[Yard, str]) -> None:
    _, tag = drawn
    bela = StationClient("inspector", "Bela Quirke")
    answer = bela.get("/bench/second/look", tag=tag)
    assert (answer.status_code, answer.location) == (303, "/bench/second/")
    assert "You stored the first verdict" in bela.text("/bench/second/")
    assert "1 waits for somebody else" in bela.text("/bench/second/")


def test_a_form_that_names_it_is_led_to_the_look_and_does_nothing(drawn: tuple[Yard, str]) -> None:
    yard, tag = drawn
    una = StationClient("inspector", "Una Pryor")
    answer = una.post("/cores/label", {"tag": tag, "key": "label"})
    assert (answer.status_code, answer.location) == (303, f"/bench/second/look?tag={tag}")
    asked = una.post("/cores/put", {"tag": show_tag(tag), "place": "", "key": "put"})
    assert asked.location == f"/bench/second/look?tag={tag}"
    assert yard.core("B1").labels == 0


def test_the_owner_is_asked_and_answers(drawn: tuple[Yard, str]) -> None:
    yard, tag = drawn
    una = StationClient("inspector", "Una Pryor")
    seen = ""
    for text in (*GOOD_BODY, ""):
        seen = scan(una, "second", tag, text, seen)["spot"]["seen"]
    owner = StationClient("owner", "Ilse Thornby")
    page = owner.text("/bench/second/")
    assert "Which of the two is right? The books say scrap" in page
    assert owner.get("/bench/second/look", tag=tag).status_code == 303
    look = {"look": f"{tag}/1"}
    wrong = owner.post("/bench/second/stands", {**look, "reason": " ", "key": "1"})
    assert wrong.status_code == 422
    assert "Say why the first verdict stands" in words(wrong)
    done = owner.post("/bench/second/stands", {**look, "reason": "I saw the crack", "key": "2"})
    assert done.status_code == 303
    assert "No two looks differ that are not settled" in owner.text("/bench/second/")
    shown = owner.text("/bench/second/agreement")
    assert "Same grade 0.0 %" in shown
    assert "Kappa unknown:" in shown
    assert "False rejects 100.0 %" in shown
    assert "Misses unknown: no bad core has been graded twice yet" in shown
    for path in ("agreement",):
        assert una.get(f"/bench/second/{path}").status_code == 403
    assert una.post("/bench/second/stands", {**look, "key": "3"}).status_code == 403
    assert una.post("/bench/second/give-up", {**look, "key": "4"}).status_code == 403
    assert yard.is_sound()


def test_the_owner_drops_a_look_with_a_reason(drawn: tuple[Yard, str]) -> None:
    _, tag = drawn
    owner = StationClient("owner", "Ilse Thornby")
    assert "Wanted of the inspectors: 1" in owner.text("/bench/second/")
    told = {"look": f"{tag}/1", "reason": "nobody is here", "key": "drop"}
    assert owner.post("/bench/second/give-up", told).status_code == 303
    assert "Wanted of the inspectors: 0" in owner.text("/bench/second/")
    assert StationClient("inspector", "Una Pryor").get("/cores/core", tag=tag).status_code == 200


@pytest.mark.parametrize(
    ("typed", "stored"), [("5", "5"), ("2,5 %", "2.5"), ("0", "0"), ("100", "100")]
)
def test_the_owner_sets_the_share(db: TestDatabase, typed: str, stored: str) -> None:
    yard = Yard()
    yard.set_up()
    owner = StationClient("owner", "Ilse Thornby")
    told = settings_of(owner)
    answer = owner.post("/labels/settings", {**told, "second_look_percent": typed, "key": "s"})
    assert answer.status_code == 303
    assert settings_of(owner)["second_look_percent"] == stored


@pytest.mark.parametrize("typed", ["", "many", "-1", "101", "2.555", "NaN"])
def test_a_share_that_is_none_stays_typed(db: TestDatabase, typed: str) -> None:
    yard = Yard()
    yard.set_up()
    owner = StationClient("owner", "Ilse Thornby")
    told = {**settings_of(owner), "second_look_percent": typed, "key": "s"}
    answer = owner.post("/labels/settings", told)
    assert answer.status_code == 422
    assert "0 to 100 percent with two decimals at most" in words(answer)
    assert f'value="{typed}" aria-invalid="true"' in answer.text


def settings_of(owner: StationClient) -> dict[str, str]:
    page = owner.get("/labels/settings").text
    told = dict(re.findall(r'<input id="(\w+)" name="\w+"[^>]* value="([^"]*)"', page))
    chosen = re.findall(r'<select id="(\w+)".*?<option value="([^"]*)" selected', page, re.S)
    return {**told, **dict(chosen), "print_command": ""}
