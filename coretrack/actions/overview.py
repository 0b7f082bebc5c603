"""The shop on one screen: cores, yields, costs, charges, and what needs attention."""

from __future__ import annotations

from collections import Counter
from datetime import date, datetime, timedelta
from zoneinfo import ZoneInfo

from coretrack.actions.pricing import charge_sheet
from coretrack.actions.rollups import Question, costs, missing_rates
from coretrack.errors import NotFound
from coretrack.figures.charge import ChargeAdvice
from coretrack.figures.costing import CostRow
from coretrack.figures.dates import shop_day
from coretrack.figures.money import shown
from coretrack.figures.rate_tests import change_z
from coretrack.figures.summary import Attention, ShopSummary
from coretrack.figures.tallies import RETURNS
from coretrack.figures.trade_objects import Shop
from coretrack.figures.wording import charge_range, rate
from coretrack.records import queries
from coretrack.records.database import connection

OLD_AFTER = timedelta(days=90)
"""A core that waits longer than this for its verdict is called old (the shop's own habit)."""

REJECTS_SHOWN = timedelta(days=30)
"""How long rows that were not stored at import are pointed out."""

CLEAR = 1.96
"""Standard errors between two yields from which a change is called one (5 %, two-sided)."""


def shop_summary(now: datetime) -> ShopSummary:
    """Return the figures of the whole shop as they stand; NotFound before it is set up."""
    with connection():
        shop = queries.shop()
        if shop is None:
            raise NotFound("There is no shop yet; run 'coretrack setup' first.")
        families = tuple(costs(Question(by="family")))
        lots = {lot.key for lot in queries.lots("purchase")}
        by_lot = tuple(row for row in costs(Question(by="lot")) if row.group in lots)
        states = queries.cores_by_state()
        per_state: Counter[str] = Counter()
        for (_, state, _), count in states.items():
            per_state[state] += count
        open_lines, open_money = queries.open_line_totals()
        charges = charge_sheet(now)
        return ShopSummary(
            shop_name=shop.name,
            currency=shop.currency,
            made_at=now.astimezone(ZoneInfo(shop.time_zone)),
            received=sum(per_state.values()) - per_state["taken back"],
            refused=per_state["hold"],
            unknown=per_state["unknown"],
            kept=per_state["good"] + per_state["built"],
            built=per_state["built"],
            in_rework=per_state["rework"] + per_state["reinspect"],
            scrapped=per_state["scrapped"],
            undecided=per_state["undecided"],
            waiting=per_state["waiting"] + per_state["open"] + per_state["counted"],
            excess=per_state["excess"],
            comebacks=per_state["comeback"],
            left=per_state["sent back"] + per_state["cleared out"],
            credits_paid=queries.credits_paid(),
            open_lines=open_lines,
            open_line_money=open_money,
            yields=tuple(row.yields for row in families),
            costs=families,
            charges=charges,
            by_source=tuple(costs(Question(by="source"))),
            by_lot=by_lot,
            attention=tuple(_attention(shop, now, families, by_lot, charges, per_state)),
            source_names={source.key: source.name for source in queries.sources()},
        )


def _attention(
    shop: Shop,
    now: datetime,
    families: tuple[CostRow, ...],
    by_lot: tuple[CostRow, ...],
    charges: tuple[ChargeAdvice, ...],
    states: Counter[str],
) -> list[Attention]:
    today = shop_day(now, shop.time_zone)
    found = [
        *_rates_not_set(),
        *_old_cores(families, today),
        *_lots_below_bid(by_lot),
        *_yield_after_charge(charges),
        *_charges_off(charges),
        *_overdue_gauges(),
        *_bins(states),
    ]
    lost = sum(row.yields.counts.source_lost for row in families)
    if lost:
        found.append(
            Attention(
                "lost their source",
                lost,
                "they count in the family's yield, not in a source's or lot's",
            )
        )
    rejected = queries.rejected_rows((today - REJECTS_SHOWN).isoformat())
    if rejected:
        found.append(
            Attention(
                "not stored at import in the last 30 days",
                rejected,
                "correct them in the rejects file and import that",
                "row",
            )
        )
    return found


