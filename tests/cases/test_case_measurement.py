"""Awkward readings and limits: gauge strings, mixed units, signs that look like numbers."""

from __future__ import annotations

import json
import math
from io import BytesIO
from pathlib import Path
from typing import TYPE_CHECKING, Any

import openpyxl
import pytest
from hypothesis import given
from hypothesis import strategies as st

from coretrack.figures.readings import Reading, read_reading, show_reading

if TYPE_CHECKING:
    from conftest import CounterShop

GIVEN = json.loads((Path(__file__).parent / "files" / "measures_open.json").read_text("utf-8"))


def reading(shop: CounterShop, text: str, unit: str = "mm", **options: str) -> Any:
    """Return how a reading is understood."""
    words = [word for name, value in options.items() for word in (f"--{name}", value)]
    done = shop.run("reading", "--json", "--unit", unit, *words, "--", text, exit_code=None)
    answer = json.loads(done.stdout)
    assert done.exit_code == (0 if answer["outcome"] == "reading" else 1)
    assert answer["as_typed"] == text
    return answer


def test_aw_088_the_gauge_strings_of_the_report(shop: CounterShop) -> None:
    frame, minus, overload, tabs, plus = GIVEN["AW-088"]
    assert reading(shop, frame)["value"] == "0.123"
    assert reading(shop, minus)["value"] == "-0.123"
    assert "overloaded" in reading(shop, overload)["why"]
    assert reading(shop, tabs)["value"] == reading(shop, plus)["value"] == "9.012"


def test_aw_088_a_gauge_at_the_bench_stores_what_fits_and_refuses_the_rest(
    shop: CounterShop,
) -> None:
    tags = shop.tags()
    answer = shop.measure(dict(zip(tags, GIVEN["AW-088"], strict=False)))
    assert [reject["row"] for reject in answer["rejected"]] == [2, 3, 4]
    assert [item["core"] for item in answer["items"]] == tags[3:5]
    assert [item["readings"][0]["value"] for item in answer["items"]] == ["9.012"] * 2


@pytest.mark.parametrize(
    "sent",
    [
        *("9.012", "+9.012", "+009.0120 mm", "+  9.012 mm", "9,012mm", "  9.012\r\n", "9.012 MM"),
        *("9.012\tmm\t", "9.012\rmm\r", "9.012;mm", "9.012,mm", "9.012, mm", "+00009.012"),
        *("Ø9.012", "⌀ 9.012 mm", "9012 µm", "9.012\u00a0mm", "9.012\u2060", "\u200e9.012"),
        *("0.009012 m", "0.9012 cm", "FFFF000901230", "ffff000901230"),
    ],
    ids=repr,
)
def test_aw_088_ways_in_which_gauges_and_people_write_one_value(
    shop: CounterShop, sent: str
) -> None:
    assert reading(shop, sent, nominal="9.012")["value"] == "9.012"


@pytest.mark.parametrize(
    "sent",
    [
        *("HELP", "help!", "OL", "-OL", "O.L", "OVER", "OVL", "OFL", "Err", "ERR 12", "Error 5"),
        *("Err91", "E05", "LOW BAT", "bAt", "----", "---.---", "--OL--", ">>>>", "nan", "+INF"),
        *("∞", "#N/A", "Lo", "HI", "OVERFLOW", "Under"),
    ],
)
def test_aw_088_a_gauge_without_a_value_is_named_as_that(shop: CounterShop, sent: str) -> None:
    answer = reading(shop, sent, nominal="9.012")
    assert answer["outcome"] == "refused"
    assert answer["value"] is None
    assert "and no value" in answer["why"]


@pytest.mark.parametrize("sent", [">9.012", "< 9.012 mm", ">=9.012", "≤9.012"])
def test_aw_088_beyond_a_limit_is_no_size(shop: CounterShop, sent: str) -> None:
    assert "beyond a limit" in reading(shop, sent, nominal="9.012")["why"]


@pytest.mark.parametrize(
    "sent",
    [
        *("9.012 9.013", "9.012\r9.013\r", "9.012;9.013", "9.012/9.013", "9.012 mm 9.013 mm"),
        *("9.012\tmm\t9.013\tmm", "9.012\n9.012", "+9.012 -9.013", "9,012 9,013"),
    ],
    ids=repr,
)
def test_aw_088_two_values_in_one_field_are_sent_back(shop: CounterShop, sent: str) -> None:
    answer = reading(shop, sent, nominal="9.012")
    assert (answer["outcome"], answer["value"]) == ("refused", None)
    assert "more than one reading" in answer["why"]


@pytest.mark.parametrize(
    "sent",
    [
        *("FFFF0000123300", "FFF000012330", "FFFF0901230", "FFFF100012330", "FFFF000012360"),
        "FFFF000012332",
    ],
)
def test_aw_088_a_damaged_frame_is_never_read_as_its_digits(shop: CounterShop, sent: str) -> None:
    assert "damaged frame" in reading(shop, sent)["why"]


