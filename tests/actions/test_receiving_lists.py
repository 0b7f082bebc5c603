"""What the clerk's lists count and show: open lines, customers, deliveries, the desk's numbers."""

from __future__ import annotations

import csv
import io
from datetime import UTC, date, datetime, timedelta

import pytest
from core_yard import Yard, money
from dock_station import TODAY, Clerk
from hypothesis import given
from hypothesis import strategies as st

from coretrack.actions import deliveries, people
from coretrack.actions.line_endings import end_line
from coretrack.actions.open_lines import (
    LineFilter,
    line_view,
    open_lines,
    open_lines_csv,
    standing,
)
from coretrack.actions.receiving_lists import (
    customer_account,
    deliveries_on,
    desk_counts,
    find_customers,
)
from coretrack.errors import Conflict, Forbidden, InvalidInput, NotAllowed, NotFound
from coretrack.paper.guarded_text import unguarded

SOLD = date(2026, 5, 4)


def moment(day: str) -> datetime:
    return datetime.combine(date.fromisoformat(day), datetime.min.time(), UTC) + timedelta(hours=15)


def end(yard: Yard, what: str, units: str = "1", reason: str = "sold its van", **more: str) -> str:
    key = more.get("key", f"{what}/{units}/{yard.events()}")
    line, now = more.get("line", "S1/1"), moment(more.get("day", "2026-06-20"))
    seen = int(more.get("seen", line_view(line, now).version))
    return end_line(
        line,
        what,
        units,
        reason,
        role=more.get("role", "owner"),
        seen=seen,
        by=yard.by,
        station="office",
        now=now,
        key=key,
    )


@pytest.mark.parametrize(
    ("age", "words", "tone"),
    [
        (0, "in time, 30 days left", "good"),
        (14, "in time, 16 days left", "good"),
        (15, "half the window used, 15 days left", "wait"),
        (23, "half the window used, 7 days left", "wait"),
        (24, "due soon, 6 days left", "ask"),
        (29, "due soon, 1 day left", "ask"),
        (30, "due today, the last day", "ask"),
        (31, "past due by 1 day", "stop"),
    ],
)
def test_a_line_stands_by_how_much_of_its_window_is_used(age: int, words: str, tone: str) -> None:
    shown = standing(SOLD, SOLD + timedelta(days=30), SOLD + timedelta(days=age))
    assert (shown.words, shown.tone, shown.past) == (words, tone, age > 30)


@given(st.integers(0, 3650), st.integers(-30, 4000))
def test_a_line_is_past_due_exactly_after_its_last_day(window: int, age: int) -> None:
    shown = standing(SOLD, SOLD + timedelta(days=window), SOLD + timedelta(days=age))
    assert shown.past == (age > window)
    assert shown.days_left == window - age


def test_without_a_window_nothing_is_ever_past_due() -> None:
    assert standing(SOLD, None, SOLD + timedelta(days=999)).words == "no window"


def test_open_lines_are_listed_oldest_first_and_filtered(yard: Yard) -> None:
    yard.sell("S2", 3, day="2026-05-18", customer="BROD")
    yard.sell("S1", 2, day="2026-05-04")
    yard.sell("S3", 1, day="2026-05-18", number="CB-77", charge="9.5")
    yard.bring_back("A1", day="2026-05-20")
    now = moment("2026-06-05")
    every = open_lines(LineFilter(), now)
    assert [line.key for line in every.lines] == ["S1/1", "S2/1", "S3/1"]
    assert (every.count, every.units) == (3, 5)
    assert every.money == money("20") + 3 * money("20") + money("9.5")
    assert every.customers == (("ANSL", "Ansell Hydraulics"), ("BROD", "Brodwell Counter"))
    first = every.lines[0]
    assert (first.owed, first.quantity, first.money, first.age_days, first.due_on) == (
        1,
        2,
        money("20"),
        32,
        "2026-06-03",
    )
    past = open_lines(LineFilter(past=True), now)
    assert [line.key for line in past.lines] == ["S1/1"]
    assert (every.past_due, every.past_money) == (1, money("20")) == (past.count, past.money)
    assert [one.key for one in open_lines(LineFilter("BROD"), now).lines] == ["S2/1"]
    assert [one.key for one in open_lines(LineFilter("", "CLB"), now).lines] == ["S3/1"]
    assert open_lines(LineFilter("BROD", "CLB"), now).lines == ()
    counts = desk_counts(now)
    assert (counts.open_lines, counts.units_owed, counts.money_owed, counts.past_due) == (
        every.count,
        every.units,
        every.money,
        every.past_due,
    )


