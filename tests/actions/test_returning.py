"""Returns: which line a core answers, what is credited, and what never earns a credit."""

from __future__ import annotations

from datetime import date, timedelta
from decimal import Decimal

import pytest
from core_yard import FOLDER, Yard, csv_bytes, money, why
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from coretrack.actions.setting_up import import_family
from coretrack.errors import InvalidInput, NotFound
from coretrack.figures.tags import show_tag


def outcomes(answer: object) -> list[str]:
    return [item["outcome"] for item in answer.items]  # type: ignore[attr-defined]


def test_six_sold_and_five_back_leave_one_owed(yard: Yard) -> None:
    yard.sell("S1", 6)
    answer = yard.bring_back("A1", "A2", "A3", "A4", "A5")
    assert outcomes(answer) == ["accept"] * 5
    line = yard.line("S1/1")
    assert (line.credited, line.quantity - line.credited) == (5, 1)
    assert line.credited_money == 5 * money("20.00")
    assert sum(core.credit for core in yard.cores()) == line.credited_money
    assert yard.is_sound()


def test_one_of_six_from_another_group_is_excess_and_the_line_stays_open(yard: Yard) -> None:
    yard.sell("S1", 6)
    yard.bring_back("A1", "A2", "A3", "A4", "A5")
    answer = yard.bring_back("A6", number="GP-2080")
    assert outcomes(answer) == ["excess"]
    assert "ANSL owes no core of group GPB-B" in answer.items[0]["why"]
    assert (yard.line("S1/1").credited, yard.core("A6").state) == (5, "excess")
    assert yard.core("A6").credit == 0


def test_a_core_of_another_group_answers_another_line_of_the_customer(yard: Yard) -> None:
    yard.sell("S1", 6)
    yard.sell("S2", 1, number="GP-2080")
    answer = yard.bring_back("A6", number="GP-2080", invoice="S1")
    assert answer.items[0]["line"] == "S2/1"
    assert any("credited on line S2/1 instead" in note for note in answer.notes)


def test_more_cores_than_sold_are_excess(yard: Yard) -> None:
    yard.sell("S1", 2)
    assert outcomes(yard.bring_back("A1", "A2", "A3")) == ["accept", "accept", "excess"]
    assert outcomes(yard.bring_back("A4")) == ["excess"]
    assert yard.line("S1/1").credited == 2


def test_another_customers_line_is_not_used_up(yard: Yard) -> None:
    yard.sell("S1", 1, customer="BROD")
    answer = yard.bring_back("A1", invoice="S1")
    assert outcomes(answer) == ["excess"]
    assert yard.line("S1/1").credited == 0


def test_the_same_serial_twice_in_a_file_is_taken_once(yard: Yard) -> None:
    yard.sell("S1", 2)
    answer = yard.bring_back("A1", "A1")
    assert answer.stored == 1
    assert why(answer) == "Serial A1 stands twice in this file; one core earns one credit."
    assert answer.rejected[0].column == "serial"
    assert yard.line("S1/1").credited == 1


@pytest.mark.parametrize("spelled", ["A1", "A1\u200b", " A1 "])
def test_the_same_serial_in_a_second_file_stops(yard: Yard, spelled: str) -> None:
    yard.sell("S1", 2)
    yard.bring_back("A1")
    again = yard.bring_back(spelled, day="2026-05-21")
    assert again.stored == 0
    assert f"came in before as core {show_tag(yard.core('A1').tag)} on 2026-05-20" in why(again)
    assert yard.line("S1/1").credited == 1


def test_a_serial_that_differs_by_capitals_is_another_body_and_a_note_says_so(yard: Yard) -> None:
    yard.sell("S1", 3)
    assert yard.bring_back("aB12c", "Ab12C").stored == 2
    answer = yard.bring_back("AB12C", day="2026-05-21")
    assert answer.stored == 1
    assert yard.bring_back("ab12c", day="2026-05-22").stored == 1
    assert {core.serial for core in yard.cores()} == {"aB12c", "Ab12C", "AB12C", "ab12c"}
    swapped = yard.bring_back("aB12c".swapcase(), day="2026-05-23")
    assert "came in before" in why(swapped)
    notes = " ".join(yard.bring_back("x9Z", "X9z", day="2026-05-24").notes)
    assert "X9z differs only by capitals from x9Z; taken as another body" in notes