@pytest.mark.parametrize(
    "typed",
    [*GIVEN["AW-090"]["typed"], "228.9048", "0.3548", "9012", "90.12", "0.9012", "9012000"],
)
def test_aw_090_a_slip_of_unit_or_point_is_asked_back(shop: CounterShop, typed: str) -> None:
    answer = reading(shop, typed, nominal="9.012", resolution="0.001")
    assert answer["outcome"] in ("question", "refused")
    assert answer["value"] is None
    if typed != "9012000":
        assert "9.012 mm" in answer["why"]


def test_aw_090_the_bench_stores_neither_and_asks_for_both(shop: CounterShop) -> None:
    tags = shop.tags()
    answer = shop.measure(dict(zip(tags, GIVEN["AW-090"]["typed"], strict=False)))
    assert (answer["stored"], len(answer["rejected"])) == (0, 2)
    for reject in answer["rejected"]:
        assert "Did you mean 9.012 mm (typed times 25.4)?" in reject["why"]


@pytest.mark.parametrize(
    ("typed", "unit", "nominal", "meant"),
    [
        ("9.012", "in", "0.3548", "0.355 in"),
        ("1600", "bar", "110", "110.316 bar"),
        ("11", "bar", "110", "MPa"),
        ("110", "psi", "1600", "1595.415"),
        ("460", "kg", "0.46", "460 g"),
        ("120", "min", "2", "120 s"),
    ],
)
def test_aw_090_other_units_are_mixed_up_and_asked_back_too(
    shop: CounterShop, typed: str, unit: str, nominal: str, meant: str
) -> None:
    answer = reading(shop, typed, unit, nominal=nominal)
    assert answer["outcome"] == "question"
    assert meant in answer["why"]


@pytest.mark.parametrize("typed", [*GIVEN["AW-094"], "12µm", "12 micron", "12 UM", "12 \u00b5M"])
def test_aw_094_every_micro_is_a_micrometre(shop: CounterShop, typed: str) -> None:
    assert reading(shop, typed)["value"] == "0.012"
    done = shop.run("limits", "--json", "--", f"<= {typed}")
    assert json.loads(done.stdout)["upper"] == "0.012"


@pytest.mark.parametrize("unit", ["µm", "μm", "um", "micron"])
def test_aw_094_the_unit_of_a_check_may_be_written_in_every_way(
    shop: CounterShop, unit: str
) -> None:
    answer = reading(shop, "0.012 mm", unit)
    assert (answer["value"], answer["unit"]) == ("12", "µm")


@pytest.mark.parametrize("by", ["family", "source", "lot", "number", "month", "plan", "inspector"])
@pytest.mark.parametrize("command", ["yield", "cost"])
def test_aw_096_rows_without_inspections_are_null_with_a_reason(
    shop: CounterShop, command: str, by: str
) -> None:
    # The shop's reader of JSON refuses NaN and infinity.
    rows = shop.json(command, "--by", by)
    assert rows
    for row in rows:
        assert row["decided"] == 0
        for name in ("yield", "first_pass_yield", "low", "high"):
            assert row[name] is None
        assert "no core of this group has been decided yet" in row["why"]
        if command == "cost":
            assert row["cost_per_good_body"] is None
            assert (row["cost_low"], row["cost_high"]) == (None, None)


def test_aw_096_the_same_before_the_first_core_and_for_months_without_any(
    shop: CounterShop, tmp_path: Path
) -> None:
    assert all(row["yield"] is None for row in shop.json("yield", "--from", "2031-01"))
    shop.data = tmp_path / "empty"
    shop.run("setup", "--from", Path(__file__).parent / "files" / "shop")
    [row] = shop.json("cost")
    assert (row["received"], row["yield"], row["cost_per_good_body"]) == (0, None, None)
    assert row["why"]
    assert shop.json("charge", "CASE")["why"]
    for command in (("yield",), ("cost",), ("charge", "CASE")):
        said = shop.run(*command).stdout.lower()
        assert "no core of this group has been decided yet" in said
        assert "nan" not in said
        assert "100.0 %" not in said


def test_aw_096_the_papers_of_an_empty_shop_hold_no_nan(shop: CounterShop) -> None:
    from coretrack import clock
    from coretrack.actions.overview import shop_summary
    from coretrack.paper.charge_sheet import charge_sheet_pdf
    from coretrack.paper.workbook import summary_workbook
    from coretrack.records import database

    database.open_database(f"sqlite:///{shop.data / 'coretrack.db'}")
    try:
        summary = shop_summary(clock.now())
    finally:
        database.close_database()
    assert charge_sheet_pdf(summary).startswith(b"%PDF")
    book = openpyxl.load_workbook(BytesIO(summary_workbook(summary)))
    values = [cell for sheet in book for row in sheet.values for cell in row if cell is not None]
    assert values
    assert not [v for v in values if isinstance(v, float) and not math.isfinite(v)]
    assert not [v for v in values if isinstance(v, str) and v.lower() in ("nan", "inf", "#n/a")]