def _rates_not_set() -> list[Attention]:
    missing = missing_rates()
    if not missing:
        return []
    return [
        Attention(
            f"not set: {', '.join(missing)}",
            len(missing),
            "these steps count as nothing in every cost; set them in the shop's rates",
            "rate",
        )
    ]


def _old_cores(families: tuple[CostRow, ...], today: date) -> list[Attention]:
    before = (today - OLD_AFTER).isoformat()
    found = []
    for row in families:
        old = queries.waiting_since(row.group, before)
        if old:
            found.append(
                Attention(
                    f"{row.group}: waiting ungraded for over {OLD_AFTER.days} days",
                    old,
                    "grade a sample: until then nobody knows what they are worth",
                )
            )
    return found


def _lots_below_bid(by_lot: tuple[CostRow, ...]) -> list[Attention]:
    bids = {lot.key: lot.bid_yield for lot in queries.lots("purchase")}
    found = []
    for row in by_lot:
        bid, high = bids.get(row.group), row.yields.interval.high
        if bid and high is not None and high < float(bid) and row.yields.body_yield is not None:
            found.append(
                Attention(
                    f"lot {row.group} gave {rate(row.yields.body_yield)} good bodies, "
                    f"bought for {rate(float(bid))}",
                    row.yields.counts.decided,
                    "bid less for this source, or check a sample first",
                    "decided core",
                )
            )
    return found


def _yield_after_charge(charges: tuple[ChargeAdvice, ...]) -> list[Attention]:
    """Compare the yield of returns in the months before and after the latest change of charge."""
    found = []
    for advice in charges:
        changes = queries.charges(advice.family)
        if len(changes) < 2:
            continue
        changed, before_after = changes[-1], [Counter[str](), Counter[str]()]
        for _, batch, month, numbers in queries.tallies("batch", advice.family):
            if batch == RETURNS and month != changed.valid_from[:7]:
                before_after[month > changed.valid_from[:7]].update(numbers)
        (was_good, was), (now_good, now) = (
            (c["kept_first_pass"] + c["kept_after_rework"], c["decided"]) for c in before_after
        )
        apart = change_z(was_good, was, now_good, now)
        if apart is not None and apart > CLEAR:
            found.append(
                Attention(
                    f"{advice.family}: yield of returns fell from {rate(was_good / was)} to "
                    f"{rate(now_good / now)} after the charge became {shown(changes[-1].amount)}",
                    now,
                    "see who sends the poor ones; a charge over the ceiling draws bought-in junk",
                    "decided core",
                )
            )
    return found


def _charges_off(charges: tuple[ChargeAdvice, ...]) -> list[Attention]:
    found = []
    for advice in charges:
        low, high, charge = advice.make_whole_low, advice.make_whole_high, advice.charge_today
        if low is None or high is None or charge is None or low <= charge <= high:
            continue
        found.append(
            Attention(
                f"{advice.family}: today's charge {shown(charge)} lies outside the make-whole"
                f" range {charge_range(advice)}",
                1,
                "look at the core-charge sheet; nothing is changed by itself",
                "family",
            )
        )
    return found


def _overdue_gauges() -> list[Attention]:
    return [
        Attention(
            f"measured with gauge {gauge} after its check fell due",
            count,
            "have the gauge checked; recall what it measured if it was off",
        )
        for gauge, count in sorted(queries.overdue_gauge_cores().items())
    ]


def _bins(states: Counter[str]) -> list[Attention]:
    wording = (
        ("unknown", "not identified", "identify them: no credit and no grade until then", "core"),
        ("undecided", "undecided", "measure again with a better gauge or a second person", "core"),
        ("hold", "refused, in the hold bin", "ask the customer, then scrap or return them", "core"),
        ("excess", "excess, not bought yet", "refuse them or buy them at a stated price", "core"),
        (
            "comeback",
            "waiting for their warranty test",
            "they never earn a core credit",
            "comeback",
        ),
    )
    return [
        Attention(headline, states[state], advice, noun)
        for state, headline, advice, noun in wording
        if states[state]
    ]
