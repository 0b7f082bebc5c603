"""The bench by scan: readings into their checks, verdicts proposed and stored, nothing lost."""

from __future__ import annotations

import pytest
from bench_desk import GOOD_BODY, Inspector, bodies, stored_readings
from core_yard import Yard

from coretrack.actions import station_scans
from coretrack.actions.bench_hand import hand_of
from coretrack.actions.bench_home import bench_home
from coretrack.actions.bench_store import overrule
from coretrack.errors import Forbidden, InvalidInput, NotAllowed
from coretrack.figures.scan_replies import Spot
from coretrack.figures.tags import show_tag
from coretrack.records.database import connection
from coretrack.records.writer import writing


@pytest.fixture
def tag(yard: Yard) -> str:
    """The tag of one gear pump body that waits for the bench."""
    return bodies(yard, 1)[0]


@pytest.fixture
def bela(tag: str) -> Inspector:
    """An inspector with that body's page open."""
    return Inspector().at(tag)


def test_readings_go_to_one_check_after_the_other_and_enter_stores_the_verdict(
    yard: Yard, tag: str, bela: Inspector
) -> None:
    first = bela.type("24.010")
    assert (first.tone, first.word) == ("good", "INSIDE")
    assert "Gear bore 1 of 3" in first.line
    assert first.detail == "Next: Gear bore, 2 of 3."
    last = bela.type(*GOOD_BODY[1:])
    assert (last.tone, last.word) == ("good", "KEEP?")
    assert bela.view().proposed is not None
    assert bela.view().proposed.ready
    assert yard.core("B1").state == "waiting"

    stored = bela.type("")

    assert (stored.word, stored.tone) == ("KEEP", "good")
    assert "not an approval for service" in stored.detail
    assert yard.core("B1").state == "good"
    assert yard.core("B1").inspector == "Bela Quirke"
    assert [typed for _, _, typed, _, _ in stored_readings(tag)] == list(GOOD_BODY)
    assert bela.view().stored is not None
    assert yard.is_sound()


def test_a_reading_outside_is_told_with_its_distance_in_divisions(bela: Inspector) -> None:
    reply = bela.type("24.045")
    assert (reply.tone, reply.word) == ("stop", "OUTSIDE")
    assert "0.005 mm above the upper usable limit of 24.040 mm (5 gauge divisions)" in reply.line

    view = bela.view()
    assert view.proposed is not None
    (cause,) = view.proposed.causes
    assert (cause.check, cause.reading, cause.distance, cause.divisions) == (
        "Gear bore",
        "24.045 mm",
        "0.005 mm",
        "5 gauge divisions",
    )
    assert cause.limit == "upper usable limit 24.040 mm"
    assert "uncertainty" in cause.rule


@pytest.mark.parametrize(
    ("typed", "value"),
    [
        ("24,012", 24_012_000),
        ("24.012 mm", 24_012_000),
        ("+24.012", 24_012_000),
        ("0.9453 in", 24_010_620),
        ("FFFF002401230", 24_012_000),
        ("FFFF0024012301", None),
    ],
)
def test_a_gauge_may_send_a_comma_a_sign_a_unit_or_a_frame(
    bela: Inspector, tag: str, typed: str, value: int | None
) -> None:
    reply = bela.type(typed)
    if value is None:
        assert reply.word == "NOT TAKEN"
        assert typed_at(tag) == []
        return
    assert reply.tone == "good", reply
    assert typed_at(tag) == [("bore", typed, value)]


def test_an_inch_slip_is_asked_back_and_never_converted_silently(bela: Inspector, tag: str) -> None:
    asked = bela.type("0.9453")
    assert (asked.tone, asked.word) == ("ask", "REALLY?")
    assert "outside what is plausible" in asked.line
    assert typed_at(tag) == []
    again = bela.type("")
    assert again.offers == asked.offers

    assert bela.choose(again, "Take 24.011 mm (0.9453 in)").tone == "good"
    assert typed_at(tag) == [("bore", "0.9453", 24_010_620)]

    bela.type("2.401")
    assert bela.type("24.011").tone == "good"
    assert typed_at(tag)[1:] == [("bore", "24.011", 24_011_000)]
    assert bela.view().asked == ""


