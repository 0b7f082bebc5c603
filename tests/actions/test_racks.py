"""Crack checks by the rack: counted by hand, exceptions marked, all others stored or none."""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import datetime, timedelta
from itertools import count
from typing import Any

import pytest
from bench_desk import GOOD_BODY, TODAY, Inspector, bodies, order
from core_yard import Yard
from databases import TestDatabase
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from coretrack.actions import cards, core_life, racks, station_scans
from coretrack.actions.bench_hand import hand_of
from coretrack.actions.rack_runs import Rack, rack_of, racks_at_work
from coretrack.actions.rack_views import rack_view, racks_view
from coretrack.errors import InvalidInput, NotAllowed, NotFound
from coretrack.figures.scan_replies import Offer, ScanReply, Spot
from coretrack.figures.tags import make_shop_code
from coretrack.records.database import connection

keys = (f"rack-{number}" for number in count())


@dataclass
class AtRack:
    """Somebody at the racks; every act comes two seconds after the one before."""

    by: str = "Bela Quirke"
    station: str = "booth"
    code: str = ""
    at: datetime = TODAY
    seen: str = field(default="")

    def told(self) -> dict[str, Any]:
        self.at += timedelta(seconds=2)
        return {"by": self.by, "station": self.station, "now": self.at, "key": next(keys)}

    def scan(self, *texts: str, seen: str | None = None) -> ScanReply:
        """Scan texts one after the other, looking at each answer; return the last one."""
        for text in texts:
            spot = Spot("rack", self.code, self.seen if seen is None else seen)
            reply = station_scans.scan(text, spot, **self.told())
            if reply.target == "rack" and not reply.offers:
                self.code = reply.code
            self.look()
        return reply

    def look(self) -> None:
        self.seen = self.rack().seen if self.code else ""

    def rack(self) -> Rack:
        with connection():
            return rack_of(self.code)

    def order(self, name: str) -> ScanReply:
        return self.scan(order(name))

    def choose(self, reply: ScanReply, words: str) -> ScanReply:
        (chosen,) = [offer for offer in reply.offers if words in offer.text]
        return self.scan(chosen.scan)


def entries(tag: str) -> list[tuple[str, str, str]]:
    """Return (check, result, detail) of what is typed of a core and not stored."""
    with connection():
        return [(entry.check, entry.result, entry.detail) for entry in hand_of(tag).entries]


@pytest.fixture
def tags(yard: Yard) -> list[str]:
    return bodies(yard, 5)


@pytest.fixture
def bela(yard: Yard) -> AtRack:
    return AtRack()


def counted(bela: AtRack, tags: list[str]) -> AtRack:
    """Put the cores in and confirm their count."""
    bela.scan(*tags)
    bela.order("done")
    assert bela.scan(str(len(tags))).word == f"{len(tags)} COUNTED"
    return bela


def stored(bela: AtRack) -> ScanReply:
    """Say that there is no other exception, and yes to storing."""
    assert bela.order("done").word == "STORE?"
    return bela.scan("")


def test_the_first_core_begins_the_rack_and_a_wrong_count_is_refused(
    bela: AtRack, tags: list[str]
) -> None:
    first = bela.scan(tags[0])
    assert (first.word, first.target, first.code) == ("1 IN", "rack", "R-0001")
    assert bela.scan(*tags[1:]).word == "5 IN"
    assert bela.order("done").word == "COUNT"
    wrong = bela.scan("4")
    assert (wrong.tone, wrong.word) == ("stop", "COUNT AGAIN")
    assert "1 core is not in the rack; look for it" in wrong.line
    assert "2 cores are in the rack that nobody scanned" in bela.scan("7").line
    assert not bela.rack().confirmed
    assert bela.scan("5").word == "5 COUNTED"
    assert all(entries(tag) == [] for tag in tags)


