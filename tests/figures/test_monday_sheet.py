"""The fourteen lines of the Monday sheet. Shop invented."""

from __future__ import annotations

from dataclasses import replace
from datetime import date
from decimal import Decimal
from fractions import Fraction

import pytest

from coretrack.figures.buying import bid
from coretrack.figures.charge import ChargeAdvice, ChargeInputs, charge_advice
from coretrack.figures.costing import CostParts, CostRow, cost_row
from coretrack.figures.coverage import CoveragePart, coverage
from coretrack.figures.good_bodies import NEW_BODY, GoodBodyValue
from coretrack.figures.intervals import wilson
from coretrack.figures.lot_results import LotBought, lot_result
from coretrack.figures.monday import (
    DASH,
    DAYS,
    MONEY,
    SHARE,
    MondayFigure,
    MondayLine,
    MondaySheet,
    written,
)
from coretrack.figures.monday_money import (
    CreditedThenScrapped,
    FamilyCost,
    NextBid,
    charges_line,
    cost_line,
    coverage_line,
    credits_line,
    lots_line,
    open_lines_line,
    returns_line,
    stock_line,
)
from coretrack.figures.monday_work import (
    DockWeek,
    FamilyYield,
    ReasonWeek,
    ReworkWeek,
    StageQueue,
    TrustWeek,
    cores_in_line,
    decided_line,
    rework_line,
    scrap_reasons_line,
    trust_line,
    yields_line,
)
from coretrack.figures.money import from_decimal
from coretrack.figures.money_owed import OpenLine, Settled, owed_sheet, settled_sheet
from coretrack.figures.return_days import Stay, return_days
from coretrack.figures.stock_worth import StockCore, stock_sheet
from coretrack.figures.yields import Counts, YieldRow, yield_row

TODAY = date(2026, 6, 1)
WEEKS = [DockWeek(40, 36, 2, 2)] * 13


def money(units: str | int) -> int:
    return from_decimal(Decimal(units))


def _yield(good: int, scrapped: int, left: int = 0) -> YieldRow:
    return yield_row("INJ", Counts(good + scrapped + left, good + scrapped, good, 0, scrapped))


def _cost(good: int, scrapped: int) -> CostRow:
    return cost_row(_yield(good, scrapped), CostParts(credit=money(27) * (good + scrapped)))


def _advice(family: str, charge: int | None) -> ChargeAdvice:
    inputs = ChargeInputs(
        processing=money(9), scrap_recovery=0,
        charge_today=None if charge is None else money(charge),
    )  # fmt: skip
    value = GoodBodyValue(money(40), NEW_BODY, "")
    return charge_advice(family, family, _yield(103, 47), value, inputs)


LOT = LotBought(
    "L7", "yard", "2026-05-04", Counts(100, 100, 30, 0, 70), money(1600), money(900), 0,
    expected=Fraction(62, 100), prior=(17.4, 10.7), good_body=money(45),
)  # fmt: skip