def test_a_tag_is_never_a_reading_and_opens_nothing_by_accident(
    yard: Yard, tag: str, bela: Inspector
) -> None:
    other = yard.buy("B2", lot="L2")
    assert not other.rejected
    two = yard.core("B2").tag
    bela.type("24.010")

    reply = bela.type(two)

    assert (reply.word, reply.target) == ("OTHER CORE", "")
    assert len(typed_at(tag)) == 1
    assert bela.type(tag).word == "THIS ONE"
    assert bela.type("24.011").tone == "good"
    opened = bela.choose(bela.type(two), f"Open {show_tag(two)}")
    assert (opened.target, opened.code) == ("bench", two)
    assert len(typed_at(tag)) == 2
    assert typed_at(two) == []


def test_a_reading_that_comes_after_another_bodys_tag_is_asked_about(
    bela: Inspector, yard: Yard, tag: str
) -> None:
    yard.buy("N1", lot="L9")
    other = yard.core("N1").tag
    bela.type("24.010", "24.012")
    assert bela.type(other).word == "OTHER CORE"
    reply = bela.type("24.031")
    assert (reply.word, len(typed_at(tag))) == ("WHICH BODY?", 2)
    assert "24.031 came after the tag" in reply.line
    # Another one, or a scanned word, is asked about as well: nothing was answered yet.
    assert bela.order("unsure").word == "WHICH BODY?"
    reply = bela.type("24.011")
    bela.choose(reply, "24.011 is of")
    assert [typed for _, typed, _ in typed_at(tag)] == ["24.010", "24.012", "24.011"]
    assert bela.type("3.0").word == "INSIDE"
    bela.type(other)
    reply = bela.type("24.031")
    bela.choose(reply, "measure it there")
    assert bela.tag == other
    bela.type("24.031")
    assert typed_at(other) == [("bore", "24.031", 24_031_000)]
    assert len(typed_at(tag)) == 4


@pytest.mark.parametrize(
    ("check", "text", "asked"),
    [
        ("face", "4.0042", True),
        ("face", "4.25", False),
        ("face", "3.000000", False),
        ("bore", "24.0105", False),
        ("bore", "24.01055", True),
        ("bore", "0.9453 in", False),
    ],
)
def test_a_reading_finer_than_the_check_is_measured_is_asked_back(
    bela: Inspector, tag: str, check: str, text: str, asked: bool
) -> None:
    bela.type(f"#{check}")
    reply = bela.type(text)
    assert (reply.word == "REALLY?") == asked
    if asked:
        assert "Does it belong to another check?" in reply.line
        assert typed_at(tag) == []
        bela.choose(reply, "It is right")
    assert [typed for _, typed, _ in typed_at(tag)] == [text]


def test_a_finished_body_can_be_stored_by_scanning_the_next_one(
    yard: Yard, tag: str, bela: Inspector
) -> None:
    yard.buy("B2", lot="L2")
    two = yard.core("B2").tag
    bela.type(*GOOD_BODY)

    reply = bela.choose(bela.type(two), "Store KEEP")

    assert (reply.word, reply.target, reply.code) == ("KEEP", "bench", two)
    assert yard.core("B1").state == "good"


def test_the_last_entry_is_taken_back_and_measured_again(bela: Inspector, tag: str) -> None:
    bela.type(*GOOD_BODY[:4])
    reply = bela.type("again")
    assert (reply.word, reply.detail) == ("AGAIN", "Next: Cover face.")
    bela.type("7.5")
    assert bela.order("again").word == "AGAIN"
    bela.type("3.5", *GOOD_BODY[4:], "")
    assert [r[2] for r in stored_readings(tag) if r[0] == "face"] == ["3.5"]


