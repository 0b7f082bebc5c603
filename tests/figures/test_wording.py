"""Figures in words: no false zero, no false hundred, no spread smaller than the interval."""

from __future__ import annotations

from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st
from samples import money, sample_cost, sample_summary

from coretrack.figures.wording import (
    charge_range,
    charge_verdict,
    cost_counted,
    cost_figure,
    good_body_origin,
    money_bounds,
    open_deposits,
    other_warnings,
    rate,
    rate_bounds,
    rate_figure,
    returns_line,
    sentence,
    yield_line,
)
from coretrack.figures.yields import Batch, Counts, Interval, yield_row

SHOP = sample_summary()
INJ, TUR, CAL, PMP, ALT = SHOP.charges


@pytest.mark.parametrize(
    ("value", "text"),
    [
        (None, "no figure yet"),
        (float("nan"), "no figure yet"),
        (0.0, "0.0 %"),
        (1.0, "100.0 %"),
        (0.6816, "68.2 %"),
        (0.6545, "65.5 %"),
        (0.996, "99.6 %"),
        (0.9999, "99.9 %"),
        (0.0004, "0.1 %"),
    ],
)
def test_a_rate_reads_as_percent_and_only_all_of_it_is_100(value: float | None, text: str) -> None:
    assert rate(value) == text


def test_a_lopsided_interval_is_shown_by_its_two_ends() -> None:
    assert rate_figure(0.828, Interval(0.582, 0.943, "Wilson")) == "82.8 % (58.2 … 94.3 %)"
    assert rate_figure(None, Interval(None, None, "Wilson")) == "no figure yet"
    assert rate_figure(0.5, Interval(None, None, "Wilson")) == "50.0 %"
    assert rate_bounds(Interval(0.64, 0.74, "Wilson")) == "64.0 … 74.0 %"


@given(st.floats(0, 1), st.floats(0, 1))
def test_no_shown_bound_lies_beyond_nothing_or_all(a: float, b: float) -> None:
    between = rate_bounds(Interval(*sorted((a, b)), "Wilson"))
    assert between is not None
    low, high = between.removesuffix(" %").split(" … ")
    assert 0 <= float(low) <= float(high) <= 100
    assert (float(high) == 100) == (max(a, b) == 1)


def test_a_cost_says_as_much_as_is_known() -> None:
    assert cost_figure(money("39.26"), money("36"), money("42.5")) == "39.26 (36.00 … 42.50)"
    assert cost_figure(money("39.26"), money("36"), None) == "39.26, at least 36.00"
    assert cost_figure(money("39.26"), None, money("42.5")) == "39.26, at most 42.50"
    assert cost_figure(money("39.26"), None, None) == "39.26"
    assert cost_figure(None, money("99.44"), None) == "no figure yet, at least 99.44"
    assert cost_figure(None, None, None) == "no figure yet"
    assert money_bounds(None, None) is None


def test_a_yield_line_counts_the_decided_cores_or_says_why_there_is_none() -> None:
    assert yield_line(SHOP.yields[0]) == "68.2 % (63.3 … 72.6 %) of 380 decided cores"
    assert yield_line(SHOP.yields[3]) == "No core of this group has been decided yet."
    one = yield_row("X", Counts(1, 1, 1))
    assert yield_line(one).endswith("of 1 decided core")


def test_deposits_are_the_customers_and_one_line_is_one() -> None:
    said = open_deposits(1, money("1210.5"), "USD")
    assert said == (
        "Customers' deposits of 1,210.50 USD are open (charges on cores not yet back), on"
        " 1 core line."
    )


def test_what_is_said_of_returned_and_of_all_cores_can_be_told_apart() -> None:
    lots = [Batch("a", 40, 36), Batch("b", 40, 10), Batch("c", 40, 34), Batch("d", 40, 12)]
    returned = yield_row("INJ", Counts(9, 1, 1), noun="returned core", batch_noun="month")
    family = yield_row("INJ", Counts(160, 160, 92, scrapped=68), lots)
    advice = replace(INJ, received=9, decided=1, good=1, warnings=returned.warnings)
    said = other_warnings(advice, sample_cost(family))
    assert said[0].startswith("only 1 of 9 returned cores is decided (11.1 %)")
    assert said[-1].startswith("all cores: lots differ more than chance explains")
    same = replace(advice, received=160, decided=160, good=92, warnings=family.warnings)
    assert other_warnings(same, sample_cost(family)) == family.warnings


def test_todays_charge_is_set_against_the_range() -> None:
    assert charge_range(INJ) == "18.27 … 22.02"
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
