"""Purchased lots: what each piece costs, unknown pieces, and rows that come too late."""

from __future__ import annotations

from decimal import Decimal

import pytest
from core_yard import Yard, csv_bytes, money, why
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from coretrack.errors import InvalidInput
from coretrack.figures.tags import show_tag


def prices(yard: Yard, lot: str = "L1") -> list[int]:
    return [core.price for core in yard.cores() if core.lot == lot]


def total(yard: Yard, part: str, lot: str) -> int:
    return sum(getattr(core, part) for core in yard.cores() if core.lot == lot)


def test_bought_by_the_piece_each_row_may_have_its_own_price(yard: Yard) -> None:
    content = csv_bytes("number,serial,price each", [
        ("GP-1040", "A1", "9.50"), ("GP-2080", "A2", ""), ("CB-77", "A3", "0"),
    ])  # fmt: skip
    answer = yard.take_in(content, source="COPP", lot="L1", received="2026-05-06", price="7")
    assert answer.stored == 3
    assert prices(yard) == [money("9.50"), money("7.00"), 0]
    assert yard.lot("L1").price_total == money("16.50")
    assert [core.state for core in yard.cores()] == ["waiting"] * 3
    assert [core.acceptance for core in yard.cores()] == ["bought"] * 3


def test_a_lump_sum_of_a_hundred_in_three_pieces_adds_up(yard: Yard) -> None:
    yard.buy("A1", "A2", "A3", basis="lump", price="100.00", freight="0.10")
    assert sorted(prices(yard)) == [money("33.33"), money("33.33"), money("33.34")]
    assert total(yard, "freight", "L1") == money("0.10")
    assert yard.lot("L1").price_total == money("100.00")


def test_a_lot_by_weight_is_spread_by_mass_known_or_usual(yard: Yard) -> None:
    content = csv_bytes("number,serial,mass kg", [("GP-1040", "A1", "1.300"), ("CB-77", "A2", "")])
    yard.take_in(content, source="COPP", lot="L1", basis="weight", price="2.00", freight="5")
    # 1.3 kg weighed and 3 kg usual for the family: 4.3 kg at 2.00
    assert prices(yard) == [money("2.60"), money("6.00")]
    assert yard.lot("L1").price_total == money("8.60")
    assert yard.lot("L1").mass_g == 4300


def test_a_weigh_ticket_goes_before_the_pieces_own_masses(yard: Yard) -> None:
    yard.buy("A1", "A2", basis="weight", price="2.00", mass="3.1")
    assert prices(yard) == [money("3.10"), money("3.10")]


def test_a_mass_in_another_unit_is_converted_and_a_slip_is_asked_back(yard: Yard) -> None:
    content = csv_bytes("number,serial,mass (g)", [
        ("GP-1040", "A1", "1250"), ("GP-1040", "A2", "0.2"), ("GP-1040", "A3", "3000000"),
    ])  # fmt: skip
    answer = yard.take_in(content, source="COPP", lot="L1", basis="weight", price="2.00")
    assert answer.stored == 1
    assert prices(yard) == [money("2.50")]
    assert {r.why for r in answer.rejected} == {
        "a core's mass lies between 1 gram and 2000 kilograms"
    }


def test_a_weight_lot_needs_a_price_and_a_mass_for_unknown_pieces(yard: Yard) -> None:
    with pytest.raises(InvalidInput, match="A lot bought by weight needs --price"):
        yard.buy("A1", basis="weight", price="")
    assert yard.cores() == []
    answer = yard.buy("A1", number="ZZ-1", basis="weight", price="2.00")
    assert why(answer) == "the lot is bought by weight and this piece has no known mass"
    with pytest.raises(InvalidInput, match="must be more than 0"):
        yard.buy("A1", basis="weight", price="2.00", mass="0")


def test_a_price_in_a_row_of_a_lump_lot_is_asked_back(yard: Yard) -> None:
    content = csv_bytes("number,serial,price", [("GP-1040", "A1", "9.50")])
    answer = yard.take_in(content, source="COPP", lot="L1", basis="lump", price="50")
    assert "a price in a row has no meaning there" in why(answer)
    without = yard.buy("B1", lot="L2", price="")
    assert "no price: give one in this row or with --price" in why(without)


