"""Monday lines about money: cost, coverage, returns, deposits, credits, charge, lots, stock.

Lines 4 and 6 to 12 of the sheet. Lists of weeks run oldest first and end with this week.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from coretrack.figures.buying import Bid
from coretrack.figures.charge import ChargeAdvice
from coretrack.figures.costing import CostRow
from coretrack.figures.coverage import Coverage
from coretrack.figures.lot_results import BELOW, LotResult
from coretrack.figures.monday import (
    DAYS,
    MONEY,
    SHARE,
    MondayFigure,
    MondayLine,
    bounded_figure,
    counted_figure,
    monday_line,
    plain_figure,
    share_figure,
)
from coretrack.figures.money import Money, shown
from coretrack.figures.money_owed import OwedSheet, SettledSheet
from coretrack.figures.plain_words import counted, percent
from coretrack.figures.return_days import ReturnDays
from coretrack.figures.stock_worth import StockSheet
from coretrack.figures.weekly import figure_change, share_change, week_change

FURTHEST = 3
COUNTED = "counted, not estimated"


@dataclass(frozen=True)
class FamilyCost:
    """A family's cost per good body now and over the weeks before; the two share no core."""

    name: str
    now: CostRow
    before: CostRow


def cost_line(families: Sequence[FamilyCost]) -> MondayLine:
    """Return line 4: the cost per good body of each family, in the order given."""
    figures = []
    for family in families:
        now, before = family.now, family.before
        change = figure_change(
            before.cost_per_good_body, before.interval, now.cost_per_good_body, now.interval
        )
        told = f"interval {now.method}"
        if change.clear is not None:
            told += "; changed beyond chance" if change.clear else "; no change beyond chance"
        elif change.why:
            told += f"; {change.why}"
        figures.append(
            bounded_figure(
                family.name, MONEY, now.cost_per_good_body, now.interval, change, told, now.why
            )
        )
    return monday_line(
        4, "cost", "Cost per good body", tuple(figures), "no family has a good body yet"
    )


def coverage_line(now: Coverage, before: Coverage | None = None) -> MondayLine:
    """Return line 6: good bodies back per unit sold, and bodies short for the coming month."""
    change = None
    if before is not None:
        change = figure_change(before.coverage, before.interval, now.coverage, now.interval)
    figures = (
        bounded_figure(
            "coverage", SHARE, now.coverage, now.interval, change, now.sentence, now.why
        ),
        MondayFigure(
            "bodies short",
            now.short,
            "bodies",
            "for the demand as entered",
            low=now.short_low,
            high=now.short_high,
            why=None if now.short is not None else now.why or "no demand is entered",
        ),
    )
    return monday_line(6, "coverage", "Body coverage", figures, "no coverage yet")


def returns_line(matured: Sequence[tuple[int, int]], days: ReturnDays) -> MondayLine:
    """Return line 7: return rate of matured sales and the median of days to return.

    `matured` holds (returned, matured) of the sales that matured in each week, this week last.
    """
    weeks = list(matured) or [(0, 0)]
    told = "half of the cores are back by then"
    if days.median_low is not None or days.median_high is not None:
        low, high = days.median_low, days.median_high
        told += f" ({low or '…'} to {high or '…'} days)"
    figures = (
        share_figure("return rate", share_change(weeks[-1], weeks[:-1], "matured sale")),
        MondayFigure(
            "median days to return",
            days.median,
            DAYS,
            told,
            low=days.median_low,
            high=days.median_high,
            why=None if days.median is not None else days.why_no_median or days.why,
        ),
    )
    return monday_line(7, "returns", "Returns", figures, "no sale has matured yet")


def open_lines_line(
    now: OwedSheet, units_before: Sequence[int], money_before: Sequence[Money]
) -> MondayLine:
    """Return line 8: cores still owed, the money in them and what is past due."""
    figures = (
        counted_figure("open", "cores", week_change(now.units, units_before)),
        counted_figure("money", MONEY, week_change(now.money, money_before, money=True)),
        plain_figure("past due", "cores", now.past_due_units, COUNTED),
        plain_figure("past due money", MONEY, now.past_due_money, COUNTED),
    )
    return monday_line(8, "open_lines", "Open core lines", figures, "no core is owed")


@dataclass(frozen=True)
class CreditedThenScrapped:
    """Cores credited at the dock and scrapped on the bench this week, with the credits in them.

    `decided` credited cores were decided this week; `before` pairs of (scrapped, decided) by week.
    """

    scrapped: int
    decided: int
    money: Money
    before: tuple[tuple[int, int], ...] = ()


