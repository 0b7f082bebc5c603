"""Drafts of a plan for trying out."""

from __future__ import annotations

from dataclasses import replace

import pytest

from coretrack.errors import InvalidInput
from coretrack.figures.draft_plans import with_limits, with_rework, with_uncertainty
from coretrack.figures.plans import Check, Operation, Plan, ReworkBand
from coretrack.figures.tolerances import Limits

HONE = Operation("hone", "Hone the bore", 8, 7_000, 2, "bore", 2_000, 4_000, ("crack",))
BORE = Check(
    "bore", "Guide bore", "dimension", 2, "mm", 1_000,
    usable=Limits(6_000_000, 6_009_000),
    rework=(ReworkBand("hone", Limits(6_010_000, 6_015_000)),),
)  # fmt: skip
CRACK = Check("crack", "Crack check", "crack", 1, method="penetrant")
THREAD = Check("thread", "Inlet thread", "attribute", 3)
PLAN = Plan("INJ", 1, (BORE, CRACK, THREAD), (HONE,))


def test_a_rework_band_follows_the_usable_limit_it_joined() -> None:
    narrowed = with_limits(PLAN, "bore", Limits(6_000_000, 6_006_000)).check("bore")
    assert narrowed.usable == Limits(6_000_000, 6_006_000)
    assert narrowed.rework == (ReworkBand("hone", Limits(6_006_000, 6_015_000)),)
    widened = with_limits(PLAN, "bore", Limits(6_000_000, 6_012_000)).check("bore")
    assert widened.rework[0].limits == Limits(6_012_000, 6_015_000)
    assert PLAN.check("bore") == BORE


def test_a_band_that_the_new_limits_swallow_goes() -> None:
    assert with_limits(PLAN, "bore", Limits(6_000_000, 6_015_000)).check("bore").rework == ()


def test_a_band_below_the_usable_limits_follows_too() -> None:
    under = replace(BORE, rework=(ReworkBand("hone", Limits(5_990_000, 5_999_500)),))
    plan = replace(PLAN, checks=(under, CRACK, THREAD))
    found = with_limits(plan, "bore", Limits(6_001_000, 6_009_000)).check("bore")
    assert found.rework[0].limits == Limits(5_990_000, 6_001_000)


def test_an_uncertainty_makes_the_check_guarded() -> None:
    found = with_uncertainty(PLAN, "bore", 1_500).check("bore")
    assert (found.uncertainty, found.rule) == (1_500, "guarded")
    assert with_uncertainty(PLAN, "bore", 0, "simple").check("bore").rule == "simple"


def test_a_rework_is_added_with_its_operation_once() -> None:
    sleeve = Operation("sleeve", "Sleeve the bore", 18, 32_000, 1, "bore")
    found = with_rework(PLAN, "bore", sleeve, Limits(6_015_000, 6_030_000))
    assert found.check("bore").rework[-1].operation == "sleeve"
    assert [operation.code for operation in found.operations] == ["hone", "sleeve"]
    chase = Operation("chase", "Chase the thread", 3, 1_000, 1, "thread")
    assert with_rework(PLAN, "thread", chase).check("thread").reworked_by() == ("chase",)
    again = with_rework(PLAN, "bore", HONE, Limits(6_015_000, 6_016_000))
    assert len(again.operations) == 1


def _draft_of(kind: str) -> Plan:
    other = Operation("hone", "Something else", 1, 1, 1)
    sleeve = Operation("sleeve", "Sleeve the bore", 18, 32_000, 1, "bore")
    if kind == "unknown check":
        return with_limits(PLAN, "lid", Limits(0, 1))
    if kind == "crack":
        return with_limits(PLAN, "crack", Limits(0, 1))
    if kind == "negative":
        return with_uncertainty(PLAN, "bore", -1)
    if kind == "rule":
        return with_uncertainty(PLAN, "bore", 1, "harsh")
    if kind == "apart":
        return with_rework(PLAN, "bore", sleeve, Limits(6_020_000, 6_030_000))
    if kind == "no limits":
        return with_rework(PLAN, "bore", sleeve)
    if kind == "limits":
        return with_rework(PLAN, "thread", sleeve, Limits(0, 1))
    if kind == "crack rework":
        return with_rework(PLAN, "crack", sleeve)
    return with_rework(PLAN, "bore", other, Limits(6_015_000, 6_016_000))


@pytest.mark.parametrize(
    ("kind", "said"),
    [
        ("unknown check", "no check 'lid'"),
        ("crack", "has no limits to try out"),
        ("negative", "zero or more"),
        ("rule", "simple or guarded"),
        ("apart", "lies apart from what is usable"),
        ("no limits", "needs limits"),
        ("limits", "takes no limits"),
        ("crack rework", "no rework can be tried out"),
        ("other", "another operation 'hone'"),
    ],
)
def test_a_draft_that_makes_no_sense_is_refused(kind: str, said: str) -> None:
    with pytest.raises(InvalidInput, match=said):
        _draft_of(kind)
