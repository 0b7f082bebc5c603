"""Deliveries: opened with the right customer, counted before judging, closed when it agrees."""

from __future__ import annotations

from datetime import timedelta
from typing import Any

import pytest
from core_yard import Yard, money
from dock_station import TODAY, Clerk

from coretrack.actions import core_in_hand, deliveries
from coretrack.actions.delivery_views import NewDelivery
from coretrack.actions.people import add_person
from coretrack.actions.typed_sale import add_customer
from coretrack.errors import InvalidInput, NotAllowed, NotFound


@pytest.fixture
def clerk() -> Clerk:
    return Clerk()


def names_people(*names: str) -> None:
    for name in names:
        add_person(name, "clerk", "long-enough-here", by="Ilse Thornby", now=TODAY)


def test_a_delivery_gets_a_short_code_and_its_count_is_known(yard: Yard, clerk: Clerk) -> None:
    code = clerk.open("ANSL", 6, reference="RMA 12", carrier="Van", arrived_on="2026-05-19")
    assert code == "D-0001"
    assert clerk.open("BROD", 2) == "D-0002"
    page = clerk.view(code)
    assert (page.customer, page.customer_name) == ("ANSL", "Ansell Hydraulics")
    assert (page.status, page.counted, page.taken, page.left) == ("open", 6, 0, 6)
    assert (page.reference, page.carrier, page.arrived_on) == ("RMA 12", "Van", "2026-05-19")
    assert page.counted_by == "6 counted by Ilse Thornby"
    assert [row.code for row in deliveries.deliveries("open")] == ["D-0002", "D-0001"]
    assert yard.is_sound()


def test_the_same_form_sent_twice_opens_one_delivery(yard: Yard, clerk: Clerk) -> None:
    new = NewDelivery("ANSL", pieces="3")
    first = deliveries.start_delivery(new, key="k1", **clerk.who)
    assert deliveries.start_delivery(new, key="k1", **clerk.who) == first
    assert len(deliveries.deliveries()) == 1


def test_a_code_that_an_invoice_has_already_is_passed_over(yard: Yard, clerk: Clerk) -> None:
    yard.sell("D-0001", 1)
    assert clerk.open() == "D-0002"


def test_the_customer_is_taken_from_the_invoice_when_none_is_told(yard: Yard, clerk: Clerk) -> None:
    yard.sell("S1", 2, customer="BROD")
    code = clerk.open("", 2, reference="s1")
    assert clerk.view(code).customer == "BROD"


def test_another_customer_than_the_invoices_is_said_and_not_refused(
    yard: Yard, clerk: Clerk
) -> None:
    yard.sell("S1", 2, customer="BROD")
    page = clerk.view(clerk.open("Ansell Hydraulics", 2, reference="S1"))
    assert page.customer == "ANSL"
    assert page.notes == ("Invoice S1 was sold to BROD; this delivery is Ansell Hydraulics's.",)


@pytest.mark.parametrize(
    ("told", "field", "says"),
    [
        (NewDelivery("", pieces="1"), "customer", "whose cores these are"),
        (NewDelivery("NOBODY", pieces="1"), "customer", "Known: Ansell Hydraulics (ANSL), Bro"),
        (NewDelivery("co", pieces="1"), "customer", "No customer is called 'co'"),
        (NewDelivery("ANSL", pieces="0"), "pieces", "leave it empty to count later"),
        (NewDelivery("COPP", pieces="1"), "customer", "Coppard Brokers is a broker"),
        (NewDelivery("ANSL", pieces="six"), "pieces", "whole number from 1"),
        (NewDelivery("ANSL", pieces="2.5"), "pieces", "cannot be right"),
        (NewDelivery("ANSL", pieces="-3"), "pieces", "cannot be right"),
        (NewDelivery("ANSL", arrived_on="2026-05-21"), "arrived_on", "after today (2026-05-20)"),
        (NewDelivery("ANSL", arrived_on="20.5."), "arrived_on", "write it like 2026-05-20"),
        (NewDelivery("ANSL", goods="pumps"), "goods", "cores, comebacks, mixed"),
        (NewDelivery("ANSL", reference="a\x00b"), "reference", "control sign"),
        (NewDelivery("ANSL", pieces="24"), "second_counter", "counted by two people"),
        (NewDelivery("ANSL", pieces="24", second_counter="ilse thornby"), "second_counter", "else"),
        (
            NewDelivery("ANSL", pieces="24", second_counter="<b>\U0001f600"),
            "second_counter",
            "no name",
        ),
    ],
)
def test_a_field_that_cannot_be_used_is_named(
    yard: Yard, clerk: Clerk, told: NewDelivery, field: str, says: str
) -> None:
    with pytest.raises(InvalidInput) as refused:
        deliveries.start_delivery(told, **clerk.who)
    assert says in refused.value.fields[field]
    assert deliveries.deliveries() == ()