def _sheet() -> MondaySheet:
    part = CoveragePart("yield", 0.69, wilson(69, 100))
    owed = owed_sheet([OpenLine("1", "A", "INJ", TODAY, 30, 4, money(20))], TODAY)
    settled = settled_sheet([Settled("credited", TODAY, money(20), money(15))], TODAY, TODAY)
    stock = stock_sheet([StockCore("A", "INJ", "waiting", TODAY, 0, money(18), True)], TODAY)
    return MondaySheet(
        week_from=date(2026, 5, 25),
        week_to=date(2026, 5, 31),
        cores_in=cores_in_line([*WEEKS, DockWeek(44, 38, 3, 3)]),
        decided=decided_line([30] * 14, [StageQueue("wash", 12, 3), StageQueue("bench", 0, None)]),
        yields=yields_line([FamilyYield("Injectors", _yield(20, 10, 2), _yield(260, 90))]),
        cost=cost_line([FamilyCost("Injectors", _cost(20, 10), _cost(260, 90))]),
        scrap_reasons=scrap_reasons_line([ReasonWeek("cracked", 6, money(120), 30, ((40, 390),))]),
        coverage=coverage_line(coverage((part,), 50), coverage((part,), 50)),
        returns=returns_line(
            [(30, 35)] * 14, return_days([Stay(16, True, 20), Stay(40, False, 5)])
        ),
        open_lines=open_lines_line(owed, [4] * 13, [money(80)] * 13),
        credits=credits_line(settled, [money(15)] * 13, CreditedThenScrapped(3, 30, money(60))),
        charges=charges_line([_advice("INJ", 12), _advice("TUR", 19)]),
        lots=lots_line([lot_result(LOT)], [NextBid("yard", bid(50, 17.4, 10.7, money(45), 0, 1))]),
        stock=stock_line(stock, [money(18)] * 13),
        rework=rework_line(ReworkWeek(7, ((6, 9),) * 14, money(60), (money(60),) * 13)),
        trust=trust_line(TrustWeek(1, 2, 19, 20, ((18, 20),) * 13, (0,) * 13 + (4,))),
    )


def test_fourteen_lines_in_their_order_each_with_a_sentence_on_how_sure() -> None:
    sheet = _sheet()
    assert [line.number for line in sheet.lines] == list(range(1, 15))
    for line in sheet.lines:
        assert line.value is not None, line.key
        assert line.sure, line.key
        assert line.why is None, line.key
        for figure in line.figures:
            assert figure.sure or figure.why, (line.key, figure.name)
            assert (figure.value is None) == bool(figure.why), (line.key, figure.name)


def test_a_line_in_the_wrong_place_is_refused() -> None:
    sheet = _sheet()
    with pytest.raises(ValueError, match="line 2 stands in the place of line 1"):
        replace(sheet, cores_in=sheet.decided)


def test_what_stands_out_is_listed_first() -> None:
    assert [line.key for line in _sheet().standing_out] == ["charges", "lots", "trust"]


def test_cores_in_against_thirteen_weeks() -> None:
    first, *_ = _sheet().cores_in.figures
    assert (first.name, first.shown, first.shown_change) == ("in", "44", "+4")
    assert first.stands_out is False
    young = cores_in_line([DockWeek(44, 38, 3, 3)])
    assert young.value == 44
    assert young.change is None
    assert "no earlier week" in young.sure


def test_a_share_shows_points_and_bounds() -> None:
    figure = _sheet().yields.figures[0]
    assert figure.shown == "66.7 %"
    assert figure.shown_change == "−7.6 points"
    assert figure.shown_bounds == "48.8 % to 80.8 %"
    assert figure.sure == "of 30 cores are decided, 2 still open, no change beyond chance"


def test_cost_names_its_interval_and_its_change() -> None:
    figure = _sheet().cost.figures[0]
    assert figure.shown == "40.50"
    assert figure.shown_change == "+4.15"
    assert figure.sure == "interval from the yield (Wilson); no change beyond chance"


def test_charges_furthest_from_their_value_come_first() -> None:
    advices = [_advice(name, charge) for name, charge in
               (("A", 18), ("B", 30), ("C", None), ("D", 2), ("E", 17))]  # fmt: skip
    line = charges_line(advices)
    assert [figure.name for figure in line.figures] == ["D", "B", "E"]
    assert [figure.shown for figure in line.figures] == ["-16.47", "11.53", "-1.47"]
    assert [figure.stands_out for figure in line.figures] == [True, True, False]
    assert charges_line([_advice("C", None)]).why == (
        "no family has both a charge and a value of one more returned core"
    )


def test_a_lot_is_held_against_the_yield_it_was_bought_for() -> None:
    lot, offer = _sheet().lots.figures
    assert lot.shown_change == "−32.0 points"
    assert lot.stands_out is True
    assert offer.name == "bid for yard, a piece"
    assert offer.sure == "with 90.0 % confidence of not losing"