def test_aw_098_a_small_negative_value_is_never_a_negative_zero(shop: CounterShop) -> None:
    [typed] = GIVEN["AW-098"]
    assert reading(shop, typed)["value"] == "-0.0004"
    assert show_reading(-400, decimals=3) == "0.000"
    assert show_reading(-500, decimals=3) == "-0.001"
    for zero in ("-0", "-0.000", "−0", "-0.0000001"):
        assert reading(shop, zero)["sentence"].startswith("0 mm")


@given(value=st.integers(-2_000_000, 2_000_000), decimals=st.integers(0, 6))
def test_aw_098_no_value_shows_a_minus_before_nothing_but_zeros(value: int, decimals: int) -> None:
    shown = show_reading(value, decimals=decimals)
    assert not shown.startswith("-") or shown.strip("-0.")


@pytest.mark.parametrize(
    ("typed", "unit", "meant"),
    [
        *((text, "°C", "20 °C (68 °F)") for text in (*GIVEN["AW-100"]["typed"], "68.0", "68,0")),
        ("70", "°C", "21.111 °C (70 °F)"),
        ("293", "°C", "19.85 °C (293 K)"),
        ("20", "°F", "68 °F (20 °C)"),
    ],
)
def test_aw_100_a_temperature_on_the_wrong_scale_is_asked_back(
    shop: CounterShop, typed: str, unit: str, meant: str
) -> None:
    answer = reading(shop, typed, unit)
    assert (answer["outcome"], answer["value"]) == ("question", None)
    assert meant in answer["why"]


@pytest.mark.parametrize(
    "typed", ["20", "20 °C", "20C", "20 ºC", "20 ℃", "68 °F", "68 F", "68 degF", "293.15 K"]
)
def test_aw_100_a_temperature_with_its_scale_is_read(shop: CounterShop, typed: str) -> None:
    assert reading(shop, typed, "°C")["value"] == "20"


@pytest.mark.parametrize(
    "typed",
    [
        *("1_000", "9.0¹", "0x10", "1e1", "9.012e0", "٩.٠١٢", "9·012", "½ in", "(9.012)", "9.01.2"),
        *("9.", "IX", "true", "9.012 000", "9'012", "+-9.012", "±9.012", "0b11", "9⁰", "①", "=9.0"),
    ],
)
def test_aw_102_what_only_looks_like_a_number_is_refused(shop: CounterShop, typed: str) -> None:
    answer = reading(shop, typed, nominal="9.012")
    assert (answer["outcome"], answer["value"]) == ("refused", None)
    assert answer["why"]


def test_aw_102_full_width_digits_are_the_same_digits(shop: CounterShop) -> None:
    assert reading(shop, GIVEN["AW-102"][1])["value"] == "9.012"


@pytest.mark.parametrize(
    ("typed", "unit"),
    [("1,000", "count"), ("1,600", "bar"), ("1,600 psi", "bar"), ("9,012", "µm"), ("1,250", "g")],
)
def test_aw_102_a_comma_that_could_part_thousands_is_not_guessed(
    shop: CounterShop, typed: str, unit: str
) -> None:
    answer = reading(shop, typed, unit)
    assert (answer["outcome"], answer["value"]) == ("refused", None)
    assert "could be" in answer["why"]


@pytest.mark.parametrize(
    ("typed", "value"),
    [
        ("3/8 in", "9.525"),
        ('23/64"', "9.128125"),
        ('0 23/64"', "9.128125"),
        ("0.3548 in", "9.01192"),
        ("354.8 thou", "9.01192"),
        ("0,3548 Zoll", "9.01192"),
    ],
)
def test_aw_102_fractions_and_inches_are_exact(shop: CounterShop, typed: str, value: str) -> None:
    assert reading(shop, typed, nominal="9.012")["value"] == value


@pytest.mark.parametrize("typed", ["3/8", "1/3 in", "1/0 in", "9/0"])
def test_aw_102_a_fraction_without_inches_or_without_an_end_is_refused(
    shop: CounterShop, typed: str
) -> None:
    assert reading(shop, typed, nominal="9.012")["outcome"] == "refused"


@pytest.mark.parametrize("text", ["4006381333931", "{tag}", "{tag}\r", "CT-000124", "00420"])
def test_aw_016_a_barcode_is_no_reading(shop: CounterShop, text: str) -> None:
    tag = shop.tags()[1]
    text = text.format(tag=tag)
    assert "looks like a" in reading(shop, text, nominal="9.012")["why"]
    answer = shop.measure({tag: text.strip()})
    assert (answer["stored"], len(answer["rejected"])) == (0, 1)


@given(st.text("0123456789.,+- mµin\t\r;/ØHELPOF<>", max_size=20))
def test_aw_102_no_text_crashes_the_reader_or_is_stored_as_something_else(text: str) -> None:
    answer = read_reading(text, unit="mm", nominal=9_012_000)
    if isinstance(answer, Reading):
        assert 4_506_000 <= answer.value <= 13_518_000
        assert answer.as_typed == text
