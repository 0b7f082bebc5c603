"""Stricter inspector: the question, its two signs, and when there is nothing to ask."""

from __future__ import annotations

import random
import sys

import pytest
from statsmodels.stats.contingency_tables import mcnemar

from coretrack.figures.stratified import Stratum
from coretrack.figures.strictness import (
    CAUTION,
    NEVER_BOTH,
    JudgedCore,
    SecondLook,
    paired_looks,
    strictness_question,
    strictness_questions,
)


def _looks(both: int, only_a: int, only_b: int, neither: int) -> list[SecondLook]:
    verdicts = [(True, True)] * both + [(True, False)] * only_a + [(False, True)] * only_b
    verdicts += [(False, False)] * neither
    return [
        SecondLook("A", a, "B", b) if n % 2 else SecondLook("B", b, "A", a)
        for n, (a, b) in enumerate(verdicts)
    ]


def test_second_looks_are_paired_whoever_came_first() -> None:
    looks = [
        *_looks(5, 9, 2, 24),
        SecondLook("A", True, "C", False),
        SecondLook("A", True, "A", False),
    ]
    found = paired_looks(looks, "A", "B")
    assert (found.bodies, found.only_one, found.only_other) == (40, 9, 2)
    assert found.difference == pytest.approx(7 / 40)
    assert found.p_value == pytest.approx(mcnemar([[5, 9], [2, 24]], exact=True).pvalue)


@pytest.mark.parametrize("counts", [(3, 0, 0, 9), (0, 6, 0, 0), (1, 2, 2, 1), (0, 1, 0, 30)])
def test_exact_p_value_is_that_of_the_reference(counts: tuple[int, int, int, int]) -> None:
    both, a, b, neither = counts
    found = paired_looks(_looks(*counts), "A", "B")
    assert found.p_value == pytest.approx(mcnemar([[both, a], [b, neither]], exact=True).pvalue)
    assert found.interval.low is not None
    assert found.interval.high is not None
    assert found.difference is not None
    assert found.interval.low <= found.difference <= found.interval.high
    assert found.interval.high - found.interval.low > 0.05


def test_paired_interval_covers_what_it_says(capsys: pytest.CaptureFixture[str]) -> None:
    rng, held, runs = random.Random(2), 0, 800
    for _ in range(runs):
        drawn = rng.choices(range(4), (0.2, 0.12, 0.04, 0.64), k=40)
        found = paired_looks(_looks(*(drawn.count(cell) for cell in range(4))), "A", "B").interval
        held += (found.low or -1.0) <= 0.08 <= (found.high or 1.0)
    with capsys.disabled():
        sys.stdout.write(f"\npaired difference of 40 second looks: {held / runs:.3f} for 0.95\n")
    assert 0.93 <= held / runs <= 0.985


def test_an_inspector_eight_points_stricter_over_like_cores_raises_the_question() -> None:
    strata = [Stratum(f"S{n}", 200, 80, 200, 62) for n in range(4)]
    found = strictness_question("Mirelle", "Teodor", strata)
    assert found.asked
    assert found.sentence.startswith("Do Mirelle and Teodor decide alike? Over like cores (800 and")
    assert "+9.0 points" in found.sentence
    assert found.sentence.endswith(CAUTION)
    assert found.agree is None


def test_the_question_never_calls_anybody_strict_or_wrong() -> None:
    strata = [Stratum(f"S{n}", 200, 90, 200, 50) for n in range(4)]
    found = strictness_question("A", "B", strata, _looks(5, 12, 1, 20))
    assert found.agree is True
    for word in ("strict", "wrong", "mistake", "error", "fault", "should"):
        assert word not in found.sentence.lower()


def test_unlike_cores_alone_raise_no_question() -> None:
    strata = [Stratum("good source", 40, 4, 160, 16), Stratum("poor source", 160, 80, 40, 20)]
    found = strictness_question("A", "B", strata)
    assert not found.asked
    assert found.sentence.startswith("A and B: no difference beyond chance.")


def test_signs_that_point_different_ways_are_said_to() -> None:
    strata = [Stratum("s", 400, 200, 400, 120)]
    found = strictness_question("A", "B", strata, _looks(5, 1, 6, 20))
    assert found.agree is False
    assert "point different ways" in found.sentence


def test_many_pairs_looked_at_together_make_a_question_rarer() -> None:
    strata = [Stratum("s", 100, 40, 100, 26)]
    assert strictness_question("A", "B", strata, pairs=1).asked
    assert not strictness_question("A", "B", strata, pairs=3).asked


def test_all_pairs_come_from_cores_and_looks_with_the_clearest_first() -> None:
    cores = [JudgedCore("A", "s", n % 2 == 0) for n in range(200)]
    cores += [JudgedCore("B", "s", n % 5 == 0) for n in range(200)]
    cores += [JudgedCore("C", "s", n % 5 == 0) for n in range(200)]
    cores += [JudgedCore("D", "elsewhere", True)] * 9
    found = strictness_questions(cores)
    assert {(one.one, one.other) for one in found} == {("A", "B"), ("A", "C"), ("B", "C")}
    assert [one.asked for one in found] == [True, True, False]
    assert found[0].pairs == 3


def test_nobody_to_compare_is_nothing_to_ask() -> None:
    assert strictness_questions([]) == ()
    assert strictness_questions([JudgedCore("A", "s", True)] * 5) == ()
    alone = strictness_question("A", "B", [])
    assert not alone.asked
    assert alone.looks.why == NEVER_BOTH
    assert alone.sentence == "A and B: no like cores and no second looks to compare by"
    with pytest.raises(ValueError, match="two different"):
        strictness_question("A", "A", [])