def test_a_rejected_row_does_not_use_up_its_serial(yard: Yard) -> None:
    yard.sell("S1", 2)
    content = csv_bytes("received,customer,number,serial,faults", [
        ("2026-05-20", "ANSL", "GP-1040", "A1", "dented"),
        ("2026-05-20", "ANSL", "GP-1040", "A1", ""),
    ])  # fmt: skip
    answer = yard.take_in(content)
    assert (answer.stored, answer.rejected[0].row) == (1, 2)
    assert "it had: cracked, port, plug, older, scuff, box" in why(answer)


def test_a_comeback_under_warranty_never_earns_a_credit(yard: Yard) -> None:
    yard.sell("S1", 1)
    answer = yard.bring_back("A1", comeback="yes")
    assert outcomes(answer) == ["comeback"]
    core = yard.core("A1")
    assert (core.stream, core.state, core.source, core.credit) == ("comeback", "comeback", "OWN", 0)
    assert yard.line("S1/1").credited == 0


def test_cores_from_the_own_bay_are_comebacks_without_a_tick(yard: Yard) -> None:
    yard.sell("S1", 1, customer="OWN")
    assert outcomes(yard.bring_back("A1", customer="OWN")) == ["comeback"]


def test_an_unknown_number_is_received_but_not_credited_and_keeps_what_was_seen(
    yard: Yard,
) -> None:
    yard.sell("S1", 1)
    answer = yard.bring_back("A1", number="ZZ-9", faults="port")
    assert (answer.stored, outcomes(answer)) == (1, ["unknown"])
    core = yard.core("A1")
    assert (core.state, core.family, core.number, core.acceptance, core.credit) == (
        "unknown", "", "ZZ-9", "", 0,
    )  # fmt: skip
    assert core.receive == money("1.30")
    assert yard.history("core", core.tag)[0][1]["faults_seen"] == ["port"]


@pytest.mark.parametrize("number", ["GP-1044", "gp1044", "00731", "GP-1040"])
def test_any_number_of_the_group_answers_the_sale(yard: Yard, number: str) -> None:
    yard.sell("S1", 1, number="GP-1040")
    assert outcomes(yard.bring_back("A1", number=number)) == ["accept"]


def test_on_its_invoice_the_very_number_sold_goes_first(yard: Yard) -> None:
    content = csv_bytes("invoice,date,customer,number,quantity", [
        ("S1", "2026-05-04", "ANSL", "GP-1040", 1),
        ("S1", "2026-05-04", "ANSL", "GP-1044", 1),
    ])  # fmt: skip
    yard.sell_file(content)
    answer = yard.bring_back("A1", number="GP-1044", invoice="S1")
    assert answer.items[0]["line"] == "S1/2"


def test_without_an_invoice_the_oldest_open_line_goes_first(yard: Yard) -> None:
    yard.sell("S2", 1, day="2026-05-08")
    yard.sell("S1", 1, day="2026-05-11")
    lines = [yard.bring_back(serial).items[0]["line"] for serial in ("A1", "A2")]
    assert lines == ["S2/1", "S1/1"]


def test_an_invoice_is_found_whatever_its_capitals(yard: Yard) -> None:
    yard.sell("K2", 1, day="2026-05-08")
    yard.sell("INV-7b", 1, day="2026-05-11")
    assert yard.bring_back("A1", invoice="inv-7B").items[0]["line"] == "INV-7b/1"


def test_a_core_received_before_the_sale_is_not_credited_on_it(yard: Yard) -> None:
    yard.sell("S1", 1, day="2026-05-21")
    assert outcomes(yard.bring_back("A1", day="2026-05-20")) == ["excess"]


@pytest.mark.parametrize(
    ("arrived", "credit", "outcome"),
    [
        ("2026-06-03", "20.00", "accept"),
        ("2026-06-04", "20.00", "accept"),
        ("2026-06-10", "15.00", "part credit"),
        ("2026-06-16", "15.00", "part credit"),
        ("2026-06-30", "5.00", "part credit"),
        ("2026-07-01", "0.00", "refuse"),
    ],
)
def test_the_window_runs_to_the_day_of_arrival_and_then_slides(
    yard: Yard, arrived: str, credit: str, outcome: str
) -> None:
    yard.sell("S1", 1)  # 4 May; 30 days run to 3 June, each full week after it takes 25 %
    answer = yard.bring_back("A1", day="2026-07-10", carrier_date=arrived)
    assert (answer.items[0]["credit"], outcomes(answer)) == (credit, [outcome])


