"""Cost per good body: exact, with an interval that holds it and parts that add up to it."""

from __future__ import annotations

from decimal import Decimal
from fractions import Fraction

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from coretrack.figures.costing import (
    LOST_TO_SCRAP,
    ONE_CORE,
    CostParts,
    CostRow,
    cost_at_yield,
    cost_row,
    expected_cost,
)
from coretrack.figures.intervals import AGRESTI_COULL, EXACT
from coretrack.figures.money import Money, from_decimal, nearest, shown, to_cents, to_decimal
from coretrack.figures.ratios import METHOD as RATIO_METHOD
from coretrack.figures.yields import Batch, Counts, yield_row


def money(units: str | int) -> Money:
    return from_decimal(Decimal(units))


def _counts(good: int, scrapped: int, waiting: int = 0) -> Counts:
    decided = good + scrapped
    return Counts(decided + waiting, decided, kept_first_pass=good, scrapped=scrapped)


def _row(good: int, scrapped: int, parts: CostParts, **more: object) -> CostRow:
    return cost_row(yield_row("INJ", _counts(good, scrapped)), parts, **more)  # type: ignore[arg-type]


AMOUNT = st.integers(0, 10**8)
PARTS = st.builds(CostParts, *[AMOUNT] * 10)
PIECES = st.tuples(st.integers(0, 300), st.integers(0, 300))


def test_all_good_has_an_upper_bound_and_no_false_certainty() -> None:
    row = _row(5, 0, CostParts(price=money(150)))
    assert shown(row.cost_per_good_body) == "30.00"
    assert shown(row.cost_low) == "30.00"
    assert shown(row.cost_high) == "53.05"
    assert row.scrap_share == 0


def test_all_good_by_the_exact_method() -> None:
    yields = yield_row("INJ", _counts(5, 0), method=EXACT)
    row = cost_row(yields, CostParts(price=money(150)))
    assert shown(row.cost_per_good_body) == "30.00"
    assert shown(row.cost_high) == "62.74"
    assert row.method == "from the yield (Clopper-Pearson)"


def test_nothing_decided_has_no_cost_no_bound_and_a_reason() -> None:
    row = cost_row(yield_row("INJ", Counts(received=12)), CostParts())
    assert row.cost_per_core is None
    assert row.cost_per_good_body is None
    assert row.interval.low is None
    assert row.cost_high is None
    assert row.scrap_share is None
    assert row.waterfall == ()
    assert row.why == "no core of this group has been decided yet"
    assert row.interval.why == row.why


def test_none_good_says_what_was_spent_and_the_least_a_body_can_cost() -> None:
    row = _row(0, 14, CostParts(price=money(280), recovery=money(7)))
    assert row.cost_per_good_body is None
    assert row.why == "none of 14 decided cores is good: 273.00 spent and no body to carry it"
    assert row.cost_low is not None
    assert row.cost_low > money(20)
    assert row.cost_high is None
    assert row.interval.why == "no upper bound: a yield of zero cannot be ruled out yet"
    assert shown(row.cost_per_core) == "19.50"


def test_a_yield_bound_clipped_to_zero_leaves_the_cost_without_an_upper_bound() -> None:
    yields = yield_row("INJ", _counts(1, 29), method=AGRESTI_COULL)
    row = cost_row(yields, CostParts(price=money(300)))
    assert shown(row.cost_per_good_body) == "300.00"
    assert row.cost_low is not None
    assert row.cost_high is None


@settings(deadline=None)
@given(PIECES, PARTS)
def test_cost_is_net_money_over_good_bodies_inside_its_interval(
    pieces: tuple[int, int], parts: CostParts
) -> None:
    good, scrapped = pieces
    row = _row(good, scrapped, parts)
    if good == 0:
        assert row.cost_per_good_body is None
        assert row.why
        return
    assert row.cost_per_good_body == nearest(Fraction(parts.net, good * 10_000))
    assert row.cost_low is not None
    assert row.cost_high is not None
    assert row.cost_low <= row.cost_per_good_body <= row.cost_high