def test_unknown_numbers_become_unknown_cores_that_carry_their_cost(yard: Yard) -> None:
    content = csv_bytes("number,serial", [("GP-1040", "A1"), ("ZZ-1", "A2"), ("", "A3")])
    answer = yard.take_in(content, source="COPP", lot="L1", basis="lump", price="90")
    assert answer.stored == 3
    assert prices(yard) == [money("30")] * 3
    assert [core.state for core in yard.cores()] == ["waiting", "unknown", "unknown"]
    graded = yard.measure("A2")
    assert {r.why for r in graded.rejected} == {
        f"Core {show_tag(yard.core('A2').tag)} is of an unknown family; identify it before it is "
        "inspected."
    }
    assert yard.tally("family") == {"GPB": {"received": 1}}


def test_a_row_may_stand_for_several_pieces(yard: Yard) -> None:
    content = csv_bytes("number,quantity", [("GP-1040", "5"), ("CB-77", "2")])
    answer = yard.take_in(content, source="COPP", lot="L1", price="4.00", freight="1.00")
    assert answer.stored == 2
    assert [len(item["tags"]) for item in answer.items] == [5, 2]
    assert len(prices(yard)) == yard.lot("L1").pieces == 7
    assert total(yard, "freight", "L1") == money("1.00")


@pytest.mark.parametrize(
    ("row", "said"),
    [
        (("GP-1040", "A1", "2", ""), "a row with a serial is one piece"),
        (("GP-1040", "", "0", ""), "use 1 to 2000 pieces a row"),
        (("GP-1040", "", "2001", ""), "use 1 to 2000 pieces a row"),
        (("GP-1040", "", "1.5", ""), "a whole number such as 3 belongs here"),
        (("GP-1040", "", "20", "24.5"), "looks like the mass of all 20 pieces"),
    ],
)
def test_a_quantity_row_that_cannot_be_meant_is_asked_back(
    yard: Yard, row: tuple[str, ...], said: str
) -> None:
    content = csv_bytes("number,serial,quantity,mass", [row])
    answer = yard.take_in(content, source="COPP", lot="L1", price="4.00")
    assert said in why(answer)
    assert yard.cores() == []


def test_the_same_lot_again_changes_nothing(yard: Yard) -> None:
    yard.buy("A1", "A2")
    lot = yard.history("lot", "L1")
    assert yard.buy("A1", "A2").already == 2
    reordered = csv_bytes("SERIAL,Number,note", [("A1", "GP-1040", ""), ("A2", "GP-1040", "")])
    again = yard.take_in(reordered, source="copp", lot="L1", received="2026-05-06", price="10")
    assert (again.stored, again.already, again.rejected) == (0, 2, ())
    assert yard.history("lot", "L1") == lot
    assert len(yard.cores()) == 2


def test_a_late_row_is_refused_with_what_to_do(yard: Yard) -> None:
    yard.buy("A1", "A2")
    late = yard.buy("A1", "A2", "A3")
    assert (late.stored, late.already) == (0, 2)
    assert why(late) == (
        "Lot L1 is received already; give late pieces a lot code of their own (--lot)."
    )
    assert yard.buy("A3", lot="L1-late").stored == 1


def test_rejected_rows_of_a_lot_are_said_to_stay_outside_its_money(yard: Yard) -> None:
    answer = yard.buy("A1", "A1", "A2", price="45", freight="10")
    assert answer.stored == 2
    assert prices(yard) == [money("45"), money("45")]
    assert [core.freight for core in yard.cores()] == [money("5"), money("5")]
    assert any("rejected rows can only come in later" in note for note in answer.notes)


def test_one_file_of_several_lots_takes_prices_by_the_piece_only(yard: Yard) -> None:
    content = csv_bytes("lot,number,serial", [("L1", "GP-1040", "A1"), ("L2", "GP-1040", "A2")])
    for terms in ({"basis": "lump"}, {"freight": "5"}, {"basis": "weight", "mass": "3"}):
        with pytest.raises(InvalidInput, match="holds the lots L1, L2, but one price, freight"):
            yard.take_in(content, source="COPP", price="9", **terms)
    assert yard.cores() == []
    assert yard.take_in(content, source="COPP", price="9").stored == 2
    assert (yard.lot("L1").pieces, yard.lot("L2").price_total) == (1, money("9"))


def test_a_row_of_another_lot_than_the_one_told_is_asked_back(yard: Yard) -> None:
    content = csv_bytes("lot,number,serial", [("L2", "GP-1040", "A1")])
    answer = yard.take_in(content, source="COPP", lot="L1", price="9")
    assert why(answer) == "this row is of another lot than L1 (--lot)"


