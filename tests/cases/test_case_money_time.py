"""Awkward money and time: nothing or everything good, splits that must add up, clocks, weeks."""

from __future__ import annotations

import json
from datetime import UTC, date, datetime, timedelta
from decimal import Decimal
from pathlib import Path
from typing import TYPE_CHECKING, Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from coretrack.figures.dates import (
    AmbiguousTime,
    NotADate,
    column_times,
    day_bounds,
    iso_week,
    local_to_utc,
    month_bounds,
    month_of,
    shop_day,
    week_days,
)
from coretrack.figures.money import CENT, allocate, from_decimal, plain, shown

if TYPE_CHECKING:
    from conftest import CounterShop

GIVEN = json.loads((Path(__file__).parent / "files" / "numbers_open.json").read_text("utf-8"))
GOOD, BAD = "9.012", "9.500"


def lot_row(shop: CounterShop, command: str, lot: str) -> Any:
    """Return one lot's row of `yield` or `cost`."""
    [row] = [row for row in shop.json(command, "--by", "lot") if row["group"] == lot]
    return row


def measured_lot(shop: CounterShop, good: int, bad: int) -> str:
    """Receive and measure a lot of its own at 30.00 a piece; return its code."""
    lot = "LOT-A"
    shop.receive([f"N9{place:03d}" for place in range(good + bad)], "--lot", lot)
    tags = shop.tags()[-(good + bad) :]
    answer = shop.measure(dict(zip(tags, [GOOD] * good + [BAD] * bad, strict=True)))
    assert answer["rejected"] == []
    return lot


def test_aw_116_five_of_five_good_cost_what_they_cost_with_an_honest_range(
    shop: CounterShop,
) -> None:
    case = GIVEN["AW-116"]
    row = lot_row(shop, "cost", measured_lot(shop, case["good"], 0))
    assert (row["decided"], row["yield"], row["high"]) == (5, 1.0, 1.0)
    assert row["cost_per_good_body"] == row["cost_low"] == "30.00"
    # Wilson, 95 %: 30 / 0.56552.
    assert (row["method"], row["cost_high"]) == ("Wilson", f"{case['upper_wilson95']:.2f}")
    assert "30.00 … 53.05" in shop.run("cost", "--by", "lot").output
    assert any("only 5 cores" in warning for warning in row["warnings"])


@pytest.mark.parametrize(("good", "bad"), [(1, 0), (12, 0), (2, 3), (1, 1)])
def test_aw_116_groups_of_every_size_have_a_range_with_width(
    shop: CounterShop, good: int, bad: int
) -> None:
    row = lot_row(shop, "cost", measured_lot(shop, good, bad))
    low, point, high = (
        Decimal(row[name]) for name in ("cost_low", "cost_per_good_body", "cost_high")
    )
    assert low <= point < high
    assert point == (Decimal(30) * (good + bad) / good).quantize(Decimal("0.01"))
    assert 0 < row["low"] < row["high"] <= 1


@pytest.mark.parametrize("bad", [1, 4])
def test_aw_116_with_none_good_no_cost_per_body_is_made_up(shop: CounterShop, bad: int) -> None:
    row = lot_row(shop, "cost", measured_lot(shop, 0, bad))
    assert (row["decided"], row["yield"]) == (bad, 0.0)
    assert (row["cost_per_good_body"], row["cost_high"]) == (None, None)
    assert row["why"]
    assert 0 < row["high"] <= 1
    said = shop.run("cost", "--by", "lot").output
    assert "nan" not in said.lower()
    assert "inf" not in said.lower()


def test_aw_118_cores_received_and_none_inspected_have_no_figures(shop: CounterShop) -> None:
    for command in ("yield", "cost"):
        row = lot_row(shop, command, "LOT-1")
        assert (row["received"], row["decided"]) == (12, 0)
        assert {row[name] for name in ("yield", "first_pass_yield", "low", "high")} == {None}
        assert row["why"] == "no core of this group has been decided yet"
    assert row["cost_per_core"] is row["cost_per_good_body"] is row["scrap_share"] is None
    assert row["waterfall"] == []
    said = shop.run("yield").stdout
    assert "no core of this group has been decided yet" in said
    assert "0.0 %" not in said
    assert "100.0 %" not in said
    charge = shop.json("charge", "CASE")
    assert (charge["make_whole"], charge["value"], charge["cost_per_good_body"]) == (None,) * 3
    assert charge["why"]


@pytest.mark.parametrize("case", GIVEN["AW-120"], ids=lambda case: str(case["total"]))
def test_aw_120_the_splits_of_the_report(case: dict[str, Any]) -> None:
    whole = isinstance(case["total"], int)
    total = case["total"] if whole else from_decimal(Decimal(case["total"]))
    parts = allocate(total, case["weights"], 1 if whole else CENT)
    assert sum(parts) == total
    if "parts_sorted" in case:
        assert sorted(map(plain, parts)) == case["parts_sorted"]
    else:
        assert (parts if whole else [plain(part) for part in parts]) == case["parts"]


