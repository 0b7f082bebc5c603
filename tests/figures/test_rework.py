"""What a body may still go through, what is measured again, and whether rework pays."""

from __future__ import annotations

from fractions import Fraction

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from coretrack.figures.observations import Observation
from coretrack.figures.plans import Check, Operation, Plan, ReworkBand
from coretrack.figures.rework import (
    NEW_BODY,
    BodyHistory,
    all_lives,
    checks_again,
    may_rework,
    may_rework_together,
    merge_passes,
    rework_pays,
)
from coretrack.figures.tolerances import Limits

LAP = Operation("lap", "Lap the seat", 5, 6_000, 3, "seat", 20_000, 50_000, ("crack",))
GRIND = Operation("grind", "Grind the seat", 9, 9_000, 2, "seat", 30_000, 50_000)
CLEAN = Operation("clean", "Clean", 4, 1_000, 2)

PLAN = Plan(
    "INJ",
    1,
    (
        Check("crack", "Crack check", "crack", 4),
        Check("bore", "Bore", "dimension", 1, "mm", usable=Limits(0, 10)),
        Check(
            "seat",
            "Seat",
            "dimension",
            2,
            "mm",
            usable=Limits(0, 10),
            rework=(ReworkBand("lap", Limits(10, 20)),),
        ),
        Check("look", "Look", "look", 3, look_reworks=(("B", "clean"),)),
    ),
    (LAP, GRIND, CLEAN),
)


def test_the_allowance_may_be_used_up_to_the_last_count() -> None:
    assert may_rework(LAP, BodyHistory({"seat": 30_000})) is None
    why = may_rework(LAP, BodyHistory({"seat": 30_001}))
    assert why is not None
    assert "allowance is 0.05 (already gone: 0.030001)" in why


def test_stock_taken_in_earlier_lives_counts() -> None:
    first_life = NEW_BODY.after(LAP)
    second_life = NEW_BODY.after(LAP)
    body = all_lives([first_life, second_life])
    assert body == BodyHistory({"seat": 40_000}, {"lap": 2})
    assert may_rework(LAP, body) is not None
    assert may_rework(LAP, first_life) is None


def test_passes_are_capped_over_all_lives() -> None:
    assert may_rework(CLEAN, BodyHistory({}, {"clean": 1})) is None
    why = may_rework(CLEAN, BodyHistory({}, {"clean": 2}))
    assert why == "Clean has been done twice on this body, the most is 2"


def test_two_operations_that_fit_alone_can_be_too_much_together() -> None:
    history = BodyHistory({"seat": 10_000})
    assert may_rework(LAP, history) is None
    assert may_rework(GRIND, history) is None
    assert may_rework_together((LAP, GRIND), history) is not None
    assert may_rework_together((LAP, GRIND), NEW_BODY) is None


@settings(deadline=None)
@given(st.lists(st.sampled_from([LAP, GRIND, CLEAN]), max_size=12))
def test_no_run_of_allowed_passes_ever_exceeds_the_allowance_or_the_passes(
    wanted: list[Operation],
) -> None:
    body = NEW_BODY
    for operation in wanted:
        if may_rework(operation, body) is None:
            body = body.after(operation)
    assert body.removed.get("seat", 0) <= 50_000
    for operation in (LAP, GRIND, CLEAN):
        assert body.passes.get(operation.code, 0) <= operation.most_passes


def test_reworked_and_disturbed_checks_are_measured_again_in_bench_order() -> None:
    assert checks_again(PLAN, ["lap"]) == ("seat", "crack")
    assert checks_again(PLAN, ["clean"]) == ("look",)
    assert checks_again(PLAN, ["clean", "grind"]) == ("seat", "look")
    assert checks_again(PLAN, []) == ()
    with pytest.raises(KeyError):
        checks_again(PLAN, ["weld"])


def first_pass() -> list[Observation]:
    return [
        Observation("bore", (5,)),
        Observation("seat", (15,)),
        Observation("look", result="A"),
        Observation("crack", result="none"),
    ]


