"""Stages: each core where it was judged, the product rolled through, and its interval."""

from __future__ import annotations

import random
import sys

import pytest
from hypothesis import given
from hypothesis import strategies as st

from coretrack.figures.intervals import wilson
from coretrack.figures.return_days import LOG_LOG
from coretrack.figures.stage_yields import (
    NO_STAGE,
    core_path,
    ladder_of_counts,
    pass_rates,
    stage_ladder,
)
from coretrack.figures.yields import Counts

STAGES = ("dock", "crack", "dimension", "rework")
WAY = (*STAGES, "other")


def _path(text: str) -> list[tuple[str, str]]:
    words = {"p": "passed", "f": "failed", "o": "open"}
    return [(stage, words[mark]) for stage, mark in zip(STAGES, text, strict=False) if mark != "-"]


def test_each_stage_counts_only_cores_that_were_judged_there() -> None:
    ladder = stage_ladder("INJ", STAGES, map(_path, ["f", "pf", "ppp", "ppfp", "ppff", "ppo"]))
    entered = [(row.stage, row.entered, row.passed, row.waiting) for row in ladder.stages]
    assert entered == [
        ("dock", 6, 5, 0),
        ("crack", 5, 4, 0),
        ("dimension", 3, 1, 1),
        ("rework", 2, 1, 0),
    ]
    assert [row.not_reached for row in ladder.stages] == [0, 1, 2, 4]
    assert ladder.rolled == pytest.approx(5 / 6 * 4 / 5 * 1 / 3 * 1 / 2)
    assert ladder.worst == "dimension"
    assert ladder.sentence.startswith("dock 83.3 % × crack 80.0 % × dimension 33.3 %")
    assert ladder.sentence.endswith("most die at dimension (2 cores)")


def test_a_body_never_measured_is_no_pass() -> None:
    ladder = stage_ladder("INJ", STAGES[:3], map(_path, ["pf-", "pf-", "ppp"]))
    dimension = ladder.stages[2]
    assert (dimension.entered, dimension.passed, dimension.not_reached) == (1, 1, 2)


def test_nested_stages_give_the_plain_yield_and_its_wilson_interval() -> None:
    ladder = ladder_of_counts("INJ", [("dock", 100, 90), ("crack", 90, 80), ("size", 80, 69)])
    assert ladder.rolled == pytest.approx(0.69)
    assert ladder.interval == wilson(69, 100)


def test_stages_with_cores_left_between_take_greenwoods_interval() -> None:
    ladder = ladder_of_counts("INJ", [("dock", 100, 90), ("crack", 85, 80), ("size", 70, 60)])
    assert ladder.interval.method == LOG_LOG
    assert ladder.interval.low is not None
    assert ladder.rolled is not None
    assert ladder.interval.low < ladder.rolled < (ladder.interval.high or 0)


def test_rolled_interval_holds_the_truth_as_often_as_it_says(
    capsys: pytest.CaptureFixture[str],
) -> None:
    rng = random.Random(5)
    shares, sizes, runs, held = (0.95, 0.85, 0.8), (120, 70, 60), 800, 0
    truth = 0.95 * 0.85 * 0.8
    for _ in range(runs):
        counts = [
            (f"s{size}", size, sum(rng.random() < share for _ in range(size)))
            for share, size in zip(shares, sizes, strict=True)
        ]
        found = ladder_of_counts("g", counts).interval
        held += (found.low or 0.0) <= truth <= (found.high or 0.0)
    with capsys.disabled():
        sys.stdout.write(f"\nrolled yield of three stages: {held / runs:.3f} for 0.95\n")
    assert 0.93 <= held / runs <= 0.98


@pytest.mark.parametrize(
    ("counts", "rolled"),
    [
        ([("dock", 12, 12), ("crack", 9, 9)], 1.0),
        ([("dock", 12, 10), ("crack", 9, 0)], 0.0),
        ([("dock", 1, 1), ("crack", 1, 1)], 1.0),
    ],
)
def test_all_or_none_passed_is_no_certainty(
    counts: list[tuple[str, int, int]], rolled: float
) -> None:
    found = ladder_of_counts("INJ", counts)
    assert found.rolled == rolled
    assert found.interval.low is not None
    assert found.interval.high is not None
    assert found.interval.high - found.interval.low > 0.2


def test_nothing_judged_and_nothing_through_yet_give_no_figure() -> None:
    assert stage_ladder("INJ", STAGES, []).why == NO_STAGE
    waiting = stage_ladder("INJ", STAGES[:2], map(_path, ["po", "po"]))
    assert waiting.rolled is None
    assert waiting.why == "no core has come through crack yet"
    assert waiting.stages[1].why == "2 cores are waiting at crack"


