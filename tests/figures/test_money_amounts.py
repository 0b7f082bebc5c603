"""Money: exact at the edges, and parts that add up to their total."""

from __future__ import annotations

import json
from decimal import Decimal
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from coretrack.figures.money import (
    CENT,
    UNIT,
    allocate,
    from_decimal,
    nearest,
    plain,
    shown,
    to_cents,
    to_decimal,
    whole,
)

WEIGHTS = st.lists(
    st.one_of(st.integers(0, 10**9), st.fractions(0, 1000, max_denominator=997)),
    min_size=1,
    max_size=12,
).filter(lambda weights: sum(weights) > 0)


@given(st.integers(-(10**12), 10**12), WEIGHTS, st.sampled_from([1, CENT]))
def test_parts_add_up_to_the_total_whatever_the_weights(
    total: int, weights: list[int | Fraction], quantum: int
) -> None:
    assert sum(allocate(total, weights, quantum)) == total


@given(st.integers(0, 10**9), WEIGHTS)
def test_no_part_is_a_whole_count_away_from_its_exact_share(
    total: int, weights: list[int | Fraction]
) -> None:
    exact = [Fraction(total) * Fraction(weight) / sum(weights) for weight in weights]
    parts = allocate(total, weights)
    assert all(abs(part - share) < 1 for part, share in zip(parts, exact, strict=True))
    assert all(part == 0 for part, weight in zip(parts, weights, strict=True) if weight == 0)


@pytest.mark.parametrize(
    ("total", "weights", "parts"),
    [
        ("99.99", [75, 25], ["74.99", "25.00"]),
        ("100.00", [1, 1, 1], ["33.34", "33.33", "33.33"]),
    ],
)
def test_cents_are_split_by_largest_remainder(
    total: str, weights: list[int], parts: list[str]
) -> None:
    found = allocate(from_decimal(Decimal(total)), weights, CENT)
    assert [plain(part) for part in found] == parts


def test_pieces_are_split_by_largest_remainder() -> None:
    assert allocate(613, [98, 92, 98, 123, 102, 92]) == [99, 93, 99, 125, 104, 93]


def test_a_total_with_part_cents_is_split_to_the_ten_thousandth() -> None:
    assert allocate(50, [1, 1], CENT) == [25, 25]


def test_a_negative_total_is_split_like_a_positive_one() -> None:
    assert allocate(-100, [1, 1, 1]) == [-34, -33, -33]


@pytest.mark.parametrize("weights", [[], [0, 0], [1, -1], [-1, 3]])
def test_weights_that_cannot_carry_a_total_are_refused(weights: list[int]) -> None:
    with pytest.raises(ValueError, match="add up to more than zero"):
        allocate(100, weights)


@given(st.integers(-(10**16), 10**16))
def test_money_to_decimal_and_back_loses_nothing(amount: int) -> None:
    assert from_decimal(to_decimal(amount)) == amount


@pytest.mark.parametrize("text", ["0.00001", "1.23456", "1E-5", "1E-400000"])
def test_amounts_finer_than_a_ten_thousandth_are_refused(text: str) -> None:
    with pytest.raises(ValueError, match="finer than"):
        from_decimal(Decimal(text))


@pytest.mark.parametrize("text", ["NaN", "Infinity", "-Infinity", "sNaN"])
def test_what_is_no_number_is_no_money(text: str) -> None:
    with pytest.raises(ValueError, match="not an amount of money"):
        from_decimal(Decimal(text))


@pytest.mark.parametrize("text", ["1E13", "-1E13", "1E999999"])
def test_amounts_beyond_any_shop_are_refused(text: str) -> None:
    with pytest.raises(ValueError, match="too large"):
        from_decimal(Decimal(text))


def test_trailing_zeros_are_no_finer_amount() -> None:
    assert from_decimal(Decimal("12.340000000")) == 123_400


@pytest.mark.parametrize(
    ("exact", "rounded"),
    [(Fraction(1, 2), 1), (Fraction(-1, 2), -1), (Fraction(49, 100), 0), (Fraction(-3, 2), -2)],
)
def test_halves_are_rounded_away_from_zero(exact: Fraction, rounded: int) -> None:
    assert whole(exact) == rounded
    assert nearest(exact / UNIT) == rounded


@pytest.mark.parametrize(
    ("amount", "text"),
    [
        (123_450, "12.35"),
        (-123_450, "-12.35"),
        (49, "0.00"),
        (-49, "0.00"),
        (12_345_678_900, "1,234,567.89"),
    ],
)
def test_shown_rounds_half_up_to_the_cent(amount: int, text: str) -> None:
    assert shown(amount) == text


def test_unknown_money_is_a_dash_on_paper_and_null_in_json() -> None:
    assert shown(None) == "–"
    assert json.dumps(plain(None)) == "null"


@given(st.integers(-(10**14), 10**14))
def test_cents_are_never_more_than_half_a_cent_off(amount: int) -> None:
    assert abs(to_cents(amount) - to_decimal(amount)) <= Decimal("0.005")
