"""Units convert exactly, and only within what they measure."""

from __future__ import annotations

from decimal import Decimal
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from coretrack.figures.units import (
    NotConvertible,
    UnknownUnit,
    canonical_unit,
    convert,
    convert_difference,
    dimension_of,
    split_quantity,
    units_of_dimension,
)

DIMENSIONS = ("length", "pressure", "time", "mass", "temperature", "force", "torque", "volume")


@pytest.mark.parametrize(
    ("text", "name"),
    [
        ("mm", "mm"),
        ("MM", "mm"),
        ("µm", "µm"),
        ("μm", "µm"),
        ("um", "µm"),
        ("micron", "µm"),
        ('"', "in"),
        ("”", "in"),
        ("''", "in"),
        ("inch", "in"),
        ("in.", "in"),
        ("mil", "thou"),
        ("PSI", "psi"),
        ("MPa", "MPa"),
        ("kpa", "kPa"),
        ("sec", "s"),
        ("°C", "°C"),
        ("° C", "°C"),
        ("degC", "°C"),
        ("℃", "°C"),
        ("F", "°F"),
        ("hrc", "HRC"),
        ("drops", "count"),
        ("lbs", "lb"),
        ("Nm", "N·m"),
        ("nm", "nm"),
        (" mm\u00a0", "mm"),
    ],
)
def test_spellings_of_a_unit_are_one_unit(text: str, name: str) -> None:
    assert canonical_unit(text) == name


@pytest.mark.parametrize("text", ["", "mPa", "M", "furlong", "mm²", "NM", "1", "S"])
def test_unknown_or_doubtful_units_are_refused(text: str) -> None:
    with pytest.raises(UnknownUnit, match="known are mm, µm, in"):
        canonical_unit(text)


@pytest.mark.parametrize(
    ("value", "start", "goal", "result"),
    [
        ("1", "in", "mm", Fraction(254, 10)),
        ("0.3548", "in", "mm", Fraction("9.01192")),
        ("354.8", "thou", "mm", Fraction("9.01192")),
        ("9012", "µm", "mm", Fraction("9.012")),
        ("12", "um", "mm", Fraction("0.012")),
        ("9.012", "mm", "in", Fraction("9.012") / Fraction("25.4")),
        ("68", "°F", "°C", Fraction(20)),
        ("-40", "°F", "°C", Fraction(-40)),
        ("0", "K", "°C", Fraction("-273.15")),
        ("1", "bar", "kPa", Fraction(100)),
        ("1", "min", "s", Fraction(60)),
        ("1", "lb", "g", Fraction("453.59237")),
        ("1", "ft", "in", Fraction(12)),
    ],
)
def test_conversions_are_exact(value: str, start: str, goal: str, result: Fraction) -> None:
    assert convert(Decimal(value), start, goal) == result


def test_psi_is_exact_by_its_definition() -> None:
    assert convert(1, "psi", "Pa") == Fraction("4.4482216152605") / Fraction("0.0254") ** 2
    assert round(float(convert(1, "psi", "kPa")), 6) == 6.894757


def test_a_difference_leaves_the_zero_of_the_scale_out() -> None:
    assert convert_difference(9, "°F", "°C") == 5


@pytest.mark.parametrize(
    ("start", "goal"), [("HRC", "mm"), ("HRC", "HV"), ("bar", "N"), ("%", "m")]
)
def test_different_kinds_do_not_convert(start: str, goal: str) -> None:
    with pytest.raises(NotConvertible, match="cannot be turned into"):
        convert(1, start, goal)


@pytest.mark.parametrize(
    ("text", "parts"),
    [
        ("9.012mm", ("9.012", "mm")),
        ("0.3548 in", ("0.3548", "in")),
        ('0.3548"', ("0.3548", '"')),
        ("12 µm", ("12", "µm")),
        ("-5", ("-5", None)),
        ("1 234,5 psi", ("1 234,5", "psi")),
        ("68 °F", ("68", "°F")),
        ("abc", ("abc", None)),
    ],
)
def test_number_and_unit_are_parted(text: str, parts: tuple[str, str | None]) -> None:
    assert split_quantity(text) == parts


@given(st.sampled_from(DIMENSIONS), st.data(), st.fractions(max_denominator=10**6))
def test_there_and_back_is_the_same_value(
    dimension: str, data: st.DataObject, value: Fraction
) -> None:
    names = [unit.name for unit in units_of_dimension(dimension)]
    start, goal = data.draw(st.sampled_from(names)), data.draw(st.sampled_from(names))
    assert convert(convert(value, start, goal), goal, start) == value
    assert dimension_of(goal) == dimension


@given(st.text(max_size=8))
def test_any_text_is_a_unit_or_a_declared_refusal(text: str) -> None:
    split_quantity(text)
    try:
        assert canonical_unit(canonical_unit(text)) == canonical_unit(text)
    except UnknownUnit as error:
        message = str(error)
        assert "is not a known unit" in message