def test_the_file_of_open_lines_keeps_every_text_as_it_is(yard: Yard) -> None:
    yard.sell("00420", 2)
    yard.sell("=1+1", 1, number="00731")
    content = open_lines_csv(LineFilter(), moment("2026-05-20"))
    assert b'"=""00420"""' in content
    rows = list(csv.DictReader(io.StringIO(content.decode("utf-8-sig"))))
    rows = [{name: unguarded(cell) for name, cell in row.items()} for row in rows]
    assert [row["invoice"] for row in rows] == ["00420", "=1+1"]
    assert [row["number"] for row in rows] == ["GP-1040", "00731"]
    assert rows[0]["money owed"] == "40.0000"
    assert rows[0]["due"] == "2026-06-03"


def test_the_owner_waives_units_with_a_reason_and_the_line_expects_less(yard: Yard) -> None:
    yard.sell("S1", 3)
    said = end(yard, "waived", "2")
    assert said == (
        "2 units of line S1/1 waived: a core charge of 40.00 EUR is no longer claimed; "
        "1 core still owed."
    )
    view = line_view("S1/1", moment("2026-06-20"))
    assert (view.line.owed, view.waived, view.forfeited) == (1, 2, 0)
    (ending,) = view.endings
    assert (ending.what, ending.units, ending.money, ending.why, ending.by) == (
        "waived",
        2,
        money("40"),
        "sold its van",
        yard.by,
    )
    assert yard.is_sound()


@pytest.mark.parametrize(
    ("mode", "words"),
    [
        ("up front", "is forfeited and stays with the shop; nothing"),
        ("billed later", "is forfeited and is to be billed; nothing"),
        ("core first", "is forfeited; nothing was charged beforehand; nothing"),
    ],
)
def test_a_forfeited_charge_says_what_becomes_of_the_money(
    yard: Yard, mode: str, words: str
) -> None:
    yard.sell("S1", 1, mode=mode)
    assert words in end(yard, "forfeited", reason="")
    assert line_view("S1/1", moment("2026-06-20")).line.owed == 0
    assert open_lines(LineFilter(), moment("2026-06-20")).lines == ()
    yard.now = moment("2026-06-21")
    yard.bring_back("A1", day="2026-06-21")
    assert yard.core("A1").state == "excess"
    assert yard.is_sound()


def test_units_are_forfeited_only_after_the_last_day(yard: Yard) -> None:
    yard.sell("S1", 1)
    with pytest.raises(NotAllowed, match="not past due: a core counts until 2026-06-03"):
        end(yard, "forfeited", day="2026-06-03")
    end(yard, "forfeited", day="2026-06-04")


@pytest.mark.parametrize("units", ["", "0", "-1", "4", "1.5", "x", "²", "9" * 30])
def test_only_units_that_are_owed_can_be_ended(yard: Yard, units: str) -> None:
    yard.sell("S1", 3)
    with pytest.raises(InvalidInput) as told:
        end(yard, "waived", units)
    assert set(told.value.fields) == {"units"}
    assert yard.line("S1/1").waived == 0


def test_ending_a_line_is_the_owners_needs_a_reason_and_happens_once(yard: Yard) -> None:
    yard.sell("S1", 3)
    with pytest.raises(Forbidden):
        end(yard, "waived", role="clerk")
    with pytest.raises(InvalidInput) as told:
        end(yard, "waived", reason="  ")
    assert set(told.value.fields) == {"reason"}
    seen = str(line_view("S1/1", moment("2026-06-20")).version)
    said = end(yard, "waived", key="k", seen=seen)
    assert end(yard, "waived", key="k", seen=seen) == said
    assert yard.line("S1/1").waived == 1
    with pytest.raises(Conflict, match="changed meanwhile"):
        end(yard, "waived", key="other", seen=seen)
    with pytest.raises(InvalidInput, match="does not end a line"):
        end(yard, "forgotten")
    with pytest.raises(NotFound):
        line_view("nowhere", moment("2026-06-20"))


def test_customers_are_found_by_any_part_of_name_or_code(yard: Yard) -> None:
    assert [one.code for one in find_customers("").found] == ["ANSL", "BROD", "OWN"]
    for text in ("ansell", "HYDRAUL", "l hydr", "ansl", "nsl", "hydraulics ansell"):
        assert find_customers(text).only == "ANSL", text
    assert find_customers("coppard").found == ()
    assert find_customers("coppard").only == ""
    assert [one.code for one in find_customers("o").found] == ["BROD", "OWN"]


