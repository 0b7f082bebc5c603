"""Second looks: drawn by lot or undecided, made by other eyes, blind until they are stored."""

from __future__ import annotations

import random
from collections.abc import Iterator
from datetime import timedelta
from itertools import count

import pytest
from bench_desk import GOOD_BODY, TODAY, Inspector, bodies, order
from core_yard import Yard

from coretrack.actions import look_drawing, look_views, station_scans
from coretrack.actions.look_views import agreement_view, look_view, looks_view
from coretrack.actions.rework_views import rework_home
from coretrack.actions.shelf_views import shelf_view
from coretrack.errors import InvalidInput, NotAllowed
from coretrack.figures.bench_objects import SecondLook
from coretrack.figures.scan_replies import ScanReply, Spot
from coretrack.figures.second_looks import agreement
from coretrack.records.database import connection
from coretrack.records.objects import every
from coretrack.records.unseen import look_as
from coretrack.records.writer import writing

WORN = ("23.970", "23.971", "23.972", *GOOD_BODY[3:])
CRACKED = (*GOOD_BODY[:5], "indication linear 4 mm at the port")
GREY = ("24.039", "24.039", "24.039", *GOOD_BODY[3:])
"""Too near the limit for a gauge of that uncertainty."""

keys = (f"look-{number}" for number in count())


def share(yard: Yard, percent: str) -> None:
    with writing(yard.by, yard.now) as writer:
        writer.event("shop", "shop", "set", {"second_look_percent": percent})


@pytest.fixture
def all_drawn(yard: Yard) -> Yard:
    """The yard with every verdict drawn, and four bodies."""
    share(yard, "100")
    bodies(yard, 4)
    return yard


@pytest.fixture(autouse=True)
def nobody_looks() -> Iterator[None]:
    yield
    look_as(None)


def graded(yard: Yard, serial: str, texts: tuple[str, ...] = GOOD_BODY, by: str = "") -> str:
    """Have a body inspected and its verdict stored; return the large word."""
    inspector = Inspector(by or "Bela Quirke").at(yard.core(serial).tag)
    inspector.type(*texts)
    return inspector.type("").word


class Second:
    """Somebody at the second looks."""

    def __init__(self, yard: Yard, by: str = "Una Pryor") -> None:
        self.yard, self.by, self.code, self.seen = yard, by, "", ""
        self._at = TODAY + timedelta(hours=1)

    def send(self, text: str) -> ScanReply:
        self._at += timedelta(seconds=2)
        spot = Spot("second", self.code, self.seen)
        reply = station_scans.scan(
            text, spot, by=self.by, station="bench 2", now=self._at, key=next(keys)
        )
        if reply.target == "second":
            self.code = reply.code
        if self.code:
            found = look_view(self.code, self.by, "bench 2", self._at)
            self.seen = found.seen if found else ""
            self.code = self.code if found else ""
        return reply

    def look(self, serial: str, *texts: str) -> ScanReply:
        self.code = self.seen = ""
        reply = self.send(self.yard.core(serial).tag)
        for text in texts:
            reply = self.send(text)
        return reply


def looks(**wanted: str) -> list[SecondLook]:
    with connection():
        return every("second look", wanted)


def test_nothing_is_drawn_at_a_share_of_nothing(yard: Yard) -> None:
    bodies(yard, 1)
    assert graded(yard, "B1") == "KEEP"
    assert looks() == []


def test_a_verdict_is_drawn_in_its_own_transaction_and_the_draw_is_told(all_drawn: Yard) -> None:
    assert graded(all_drawn, "B1") == "KEEP"
    (look,) = looks()
    tag = all_drawn.core("B1").tag
    assert (look.key, look.why, look.status) == (f"{tag}/1", "drawn", "wanted")
    assert (look.first_grade, look.first_inspector) == ("keep", "Bela Quirke")
    assert all_drawn.core("B1").state == "good"
    assert all_drawn.is_sound()


def test_the_first_inspector_is_told_to_keep_it_unmarked(all_drawn: Yard) -> None:
    inspector = Inspector().at(all_drawn.core("B1").tag)
    inspector.type(*CRACKED)
    reply = inspector.type("")
    assert reply.word == "SCRAP"
    assert "unmarked" in reply.detail
    assert "with the scrap" not in reply.detail


def test_an_inspection_that_was_broken_off_is_not_drawn(all_drawn: Yard) -> None:
    inspector = Inspector().at(all_drawn.core("B1").tag)
    inspector.type("24.010")
    inspector.choose(inspector.order("done"), "Break off")
    assert all_drawn.core("B1").state == "open"
    assert looks() == []