@settings(deadline=None)
@given(PIECES, PARTS, st.fractions(Fraction(1, 100), 1, max_denominator=100))
def test_shown_parts_add_up_to_the_cost_exactly(
    pieces: tuple[int, int], parts: CostParts, standard: Fraction
) -> None:
    row = _row(*pieces, parts, standard_yield=standard)
    if row.cost_per_good_body is None:
        assert row.waterfall == ()
        return
    assert row.cost_per_core is not None
    assert row.scrap_share is not None
    steps = [(step.of, to_cents(step.amount)) for step in row.waterfall]
    one_core = [amount for of, amount in steps if of == ONE_CORE]
    assert sum(one_core) == to_cents(row.cost_per_core)
    assert sum(amount for _, amount in steps) == to_cents(row.cost_per_good_body)
    assert all(to_decimal(step.amount) == to_cents(step.amount) for step in row.waterfall)
    assert row.waterfall[-1].name == LOST_TO_SCRAP
    assert row.waterfall[-1].amount == row.scrap_share
    assert row.normal_scrap is not None
    assert row.abnormal_scrap is not None
    assert row.normal_scrap + row.abnormal_scrap == row.scrap_share


@settings(deadline=None)
@given(st.integers(1, 200), st.integers(1, 200), AMOUNT, AMOUNT)
def test_one_more_good_body_from_the_same_money_never_costs_more(
    good: int, scrapped: int, price: int, wash: int
) -> None:
    parts = CostParts(price=price, wash=wash)
    worse, better = _row(good, scrapped, parts), _row(good + 1, scrapped - 1, parts)
    for name in ("cost_per_good_body", "cost_low", "cost_high"):
        assert getattr(better, name) <= getattr(worse, name)


def test_waterfall_steps_are_one_core_and_then_the_scrapped_ones() -> None:
    parts = CostParts(
        credit=money(1800),
        receive=money(140),
        wash=money(210),
        disposal=money(3),
        recovery=money(6),
    )
    row = _row(75, 25, parts)
    assert [(step.name, shown(step.amount)) for step in row.waterfall] == [
        ("core credit", "18.00"),
        ("receive", "1.40"),
        ("wash and teardown", "2.10"),
        ("disposal", "0.03"),
        ("less scrap recovery", "-0.06"),
        (LOST_TO_SCRAP, "7.16"),
    ]
    assert shown(row.cost_per_core) == "21.47"
    assert shown(row.cost_per_good_body) == "28.63"


def test_disposal_and_recovery_belong_to_scrapped_cores_in_the_interval() -> None:
    """A = 21.50 per core, s = (6 - 3) / 25 = 0.12 per scrapped core: C = s + (A - s) / y."""
    parts = CostParts(credit=money(2150), disposal=money(3), recovery=money(6))
    row = _row(75, 25, parts)
    high = row.yields.interval.high
    assert high is not None
    expected = cost_at_yield(money("21.50"), money("0.12"), Fraction(high))
    assert row.cost_low == nearest(expected / 10_000)
    assert cost_at_yield(money("21.50"), money("0.12"), Fraction(3, 4)) == Fraction(parts.net, 75)


def test_scrap_up_to_the_standard_is_normal_and_the_rest_is_not() -> None:
    parts = CostParts(price=money(1000))
    row = _row(70, 30, parts, standard_yield=Decimal("0.8"))
    # 70 good at a standard of 0.8 come with 17.5 normal scraps; the other 12.5 are abnormal.
    assert row.scrap_share == 42_900
    assert row.normal_scrap == 25_000
    assert row.abnormal_scrap == 17_900
    better = _row(90, 10, parts, standard_yield=Decimal("0.8"))
    assert better.normal_scrap == better.scrap_share
    assert better.abnormal_scrap == 0
    none = _row(90, 0, parts, standard_yield=Decimal("0.8"))
    assert (none.normal_scrap, none.abnormal_scrap) == (0, 0)
    assert _row(70, 30, parts).normal_scrap is None


def _lots(count: int) -> list[Batch]:
    goods = [14, 11, 16, 9, 13, 15, 12, 14, 10, 13][:count]
    prices = [500, 520, 480, 510, 495, 530, 505, 515, 490, 500][:count]
    return [
        Batch(f"L{n}", 20, good, money(price))
        for n, (good, price) in enumerate(zip(goods, prices, strict=True))
    ]


def _of_lots(lots: list[Batch], more_spent: Money = 0) -> CostRow:
    good, decided = sum(lot.good for lot in lots), sum(lot.decided for lot in lots)
    yields = yield_row("INJ", _counts(good, decided - good), lots)
    return cost_row(yields, CostParts(price=sum(lot.cost for lot in lots) + more_spent), lots)