def test_all_others_are_stored_in_one_go_with_the_exceptions(
    yard: Yard, bela: AtRack, tags: list[str]
) -> None:
    counted(bela, tags)
    assert bela.scan(tags[1]).word == "UNSURE"
    assert bela.order("indication").word == "INDICATION"
    assert bela.scan("indication linear 4 mm at the seat").line.endswith("linear 4 mm at the seat.")
    assert bela.scan(tags[3]).word == "UNSURE"

    reply = stored(bela)

    assert (reply.word, reply.target, reply.code) == ("STORED", "rack", "")
    assert "3 cores with no indication, 1 with an indication, 1 unsure" in reply.line
    assert [entries(tag)[0][1] for tag in tags] == ["none", "indication", "none", "unsure", "none"]
    assert entries(tags[1]) == [("crack", "indication", "linear 4 mm at the seat")]
    (checked,) = [d for event, d in yard.history("core", tags[0]) if event == "crack checked"]
    assert (checked["result"], checked["counted"], checked["rack"]) == ("none", 5, "R-0001")
    assert checked["stamps"] == ["no white light check that day"]
    with connection():
        assert racks_at_work() == []
    assert yard.is_sound()


def test_a_verdict_keeps_what_the_rack_said(yard: Yard, bela: AtRack, tags: list[str]) -> None:
    counted(bela, tags)
    bela.scan(tags[1], "indication crack 2,5 mm at the flange", tags[3])
    stored(bela)
    verdicts = []
    for tag in tags:
        there = Inspector().at(tag)
        there.type(*GOOD_BODY[:5])
        if there.view().current is not None:
            there.type("A")
        verdicts.append(there.type("").word)
    assert verdicts == ["KEEP", "SCRAP", "KEEP", "UNDECIDED", "KEEP"]
    (told,) = [d for event, d in yard.history("core", tags[1]) if event == "inspected"]
    (reading,) = [each for each in told["readings"] if each["check"] == "crack"]
    assert reading["detail"] == "crack 2,5 mm at the flange"
    assert reading["crack"] == {
        "kind": "crack",
        "length": "2,5 mm",
        "micro_mm": 2_500_000,
        "place": "flange",
    }
    assert reading["stamps"] == ["no white light check that day"]
    assert yard.is_sound()


def test_a_core_of_another_family_in_already_failed_or_checked_is_said(
    yard: Yard, bela: AtRack, tags: list[str]
) -> None:
    bela.scan(tags[0])
    assert bela.scan(tags[0]).word == "ALREADY IN"
    yard.buy("C1", lot="L2", number="CB-77")
    assert bela.scan(yard.core("C1").tag).word == "OTHER FAMILY"
    failed = Inspector().at(tags[1])
    failed.type("24.300", "")
    assert bela.scan(tags[1]).word == "FAILED ALREADY"
    typed = Inspector().at(tags[2])
    typed.type("#crack", "none")
    reply = bela.scan(tags[2])
    assert (reply.word, "Bela Quirke" in reply.line) == ("CHECKED ALREADY", True)
    typed = Inspector().at(tags[3])
    typed.type("#crack", "indication")
    assert bela.scan(tags[3]).word == "FAILED ALREADY"
    assert bela.rack().tags == (tags[0],)


def test_one_is_taken_out_and_the_rest_has_to_be_counted_anew(
    yard: Yard, bela: AtRack, tags: list[str]
) -> None:
    bela.scan(*tags)
    assert bela.order("undo").word == "TAKEN OUT"
    assert bela.rack().tags == tuple(tags[:4])
    bela.choose(bela.scan(tags[0]), "out of the rack")
    assert bela.rack().tags == tuple(tags[1:4])
    bela.order("done")
    bela.scan("3")
    assert bela.rack().confirmed
    not_in = bela.scan(tags[0])
    assert not_in.word == "NOT IN IT"
    yard.buy("C1", lot="L2", number="CB-77")
    stranger = bela.scan(yard.core("C1").tag)
    assert (stranger.word, stranger.offers) == ("NOT IN IT", ())
    assert "of family" in stranger.detail
    not_in = bela.scan(tags[0])
    bela.choose(not_in, "count again")
    assert not bela.rack().confirmed
    racks.take_out(bela.code, tags[2], **bela.told())
    assert bela.rack().tags == (tags[1], tags[3], tags[0])


