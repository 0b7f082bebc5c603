"""What each template is given: one frozen dataclass a page, already worked out and worded."""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import datetime

from markupsafe import Markup

from coretrack.figures.charge import ChargeAdvice
from coretrack.figures.costing import CostRow
from coretrack.figures.money import Money, shown
from coretrack.figures.summary import Attention, ShopSummary
from coretrack.figures.wording import (
    NONE_SUGGESTED,
    SAFETY,
    charge_range,
    charge_verdict,
    cost_counted,
    cost_figure,
    good_body_origin,
    other_warnings,
    rate,
    rate_bounds,
    rate_spread,
    returns_line,
    sentence,
    yield_line,
)
from coretrack.figures.yields import YieldRow
from coretrack.paper.charts import charge_scale, waterfall, yield_dots
from coretrack.paper.drawing import Chart, to_svg

WIDE, SMALL = 470.0, 320.0
"""Each chart is made for a wide and for a phone's page; the style sheet shows one of them."""


UNKNOWN = "–"


@dataclass(frozen=True)
class ErrorPage:
    """error.html"""

    title: str
    status: int
    message: str


@dataclass(frozen=True)
class Picture:
    """One chart in both widths, empty when there is nothing to draw."""

    wide: Markup
    small: Markup


@dataclass(frozen=True)
class Price:
    """One row of the table beside a charge scale."""

    name: str
    amount: str


@dataclass(frozen=True)
class FamilyCard:
    """One family on the shop page."""

    key: str
    name: str
    yield_line: str
    cost: str
    counted: str
    suggested: str
    today: str
    since: str
    verdict: str
    origin: str
    warnings: tuple[str, ...]
    scale: Picture
    prices: tuple[Price, ...]
    steps: Picture
    cost_steps: tuple[Price, ...]
    no_cost: str


@dataclass(frozen=True)
class GroupRow:
    """One row of a table by family, source or lot."""

    group: str
    received: int
    decided: int
    open: int
    good: int
    scrapped: int
    first_pass: str
    body_yield: str
    between: str
    cost: str
    notes: tuple[str, ...]


@dataclass(frozen=True)
class Tally:
    """One count of the first row: what happened to the cores that came in."""

    name: str
    count: int
    strong: bool = False


@dataclass(frozen=True)
class ShopPage:
    """office/shop.html"""

    title: str
    shop_name: str
    currency: str
    made_at: datetime
    received: int
    tallies: tuple[Tally, ...]
    credits_paid: Money
    open_lines: int
    open_line_money: Money
    attention: tuple[Attention, ...]
    yields: Picture
    family_rows: tuple[GroupRow, ...]
    families: tuple[FamilyCard, ...]
    by_source: tuple[GroupRow, ...]
    by_lot: tuple[GroupRow, ...]
    safety: str
    workbook_offered: bool


def shop_page(summary: ShopSummary, workbook_offered: bool) -> ShopPage:
    """Return the first page's contents for these figures."""
    costs = {row.group: row for row in summary.costs}
    yields = {row.group: row for row in summary.yields}
    cards = []
    for number, advice in enumerate(summary.charges, 1):
        group = advice.family if advice.family in yields else advice.family_name
        cards.append(_card(f"family{number}", advice, costs.get(group), yields.get(group)))
    names = {advice.family: advice.family_name for advice in summary.charges}
    rows = [replace(row, group=names.get(row.group, row.group)) for row in summary.yields]
    chart = [yield_dots(rows, width, "Yield by family") for width in (WIDE + 110, SMALL)]
    return ShopPage(
        title=f"{summary.shop_name}: cores and what a good body costs",
        shop_name=summary.shop_name,
        currency=summary.currency,
        made_at=summary.made_at,
        received=summary.received,
        tallies=_tallies(summary),
        credits_paid=summary.credits_paid,
        open_lines=summary.open_lines,
        open_line_money=summary.open_line_money,
        attention=summary.attention,
        yields=_picture("yields", *chart),
        family_rows=tuple(
            _row(named, costs.get(row.group))
            for named, row in zip(rows, summary.yields, strict=True)
        ),
        families=tuple(cards),
        by_source=tuple(_row(row.yields, row) for row in summary.by_source),
        by_lot=tuple(_row(row.yields, row) for row in summary.by_lot),
        safety=SAFETY,
        workbook_offered=workbook_offered,
    )


def _tallies(summary: ShopSummary) -> tuple[Tally, ...]:
    return (
        Tally("keep", summary.kept, strong=True),
        Tally("in rework", summary.in_rework, strong=True),
        Tally("scrap", summary.scrapped, strong=True),
        Tally("undecided", summary.undecided),
        Tally("waiting", summary.waiting),
        Tally("unknown", summary.unknown),
        Tally("refused", summary.refused),
    )


