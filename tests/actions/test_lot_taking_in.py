"""A sorted lot comes into the books: its cores, their cost, what the paper said, at once or not."""

from __future__ import annotations

import threading
from collections.abc import Callable
from functools import partial

import pytest
from core_yard import Yard, csv_bytes, money, why
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from lot_desk import Sorting

from coretrack.actions import lot_beginning, lot_estimates, lot_sorting, lot_taking_in
from coretrack.actions.lot_estimates import Weighing
from coretrack.actions.lot_views import lots_view
from coretrack.errors import Conflict, CoretrackError, InvalidInput, NotAllowed, NotFound
from coretrack.figures.tags import make_shop_code
from coretrack.records import database
from coretrack.records.database import connection


@pytest.fixture
def lots(yard: Yard) -> Sorting:
    return Sorting(yard)


def numbers(lots: Sorting) -> list[str]:
    """Return the numbers of all cores in the order of their tags."""
    return [core.number for core in lots.yard.cores()]


def test_taken_in_the_pieces_are_cores_in_sorted_order_and_cost_what_was_agreed(
    lots: Sorting,
) -> None:
    code = lots.begin(basis="lump", price="100.00", freight="0.10")
    lots.scan(code, "GP-1040", "CB-77")
    lots.choose(code, "ZZ-9", "unknown core")
    lots.scan(code, "GP-1040")
    shown = lots.view(code)
    assert (shown.price, shown.total) == (money("100"), money("100.10"))
    assert [row.cost for row in shown.rows] == ["25.03", "25.02", "25.02"]
    assert lots.take_in(code) == 4
    assert numbers(lots) == ["GP-1040", "GP-1040", "CB-77", "ZZ-9"]
    cores = lots.yard.cores()
    assert [core.state for core in cores] == ["waiting", "waiting", "waiting", "unknown"]
    assert sum(core.price for core in cores) == money("100")
    assert sum(core.freight for core in cores) == money("0.10")
    lot = lots.yard.lot(code)
    assert (lot.status, lot.pieces, lot.price_total) == ("closed", 4, money("100"))
    assert lots.yard.tally("lot")[code] == {"received": 2}
    closed = lots.view(code)
    assert (closed.pieces, closed.unknown, closed.total) == (4, 1, money("100.10"))
    assert lots.yard.is_sound()


def test_a_sorted_lot_costs_what_the_same_manifest_costs(lots: Sorting) -> None:
    terms = {"basis": "weight", "price": "2.00", "freight": "5"}
    code = lots.begin(**terms)
    lots.scan(code, "GP-1040", "CB-77")
    lots.change(code, "GP-1040", mass="1.3")
    lots.take_in(code)
    content = csv_bytes("number,mass kg", [("GP-1040", "1.300"), ("CB-77", "")])
    lots.yard.take_in(content, source="COPP", lot="M1", received="2026-10-30", **terms)
    parts = ("price", "freight", "receive", "number", "state", "acceptance", "received_on")
    sorted_out, listed = [
        [tuple(getattr(core, part) for part in parts) for core in lots.yard.cores() if
         core.lot == lot]
        for lot in (code, "M1")
    ]  # fmt: skip
    assert sorted_out == listed
    assert lots.yard.lot(code).mass_g == lots.yard.lot("M1").mass_g == 4300


def test_taking_in_needs_a_yes_and_acts_once(lots: Sorting) -> None:
    code = lots.begin()
    lots.scan(code, "GP-1040")
    version = lots.view(code).version
    with pytest.raises(InvalidInput) as wrong:
        lot_taking_in.take_in(code, version, False, **lots.told())
    assert list(wrong.value.fields) == ["confirmed"]
    assert lots.take_in(code, "twice") == lots.take_in(code, "twice", version) == 1
    assert len(lots.yard.cores()) == 1
    with pytest.raises(NotAllowed, match="is closed"):
        lots.take_in(code)
    assert lots.scan(code, "GP-1040").word == "NOT COUNTED"


def test_a_lot_that_changed_since_it_was_looked_at_does_not_come_in(lots: Sorting) -> None:
    code = lots.begin()
    lots.scan(code, "GP-1040")
    seen = lots.view(code).version
    Sorting(lots.yard, by="Bela Quirke").scan(code, "GP-1040")
    with pytest.raises(Conflict, match="changed meanwhile by Bela Quirke"):
        lots.take_in(code, version=seen)
    assert lots.yard.cores() == []
    assert lots.take_in(code) == 2