def test_one_lot_comes_in_on_one_day_and_a_bad_row_does_not_set_it(yard: Yard) -> None:
    content = csv_bytes("number,serial,received,price", [
        ("GP-1040", "A1", "2026-05-01", "-3"),
        ("GP-1040", "A2", "2026-05-06", "9"),
        ("GP-1040", "A3", "2026-05-07", "9"),
    ])  # fmt: skip
    answer = yard.take_in(content, source="COPP", lot="L1")
    assert [r.row for r in answer.rejected] == [2, 4]
    assert "the other pieces of lot L1 came on 2026-05-06" in answer.rejected[1].why
    assert yard.lot("L1").received_on == "2026-05-06"


def test_families_may_be_mixed_and_are_rolled_up_apart(yard: Yard) -> None:
    content = csv_bytes("number,serial", [("GP-1040", "A1"), ("CB-77", "A2"), ("CB-77", "A3")])
    yard.take_in(content, source="COPP", lot="L1", price="9")
    assert yard.tally("lot", "GPB")["L1"] == {"received": 1}
    assert yard.tally("lot", "CLB")["L1"] == {"received": 2}


def test_what_the_sender_measured_is_kept_and_never_used(yard: Yard) -> None:
    content = csv_bytes("number,serial,gear bore (mm)", [("GP-1040", "A1", "24,012")])
    answer = yard.take_in(content, source="COPP", lot="L1", price="9")
    assert any("kept as stated by the sender" in note for note in answer.notes)
    received = yard.history("core", yard.core("A1").tag)[0][1]
    assert received["stated"] == [
        {
            "name": "gear bore",
            "typed": "24,012",
            "value": "24.012",
            "unit": "mm",
            "millimetres": "24.012",
        }
    ]
    assert yard.core("A1").findings == ()


def test_tags_are_given_in_a_row_without_gaps_also_after_rejected_rows(yard: Yard) -> None:
    yard.buy("A1", "A2", "A1")
    yard.buy("B1", lot="L2")
    assert [int(core.tag[1:-2]) for core in yard.cores()] == [1, 2, 3]
    assert {core.tag[0] for core in yard.cores()} == {"2"}


amounts = st.decimals(Decimal("0"), Decimal("99999"), places=2)
pieces = st.lists(
    st.tuples(
        st.sampled_from(["GP-1040", "GP-2080", "CB-77", "ZZ-9"]),
        st.integers(1, 4),
        st.one_of(st.none(), st.decimals(Decimal("0.001"), Decimal("2000"), places=3)),
        st.one_of(st.none(), amounts),
    ),
    min_size=1,
    max_size=12,
)


@settings(
    max_examples=40,
    deadline=None,
    suppress_health_check=[HealthCheck.function_scoped_fixture],
)
@given(
    rows=pieces,
    basis=st.sampled_from(["piece", "weight", "lump"]),
    price=amounts,
    freight=amounts,
    ticket=st.one_of(st.none(), st.decimals(Decimal("0.1"), Decimal("9999"), places=1)),
    number=st.integers(0, 10**9),
)
def test_what_the_pieces_cost_adds_up_to_the_lot_exactly(
    yard: Yard,
    rows: list[tuple[str, int, Decimal | None, Decimal | None]],
    basis: str,
    price: Decimal,
    freight: Decimal,
    ticket: Decimal | None,
    number: int,
) -> None:
    lot = f"H{number}-{yard.tags_given()}"
    content = csv_bytes("number,quantity,mass,price each", [
        (name, count, mass, each if basis == "piece" else None)
        for name, count, mass, each in rows
    ])  # fmt: skip
    terms = {"mass": str(ticket)} if ticket is not None and basis == "weight" else {}
    answer = yard.take_in(
        content,
        source="COPP",
        lot=lot,
        basis=basis,
        price=str(price),
        freight=str(freight),
        **terms,
    )
    assert answer.stored + answer.already + len(answer.rejected) == len(rows)
    if not answer.stored:
        return
    stored = yard.lot(lot)
    assert total(yard, "price", lot) == stored.price_total
    assert total(yard, "freight", lot) == stored.freight == money(str(freight))
    if basis == "lump":
        assert stored.price_total == money(str(price))
    assert stored.pieces == sum(1 for core in yard.cores() if core.lot == lot)
