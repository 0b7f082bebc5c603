"""The return window: its last day, and the three ways a shop treats a late core."""

from __future__ import annotations

from datetime import date, timedelta
from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from coretrack.errors import InvalidInput
from coretrack.figures.windows import WindowRule, due_date, lateness

SOLD = date(2026, 3, 2)
WEEKLY = WindowRule(30, "slide", Decimal(25), 7)


def on_day(day: int) -> date:
    return SOLD + timedelta(days=day)


def test_the_last_day_of_the_window_is_inside() -> None:
    rule = WindowRule(30, "nothing")
    assert due_date(rule, SOLD) == date(2026, 4, 1)
    assert lateness(rule, SOLD, on_day(30)).percent == 0
    assert lateness(rule, SOLD, on_day(31)).percent == 100
    assert lateness(rule, SOLD, on_day(31)).days_late == 1


def test_a_shop_without_a_window_never_calls_a_core_late() -> None:
    rule = WindowRule(None)
    assert due_date(rule, SOLD) is None
    assert lateness(rule, SOLD, on_day(4000)).percent == 0


def test_a_lenient_shop_says_that_the_core_was_late_but_takes_nothing_off() -> None:
    late = lateness(WindowRule(30, "full"), SOLD, on_day(45))
    assert (late.days_late, late.percent) == (15, 0)
    assert "credits late cores in full" in late.text


@pytest.mark.parametrize(
    ("day", "percent"),
    [(30, 0), (31, 0), (36, 0), (37, 25), (43, 25), (44, 50), (51, 75), (57, 75), (58, 100)],
)
def test_the_weekly_slide_takes_a_quarter_for_each_full_week(day: int, percent: int) -> None:
    # A seller's policy reads: 25 % of the charge per week after day 30, nothing left at day 60.
    assert lateness(WEEKLY, SOLD, on_day(day)).percent == percent


def test_the_slide_keeps_its_word_that_nothing_is_left_at_day_60() -> None:
    late = lateness(WEEKLY, SOLD, on_day(60))
    assert late.percent == 100
    assert late.text == "Arrived 30 days after the window of 30 days, 4 full weeks at 25 %"


def test_a_slide_that_would_take_more_than_all_says_that_it_stops() -> None:
    late = lateness(WindowRule(30, "slide", Decimal("33.3"), 10), SOLD, on_day(75))
    assert late.percent == 100
    assert late.text.endswith("4 full 10-day steps at 33.3 %: nothing is left of it")


def test_a_core_that_came_before_the_sale_is_in_time() -> None:
    assert lateness(WEEKLY, SOLD, on_day(-5)).percent == 0


@pytest.mark.parametrize(
    ("day", "percent"), [(35, 0), (36, 1), (47, 12), (65, 30), (66, 30), (215, 30)]
)
def test_a_daily_late_fee_stops_at_its_most(day: int, percent: int) -> None:
    # Billed 35 days after the sale, then 1 % a day up to 30 %. Common practice, no source.
    rule = WindowRule(35, "slide", Decimal(1), 1, slide_most=Decimal(30))
    assert lateness(rule, SOLD, on_day(day)).percent == percent


def test_a_daily_fee_is_told_in_days_with_its_most() -> None:
    rule = WindowRule(35, "slide", Decimal(1), 1, slide_most=Decimal(30))
    came = "Arrived {} after the window of 35 days, {}"
    assert lateness(rule, SOLD, on_day(36)).text == came.format("1 day", "1 day at 1 %")
    late = lateness(rule, SOLD, on_day(75)).text
    assert late == came.format("40 days", "40 days at 1 %, but no more than 30 % in all")


@pytest.mark.parametrize("after", ["full", "slide", "nothing"])
def test_nothing_is_credited_after_the_day_on_which_it_ends(after: str) -> None:
    rule = WindowRule(30, after, Decimal(1), 1, nothing_after=60)
    before, behind = lateness(rule, SOLD, on_day(60)), lateness(rule, SOLD, on_day(61))
    assert before.percent == {"full": 0, "slide": 30, "nothing": 100}[after]
    assert behind.percent == 100
    assert behind.text == (
        "Arrived 31 days after the window of 30 days: nothing is credited after 60 days from the"
        " sale"
    )


@pytest.mark.parametrize("days", [30, 35, 40, 45, 60, 180])
def test_windows_in_use_end_on_their_last_day(days: int) -> None:
    rule = WindowRule(days)
    assert lateness(rule, SOLD, on_day(days)).percent == 0
    assert lateness(rule, SOLD, on_day(days + 1)).percent == 100


@pytest.mark.parametrize(
    ("most", "end", "word"),
    [("24", None, "stop at one step or more"), ("101", None, "100 %"), ("30", 29, "not inside")],
)
def test_a_cap_or_an_end_that_makes_no_sense_is_refused(
    most: str, end: int | None, word: str
) -> None:
    with pytest.raises(InvalidInput, match=word):
        WindowRule(30, "slide", Decimal(25), 7, Decimal(most), end)


@pytest.mark.parametrize(
    ("days", "after", "percent", "step", "word"),
    [
        (-1, "nothing", 0, 7, "0 or more"),
        (30, "maybe", 0, 7, "nothing, full or slide"),
        (30, "slide", 0, 7, "more than 0"),
        (30, "slide", 101, 7, "at most 100"),
        (30, "slide", 25, 0, "1 day or more"),
    ],
)
def test_a_window_that_makes_no_sense_is_refused_with_what_would_be_right(
    days: int, after: str, percent: int, step: int, word: str
) -> None:
    with pytest.raises(InvalidInput, match=word):
        WindowRule(days, after, Decimal(percent), step)


rules = st.one_of(
    st.builds(WindowRule, st.integers(0, 200), st.sampled_from(["nothing", "full"])),
    st.builds(
        WindowRule,
        st.integers(0, 200),
        st.just("slide"),
        st.decimals("0.01", 100, places=2),
        st.integers(1, 40),
    ),
    st.builds(
        WindowRule,
        st.integers(0, 200),
        st.sampled_from(["full", "slide"]),
        st.decimals("0.01", 20, places=2),
        st.integers(1, 40),
        st.decimals(20, 100, places=2),
        st.integers(200, 500),
    ),
)


@given(rules, st.integers(-50, 900), st.integers(0, 60))
def test_a_day_later_never_costs_less(rule: WindowRule, day: int, more: int) -> None:
    first, second = lateness(rule, SOLD, on_day(day)), lateness(rule, SOLD, on_day(day + more))
    assert 0 <= first.percent <= second.percent <= 100
    assert (first.days_late > 0) == (on_day(day) > due_date(rule, SOLD))  # type: ignore[operator]
