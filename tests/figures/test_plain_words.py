"""Counts and shares in words: one core is one core, and 89.97 % is not 90 %."""

from __future__ import annotations

from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from coretrack.figures.plain_words import are, counted, have, percent, plural
from coretrack.figures.yields import Counts, yield_row


def test_one_is_singular_and_everything_else_is_plural() -> None:
    assert [counted(n, "core") for n in (0, 1, 2, 1200)] == [
        "0 cores",
        "1 core",
        "2 cores",
        "1,200 cores",
    ]
    assert [plural(noun) for noun in ("family", "day")] == ["families", "days"]
    assert (are(1, "core"), are(2, "core")) == ("1 core is", "2 cores are")
    assert (have(1, "core"), have(3, "core")) == ("1 core has", "3 cores have")


@pytest.mark.parametrize(
    ("share", "said"),
    [
        (Fraction(225, 537), "41.9 %"),
        (Fraction(2, 3), "66.7 %"),
        (Fraction(8999, 10000), "89.9 %"),
        (Fraction(9, 10), "90.0 %"),
        (Fraction(9999, 10000), "99.9 %"),
        (Fraction(1), "100.0 %"),
        (Fraction(1, 10000), "0.1 %"),
        (Fraction(0), "0.0 %"),
    ],
)
def test_a_share_is_rounded_and_never_up_to_a_limit_it_is_under(share: Fraction, said: str) -> None:
    assert percent(share, Fraction(9, 10)) == said


@given(st.fractions(0, 1, max_denominator=5000))
def test_a_shown_share_is_less_than_a_tenth_of_a_percent_off(share: Fraction) -> None:
    shown = Fraction(percent(share, Fraction(9, 10)).removesuffix(" %")) / 100
    assert abs(shown - share) < Fraction(1, 1000)
    assert (shown < Fraction(9, 10)) == (share < Fraction(9, 10))


def test_what_is_no_share_is_refused() -> None:
    with pytest.raises(ValueError, match="not a share"):
        percent(float("nan"))


def test_the_warning_on_few_decided_cores_rounds_their_share() -> None:
    (warning,) = yield_row("CAL", Counts(537, 225, 180, scrapped=45)).warnings
    assert warning.startswith("only 225 of 537 cores are decided (41.9 %)")
    almost = yield_row("CAL", Counts(2001, 1800, 1800)).warnings
    assert "(89.9 %)" in almost[0]