def test_from_eight_lots_on_the_interval_shows_how_lots_differ() -> None:
    row = _of_lots(_lots(8))
    assert row.method == RATIO_METHOD
    assert row.method_why.startswith("8 lots have decided cores")
    # 4,055.00 over 104 good bodies; residuals and Student's t(7) worked out with numpy.
    assert shown(row.cost_per_good_body) == "38.99"
    assert (shown(row.cost_low), shown(row.cost_high)) == ("32.94", "45.04")


def test_with_seven_lots_the_yield_carries_the_interval_and_says_why() -> None:
    row = _of_lots(_lots(7))
    assert row.method == "from the yield (Wilson)"
    assert row.method_why == (
        "the yield's interval is used: 7 lots have decided cores, and it takes 8 to see how lots"
        " differ"
    )


def test_lots_that_miss_a_tenth_of_the_money_do_not_stand_for_the_group() -> None:
    assert _of_lots(_lots(10), more_spent=money(500)).method == RATIO_METHOD
    row = _of_lots(_lots(10), more_spent=money(700))
    assert row.method == "from the yield (Wilson)"
    assert "differ by more than a tenth" in row.method_why


def test_one_lot_with_most_of_the_bodies_does_not_make_the_others_evidence() -> None:
    lots = [Batch("big", 300, 200, money(6000))]
    lots += [Batch(f"L{n}", 2, 1, money(40)) for n in range(8)]
    row = _of_lots(lots)
    assert row.method.startswith("from the yield")
    assert "a few lots hold most of the good bodies" in row.method_why


@settings(deadline=None, max_examples=50)
@given(
    st.lists(
        st.integers(1, 60).flatmap(
            lambda n: st.builds(Batch, st.just("lot"), st.just(n), st.integers(0, n), AMOUNT)
        ),
        min_size=8,
        max_size=14,
    )
)
def test_whichever_method_is_used_the_interval_holds_the_cost(lots: list[Batch]) -> None:
    row = _of_lots(lots)
    if row.cost_per_good_body is None:
        return
    assert row.method_why
    assert row.cost_low is not None
    assert row.cost_low <= row.cost_per_good_body
    assert row.cost_high is None or row.cost_per_good_body <= row.cost_high


def test_decided_cores_without_any_money_are_said() -> None:
    row = _row(15, 10, CostParts())
    assert row.warnings == (
        "no money has been posted to these cores: enter prices, credits and rates",
    )


def test_the_shown_steps_add_up_where_rounding_each_would_not() -> None:
    third = money(1) // 3
    parts = CostParts(price=3 * third, freight=3 * third, wash=3 * third)
    row = _row(3, 0, parts)
    assert [shown(step.amount) for step in row.waterfall] == ["0.34", "0.33", "0.33", "0.00"]
    assert shown(row.cost_per_good_body) == "1.00"


def test_rates_that_are_not_set_are_named_once_something_is_decided() -> None:
    said = "no rate is set for wash_minutes, disposal: these steps count as nothing"
    row = _row(15, 10, CostParts(price=money(50)), missing_rates=("wash_minutes", "disposal"))
    assert said in row.warnings
    waiting = cost_row(yield_row("INJ", Counts(received=4)), CostParts(), (), None, ("disposal",))
    assert waiting.warnings == ()


def test_mean_cost_lies_above_the_cost_at_the_mean_yield() -> None:
    mean = expected_cost(270_280, 1_500, 14.5, 6.5)
    assert mean is not None
    assert mean > cost_at_yield(270_280, 1_500, Fraction(145, 210))
    assert expected_cost(270_280, 1_500, 1.0, 6.5) is None


def test_scrap_worth_more_than_a_core_costs_turns_the_bounds_round() -> None:
    row = _row(10, 10, CostParts(price=money(20), recovery=money(50)))
    assert row.cost_per_good_body == money(-3)
    assert row.cost_low is not None
    assert row.cost_high is not None
    assert row.cost_low < money(-3) < row.cost_high


def test_zero_yield_has_no_cost() -> None:
    with pytest.raises(ZeroDivisionError):
        cost_at_yield(10, 1, Fraction(0))
