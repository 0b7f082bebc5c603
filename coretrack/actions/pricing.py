"""The core charge of each family: what one more returned core is worth, from real reclaim rates."""

from __future__ import annotations

from collections import Counter
from datetime import date, datetime
from decimal import Decimal

from coretrack.actions.rollups import Question, costs, missing_rates
from coretrack.errors import NotFound
from coretrack.figures.charge import (
    ChargeAdvice,
    ChargeInputs,
    GoodBodyValue,
    LotMoney,
    charge_advice,
    good_body_value,
)
from coretrack.figures.costing import CostRow
from coretrack.figures.dates import shop_day
from coretrack.figures.lifecycle import COST_PARTS
from coretrack.figures.money import nearest, shown, to_decimal
from coretrack.figures.tallies import COMEBACKS, COUNTERS, RETURNS
from coretrack.figures.trade_objects import CoreCharge, Family
from coretrack.figures.wording import charge_range, charge_verdict, other_warnings, rate
from coretrack.figures.yields import Batch, Counts, YieldRow, yield_row
from coretrack.records import queries
from coretrack.records.database import connection

PROCESSING = ("receive", "wash", "inspect", "rework", "reinspect")
"""Costs of putting a core through, whatever was paid for it."""


def charge_advice_for(family: str, now: datetime) -> ChargeAdvice:
    """Return one family's core-charge advice; NotFound for an unknown family."""
    sheet = charge_sheet(now)
    found = [advice for advice in sheet if advice.family.casefold() == family.casefold()]
    if not found:
        known = ", ".join(advice.family for advice in sheet) or "none yet"
        raise NotFound(f"There is no family '{family}'; known: {known}.")
    return found[0]


def charge_sheet(now: datetime) -> tuple[ChargeAdvice, ...]:
    """Return the advice of every family. It changes nothing: the owner decides."""
    rows = {row.group: row for row in costs(Question(by="family"))}
    with connection():
        shop = queries.shop()
        today = shop_day(now, shop.time_zone if shop else "UTC")
        return tuple(_advice(family, rows[family.key], today) for family in queries.families())


def _advice(family: Family, cost: CostRow, today: date) -> ChargeAdvice:
    returned: Counter[str] = Counter()
    months: list[Batch] = []
    for _, batch, month, numbers in queries.tallies("batch", family.key):
        if batch == RETURNS:
            returned.update(numbers)
            if numbers["decided"]:
                months.append(_batch(month, Counter(numbers)))
    yields = _returns_yield(family, returned, months)
    value = good_body_worth(family)
    return charge_advice(
        family.key,
        family.name,
        yields,
        value,
        _inputs(family, returned, today),
        cost,
    )


def good_body_worth(family: Family) -> GoodBodyValue | None:
    """Return G of a family, the value of one more good body, or None. Call with a connection."""
    bought: dict[str, Counter[str]] = {}
    kinds = {lot.key: lot.kind for lot in queries.lots()}
    for _, batch, _, numbers in queries.tallies("batch", family.key):
        if batch not in (RETURNS, COMEBACKS):
            bought.setdefault(batch, Counter()).update(numbers)
    lots = [
        # The guard against a charge that follows from itself sees what each lot really is.
        LotMoney(name, batch.decided, batch.good, batch.cost, kinds.get(name) != "purchase")
        for name, batch in ((name, _batch(name, numbers)) for name, numbers in bought.items())
        if batch.decided
    ]
    prices = family.definition.get("prices", {})
    return good_body_value(lots, prices.get("new_body"), prices.get("missed_sale"))


def _returns_yield(family: Family, returned: Counter[str], months: list[Batch]) -> YieldRow:
    counts = Counts(**{name: returned[name] for name in COUNTERS})
    return yield_row(
        f"returns of {family.key}", counts, months, noun="returned core", batch_noun="month"
    )


def _batch(name: str, numbers: Counter[str]) -> Batch:
    return Batch(
        name,
        numbers["decided"],
        numbers["kept_first_pass"] + numbers["kept_after_rework"],
        sum(numbers[part] for part in COST_PARTS) - 2 * numbers["recovery"],
    )


def _inputs(family: Family, returned: Counter[str], today: date) -> ChargeInputs:
    prices = family.definition.get("prices", {})
    charge = _charge_on(family.key, today)
    decided, scrapped = returned["decided"], returned["scrapped"]
    processing = scrap = None
    if decided:
        spent = to_decimal(sum(returned[part] for part in PROCESSING))
        processing = nearest(spent / decided)
        # Nothing scrapped yet: s is unknown, and 0 moves only the low end, by next to nothing.
        recovered = to_decimal(returned["recovery"] - returned["disposal"])
        scrap = nearest(recovered / scrapped) if scrapped else 0
    return ChargeInputs(
        processing=processing,
        scrap_recovery=scrap,
        sourcing=prices.get("sourcing") or 0,
        bother=prices.get("bother") or 0,
        credit_chance=Decimal(prices.get("belief") or 1),
        broker_price=prices.get("broker"),
        open_market_price=prices.get("open_market"),
        trader_bother=prices.get("bother") or 0,
        new_body_price=prices.get("new_body"),
        charge_today=charge.amount if charge else None,
        charge_since=date.fromisoformat(charge.valid_from) if charge else None,
        missing_rates=missing_rates(),
    )


def _charge_on(family: str, today: date) -> CoreCharge | None:
    known = [c for c in queries.charges(family) if c.valid_from <= today.isoformat()]
    return known[-1] if known else None


def family_cost(family: str) -> CostRow:
    """Return the cost row of one family over all its cores; InvalidInput for an unknown one."""
    return costs(Question(by="family", family=family))[0]


def charge_lines(advice: ChargeAdvice, cost: CostRow | None = None) -> list[str]:
    """Return a family's core-charge advice as lines for a terminal.

    With the family's cost row its warnings, on all its cores, are among the lines.
    """
    lines = [f"{advice.family}  {advice.family_name}"]
    if advice.body_yield is not None:
        lines.append(
            f"  Yield of returned cores   {rate(advice.body_yield)} "
            f"({advice.good:,} good of {advice.decided:,} decided)"
        )
    if advice.good_body:
        lines.append(f"  A good body is worth      {shown(advice.good_body.amount)}  "
                     f"from {advice.good_body.origin}: {advice.good_body.detail}")  # fmt: skip
    for name, amount in (
        ("Processing per core", advice.processing),
        ("Scrap brings, per core", advice.scrap_recovery),
        ("One more returned core", advice.value),
    ):
        lines.append(f"  {name:<25} {shown(amount)}")
    between = "" if advice.make_whole is None else f"  (range {charge_range(advice)})"
    lines.append(f"  {'Make-whole charge':<25} {shown(advice.make_whole)}{between}")
    for name, amount in (
        ("Floor", advice.floor),
        ("A broker pays", advice.broker_price),
        ("Ceiling", advice.ceiling),
        ("New body", advice.new_body_price),
    ):
        lines.append(f"  {name:<25} {shown(amount)}")
    since = f"  since {advice.charge_since.isoformat()}" if advice.charge_since else ""
    lines.append(f"  {'Charge today':<25} {shown(advice.charge_today)}{since}")
    lines.append(f"  {charge_verdict(advice)}")
    lines += [f"  Note: {warning}." for warning in other_warnings(advice, cost)]
    lines.append("  Nothing is changed by this; a change of charge is the owner's decision.")
    return lines
