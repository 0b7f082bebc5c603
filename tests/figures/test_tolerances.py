"""Limits are read the way drawings write them, exactly and inclusively, or refused."""

from __future__ import annotations

from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from coretrack.figures.tolerances import (
    Limits,
    NotAPair,
    NotLimits,
    describe_limits,
    from_micro,
    pair_disagrees,
    read_limits,
    to_micro,
    understand_limits,
)


def micro(value: str | None) -> int | None:
    """Return a decimal text in millionths."""
    return None if value is None else to_micro(Decimal(value))


@pytest.mark.parametrize(
    ("text", "unit", "lower", "upper"),
    [
        ("10 +5/-1", "mm", "9", "15"),
        ("10+5/-1", "mm", "9", "15"),
        ("10 mm +5 / -1", "mm", "9", "15"),
        ("200±0.02", "mm", "199.98", "200.02"),
        ("200 +/- 0.02", "mm", "199.98", "200.02"),
        ("200 +-0,02", "mm", "199.98", "200.02"),
        ("9 +0.018/0", "mm", "9", "9.018"),
        ("9 +0,018/0", "mm", "9", "9.018"),
        ("9 +0.018 0", "mm", "9", "9.018"),
        ("9 0/−0.02", "mm", "8.98", "9"),
        ("9 -0.01/-0.03", "mm", "8.97", "8.99"),
        ("9 +0.03 +0.01", "mm", "9.01", "9.03"),
        ("9 -0.01 -0.03", "mm", "8.97", "8.99"),
        ("6.000..6.009", "mm", "6", "6.009"),
        ("6,000…6,009", "mm", "6", "6.009"),
        ("6.000 - 6.009", "mm", "6", "6.009"),
        ("6.000 to 6.009", "mm", "6", "6.009"),
        ("6.000–6.009", "mm", "6", "6.009"),
        ("-0.02..0.02", "mm", "-0.02", "0.02"),
        ("5.050-5.052 in", "mm", "128.27", "128.3208"),
        ('5.050"..5.052"', "mm", "128.27", "128.3208"),
        ("5.050 in to 5.052 in", "in", "5.05", "5.052"),
        ("25 mm +20/0 µm", "mm", "25", "25.02"),
        ("1.274 +0.004/0 in", "mm", "32.3596", "32.4612"),
        ("155-163 bar", "bar", "155", "163"),
        ("68 °F ± 9 °F", "°C", "15", "25"),
        ("20..30 min", "s", "1200", "1800"),
        (">= 55", "HRC", "55", None),
        ("≥55", "HRC", "55", None),
        ("min 55", "HRC", "55", None),
        ("at least 30", "s", "30", None),
        ("<= 0.30", "mm", None, "0.3"),
        ("max 0.3", "mm", None, "0.3"),
        ("28.20 mm max.", "mm", None, "28.2"),
        ("<= 0.002 in", "mm", None, "0.0508"),
        ("17 H7", "mm", "17", "17.018"),
        ("Ø17 H7", "mm", "17", "17.018"),
        ("17H7", "mm", "17", "17.018"),
        ("17 JS7", "mm", "16.991", "17.009"),
        ("25 mm js6", "mm", "24.9935", "25.0065"),
        ("25,0 g6", "mm", "24.98", "24.993"),
        ("0.5 in H7", "mm", "12.7", "12.718"),
        ("17000 H7", "µm", "17000", "17018"),
    ],
)
def test_limits_are_read_as_drawings_write_them(
    text: str, unit: str, lower: str | None, upper: str | None
) -> None:
    assert read_limits(text, unit=unit) == Limits(micro(lower), micro(upper))


def test_a_given_nominal_size_serves_texts_without_one() -> None:
    assert read_limits("±0.02", unit="mm", nominal=9_000_000) == Limits(8_980_000, 9_020_000)
    assert read_limits("0/-0.02", unit="mm", nominal=9_000_000) == Limits(8_980_000, 9_000_000)
    assert read_limits("+20/0 µm", unit="mm", nominal=25_000_000) == Limits(25_000_000, 25_020_000)
    assert read_limits("H7", unit="mm", nominal=17_000_000) == Limits(17_000_000, 17_018_000)


@pytest.mark.parametrize(
    ("text", "unit", "reason"),
    [
        ("", "mm", "no limits are written"),
        ("10", "mm", "not understood"),
        ("1 " * 41 + "±1", "mm", "too long for limits"),
        ("abc", "mm", "not understood"),
        ("7..6", "mm", "lower limit lies above"),
        ("5.052-5.050", "mm", "lower limit lies above"),
        ("9 -0.03/-0.01", "mm", "upper deviation first"),
        ("10 -1/+5", "mm", "upper deviation first"),
        ("10 +5/1", "mm", "not understood"),
        ("0 0", "mm", "lack a sign"),
        ("9 -0.01", "mm", r"write 9\.\.0\.01 or 9 0/-0\.01"),
        ("6.000 -6.009", "mm", "two ends or a size with one deviation"),
        ("> 5", "mm", "write >= instead of >"),
        ("< 5", "mm", "write <= instead of <"),
        ("25 +20/0 µm", "mm", "not clear whether 25 is in µm"),
        ("25 ±5 thou", "mm", "not clear whether 25 is in thou"),
        ("30 min", "s", "minutes or a minimum"),
        ("1,600-2,000 psi", "bar", "1600 or 1.600"),
        ("±0.02", "mm", "needs a nominal size"),
        ("H7", "mm", "needs a nominal size"),
        ("17 H7/g6", "mm", "fit of two parts"),
        ("17 H4", "mm", "supported are"),
        ("600 H7", "mm", "from over 0 to 500 mm"),
        ("17 H7", "HRC", "needs a length"),
        (">= 55 HRC", "mm", "cannot be turned into mm"),
        (">= 55 furlong", "mm", "not a known unit"),
        ("0.0000001..1", "mm", "finer than a millionth"),
        (">= 1e3", "mm", "exponent"),
        ("5", "furlong", "not a known unit"),
    ],
)
def test_unclear_limits_are_refused_with_what_is_right(text: str, unit: str, reason: str) -> None:
    with pytest.raises(NotLimits, match=reason):
        read_limits(text, unit=unit)


