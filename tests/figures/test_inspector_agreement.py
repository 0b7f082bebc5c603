"""Kappa, agreement and the two ways to be wrong: what holds for any grades, and with nothing."""

from __future__ import annotations

import random

import pytest
from hypothesis import given
from hypothesis import strategies as st
from statsmodels.stats import inter_rater

from coretrack.figures.agreement import (
    GRADES,
    LINEAR,
    PLAIN,
    SQUARED,
    agreement_share,
    cohens_kappa,
    fleiss_kappa,
    grade_table,
    inspection_errors,
    kappa_in_words,
)
from coretrack.figures.intervals import wilson

grade = st.sampled_from(GRADES)
pairs_of_grades = st.lists(st.tuples(grade, grade), max_size=60)
weightings = st.sampled_from((PLAIN, LINEAR, SQUARED))


@given(pairs_of_grades, weightings)
def test_it_does_not_matter_who_graded_first(pairs: list[tuple[str, str]], weights: str) -> None:
    turned = [(second, first) for first, second in pairs]
    assert cohens_kappa(grade_table(turned), weights) == cohens_kappa(grade_table(pairs), weights)


@given(st.lists(grade, min_size=2, max_size=40).filter(lambda grades: len(set(grades)) > 1))
def test_full_agreement_is_one_for_two_and_for_several(grades: list[str]) -> None:
    table = grade_table([(one, one) for one in grades])
    for weights in (PLAIN, LINEAR, SQUARED):
        found = cohens_kappa(table, weights)
        assert found.value == 1.0
        assert (found.interval.low, found.interval.high) == (None, None)
        assert found.interval.why is not None
    rows = [[4 if one == name else 0 for name in GRADES] for one in grades]
    assert fleiss_kappa(rows).value == 1.0


@given(pairs_of_grades, weightings)
def test_kappa_and_its_interval_stay_between_minus_one_and_one(
    pairs: list[tuple[str, str]], weights: str
) -> None:
    found = cohens_kappa(grade_table(pairs), weights)
    if found.value is None:
        assert found.why
        assert found.interval.why == found.why
        return
    assert -1 <= found.value <= 1
    if found.interval.low is not None and found.interval.high is not None:
        assert -1 <= found.interval.low <= found.value <= found.interval.high <= 1


@given(pairs_of_grades.filter(lambda pairs: len({g for pair in pairs for g in pair}) > 1))
def test_two_grades_alone_weigh_alike(pairs: list[tuple[str, str]]) -> None:
    two = [
        ("scrap" if a == "scrap" else "keep", "scrap" if b == "scrap" else "keep") for a, b in pairs
    ]
    table = grade_table(two, ("keep", "scrap"))
    assert cohens_kappa(table, LINEAR) == cohens_kappa(table) == cohens_kappa(table, SQUARED)


@pytest.mark.parametrize("seed", range(5))
def test_cohens_kappa_agrees_with_statsmodels(seed: int) -> None:
    chance = random.Random(seed)
    table = [[chance.randint(0, 30) for _ in range(4)] for _ in range(4)]
    for weights, theirs in ((PLAIN, None), (LINEAR, "linear"), (SQUARED, "quadratic")):
        found, other = cohens_kappa(table, weights), inter_rater.cohens_kappa(table, wt=theirs)
        assert found.value == pytest.approx(other.kappa)
        assert found.standard_error == pytest.approx(other.std_kappa)
        assert found.null_error == pytest.approx(other.std_kappa0)
        assert found.interval.low == pytest.approx(other.kappa_low)
        assert found.interval.high == pytest.approx(other.kappa_upp)


@pytest.mark.parametrize("seed", range(5))
def test_fleiss_kappa_agrees_with_statsmodels(seed: int) -> None:
    chance = random.Random(seed)
    rows = []
    for _ in range(25):
        given_grades = [chance.randrange(3) for _ in range(5)]
        rows.append([given_grades.count(grade) for grade in range(3)])
    assert fleiss_kappa(rows).value == pytest.approx(inter_rater.fleiss_kappa(rows))


def test_a_wrong_grade_by_two_steps_weighs_more() -> None:
    near = [("keep", "keep")] * 8 + [("scrap", "scrap")] * 8 + [("keep", "rework")] * 4
    far = [("keep", "keep")] * 8 + [("scrap", "scrap")] * 8 + [("keep", "scrap")] * 4
    close, apart = (cohens_kappa(grade_table(pairs), LINEAR).value for pairs in (near, far))
    assert close is not None
    assert apart is not None
    assert close > apart


