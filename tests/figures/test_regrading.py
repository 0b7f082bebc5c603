"""Bodies judged again under a draft plan, and what that does to the money."""

from __future__ import annotations

from decimal import Decimal
from fractions import Fraction

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from coretrack.figures.draft_plans import with_limits, with_rework, with_uncertainty
from coretrack.figures.money import from_decimal, shown
from coretrack.figures.observations import Observation
from coretrack.figures.plans import Check, Operation, Plan, ReworkBand
from coretrack.figures.regrading import (
    ATTEMPT,
    GOOD,
    LOST,
    UNKNOWN,
    GradedBody,
    Pass,
    regrade,
    regraded_end,
)
from coretrack.figures.rework import BodyHistory
from coretrack.figures.tolerances import Limits
from coretrack.figures.what_if import Standing, after_change, after_regrading, outcome

HONE = Operation("hone", "Hone the bore", 8, 7_000, 2, "bore", 2_000, 4_000)
SLEEVE = Operation("sleeve", "Sleeve the bore", 18, 32_000, 1, "bore")
BORE = Check(
    "bore", "Guide bore", "dimension", 2, "mm", 1_000, usable=Limits(6_000_000, 6_009_000),
    rework=(ReworkBand("hone", Limits(6_009_000, 6_015_000)),),
)  # fmt: skip
DEPTH = Check("depth", "Seat depth", "dimension", 3, "mm", 10_000, usable=Limits(None, 300_000))
PLAN = Plan("INJ", 1, (BORE,), (HONE,))
NARROW = with_limits(PLAN, "bore", Limits(6_000_000, 6_006_000))
WIDE = with_limits(PLAN, "bore", Limits(6_000_000, 6_012_000))


def money(units: str | int) -> int:
    return from_decimal(Decimal(units))


def _body(tag: str, *readings: int | None, good: bool | None) -> GradedBody:
    passes = tuple(
        Pass(() if reading is None else (Observation("bore", (reading,)),)) for reading in readings
    )
    return GradedBody(tag, PLAN, passes, good)


KEPT = _body("A", 6_004_000, good=True)
KEPT_LATE = _body("B", 6_008_000, good=True)
REWORKED = _body("C", 6_011_000, 6_005_000, good=True)
REWORKED_DEAD = _body("D", 6_013_000, 6_014_000, 6_016_000, good=False)
DEAD = _body("E", 6_020_000, good=False)
OVERRIDDEN = _body("F", 6_020_000, good=True)
WAITING = _body("G", None, good=None)
BODIES = [KEPT, KEPT_LATE, REWORKED, REWORKED_DEAD, DEAD, OVERRIDDEN, WAITING]


def test_under_the_same_plan_everything_ends_as_it_did() -> None:
    for body in BODIES[:-1]:
        assert regraded_end(body, PLAN) == (GOOD if body.good else LOST)
    found = regrade(BODIES, PLAN)
    assert (found.decided, found.good_now, found.fewest, found.most) == (6, 4, 4, 4)
    assert found.middle == 4
    assert found.change == (0, 0)
    assert found.gained == found.lost == ()
    assert found.sentence == "4 good of 6 decided cores instead of 4"


def test_narrower_limits_send_a_kept_body_to_a_rework_nobody_has_seen() -> None:
    found = regrade(BODIES, NARROW)
    assert found.to_rework == ("B",)
    assert (found.fewest, found.most) == (3, 4)
    assert found.middle is None
    assert found.sentence == (
        "between 3 and 4 good of 6 decided cores instead of 4: 1 core would go to a rework"
    )
    rated = regrade(BODIES, NARROW, Fraction(7, 10), (0.5, 0.85))
    assert rated.middle == Fraction(37, 10)
    assert (rated.fewest, rated.most) == (3, 4)


def test_wider_limits_keep_what_was_reworked_and_an_override_stays() -> None:
    found = regrade(BODIES, WIDE)
    assert regraded_end(REWORKED, WIDE) == GOOD
    assert regraded_end(OVERRIDDEN, WIDE) == GOOD
    assert found.gained == ()
    assert found.good_now == 4
    # C no longer needs its rework; D still goes through both of its own.
    assert found.spared == 1
    # D was reworked twice and died; its first readings are still reworkable under the draft.
    assert regraded_end(REWORKED_DEAD, WIDE) == LOST


def test_the_readings_after_rework_are_judged_by_the_draft_too() -> None:
    strict = with_limits(PLAN, "bore", Limits(6_000_000, 6_004_500))
    assert regraded_end(REWORKED, strict) == ATTEMPT
    lax = with_limits(PLAN, "bore", Limits(6_000_000, 6_014_000))
    assert regraded_end(REWORKED_DEAD, lax) == GOOD


def test_a_check_that_was_never_made_bounds_instead_of_guessing() -> None:
    draft = Plan("INJ", 2, (BORE, DEPTH), (HONE,))
    found = regrade(BODIES, draft)
    # Only a scrapped reading settles a body of which the new check is missing.
    assert regraded_end(KEPT, draft) == UNKNOWN
    assert regraded_end(DEAD, draft) == LOST
    assert (found.sure, found.unknown) == (1, 4)
    assert (found.fewest, found.most) == (1, 5)
    assert found.middle is None
    assert "4 cores have no readings that settle it" in found.sentence


def test_an_uncertainty_makes_readings_near_a_limit_undecided() -> None:
    guarded = with_uncertainty(PLAN, "bore", 1_500)
    assert regraded_end(KEPT, guarded) == GOOD
    assert regraded_end(KEPT_LATE, guarded) == UNKNOWN