def by_check(observations: tuple[Observation, ...]) -> dict[str, Observation]:
    return {observation.check: observation for observation in observations}


def test_after_rework_due_checks_wait_and_the_others_carry_over() -> None:
    before = first_pass()
    merged = by_check(merge_passes(PLAN, before, [Observation("seat", (8,))], ["lap"]))
    assert merged["seat"].values == (8,)
    assert merged["bore"].values == (5,)
    assert merged["look"].result == "A"
    assert "crack" not in merged
    assert before == first_pass()


def test_a_check_measured_again_without_need_counts_as_last_measured() -> None:
    merged = by_check(merge_passes(PLAN, first_pass(), [Observation("bore", (6,))], []))
    assert merged["bore"].values == (6,)
    assert merged["seat"].values == (15,)


def test_a_crack_once_found_stays_found() -> None:
    before = [Observation("crack", result=" Indication ", detail="bolt hole")]
    merged = merge_passes(PLAN, before, [Observation("crack", result="none")], ["lap"])
    assert merged == tuple(before)


def test_a_check_twice_in_one_re_inspection_is_refused() -> None:
    twice = [Observation("seat", (8,)), Observation("seat", (9,))]
    with pytest.raises(ValueError, match="twice"):
        merge_passes(PLAN, first_pass(), twice, ["lap"])


def test_rework_pays_when_a_saved_body_costs_less_than_it_gains() -> None:
    # 9.70 / 0.70 = 13.86 < 40.13
    worth = rework_pays(97_000, Fraction(7, 10), 413_300, 12_000)
    assert worth.per_saved == 138_571
    assert worth.gain == 401_300
    assert worth.pays is True
    assert worth.settled is None


def test_a_tie_does_not_pay_and_is_decided_exactly() -> None:
    assert rework_pays(10_000, Fraction(1, 3), 30_000, 0).pays is False
    assert rework_pays(9_999, Fraction(1, 3), 30_000, 0).pays is True


def test_the_interval_says_whether_the_answer_is_settled() -> None:
    open_case = rework_pays(97_000, 0.7, 300_000, 0, interval=(0.2, 0.9))
    assert (open_case.pays, open_case.settled) == (True, False)
    assert open_case.per_saved_low == 107_778
    assert open_case.per_saved_high == 485_000
    settled = rework_pays(97_000, 0.7, 300_000, 0, interval=(0.5, 0.9))
    assert settled.settled is True


def test_what_is_unknown_is_said_and_not_counted_as_nothing() -> None:
    no_rate = rework_pays(97_000, None, 300_000, 0)
    assert (no_rate.per_saved, no_rate.pays) == (None, None)
    assert no_rate.why is not None
    no_value = rework_pays(97_000, Fraction(1, 2), None, 0)
    assert (no_value.per_saved, no_value.gain, no_value.pays) == (194_000, None, None)
    never = rework_pays(97_000, 0, 300_000, 0, interval=(0, 0.5))
    assert (never.per_saved, never.pays) == (None, False)
    assert never.per_saved_high is None
    assert never.why == "no reworked body has passed"


def test_a_rate_that_is_no_share_is_refused() -> None:
    for rate in (-0.1, 1.1):
        with pytest.raises(ValueError, match="from 0 to 1"):
            rework_pays(1, rate, 1, 0)
    with pytest.raises(ValueError, match="zero or more"):
        rework_pays(-1, 0.5, 1, 0)


@settings(deadline=None)
@given(
    st.integers(0, 10**7), st.fractions(Fraction(1, 1000), 1), st.integers(0, 10**8),
    st.integers(0, 10**6),
)  # fmt: skip
def test_paying_means_that_trying_beats_scrapping(
    cost: int, rate: Fraction, good: int, scrap: int
) -> None:
    tried = rate * good + (1 - rate) * scrap - cost
    assert rework_pays(cost, rate, good, scrap).pays is (tried > scrap)