def test_nothing_graded_twice_gives_no_figure_and_says_so() -> None:
    for found in (cohens_kappa(grade_table([])), fleiss_kappa([]), fleiss_kappa([[1, 0], [0, 1]])):
        assert found.value is None
        assert found.interval.low is None
        assert found.why == "no core has been graded twice yet"
    share = agreement_share([])
    assert share.share is None
    assert share.interval.high is None
    assert share.why == share.interval.why == "no core has been graded twice yet"


def test_one_grade_for_all_says_nothing_about_agreement() -> None:
    for found in (cohens_kappa(grade_table([("keep", "keep")] * 9)), fleiss_kappa([[3, 0]] * 9)):
        assert found.value is None
        assert found.cores == 9
        assert found.why is not None
        assert found.why.startswith("9 cores have one and the same grade")


def test_cores_graded_unequally_often_are_not_mixed() -> None:
    found = fleiss_kappa([[2, 1], [1, 1], [3, 0]])
    assert found.value is None
    assert found.why is not None
    assert "some cores were graded 2 times, others 3 times" in found.why


def test_several_inspectors_have_a_test_against_chance_and_no_interval() -> None:
    found = fleiss_kappa([[3, 0], [0, 3], [2, 1], [0, 3]])
    assert found.z is not None
    assert found.interval.low is None
    assert found.interval.why is not None


def test_plain_share_of_agreement_has_a_wilson_interval() -> None:
    share = agreement_share([("keep", "keep")] * 18 + [("keep", "scrap")] * 2)
    assert share.share == 0.9
    assert share.interval == wilson(18, 20)


def test_false_rejects_are_of_the_good_and_misses_of_the_bad() -> None:
    pairs = (
        [("keep", "keep")] * 40
        + [("rework", "keep")] * 3
        + [("scrap", "rework")] * 5
        + [("keep", "scrap")] * 2
        + [("scrap", "scrap")] * 10
        + [("undecided", "scrap"), ("keep", "undecided")]
    )
    found = inspection_errors(pairs)
    assert (found.false_reject.count, found.false_reject.total) == (5, 48)
    assert found.false_reject.interval == wilson(5, 48)
    assert (found.miss.count, found.miss.total, found.miss.share) == (2, 12, 2 / 12)
    assert found.undecided == 2


def test_what_counts_as_good_is_the_shops_own() -> None:
    pairs = [("rework", "keep"), ("keep", "rework"), ("keep", "keep")]
    found = inspection_errors(pairs, good=("keep",), bad=("rework", "scrap"))
    assert (found.false_reject.count, found.miss.count) == (1, 1)
    with pytest.raises(ValueError, match="'keep' cannot be good and bad"):
        inspection_errors(pairs, good=("keep",), bad=("keep", "scrap"))


def test_without_good_or_bad_cores_there_is_no_rate_and_a_reason() -> None:
    nothing = inspection_errors([])
    assert nothing.false_reject.why == "no good core has been graded twice yet"
    assert nothing.miss.why == "no bad core has been graded twice yet"
    only_good = inspection_errors([("keep", "keep")])
    assert only_good.false_reject.share == 0.0
    assert only_good.miss.share is None
    assert only_good.miss.interval.high is None


@given(st.lists(st.tuples(grade, grade), max_size=50))
def test_every_pair_counts_once(pairs: list[tuple[str, str]]) -> None:
    found = inspection_errors(pairs)
    assert found.false_reject.total + found.miss.total + found.undecided == len(pairs)


def test_words_for_kappa() -> None:
    assert [kappa_in_words(kappa) for kappa in (-0.2, 0.39, 0.40, 0.75, 0.76)] == [
        "poor", "poor", "fair", "fair", "good",
    ]  # fmt: skip


def test_wrong_tables_and_grades_are_refused() -> None:
    with pytest.raises(ValueError, match="as many rows as columns"):
        cohens_kappa([[1, 2], [3]])
    with pytest.raises(ValueError, match="cannot be negative"):
        cohens_kappa([[1, -2], [3, 4]])
    with pytest.raises(ValueError, match="weights are plain, linear, squared, not 'cubed'"):
        cohens_kappa([[1, 2], [3, 4]], "cubed")
    with pytest.raises(ValueError, match="each of the same grades"):
        fleiss_kappa([[1, 2], [3]])
    with pytest.raises(ValueError, match="cannot be negative"):
        fleiss_kappa([[1, -1]])
    with pytest.raises(ValueError, match="'good' is not a grade here"):
        grade_table([("keep", "good")])
