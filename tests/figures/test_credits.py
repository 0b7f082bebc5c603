"""Credit arithmetic: the schemes that sellers' policies use, and what must hold for all of them.

The schemes are common practice; all names and amounts are invented.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, timedelta
from decimal import Decimal
from random import Random

import pytest
from hypothesis import given
from hypothesis import strategies as st

from coretrack.errors import InvalidInput
from coretrack.figures.credits import ACCEPT, PART_CREDIT, REFUSE, credit, refuse
from coretrack.figures.money import CENT, UNIT, from_decimal
from coretrack.figures.windows import IN_TIME, Lateness, WindowRule
from coretrack.figures.windows import lateness as lateness_of


@dataclass(frozen=True)
class Ticked:
    code: str
    name: str
    effect: str
    value: Decimal = Decimal(0)
    exclusive: bool = False
    parts: int = 0
    each: bool = False


def percent(name: str, value: str, exclusive: bool = False) -> Ticked:
    return Ticked(name[:4], name, "percent", Decimal(value), exclusive)


def amount(name: str, value: str, exclusive: bool = False) -> Ticked:
    return Ticked(name[:4], name, "money", Decimal(value), exclusive)


def money(text: str) -> int:
    return from_decimal(Decimal(text))


def as_text(result: object) -> list[tuple[str, str]]:
    lines = result.lines  # type: ignore[attr-defined]
    return [(line.text, f"{Decimal(line.amount) / UNIT:.2f}") for line in lines]


LATE_50 = Lateness(14, Decimal(50), "Arrived 14 days late")


def test_a_core_without_fault_gets_its_whole_charge() -> None:
    result = credit(money("18"), [])
    assert (result.outcome, result.credit, result.reasons) == (ACCEPT, money("18"), ())
    assert as_text(result) == [("Core charge", "18.00")]


def test_each_deduction_is_one_line_and_the_lines_add_up() -> None:
    faults = [percent("Connector broken", "20"), amount("Fitting missing", "2.50")]
    result = credit(money("18"), faults, LATE_50)
    assert as_text(result) == [
        ("Core charge", "18.00"),
        ("Connector broken: 20 % of the charge", "-3.60"),
        ("Fitting missing", "-2.50"),
        ("Arrived 14 days late", "-9.00"),
    ]
    assert result.credit == money("2.90")
    assert result.outcome == PART_CREDIT
    assert result.reasons == ("Connector broken", "Fitting missing", "Arrived 14 days late")


def test_part_steps_are_percentages_of_the_charge() -> None:
    # A unit counted as four parts: one listed fault costs one part, a dismantled unit two parts.
    result = credit(money("60"), [percent("One part", "25"), percent("Dismantled", "50")])
    assert result.credit == money("15")


def test_percentages_add_up_and_stop_at_all_of_the_charge() -> None:
    faults = [
        percent("Hardware missing", "5"),
        percent("Gear damaged", "10"),
        percent("Armature frozen", "20"),
        percent("Housing damaged", "35"),
        percent("Housing cracked", "50"),
    ]
    result = credit(money("40"), faults)
    assert result.credit == 0
    assert result.outcome == REFUSE
    assert as_text(result)[-1] == ("No more than the charge is taken off", "8.00")


def test_fixed_amounts_stop_at_all_of_the_charge() -> None:
    first, second = amount("Fitting missing", "25"), amount("Cap missing", "25")
    assert credit(money("40"), [first]).credit == money("15")
    assert credit(money("40"), [first, second]).credit == 0


def test_a_fault_ticked_twice_counts_once() -> None:
    fitting = amount("Fitting missing", "2.50")
    assert credit(money("18"), [fitting, fitting]) == credit(money("18"), [fitting])


def test_percentages_and_lateness_are_rounded_together() -> None:
    # 12.5 % and 12.5 % of 0.20 are 2.5 cents each; rounded one by one they would take 6 of them.
    late = Lateness(9, Decimal("12.5"), "Arrived late")
    result = credit(money("0.20"), [percent("Rust", "12.5")], late)
    assert result.credit == money("0.15")
    assert sorted(text for _, text in as_text(result)) == ["-0.02", "-0.03", "0.20"]


def test_half_of_the_charge_for_a_cracked_block_rounds_half_up_to_the_cent() -> None:
    result = credit(money("12.35"), [percent("Block cracked", "50")])
    assert as_text(result)[1] == ("Block cracked: 50 % of the charge", "-6.18")
    assert result.credit == money("6.17")


def test_three_thirds_take_all_of_it_and_leave_no_odd_cent() -> None:
    thirds = [percent("A", "33.34"), percent("B", "33.33"), percent("C", "33.33")]
    result = credit(money("0.10"), thirds)
    assert result.credit == 0
    assert sum(line.amount for line in result.lines) == 0


def test_the_damaged_core_rule_replaces_the_downgrade_difference() -> None:
    downgrade = amount("Older variant", "12")
    damaged = percent("Damaged core", "60", exclusive=True)
    result = credit(money("50"), [downgrade, damaged])
    assert result.credit == money("20")
    assert as_text(result)[-1] == (
        "Older variant: not added, Damaged core: 60 % of the charge replaces it",
        "0.00",
    )


def test_only_the_largest_exclusive_deduction_counts() -> None:
    result = credit(money("50"), [amount("X", "10", True), percent("Y", "30", True)])
    assert result.credit == money("35")


def test_a_small_exclusive_deduction_cannot_wipe_out_larger_ones() -> None:
    downgrade, scratched = amount("Older variant", "30"), amount("Scratched", "5", exclusive=True)
    assert credit(money("50"), [downgrade]).credit == money("20")
    assert credit(money("50"), [downgrade, scratched]).credit == money("20")


def test_lateness_is_taken_off_beside_an_exclusive_deduction() -> None:
    result = credit(money("50"), [percent("Damaged core", "30", True)], LATE_50)
    assert result.credit == money("10")


def test_a_refusing_fault_leaves_nothing_and_is_the_reason() -> None:
    result = credit(money("18"), [percent("Rust", "5"), Ticked("W", "Welded", "refuse")])
    assert (result.outcome, result.credit) == (REFUSE, 0)
    assert result.reasons == ("Welded",)
    assert as_text(result) == [("Core charge", "18.00"), ("Refused: Welded", "-18.00")]


def test_what_is_allowed_or_only_noted_takes_nothing_off_but_is_on_the_paper() -> None:
    faults = [Ticked("T", "Nozzle tip burnt", "allowed"), Ticked("B", "Box missing", "warning")]
    result = credit(money("18"), faults)
    assert (result.outcome, result.credit) == (ACCEPT, money("18"))
    assert as_text(result)[1:] == [
        ("Nozzle tip burnt: allowed, nothing taken off", "0.00"),
        ("Box missing: noted, nothing taken off", "0.00"),
    ]


def test_a_core_after_the_window_is_refused_with_its_lateness_as_reason() -> None:
    late = Lateness(3, Decimal(100), "Arrived 3 days after the window of 30 days")
    result = credit(money("18"), [], late)
    assert (result.outcome, result.credit, result.reasons) == (REFUSE, 0, (late.text,))


def test_a_core_sold_without_a_charge_is_accepted_for_nothing() -> None:
    assert credit(0, []).outcome == ACCEPT
    assert credit(0, [Ticked("W", "Welded", "refuse")]).outcome == REFUSE


@pytest.mark.parametrize("blank", ["", "  ", "\t"])
def test_a_refusal_without_a_reason_is_not_possible(blank: str) -> None:
    with pytest.raises(InvalidInput, match="needs a reason"):
        refuse(money("18"), blank)


@pytest.mark.parametrize(
    ("fault", "message"),
    [
        (percent("Rust", "101"), 'Fault "Rust" takes 101 % off; use 0 to 100 percent'),
        (percent("Rust", "NaN"), "use 0 to 100 percent"),
        (amount("Rust", "-1"), "use an amount of 0 or more"),
        (amount("Rust", "0.00001"), "use at most 4 places"),
        (Ticked("R", "Rust", "explode"), "use percent, money, refuse, allowed or warning"),
        (Ticked(" ", "", "refuse"), "neither a code nor a name"),
    ],
)
def test_a_fault_that_cannot_be_used_is_named(fault: Ticked, message: str) -> None:
    with pytest.raises(InvalidInput, match=message):
        credit(money("18"), [fault])


def test_a_charge_below_zero_is_refused() -> None:
    with pytest.raises(InvalidInput, match="below zero"):
        credit(-1, [])


faults = st.one_of(
    st.builds(
        Ticked,
        st.just("F"),
        st.text("abc", min_size=1, max_size=3),
        st.just("percent"),
        st.decimals(0, 100, places=2),
        st.booleans(),
        st.just(0),
        st.booleans(),
    ),
    st.builds(
        Ticked,
        st.just("F"),
        st.just("fixed"),
        st.just("money"),
        st.decimals(0, 60, places=4),
        st.booleans(),
        st.just(0),
        st.booleans(),
    ),
    st.builds(Ticked, st.just("F"), st.just("other"), st.sampled_from(["refuse", "warning"])),
)
late_by = st.builds(
    Lateness, st.integers(1, 90), st.decimals(0, 100, places=1), st.just("Arrived late")
)
lateness = st.one_of(st.just(IN_TIME), late_by)
rules = st.builds(
    WindowRule,
    st.integers(0, 180),
    st.sampled_from(["nothing", "full", "slide"]),
    st.decimals(1, 30, places=1),
    st.integers(1, 14),
    st.decimals(30, 100, places=1),
    st.one_of(st.none(), st.integers(180, 400)),
)
whole_cents = st.integers(0, 20_000).map(lambda cents: cents * CENT)
charges = st.one_of(whole_cents, st.integers(0, 2_000_000))


@given(charges, st.lists(faults, max_size=6), lateness)
def test_a_credit_lies_between_nothing_and_the_charge_and_its_lines_add_up(
    charge: int, ticked: list[Ticked], late: Lateness
) -> None:
    result = credit(charge, ticked, late)
    assert 0 <= result.credit <= charge
    assert sum(line.amount for line in result.lines) == result.credit
    assert result.lines[0].amount == charge
    assert result.outcome in (ACCEPT, PART_CREDIT, REFUSE)
    if result.outcome != ACCEPT:
        assert result.reasons


@given(charges, st.lists(faults, max_size=5), faults, lateness, st.integers(0, 5))
def test_one_more_fault_never_raises_the_credit(
    charge: int, ticked: list[Ticked], one_more: Ticked, late: Lateness, place: int
) -> None:
    more = [*ticked[:place], one_more, *ticked[place:]]
    assert credit(charge, more, late).credit <= credit(charge, ticked, late).credit


@given(charges, st.lists(faults, max_size=6), lateness, st.randoms(use_true_random=False))
def test_the_order_of_ticks_does_not_matter_to_the_amount(
    charge: int, ticked: list[Ticked], late: Lateness, random: Random
) -> None:
    other = random.sample(ticked, len(ticked))
    one, two = credit(charge, ticked, late), credit(charge, other, late)
    assert (one.outcome, one.credit) == (two.outcome, two.credit)


@given(charges, st.lists(faults, max_size=5), rules, st.integers(0, 400), st.integers(0, 60))
def test_a_day_later_never_raises_the_credit(
    charge: int, ticked: list[Ticked], rule: WindowRule, day: int, more: int
) -> None:
    sold = date(2026, 3, 2)
    first, second = (
        credit(charge, ticked, lateness_of(rule, sold, sold + timedelta(days=late)))
        for late in (day, day + more)
    )
    assert second.credit <= first.credit


@given(whole_cents, st.lists(st.decimals(1, 40, places=2), min_size=1, max_size=6))
def test_percentages_that_come_to_all_of_it_leave_nothing(
    charge: int, values: list[Decimal]
) -> None:
    rest = Decimal(100) - sum(values)
    ticked = [percent(f"part {n}", str(value)) for n, value in enumerate(values)]
    if rest > 0:
        ticked.append(percent("rest", str(rest)))
    assert credit(charge, ticked).credit == 0