def test_one_day_after_a_window_without_slide_leaves_nothing(yard: Yard) -> None:
    from coretrack.records.writer import writing

    with writing("owner", yard.now) as writer:
        writer.event("shop", "shop", "set", {"after": "nothing"})
    yard.sell("S1", 2)
    assert outcomes(yard.bring_back("A1", day="2026-06-03")) == ["accept"]
    late = yard.bring_back("A2", day="2026-06-04")
    assert outcomes(late) == ["refuse"]
    assert "Arrived 1 day after the window of 30 days" in late.items[0]["why"]


def test_a_core_cannot_arrive_after_it_was_received(yard: Yard) -> None:
    yard.sell("S1", 1)
    answer = yard.bring_back("A1", day="2026-05-20", carrier_date="2026-05-21")
    assert why(answer) == "it cannot have arrived after it was received (2026-05-20)"


@pytest.mark.parametrize(
    ("faults", "credit", "outcome"),
    [
        ("", "20.00", "accept"),
        ("port", "15.00", "part credit"),
        ("plug", "16.50", "part credit"),
        ("port; plug", "11.50", "part credit"),
        ("Port thread damaged;PORT", "15.00", "part credit"),
        ("older", "12.00", "part credit"),
        ("older; plug", "12.00", "part credit"),
        ("older; port; plug", "11.50", "part credit"),
        ("scuff", "20.00", "accept"),
        ("box", "20.00", "accept"),
        ("cracked", "0.00", "refuse"),
        ("cracked; port", "0.00", "refuse"),
    ],
)
def test_every_kind_of_deduction_and_its_arithmetic(
    yard: Yard, faults: str, credit: str, outcome: str
) -> None:
    yard.sell("S1", 1)
    answer = yard.bring_back("A1", faults=faults)
    assert (answer.items[0]["credit"], outcomes(answer)) == (credit, [outcome])
    core = yard.core("A1")
    assert (core.credit, core.acceptance) == (money(credit), outcome)
    accepted = dict(yard.history("core", core.tag))["accepted"]
    assert sum(amount for _, amount in accepted["arithmetic"]) == money(credit)


def test_a_refused_core_waits_in_the_hold_bin_and_is_still_owed(yard: Yard) -> None:
    yard.sell("S1", 1)
    yard.bring_back("A1", faults="cracked")
    line = yard.line("S1/1")
    assert (yard.core("A1").state, line.credited, line.refused) == ("hold", 0, 1)
    assert outcomes(yard.bring_back("A2")) == ["accept"]
    assert yard.tally("family")["GPB"] == {"received": 1, "refused": 1}


def test_the_faults_of_the_sale_count_after_the_familys_faults_changed(yard: Yard) -> None:
    yard.sell("S1", 1)
    text = (FOLDER / "families" / "GPB.toml").read_text(encoding="utf-8")
    changed = text.replace('code = "port"', 'code = "gone"').replace(
        'value = "3.50"', 'value = "9"'
    )
    changes = import_family("GPB.toml", changed.encode(), by="owner", now=yard.now)
    assert "criteria GPB/2" in changes
    answer = yard.bring_back("A1", faults="port; plug")
    assert answer.items[0]["credit"] == "11.50"
    yard.sell("S2", 1, day="2026-10-31")
    newer = yard.bring_back("A2", faults="plug", day="2026-11-02")
    assert newer.items[0]["credit"] == "15.00"


def test_a_later_charge_does_not_change_what_is_owed_for_an_earlier_sale(yard: Yard) -> None:
    yard.sell("S1", 1, day="2026-06-30")
    assert yard.bring_back("A1", day="2026-07-15").items[0]["credit"] == "20.00"


def test_a_delivery_counts_its_pieces_over_several_files(yard: Yard) -> None:
    yard.sell("S1", 3)
    yard.bring_back("A1", "A2", delivery="D7")
    yard.bring_back("A3", delivery="D7")
    lot = yard.lot("D7")
    assert (lot.kind, lot.source, lot.pieces) == ("return", "ANSL", 3)


def test_a_delivery_of_somebody_else_is_not_added_to(yard: Yard) -> None:
    yard.bring_back("A1", delivery="D7")
    answer = yard.bring_back("B1", customer="BROD", delivery="D7")
    assert why(answer) == "this code is a return of ANSL already"
    assert len(yard.cores()) == 1