def test_by_weight_without_a_ticket_every_piece_needs_a_mass(lots: Sorting) -> None:
    code = lots.begin(basis="weight", price="2")
    lots.choose(code, "ZZ-9", "unknown core")
    assert "unknown core ZZ-9" in lots.view(code).why
    with pytest.raises(NotAllowed, match="these pieces have no known mass"):
        lots.take_in(code)
    lots.change(code, "unknown core ZZ-9", mass="2.5")
    lots.take_in(code)
    assert [core.price for core in lots.yard.cores()] == [money("5")]


def test_with_a_ticket_a_piece_without_a_mass_takes_the_mean_of_the_others(
    lots: Sorting,
) -> None:
    code = lots.begin(basis="weight", price="2", gross="11", tare="1")
    lots.scan(code, "GP-1040")
    lots.scan(code, "CB-77")
    lots.choose(code, "ZZ-9", "unknown core")
    lots.change(code, "CB-77", mass="3.6")
    (note,) = lots.view(code).notes
    assert note == (
        "1 piece is without a known mass: the mean of the others, 2.4 kg, stands in for it."
    )
    lots.take_in(code)
    prices = [core.price for core in lots.yard.cores()]
    assert prices == [money("3.33"), money("10.00"), money("6.67")]


def test_without_any_mass_a_ticket_is_spread_equally_and_that_is_said(lots: Sorting) -> None:
    code = lots.begin(basis="weight", price="2", gross="11", tare="1")
    lots.choose(code, "ZZ-9", "unknown core")
    lots.choose(code, "ZZ-8", "unknown core")
    (note,) = lots.view(code).notes
    assert note == "No piece has a known mass: the price is spread equally over the pieces."
    lots.take_in(code)
    assert [core.price for core in lots.yard.cores()] == [money("10"), money("10")]


@pytest.mark.parametrize(
    ("told", "said"),
    [
        ({"price": "12.30"}, "At 12.30 a piece that is 24.60 EUR."),
        ({"basis": "lump", "price": "100"}, "Of the lump sum that share is 40.00 EUR."),
        (
            {"basis": "weight", "price": "2", "gross": "9", "tare": "1"},
            "The lot is paid by weight, so the weigh ticket decides, not the count.",
        ),
    ],
)
def test_a_short_count_is_said_with_its_money_and_noted(
    lots: Sorting, told: dict[str, str], said: str
) -> None:
    code = lots.begin(pieces="5", **told)
    lots.scan(code, "GP-1040", "3")
    (note,) = lots.view(code).notes
    assert note == f"The paper says 5 pieces, 3 are counted: 2 short. {said}"
    lots.take_in(code)
    assert lots.yard.lot(code).note == note
    assert lots.view(code).notes == (note,)


def test_a_count_outside_the_estimate_is_said(lots: Sorting) -> None:
    code = lots.begin()
    told = Weighing("25.2", "0", masses="1.2 1.25 1.21")
    lot_estimates.weigh(code, told, **lots.told())
    lots.scan(code, "GP-1040", "3")
    assert "look for boxes not sorted yet" in lots.view(code).notes[0]
    lots.scan(code, "21")
    assert lots.view(code).notes == ()
    lots.take_in(code)
    assert lots.view(code).estimate.startswith("21 pieces counted; by weight it was about 21")


def test_an_empty_lot_can_be_given_up_and_nothing_is_sorted_into_it(lots: Sorting) -> None:
    code = lots.begin()
    lots.scan(code, "GP-1040")
    with pytest.raises(NotAllowed, match="has pieces sorted already"):
        lot_beginning.give_up(code, **lots.told())
    lots.scan(code, "0")
    lot_beginning.give_up(code, **lots.told())
    assert lots.yard.lot(code).status == "given up"
    assert lots.scan(code, "GP-1040").word == "NOT COUNTED"
    with pytest.raises(NotAllowed, match="is given up"):
        lots.take_in(code)
    assert lots.yard.is_sound()


def test_an_empty_lot_cannot_come_in(lots: Sorting) -> None:
    code = lots.begin()
    with pytest.raises(NotAllowed, match="Nothing is sorted yet"):
        lots.take_in(code)


def test_a_begun_lot_may_come_in_by_its_manifest_at_its_own_price(lots: Sorting) -> None:
    code = lots.begin(lot="B1", basis="lump", price="90", freight="9")
    content = csv_bytes("number,serial", [("GP-1040", "A1"), ("ZZ-1", "A2"), ("CB-77", "A3")])
    with pytest.raises(InvalidInput, match="was begun with its day, basis, price"):
        lots.yard.take_in(content, source="COPP", lot=code, price="80")
    with pytest.raises(InvalidInput, match="was begun from COPP"):
        lots.yard.take_in(content, source="DELL", lot=code)
    assert lots.yard.take_in(content, source="COPP", lot=code).stored == 3
    lot = lots.yard.lot(code)
    assert (lot.status, lot.pieces, lot.price_total) == ("closed", 3, money("90"))
    assert [core.price for core in lots.yard.cores()] == [money("30")] * 3
    assert lots.yard.is_sound()


