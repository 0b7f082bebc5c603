"""Columns of dates are read in one way, and the shop's zone decides days, weeks and months."""

from __future__ import annotations

from datetime import UTC, date, datetime, timedelta
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given
from hypothesis import strategies as st

from coretrack.figures.dates import (
    DAY_FIRST,
    MONTH_FIRST,
    ORDERS,
    YEAR_FIRST,
    AmbiguousDates,
    AmbiguousTime,
    NotADate,
    column_dates,
    column_times,
    day_bounds,
    iso_week,
    local_to_utc,
    month_bounds,
    month_of,
    read_date,
    shop_day,
    shop_zone,
    week_days,
)

BERLIN = "Europe/Berlin"


def clock(*parts: int) -> datetime:
    """Return a time on the shop's clock, without an offset."""
    return datetime(*parts)  # type: ignore[arg-type,misc]  # noqa: DTZ001


def utc(*parts: int) -> datetime:
    """Return a moment in UTC."""
    return datetime(*parts, tzinfo=UTC)  # type: ignore[arg-type,misc]


def test_one_clear_row_decides_the_whole_column() -> None:
    column = column_dates(["03/04/2025", "31/03/2025", "04/05/2025"])
    assert column.order == DAY_FIRST
    assert column.dates == (date(2025, 4, 3), date(2025, 3, 31), date(2025, 5, 4))
    column = column_dates(["03/04/2025", "03/31/2025"])
    assert column.order == MONTH_FIRST
    assert column.dates == (date(2025, 3, 4), date(2025, 3, 31))


def test_a_column_that_does_not_tell_is_asked_about() -> None:
    with pytest.raises(AmbiguousDates, match=r"2025-04-03 \(day first\) or 2025-03-04 \(month"):
        column_dates(["03/04/2025", "04/05/2025"])


def test_the_answer_settles_the_column() -> None:
    assert column_dates(["03/04/2025"], order=DAY_FIRST).dates == (date(2025, 4, 3),)
    assert column_dates(["03/04/2025"], order=MONTH_FIRST).dates == (date(2025, 3, 4),)
    with pytest.raises(ValueError, match="order is one of"):
        column_dates([], order="sideways")


def test_rows_that_contradict_each_other_are_both_named() -> None:
    with pytest.raises(AmbiguousDates, match="'13/04/2025' has the day first and '04/13/2025'"):
        column_dates(["01/02/2025", "13/04/2025", "04/13/2025"])


def test_date_cells_beside_texts_may_have_been_swapped() -> None:
    with pytest.raises(AmbiguousDates, match="may have swapped day and month"):
        column_dates([clock(2025, 4, 3), "31/03/2025"])
    settled = column_dates([clock(2025, 4, 3), "31/03/2025"], order=DAY_FIRST)
    assert settled.dates == (date(2025, 4, 3), date(2025, 3, 31))


def test_clear_spellings_need_no_order() -> None:
    cells = [
        *("2025-04-03", "2025/4/3", "20250403", "3 Apr 2025", "3-Apr-2025", "3. April 2025"),
        *("Apr 3, 2025", "April 3rd 2025", clock(2025, 4, 3, 9, 13), date(2025, 4, 3)),
        "2025-04-03 09:13",
    ]
    column = column_dates(cells)
    assert column.order == YEAR_FIRST
    assert set(column.dates) == {date(2025, 4, 3)}
    assert column.problems == {}


def test_dates_with_points_are_day_first() -> None:
    assert column_dates(["03.04.2025"]).dates == (date(2025, 4, 3),)


def test_the_same_day_and_month_needs_no_order() -> None:
    assert column_dates(["03/03/2025"]).dates == (date(2025, 3, 3),)


def test_wrong_cells_are_named_one_by_one_and_blanks_stay_blank() -> None:
    column = column_dates(["2025-02-30", None, " ", "1/2/25", "x", 45659, "2025-02-28"])
    assert column.dates == (None, None, None, None, None, None, date(2025, 2, 28))
    assert sorted(column.problems) == [0, 3, 4, 5]
    assert "no day of the calendar" in column.problems[0]
    assert "two digits" in column.problems[3]
    assert "write it like 2026-05-04" in column.problems[4]