def test_what_was_taken_back_stays_in_the_history(yard: Yard, tag: str, bela: Inspector) -> None:
    bela.type("24.019", "again", *GOOD_BODY, "")
    (inspected,) = [detail for event, detail in yard.history("core", tag) if event == "inspected"]
    assert [entry["typed"] for entry in inspected["withdrawn"]] == ["24.019"]


def test_enter_never_fills_a_check(bela: Inspector, yard: Yard, tag: str) -> None:
    for _ in range(3):
        assert bela.type("").word == "NEXT"
    bela.type(*GOOD_BODY[:5])
    assert bela.type("").word == "NEXT"
    assert yard.core("B1").state == "waiting"


def test_a_full_check_takes_no_more_unless_it_is_measured_anew(bela: Inspector, tag: str) -> None:
    bela.type(*GOOD_BODY)
    assert bela.type("24.020").word == "ALL DONE"
    assert bela.type("#bore").word == "CHECK"
    asked = bela.type("24.020")
    assert asked.word == "AGAIN?"
    bela.choose(asked, "anew")
    assert [value for check, _, value in typed_at(tag) if check == "bore"] == [24_020_000]
    bela.type("24.021", "24.022")
    assert bela.type("").word == "KEEP"


def test_leaving_and_coming_back_at_another_station_loses_nothing(
    bela: Inspector, tag: str, yard: Yard
) -> None:
    bela.type(*GOOD_BODY[:4])
    (begun,) = bench_home(bela.now, bela.by).begun
    assert (begun.tag, begun.people, begun.entries) == (tag, ("Bela Quirke",), 4)

    there = Inspector(station="bench 7", start=bela.now)
    assert there.type(tag).word == "GO ON"
    assert there.type(*GOOD_BODY[4:], "").word == "KEEP"
    assert yard.core("B1").state == "good"


def test_a_second_inspector_is_told_and_neither_loses_a_reading(
    bela: Inspector, tag: str, yard: Yard
) -> None:
    bela.type("24.010")
    una = Inspector("Una Pryor", "bench 2", bela.now)
    begun = una.type(tag)
    assert (begun.word, "Bela Quirke" in begun.line) == ("BEGUN", True)
    assert [entry.by for entry in una.view().others] == ["Bela Quirke"]
    assert una.type("24.011").tone == "good"

    told = bela.send("24.012")

    assert told.word == "FOR WHICH?"
    assert "Una Pryor changed this core" in told.line
    assert [entry.typed for entry in bela.look().aside] == ["24.012"]
    assert bela.choose(told, "24.012 is for Gear bore").tone == "good"
    assert [text for _, text, _ in typed_at(tag)] == ["24.010", "24.011", "24.012"]
    assert bela.view().aside == ()
    una.look()
    una.type(*GOOD_BODY[3:], "")
    assert yard.core("B1").inspector == "Una Pryor"
    late = bela.send("5.0")
    assert late.tone == "stop"
    assert "5.0 was not taken" in late.line
    assert "Una Pryor" in late.line


def test_a_verdict_changed_meanwhile_is_looked_at_again_before_it_is_stored(
    bela: Inspector, tag: str, yard: Yard
) -> None:
    bela.type(*GOOD_BODY)
    una = Inspector("Una Pryor", "bench 2", bela.now).at(tag)
    una.type("#crack")
    assert una.type("unsure").word == "UNDECIDED?"
    assert bela.send("").word == "LOOK AGAIN"
    assert yard.core("B1").state == "waiting"
    bela.look()
    assert bela.type("").word == "UNDECIDED"