def test_where_a_core_is_says_the_rack_until_somebody_notes_another_place(
    yard: Yard, bela: AtRack, tags: list[str]
) -> None:
    def where() -> tuple[str, ...]:
        return core_life.core_view(tags[0]).past.where

    cards.make_places("rack", 3, 3, "Rack", by="Oda Fenn", station="", now=TODAY, key="rack 3")
    bela.scan(*tags, make_shop_code("rack", 3))
    assert where() == (
        "In rack R-0001, which stands in Rack 3, at its crack check; nothing of it is stored yet.",
    )
    bela.scan("done", "5")
    asked = bela.scan("done")
    assert (asked.word, "'done'" in f"{asked.line} {asked.detail}") == ("STORE?", False)
    kept = bela.scan("")
    assert "The crack check is kept with each body" in kept.detail
    assert where()[0].startswith("Last in rack R-0001, which stood in Rack 3, stored 2026-05-21 ")
    assert "1 entry kept with it" in where()[1]
    assert where()[1].endswith("the verdict is not stored yet.")
    cards.make_places("bin", 1, 1, "Bench", by="Oda Fenn", station="", now=TODAY, key="bin 1")
    core_life.put_core(tags[0], make_shop_code("bin", 1), **bela.told())
    assert where()[0] == "In Bench 1."


def test_leaving_and_going_on_at_another_station_loses_nothing(
    bela: AtRack, tags: list[str]
) -> None:
    bela.scan(*tags[:3])
    there = AtRack("Una Pryor", "booth 2", at=bela.at)
    assert there.scan(tags[1]).word == "IN A RACK"
    assert there.code == bela.code
    there.scan(*tags[3:])
    there.order("done")
    there.scan("5")
    (line,) = racks_view("Una Pryor", "booth 2", there.at).at_work
    assert (line.count, line.counted, line.by) == (5, True, "Una Pryor")
    there.order("done")
    bela.look()
    bela.scan(tags[0])
    assert there.scan("", seen=there.seen).word in ("LOOK AGAIN", "STORE?")
    assert all(entries(tag) == [] for tag in tags)


def test_what_was_stored_meanwhile_elsewhere_stops_the_whole_rack(
    bela: AtRack, tags: list[str]
) -> None:
    counted(bela, tags)
    Inspector().at(tags[2]).type("#crack", "indication")
    bela.order("done")
    reply = bela.scan("")
    assert (reply.tone, "nothing was stored" in reply.line) == ("stop", True)
    assert [len(entries(tag)) for tag in tags] == [0, 0, 1, 0, 0]
    racks.take_out(bela.code, tags[2], **bela.told())
    bela.look()
    assert bela.order("done").word == "COUNT"


def test_an_indication_taken_back_stays_unsure_and_can_not_be_taken_out(
    yard: Yard, bela: AtRack, tags: list[str]
) -> None:
    counted(bela, tags)
    bela.scan(tags[0])
    bela.order("indication")
    assert bela.order("undo").word == "UNSURE"
    assert bela.order("no indication").word == "UNSURE"
    with pytest.raises(NotAllowed, match="An indication was marked"):
        racks.take_out(bela.code, tags[0], **bela.told())
    with pytest.raises(NotAllowed, match="Exceptions are marked"):
        racks.give_up(bela.code, **bela.told())
    stored(bela)
    there = Inspector().at(tags[0])
    there.type(*GOOD_BODY[:5], "A", "#crack")
    anew = there.type("none")
    there.type("")
    assert anew.word != "KEEP?"
    assert yard.core("B1").state != "good"


def test_nothing_is_stored_without_a_confirmed_count_or_by_one_enter(
    bela: AtRack, tags: list[str]
) -> None:
    bela.scan(*tags)
    assert bela.scan("").word == "GO ON"
    assert bela.order("done").word == "COUNT"
    assert bela.scan("").word == "COUNT"
    assert bela.order("indication").word == "COUNT FIRST"
    bela.scan("5")
    assert bela.scan("").word == "STORE?"
    assert bela.order("indication").word == "WHICH CORE?"
    assert all(entries(tag) == [] for tag in tags)


def test_sent_twice_by_its_key_a_rack_is_stored_once(
    yard: Yard, bela: AtRack, tags: list[str]
) -> None:
    counted(bela, tags)
    bela.order("done")
    told, spot = bela.told(), Spot("rack", bela.code, bela.seen)
    first = station_scans.scan("", spot, **told)
    assert station_scans.scan("", spot, **told) == first
    assert [len(entries(tag)) for tag in tags] == [1] * 5
    with pytest.raises(NotFound, match="it is stored"):
        rack_view(bela.code, bela.by, bela.station, bela.at)