def test_what_was_understood_is_said() -> None:
    found = understand_limits("Ø17 H7", unit="mm")
    assert found.as_typed == "Ø17 H7"
    assert found.unit == "mm"
    assert found.nominal == 17_000_000
    assert found.understood == "17 mm nominal: 17.000 to 17.018 mm"
    assert understand_limits(">= 55", unit="HRC").understood == "at least 55 HRC"


def test_limits_are_described_without_rounding() -> None:
    assert describe_limits(Limits(6_000_000, 6_009_000), "mm", 1000) == "6.000 to 6.009 mm"
    assert describe_limits(Limits(16_994_500, 17_005_500), "mm", 1000) == "16.9945 to 17.0055 mm"
    assert describe_limits(Limits(None, 300_000), "mm", 10_000) == "at most 0.30 mm"
    assert describe_limits(Limits(0, None), "mm") == "at least 0 mm"
    assert describe_limits(Limits(None, None), "mm") == "no limits"


def test_limits_that_cross_cannot_be_made() -> None:
    with pytest.raises(ValueError, match="lower limit lies above"):
        Limits(2, 1)


@pytest.mark.parametrize(
    ("first", "second", "converted"),
    [
        # US Army technical manual TM 5-2815-241-34P, p. 2-390
        ("1.278 in", "32.38 mm", "32.4612"),
        # US Army technical manual TM 5-3810-307-24-1-2
        ("0.007 in", "0.018 mm", "0.1778"),
        # three pairs of a vehicle service manual (a trade page, name withheld)
        ("0.102 mm", "0.040 in", "0.004016"),
        ("0.026 mm", "0.0001 in", "0.001024"),
        ("0.038 mm", "0.00015 in", "0.001496"),
    ],
)
def test_misprinted_pairs_are_found(first: str, second: str, converted: str) -> None:
    found = pair_disagrees(first, second)
    assert found is not None
    assert found.converted == Decimal(converted)
    assert found.difference == Decimal(second.split()[0]) - Decimal(converted)
    assert "one of the two is misprinted" in found.text
    assert pair_disagrees(second, first) is not None


@pytest.mark.parametrize(
    ("first", "second"),
    [
        ("1.278 in", "32.46 mm"),
        ("0.007 in", "0.178 mm"),
        ("0.102 mm", "0.0040 in"),
        ("0.026 mm", "0.0010 in"),
        ("0.038 mm", "0.0015 in"),
        ("0.10 mm", "0.004 in"),
        ("68 °F", "20 °C"),
        ("7000 kPa", "1015 psi"),
    ],
)
def test_pairs_that_agree_within_their_last_digit_pass(first: str, second: str) -> None:
    assert pair_disagrees(first, second) is None
    assert pair_disagrees(second, first) is None


@pytest.mark.parametrize(
    ("first", "second"), [("5", "5 mm"), ("5 mm", "5 HRC"), ("x", "y"), ("13,790 kPa", "2000 psi")]
)
def test_pairs_that_cannot_be_compared_are_refused(first: str, second: str) -> None:
    with pytest.raises(NotAPair, match="cannot be compared"):
        pair_disagrees(first, second)


ends = st.integers(-(10**12), 10**12)


@given(ends, ends)
def test_described_limits_read_back(a: int, b: int) -> None:
    limits = Limits(min(a, b), max(a, b))
    for each in (limits, Limits(limits.lower, None), Limits(None, limits.upper)):
        assert read_limits(describe_limits(each, "mm"), unit="mm") == each


@given(ends, st.integers(0, 10**9), st.integers(0, 10**9))
def test_nominal_with_deviations_reads_back(nominal: int, up: int, down: int) -> None:
    text = f"{from_micro(nominal):f} +{from_micro(up):f}/-{from_micro(down):f}"
    assert read_limits(text, unit="mm") == Limits(nominal - down, nominal + up)


@given(ends, ends, ends)
def test_limits_are_inclusive(a: int, b: int, value: int) -> None:
    limits = Limits(min(a, b), max(a, b))
    assert limits.contains(min(a, b))
    assert limits.contains(max(a, b))
    assert not limits.contains(min(a, b) - 1)
    assert not limits.contains(max(a, b) + 1)
    assert limits.contains(value) == (min(a, b) <= value <= max(a, b))


@given(
    st.one_of(
        st.text(max_size=25),
        st.text(alphabet='0123456789.,+-±/ <>=Hhgjs67Ømµin"°maxto…−', max_size=20),
    ),
    st.sampled_from(["mm", "in", "HRC", "s", "°C"]),
    st.sampled_from([None, 17_000_000]),
)
def test_any_text_gives_limits_or_a_declared_refusal(
    text: str, unit: str, nominal: int | None
) -> None:
    try:
        limits = read_limits(text, unit=unit, nominal=nominal)
    except NotLimits as error:
        message = str(error)
        assert message
    else:
        assert limits.lower is not None or limits.upper is not None
