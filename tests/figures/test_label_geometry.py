"""Where labels lie on a sheet and where bars lie on a label."""

from __future__ import annotations

from dataclasses import replace
from decimal import Decimal
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from coretrack.errors import InvalidInput
from coretrack.figures.labels import (
    QUIET_MODULES,
    UNITS_PER_INCH,
    UNITS_PER_MM,
    Box,
    Layout,
    RollStock,
    SheetStock,
    arrange,
    chosen_dpi,
    fit_bars,
    in_mm,
    in_units,
    module_limits,
    most_modules,
    sheet_places,
    text_units,
    whole_dots,
)

MM = UNITS_PER_MM
SHEET = SheetStock(
    name="three-by-ten",
    title="30 labels",
    layout="tag",
    label_width=66 * MM,
    label_height=25 * MM,
    dpi=(300,),
    module_least=33 * MM // 100,
    module_most=51 * MM // 100,
    page_width=210 * MM,
    page_height=297 * MM,
    columns=3,
    rows=10,
    pitch_x=68 * MM,
    pitch_y=26 * MM,
    margin_left=4 * MM,
    margin_top=15 * MM,
    gauge_top=288 * MM,
)
ROLL = RollStock(
    name="small",
    title="Small roll",
    layout="tag",
    label_width=38 * MM,
    label_height=13 * MM,
    dpi=(203, 300),
    module_least=MM // 4,
    module_most=MM // 2,
)
LAYOUT = Layout(
    name="tag",
    title="Tag",
    padding_x=MM // 2,
    padding_y=MM // 2,
    gap=3 * MM // 10,
    bar_height_most=6 * MM,
    shown_most=110,
    shown_least=70,
    rows=1,
    row_most=55,
    row_least=50,
)


def test_millimetres_are_exact_and_finer_ones_are_refused() -> None:
    assert in_units(Decimal("4.7625")) == 47625
    assert in_units(Decimal("25.4")) == UNITS_PER_INCH
    with pytest.raises(ValueError, match="finer"):
        in_units(Decimal("0.00001"))
    assert in_mm(254_499) == "25.4"
    assert in_mm(254_501) == "25.5"
    assert text_units(720) == UNITS_PER_INCH


def test_positions_run_row_by_row_from_the_top_left() -> None:
    assert SHEET.box_of(1) == Box(4 * MM, 15 * MM, 66 * MM, 25 * MM)
    assert SHEET.box_of(3) == Box(140 * MM, 15 * MM, 66 * MM, 25 * MM)
    assert SHEET.box_of(4) == Box(4 * MM, 41 * MM, 66 * MM, 25 * MM)
    assert SHEET.box_of(30) == Box(140 * MM, 249 * MM, 66 * MM, 25 * MM)


def test_a_half_used_sheet_goes_on_where_it_stopped() -> None:
    places = sheet_places(SHEET, 25, first=8)
    assert [place.position for place in places] == [*range(8, 31), 1, 2]
    assert [place.page for place in places] == [0] * 23 + [1] * 2


@pytest.mark.parametrize("first", [0, 31, -1])
def test_a_first_place_outside_the_sheet_is_refused_with_the_range(first: int) -> None:
    with pytest.raises(InvalidInput, match="1 to 30") as refusal:
        sheet_places(SHEET, 25, first)
    assert refusal.value.fields == {"first": "1 to 30"}


@given(st.integers(0, 200), st.integers(1, 30))
def test_every_label_has_one_place_of_its_own(count: int, first: int) -> None:
    places = sheet_places(SHEET, count, first)
    assert len({(place.page, place.position) for place in places}) == len(places) == count
    for place in places:
        assert place.box.right <= SHEET.page_width
        assert place.box.bottom <= SHEET.page_height