@pytest.mark.parametrize("percent", ["5", "33.33", "0.5"])
def test_the_share_drawn_is_the_share_set(
    percent: str, yard: Yard, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Of 4 000 draws so many come up as lie within the exact 99.9 % bounds of the binomial."""
    from scipy.stats import binom

    from coretrack.figures.second_looks import PARTS, is_drawn

    lot = random.Random(20260521)
    drawn = sum(is_drawn(lot.randrange(PARTS), percent) for _ in range(4_000))
    low, high = binom.interval(0.999, 4_000, float(percent) / 100)
    assert low <= drawn <= high
    # The bench asks for exactly such a number, and goes by it.
    share(yard, percent)
    bodies(yard, 2)
    asked: list[int] = []
    numbers = iter([int(float(percent) * 100) - 1, int(float(percent) * 100)])
    monkeypatch.setattr(look_drawing, "randbelow", lambda n: (asked.append(n), next(numbers))[1])
    graded(yard, "B1")
    graded(yard, "B2")
    assert asked == [PARTS, PARTS]
    assert [look.tag for look in looks()] == [yard.core("B1").tag]


def test_a_second_look_starts_with_nothing_and_never_changes_the_verdict(all_drawn: Yard) -> None:
    graded(all_drawn, "B1", WORN)
    second = Second(all_drawn)
    assert second.look("B1").word == "SECOND LOOK"
    view = look_view(second.code, "Una Pryor", "bench 2", TODAY)
    assert view is not None
    assert (view.stored, view.proposed, view.stored_by) == (None, None, "")
    assert all(check.due and not check.entries and not check.carried for check in view.checks)
    reply = second.look("B1", *GOOD_BODY, "")
    assert (reply.word, reply.tone) == ("DIFFERS", "ask")
    core = all_drawn.core("B1")
    assert (core.state, core.grade, core.inspections) == ("rework", "rework", 1)
    (look,) = looks(status="done")
    assert (look.grade, look.inspector) == ("keep", "Una Pryor")
    assert all_drawn.history("core", core.tag)[-1][0] == "looked at again"
    assert all_drawn.is_sound()


def test_two_looks_that_agree_say_so(all_drawn: Yard) -> None:
    graded(all_drawn, "B1")
    assert Second(all_drawn).look("B1", *GOOD_BODY, "").word == "AGREES"
    view = looks_view("Edda Mallin", "owner", TODAY)
    assert (view.differs, view.others, view.finished) == ((), (), 1)


def test_whoever_stored_or_measured_the_first_one_cannot_make_it(all_drawn: Yard) -> None:
    tag = all_drawn.core("B1").tag
    Inspector("Ola Brandt").at(tag).type(*GOOD_BODY[:2])
    inspector = Inspector().at(tag)
    inspector.type(*GOOD_BODY[2:])
    inspector.type("")
    for name, why in (("Bela Quirke", "stored the first"), ("Ola Brandt", "measured this body")):
        reply = Second(all_drawn, name).look("B1")
        assert (reply.tone, reply.target) == ("stop", "")
        assert why in reply.line
        view = looks_view(name, "inspector", TODAY)
        assert (view.mine, len(view.others)) == ((), 1)
    assert [look.tag for look in looks_view("Una Pryor", "inspector", TODAY).mine] == [tag]


def test_the_owner_sees_all_and_makes_no_blind_look(all_drawn: Yard) -> None:
    graded(all_drawn, "B1")
    with writing(all_drawn.by, all_drawn.now) as writer:
        told = {"key": all_drawn.by, "name": all_drawn.by, "role": "owner"}
        writer.event("person", all_drawn.by, "set", told)
    assert "an inspector makes it" in Second(all_drawn, all_drawn.by).look("B1").line
    assert looks_view(all_drawn.by, "owner", TODAY).mine == ()


def test_what_is_typed_waits_and_stays_out_of_the_benchs_drafts(all_drawn: Yard) -> None:
    from coretrack.actions.bench_home import bench_home

    graded(all_drawn, "B1")
    second = Second(all_drawn)
    second.look("B1", *GOOD_BODY[:3])
    assert second.send(all_drawn.core("B2").tag).word == "OTHER CORE"
    assert second.send(order("done")).word == "NOT DONE"
    assert bench_home(TODAY, "Bela Quirke").begun == ()
    view = look_view(all_drawn.core("B1").tag, "Una Pryor", "elsewhere", TODAY)
    assert view is not None
    assert [len(check.entries) for check in view.checks] == [3, 0, 0, 0, 0]


def test_a_body_that_went_on_is_no_longer_looked_at(all_drawn: Yard) -> None:
    graded(all_drawn, "B1", WORN)
    all_drawn.finish("B1", "hone")
    assert [look.status for look in looks()] == ["dropped"]
    assert Second(all_drawn).look("B1").word == "NOT WANTED"
    assert all_drawn.is_sound()


def test_rework_is_begun_only_after_the_look_or_with_a_word(all_drawn: Yard) -> None:
    graded(all_drawn, "B1", WORN)
    tag = all_drawn.core("B1").tag
    told = {"by": "Bela Quirke", "station": "bench 1"}
    asked = station_scans.scan("", Spot("rework", tag), now=TODAY, key="r1", **told)
    assert asked.word == "LOOK FIRST"
    later = TODAY + timedelta(seconds=5)
    begun = station_scans.scan(
        asked.offers[1].scan, Spot("rework", tag), now=later, key="r2", **told
    )
    assert begun.word == "BEGUN"


def test_lists_and_scans_hide_it_from_whoever_may_look(all_drawn: Yard) -> None:
    graded(all_drawn, "B1")
    graded(all_drawn, "B2", WORN)
    graded(all_drawn, "B3", CRACKED)
    tags = [all_drawn.core(serial).tag for serial in ("B1", "B2", "B3")]
    told = {"by": "Una Pryor", "station": "bench 2"}
    look_as("Una Pryor")
    assert shelf_view(TODAY).bodies == ()
    assert rework_home(TODAY).queues == ()
    for place, page in enumerate(("home", "core", "bench", "rework", "shelf", "wash")):
        for number, tag in enumerate(tags):
            now = TODAY + timedelta(minutes=10 * place + number)
            reply = station_scans.scan(tag, Spot(page), now=now, key=next(keys), **told)
            assert (reply.word, reply.target, reply.code) == ("SECOND LOOK", "second", tag)
    by_serial = station_scans.scan(
        "B3", Spot("home"), now=TODAY + timedelta(hours=3), key=next(keys), **told
    )
    assert by_serial.word == "SECOND LOOK"
    look_as("Bela Quirke")
    assert len(shelf_view(TODAY).bodies) == 1
    assert len(rework_home(TODAY).queues) == 1
    look_as(None)
    assert len(shelf_view(TODAY).bodies) == 1


def test_a_page_left_open_from_before_does_not_tell_either(all_drawn: Yard) -> None:
    tag = all_drawn.core("B1").tag
    graded(all_drawn, "B1")
    look_as("Una Pryor")
    told = {"by": "Una Pryor", "station": "bench 2", "now": TODAY + timedelta(hours=1)}
    reply = station_scans.scan("24.010", Spot("bench", tag), key=next(keys), **told)
    assert (reply.word, reply.target) == ("SECOND LOOK", "second")


def test_a_file_of_readings_does_not_tell_what_the_bench_said(all_drawn: Yard) -> None:
    graded(all_drawn, "B1")
    look_as("Una Pryor")
    answer = all_drawn.measure("B1", at="2026-05-22 09:00")
    assert {row.why for row in answer.rejected} == {
        "a blind second look is wanted; make it at the bench"
    }


def test_the_benchs_number_of_second_looks_is_what_their_list_holds(all_drawn: Yard) -> None:
    from coretrack.actions.bench_home import bench_home

    def numbers(person: str) -> tuple[int, int]:
        view = looks_view(person, "inspector", TODAY)
        return len(view.mine), len(view.undecided)

    graded(all_drawn, "B1")
    # A file leaves no second look behind, and its undecided body waits like any other.
    all_drawn.measure("B2", bore=("24.0385", "24.010", "24.011"))
    assert all_drawn.core("B2").state == "undecided"
    home = bench_home(TODAY, "Una Pryor")
    assert numbers("Una Pryor") == (1, 1)
    assert home.looks == 2
    assert [group.count for group in home.waiting if group.code == "undecided"] == [1]
    assert numbers("Bela Quirke") == (0, 1)
    assert bench_home(TODAY, "Bela Quirke").looks == 1


def test_undecided_is_wanted_again_and_settled_by_another_person(yard: Yard) -> None:
    bodies(yard, 1)
    assert graded(yard, "B1", GREY) == "UNDECIDED"
    (look,) = looks()
    assert (look.why, look.status) == ("undecided", "wanted")
    reply = Second(yard).look("B1")
    assert (reply.word, reply.target) == ("UNDECIDED", "bench")
    again = Inspector("Una Pryor", start=TODAY + timedelta(hours=2)).at(yard.core("B1").tag)
    again.type("24.030", "24.031", "24.030")
    assert again.type("").word == "KEEP"
    (look,) = looks()
    assert (look.status, look.grade, look.inspector) == ("done", "keep", "Una Pryor")
    assert agreement_view()[0].looks == 0
    assert yard.is_sound()


def test_the_same_person_with_the_same_gauge_settles_nothing(yard: Yard) -> None:
    bodies(yard, 1)
    graded(yard, "B1", GREY)
    again = Inspector(start=TODAY + timedelta(hours=2)).at(yard.core("B1").tag)
    again.type("24.030", "24.031", "24.030")
    reply = again.type("")
    assert reply.tone == "stop"
    assert "with the same gauge: another one or another person has to" in reply.line
    assert yard.core("B1").state == "undecided"
    assert len(again.view().checks[0].entries) == 3


def test_the_same_person_with_another_gauge_settles_it(yard: Yard) -> None:
    bodies(yard, 1)
    graded(yard, "B1", GREY)
    with writing(yard.by, yard.now) as writer:
        told = {"key": "BG2", "name": "Air gauge", "kind": "bore gauge", "unit": "mm"}
        writer.event("gauge", "BG2", "set", told)
    again = Inspector(start=TODAY + timedelta(hours=2)).at(yard.core("B1").tag)
    again.type("BG2", "24.030", "24.031", "24.030")
    assert again.type("").word == "KEEP"
    assert looks()[0].status == "done"


def test_an_unsure_word_needs_another_person(yard: Yard) -> None:
    bodies(yard, 1)
    graded(yard, "B1", (*GOOD_BODY[:5], "unsure", "A"))
    again = Inspector(start=TODAY + timedelta(hours=2)).at(yard.core("B1").tag)
    refused = again.type("none")
    assert (refused.word, "you left it unsure" in refused.line) == ("NOT TAKEN", True)
    assert again.type("").word == "NEXT"
    other = Inspector("Una Pryor", start=TODAY + timedelta(hours=3)).at(yard.core("B1").tag)
    assert other.type("none").word == "KEEP?"
    assert yard.core("B1").state == "undecided"
    assert other.type("").word == "KEEP"
    assert looks()[0].status == "done"


def test_agreement_counts_drawn_looks_alone_and_says_what_is_too_few(all_drawn: Yard) -> None:
    graded(all_drawn, "B1")
    graded(all_drawn, "B2", CRACKED)
    graded(all_drawn, "B3")
    second = Second(all_drawn)
    second.look("B1", *GOOD_BODY, "")
    second.look("B2", *GOOD_BODY, "")
    second.look("B3", *CRACKED, "")
    (family,) = agreement_view()
    assert (family.looks, family.name) == (3, "")
    assert family.table == ((1, 0, 1), (0, 0, 0), (1, 0, 0))
    assert (family.agreed.count, family.agreed.total) == (1, 3)
    assert (family.errors.false_reject.count, family.errors.false_reject.total) == (1, 2)
    assert (family.errors.miss.count, family.errors.miss.total) == (1, 1)
    assert family.kappa.value is None
    assert family.kappa.why == "3 cores graded twice; from 20 on it is shown"
    rows = agreement([("B", ("keep", "keep")), ("A", ("scrap", "undecided"))])
    assert [(row.name, row.looks, row.unsure) for row in rows] == [
        ("", 2, 1), ("A", 1, 1), ("B", 1, 0),
    ]  # fmt: skip


def test_the_owner_is_asked_where_two_looks_differ(all_drawn: Yard) -> None:
    graded(all_drawn, "B1", CRACKED)
    graded(all_drawn, "B2", WORN)
    second = Second(all_drawn)
    second.look("B1", *GOOD_BODY, "")
    second.look("B2", *GOOD_BODY, "")
    one, _ = looks_view("Edda Mallin", "owner", TODAY).differs
    assert ("crack indication" in one.first, one.second) == (True, "Keep: every check passes")
    assert (one.first_by, one.second_by, one.stands) == ("Bela Quirke", "Una Pryor", "scrap")
    assert looks_view("Una Pryor", "inspector", TODAY).differs == ()
    told = {"by": all_drawn.by, "station": "", "now": TODAY}
    with pytest.raises(InvalidInput, match="Say why"):
        look_views.let_stand(one.key, " ", key="a", **told)
    look_views.let_stand(one.key, "the crack is there", key="b", **told)
    with pytest.raises(NotAllowed, match="answered"):
        look_views.let_stand(one.key, "again", key="c", **told)
    all_drawn.overrule("B2", "keep", "the second one measured right")
    assert looks_view("Edda Mallin", "owner", TODAY).differs == ()
    assert agreement_view()[0].looks == 2
    assert all_drawn.is_sound()


def test_the_owner_may_drop_a_look_with_a_reason(all_drawn: Yard) -> None:
    graded(all_drawn, "B1")
    (look,) = looks_view("Edda Mallin", "owner", TODAY).others
    told = {"by": all_drawn.by, "station": "", "now": TODAY}
    look_views.give_up(look.key, "Una is away", key="d", **told)
    with pytest.raises(NotAllowed, match="dropped already"):
        look_views.give_up(look.key, "again", key="e", **told)
    assert looks_view("Una Pryor", "inspector", TODAY).mine == ()