def test_the_five_reasons_that_took_most_money() -> None:
    reasons = [ReasonWeek(str(n), n, money(n), 30) for n in range(1, 8)]
    line = scrap_reasons_line(reasons)
    assert [figure.name for figure in line.figures] == ["7", "6", "5", "4", "3"]


def test_a_shop_on_its_first_monday_reads_sensibly() -> None:
    lines = [
        cores_in_line([DockWeek(0, 0, 0, 0)]),
        decided_line([0], []),
        yields_line([]),
        cost_line([FamilyCost("INJ", _cost(0, 0), _cost(0, 0))]),
        scrap_reasons_line([]),
        coverage_line(coverage((CoveragePart("yield", None, wilson(0, 0), "none decided"),), 5)),
        returns_line([], return_days([])),
        open_lines_line(owed_sheet([], TODAY), [], []),
        credits_line(settled_sheet([], TODAY, TODAY), [], CreditedThenScrapped(0, 0, 0)),
        charges_line([]),
        lots_line([]),
        stock_line(stock_sheet([], TODAY), []),
        rework_line(ReworkWeek(0, (), 0)),
        trust_line(TrustWeek(0, 0, 0, 0)),
    ]
    unknown = [line.key for line in lines if line.why]
    assert unknown == [
        "yields", "cost", "scrap_reasons", "coverage", "returns", "charges", "lots", "stock",
    ]  # fmt: skip
    for line in lines:
        for figure in line.figures:
            assert "nan" not in figure.shown.lower()
            assert figure.shown != "100.0 %"
            if figure.unit == SHARE:
                assert figure.shown == DASH
                assert figure.why


def test_a_week_has_to_be_given() -> None:
    with pytest.raises(ValueError, match="give this week"):
        cores_in_line([])
    with pytest.raises(ValueError, match="give this week"):
        decided_line([], [])


def test_stock_shows_the_graveyard_and_each_cell() -> None:
    old = StockCore("B", "INJ", "unknown", date(2025, 6, 1), 0, None, True)
    new = StockCore("A", "INJ", "waiting", TODAY, 0, money(18), True)
    line = stock_line(stock_sheet([new, old], TODAY), [])
    names = [figure.name for figure in line.figures]
    assert names == ["worth", "graveyard", "waiting, 0 to 30 days", "unknown, 181 to 365 days"]
    assert line.figures[1].shown == "50.0 %"
    assert line.figures[3].shown == DASH
    assert line.figures[3].why == "their worth is not known"


@pytest.mark.parametrize(
    ("value", "unit", "shown"),
    [
        (None, SHARE, DASH),
        (0.5, SHARE, "50.0 %"),
        (Fraction(2, 3), SHARE, "66.7 %"),
        (money("1234.5"), MONEY, "1,234.50"),
        (Fraction(5, 3), MONEY, "0.00"),
        (16, DAYS, "16"),
        (Fraction(5, 2), "cores", "2.5"),
        (4.0, "cores", "4"),
    ],
)
def test_values_are_written_in_their_unit(value: object, unit: str, shown: str) -> None:
    assert written(value, unit) == shown  # type: ignore[arg-type]


def test_changes_carry_their_sign_and_unknown_ones_a_dash() -> None:
    def figure(change: object, unit: str) -> str:
        return MondayFigure("x", 1, unit, "", change=change).shown_change  # type: ignore[arg-type]

    assert figure(Fraction(-5, 2), "cores") == "−2.5"
    assert figure(0, "cores") == "0"
    assert figure(money(3), MONEY) == "+3.00"
    assert figure(0.031, SHARE) == "+3.1 points"
    assert figure(None, MONEY) == DASH
    assert MondayLine(1, "x", "X", (), "nothing").value is None
    assert MondayLine(1, "x", "X", (), "nothing").change is None
