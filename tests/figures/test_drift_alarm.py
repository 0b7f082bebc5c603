"""Drift of the scrap rate: run lengths, the planted shift, and where no alarm can be judged."""

from __future__ import annotations

import random
import sys
from fractions import Fraction

import pytest

from coretrack.figures.drift_alarm import cusum_design, drift, run_length


def _cores(seed: int, *parts: tuple[int, float]) -> list[tuple[str, bool]]:
    rng = random.Random(seed)
    flags = [rng.random() < rate for count, rate in parts for _ in range(count)]
    return [(f"core {number}", flag) for number, flag in enumerate(flags)]


@pytest.mark.parametrize(("rate", "level"), [(0.5, 4), (0.5, 7), (0.3, 5), (0.45, 6)])
def test_steps_of_one_have_the_closed_run_length(rate: float, level: int) -> None:
    """A walk held up at 0: level (level + 1) for even odds, else by the ratio of good to bad."""
    if rate == 0.5:
        expected = level * (level + 1.0)
    else:
        good, drift_ = 1 - rate, 2 * rate - 1
        ratio = good / rate
        expected = level / drift_ - good / drift_**2 * (1 - ratio**level)
    assert run_length(rate, 1, 1, level) == pytest.approx(expected, rel=1e-10)


def test_run_length_is_that_of_simulated_steady_cores(capsys: pytest.CaptureFixture[str]) -> None:
    design = cusum_design(0.3, 2, 200)
    rng, runs = random.Random(7), 1500
    total_run = 0
    for _ in range(runs):
        height, run = 0, 0
        while height < design.level:
            run += 1
            height = max(0, height + (design.up if rng.random() < 0.3 else -design.down))
        total_run += run
    with capsys.disabled():
        seen = f"{total_run / runs:.0f} for {design.run_usual:.0f}"
        sys.stdout.write(f"\ncores between false alarms: {seen}\n")
    assert total_run / runs == pytest.approx(design.run_usual, rel=0.08)


@pytest.mark.parametrize("usual", [0.03, 0.1, 0.31, 0.5, 0.8])
def test_a_design_keeps_false_alarms_rare_and_finds_the_shift_soon(usual: float) -> None:
    design = cusum_design(usual)
    assert design.run_usual >= 2000
    assert run_length(usual, design.up, design.down, design.level - 1) < 2000
    assert design.run_shifted < design.run_usual / 10


def test_odds_doubled_turn_thirty_percent_into_forty_six() -> None:
    assert cusum_design(0.3).shifted == pytest.approx(6 / 13)


def test_a_family_that_drifts_is_found_with_the_core_at_which_it_began() -> None:
    found = drift(_cores(1, (200, 0.3), (150, 0.5)), (90, 300))
    assert found.alarm is True
    assert found.since is not None
    assert 150 <= int(found.since.split()[1]) <= 260
    assert found.rate_since is not None
    assert found.rate_since > 0.4
    assert found.sentence.startswith("scrap rate: alarm at core ")
    assert "usual was 30.0 %" in found.sentence
    assert max(point.height for point in found.points) >= 1


def test_a_steady_family_gives_no_alarm() -> None:
    found = drift(_cores(5, (300, 0.3)), (90, 300))
    assert found.alarm is False
    assert found.since is None
    assert found.sentence == "scrap rate: no alarm in 300 cores"


def test_lots_that_clump_raise_the_level() -> None:
    plain, wide = cusum_design(0.3), cusum_design(0.3, widening=3)
    assert wide.level == 3 * plain.level
    clumped = [(f"c{n}", n // 12 % 3 == 0) for n in range(120)]
    assert drift(clumped, (100, 300)).alarm is True
    assert drift(clumped, (100, 300), widening=6).alarm is False


def test_the_raised_level_keeps_false_alarms_as_rare_when_lots_differ() -> None:
    """Lots of 25 whose scrap rates spread by 0.09 about 0.30 vary 1.93 times as much as chance."""
    rng, size = random.Random(21), 0.3 * 0.7 / 0.09**2 - 1
    asked = 300
    runs: dict[float, list[int]] = {1.0: [], 1.93: []}
    for widening, seen in runs.items():
        design = cusum_design(0.3, 2, asked, widening)
        for _ in range(250):
            height, run, share = 0, 0, 0.3
            while height < design.level:
                if run % 25 == 0:
                    share = rng.betavariate(0.3 * size, 0.7 * size)
                run += 1
                height = max(0, height + (design.up if rng.random() < share else -design.down))
            seen.append(run)
    assert sum(runs[1.0]) / 250 < 0.75 * asked
    assert sum(runs[1.93]) / 250 > asked


@pytest.mark.parametrize(
    ("base", "words"),
    [
        ((9, 49), "only 49 cores decided before; a usual rate takes 50"),
        ((0, 80), "every core of the time before was good"),
        ((80, 80), "every core of the time before was scrapped"),
        ((0, 0), "only 0 cores decided before"),
    ],
)
def test_without_a_usual_rate_there_is_no_verdict(base: tuple[int, int], words: str) -> None:
    found = drift(_cores(1, (50, 0.5)), base)
    assert found.alarm is None
    assert found.why is not None
    assert found.why.startswith(words)


def test_no_core_since_is_no_verdict() -> None:
    assert drift([], (30, 100)).why == "no core decided since; the usual scrap rate is 30.0 %"


def test_impossible_designs_are_refused() -> None:
    for wrong in ((0.0, 2, 100), (0.3, 1, 100), (0.3, 2, 1)):
        with pytest.raises(ValueError, match="no chart"):
            cusum_design(*wrong)
    with pytest.raises(ValueError, match="no chart"):
        cusum_design(0.3, Fraction(2), 100, 0.5)
    with pytest.raises(ValueError, match="cannot be"):
        drift([], (5, 4))
    with pytest.raises(ValueError, match="a run needs"):
        run_length(0.0, 1, 1, 4)