def test_everything_wrong_is_named_at_once(yard: Yard, clerk: Clerk) -> None:
    with pytest.raises(InvalidInput) as refused:
        deliveries.start_delivery(
            NewDelivery("NOBODY", pieces="x", arrived_on="never"), **clerk.who
        )
    assert set(refused.value.fields) == {"customer", "pieces", "arrived_on"}


def test_twenty_three_pieces_are_counted_by_one_person_and_twenty_four_by_two(
    yard: Yard, clerk: Clerk
) -> None:
    code = clerk.open("ANSL", 23)
    with pytest.raises(InvalidInput, match="24 pieces are counted by two people"):
        deliveries.count_delivery(code, 24, **clerk.who)
    deliveries.count_delivery(code, 24, second_counter="the driver", **clerk.who)
    page = clerk.view(code)
    assert page.counted == 24
    assert page.counted_by == "24 counted by Ilse Thornby and the driver; was 23"


def test_a_second_counter_of_the_shop_is_named_as_the_shop_writes_it(
    yard: Yard, clerk: Clerk
) -> None:
    names_people("Bela Quirke")
    page = clerk.view(clerk.open("ANSL", 24, second_counter="bela quirke"))
    assert page.counted_by == "24 counted by Ilse Thornby and Bela Quirke"


def test_a_part_of_a_name_that_one_customer_has_is_taken_and_said(yard: Yard, clerk: Clerk) -> None:
    yard.sell("S1", 1)
    code = clerk.open("hydrau", 1)
    page = clerk.view(code)
    assert (page.customer, page.notes) == (
        "ANSL",
        ("'hydrau' was taken for Ansell Hydraulics (ANSL).",),
    )
    clerk.receive(code)
    assert clerk.view(code).notes == ()


def test_a_part_of_a_name_that_two_have_names_both_and_takes_neither(
    yard: Yard, clerk: Clerk
) -> None:
    add_customer("ANSB", "Ansell Brakes", "customer", by="Ilse Thornby", now=TODAY)
    with pytest.raises(InvalidInput) as refused:
        clerk.open("ansell", 1)
    assert refused.value.fields["customer"] == (
        "'ansell' may be Ansell Brakes (ANSB), Ansell Hydraulics (ANSL); type more of the name, "
        "or the code."
    )


def test_a_delivery_begun_by_mistake_is_given_up_and_may_be_opened_again(
    yard: Yard, clerk: Clerk
) -> None:
    yard.sell("S1", 1)
    code = clerk.open("ANSL", 1)
    assert clerk.view(code).may_give_up
    clerk.take(code)
    assert not clerk.view(code).may_give_up
    with pytest.raises(NotAllowed, match="Ilse Thornby has a core"):
        deliveries.give_up_delivery(code, **clerk.who)
    core_in_hand.drop(code, **clerk.who)
    deliveries.give_up_delivery(code, key="k1", **clerk.who)
    deliveries.give_up_delivery(code, key="k1", **clerk.who)
    page = clerk.view(code)
    assert (page.status, page.may_give_up) == ("given up", False)
    assert deliveries.deliveries() == ()
    with pytest.raises(NotAllowed, match="is given up; reopen it first"):
        deliveries.count_delivery(code, "1", **clerk.who)
    deliveries.reopen(code, **clerk.who)
    clerk.receive(code)
    with pytest.raises(NotAllowed, match="1 core of delivery D-0001 came in"):
        deliveries.give_up_delivery(code, **clerk.who)
    assert yard.is_sound()


def test_nothing_is_judged_before_the_pieces_are_counted(yard: Yard, clerk: Clerk) -> None:
    yard.sell("S1", 1)
    code = clerk.open("ANSL", "")
    shown = clerk.take(code)
    assert [need.field for need in shown.needs] == ["count"]
    with pytest.raises(NotAllowed, match="Count the pieces first"):
        clerk.store(code)
    deliveries.count_delivery(code, "1", **clerk.who)
    assert clerk.store(code).word == "ACCEPTED"


def test_a_delivery_closes_when_counted_and_stored_agree(yard: Yard, clerk: Clerk) -> None:
    yard.sell("S1", 1)
    code = clerk.open("ANSL", 1)
    clerk.receive(code)
    assert deliveries.close_delivery(code, **clerk.who) == "closed"
    assert clerk.view(code).status == "closed"
    with pytest.raises(NotAllowed, match="is not open"):
        clerk.take(code)
    deliveries.reopen(code, **clerk.who)
    deliveries.count_delivery(code, 2, **clerk.who)
    assert clerk.receive(code, serial="B2").word == "EXCESS"
    assert yard.is_sound()