def test_a_row_against_the_chosen_order_is_only_its_own_problem() -> None:
    column = column_dates(["03/31/2025", "01/02/2025"], order=DAY_FIRST)
    assert column.dates == (None, date(2025, 2, 1))
    assert "with the day first" in column.problems[0]


def test_one_date() -> None:
    assert read_date("2026-05-04") == date(2026, 5, 4)
    assert read_date("4/5/2026", order=DAY_FIRST) == date(2026, 5, 4)
    with pytest.raises(AmbiguousDates):
        read_date("4/5/2026")
    for wrong in ("", "yesterday", "0000-01-01", "31/02/2026"):
        with pytest.raises(NotADate):
            read_date(wrong)


def test_times_with_and_without_offset_become_utc() -> None:
    cells = [
        *("2026-05-04 09:13", "2026-05-04T09:13:05+02:00", "2026-05-04T07:13Z"),
        *("2026-05-04 9:13 pm", "2026-05-04T09:13:00.25", None, clock(2026, 1, 4, 9, 13)),
    ]
    column = column_times(cells, BERLIN)
    assert column.problems == {}
    assert column.times == (
        *(utc(2026, 5, 4, 7, 13), utc(2026, 5, 4, 7, 13, 5), utc(2026, 5, 4, 7, 13)),
        *(utc(2026, 5, 4, 19, 13), utc(2026, 5, 4, 7, 13, 0, 250_000), None),
        utc(2026, 1, 4, 8, 13),
    )


def test_times_follow_the_order_of_the_dates() -> None:
    column = column_times(["03/04/2025 09:00", "31/03/2025 09:00"], BERLIN)
    assert column.times == (utc(2025, 4, 3, 7), utc(2025, 3, 31, 7))
    with pytest.raises(AmbiguousDates):
        column_times(["03/04/2025 09:00"], BERLIN)


@pytest.mark.parametrize(
    ("text", "reason"),
    [
        ("2026-05-04", "no time of day"),
        ("2026-05-04 25:00", "does not exist"),
        ("2026-05-04 13:00 pm", "does not exist"),
        ("2026-03-29 02:30", "never showed"),
        ("2026-05-04 09:00+99:00", "does not exist"),
        ("9999-12-31 23:00-05:00", "outside the calendar"),
        ("0001-01-01 00:00", "outside the calendar"),
        ("noon", "no time of day"),
    ],
)
def test_wrong_times_are_named(text: str, reason: str) -> None:
    column = column_times([text], BERLIN)
    assert column.times == (None,)
    assert reason in column.problems[0]


def test_the_hour_that_comes_twice() -> None:
    local = clock(2025, 10, 26, 2, 30)
    assert local_to_utc(local, BERLIN, fold=0) == utc(2025, 10, 26, 0, 30)
    assert local_to_utc(local, BERLIN, fold=1) == utc(2025, 10, 26, 1, 30)
    with pytest.raises(AmbiguousTime, match="00:30 and at 01:30 UTC"):
        local_to_utc(local, BERLIN)
    with pytest.raises(NotADate, match="put forward"):
        local_to_utc(clock(2026, 3, 29, 2, 30), BERLIN, fold=1)


def test_rows_that_go_back_in_that_hour_are_its_second_pass() -> None:
    cells = ["2025-10-26 02:30", "2025-10-26 02:50", "2025-10-26 02:10", "2025-10-26 03:10"]
    assert column_times(cells, BERLIN).times == (
        *(utc(2025, 10, 26, 0, 30), utc(2025, 10, 26, 0, 50)),
        *(utc(2025, 10, 26, 1, 10), utc(2025, 10, 26, 2, 10)),
    )


def test_the_day_of_the_clock_change_has_25_hours() -> None:
    start, end = day_bounds(date(2025, 10, 26), BERLIN)
    assert (start, end) == (utc(2025, 10, 25, 22), utc(2025, 10, 26, 23))
    assert end - start == timedelta(hours=25)
    for moment in (utc(2025, 10, 26, 0, 30), utc(2025, 10, 26, 1, 30)):
        assert start <= moment < end
        assert shop_day(moment, BERLIN) == date(2025, 10, 26)
        assert f"{moment.astimezone(ZoneInfo(BERLIN)):%H:%M}" == "02:30"


