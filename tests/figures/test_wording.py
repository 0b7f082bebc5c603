"""Figures in words: no false zero, no false hundred, no spread smaller than the interval."""

from __future__ import annotations

from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st
from samples import money, sample_summary

from coretrack.figures.wording import (
    charge_range,
    charge_verdict,
    cost_counted,
    cost_figure,
    good_body_origin,
    money_spread,
    other_warnings,
    rate,
    rate_bounds,
    rate_spread,
    returns_line,
    sentence,
    yield_line,
)
from coretrack.figures.yields import Interval

SHOP = sample_summary()
INJ, TUR, CAL, PMP, ALT = SHOP.charges


@pytest.mark.parametrize(
    ("value", "text"),
    [
        (None, "no figure yet"),
        (float("nan"), "no figure yet"),
        (0.0, "0 %"),
        (1.0, "100 %"),
        (0.6816, "68 %"),
        (0.685, "69 %"),
        (0.996, "99.6 %"),
        (0.9999, "99.9 %"),
        (0.0004, "0.1 %"),
    ],
)
def test_a_rate_reads_as_percent_and_only_all_of_it_is_100(value: float | None, text: str) -> None:
    assert rate(value) == text


def test_the_spread_is_the_wider_side_rounded_up() -> None:
    assert rate_spread(0.70, Interval(0.64, 0.75, "Wilson")) == "± 6"
    assert rate_spread(0.70, Interval(0.649, 0.73, "Wilson")) == "± 6"
    assert rate_spread(0.70, Interval(0.65, 0.75, "Wilson")) == "± 5"
    assert rate_spread(None, Interval(None, None, "Wilson")) is None
    assert rate_bounds(Interval(0.64, 0.74, "Wilson")) == "64 to 74 %"


@given(st.floats(0, 1), st.floats(0, 1), st.floats(0, 1))
def test_the_shown_spread_never_hides_a_part_of_the_interval(a: float, b: float, c: float) -> None:
    low, value, high = sorted((a, b, c))
    spread = rate_spread(value, Interval(low, high, "Wilson"))
    assert spread is not None
    assert int(spread.removeprefix("± ")) / 100 >= max(high - value, value - low) - 1e-8


def test_a_cost_says_as_much_as_is_known() -> None:
    assert cost_figure(money("39.26"), money("36"), money("42.5")) == "39.26 ± 3.26"
    assert cost_figure(money("39.26"), money("36"), None) == "39.26, at least 36.00"
    assert cost_figure(money("39.26"), None, None) == "39.26"
    assert cost_figure(None, money("99.44"), None) == "no figure yet, at least 99.44"
    assert cost_figure(None, None, None) == "no figure yet"
    assert money_spread(None, 1, 2) is None


def test_a_yield_line_counts_the_decided_cores_or_says_why_there_is_none() -> None:
    assert yield_line(SHOP.yields[0]) == "68 % ± 5 of 380 decided cores"
    assert yield_line(SHOP.yields[3]) == "No core of this group has been decided yet."


def test_todays_charge_is_set_against_the_range() -> None:
    assert charge_range(INJ) == "18.27 to 22.02"
    assert charge_verdict(INJ) == "Today's charge is 0.27 below the range."
    assert charge_verdict(TUR) == "Today's charge lies inside the range."
    assert charge_verdict(CAL) == "Today's charge is 7.49 above the range."
    assert charge_verdict(replace(TUR, charge_today=None)).startswith("No charge is set")


def test_the_ends_of_the_range_are_inside() -> None:
    assert "inside" in charge_verdict(replace(INJ, charge_today=INJ.make_whole_low))
    assert "inside" in charge_verdict(replace(INJ, charge_today=INJ.make_whole_high))


def test_without_a_range_there_is_a_reason_and_no_number() -> None:
    assert charge_range(PMP) == "no figure yet"
    assert charge_verdict(PMP).startswith("No charge is suggested: no core")
    assert charge_range(ALT) == "none"
    assert "costs more than it brings in" in charge_verdict(ALT)


def test_one_price_for_both_ends_is_written_once() -> None:
    same = replace(INJ, make_whole_low=180000, make_whole=180000, make_whole_high=180000)
    assert charge_range(same) == "18.00"


def test_the_value_of_a_good_body_names_its_origin() -> None:
    assert good_body_origin(CAL.good_body) == "A good body is worth 64.00: a new body costs 64.00."
    assert CAL.good_body is not None
    bare = replace(CAL.good_body, detail="")
    assert good_body_origin(bare) == "A good body is worth 64.00, from the price of a new body."
    assert "not known" in good_body_origin(None)


def test_the_verdict_is_not_repeated_among_the_warnings() -> None:
    assert any("make-whole range" in text for text in CAL.warnings)
    assert not any("make-whole range" in text for text in other_warnings(CAL, SHOP.costs[2]))


def test_a_sentence_has_a_capital_and_one_stop() -> None:
    assert sentence("no core yet.") == "No core yet."
    assert sentence("  ") == ""


def test_the_count_beside_a_cost_is_that_of_the_cores_the_cost_is_made_of():
    summary = sample_summary()
    advice, cost = summary.charges[0], summary.costs[0]
    counts = cost.yields.counts
    assert cost_counted(replace(advice, decided=1, good=1), cost) == (
        f"n {counts.decided:,} decided, {counts.good:,} good"
    )
    assert returns_line(replace(advice, decided=counts.decided), cost) == ""
    assert "returned cores alone" in returns_line(replace(advice, decided=1), cost)