def test_aw_120_a_lot_for_a_lump_sum_is_split_to_the_last_cent(shop: CounterShop) -> None:
    answer = shop.receive(
        ["N8001", "N8002", "N8003"],
        *("--lot", "LOT-C", "--basis", "lump", "--price", "100.00", "--freight", "0.10"),
    )
    items = answer["items"]
    assert sorted(item["price"] for item in items) == ["33.33", "33.33", "33.34"]
    assert sorted(item["freight"] for item in items) == ["0.03", "0.03", "0.04"]


def test_aw_120_a_lot_by_weight_is_split_by_mass_to_the_last_cent(shop: CounterShop) -> None:
    path = shop.file("weighed.csv", "number,serial,mass kg\nB504,N8101,75\nB504,N8102,25\n")
    answer = shop.json(
        *("intake", path, "--source", "MERE", "--lot", "LOT-W", "--basis", "weight"),
        *("--price", "0.9999"),
    )
    assert [item["price"] for item in answer["items"]] == ["74.99", "25.00"]


@given(
    total=st.integers(-(10**12), 10**12),
    weights=st.lists(st.integers(0, 10**6), min_size=1, max_size=40).filter(any),
    step=st.sampled_from([1, CENT]),
)
def test_aw_120_parts_always_add_up_and_none_is_off_by_a_whole_step(
    total: int, weights: list[int], step: int
) -> None:
    parts = allocate(total, weights, step)
    assert sum(parts) == total
    size = step if total % step == 0 else 1
    for part, weight in zip(parts, weights, strict=True):
        assert abs(part * sum(weights) - total * weight) < size * sum(weights)


@pytest.mark.parametrize(
    ("amount", "text"),
    [
        (0, "0.00"),
        (50, "0.01"),
        (49, "0.00"),
        (-50, "-0.01"),
        (-49, "0.00"),
        (10_050, "1.01"),
        (12_345_678_950, "1,234,567.90"),
    ],
)
def test_aw_120_half_a_cent_is_shown_upwards_and_never_as_minus_nothing(
    amount: int, text: str
) -> None:
    assert shown(amount) == text
    assert plain(amount) == text.replace(",", "")


def test_aw_122_the_hour_that_the_clock_shows_twice(shop: CounterShop) -> None:
    case = GIVEN["AW-122"]
    tags = shop.tags()
    header = "time,inspector,gauge,core,check,reading\n"
    # Both rows show 02:30 on the clock; the offset tells them apart.
    rows = [
        f"2025-10-26 02:30:00{offset},Ilse Torn,BM1,{tag},body_od,9.012\n"
        for tag, offset in zip(tags, ("+02:00", "+01:00"), strict=False)
    ]
    answer = shop.json("grade", shop.file("readings.csv", header + "".join(rows)))
    assert answer["rejected"] == []
    moments = [item["readings"][0]["at"] for item in answer["items"]]
    assert moments == [told.replace("Z", ".000000Z") for told in case["events_utc"]]
    parsed = [datetime.fromisoformat(moment) for moment in moments]
    start, end = day_bounds(date(2025, 10, 26), case["zone"])
    assert [start, end] == [datetime.fromisoformat(told) for told in case["day_utc"]]
    assert end - start == timedelta(hours=25)
    assert all(start <= moment < end for moment in parsed)
    assert {shop_day(moment, case["zone"]) for moment in parsed} == {date(2025, 10, 26)}


def test_aw_122_rows_without_an_offset_keep_the_order_in_which_they_stand(
    shop: CounterShop,
) -> None:
    header = "time,inspector,gauge,core,check,reading\n"
    clocks = ("01:50", "02:10", "02:50", "02:05", "02:40", "03:10")
    rows = "".join(
        f"2025-10-26 {clock}:00,Ilse Torn,BM1,{tag},body_od,9.012\n"
        for tag, clock in zip(shop.tags(), clocks, strict=False)
    )
    answer = shop.json("grade", shop.file("readings.csv", header + rows))
    assert answer["rejected"] == []
    moments = [item["readings"][0]["at"][11:16] for item in answer["items"]]
    assert moments == ["23:50", "00:10", "00:50", "01:05", "01:40", "02:10"]


def test_aw_122_an_hour_that_the_clock_skipped_is_refused_by_row(shop: CounterShop) -> None:
    tag = shop.tags()[0]
    row = f"2026-03-29 02:30:00,Ilse Torn,BM1,{tag},body_od,9.012\n"
    path = shop.file("r.csv", f"time,inspector,gauge,core,check,reading\n{row}")
    [reject] = shop.json("grade", path)["rejected"]
    assert (reject["row"], reject["column"]) == (2, "time")
    assert "never showed 2026-03-29 02:30" in reject["why"]


