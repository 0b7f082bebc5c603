"""Awkward limits: one-sided, uneven and mixed tolerances as drawings and manuals write them."""

from __future__ import annotations

import json
from typing import TYPE_CHECKING

import pytest

if TYPE_CHECKING:
    from conftest import CounterShop


def limits(shop: CounterShop, text: str, *options: str) -> tuple[str | None, str | None]:
    """Return the two ends of limits as text."""
    done = shop.run("limits", "--json", *options, "--", text)
    answer = json.loads(done.stdout)
    return answer["lower"], answer["upper"]


def refused_limits(shop: CounterShop, text: str, *options: str) -> str:
    """Return why limits are refused."""
    return shop.run("limits", *options, "--", text, exit_code=1).output


@pytest.mark.parametrize(
    ("text", "lower", "upper"),
    [
        ("10 +5/-1", "9", "15"),
        ("200±0.02", "199.98", "200.02"),
        ("9 +0.018/0", "9", "9.018"),
        ("9 -0.01/-0.03", "8.97", "8.99"),
        ("9 +0.03 +0.01", "9.01", "9.03"),
        ("200 +/- 0.02", "199.98", "200.02"),
        ("200 +-0,02", "199.98", "200.02"),
        ("9 0/-0.02", "8.98", "9"),
        ("9 0 -0.02", "8.98", "9"),
        ("9 +0/-0.02", "8.98", "9"),
        ("10 +.5/-.1", "9.9", "10.5"),
        ("9 mm +18/0 µm", "9", "9.018"),
        ("9.012 mm ± 2 μm", "9.01", "9.014"),
        ('0.3548" ±.0005"', "8.99922", "9.02462"),
        ("0.3548 ±0.0005 in", "8.99922", "9.02462"),
        ("Ø17 H7", "17", "17.018"),
        ("⌀ 17h6", "16.989", "17"),
        ("17 JS7", "16.991", "17.009"),
        ("9.000..9.018", "9", "9.018"),
        ("9.000 – 9.018 mm", "9", "9.018"),
        ("-0.02 to +0.02", "-0.02", "0.02"),
        ("−0.02…0.02", "-0.02", "0.02"),
        (">= 55", "55", None),
        ("min. 55", "55", None),
        ("≤ 0.3 mm", None, "0.3"),
        ("0.3 max", None, "0.3"),
        ("<=300 µm", None, "0.3"),
        ("９ ±０．０２", "8.98", "9.02"),
    ],
)
def test_aw_092_limits_as_drawings_write_them(
    shop: CounterShop, text: str, lower: str | None, upper: str | None
) -> None:
    assert limits(shop, text) == (lower, upper)


@pytest.mark.parametrize(
    "text",
    [
        *("9 -0.03/-0.01", "9 -1/+5", "10 -1/+5", "9 -0.02 0", "9 -0.02/0", "9.02..9.0"),
        "-0.01..-0.02",
    ],
)
def test_aw_092_a_lower_limit_above_the_upper_one_is_refused(shop: CounterShop, text: str) -> None:
    assert "lower limit lies above the upper one" in refused_limits(shop, text)


@pytest.mark.parametrize(
    ("text", "why"),
    [
        ("10 +5", "not understood"),
        ("10 -1", "10 0/-1"),
        ("> 55", "inclusive"),
        ("9 ±5 thou", "not clear whether 9 is in thou too"),
        ("9 +18/0 µm", "not clear whether 9 is in µm too"),
        ("17 H7/g6", "fit of two parts"),
        ("600 H7", "over 0 to 500 mm"),
        ("17 H25", "not in the tables"),
        ("200 ±1 %", "share"),
        ("<= 1,200 µm", "could be 1200 or 1.200"),
        ("9", "not understood"),
        ("1e1 ±1", "not understood"),
    ],
)
def test_aw_092_limits_that_could_mean_two_things_are_refused_with_the_reason(
    shop: CounterShop, text: str, why: str
) -> None:
    assert why in refused_limits(shop, text)


def test_aw_092_deviations_alone_need_a_nominal_size(shop: CounterShop) -> None:
    assert limits(shop, "+0.018/0", "--nominal", "17") == ("17", "17.018")
    assert limits(shop, "H7", "--nominal", "17") == ("17", "17.018")
    assert limits(shop, "± 18 µm", "--nominal", "17") == ("16.982", "17.018")
    assert "needs a nominal size" in refused_limits(shop, "+0.018/0")