def test_a_serial_tag_or_paper_leads_to_its_customer(yard: Yard, db: object) -> None:
    yard.sell("INV 7", 2, customer="BROD")
    clerk = Clerk()
    code = clerk.open("BROD", 1, reference="RMA/12 #3")
    stored = clerk.receive(code, serial="ZX-81 9")
    yard.bring_back("COME1", comeback="yes", customer="BROD")
    for text, why in (
        ("zx-81 9", "serial ZX-81 9"),
        ("ZX819", "serial ZX-81 9"),
        (stored.tag, "core "),
        ("inv 7", "invoice INV 7"),
        ("rma/12 #3", "their paper RMA/12 #3"),
        (code.lower(), f"delivery {code}"),
        ("COME1", "serial COME1"),
    ):
        found = find_customers(text)
        assert found.only == "BROD", text
        assert why in found.found[0].why
    assert find_customers("%").found == ()


def test_the_page_of_a_customer_answers_what_the_shop_has_of_him(yard: Yard) -> None:
    yard.sell("S1", 4)
    yard.sell("S2", 1, customer="BROD")
    clerk = Clerk()
    people.add_person("Una Pryor", "clerk", "long-enough-here", by=yard.by, now=TODAY)
    code = clerk.open("ANSL", 4, reference="RMA 12")
    clerk.receive(code, serial="A1")
    clerk.receive(code, serial="A2", faults=("port",), no_photo="thread seen by two")
    clerk.take(code, serial="A3", faults=("cracked",))
    clerk.photograph(code)
    clerk.store(code)
    deliveries.close_delivery(code, difference_by="Una Pryor", note="one short", **clerk.who)
    yard.bring_back("B1", customer="BROD")
    account = customer_account("ANSL", moment("2026-05-25"))
    assert (account.owed, account.money_owed, account.past_due) == (2, money("40"), 0)
    assert [(one.state, one.cores, one.oldest_days) for one in account.states] == [
        ("hold", 1, 5),
        ("waiting", 2, 5),
    ]
    assert [(core.serial, core.hold_until) for core in account.theirs] == [("A3", "2026-05-30")]
    (delivery,) = account.deliveries
    assert (delivery.counted, delivery.taken, delivery.judged, delivery.held) == (4, 3, 3, 1)
    assert (delivery.difference, delivery.agrees) == (1, "1 piece not stored")
    assert delivery.difference_by == "Una Pryor"
    assert account.waiting is not None
    assert account.waiting.total == money("35")
    assert (account.teardown, account.notes) == (None, ())
    with pytest.raises(NotFound):
        customer_account("nobody", TODAY)


def test_deliveries_of_a_day_and_those_not_settled(yard: Yard) -> None:
    yard.sell("S1", 4)
    clerk = Clerk()
    is_open = clerk.open("ANSL", 2, arrived_on="2026-05-19")
    clerk.receive(is_open, serial="A1")
    yard.bring_back("F1", day="2026-05-12")
    today = deliveries_on(None, clerk.now)
    assert [row.code for row in today.of_day] == [is_open]
    assert [row.code for row in today.open] == [is_open]
    assert today.open[0].agrees == "1 piece not stored"
    (by_file,) = deliveries_on(date(2026, 5, 12), clerk.now).of_day
    assert (by_file.status, by_file.counted, by_file.taken, by_file.agrees) == (
        "by file",
        0,
        1,
        "not counted",
    )
    assert [row.code for row in deliveries_on(date(2026, 5, 19), clerk.now).of_day] == [is_open]
    counts = desk_counts(clerk.now)
    assert (counts.deliveries_open, counts.deliveries_difference, counts.deliveries_today) == (
        1,
        0,
        1,
    )


def test_the_desk_counts_what_waits(yard: Yard) -> None:
    empty = desk_counts(TODAY)
    assert (empty.open_lines, empty.money_owed, empty.hold, empty.credits_waiting) == (0, 0, 0, 0)
    yard.sell("S1", 2)
    yard.bring_back("A1")
    yard.bring_back("R1", faults="cracked")
    yard.bring_back("E1", number="GP-2080")
    yard.bring_back("U1", number="QQ-9")
    yard.bring_back("C1", comeback="yes")
    counts = desk_counts(moment("2026-12-01"))
    assert (counts.hold, counts.hold_over, counts.unknown) == (1, 1, 1)
    assert (counts.excess, counts.comebacks) == (1, 1)
    assert (counts.credits_waiting, counts.credits_money) == (1, money("20"))
    assert (counts.open_lines, counts.units_owed, counts.past_due) == (1, 1, 1)
