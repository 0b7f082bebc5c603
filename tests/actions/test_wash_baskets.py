"""A basket is loaded slot by slot, counted in, counted out and labelled again in slot order."""

from __future__ import annotations

from dataclasses import replace

import pytest
from bench_floor import Floor, basket, bin_code, furnish, metal_tag
from core_yard import Yard

from coretrack.actions import cards, metal_tags, station_labels, washes
from coretrack.actions.wash_views import wash_card, wash_view, washes_view
from coretrack.actions.washes import Tipping
from coretrack.errors import InvalidInput, NotAllowed, NotFound
from coretrack.figures.tags import make_shop_code

SERIALS = ("A1", "A2", "A3", "A4")


@pytest.fixture
def floor(yard: Yard) -> Floor:
    """Four bought gear-pump bodies, three baskets, somebody at the page of baskets."""
    furnish(yard)
    yard.buy(*SERIALS)
    return Floor(yard)


def tags(floor: Floor, *serials: str) -> tuple[str, ...]:
    return tuple(floor.yard.core(serial).tag for serial in serials)


def loaded(floor: Floor, number: int = 1, serials: tuple[str, ...] = SERIALS) -> str:
    """Load a basket, count it into the wash, and return the wash."""
    floor.code = ""
    floor.scan(basket(number))
    floor.core(*serials)
    floor.order("done")
    floor.scan(str(len(serials)))
    return floor.code


def test_cores_go_into_slots_in_the_order_they_are_scanned(floor: Floor) -> None:
    begun = floor.scan(basket(1))
    assert (begun.word, begun.target, begun.code) == ("BASKET 1", "wash", "W-0001")
    assert [floor.core(serial).word for serial in SERIALS] == [f"SLOT {n}" for n in (1, 2, 3, 4)]
    assert floor.core("A2").word == "SLOT 2"
    view = wash_view("W-0001", floor.by)
    assert [(slot.slot, slot.tag) for slot in view.slots] == list(
        enumerate(tags(floor, *SERIALS), start=1)
    )
    assert [(f.family, f.count) for f in view.families] == [("GPB", 4)]
    core = floor.yard.core("A3")
    assert (core.basket, core.slot, core.state) == (basket(1), 3, "waiting")
    assert floor.yard.is_sound()


def test_a_typed_number_sets_the_slot_and_an_empty_slot_stays_empty(floor: Floor) -> None:
    floor.scan(basket(1))
    floor.core("A1")
    assert floor.scan("7").word == "NEXT: 7"
    assert [floor.core(serial).word for serial in ("A2", "A3")] == ["SLOT 7", "SLOT 8"]
    assert floor.scan("7").word == "TAKEN"
    assert floor.scan("0").word == "NO SLOT"
    assert wash_view(floor.code, floor.by).next_slot == 9


def test_undo_takes_the_last_core_out_and_only_ones_own(floor: Floor) -> None:
    floor.scan(basket(1))
    floor.core("A1", "A2")
    other = replace(floor, by="Oda Fenn")
    assert "nothing of yours" in other.order("undo").line
    assert floor.order("undo").word == "TAKEN BACK"
    assert floor.yard.core("A2").basket == ""
    assert floor.core("A3").word == "SLOT 2"
    assert floor.yard.is_sound()


def test_a_wrong_count_is_refused_and_nothing_is_washed(floor: Floor) -> None:
    floor.scan(basket(1))
    floor.core(*SERIALS)
    assert floor.order("done").word == "COUNT"
    for wrong, said in (("3", "1 core is not in the basket"), ("6", "2 cores are in the basket")):
        reply = floor.scan(wrong)
        assert (reply.tone, reply.word) == ("stop", "COUNT AGAIN")
        assert said in reply.line
    assert wash_view(floor.code, floor.by).status == "loading"
    assert floor.scan("4").word == "INTO THE WASH"
    assert (wash_view(floor.code, floor.by).status, wash_view(floor.code, floor.by).counted) == (
        "washing",
        4,
    )
    assert floor.core("A1").word == "SLOT 1"


def test_an_empty_basket_is_not_counted(floor: Floor) -> None:
    floor.scan(basket(1))
    assert floor.order("done").word == "EMPTY"
    with pytest.raises(NotAllowed, match="Nothing lies in Basket 1"):
        washes.load_wash(floor.code, "0", **floor.told())
    washes.give_up(floor.code, **floor.told())
    assert washes_view().under_way == ()