def test_a_day_without_midnight_begins_when_the_clock_skips_it() -> None:
    start, end = day_bounds(date(2024, 9, 8), "America/Santiago")
    assert end - start == timedelta(hours=23)
    assert shop_day(start, "America/Santiago") == date(2024, 9, 8)
    assert shop_day(start - timedelta(seconds=1), "America/Santiago") == date(2024, 9, 7)


@pytest.mark.parametrize(
    ("day", "week"),
    [
        (date(2027, 1, 1), "2026-W53"),
        (date(2021, 1, 3), "2020-W53"),
        (date(2021, 1, 4), "2021-W01"),
        (date(2024, 12, 30), "2025-W01"),
    ],
)
def test_weeks_are_iso_weeks(day: date, week: str) -> None:
    assert iso_week(day) == week


def test_months_are_the_shops() -> None:
    assert month_of(utc(2026, 4, 30, 22, 30), BERLIN) == "2026-05"
    assert month_of(utc(2026, 4, 30, 22, 30), "UTC") == "2026-04"
    assert month_bounds("2026-12", BERLIN) == (utc(2026, 11, 30, 23), utc(2026, 12, 31, 23))
    for wrong in ("2026-13", "2026-1", "May", "9999-12", ""):
        with pytest.raises(NotADate, match="not a month"):
            month_bounds(wrong, BERLIN)


@pytest.mark.parametrize("name", ["", "Mars/Base", "../etc/passwd", "Europe"])
def test_unknown_zones_are_refused(name: str) -> None:
    with pytest.raises(NotADate, match="not a known time zone"):
        shop_zone(name)


def test_a_moment_without_offset_is_never_taken_for_utc() -> None:
    with pytest.raises(ValueError, match="needs its offset"):
        shop_day(clock(2026, 1, 1), BERLIN)


days = st.dates(min_value=date(1900, 1, 1), max_value=date(2199, 12, 31))


@given(st.lists(days, min_size=1, max_size=8), st.sampled_from([DAY_FIRST, MONTH_FIRST]))
def test_columns_read_back_in_their_order_or_are_asked_about(found: list[date], order: str) -> None:
    shape = "{0:%d/%m/%Y}" if order == DAY_FIRST else "{0:%m/%d/%Y}"
    texts = [shape.format(day) for day in found]
    assert column_dates(texts, order=order).dates == tuple(found)
    try:
        assert column_dates(texts).dates == tuple(found)
    except AmbiguousDates:
        assert all(day.day <= 12 for day in found)


@given(days)
def test_seven_days_make_a_week(day: date) -> None:
    monday, sunday = week_days(day)
    inside = [monday + timedelta(days=each) for each in range(7)]
    assert inside[-1] == sunday
    assert {iso_week(each) for each in inside} == {iso_week(day)}
    assert iso_week(sunday + timedelta(days=1)) != iso_week(day)


@given(days, st.sampled_from([BERLIN, "UTC", "America/Chicago", "America/Santiago"]))
def test_days_follow_each_other_without_a_gap(day: date, zone: str) -> None:
    start, end = day_bounds(day, zone)
    assert day_bounds(day + timedelta(days=1), zone)[0] == end
    assert shop_day(start, zone) == day


@given(
    st.lists(
        st.one_of(
            st.none(),
            st.text(max_size=20),
            st.text(alphabet="0123456789/-.: TZapmAM+", max_size=20),
            st.integers(),
            st.datetimes(),
        ),
        max_size=4,
    ),
    st.sampled_from([None, *ORDERS]),
)
def test_any_column_is_read_or_refused_as_declared(cells: list[object], order: str | None) -> None:
    try:
        dates = column_dates(cells, order=order)
        times = column_times(cells, BERLIN, order=order)
    except AmbiguousDates as error:
        message = str(error)
        assert message
    else:
        assert len(dates.dates) == len(times.times) == len(cells)
        assert all(dates.dates[index] is None for index in dates.problems)
        assert all(times.times[index] is None for index in times.problems)
