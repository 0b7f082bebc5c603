"""Good bodies on the shelf: into bins by scan, picked oldest first, put back; yields stay."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta

import pytest
from bench_floor import Floor, bin_code, file_rows, furnish, metal_tag
from core_yard import Yard

from coretrack.actions import metal_tags, shelf, shelf_views
from coretrack.actions.overview import shop_summary
from coretrack.actions.shelf_views import bin_view, pick_view, shelf_csv, shelf_view
from coretrack.errors import InvalidInput, NotAllowed, NotFound


@pytest.fixture
def floor(yard: Yard) -> Floor:
    """G1 good since 21 May, G2 since the 23rd, G3 since the 25th; S1 scrapped, W1 waiting."""
    furnish(yard)
    yard.buy("G1", "G2", "G3", "S1", "W1")
    for serial, day in (("G1", "21"), ("G2", "23"), ("G3", "25")):
        yard.measure(serial, at=f"2026-05-{day} 09:00")
    yard.measure("S1", crack="indication")
    return Floor(yard, page="shelf")


def at_build(floor: Floor, into: str = "B-7") -> Floor:
    return replace(floor, code=f"pick:{into}")


def test_bodies_are_put_into_a_bin_by_scan_and_moved_by_scan(floor: Floor) -> None:
    opened = floor.scan(bin_code(1))
    assert (opened.word, floor.code) == ("SHELF 1", f"bin:{bin_code(1)}")
    assert floor.core("G1", "G2").word == "SHELF 1"
    assert "already" in floor.core("G2").line
    floor.scan(bin_code(2))
    assert "out of Shelf 1" in floor.core("G2").line
    assert [body.tag for body in bin_view(bin_code(1), floor.at).bodies] == [
        floor.yard.core("G1").tag
    ]
    assert floor.scan("undo").word == "TAKEN BACK"
    assert floor.yard.core("G2").place == bin_code(1)
    assert "nothing of yours" in floor.order("undo").line
    assert floor.yard.is_sound()


@pytest.mark.parametrize(("serial", "said"), [("S1", "scrapped"), ("W1", "waiting")])
def test_only_good_bodies_go_onto_the_shelf(floor: Floor, serial: str, said: str) -> None:
    floor.scan(bin_code(1))
    before = floor.yard.events()
    reply = floor.core(serial)
    assert (reply.tone, reply.word) == ("stop", "NOT GOOD")
    assert said in reply.line
    assert at_build(floor).core(serial).word == "NOT GOOD"
    assert floor.yard.events() == before


def test_the_older_body_is_advised_and_the_younger_one_may_be_taken_all_the_same(
    floor: Floor,
) -> None:
    floor.scan(bin_code(1))
    floor.core("G1", "G2", "G3")
    build = at_build(floor)
    asked = build.core("G3")
    assert (asked.tone, asked.word) == ("ask", "OLDER FIRST")
    assert "in Shelf 1 is older" in asked.line
    assert floor.yard.core("G3").state == "good"
    assert build.core("G1").word == "PICKED"
    assert build.choose(build.core("G3"), "all the same").word == "PICKED"
    assert build.core("G2").word == "PICKED"
    picked = floor.yard.core("G3")
    assert (picked.state, picked.built_into, picked.place) == ("built", "B-7", "")
    assert floor.yard.history("core", picked.tag)[-1] == (
        "picked",
        {"into": "B-7", "from": bin_code(1)},
    )
    assert floor.yard.is_sound()


def test_a_body_of_another_core_group_is_never_called_older(floor: Floor) -> None:
    floor.yard.buy("C1", number="GP-2080", lot="L2")
    assert floor.yard.core("C1").core_group != floor.yard.core("G1").core_group
    floor.yard.measure("C1", at="2026-05-26 09:00")
    assert at_build(floor).core("C1").word == "PICKED"


def test_picking_and_putting_back_change_no_roll_up(floor: Floor) -> None:
    groupings = ("family", "lot", "source", "number", "month", "plan", "inspector", "batch")
    before = {grouping: floor.yard.tally(grouping) for grouping in groupings}
    good = shop_summary(floor.at)
    build = at_build(floor)
    build.core("G1", "G2")
    assert {grouping: floor.yard.tally(grouping) for grouping in groupings} == before
    after = shop_summary(floor.at)
    assert (good.kept, good.on_shelf, good.built) == (3, 3, 0)
    assert (after.kept, after.on_shelf, after.built) == (3, 1, 2)
    assert ("good (1 on the shelf + 2 built)", 3) in after.whereabouts
    assert sum(number for _, number in after.whereabouts) == after.received
    assert [row.counts.good for row in after.yields] == [row.counts.good for row in good.yields]
    build.order("undo")
    assert {grouping: floor.yard.tally(grouping) for grouping in groupings} == before
    assert floor.yard.is_sound()


def test_a_body_put_back_lies_in_the_bin_it_came_from_and_keeps_its_age(floor: Floor) -> None:
    floor.scan(bin_code(2))
    floor.core("G1")
    since = shelf_view(floor.at).bodies[0].since
    build = at_build(floor)
    build.core("G1")
    asked = build.core("G1")
    assert (asked.word, asked.line.endswith("was picked for B-7.")) == ("PICKED", True)
    back = build.choose(asked, "back on the shelf")
    assert (back.word, floor.yard.core("G1").state) == ("PUT BACK", "good")
    assert floor.yard.core("G1").place == bin_code(2)
    assert shelf_view(floor.at).bodies[0].since == since == "2026-05-21"
    tag = floor.yard.core("G1").tag
    with pytest.raises(NotAllowed, match="was not picked for a build"):
        shelf.put_back_by_hand(tag, **floor.told())
    build.core("G1")
    told = floor.told("back")
    assert shelf.put_back_by_hand(tag, **told) == shelf.put_back_by_hand(tag, **told)
    assert floor.yard.is_sound()


def test_a_long_list_of_bodies_comes_page_by_page_and_the_shelf_shows_the_oldest(
    floor: Floor, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(shelf_views, "MOST_LISTED", 2)
    monkeypatch.setattr(shelf_views, "OLDEST_SHOWN", 1)
    whole = shelf_view(floor.at)
    assert [body.tag for body in whole.bodies] == [floor.yard.core("G1").tag]
    assert (whole.found, whole.parts) == (3, 1)
    pages = [shelf_view(floor.at, "GPB", None, part) for part in (1, 2, 9)]
    assert [(page.part, page.parts, len(page.bodies)) for page in pages] == [
        (1, 2, 2),
        (2, 2, 1),
        (2, 2, 1),
    ]
    listed = [body.tag for page in pages[:2] for body in page.bodies]
    assert listed == [floor.yard.core(serial).tag for serial in ("G1", "G2", "G3")]


def test_the_shelf_by_family_bin_and_age_adds_up(floor: Floor) -> None:
    floor.scan(bin_code(1))
    floor.core("G2")
    at_build(floor).core("G1")
    view = shelf_view(floor.at)
    (family,) = view.families
    assert (family.good, family.on_shelf, family.in_no_bin, family.built) == (3, 2, 1, 1)
    assert family.oldest_days == 161
    assert [(shown.name, shown.count) for shown in view.bins] == [("", 1), ("Shelf 1", 1)]
    assert [(build.into, build.count) for build in view.builds] == [("B-7", 1)]
    assert [body.tag for body in view.bodies] == [
        floor.yard.core(serial).tag for serial in ("G2", "G3")
    ]
    assert len(shelf_view(floor.at, place="").bodies) == 1
    assert shelf_view(floor.at, family="nothing").bodies == ()
    rows = file_rows(shelf_csv(floor.at))
    assert rows[0][3:] == ["serial", "bin", "good since", "days", "metal tag"]
    assert rows[1][3:6] == ["G2", "Shelf 1", "2026-05-23"]
    assert len(rows) == 3


def test_the_build_shows_what_to_take_first(floor: Floor) -> None:
    at_build(floor).core("G1")
    view = pick_view(" B-7 ", "GPB", floor.at)
    assert [body.tag for body in view.picked] == [floor.yard.core("G1").tag]
    assert [body.serial for body in view.first] == ["G2", "G3"]


@pytest.mark.parametrize("into", ["", "   ", "x" * 61, "a\x07b"])
def test_a_build_has_to_be_named(floor: Floor, into: str) -> None:
    with pytest.raises(InvalidInput) as told:
        shelf.build_named(into)
    assert set(told.value.fields) == {"into"}
    assert at_build(floor, into).core("G1").tone == "stop"
    assert floor.yard.core("G1").state == "good"


def test_a_metal_tag_on_a_picked_body_is_pointed_out(floor: Floor) -> None:
    metal_tags.bind_typed("G1", "4", **floor.told())
    reply = at_build(floor).scan(metal_tag(4))
    assert reply.word == "PICKED"
    assert "Take metal tag 4 off it" in reply.detail


def test_a_built_body_comes_back_as_a_new_core_of_the_same_body(floor: Floor) -> None:
    at_build(floor).core("G1")
    floor.yard.sell("S9", day="2026-06-01")
    floor.yard.now += timedelta(days=1)
    answer = floor.yard.bring_back("G1", day="2026-06-10")
    assert (answer.stored, answer.rejected) == (1, ())
    assert floor.yard.is_sound()


def test_a_built_body_is_neither_inspected_nor_overruled(floor: Floor) -> None:
    at_build(floor).core("G1")
    assert (
        "picked from the shelf" in floor.yard.measure("G1", at="2026-06-01 09:00").rejected[0].why
    )
    with pytest.raises(NotAllowed, match="put it back first"):
        floor.yard.overrule("G1", "scrap")


def test_scans_at_the_shelf_say_where_a_body_lies(floor: Floor) -> None:
    floor.scan(bin_code(3))
    floor.core("G1")
    floor.code = ""
    assert floor.core("G1").word == "SHELF 3"
    assert floor.core("G2").word == "NO BIN"
    assert floor.core("S1").word == "NOT GOOD"
    assert floor.scan("GP-1040").tone == "stop"
    assert "not known here" in floor.scan(bin_code(9)).line
    with pytest.raises(NotFound):
        bin_view(bin_code(9), floor.at)


def test_a_bin_scanned_at_the_home_page_opens_it(floor: Floor) -> None:
    home = replace(floor, page="home")
    reply = home.scan(bin_code(1))
    assert (reply.word, reply.target, reply.code) == ("BIN", "shelf", f"bin:{bin_code(1)}")
    assert home.scan(bin_code(9)).target == ""