def test_after_the_wash_all_labels_come_in_slot_order(floor: Floor) -> None:
    floor.scan(basket(1))
    floor.core("A4", "A2", "A3", "A1")
    floor.order("done")
    floor.scan("4")
    assert floor.order("done").word == "COUNT"
    assert floor.scan("3").word == "COUNT AGAIN"
    reply = floor.scan("4")
    assert (reply.word, reply.print_tags) == ("OUT", tags(floor, "A4", "A2", "A3", "A1"))
    assert {floor.yard.core(serial).basket for serial in SERIALS} == {""}
    view = wash_view(floor.code, floor.by)
    assert (view.status, view.tags) == ("done", tags(floor, "A4", "A2", "A3", "A1"))
    assert floor.scan("4").word == "OVER"
    assert floor.yard.is_sound()


def test_a_number_at_a_basket_in_the_wash_is_asked_about_before_it_ends_the_wash(
    floor: Floor,
) -> None:
    code = loaded(floor)
    before = floor.yard.events()
    asked = floor.scan("4")
    assert (asked.tone, asked.word, asked.print_tags) == ("ask", "THE COUNT?", ())
    assert floor.scan("9").word == "THE COUNT?"
    assert floor.yard.events() == before
    assert wash_view(code, floor.by).status == "washing"
    assert floor.scan("done").word == "COUNT"
    assert wash_view(code, floor.by).counting
    assert floor.scan("cancel").word == "IN THE WASH"
    asked = floor.scan("4")
    assert asked.word == "THE COUNT?"
    assert floor.choose(asked, "Yes, 4 cores counted out").word == "OUT"
    assert wash_view(code, floor.by).status == "done"
    assert floor.yard.is_sound()


def test_typed_words_do_at_a_basket_what_the_answers_say(floor: Floor) -> None:
    floor.scan(basket(1))
    assert "'done'" in floor.core("A1").line or "'done'" in floor.scan("").line
    floor.core("A2")
    assert floor.scan("undo").word == "TAKEN BACK"
    assert floor.scan("Done").word == "COUNT"
    assert floor.scan("back").word == "GO ON"


def test_the_labels_after_a_wash_carry_their_slots(floor: Floor) -> None:
    code = loaded(floor)
    out = tags(floor, *SERIALS)
    run = station_labels.note_printed(out, wash=code, **floor.told())
    drawn = " ".join(station_labels.sent_page(run).pages)
    for slot in range(1, 5):
        assert f"Basket 1, slot {slot}" in drawn
    assert station_labels.sent_run(floor_key(run, floor)) == run
    plain = station_labels.note_printed(out, **floor.told())
    assert "slot" not in " ".join(station_labels.sent_page(plain).pages)


def floor_key(run: station_labels.LabelRun, floor: Floor) -> str:
    """Send the same labels under a key of their own and return it."""
    told = floor.told("slots")
    station_labels.note_printed(run.tags, wash=run.wash, **told)
    return "slots"


def test_a_card_scanned_at_the_benchs_first_page_opens_what_it_stands_for(floor: Floor) -> None:
    bench = replace(floor, page="bench")
    opened = bench.scan(basket(1))
    assert (opened.target, opened.code) == ("wash", "W-0001")
    assert (bench.scan(bin_code(1)).target, bench.scan(bin_code(1)).code) == (
        "shelf",
        f"bin:{bin_code(1)}",
    )
    cards.make_places("rack", 1, 1, "Rack", by="Oda Fenn", station="", now=floor.at, key="rack")
    free = bench.scan(make_shop_code("rack", 1))
    assert (free.target, free.code, free.line) == (
        "rack",
        "",
        "Rack 1 is free. Scan the first core of the rack.",
    )
    home = replace(floor, page="home")
    assert home.scan(basket(1)).line == "Basket 1: 0 cores, being loaded for the wash (W-0001)."
    assert home.scan(make_shop_code("rack", 1)).line == "Rack 1 is free."


def test_a_core_of_another_basket_is_asked_about_and_moved(floor: Floor) -> None:
    floor.scan(basket(1))
    floor.core("A1", "A2")
    opened = floor.scan(basket(2))
    assert "Basket 1 stays as it is: 2 cores" in opened.detail
    asked = floor.core("A2")
    assert (asked.word, floor.yard.core("A2").basket) == ("OTHER BASKET", basket(1))
    assert floor.choose(asked, "move it to Basket 2").word == "SLOT 1"
    assert wash_view("W-0001", floor.by).tags == tags(floor, "A1")
    assert floor.yard.is_sound()