def test_a_lot_that_is_being_sorted_takes_no_manifest(lots: Sorting) -> None:
    code = lots.begin(lot="B1")
    lots.scan(code, "GP-1040")
    content = csv_bytes("lot,number,serial", [("B1", "GP-1040", "A1")])
    with pytest.raises(NotAllowed, match="sorted by hand already"):
        lots.yard.take_in(content, source="COPP", lot=code)
    assert "is being sorted" in why(lots.yard.take_in(content, source="COPP", price="9"))


def test_only_purchased_lots_have_a_page(lots: Sorting) -> None:
    lots.yard.sell("S1")
    lots.yard.bring_back("A1", lot="R1")
    for code in ("R1", "nothing"):
        with pytest.raises(NotFound, match="There is no purchased lot"):
            lots.view(code)
    lots.yard.buy("B1", lot="M1")
    assert lots.view("M1").status == "by file"
    assert [line.code for line in lots_view(lots.at).last] == ["M1"]


def both_at_once(*acts: Callable[[], object]) -> list[BaseException]:
    """Run the acts in threads that begin together; return what they raised."""
    start, raised = threading.Barrier(len(acts)), []

    def run(act: Callable[[], object]) -> None:
        start.wait()
        try:
            act()
        except BaseException as error:
            raised.append(error)
        finally:
            database.release()

    threads = [threading.Thread(target=run, args=(act,)) for act in acts]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join(30)
    return raised


def test_what_two_people_scan_at_once_is_all_counted(lots: Sorting) -> None:
    code = lots.begin()
    people = [Sorting(lots.yard, by=name) for name in ("Ilse Thornby", "Bela Quirke", "Una Pryor")]
    acts = [partial(who.scan, code, *(["GP-1040", "CB-77"] * 6)) for who in people]
    assert both_at_once(*acts) == []
    assert lots.counts(code) in ({"GP-1040": 18, "CB-77": 18}, {"CB-77": 18, "GP-1040": 18})
    assert lots.yard.is_sound()


def test_a_lot_taken_in_twice_at_once_comes_in_once(lots: Sorting) -> None:
    code = lots.begin()
    lots.scan(code, "GP-1040", "5")
    seen = lots.view(code).version
    people = [Sorting(lots.yard, by=name) for name in ("Ilse Thornby", "Bela Quirke")]
    acts = [partial(who.take_in, code, version=seen) for who in people]
    (turned_away,) = both_at_once(*acts)
    assert isinstance(turned_away, CoretrackError)
    assert len(lots.yard.cores()) == 5
    assert lots.yard.is_sound()


NAMES = ("GP-1040", "GP-1044", "00731", "GP-2080", "CB-77")
steps = st.lists(
    st.one_of(
        st.sampled_from(NAMES),
        st.integers(0, 40).map(str),
        st.just(make_shop_code("order", "undo")),
        st.just("=illegible"),
    ),
    min_size=1,
    max_size=12,
)


@settings(
    max_examples=25,
    deadline=None,
    suppress_health_check=[HealthCheck.function_scoped_fixture],
)
@given(
    done=steps,
    basis=st.sampled_from(["piece", "lump", "weight"]),
    cents=st.integers(0, 99_999),
    freight=st.integers(0, 9_999),
)
def test_whatever_is_sorted_costs_add_up_and_tags_follow_the_order(
    lots: Sorting, done: list[str], basis: str, cents: int, freight: int
) -> None:
    ticket = {"gross": "100", "tare": "7.5"} if basis == "weight" else {}
    code = lots.begin(
        basis=basis, price=f"{cents / 100:.2f}", freight=f"{freight / 100:.2f}", **ticket
    )
    for step in done:
        if step == "=illegible":
            lot_sorting.add_unknown(code, "", **lots.told())
        else:
            lots.scan(code, step)
    shown = lots.view(code)
    if not shown.pieces:
        assert shown.why
        return
    assert lots.take_in(code) == shown.pieces
    cores = [core for core in lots.yard.cores() if core.lot == code]
    expected = [row.name for row in shown.rows for _ in range(row.count)]
    assert [core.number or "not readable" for core in cores] == expected
    lot = lots.yard.lot(code)
    assert sum(core.price for core in cores) == lot.price_total == shown.price
    assert sum(core.freight for core in cores) == lot.freight
    assert sum(row.total or 0 for row in shown.rows) == shown.total
    with connection():
        assert lot.pieces == len(cores) == shown.pieces
