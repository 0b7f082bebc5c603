"""The stories planted at the demo's bench, each found where a person finds it: at its page."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import nullcontext
from datetime import UTC, datetime
from pathlib import Path
from zoneinfo import ZoneInfo

import pytest

from coretrack.actions import gauges, metal_tags, setting_up
from coretrack.actions.bench_home import bench_home
from coretrack.actions.core_life import core_view
from coretrack.actions.demo import run_demo
from coretrack.actions.gauge_studies import study_view
from coretrack.actions.look_views import agreement_view, looks_view
from coretrack.actions.process_checks import process_view
from coretrack.actions.rack_views import racks_view
from coretrack.actions.rework_views import rework_home, rework_view
from coretrack.actions.shelf_views import shelf_view
from coretrack.actions.station_settings import station_settings
from coretrack.actions.stock_take_views import take_view, takes_view
from coretrack.actions.wash_views import wash_view, washes_view
from coretrack.records import database, queries, schema
from coretrack.records.database import connection
from coretrack.records.happenings import history, newest_of

SAMPLES = Path(__file__).resolve().parent.parent / "sample_cores"
SHOP = ZoneInfo("America/Chicago")
NOW = datetime(2026, 11, 2, 12, tzinfo=UTC)
FRIDAY_EVENING = datetime(2026, 10, 30, 17, tzinfo=SHOP)
OWNER, TEODOR, MIRELLE = "Harlan Vosskamp", "Teodor Lanzik", "Mirelle Oxgate"


@pytest.fixture(scope="module", autouse=True)
def demo(tmp_path_factory: pytest.TempPathFactory) -> Iterator[None]:
    folder = tmp_path_factory.mktemp("demo")
    database.open_database(f"sqlite:///{folder / 'coretrack.db'}")
    schema.upgrade()
    run_demo(NOW, lambda name: nullcontext(None), SAMPLES)
    yield
    database.release()


def tag(serial: str) -> str:
    with connection():
        (core,) = queries.cores_with_serial(serial)
    return str(core.tag)


def test_the_one_day_without_lamp_checks_stamps_its_results() -> None:
    (day,) = process_view("bench 1", NOW).stamped
    assert day.day == "2026-10-21"
    assert set(day.stamps) == {
        "no UV-A lamp check that day",
        "no bath check that day",
        "no white light check that day",
    }
    assert len(day.tags) == 3


def test_a_core_of_that_day_shows_its_stamp() -> None:
    (day,) = process_view("bench 1", NOW).stamped
    for each in day.tags:
        verdict = core_view(each).past.verdicts[-1]
        (crack,) = [reading for reading in verdict.readings if reading.stamps]
        assert crack.check == "Crack check"
        assert all(stamp.startswith("no ") for stamp in crack.stamps)


def test_on_the_day_of_the_weak_lamp_the_newer_check_counts() -> None:
    shown = process_view("", datetime(2026, 9, 10, 15, tzinfo=SHOP)).kinds
    (lamp,) = next(kind for kind in shown if kind.kind.code == "uv lamp").today
    assert (lamp.good, lamp.at, lamp.note, lamp.times) == (True, "07:26", "new bulb", 2)
    with connection():
        first = history("process check", "2026-09-10/uv lamp/Booth 1")[0].detail
    assert first["result"] == "not good"
    assert first["note"].startswith("UV-A at the part is 8.8 W/m², wanted")


def test_every_other_result_of_half_a_year_has_its_check_behind_it() -> None:
    with connection():
        told = newest_of("core", "inspected", 100_000)
    readings = [reading for event in told for reading in event.detail["readings"]]
    assert len({reading["at"][:10] for reading in readings}) > 100
    stamped = {reading["at"][:10] for reading in readings if reading.get("stamps")}
    assert stamped == {"2026-10-21"}


def test_one_basket_is_in_the_wash_and_one_is_being_loaded() -> None:
    view = washes_view()
    found = {(each.name, wash_view(each.code, TEODOR).status) for each in view.under_way}
    assert found == {("Basket 2", "washing"), ("Basket 3", "loading")}
    held = {each.name: len(wash_view(each.code, TEODOR).slots) for each in view.under_way}
    assert held == {"Basket 2": 5, "Basket 3": 3}


def test_the_tipped_basket_stands_with_its_slots() -> None:
    (tipped,) = washes_view().last
    view = wash_view(tipped.code, TEODOR)
    assert (view.name, view.status, len(view.slots)) == ("Basket 7", "tipped", 12)
    with connection():
        cores = [queries.cores_tagged([slot.tag])[slot.tag] for slot in view.slots]
    assert all(core.source_lost and not core.basket for core in cores)


def test_four_metal_tags_are_on_cores_in_the_baskets() -> None:
    assert [bound.number for bound in metal_tags.tag_pool(OWNER).bound] == [31, 32, 33, 34]


def test_the_owner_is_asked_about_the_one_look_that_differs() -> None:
    view = looks_view(OWNER, "owner", NOW)
    (differs,) = view.differs
    assert differs.tag == tag("N497160")
    assert differs.first.startswith("Keep")
    assert differs.second.startswith("Scrap: Look")
    assert (differs.first_by, differs.second_by) == (TEODOR, MIRELLE)
    assert view.share == "10" == station_settings().second_look_percent


def test_two_looks_are_wanted_of_the_other_inspector() -> None:
    wanted = {tag(serial) for serial in ("N570519", "N933838")}
    view = looks_view(MIRELLE, "inspector", NOW)
    assert {look.tag for look in view.mine} == wanted
    assert {look.tag for look in looks_view(TEODOR, "inspector", NOW).others} == wanted
    assert tag("C777887") in {look.tag for look in view.undecided}
    (open_now,) = (one for one in bench_home(NOW, MIRELLE).waiting if one.code == "undecided")
    assert len(view.undecided) == open_now.count
    assert bench_home(NOW, MIRELLE).looks == len(view.mine) + len(view.undecided)


def test_the_three_looks_that_were_made_agree_in_two() -> None:
    every = agreement_view()[0]
    assert (every.looks, every.graded) == (3, 3)
    assert sum(every.table[place][place] for place in range(len(every.table))) == 2


def test_two_bodies_are_at_their_rework() -> None:
    assert rework_home(NOW).busy == 2
    begun = {
        serial: rework_view(tag(serial), OWNER, "", FRIDAY_EVENING).begun_by
        for serial in ("N963104", "C439672")
    }
    assert begun == {"N963104": TEODOR, "C439672": MIRELLE}


def test_a_rack_of_two_housings_waits_for_its_count() -> None:
    (rack,) = racks_view(MIRELLE, "bench 2", NOW).at_work
    assert (rack.family, rack.count) == ("TBH", 2)


def test_the_count_of_the_first_bin_misses_one_and_finds_one_that_belongs_elsewhere() -> None:
    (shown,) = takes_view()
    view = take_view(shown.code, OWNER)
    counts = {result: count for result, count in view.counts if count}
    assert counts == {"found": 3, "missing": 1, "in the wrong bin": 1}
    rows = {row.tag: row.result for row in view.rows if row.result != "found"}
    assert rows == {tag("N803129"): "missing", tag("N889639"): "in the wrong bin"}
    assert "not found" in view.note


def test_six_good_bodies_lie_in_two_bins() -> None:
    held = {each.name: each.count for each in shelf_view(NOW).bins if each.count}
    assert (held["Shelf 1"], held["Shelf 2"]) == (4, 2)


def test_one_gauge_is_overdue_and_one_was_checked() -> None:
    lines = {line.gauge.key: line for line in gauges.register(FRIDAY_EVENING).lines}
    assert lines["DB1"].stamped > 0
    assert [key for key, line in lines.items() if line.standing.overdue] == ["DB1"]
    assert lines["HG1"].gauge.checked_on == "2026-10-28"
    assert gauges.gauge_view("HG1", NOW).history[0].why.startswith("good check of 2026-10-28")


def test_the_study_of_the_air_gauge_gave_it_its_uncertainty() -> None:
    (study,) = gauges.gauge_view("AG1", NOW).studies
    view = study_view(study.key)
    assert (view.study.status, view.total, view.missing) == ("done", 30, ())
    assert view.result is not None
    assert view.gauge.uncertainty == view.result.uncertainty == view.study.proposed
    assert view.gauge.uncertainty != "0.0010"


def test_reading_the_shop_file_again_leaves_checks_studies_and_shares_alone() -> None:
    assert setting_up.set_up_from_folder(SAMPLES / "shop", by="demo", now=NOW, demo=True) == []
    assert gauges.gauge_view("HG1", NOW).line.gauge.checked_on == "2026-10-28"