def test_the_card_of_a_rack_opens_it_again(yard: Yard, bela: AtRack, tags: list[str]) -> None:
    cards.make_places("rack", 1, 2, "Rack", by="Oda Fenn", station="", now=yard.now, key="cards")
    bela.scan(tags[0])
    assert bela.scan(make_shop_code("rack", 1)).word == "RACK 1"
    there = AtRack("Una Pryor", at=bela.at)
    there.scan(make_shop_code("rack", 1))
    assert there.code == bela.code
    assert AtRack("Una Pryor", at=there.at).scan(make_shop_code("rack", 2)).code == ""


def test_a_rack_begun_from_the_list_and_given_up_leaves_nothing(
    yard: Yard, bela: AtRack, tags: list[str]
) -> None:
    bela.code = racks.begin_rack("GPB", "crack", **bela.told())
    bela.look()
    bela.scan(tags[0])
    with pytest.raises(InvalidInput, match="2 cores counted, 1 scanned"):
        racks.count_rack(bela.code, "2", **bela.told())
    racks.count_rack(bela.code, "1", **bela.told())
    racks.give_up(bela.code, **bela.told())
    with pytest.raises(NotFound):
        racks.begin_rack("GPB", "bore", **bela.told())
    with connection():
        assert racks_at_work() == []


ACTS = ("0", "1", "2", "3", "count", "wrong count", "done", "undo", "indication", "unsure",
        "no indication", "none", "enter", "stale enter", "cancel", "offer 1", "offer 2",
        "indication linear 3 mm at the seat")  # fmt: skip


def test_the_rack_never_leads_to_keep_with_an_exception_or_without_the_count(
    sqlite_db: TestDatabase,
) -> None:
    yard = Yard()
    yard.set_up()
    supply = iter(bodies(yard, 160))
    kept = refused = 0

    in_order = st.just(["0", "1", "2", "3", "done", "count"])
    marked = st.sampled_from((["1"], ["1", "indication"], ["2", "unsure", "0", "undo"], []))
    likely = st.tuples(in_order, marked, st.just(["done", "enter"])).map(
        lambda parts: [act for part in parts for act in part]
    )
    anything = st.lists(st.sampled_from(ACTS), max_size=16)

    @settings(max_examples=40, deadline=None, suppress_health_check=list(HealthCheck))
    @given(st.one_of(likely, anything, st.tuples(likely, anything).map(lambda t: t[0][:-1] + t[1])))
    def check(acts: list[str]) -> None:
        nonlocal kept, refused
        tags = [tag for tag in (next(supply, "") for _ in range(4)) if tag]
        if len(tags) < 4:
            return
        bela, marks = AtRack(), set[str]()
        bela.code = racks.begin_rack("GPB", "crack", **bela.told())
        bela.look()
        right, offers = False, tuple[Offer, ...]()
        for act in acts:
            with connection():
                at_work = {rack.code for rack, _ in racks_at_work()}
            if bela.code not in at_work:
                break
            before = bela.rack()
            text = {
                "count": str(len(before.tags)),
                "wrong count": str(len(before.tags) + 1),
                "enter": "",
                "stale enter": "",
            }.get(act, tags[int(act)] if act.isdigit() else act)
            if act.startswith("offer"):
                place = int(act[-1]) - 1
                if place >= len(offers):
                    continue
                text = offers[place].scan
            spot = Spot("rack", bela.code, "old" if act == "stale enter" else bela.seen)
            reply = station_scans.scan(text, spot, **bela.told())
            offers = reply.offers
            if reply.word == "STORED":
                right = before.confirmed and before.counted == len(before.tags)
                marks = {tag for tag in before.tags if before.result_of(tag) != "none"}
                marks |= set(before.doubts)
                break
            bela.look()
        for tag in tags:
            there = Inspector().at(tag)
            there.type(*GOOD_BODY[:5])
            there.type("#look", "A", "")
            core = next(core for core in yard.cores() if core.tag == tag)
            if core.state != "good":
                refused += 1
                continue
            kept += 1
            assert right
            assert tag not in marks

    check()
    assert kept > 0
    assert refused > 0
    assert yard.is_sound()
