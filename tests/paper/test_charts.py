"""The charts: what they say in words, that labels do not collide, and that SVG is safe."""

from __future__ import annotations

import xml.etree.ElementTree as ElementTree
from dataclasses import replace
from itertools import combinations

import pytest
from hypothesis import given
from hypothesis import strategies as st
from samples import money, sample_summary

from coretrack.paper.charts import charge_scale, waterfall, yield_dots
from coretrack.paper.drawing import Box, Chart, Dot, Words, fitted, text_width, to_shapes, to_svg

SHOP = sample_summary()
INJ, TUR, CAL, PMP, ALT = SHOP.charges
SVG = "{http://www.w3.org/2000/svg}"


def words(chart: Chart) -> list[str]:
    return [mark.text for mark in chart.marks if isinstance(mark, Words)]


def boxes(chart: Chart, tone: str) -> list[Box]:
    return [mark for mark in chart.marks if isinstance(mark, Box) and mark.tone == tone]


def span(mark: Words) -> tuple[float, float]:
    width = text_width(mark.text, mark.size, mark.bold)
    start = {"start": mark.x, "middle": mark.x - width / 2, "end": mark.x - width}[mark.anchor]
    return start, start + width


def collisions(chart: Chart) -> list[tuple[str, str]]:
    """Return pairs of texts whose boxes overlap."""
    found = []
    texts = [mark for mark in chart.marks if isinstance(mark, Words)]
    for one, two in combinations(texts, 2):
        (a1, a2), (b1, b2) = span(one), span(two)
        apart = abs(one.y - two.y) >= min(one.size, two.size) * 0.9
        if not apart and a1 < b2 and b1 < a2:
            found.append((one.text, two.text))
    return found


def test_the_charge_scale_names_every_known_price_cheapest_first() -> None:
    chart = charge_scale(INJ)
    assert chart.title == "Core charge for Injector body, 7 mm guide"
    assert chart.description == (
        "Broker pays 12.00; Floor 13.89; Today's charge 18.00; Make-whole range 18.27 … 22.02;"
        " Ceiling 31.00; New part 118.00 (off this scale)."
    )


def test_places_on_the_charge_scale_are_in_proportion_to_the_money() -> None:
    chart = charge_scale(CAL)
    (band,) = boxes(chart, "band")
    (dot,) = [mark for mark in chart.marks if isinstance(mark, Dot)]
    low, high = CAL.make_whole_low, CAL.make_whole_high
    assert low is not None
    assert high is not None
    each = band.width / (high - low)
    assert dot.x == pytest.approx(band.x + (money("54") - low) * each, abs=0.01)


def test_a_new_part_near_the_rest_keeps_its_place_on_the_scale() -> None:
    assert "New part 64.00." in charge_scale(CAL).description
    assert "(off this scale)" not in charge_scale(CAL).description


def test_a_family_without_a_range_shows_its_prices_only() -> None:
    chart = charge_scale(PMP)
    assert boxes(chart, "band") == []
    assert "Make-whole range" not in words(chart)
    assert "22.00" in words(chart)


def test_a_range_below_nothing_is_not_drawn_as_a_charge() -> None:
    assert "Make-whole range" not in words(charge_scale(ALT))
    partly = replace(ALT, make_whole_low=-5, make_whole=money("-0.0001"), make_whole_high=30000)
    assert "0.00 … 3.00" in words(charge_scale(partly))


def test_a_family_of_which_nothing_is_known_has_no_drawing_but_a_sentence() -> None:
    bare = replace(PMP, charge_today=None, new_body_price=None)
    chart = charge_scale(bare)
    assert (chart.height, chart.marks) == (0, ())
    assert chart.description == "No price and no range is known yet."
    assert to_svg(chart, "x") == ""


def test_the_last_bar_of_the_waterfall_is_the_cost_of_a_good_body() -> None:
    row = SHOP.costs[0]
    chart = waterfall(row)
    (total,) = boxes(chart, "hue")
    bars = boxes(chart, "mid")
    assert max(bar.x + bar.width for bar in bars) == pytest.approx(total.x + total.width, abs=0.9)
    assert words(chart)[-2:] == ["A good body", "39.26"]
    assert chart.description.endswith("A good body 39.26.")