def test_a_stage_the_family_does_not_have_stays_out_of_the_product() -> None:
    ladder = stage_ladder("CAL", STAGES, map(_path, ["ppp", "ppf"]))
    assert ladder.rolled == pytest.approx(0.5)
    assert ladder.stages[3].yield_ is None


@pytest.mark.parametrize(
    ("accepted", "verdict", "reworked", "ended", "path"),
    [
        (False, [], False, "", "f"),
        (True, [("crack", "new"), ("dimension", "usable")], False, "good", "ppp-p"),
        (True, [("crack", "discard"), ("dimension", "missing")], False, "scrapped", "pf"),
        (True, [("crack", "usable"), ("dimension", "discard")], False, "scrapped", "ppf"),
        (True, [("dimension", "discard"), ("crack", "missing")], False, "scrapped", "p-f"),
        (True, [("crack", "usable"), ("dimension", "rework")], True, "good", "ppppp"),
        (True, [("crack", "usable"), ("dimension", "rework")], True, "scrapped", "pppf"),
        (True, [("crack", "usable"), ("dimension", "rework")], True, "", "pppo"),
        (True, [("crack", "undecided"), ("look", "usable")], False, "", "pop"),
        (None, [("crack", "usable"), ("look", "discard")], False, "good", "-pp-p"),
        (True, [("crack", "usable"), ("look", "usable")], False, "scrapped", "ppp-f"),
        (True, [("crack", "missing"), ("look", "missing")], False, "", "p"),
        (
            True,
            [("crack", "discard"), ("dimension", "usable"), ("dimension", "missing")],
            False,
            "scrapped",
            "pf",
        ),
    ],
)
def test_a_cores_way_through_the_stages(
    accepted: bool | None, verdict: list[tuple[str, str]], reworked: bool, ended: str, path: str
) -> None:
    words = {"p": "passed", "f": "failed", "o": "open"}
    wanted = [(s, words[m]) for s, m in zip(WAY, path, strict=False) if m != "-"]
    assert list(core_path(accepted, verdict, reworked, ended)) == wanted


def test_a_bench_that_stops_at_the_first_fail_rolls_up_to_the_plain_yield() -> None:
    fates = [
        (False, [], False, ""),
        (True, [("crack", "discard"), ("dimension", "missing")], False, "scrapped"),
        (True, [("crack", "usable"), ("dimension", "discard")], False, "scrapped"),
        (True, [("crack", "usable"), ("dimension", "rework")], False, "scrapped"),
        *[(True, [("crack", "usable"), ("dimension", "usable")], False, "good")] * 4,
    ]
    ladder = stage_ladder("INJ", WAY, [core_path(*fate) for fate in fates])
    assert ladder.rolled == pytest.approx(4 / 8)
    assert "other 80.0 %" in ladder.sentence


def test_wrong_paths_are_refused() -> None:
    with pytest.raises(ValueError, match="not a stage's outcome"):
        stage_ladder("INJ", STAGES, [[("oven", "passed")]])
    with pytest.raises(ValueError, match="twice"):
        stage_ladder("INJ", STAGES, [[("dock", "passed"), ("dock", "failed")]])
    with pytest.raises(ValueError, match="cannot have passed"):
        ladder_of_counts("INJ", [("dock", 3, 4)])


def test_worked_yield_of_first_pass_and_rework() -> None:
    """k 0.52, w 0.24, ρ 0.70: y 0.688."""
    counts = Counts(1000, 1000, 520, 168, 312)
    rates = pass_rates(counts, rework_scrapped=72)
    assert rates.first_pass.rate == 0.52
    assert rates.rework.rate == pytest.approx(0.70)
    assert rates.added.rate == 0.168
    assert (rates.first_pass.rate or 0) + (rates.added.rate or 0) == pytest.approx(0.688)


def test_rework_without_a_decided_body_has_no_pass_rate() -> None:
    rates = pass_rates(Counts(10, 10, 6, 0, 4), 0)
    assert rates.rework.rate is None
    assert rates.rework.why == "no reworked body has been decided yet"
    assert pass_rates(Counts(3), 0).first_pass.rate is None
    with pytest.raises(ValueError, match="cannot be"):
        pass_rates(Counts(10, 10, 6, 0, 4), 5)


@given(st.lists(st.lists(st.sampled_from(["passed", "failed", "open"]), max_size=4), max_size=40))
def test_every_core_stands_once_at_every_stage(outcomes: list[list[str]]) -> None:
    paths = [list(zip(STAGES, outcome, strict=False)) for outcome in outcomes]
    ladder = stage_ladder("g", STAGES, paths)
    for row in ladder.stages:
        assert row.entered + row.waiting + row.not_reached == len(paths)
        assert row.yield_ is None or 0 <= row.yield_ <= 1