def test_a_difference_needs_a_name_and_a_note_and_is_settled_later(
    yard: Yard, clerk: Clerk
) -> None:
    names_people("Ilse Thornby", "Bela Quirke")
    code = clerk.open("ANSL", 6)
    with pytest.raises(InvalidInput) as refused:
        deliveries.close_delivery(code, difference_by="Somebody Else", **clerk.who)
    assert set(refused.value.fields) == {"difference_by", "note"}
    assert "6 counted and 0 stored" in refused.value.message
    told: dict[str, Any] = {"difference_by": "bela quirke", "note": "box torn"}
    assert deliveries.close_delivery(code, **told, **clerk.who) == "difference"
    page = clerk.view(code)
    assert (page.status, page.difference_by, page.note) == ("difference", "Bela Quirke", "box torn")
    with pytest.raises(InvalidInput, match="how the difference was cleared up"):
        deliveries.settle_difference(code, " ", **clerk.who)
    deliveries.settle_difference(code, "customer found them", **clerk.who)
    page = clerk.view(code)
    assert (page.status, page.note) == ("closed", "box torn; customer found them")
    with pytest.raises(NotAllowed, match="no difference to settle"):
        deliveries.settle_difference(code, "again", **clerk.who)
    assert yard.is_sound()


def test_a_delivery_stays_open_while_somebody_has_one_of_its_cores_in_hand(
    yard: Yard, clerk: Clerk
) -> None:
    code = clerk.open("ANSL", 1)
    other = Clerk("Bela Quirke", "dock 2")
    other.take(code)
    with pytest.raises(NotAllowed, match=f"Bela Quirke has a core of {code} in hand"):
        deliveries.close_delivery(code, **clerk.who)
    assert [(who.person, who.number) for who in clerk.view(code).at_work] == [
        ("Bela Quirke", "GP-1040")
    ]


def test_a_set_of_six_with_five_back_and_one_of_a_wrong_family(yard: Yard, clerk: Clerk) -> None:
    yard.sell("S1", 6)
    code = clerk.open("ANSL", 6, reference="S1")
    for number in ("GP-1040", "gp 1040", "GP-1044", "00731", "GP-1040"):
        assert clerk.receive(code, number).word == "ACCEPTED"
    shown = clerk.take(code, "CB-77")
    assert (shown.outcome, shown.line, shown.credit) == ("excess", None, 0)
    assert "owes no core of group CLB-A (All of them)" in shown.sentence
    assert "bought at a stated price" in shown.sentence
    assert [(owed.core_group, owed.numbers, owed.owed) for owed in shown.owed_instead] == [
        ("GPB-A", ("GP-1040",), 1)
    ]
    assert clerk.store(code).word == "EXCESS"
    line, page = yard.line("S1/1"), clerk.view(code)
    assert (line.credited, line.credited_money) == (5, 5 * money("20.00"))
    assert (page.taken, page.left, page.credited) == (6, 0, 5 * money("20.00"))
    assert [(total.word, total.cores) for total in page.totals] == [("ACCEPTED", 5), ("EXCESS", 1)]
    assert deliveries.close_delivery(code, **clerk.who) == "closed"
    assert [(line.key, line.owed) for line in clerk.view(code).owed] == [("S1/1", 1)]
    assert yard.is_sound()


def test_more_cores_than_counted_are_said(yard: Yard, clerk: Clerk) -> None:
    yard.sell("S1", 2)
    code = clerk.open("ANSL", 1)
    clerk.receive(code)
    clerk.receive(code)
    page = clerk.view(code)
    assert page.left == -1
    assert page.notes == ("1 core is stored beyond the count of 1: count again.",)
    with pytest.raises(InvalidInput, match="1 counted and 2 stored"):
        deliveries.close_delivery(code, **clerk.who)


def test_the_day_the_carrier_came_decides_the_window(yard: Yard, clerk: Clerk) -> None:
    yard.sell("S1", 2, day="2026-04-19")
    in_time = clerk.open("ANSL", 1, arrived_on="2026-05-19")
    assert clerk.take(in_time).outcome == "accept"
    late = clerk.open("ANSL", 1, arrived_on="2026-05-20")
    shown = clerk.take(late)
    assert shown.line is not None
    assert (shown.line.late, shown.line.due_on) == (True, "2026-05-19")
    assert shown.outcome == "accept"
    assert "1 day after the window" in shown.arithmetic[-1].text


def test_a_lot_that_was_bought_is_no_delivery(yard: Yard, clerk: Clerk) -> None:
    yard.buy("A1")
    with pytest.raises(NotFound, match="There is no delivery 'L1'"):
        clerk.view("L1")


def test_a_delivery_in_by_file_is_shown_and_takes_no_more(yard: Yard, clerk: Clerk) -> None:
    yard.sell("S1", 2)
    yard.bring_back("A1", delivery="P/1")
    page = clerk.view("P/1")
    assert (page.status, page.barcode, [core.serial for core in page.cores]) == ("", "", ["A1"])
    with pytest.raises(NotAllowed, match="is not open"):
        clerk.take("P/1")
    with pytest.raises(NotAllowed, match="in by file"):
        deliveries.count_delivery("P/1", 1, **clerk.who)


def test_the_shops_own_day_counts_for_a_delivery(yard: Yard) -> None:
    late_evening = Clerk(start=TODAY + timedelta(hours=13))
    page = late_evening.view(late_evening.open())
    assert page.received_on == "2026-05-20"