def test_cores_without_serials_come_in_once_however_the_customer_is_named(yard: Yard) -> None:
    content = csv_bytes("number,received", [("GP-1040", "2026-05-20")] * 3)
    assert yard.take_in(content, source="ANSL").stored == 3
    for told in ("ansl", "Ansell Hydraulics"):
        again = yard.take_in(content.replace(b"received", b"Received"), source=told)
        assert (again.stored, again.already) == (0, 3)
    with_column = csv_bytes("customer,number,received", [("ANSL", "GP-1040", "2026-05-20")] * 3)
    assert yard.take_in(with_column).already == 3
    assert len(yard.cores()) == 3


def test_equal_looking_cores_of_a_second_delivery_come_in_under_its_code(yard: Yard) -> None:
    content = csv_bytes("number,received", [("GP-1040", "2026-05-20")] * 3)
    yard.take_in(content, source="ANSL")
    again = yard.take_in(content, source="ANSL")
    assert any("give their delivery a code of its own" in note for note in again.notes)
    assert yard.take_in(content, source="ANSL", lot="D-afternoon").stored == 3


def test_a_return_without_a_customer_says_how_to_name_one(yard: Yard) -> None:
    answer = yard.take_in(csv_bytes("number,serial", [("GP-1040", "A1")]))
    assert why(answer) == "no customer: give a column or say --source"


def test_a_price_told_for_a_customers_cores_is_refused_and_not_dropped(yard: Yard) -> None:
    content = csv_bytes("number,serial", [("GP-1040", "A1")])
    with pytest.raises(InvalidInput, match="ANSL is a customer, so these cores are returns"):
        yard.take_in(content, source="ANSL", price="5.00")
    with pytest.raises(NotFound, match="known: ANSL, BROD, COPP, DELL, OWN"):
        yard.take_in(content, source="ANSEL")


def test_the_mass_of_a_returned_core_is_kept_in_grams_whatever_its_unit(yard: Yard) -> None:
    content = csv_bytes("customer,number,serial,weight (lb)", [("ANSL", "GP-1040", "A1", "2.5")])
    yard.take_in(content)
    received = yard.history("core", yard.core("A1").tag)[0][1]
    assert received["mass_g"] == 1134  # 2.5 lb of 453.59237 g, rounded


def test_a_kept_body_that_comes_back_is_a_new_life_of_it(yard: Yard) -> None:
    yard.sell("S1", 1)
    yard.bring_back("A1")
    yard.measure("A1")
    first = yard.core("A1")
    assert first.state == "good"
    yard.sell("S2", 1, day="2026-06-01")
    assert outcomes(yard.bring_back("A1", day="2026-06-20")) == ["accept"]
    second = yard.core("A1")
    assert second.tag != first.tag
    assert yard.history("core", second.tag)[0][1]["earlier"] == [first.tag]


def test_a_scrapped_body_that_comes_back_stops(yard: Yard) -> None:
    yard.sell("S1", 2)
    yard.bring_back("A1")
    yard.measure("A1", crack="indication 4 mm at the port")
    assert "now: scrapped" in why(yard.bring_back("A1", day="2026-06-20"))


@settings(
    max_examples=30,
    deadline=None,
    suppress_health_check=[HealthCheck.function_scoped_fixture],
)
@given(
    late=st.integers(0, 120),
    charge=st.decimals(Decimal("0"), Decimal("400"), places=2),
    faults=st.sets(st.sampled_from(["port", "plug", "older", "scuff", "box"])),
    number=st.integers(0, 10**9),
)
def test_stored_arithmetic_adds_up_to_the_stored_credit(
    yard: Yard, late: int, charge: Decimal, faults: set[str], number: int
) -> None:
    invoice, serial = f"H{number}", f"h{number}"
    yard.sell(invoice, 1, charge=str(charge), day="2026-01-05")
    arrived = date(2026, 1, 5) + timedelta(days=late)
    answer = yard.bring_back(
        serial, invoice=invoice, faults=";".join(sorted(faults)), day=arrived.isoformat()
    )
    if answer.stored:
        core = yard.core(serial)
        accepted = dict(yard.history("core", core.tag))["accepted"]
        total = sum(amount for _, amount in accepted["arithmetic"])
        assert total == core.credit
        assert 0 <= core.credit <= from_line(yard, accepted["line"])


def from_line(yard: Yard, key: str) -> int:
    return int(yard.line(key).charge)