def test_scanning_a_basket_in_use_opens_its_wash_and_a_core_says_its_slot(floor: Floor) -> None:
    code = loaded(floor)
    floor.code = ""
    reply = floor.core("A3")
    assert (reply.word, reply.target, reply.code) == ("SLOT 3", "wash", code)
    floor.code = ""
    assert floor.scan(basket(1)).code == code
    floor.code = ""
    assert floor.scan("GP-1040").tone == "stop"


@pytest.mark.parametrize("text", ["0042300062", "9", "GP-1040", "what", ""])
def test_other_scans_at_the_page_of_baskets_change_nothing(floor: Floor, text: str) -> None:
    before = floor.yard.events()
    floor.scan(text)
    assert (floor.code, floor.yard.events()) == ("", before)


def test_a_basket_without_a_card_and_a_bin_are_no_baskets(floor: Floor) -> None:
    assert "not known here" in floor.scan(basket(9)).line
    assert "Shelf 1 is a bin" in floor.scan(bin_code(1)).line
    with pytest.raises(NotFound):
        wash_view("W-0009", floor.by)


def test_only_cores_on_their_way_to_the_bench_are_washed(floor: Floor) -> None:
    floor.yard.measure("A1")
    floor.scan(basket(1))
    reply = floor.core("A1")
    assert (reply.tone, reply.word) == ("stop", "STOP")
    assert "only cores on their way to the bench are washed" in reply.line
    assert floor.core("A2").word == "SLOT 1"
    assert floor.yard.is_sound()


def test_a_core_leaves_a_washing_basket_only_with_a_reason(floor: Floor) -> None:
    code = loaded(floor)
    (tag,) = tags(floor, "A2")
    with pytest.raises(InvalidInput, match="say why core"):
        washes.take_out(code, tag, " ", **floor.told())
    assert washes.take_out(code, tag, "fell behind the tank", **floor.told()) == 2
    assert [floor.scan(text).word for text in ("", "3")] == ["COUNT", "OUT"]
    assert floor.yard.is_sound()


def test_a_form_sent_twice_acts_once(floor: Floor) -> None:
    first = washes.begin_wash(basket(1), **floor.told("once"))
    assert washes.begin_wash(basket(1), **floor.told("once")) == first
    floor.code = first
    floor.core(*SERIALS)
    washes.load_wash(first, "4", **floor.told())
    told = floor.told("out")
    assert washes.finish_wash(first, "4", **told) == washes.finish_wash(first, "4", **told)
    with pytest.raises(NotAllowed, match="is over"):
        washes.finish_wash(first, "4", **floor.told())


@pytest.mark.parametrize("count", ["", "four", "4.0", "-4", "٤"])
def test_a_count_that_is_no_whole_number_is_refused_by_name(floor: Floor, count: str) -> None:
    code = loaded(floor)
    with pytest.raises(InvalidInput) as told:
        washes.finish_wash(code, count, **floor.told())
    assert set(told.value.fields) == {"count"}


def test_the_card_names_every_slot(floor: Floor) -> None:
    floor.scan(basket(1))
    with pytest.raises(InvalidInput, match="Nothing lies in Basket 1"):
        wash_card(floor.code, floor.at)
    floor.core(*SERIALS)
    card = wash_card(floor.code, floor.at)
    assert card.content.startswith(b"%PDF")
    assert card.name.startswith("basket-card-W-0001")


def test_a_tipped_basket_keeps_families_and_loses_sources_with_exact_counts(floor: Floor) -> None:
    floor.yard.buy("C1", number="CB-77", lot="L2")
    floor.scan(basket(1))
    floor.core(*SERIALS, "C1")
    code = floor.code
    (other,) = [f.family for f in wash_view(code, floor.by).families if f.family != "GPB"]
    with pytest.raises(InvalidInput) as told:
        washes.tip_wash(code, Tipping({"GPB": "3", other: "2"}), **floor.told())
    assert set(told.value.fields) == {"family:GPB", f"family:{other}"}
    assert floor.yard.tally("family")["GPB"] == {"received": 4}
    with pytest.raises(InvalidInput, match="count it"):
        washes.tip_wash(code, Tipping({"GPB": "4"}), **floor.told())
    tipped = Tipping({"GPB": "4", other: "1"}, note="slid off the hook")
    assert washes.tip_wash(code, tipped, **floor.told()) == (tags(floor, *SERIALS, "C1"), 5)
    assert floor.yard.tally("family")["GPB"] == {"received": 4, "source_lost": 4}
    assert floor.yard.tally("lot") == {"L1": {}}
    assert floor.yard.tally("source") == {"COPP": {}}
    assert {core.source_lost for core in floor.yard.cores()} == {True}
    assert {core.basket for core in floor.yard.cores()} == {""}
    view = wash_view(code, floor.by)
    assert (view.status, view.counted, view.note) == ("tipped", 5, "slid off the hook")
    floor.yard.measure("A1")
    assert floor.yard.tally("family")["GPB"]["kept_first_pass"] == 1
    assert floor.yard.tally("lot") == {"L1": {}}
    assert floor.yard.is_sound()