def credits_line(
    now: SettledSheet, before: Sequence[Money], lost: CreditedThenScrapped
) -> MondayLine:
    """Return line 9: credits paid, their share of the charges, and credits that bought scrap."""
    moved = share_change((lost.scrapped, lost.decided), lost.before, "credited core")
    figures = (
        counted_figure("credits paid", MONEY, week_change(now.credits, before, money=True)),
        plain_figure("share of the charge", SHARE, now.credit_share, COUNTED, now.why),
        plain_figure("credited, then scrapped: money", MONEY, lost.money, COUNTED),
        share_figure("credited, then scrapped", moved),
    )
    return monday_line(9, "credits", "Credits", figures, "no credit yet")


def charges_line(advices: Sequence[ChargeAdvice]) -> MondayLine:
    """Return line 10: the three families whose charge lies furthest from V, charge less V.

    A charge inside the make-whole range does not stand out, however far it lies from the middle.
    """
    known = [
        (advice.charge_today - advice.value, advice)
        for advice in advices
        if advice.charge_today is not None and advice.value is not None
    ]
    known.sort(key=lambda pair: (-abs(pair[0]), pair[1].family))
    figures = tuple(_charge_figure(gap, advice) for gap, advice in known[:FURTHEST])
    nothing = "no family has both a charge and a value of one more returned core"
    return monday_line(10, "charges", "Charge against value", figures, nothing)


def _charge_figure(gap: Money, advice: ChargeAdvice) -> MondayFigure:
    low, high = advice.make_whole_low, advice.make_whole_high
    today = advice.charge_today
    told = f"charge {shown(today)}, value {shown(advice.value)}"
    outside = None
    if low is not None and high is not None and today is not None:
        outside = not low <= today <= high
        told += f"; make-whole range {shown(low)} to {shown(high)}"
        told += ", the charge lies outside" if outside else ", the charge lies inside"
    return MondayFigure(advice.family, gap, MONEY, told, stands_out=outside)


@dataclass(frozen=True)
class NextBid:
    """A lot on offer and the most to pay for it."""

    name: str
    bid: Bid


def lots_line(results: Sequence[LotResult], bids: Sequence[NextBid] = ()) -> MondayLine:
    """Return line 11: good bodies of each lot against what was expected, and the next bids.

    The change of a lot's yield is against the yield it was bought for.
    """
    figures = [_lot_figure(result) for result in results]
    for offer in bids:
        told = f"with {percent(offer.bid.confidence)} confidence of not losing"
        if offer.bid.why:
            told += f"; {offer.bid.why}"
        figures.append(
            plain_figure(f"bid for {offer.name}, a piece", MONEY, offer.bid.per_piece, told)
        )
    return monday_line(11, "lots", "Lots and bids", tuple(figures), "no lot was bought yet")


def _lot_figure(result: LotResult) -> MondayFigure:
    row = result.yields
    change = None
    if row.body_yield is not None and result.expected is not None:
        change = row.body_yield - float(result.expected)
    return MondayFigure(
        name=result.lot,
        value=row.body_yield,
        unit=SHARE,
        sure=result.sentence,
        low=row.interval.low,
        high=row.interval.high,
        change=change,
        stands_out=None if result.verdict is None else result.verdict == BELOW,
        why=row.why,
    )


def stock_line(now: StockSheet, worth_before: Sequence[Money]) -> MondayLine:
    """Return line 12: what the stock is worth, and the share nobody has looked at for long."""
    if now.worth is None:
        worth = plain_figure("worth", MONEY, None, "", now.why)
    else:
        worth = counted_figure("worth", MONEY, week_change(now.worth, worth_before, money=True))
    told = f"{counted(now.graveyard, 'core')} over {now.graveyard_days} days without a verdict"
    cells = tuple(
        plain_figure(
            f"{cell.state}, {_age(cell.least_days, cell.most_days)}",
            MONEY,
            cell.worth if cell.untold < cell.cores else None,
            f"{counted(cell.cores, 'core')}"
            + (f", {cell.untold:,} of unknown worth" if cell.untold else ""),
            "their worth is not known",
        )
        for cell in now.cells
    )
    share = plain_figure("graveyard", SHARE, now.graveyard_share, told, now.why)
    return monday_line(12, "stock", "Stock", (worth, share, *cells), now.why or "no stock")


def _age(least: int, most: int | None) -> str:
    return f"over {least - 1} days" if most is None else f"{least} to {most} days"