def test_a_reading_typed_before_its_question_was_seen_is_put_aside(
    bela: Inspector, tag: str
) -> None:
    asked = bela.send("0.9453")
    ahead = bela.send("24.011")
    assert (asked.word, ahead.word) == ("REALLY?", "FOR WHICH?")
    assert typed_at(tag) == []
    bela.choose(ahead, "24.011 is for Gear bore")
    assert typed_at(tag) == [("bore", "24.011", 24_011_000)]


def test_readings_typed_ahead_of_the_answers_go_in_order(bela: Inspector, tag: str) -> None:
    for text in GOOD_BODY:
        bela.send(text)
    assert [check for check, _, _ in typed_at(tag)] == [
        "bore", "bore", "bore", "face", "thread", "crack", "look",
    ]  # fmt: skip


def test_a_crack_indication_scraps_and_is_never_overruled(
    bela: Inspector, tag: str, yard: Yard
) -> None:
    bela.type(*GOOD_BODY[:5], "indication linear 4 mm at the seat")
    assert bela.type("").word == "SCRAP"
    told = {"role": "owner", "by": yard.by, "station": "office", "now": bela.now}
    with pytest.raises(NotAllowed, match="A crack is never overridden"):
        overrule(tag, "keep", "it is a scratch", key="k1", **told)
    with pytest.raises(NotAllowed, match="A crack is never overridden"):
        overrule(tag, "rework", "it is a scratch", ("hone",), key="k2", **told)


def test_an_indication_taken_back_as_a_slip_needs_somebody_elses_look(
    bela: Inspector, tag: str, yard: Yard
) -> None:
    bela.type(*GOOD_BODY[:5], "indication", "again", "none", "A")
    assert bela.type("").word == "UNDECIDED"
    una = Inspector("Una Pryor", "bench 2", bela.now).at(tag)
    assert [check.code for check in una.view().checks if check.due] == ["crack"]
    una.type("none", "")
    assert yard.core("B1").state == "good"


def test_the_owner_overrules_with_a_reason_once_a_key_and_nobody_else_may(
    bela: Inspector, tag: str, yard: Yard
) -> None:
    bela.type("24.045", "24.046", "24.045", *GOOD_BODY[3:], "")
    assert yard.core("B1").state == "scrapped"
    told = {"by": yard.by, "station": "office", "now": bela.now}
    with pytest.raises(Forbidden):
        overrule(tag, "keep", "a customer agreed", role="inspector", key="a", **told)
    with pytest.raises(InvalidInput, match="needs a reason"):
        overrule(tag, "keep", " ", role="owner", key="b", **told)
    first = overrule(tag, "keep", "a customer agreed", role="owner", key="c", **told)
    assert overrule(tag, "keep", "a customer agreed", role="owner", key="c", **told) == first
    assert yard.core("B1").state == "good"
    assert yard.is_sound()


def test_after_rework_only_the_reworked_and_the_disturbed_checks_are_due(
    bela: Inspector, tag: str, yard: Yard
) -> None:
    bela.type("23.970", "23.971", "23.972", *GOOD_BODY[3:])
    assert bela.type("").word == "REWORK"
    assert not yard.finish("B1", "hone").rejected
    view = bela.look()
    assert [check.code for check in view.checks if check.due] == ["bore", "crack"]
    assert [check.code for check in view.checks if check.carried] == ["face", "thread", "look"]
    assert bela.type("24.010", "24.011", "24.012").word == "INSIDE"
    assert bela.type("none").word == "KEEP?"
    assert bela.type("").word == "KEEP"
    assert yard.is_sound()


def test_an_inspection_broken_off_stays_open_and_goes_on(
    bela: Inspector, tag: str, yard: Yard
) -> None:
    bela.type("24.010", "24.011")
    asked = bela.order("done")
    assert asked.word == "NOT DONE"
    assert bela.choose(asked, "Break off").word == "OPEN"
    assert yard.core("B1").state == "open"
    assert bela.look().current is not None
    assert bela.view().current.taken == 2
    bela.type("24.012", *GOOD_BODY[3:], "")
    assert yard.core("B1").state == "good"