@pytest.mark.parametrize(
    ("zone", "day", "hours"),
    [
        ("Europe/Berlin", date(2025, 10, 26), 25),
        ("Europe/Berlin", date(2026, 3, 29), 23),
        ("America/Chicago", date(2026, 11, 1), 25),
        ("America/Chicago", date(2026, 3, 8), 23),
        ("Australia/Lord_Howe", date(2026, 4, 5), 24.5),
        ("Australia/Lord_Howe", date(2026, 10, 4), 23.5),
        ("Asia/Kolkata", date(2026, 3, 29), 24),
        ("Asia/Kathmandu", date(2026, 3, 29), 24),
        ("America/Santiago", date(2026, 9, 6), 23),
        ("UTC", date(2025, 10, 26), 24),
    ],
)
def test_aw_122_a_day_is_as_long_as_the_clock_makes_it(zone: str, day: date, hours: float) -> None:
    start, end = day_bounds(day, zone)
    assert end - start == timedelta(hours=hours)
    assert day_bounds(day - timedelta(days=1), zone)[1] == start
    assert day_bounds(day + timedelta(days=1), zone)[0] == end
    assert shop_day(start, zone) == shop_day(end - timedelta(microseconds=1), zone) == day
    assert shop_day(end, zone) == day + timedelta(days=1)


def test_aw_122_one_time_alone_is_asked_about_with_both_readings() -> None:
    with pytest.raises(AmbiguousTime, match=r"at 00:30 and at 01:30 UTC"):
        local_to_utc(datetime(2025, 10, 26, 2, 30), "Europe/Berlin")  # noqa: DTZ001
    half_hour = column_times(["2026-04-05 01:45"], "Australia/Lord_Howe")
    assert half_hour.times[0] == datetime(2026, 4, 4, 14, 45, tzinfo=UTC)
    with pytest.raises(NotADate):
        local_to_utc(datetime(2026, 10, 4, 2, 15), "Australia/Lord_Howe")  # noqa: DTZ001


@pytest.mark.parametrize(
    ("moment", "zone", "month"),
    [
        ("2025-10-31T22:59:59+00:00", "Europe/Berlin", "2025-10"),
        ("2025-10-31T23:00:00+00:00", "Europe/Berlin", "2025-11"),
        ("2025-10-31T18:30:00+00:00", "Asia/Kolkata", "2025-11"),
        ("2026-01-01T05:59:59+00:00", "America/Chicago", "2025-12"),
    ],
)
def test_aw_122_a_month_ends_when_the_shops_clock_says_so(
    moment: str, zone: str, month: str
) -> None:
    at = datetime.fromisoformat(moment)
    assert month_of(at, zone) == month
    start, end = month_bounds(month, zone)
    assert start <= at < end


def test_aw_122_cores_are_counted_in_the_shops_own_month(shop: CounterShop) -> None:
    shop.receive(["N8201"], "--lot", "LOT-M1", "--received", "2025-10-31")
    shop.receive(["N8202"], "--lot", "LOT-M2", "--received", "2025-11-01")
    received = {row["group"]: row["received"] for row in shop.json("yield", "--by", "month")}
    assert received == {"2025-10": 13, "2025-11": 1}


# There is no roll-up by week yet; the weeks themselves are made in one place.
@pytest.mark.parametrize(("day", "week"), GIVEN["AW-124"].items())
def test_aw_124_the_weeks_of_the_report_are_iso_weeks(day: str, week: str) -> None:
    assert iso_week(date.fromisoformat(day)) == week


@pytest.mark.parametrize(
    ("day", "week"),
    [
        (date(2026, 12, 28), "2026-W53"),
        (date(2027, 1, 3), "2026-W53"),
        (date(2027, 1, 4), "2027-W01"),
        (date(2024, 12, 30), "2025-W01"),
        (date(2025, 12, 29), "2026-W01"),
        (date(2021, 1, 4), "2021-W01"),
        (date(2022, 1, 1), "2021-W52"),
        (date(2016, 1, 3), "2015-W53"),
    ],
)
def test_aw_124_weeks_at_the_turn_of_the_year(day: date, week: str) -> None:
    assert iso_week(day) == week


@given(st.dates(date(1990, 1, 1), date(2100, 12, 31)))
def test_aw_124_every_week_has_seven_days_and_one_name(day: date) -> None:
    monday, sunday = week_days(day)
    days = [monday + timedelta(days=n) for n in range(7)]
    assert days[-1] == sunday
    assert day in days
    assert {iso_week(each) for each in days} == {iso_week(day)}
    assert iso_week(monday - timedelta(days=1)) != iso_week(day) != iso_week(sunday + timedelta(1))
