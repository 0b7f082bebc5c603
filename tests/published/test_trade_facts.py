"""Facts of the trade, common practice, no source.

* A case-hardened seat near 55 HRC lies over a core of 13 to 17 HRC; once its case is used up it
  cannot be reworked any more.
* A shop's own limit on spread is half of what the maker allows: 9 % where the maker has 18 %.
"""

from __future__ import annotations

import pytest

from coretrack.figures.grading import reasons, verdict
from coretrack.figures.observations import Observation
from coretrack.figures.plans import Check, Operation, Plan, ReworkBand
from coretrack.figures.rework import BodyHistory
from coretrack.figures.tolerances import MICRO, Limits, read_limits

CASE_ALLOWANCE = 60 * MICRO
ONE_GRIND = 30 * MICRO

SEAT = Plan(
    "seat",
    1,
    (
        Check(
            "runout",
            "Seat runout",
            "dimension",
            1,
            "µm",
            usable=read_limits("<= 8", unit="µm"),
            rework=(ReworkBand("grind", read_limits("8..20", unit="µm")),),
        ),
        Check(
            "hardness",
            "Seat hardness",
            "hardness",
            2,
            "HRC",
            readings=2,
            judged="min",
            usable=read_limits(">= 55", unit="HRC"),
        ),
    ),
    (
        Operation(
            "grind", "Grind the seat", 9, 11_000, 9, "runout", ONE_GRIND, CASE_ALLOWANCE,
            ("hardness",),
        ),
    ),
)  # fmt: skip


def body(runout: int, *hardness: int) -> list[Observation]:
    return [
        Observation("runout", (runout * MICRO,)),
        Observation("hardness", tuple(value * MICRO for value in hardness)),
    ]


def test_a_seat_with_case_left_goes_to_the_grinder() -> None:
    decided = verdict(SEAT, body(12, 56, 55), BodyHistory({"runout": ONE_GRIND}, {"grind": 1}))
    assert decided.grade == "rework"
    assert decided.operations == ("grind",)


def test_a_seat_whose_case_is_used_up_is_scrap_and_says_why() -> None:
    lives = BodyHistory({"runout": CASE_ALLOWANCE}, {"grind": 2})
    decided = verdict(SEAT, body(12, 56, 55), lives)
    assert decided.grade == "scrap"
    assert reasons(decided) == ("runout",)
    assert "allowance is 60" in decided.sentence
    assert verdict(SEAT, body(8, 56, 55), lives).grade == "keep"


@pytest.mark.parametrize("core_hardness", [13, 15, 17])
def test_a_hardness_like_the_core_below_the_case_is_discarded(core_hardness: int) -> None:
    decided = verdict(SEAT, body(5, 56, core_hardness))
    assert decided.grade == "scrap"
    assert reasons(decided) == ("hardness",)
    assert decided.causes[0].distance == (core_hardness - 55) * MICRO


def test_half_of_the_makers_spread_is_the_shops_limit_to_the_last_millionth() -> None:
    maker = read_limits("<= 18", unit="%")
    assert maker.upper is not None
    shop = Limits(maker.lower, maker.upper // 2)
    plan = Plan(
        "set",
        1,
        (
            Check(
                "spread", "Delivery spread", "dimension", 1, "%",
                readings=4, judged="range", usable=shop,
            ),
        ),
    )  # fmt: skip

    def grade(widest: int) -> str:
        readings = (100 * MICRO, 100 * MICRO + widest, 104 * MICRO, 101 * MICRO)
        return verdict(plan, [Observation("spread", readings)]).grade

    assert grade(9_000_000) == "keep"
    assert grade(9_000_001) == "scrap"
