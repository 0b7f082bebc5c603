"""What each template is given: one frozen dataclass a page, already worked out and worded."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from datetime import datetime

from markupsafe import Markup

from coretrack.figures.charge import ChargeAdvice
from coretrack.figures.costing import ONE_CORE, SCRAPPED_CORES, CostRow
from coretrack.figures.money import Money, shown
from coretrack.figures.summary import Attention, ShopSummary
from coretrack.figures.wording import (
    NONE_SUGGESTED,
    SAFETY,
    SOURCES_MIX_FAMILIES,
    charge_range,
    charge_verdict,
    cost_counted,
    cost_figure,
    good_body_origin,
    money_bounds,
    open_deposits,
    other_warnings,
    rate,
    rate_bounds,
    returns_line,
    sentence,
    source_lost_note,
    yield_line,
)
from coretrack.figures.yields import YieldRow
from coretrack.paper.charts import WATERFALL_TITLE, charge_scale, waterfall, yield_dots
from coretrack.paper.drawing import Chart, to_svg

WIDE, SMALL = 470.0, 320.0
BROAD = 960.0
"""Each chart is made for a wide and for a phone's page; the style sheet shows one of them."""

STRONG = 3
"""How many of the first tallies stand out: good, in rework, scrapped."""

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
    cost_between: str
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
    deposits: str
    attention: tuple[Attention, ...]
    yields: Picture
    family_rows: tuple[GroupRow, ...]
    families: tuple[FamilyCard, ...]
    by_source: tuple[GroupRow, ...]
    source_note: str
    by_lot: tuple[GroupRow, ...]
    lot_note: str
    steps_title: str
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
    chart = [yield_dots(rows, width, "Yield by family") for width in (BROAD, SMALL)]
    lost = sentence(source_lost_note(summary.source_lost))
    return ShopPage(
        title=f"{summary.shop_name}: cores and what a good body costs",
        shop_name=summary.shop_name,
        currency=summary.currency,
        made_at=summary.made_at,
        received=summary.received,
        tallies=_tallies(summary),
        credits_paid=summary.credits_paid,
        deposits=open_deposits(summary.open_lines, summary.open_line_money),
        attention=summary.attention,
        yields=_picture("yields", *chart),
        family_rows=tuple(
            _row(named, costs.get(row.group))
            for named, row in zip(rows, summary.yields, strict=True)
        ),
        families=tuple(cards),
        by_source=tuple(
            _row(replace(row.yields, group=_named(row.group, summary.source_names)), row)
            for row in summary.by_source
        ),
        source_note=f"{SOURCES_MIX_FAMILIES} {lost}".strip(),
        by_lot=tuple(_row(row.yields, row) for row in summary.by_lot),
        lot_note=lost,
        steps_title=WATERFALL_TITLE,
        safety=SAFETY,
        workbook_offered=workbook_offered,
    )


def _tallies(summary: ShopSummary) -> tuple[Tally, ...]:
    return tuple(
        Tally(name, count, strong=place < STRONG)
        for place, (name, count) in enumerate(summary.whereabouts)
    )


def _named(code: str, names: Mapping[str, str]) -> str:
    name = names.get(code, "")
    return f"{code}, {name}" if name and name != code else code


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
    core = [
        Price(step.name, _amount(step.amount)) for step in cost.waterfall if step.of == ONE_CORE
    ]
    scrapped = [
        Price(step.name, _amount(step.amount))
        for step in cost.waterfall
        if step.of == SCRAPPED_CORES
    ]
    return (
        *core,
        Price("one core", _amount(cost.cost_per_core)),
        *scrapped,
        Price("a good body", _amount(cost.cost_per_good_body)),
    )


def _row(yields: YieldRow, cost: CostRow | None) -> GroupRow:
    """Return a table row; a dash stands for what is unknown, and its notes say why."""
    counts = yields.counts
    known = yields.body_yield is not None
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
        body_yield=rate(yields.body_yield) if known else UNKNOWN,
        between=rate_bounds(yields.interval) or UNKNOWN,
        cost=shown(None if cost is None else cost.cost_per_good_body),
        cost_between=_cost_between(cost),
        notes=tuple(sentence(text) for text in dict.fromkeys(notes) if text),
    )


def _cost_between(cost: CostRow | None) -> str:
    return (None if cost is None else money_bounds(cost.cost_low, cost.cost_high)) or UNKNOWN