def test_scrap_recovery_goes_back_and_is_drawn_hollow() -> None:
    hollow = [bar for bar in boxes(waterfall(SHOP.costs[0]), "mid") if bar.hollow]
    assert len(hollow) == 1


def test_no_good_body_means_no_waterfall_and_the_reason_in_its_place() -> None:
    chart = waterfall(SHOP.costs[4])
    assert chart.height == 0
    assert "none of 14 decided cores is good" in chart.description


def test_yields_stand_on_one_scale_and_an_unknown_one_is_words_not_a_dot() -> None:
    chart = yield_dots(SHOP.yields)
    dots = [mark for mark in chart.marks if isinstance(mark, Dot)]
    assert len(dots) == 4
    assert dots[0].x < dots[1].x < dots[2].x
    assert "no figure yet" in words(chart)
    assert "INJ 68.2 %, 95 % interval 63.3 … 72.6 %, of 380 decided cores" in chart.description
    assert "PMP no figure yet" in chart.description


def test_no_row_at_all_is_a_sentence() -> None:
    assert yield_dots(()).description == "There is nothing to show yet."


@pytest.mark.parametrize("width", [300.0, 320.0, 470.0, 700.0])
def test_no_labels_collide_or_leave_the_picture(width: float) -> None:
    charts = [charge_scale(advice, width) for advice in SHOP.charges]
    charts += [waterfall(row, width) for row in SHOP.costs]
    charts.append(yield_dots(SHOP.yields, width))
    for chart in charts:
        assert collisions(chart) == []
        for mark in chart.marks:
            if isinstance(mark, Words):
                start, end = span(mark)
                assert start >= -3 or mark.anchor == "middle"
                assert end <= width + 1


prices = st.one_of(st.none(), st.integers(1, 3_000_000))


@given(prices, prices, prices, prices, prices, st.integers(-400_000, 900_000))
def test_any_prices_can_be_drawn_without_a_collision(
    broker: int | None,
    floor: int | None,
    ceiling: int | None,
    new: int | None,
    today: int | None,
    middle: int,
) -> None:
    advice = replace(
        INJ,
        broker_price=broker,
        floor=floor,
        ceiling=ceiling,
        new_body_price=new,
        charge_today=today,
        make_whole_low=middle - 30_000,
        make_whole=middle,
        make_whole_high=middle + 20_000,
    )
    chart = charge_scale(advice, 320.0)
    assert collisions(chart) == []
    ElementTree.fromstring(to_svg(chart, "k") or "<svg/>")


def test_svg_has_title_and_description_and_a_role() -> None:
    root = ElementTree.fromstring(to_svg(charge_scale(INJ), "inj", "wide"))
    namespace = SVG if root.tag.startswith(SVG) else ""
    assert root.get("role") == "img"
    assert root.get("aria-labelledby") == "inj-title inj-said"
    title, said = root.find(f"{namespace}title"), root.find(f"{namespace}desc")
    assert title is not None
    assert said is not None
    assert (title.get("id"), said.get("id")) == ("inj-title", "inj-said")


def test_svg_carries_no_style_and_no_script_and_escapes_names() -> None:
    sharp = replace(INJ, family_name='<script>alert("1")</script> & Co')
    text = to_svg(charge_scale(sharp), 'k"><b>')
    assert "<script" not in text
    assert "style=" not in text
    assert "&lt;script&gt;" in text
    ElementTree.fromstring(text)


def test_a_name_that_is_too_long_is_cut_with_an_ellipsis() -> None:
    assert fitted("Injector", 200) == "Injector"
    cut = fitted("Injector body of a long kind", 60)
    assert cut.endswith("…")
    assert text_width(cut) <= 60


def test_the_same_geometry_becomes_shapes_for_paper() -> None:
    chart = charge_scale(INJ)
    drawing = to_shapes(chart, 0.5)
    assert drawing.width == chart.width / 2
    assert len(drawing.contents[0].contents) == len(chart.marks)