def _picture(key: str, wide: Chart, small: Chart) -> Picture:
    # to_svg escapes every text it writes, so its result may stand on the page as it is.
    return Picture(
        wide=Markup(to_svg(wide, f"{key}-wide", "wide")),
        small=Markup(to_svg(small, f"{key}-small", "small")),
    )


def _card(
    key: str, advice: ChargeAdvice, cost: CostRow | None, yields: YieldRow | None
) -> FamilyCard:
    scale = [charge_scale(advice, width) for width in (WIDE, SMALL)]
    steps = Picture(Markup(""), Markup(""))
    if cost is not None and cost.cost_per_good_body is not None:
        steps = _picture(f"{key}-cost", *(waterfall(cost, width) for width in (WIDE, SMALL)))
    origin = ""
    if advice.good_body is not None or not advice.why:
        origin = good_body_origin(advice.good_body)
    suggested = charge_range(advice)
    return FamilyCard(
        key=key,
        name=advice.family_name,
        yield_line=_yield_words(advice, cost, yields),
        cost=cost_figure(advice.cost_per_good_body, advice.cost_low, advice.cost_high),
        counted=cost_counted(advice, cost),
        suggested="no charge" if suggested == NONE_SUGGESTED else suggested,
        today="not set" if advice.charge_today is None else shown(advice.charge_today),
        since="" if advice.charge_since is None else f"since {advice.charge_since:%Y-%m-%d}",
        verdict=charge_verdict(advice),
        origin=origin,
        warnings=tuple(sentence(text) for text in other_warnings(advice, cost)),
        scale=_picture(f"{key}-charge", *scale),
        prices=_prices(advice, suggested),
        steps=steps,
        cost_steps=_cost_steps(cost),
        no_cost=_no_cost(cost),
    )


def _yield_words(advice: ChargeAdvice, cost: CostRow | None, yields: YieldRow | None) -> str:
    """Return the yield as a sentence, nothing where the charge's verdict already says why not."""
    if advice.body_yield is None and advice.why:
        return ""
    if yields is None or yields.body_yield is None:
        return f"Yield: {rate(advice.body_yield)}."
    return f"Yield {yield_line(yields)}. {returns_line(advice, cost)}".strip()


def _no_cost(cost: CostRow | None) -> str:
    """Return why decided cores gave no cost; before any is decided the yield's line says it."""
    if cost is None or cost.cost_per_good_body is not None or not cost.yields.counts.decided:
        return ""
    return sentence(cost.why or "")


def _amount(amount: Money | None) -> str:
    return "not known" if amount is None else shown(amount)


def _prices(advice: ChargeAdvice, suggested: str) -> tuple[Price, ...]:
    return (
        Price("Broker pays", _amount(advice.broker_price)),
        Price("Floor: below it cores stay away", _amount(advice.floor)),
        Price("Make-whole range", suggested),
        Price("Today's charge", _amount(advice.charge_today)),
        Price("Ceiling: above it bought junk comes in", _amount(advice.ceiling)),
        Price("New part", _amount(advice.new_body_price)),
    )


def _cost_steps(cost: CostRow | None) -> tuple[Price, ...]:
    if cost is None or cost.cost_per_good_body is None:
        return ()
    steps = [Price(step.name, _amount(step.per_good_body)) for step in cost.waterfall]
    return (*steps, Price("cost per good body", _amount(cost.cost_per_good_body)))


def _row(yields: YieldRow, cost: CostRow | None) -> GroupRow:
    """Return a table row; a dash stands for what is unknown, and its notes say why."""
    counts = yields.counts
    known = yields.body_yield is not None
    spread = rate_spread(yields.body_yield, yields.interval)
    why = yields.why or (None if cost is None else cost.why)
    notes = (why or "", *yields.warnings, *(() if cost is None else cost.warnings))
    return GroupRow(
        group=yields.group,
        received=counts.received,
        decided=counts.decided,
        open=counts.open,
        good=counts.good,
        scrapped=counts.scrapped,
        first_pass=rate(yields.first_pass_yield) if known else UNKNOWN,
        body_yield=f"{rate(yields.body_yield)} {spread or ''}".rstrip() if known else UNKNOWN,
        between=rate_bounds(yields.interval) or UNKNOWN,
        cost=_table_cost(cost),
        notes=tuple(sentence(text) for text in dict.fromkeys(notes) if text),
    )


def _table_cost(cost: CostRow | None) -> str:
    if cost is None:
        return UNKNOWN
    if cost.cost_per_good_body is None:
        return UNKNOWN if cost.cost_low is None else f"at least {shown(cost.cost_low)}"
    return cost_figure(cost.cost_per_good_body, cost.cost_low, cost.cost_high)
