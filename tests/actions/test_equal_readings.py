"""Two readings that are equal to the last digit are two; a tag that is read twice is one."""

from __future__ import annotations

import pytest
from bench_desk import Inspector, bodies, order
from core_yard import Yard
from databases import TestDatabase

from coretrack.actions import station_scans
from coretrack.actions.bench_hand import hand_of
from coretrack.actions.desks import READING_PAGES, Desk
from coretrack.figures.scan_replies import ScanReply, Spot
from coretrack.records.database import connection

FROM = 1_800_000_000_000


@pytest.fixture
def tag(sqlite_db: TestDatabase) -> str:
    yard = Yard()
    yard.set_up()
    return bodies(yard, 1)[0]


def sent(tag: str, text: str, ms: int) -> ScanReply:
    """Send a text at the page's clock, with a key of its own, as the page does."""
    bela = Inspector()
    spot = Spot("bench", tag, at=FROM + ms)
    return station_scans.scan(
        text, spot, by=bela.by, station=bela.station, now=bela.now, key=f"key {ms}"
    )


def typed_at(tag: str) -> list[str]:
    with connection():
        return [entry.typed for entry in hand_of(tag).entries]


@pytest.mark.parametrize("apart", [301, 400, 500, 999, 1_000])
def test_an_equal_reading_a_moment_later_is_the_next_reading(tag: str, apart: int) -> None:
    for place in range(3):
        assert not sent(tag, "24.010", place * apart).repeat
    assert typed_at(tag) == ["24.010"] * 3


@pytest.mark.parametrize("apart", [1, 40, 300])
def test_a_key_that_bounces_is_one_reading_and_said_so(tag: str, apart: int) -> None:
    sent(tag, "24.010", 0)
    assert sent(tag, "24.010", apart).repeat
    assert typed_at(tag) == ["24.010"]


def test_equal_words_and_letters_a_moment_apart_are_held_as_little(tag: str) -> None:
    sent(tag, "#thread", 0)
    sent(tag, "go", 500)
    assert not sent(tag, "go", 900).repeat


@pytest.mark.parametrize("text", ["tag", "order"])
def test_a_code_that_is_read_twice_within_a_second_acts_once(tag: str, text: str) -> None:
    code = tag if text == "tag" else order("again")
    sent(tag, "24.010", 0)
    sent(tag, "24.011", 500)
    sent(tag, code, 1_000)
    assert sent(tag, code, 1_400).repeat
    assert len(typed_at(tag)) == (2 if text == "tag" else 1)


@pytest.mark.parametrize("page", READING_PAGES)
def test_every_page_where_gauges_type_takes_equal_readings(page: str) -> None:
    bela = Inspector()
    desk = Desk()
    first, later = Spot(page, "x", at=FROM), Spot(page, "x", at=FROM + 400)
    desk.note("24.010", first, bela.now, ScanReply("good", "INSIDE", ""), "09:00")
    assert not desk.is_repeat("24.010", later, bela.now)
    assert desk.is_repeat("24.010", Spot(page, "x", at=FROM + 200), bela.now)


def test_other_pages_hold_an_equal_text_back_for_a_second() -> None:
    bela = Inspector()
    desk = Desk()
    desk.note("GP-1040", Spot("lot", "x", at=FROM), bela.now, ScanReply("good", "", ""), "09:00")
    assert desk.is_repeat("GP-1040", Spot("lot", "x", at=FROM + 400), bela.now)
