"""What the large panel says of a form that came back: not stored, and its first fault."""

from __future__ import annotations

from dataclasses import dataclass, field

import pytest
from core_yard import Yard
from databases import TestDatabase
from station_client import StationClient, words

from coretrack.web.panel import READY, Panel, panel_now, why_refused


@dataclass
class Page:
    problems: dict[str, str] = field(default_factory=dict)
    message: str = ""
    panel: Panel | None = READY


@pytest.mark.parametrize(
    ("page", "said"),
    [
        (Page(), ""),
        (Page({"count": "Count again.", "note": "Too long."}), "Count again."),
        (Page({"": "The 5 counted are not 6.", "count": "6"}), "The 5 counted are not 6."),
        (Page({"count": "6"}, "The 5 counted are not 6."), "The 5 counted are not 6."),
        (Page({}, "This is no whole number."), "This is no whole number."),
        (object(), ""),
    ],
)
def test_the_first_fault_is_the_whole_message_where_there_is_one(page: object, said: str) -> None:
    assert why_refused(page) == said


def test_a_refused_form_comes_before_what_the_page_would_say() -> None:
    refused = panel_now(Page({"day": "Choose a day."}))
    assert (refused.tone, refused.word, refused.line) == ("stop", "NOT STORED", "Choose a day.")
    assert panel_now(Page()) == READY


@pytest.mark.parametrize(
    ("path", "form", "why"),
    [
        ("/gauges/", {"code": ""}, "NOT STORED"),
        ("/labels/cards/places", {"kind": "bin", "first": "1", "last": "x"}, "not 'x'"),
        ("/bench/process/check", {"kind": "uv lamp", "place": "Booth 1"}, "NOT STORED"),
        ("/people/add", {"name": "Kit Orme", "password": "short"}, "NOT STORED"),
    ],
)
def test_pages_of_every_kind_say_it(
    sqlite_db: TestDatabase, path: str, form: dict[str, str], why: str
) -> None:
    Yard().set_up()
    page = StationClient("owner", "Ilse Thornby").post(path, {**form, "key": "k"})
    assert page.status_code == 422
    said = words(page)
    assert "NOT STORED" in said
    assert why in said
    assert said.count("Nothing was stored") + said.count("Not stored. Nothing typed") <= 1
