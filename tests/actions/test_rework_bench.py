"""Rework by scan: oldest first, begun and finished, stock over all lives, measured again."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from decimal import Decimal

import pytest
from bench_desk import GOOD_BODY, Inspector
from bench_floor import Floor
from core_yard import Yard, money
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from coretrack.actions import rework_forms
from coretrack.actions.rework_forms import FinishTyped
from coretrack.actions.rework_views import ReworkView, rework_home, rework_view
from coretrack.errors import InvalidInput, NotAllowed

WORN = ("23.970", "23.971", "23.972")
"""A bore that honing can save."""

START = datetime(2026, 5, 23, 14, tzinfo=UTC)


@pytest.fixture
def floor(yard: Yard) -> Floor:
    """Three bodies: two with a worn bore, judged on different days, one of them dirty too."""
    yard.now = START
    yard.buy("A1", "A2", "A3")
    yard.measure("A2", at="2026-05-20 09:00", bore=WORN)
    yard.measure("A1", at="2026-05-22 09:00", bore=WORN, look="C")
    return Floor(yard, page="rework")


def tag(floor: Floor, serial: str) -> str:
    return str(floor.yard.core(serial).tag)


def view(floor: Floor, serial: str) -> ReworkView:
    return rework_view(tag(floor, serial), floor.by, "floor", floor.at)


def at(floor: Floor, serial: str) -> Floor:
    floor.code = ""
    floor.core(serial)
    assert floor.code == tag(floor, serial)
    return floor


def wait(floor: Floor, minutes: float) -> None:
    floor.at += timedelta(minutes=minutes)


def test_the_queue_is_by_operation_with_the_oldest_first(floor: Floor) -> None:
    home = rework_home(floor.at)
    assert [(queue.code, queue.count) for queue in home.queues] == [("hone", 2), ("clean", 1)]
    hone = home.queues[0]
    assert [row.tag for row in hone.rows] == [tag(floor, "A2"), tag(floor, "A1")]
    assert [row.days for row in hone.rows] == [3, 1]
    assert (hone.rows[0].stock, hone.rows[0].passes) == ("0.060 mm of 0.060 mm", 2)
    assert (home.bodies, home.busy) == (2, 0)


def test_enter_begins_and_later_finishes_with_the_minutes_since(floor: Floor) -> None:
    at(floor, "A2")
    begun = floor.scan("")
    assert (begun.word, floor.yard.core("A2").rework_begun) == ("BEGUN", "hone")
    assert rework_home(floor.at).queues[0].rows[0].busy.startswith("Bela Quirke, ")
    wait(floor, 13)
    assert view(floor, "A2").minutes == "13 minutes"
    done = floor.scan("")
    assert (done.tone, done.word) == ("good", "MEASURE AGAIN")
    assert "0.030 mm of 0.060 mm is gone over all lives" in done.detail
    assert "To be measured again: Gear bore, Crack check." in done.detail
    core = floor.yard.core("A2")
    assert (core.state, core.removed, core.rework_begun) == ("reinspect", {"bore": 30_000}, "")
    assert floor.yard.history("core", core.tag)[-1][1]["minutes"] == "13"
    assert core.rework == money("8.60")  # 13 minutes at 36.00 an hour, and 0.80 of stones
    assert floor.yard.is_sound()


def test_the_tag_once_more_does_what_enter_does(floor: Floor) -> None:
    at(floor, "A2")
    assert floor.core("A2").word == "BEGUN"
    wait(floor, 10)
    assert floor.core("A2").word == "MEASURE AGAIN"


def test_time_that_is_no_measure_of_the_work_is_not_proposed(floor: Floor) -> None:
    at(floor, "A2").scan("")
    wait(floor, 300)
    shown = view(floor, "A2")
    assert (shown.minutes, shown.minutes_why[:11]) == ("10 minutes", "by the plan")
    floor.scan("")
    assert floor.yard.history("core", tag(floor, "A2"))[-1][1]["minutes"] is None


def test_finished_seconds_after_it_was_begun_is_asked_back(floor: Floor) -> None:
    at(floor, "A2").scan("")
    asked = floor.scan("")
    assert (asked.word, floor.yard.core("A2").state) == ("FINISHED?", "rework")
    assert floor.choose(asked, "is finished").word == "MEASURE AGAIN"


def test_done_without_a_beginning_is_asked_once(floor: Floor) -> None:
    at(floor, "A2")
    asked = floor.order("done")
    assert asked.word == "FINISHED?"
    floor.choose(asked, "is finished")
    assert floor.yard.core("A2").state == "reinspect"


def test_minutes_and_stock_are_kept_as_typed(floor: Floor) -> None:
    at(floor, "A2").scan("")
    assert floor.scan("0,5 h").word == "MINUTES"
    assert "0.020 mm" in floor.scan("0,020").line
    assert "0.0254 mm" in floor.scan("0.001 in").line
    wait(floor, 2)
    floor.scan("")
    told = floor.yard.history("core", tag(floor, "A2"))[-1][1]
    assert (Decimal(told["minutes"]), told["removed"], told["removed_typed"]) == (
        30, 25_400, "0.001 in",
    )  # fmt: skip
    assert floor.yard.is_sound()


def test_an_inch_taken_for_a_millimetre_is_asked_back(floor: Floor) -> None:
    at(floor, "A2").scan("")
    asked = floor.scan("0.0012")
    assert asked.word == "REALLY?"
    wait(floor, 5)
    assert floor.scan("").word == "REALLY?"
    assert floor.choose(asked, "Take 0.030").word == "STOCK"
    assert view(floor, "A2").stock == "0.03048 mm"
    assert floor.order("undo").word == "TAKEN BACK"
    assert view(floor, "A2").stock == "0.030 mm"


@pytest.mark.parametrize("text", ["-0.02", "2000 min", "12 bar", "0.02 kg"])
def test_what_is_no_stock_and_no_minutes_is_refused_in_words(floor: Floor, text: str) -> None:
    at(floor, "A2").scan("")
    assert floor.scan(text).tone == "stop"
    assert not view(floor, "A2").asked
    assert view(floor, "A2").stock == "0.030 mm"


def test_more_than_the_allowance_is_not_stored_and_the_owner_may_scrap_it(floor: Floor) -> None:
    at(floor, "A2").scan("")
    wait(floor, 10)
    floor.scan("0.061")
    refused = floor.scan("")
    assert (refused.tone, refused.word) == ("stop", "TOO MUCH")
    assert "the allowance is 0.06" in refused.line
    assert floor.yard.core("A2").removed == {}
    assert view(floor, "A2").stock == "0.061 mm"
    floor.scan("0.060")
    assert "no further pass fits" in floor.scan("").detail
    assert floor.yard.core("A2").removed == {"bore": 60_000}


def test_stock_counts_over_all_lives_of_the_body(floor: Floor) -> None:
    yard = floor.yard
    at(floor, "A2").scan("")
    wait(floor, 10)
    floor.scan("0.045")
    floor.scan("")
    yard.measure("A2", at="2026-05-23 12:00")
    yard.buy("A2", lot="L2", day="2026-05-24")
    assert yard.core("A2").removed == {"bore": 45_000}
    # A further pass takes 0.030 and only 0.015 is left: the same bore is scrap in this life.
    yard.measure("A2", at="2026-05-25 09:00", bore=WORN)
    assert yard.core("A2").state == "scrapped"


def test_only_reworked_and_disturbed_checks_come_back_and_passes_are_capped(floor: Floor) -> None:
    yard = floor.yard
    inspector = Inspector(start=START + timedelta(days=1))
    for _ in range(2):
        at(floor, "A2").scan("")
        wait(floor, 10)
        reply = floor.scan("")
        inspector.at(tag(floor, "A2"))
        due = [check.code for check in inspector.view().checks if check.due]
        assert due == ["bore", "crack"]
        inspector.type(*WORN, "none")
        inspector.type("")
    assert "no further pass fits" in reply.detail
    # The third pass would take the body past its allowance.
    assert yard.core("A2").state == "scrapped"
    assert yard.is_sound()


def test_a_round_trip_ends_on_the_shelf(floor: Floor) -> None:
    at(floor, "A2").scan("")
    wait(floor, 10)
    done = floor.scan("")
    opened = floor.choose(done, "Inspect")
    assert (opened.target, opened.code) == ("bench", tag(floor, "A2"))
    inspector = Inspector(start=START + timedelta(days=1)).at(tag(floor, "A2"))
    inspector.type(*GOOD_BODY[:3], "none")
    assert inspector.type("").word == "KEEP"
    assert floor.yard.tally("family")["GPB"]["kept_after_rework"] == 1
    assert floor.yard.is_sound()


def test_of_several_operations_one_is_chosen(floor: Floor) -> None:
    at(floor, "A1")
    asked = floor.scan("")
    assert (asked.word, len(asked.offers)) == ("WHICH?", 2)
    assert floor.choose(asked, "Clean again").word == "BEGUN"
    floor.scan("#hone")
    assert view(floor, "A1").chosen.code == "hone"  # type: ignore[union-attr]
    floor.scan("clean again")
    wait(floor, 4)
    done = floor.scan("")
    assert (done.word, floor.yard.core("A1").state) == ("FINISHED", "rework")
    assert "Next: Hone the bore." in done.detail


def test_undo_puts_a_begun_operation_down_and_never_a_finished_one(floor: Floor) -> None:
    at(floor, "A2").scan("")
    assert floor.order("undo").word == "PUT DOWN"
    assert floor.yard.core("A2").rework_begun == ""
    assert "A finished pass stays" in floor.order("undo").line
    assert floor.yard.is_sound()


def test_another_person_goes_on_with_what_was_begun(floor: Floor) -> None:
    at(floor, "A2").scan("")
    other = Floor(floor.yard, page="rework", by="Una Pryor")
    other.at = floor.at
    other.core("A2")
    other.scan("0.025")
    assert view(floor, "A2").stock == "0.025 mm"
    wait(other, 11)
    other.scan("")
    assert floor.yard.history("core", tag(floor, "A2"))[-1][1]["person"] == "Una Pryor"


def test_a_page_that_is_no_longer_so_is_looked_at_again(floor: Floor) -> None:
    from coretrack.actions import station_scans
    from coretrack.figures.scan_replies import Spot

    seen = view(floor, "A2").seen
    at(floor, "A2").scan("")
    spot = Spot("rework", tag(floor, "A2"), seen)
    wait(floor, 5)
    told = {"by": "Una Pryor", "station": "bench 2", "now": floor.at, "key": "late"}
    assert station_scans.scan("", spot, **told).word == "LOOK AGAIN"
    assert floor.yard.core("A2").state == "rework"


def test_a_body_that_waits_for_nothing_says_what_it_is(floor: Floor) -> None:
    floor.code = ""
    reply = floor.core("A3")
    assert (reply.word, reply.target) == ("NO REWORK", "")
    assert "waiting for inspection" in reply.line
    assert floor.scan("nothing known").tone in ("stop", "ask")
    assert floor.order("undo").tone == "stop"


def test_a_sent_scan_acts_once(floor: Floor) -> None:
    at(floor, "A2").scan("", key="one")
    wait(floor, 10)
    assert floor.scan("", key="one").word == "BEGUN"
    assert floor.yard.core("A2").state == "rework"


def test_the_form_finishes_with_what_was_typed(floor: Floor) -> None:
    which = tag(floor, "A2")
    rework_forms.begin_typed(which, "hone", **floor.told())
    wrong = FinishTyped("hone", minutes="soon", stock="0.0012")
    with pytest.raises(InvalidInput) as error:
        rework_forms.finish_typed(which, wrong, **floor.told())
    assert set(error.value.fields) == {"minutes", "stock"}
    told = FinishTyped("hone", "12", "0.0012", "stone worn", sure=True)
    said = rework_forms.finish_typed(which, told, **floor.told("form"))
    assert rework_forms.finish_typed(which, told, **floor.told("form")) == said
    detail = floor.yard.history("core", which)[-1][1]
    assert (detail["minutes"], detail["removed"], detail["note"]) == ("12", 1_200, "stone worn")
    with pytest.raises(NotAllowed):
        rework_forms.begin_typed(which, "hone", **floor.told())


def test_a_hint_says_what_is_known_and_what_is_not(floor: Floor) -> None:
    assert rework_home(floor.at).queues[0].hint.words == (
        "Not known whether reworking pays: no reworked body has been decided yet."
    )
    yard = floor.yard
    yard.finish("A2", "hone")
    yard.measure("A2", at="2026-05-23 08:00")
    hint = rework_home(floor.at).queues[0].hint
    assert hint.words.endswith("1 of 1 pass so far ended in a good body, too few to be sure.")
    assert "more than its scrap" in hint.money


@settings(max_examples=25, deadline=None, suppress_health_check=list(HealthCheck))
@given(stocks=st.lists(st.integers(1, 120_000), min_size=1, max_size=6))
def test_no_row_of_passes_ever_exceeds_the_allowance(stocks: list[int]) -> None:
    """Over all lives: each pass is stored only when the sum stays within the allowance."""
    from coretrack.figures.plans import Operation
    from coretrack.figures.rework import BodyHistory, over_allowance, stock_left

    hone = Operation("hone", "Hone", 10, 0, 9, check="bore", removes=30_000, allowance=60_000)
    lives = BodyHistory()
    for stock in stocks:
        gone = lives.removed.get("bore", 0)
        refused = over_allowance(hone, stock, lives)
        assert (refused is None) == (gone + stock <= 60_000)
        if refused is None:
            passes = lives.passes.get("hone", 0) + 1
            lives = BodyHistory({"bore": gone + stock}, {"hone": passes})
        assert lives.removed.get("bore", 0) <= 60_000
        assert stock_left(hone, lives) == 60_000 - lives.removed.get("bore", 0)


@settings(
    max_examples=6, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture]
)
@given(stocks=st.lists(st.integers(3, 120), min_size=1, max_size=4))
def test_at_the_bench_no_typed_stock_exceeds_it_either(floor: Floor, stocks: list[int]) -> None:
    for stock in stocks:
        core = floor.yard.core("A2")
        if core.state != "rework":
            break
        at(floor, "A2").scan("")
        floor.scan(f"{stock / 1000:.3f}")
        wait(floor, 10)
        floor.scan("")
        assert sum(floor.yard.core("A2").removed.values()) <= 60_000
        floor.order("undo")
        floor.order("undo")
