"""Deposits owed by age, reminders, forfeits and excess. Customers invented."""

from __future__ import annotations

from datetime import date, timedelta
from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from coretrack.figures.money import from_decimal, shown
from coretrack.figures.money_owed import (
    OpenLine,
    Settled,
    excess_sheet,
    owed_sheet,
    reminders,
    settled_sheet,
)

TODAY = date(2026, 6, 1)


def money(units: str | int) -> int:
    return from_decimal(Decimal(units))


def _line(
    name: str, days_ago: int, units: int = 1, window: int | None = 30, billed: bool = True
) -> OpenLine:
    sold = TODAY - timedelta(days=days_ago)
    return OpenLine(name, "Workshop A", "INJ", sold, window, units, money(20), billed)


LINES = [
    _line("1", 0, 6),
    _line("2", 30, 4),
    _line("3", 31, 2),
    _line("4", 200, 1, None),
    _line("5", 90, 3, 45, billed=False),
    _line("6", 10, 0),
]


def test_lines_fall_into_classes_that_add_up() -> None:
    found = owed_sheet(LINES, TODAY)
    assert [(c.label, c.lines, c.units) for c in found.ages] == [
        ("0 to 30 days", 2, 10),
        ("31 to 60 days", 1, 2),
        ("61 to 90 days", 1, 3),
        ("over 90 days", 1, 1),
    ]
    assert (found.lines, found.units, shown(found.money)) == (5, 16, "320.00")
    assert shown(found.held) == "260.00"
    assert (found.past_due_lines, found.past_due_units) == (2, 5)
    assert found.oldest_days == 200
    assert found.sentence == (
        "16 cores are owed with 320.00 of deposits, 5 of them past due (100.00)"
    )


@given(st.lists(st.tuples(st.integers(0, 400), st.integers(0, 9)), max_size=20))
def test_no_core_is_lost_between_the_classes(sales: list[tuple[int, int]]) -> None:
    found = owed_sheet([_line(str(n), days, units) for n, (days, units) in enumerate(sales)], TODAY)
    assert sum(c.units for c in found.ages) == found.units == sum(units for _, units in sales)
    assert sum(c.money for c in found.ages) == found.money
    assert (found.oldest_days is None) == (found.units == 0)


def test_the_last_day_of_the_window_is_not_past_due() -> None:
    assert owed_sheet([_line("2", 30)], TODAY).past_due_units == 0
    assert owed_sheet([_line("3", 31)], TODAY).past_due_units == 1
    assert owed_sheet([_line("2", 30)], TODAY).sentence.endswith("none past its window")


def test_nothing_owed_reads_sensibly_and_wrong_lines_are_refused() -> None:
    found = owed_sheet([], TODAY)
    assert found.why == found.sentence == "no core is owed"
    assert found.oldest_days is None
    with pytest.raises(ValueError, match="cannot be"):
        owed_sheet([_line("1", -1)], TODAY)
    with pytest.raises(ValueError, match="rise"):
        owed_sheet([], TODAY, (60, 30))


def test_reminders_come_at_half_four_fifths_and_the_end_of_the_window() -> None:
    lines = [_line("a", 14), _line("b", 15), _line("c", 24), _line("d", 30), _line("e", 40)]
    found = {r.line.line: (r.percent, r.days_left) for r in reminders(lines, TODAY)}
    assert found == {"b": (50, 15), "c": (80, 6), "d": (100, 0), "e": (100, -10)}
    assert [r.line.line for r in reminders(lines, TODAY)] == ["e", "d", "c", "b"]


def test_a_stage_is_reminded_of_once() -> None:
    lines = [_line("b", 15), _line("c", 24)]
    assert [r.line.line for r in reminders(lines, TODAY, {"b": 50, "c": 50})] == ["c"]
    assert reminders(lines, TODAY, {"b": 50, "c": 80}) == ()


def test_reminders_say_how_long_is_left_and_skip_what_has_no_window() -> None:
    lines = [_line("c", 24, 2), _line("d", 30), _line("e", 31), _line("f", 99, 1, None)]
    lines.append(_line("g", 99, 0))
    assert [r.sentence for r in reminders(lines, TODAY)] == [
        "1 core of Workshop A, 20.00: 1 day past due",
        "1 core of Workshop A, 20.00: due today",
        "2 cores of Workshop A, 40.00: due in 6 days",
    ]


def test_what_was_settled_in_a_period() -> None:
    units = [
        Settled("credited", TODAY, money(20), money(20)),
        Settled("credited", TODAY, money(20), money(10)),
        Settled("credited", TODAY + timedelta(days=1), money(20), money(20)),
        Settled("refused", TODAY, money(20)),
        Settled("waived", TODAY, money(20)),
        Settled("forfeited", TODAY - timedelta(days=6), money(25)),
    ]
    found = settled_sheet(units, TODAY - timedelta(days=6), TODAY)
    assert (found.credited, shown(found.credits)) == (2, "30.00")
    assert found.credit_share == 0.75
    assert (found.refused, found.waived, found.forfeited) == (1, 1, 1)
    assert found.sentence == (
        "2 cores credited with 30.00, 75.0 % of their charges; 1 deposit forfeited (25.00)"
    )


def test_without_a_credit_there_is_no_share_of_the_charge() -> None:
    found = settled_sheet([], TODAY, TODAY)
    assert found.credit_share is None
    assert found.why
    with pytest.raises(ValueError, match="not closed by 'eaten'"):
        settled_sheet([Settled("eaten", TODAY, 1)], TODAY, TODAY)
    with pytest.raises(ValueError, match="core charge"):
        settled_sheet([Settled("credited", TODAY, 1, 2)], TODAY, TODAY)


def test_excess_cores_wait_or_were_bought() -> None:
    waiting = [TODAY - timedelta(days=3), TODAY - timedelta(days=12)]
    found = excess_sheet(waiting, 2, money(14), TODAY)
    assert (found.waiting, found.oldest_days) == (2, 12)
    assert found.sentence == (
        "2 excess cores are waiting, the oldest for 12 days; 2 excess cores bought for 14.00"
    )
    assert excess_sheet([], 0, 0, TODAY).sentence == "no excess core waits"
    assert excess_sheet([], 0, 0, TODAY).oldest_days is None