@given(st.integers(40, 400), st.sampled_from([203, 300]), st.integers(1, 3))
def test_bars_and_quiet_zones_lie_on_whole_dots_inside_the_label(
    modules: int, dpi: int, column: int
) -> None:
    for stock, left in ((ROLL, 0), (SHEET, SHEET.box_of(column).left)):
        fit = fit_bars(modules, stock, LAYOUT, dpi, left)
        if fit is None:
            assert modules > most_modules(stock, LAYOUT, dpi)
            continue
        dot = Fraction(UNITS_PER_INCH, dpi)
        quiet = QUIET_MODULES * fit.module_dots
        assert (fit.first_dot - quiet) * dot >= left + LAYOUT.padding_x
        end = (fit.first_dot + modules * fit.module_dots + quiet) * dot
        assert end <= left + stock.label_width - LAYOUT.padding_x
        assert fit.module_width() * MM >= stock.module_least
        assert fit.module_dots >= 2


def test_bars_are_as_wide_as_fits_up_to_the_stocks_most() -> None:
    # 37 mm hold 295 dots: 110 modules of two dots, not of three. 59 mm would hold four dots a
    # module, which is past the stock's half millimetre.
    for width, dots in ((38, 2), (60, 3), (200, 3)):
        fit = fit_bars(90, replace(ROLL, label_width=width * MM), LAYOUT, 203)
        assert fit is not None
        assert fit.module_dots == dots


def test_modules_are_two_dots_at_203_dpi_and_three_at_300() -> None:
    assert module_limits(ROLL, 203) == (2, 3)
    assert module_limits(ROLL, 300) == (3, 5)
    assert module_limits(replace(ROLL, module_least=MM // 10), 203)[0] == 2


def test_bars_one_module_too_long_do_not_fit() -> None:
    room = most_modules(ROLL, LAYOUT, 203)
    assert room == whole_dots(37 * MM, 203) // 2 - 20
    assert fit_bars(room, ROLL, LAYOUT, 203) is not None
    assert fit_bars(room + 1, ROLL, LAYOUT, 203) is None


def test_bands_stand_under_each_other_inside_the_label() -> None:
    bands = arrange(ROLL, LAYOUT, 1, 22 * MM)
    assert bands.bars.height >= 5 * MM
    assert bands.bars.top >= LAYOUT.padding_y
    assert bands.bars.bottom + LAYOUT.gap == bands.shown.top
    assert bands.shown.bottom == bands.rows[0].top
    assert bands.rows[0].bottom <= ROLL.label_height - LAYOUT.padding_y


def test_long_bars_get_fifteen_percent_of_their_length_in_height() -> None:
    stock = replace(ROLL, label_height=25 * MM)
    assert arrange(stock, LAYOUT, 1, 60 * MM).bars.height == 9 * MM
    assert arrange(stock, LAYOUT, 1, 20 * MM).bars.height == LAYOUT.bar_height_most


def test_a_label_too_low_for_bars_is_refused_with_the_height_needed() -> None:
    with pytest.raises(InvalidInput, match=r"leaves 4\.\d mm .* 5\.0 mm are needed"):
        arrange(replace(ROLL, label_height=12 * MM), LAYOUT, 1, 20 * MM)


def test_an_unknown_resolution_is_refused_with_those_there_are() -> None:
    assert chosen_dpi(ROLL, None) == 203
    assert chosen_dpi(ROLL, 300) == 300
    with pytest.raises(InvalidInput, match="203 or 300 dpi, not 600"):
        chosen_dpi(ROLL, 600)


@pytest.mark.parametrize(
    ("change", "message"),
    [
        ({"rows": 12}, "past the page"),
        ({"pitch_x": 60 * MM}, "overlap"),
        ({"columns": 0}, "1 or more"),
        ({"label_height": 0}, "width and a height"),
        ({"dpi": ()}, "dpi must list"),
        ({"module_least": MM}, "module_least"),
    ],
)
def test_a_stock_that_cannot_be_is_refused(change: dict[str, int], message: str) -> None:
    with pytest.raises(InvalidInput, match=message):
        replace(SHEET, **change)


@pytest.mark.parametrize(
    ("change", "message"),
    [
        ({"row_least": 49}, "under 5 pt"),
        ({"shown_most": 60}, "largest type size"),
        ({"gap": -1}, "negative"),
    ],
)
def test_a_layout_that_cannot_be_read_is_refused(change: dict[str, int], message: str) -> None:
    with pytest.raises(InvalidInput, match=message):
        replace(LAYOUT, **change)