def test_an_added_rework_gives_scrapped_bodies_a_chance() -> None:
    draft = with_rework(PLAN, "bore", SLEEVE, Limits(6_015_000, 6_030_000))
    found = regrade(BODIES, draft, Fraction(1, 2), (0.25, 0.75))
    assert found.to_rework == ("D", "E", "F")
    assert found.middle == 3 + Fraction(3, 2)
    assert (found.fewest, found.most) == (3, 6)


def test_a_rework_used_up_in_earlier_lives_stays_used_up() -> None:
    tired = GradedBody(
        "H", PLAN,
        (Pass((Observation("bore", (6_008_000,)),), BodyHistory({}, {"hone": 2})),), True,
    )  # fmt: skip
    assert regraded_end(tired, NARROW) == LOST


def test_a_check_the_draft_leaves_out_is_not_asked_for() -> None:
    body = GradedBody(
        "K", Plan("INJ", 1, (BORE, DEPTH), (HONE,)),
        (Pass((Observation("bore", (6_004_000,)), Observation("depth", (400_000,)))),), False,
    )  # fmt: skip
    assert regraded_end(body, PLAN) == GOOD
    assert regrade([body], PLAN).gained == ("K",)


def test_undecided_bodies_the_draft_would_settle_are_counted_apart() -> None:
    grey = GradedBody(
        "L", with_uncertainty(PLAN, "bore", 1_500), (Pass((Observation("bore", (6_008_000,)),)),),
        None,
    )  # fmt: skip
    found = regrade([grey, KEPT], PLAN)
    assert found.settled == 1
    assert found.decided == 1


def test_nothing_decided_is_said() -> None:
    found = regrade([WAITING], PLAN)
    assert found.fewest is None
    assert found.change is None
    assert found.why == "no decided body with stored readings to judge again"
    with pytest.raises(ValueError, match="pass rate"):
        regrade(BODIES, PLAN, Fraction(3, 2))


@settings(deadline=None, max_examples=60)
@given(
    st.lists(st.tuples(st.integers(5_995_000, 6_020_000), st.booleans()), min_size=1, max_size=12),
    st.integers(6_000_000, 6_015_000),
)
def test_bounds_hold_whatever_the_reworks_bring(
    readings: list[tuple[int, bool]], upper: int
) -> None:
    bodies = [_body(str(n), reading, good=good) for n, (reading, good) in enumerate(readings)]
    found = regrade(bodies, with_limits(PLAN, "bore", Limits(6_000_000, upper)))
    assert found.fewest is not None
    assert found.most is not None
    assert found.sure == found.fewest <= found.most == found.sure + found.attempts + found.unknown
    assert found.most <= found.decided


STANDING = Standing(
    body_yield=Fraction(4, 6),
    per_core=money(27),
    scrap=money("0.15"),
    processing=money(9),
    good_body=money(40),
    sourcing=money("1.50"),
    return_rate=0.9,
    accepted=0.95,
)


def test_the_figures_of_the_worked_example() -> None:
    found = outcome(
        Standing(
            Fraction(688, 1000), money("27.028"), money("0.15"), money("9.028"),
            money("40.2829"), money("1.50"), 0.9, 0.95,
        )
    )  # fmt: skip
    assert shown(found.cost_per_good_body) == "39.22"
    assert shown(found.value) == "18.73"
    assert shown(found.make_whole) == "20.23"
    assert found.coverage == pytest.approx(0.588, abs=5e-4)


def test_bounds_of_the_keeps_become_bounds_of_the_money() -> None:
    found = after_regrading(STANDING, regrade(BODIES, NARROW), money(6))
    assert not found.certain
    # One more attempt of six cores: a core costs 1.00 more.
    assert shown(found.fewest.cost_per_good_body) == "55.85"
    assert shown(found.most.cost_per_good_body) == "41.93"
    assert shown(found.fewest.value) == "10.08"
    assert found.sentences[1] == "cost per good body: 41.93 to 55.85 instead of 40.43"
    assert found.sentences[-1] == "coverage: 42.8 % to 57.0 % instead of 57.0 %"


def test_a_rework_that_the_draft_spares_makes_every_core_cheaper() -> None:
    found = after_regrading(STANDING, regrade(BODIES, WIDE), money(6))
    assert found.certain
    # One attempt of 6.00 less over six cores.
    assert shown(found.most.cost_per_good_body) == "38.93"
    assert found.most.value == (found.now.value or 0) + money(1)


def test_a_change_of_one_input_is_exact() -> None:
    found = after_change(STANDING, body_yield=Fraction(9, 10))
    assert found.certain
    assert found.fewest == found.most
    assert found.most.coverage == pytest.approx(0.9 * 0.95 * 0.9)
    lower = after_change(STANDING, return_rate=0.5)
    assert lower.most.cost_per_good_body == lower.now.cost_per_good_body


def test_what_is_not_known_stays_not_known() -> None:
    blank = outcome(Standing(None, None, None, None, None))
    assert blank == outcome(Standing(None, money(1), money(1), money(1), money(1)))
    assert blank.cost_per_good_body is None
    none_good = outcome(Standing(Fraction(0), money(27), 0, money(9), money(40)))
    assert none_good.cost_per_good_body is None
    assert none_good.value == -money(9)
    empty = after_regrading(STANDING, regrade([], PLAN))
    assert empty.why
    assert empty.most.cost_per_good_body is None
    assert after_change(Standing(None, None, None, None, None), return_rate=0.5).why
    with pytest.raises(ValueError, match="yield lies between"):
        outcome(Standing(Fraction(3, 2), None, None, None, None))
