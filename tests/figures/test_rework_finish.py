"""A finished pass as told: its minutes, its stock, what is left, and whether it pays in words."""

from __future__ import annotations

from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from coretrack.figures.plans import Check, Operation
from coretrack.figures.readings import Question, Reading, Refusal
from coretrack.figures.rework import BodyHistory, over_allowance, passes_left, stock_left
from coretrack.figures.rework_finish import (
    minutes_proposed,
    read_minutes,
    read_stock,
    stock_ledger,
)
from coretrack.figures.rework_hint import rework_hint

BORE = Check("bore", "Bore", "dimension", 1, unit="mm", resolution=1_000)
HONE = Operation("hone", "Hone", 12, 8_000, 3, check="bore", removes=20_000, allowance=50_000)
CHASE = Operation("chase", "Chase", 5, 0, 1, check="thread")


@pytest.mark.parametrize(
    ("seconds", "minutes"),
    [
        (None, None), (-5, None), (0, None), (239, None), (240, 4), (720, 12), (749, 12),
        (750, 13), (2_160, 36), (2_161, None), (86_400, None),
    ],
)  # fmt: skip
def test_time_since_the_scan_counts_while_it_can_be_the_work(
    seconds: int | None, minutes: int | None
) -> None:
    assert minutes_proposed(seconds, 12) == minutes


def test_without_planned_minutes_no_time_is_proposed() -> None:
    assert minutes_proposed(600, 0) is None


@pytest.mark.parametrize(
    ("text", "minutes"),
    [
        ("12", "12"),
        ("12 min", "12"),
        ("0,5 h", "30"),
        ("90 s", "1.5"),
        ("0", "0"),
        ("1440", "1440"),
    ],
)
def test_minutes_are_read_with_their_unit(text: str, minutes: str) -> None:
    assert read_minutes(text) == Decimal(minutes)


@pytest.mark.parametrize("text", ["1441", "-1", "soon", "12 mm", "", "30 h"])
def test_what_nobody_works_is_said_in_words(text: str) -> None:
    assert isinstance(read_minutes(text), str)


@pytest.mark.parametrize(
    ("text", "micro"),
    [("0.02", 20_000), ("0,02 mm", 20_000), ("0.001 in", 25_400), ("20 um", 20_000)],
)
def test_stock_is_read_in_its_unit(text: str, micro: int) -> None:
    answer = read_stock(text, BORE, HONE)
    assert isinstance(answer, Reading)
    assert answer.value == micro


@given(st.integers(2_000, 80_000))
def test_an_inch_for_a_millimetre_is_always_asked_back(micro: int) -> None:
    """A stock that fits, typed 25.4 times too small, never goes through for what it is not."""
    slip = Decimal(micro) / 1_000_000 / Decimal("25.4")
    answer = read_stock(f"{slip:.7f}", BORE, HONE)
    if isinstance(answer, Reading):
        # Then it is itself what a pass may take off.
        assert answer.value >= HONE.removes // 10  # type: ignore[operator]
    else:
        assert isinstance(answer, Question)


def test_stock_is_never_less_than_nothing() -> None:
    assert isinstance(read_stock("-0.02", BORE, HONE), Refusal)
    assert isinstance(read_stock("1000004235", BORE, HONE), Question | Refusal)


def test_a_ledger_says_what_is_gone_and_when_it_runs_out() -> None:
    fresh = stock_ledger(BORE, HONE, BodyHistory())
    assert fresh is not None
    assert (fresh.left, fresh.passes, fresh.near) == ("0.050 mm", 2, False)
    worn = stock_ledger(BORE, HONE, BodyHistory({"bore": 20_000}, {"hone": 1}))
    assert worn is not None
    assert (worn.gone, worn.passes, worn.near) == ("0.020 mm", 1, True)
    assert worn.said.endswith("0.030 mm is left; after this pass no further one fits.")
    gone = stock_ledger(BORE, HONE, BodyHistory({"bore": 60_000}))
    assert gone is not None
    assert (gone.left, gone.passes) == ("0.000 mm", 0)
    assert stock_ledger(BORE, CHASE, BodyHistory()) is None


@given(st.integers(0, 200_000), st.integers(0, 5), st.integers(0, 200_000))
def test_a_pass_stands_only_within_allowance_and_passes(gone: int, done: int, stock: int) -> None:
    lives = BodyHistory({"bore": gone}, {"hone": done})
    allowed = over_allowance(HONE, stock, lives) is None
    assert allowed == (done + 1 <= 3 and gone + stock <= 50_000)
    assert 0 <= (stock_left(HONE, lives) or 0) <= 50_000
    fit = passes_left(HONE, lives)
    assert fit == 0 or over_allowance(HONE, 20_000, lives) is None


@pytest.mark.parametrize(
    ("good", "passes", "worth", "words", "chip"),
    [
        (70, 100, 450_000, "Reworking pays: 70 of 100 passes so far ended in a good body.", "good"),
        (2, 2, 450_000, "Reworking pays: 2 of 2 passes so far ended in a good body.", "good"),
        (1, 1, 150_000, "Reworking seems to pay: 1 of 1 pass so far ended in a good body, "
         "too few to be sure.", "good"),
        (10, 100, 450_000, "Scrapping is cheaper: 10 of 100 passes so far ended in a good body.",
         "stop"),
        (0, 2, 450_000, "Scrapping seems cheaper: 0 of 2 passes so far ended in a good body, "
         "too few to be sure.", "stop"),
        (0, 0, 450_000, "Not known whether reworking pays: no reworked body has been decided yet.",
         "ask"),
        (7, 10, None, "Not known whether reworking pays: the value of a good body is not known.",
         "ask"),
    ],
)  # fmt: skip
def test_the_hint_in_plain_words(
    good: int, passes: int, worth: int | None, words: str, chip: str
) -> None:
    """Invented money: a pass costs 9.70, scrap brings 0.50."""
    hint = rework_hint(97_000, good, passes, worth, 5_000)
    assert (hint.words, hint.chip) == (words, chip)


def test_the_money_behind_the_hint_and_a_rate_that_is_not_set() -> None:
    """9.70/0.70 = 13.86 against 40.13: the example worked out in the shop's own notes."""
    hint = rework_hint(97_000, 70, 100, 401_300, 0)
    assert hint.money.startswith("One saved body costs 13.86 (")
    assert hint.money.endswith("a good body from elsewhere is worth 40.13 more than its scrap.")
    unset = rework_hint(None, 70, 100, 401_300, 0)
    assert (unset.words, unset.money) == (
        "Not known whether reworking pays: the labour rate is not set.", "",
    )  # fmt: skip