def test_a_body_with_its_metal_tag_is_still_known_after_the_basket_tipped(floor: Floor) -> None:
    floor.scan(basket(1))
    floor.core("A1")
    assert floor.scan(metal_tag(12)).word == "TAG 12"
    floor.core("A2", "A3", "A4")
    floor.order("done")
    floor.scan("4")
    known = Tipping({"GPB": "4"}, known=tags(floor, "A1"))
    assert washes.tip_wash(floor.code, known, **floor.told())[1] == 3
    assert [floor.yard.core(s).source_lost for s in SERIALS] == [False, True, True, True]
    assert floor.yard.tally("lot")["L1"] == {"received": 1}
    with pytest.raises(NotAllowed, match="tipped and is over"):
        washes.tip_wash(floor.code, known, **floor.told())
    assert floor.yard.is_sound()


def test_a_core_that_does_not_lie_in_it_cannot_be_called_known(floor: Floor) -> None:
    floor.scan(basket(1))
    floor.core("A1", "A2")
    stranger = Tipping({"GPB": "2"}, known=tags(floor, "A3"))
    with pytest.raises(InvalidInput, match="does not lie in Basket 1"):
        washes.tip_wash(floor.code, stranger, **floor.told())
    assert not floor.yard.core("A1").source_lost


def test_a_metal_tag_is_on_one_core_at_a_time_and_means_its_core(floor: Floor) -> None:
    floor.code = "tags"
    assert floor.scan(metal_tag(12)).word == "FREE"
    floor.core("A1")
    assert floor.scan(metal_tag(12)).word == "TAG 12"
    assert floor.yard.core("A1").metal_tag == 12
    with pytest.raises(NotAllowed, match=r"wired to core .* release it there first"):
        metal_tags.bind_typed("A2", "12", **floor.told())
    floor.core("A2")
    shown = floor.scan(metal_tag(12))
    assert (shown.word, floor.yard.core("A2").metal_tag) == ("TAG 12", 0)
    floor.code = ""
    floor.scan(basket(1))
    assert floor.scan(metal_tag(12)).word == "SLOT 1"
    assert floor.yard.core("A1").slot == 1
    floor.code = "tags"
    assert floor.choose(floor.scan(metal_tag(12)), "Release").word == "FREE"
    assert floor.yard.core("A1").metal_tag == 0
    assert "wired to core" in metal_tags.bind_typed(tags(floor, "A2")[0], "12", **floor.told())
    assert [bound.number for bound in metal_tags.tag_pool(floor.by).bound] == [12]
    assert "free" in metal_tags.release_typed("12", "lost in the tank", **floor.told())
    with pytest.raises(NotAllowed, match="it is free"):
        metal_tags.release_typed("12", "", **floor.told())
    assert floor.yard.is_sound()


def test_a_bound_metal_tag_means_its_core_at_the_home_page(floor: Floor) -> None:
    metal_tags.bind_typed("A1", "7", **floor.told())
    home = Floor(floor.yard, page="home")
    reply = home.scan(metal_tag(7))
    assert (reply.target, reply.code) == ("core", tags(floor, "A1")[0])
    assert home.scan(metal_tag(8)).word == "METAL TAG"


@pytest.mark.parametrize("number", ["", "0", "12a", "100000", "-1", "1.5"])
def test_a_metal_tag_number_that_cannot_be_is_refused_by_name(floor: Floor, number: str) -> None:
    with pytest.raises(InvalidInput) as told:
        metal_tags.bind_typed("A1", number, **floor.told())
    assert set(told.value.fields) == {"number"}


def test_two_people_load_one_basket_without_taking_each_others_slots(floor: Floor) -> None:
    floor.scan(basket(1))
    other = Floor(floor.yard, code=floor.code, by="Oda Fenn")
    words = [floor.core("A1").word, other.core("A2").word, floor.core("A3").word]
    assert words == ["SLOT 1", "SLOT 2", "SLOT 3"]
    assert floor.yard.is_sound()


def test_a_scan_kept_and_sent_twice_fills_one_slot(floor: Floor) -> None:
    floor.scan(basket(1))
    (tag,) = tags(floor, "A1")
    first = floor.scan(tag, key="same")
    assert floor.scan(tag, key="same") == first
    assert len(wash_view(floor.code, floor.by).slots) == 1