def test_a_lost_body_may_be_stored_at_once_and_the_rest_is_not_measured(
    bela: Inspector, tag: str, yard: Yard
) -> None:
    bela.type("24.300")
    assert bela.type("").word == "SCRAP"
    (told,) = [detail for event, detail in yard.history("core", tag) if event == "inspected"]
    assert told["stopped_at"] == "bore"
    assert "crack" in told["missing"]


def test_an_overdue_gauge_is_stamped_and_said(yard: Yard, tag: str) -> None:
    late = Inspector(start=yard.now).at(tag)
    assert "due by 2026-06-30" in late.type("bg1").line
    assert late.view().current is not None
    assert late.view().current.gauge.overdue
    assert "Gauge BG1 is overdue" in late.type("24.010").line
    late.type(*GOOD_BODY[1:], "")
    (told,) = [detail for event, detail in yard.history("core", tag) if event == "inspected"]
    stamped = [(one["check"], one["gauge"]) for one in told["readings"] if one["overdue"]]
    assert stamped == [("bore", "BG1")] * 3
    in_time = Inspector().at(tag)
    assert in_time.view().why_not


def test_a_gauge_is_taken_in_hand_at_a_body_that_is_decided_too(bela: Inspector) -> None:
    bela.type(*GOOD_BODY, "")
    assert bela.type("BG1").word == "GAUGE"
    reply = bela.type("24.010")
    assert reply.tone == "stop"
    assert "good body (Bela Quirke); 24.010 was not taken" in reply.line


def test_a_gauge_out_of_use_is_not_taken(yard: Yard, bela: Inspector, tag: str) -> None:
    with writing(yard.by, yard.now) as writer:
        writer.event("gauge", "BG1", "set", {"out_of_use": True, "note": "dropped"})
    reply = bela.type("BG1")
    assert (reply.tone, "out of use: dropped" in reply.line) == ("stop", True)
    assert typed_at(tag) == []


def test_the_same_scan_sent_twice_by_its_key_acts_once(bela: Inspector, tag: str) -> None:
    seen = bela.seen
    first = bela.send("24.010", key="one")
    assert bela.send("24.010", key="one", seen=seen) == first
    assert len(typed_at(tag)) == 1


def test_the_same_reading_a_second_later_is_another_reading(bela: Inspector, tag: str) -> None:
    for at in (1_000, 2_000, 2_100):
        spot = Spot("bench", tag, at=at)
        reply = station_scans.scan("24.010", spot, by=bela.by, station=bela.station, now=bela.now)
    assert reply.repeat
    assert len(typed_at(tag)) == 2


@pytest.mark.parametrize("text", ["maybe", "24.0.1", "OVERLOAD", "12;13", "<24", "1e5", "x" * 300])
def test_what_is_no_reading_is_refused_in_words_and_nothing_is_lost(
    bela: Inspector, tag: str, text: str
) -> None:
    bela.type("24.010")
    reply = bela.type(text)
    assert reply.tone in ("stop", "ask")
    assert len(reply.line) > 20
    assert len(typed_at(tag)) == 1


def test_a_core_that_may_not_be_inspected_says_why(yard: Yard, bela: Inspector) -> None:
    yard.sell("S1", 2)
    yard.bring_back("R1")
    core = yard.core("R1")
    there = Inspector().at(core.tag)
    if core.state == "waiting":
        there.type(*GOOD_BODY, "")
    assert there.view().why_not == "The verdict keep is stored by Bela Quirke."
    assert there.type("24.010").tone == "stop"


def typed_at(tag: str) -> list[tuple[str, str, int | None]]:
    """Return (check, typed, value) of everything typed at a core and not stored."""
    with connection():
        return [(entry.check, entry.typed, entry.value) for entry in hand_of(tag).entries]
