"""Converted hardness numbers: only where the table reaches, never turning about."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from coretrack.figures.hardness import convert_hardness

MICRO = 1_000_000


@pytest.mark.parametrize(
    ("value", "scale", "said"),
    [
        (19_900_000, "HRC", "19.9 HRC has no counterpart in HV; the table holds 20 to 68 HRC"),
        (68_000_001, "HRC", "68.000001 HRC has no counterpart in HV"),
        (237 * MICRO, "HV", "237 HV has no counterpart in HRC; the table holds 238 to 940 HV"),
        (941 * MICRO, "HV", "941 HV has no counterpart"),
    ],
)
def test_outside_the_table_nothing_is_converted(value: int, scale: str, said: str) -> None:
    found = convert_hardness(value, scale)
    assert found.value is None
    assert found.text is None
    assert found.why is not None
    assert found.why.startswith(said)


@given(st.integers(20 * MICRO, 68 * MICRO), st.integers(20 * MICRO, 68 * MICRO))
def test_harder_stays_harder(one: int, other: int) -> None:
    low, high = (convert_hardness(value, "HRC").value for value in sorted((one, other)))
    assert low is not None
    assert high is not None
    assert low <= high


@given(st.integers(20 * MICRO, 68 * MICRO))
def test_there_and_back_differs_by_the_rounding_only(value: int) -> None:
    there = convert_hardness(value, "HRC").value
    assert there is not None
    back = convert_hardness(there, "HV").value
    assert back is not None
    assert abs(back - value) <= 200_000


def test_half_is_rounded_up_to_the_digits_of_the_scale() -> None:
    assert convert_hardness(20_500_000, "HRC").text == "241 HV (20.5 HRC)"
    assert convert_hardness(240_750_000, "HV").text == "20.6 HRC (240.75 HV)"


def test_other_scales_are_refused() -> None:
    with pytest.raises(ValueError, match="only HRC and HV are converted, not HB"):
        convert_hardness(300 * MICRO, "HB")
