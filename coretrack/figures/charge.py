"""What one more returned core is worth, and the core charge that follows from it.

V = y G + (1 - y) s - c; make-whole charge D* = V + t. Derived: at D* the shop loses nothing when
the customer keeps the core. G, the value of a good body, comes from outside the returns: put the
returns' own cost in its place and any charge at all confirms itself.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import date
from decimal import Decimal
from fractions import Fraction

from coretrack.figures.costing import CostRow, missing_rates_warning
from coretrack.figures.good_bodies import (
    BOUGHT_LOTS,
    MISSED_SALE,
    NEW_BODY,
    GoodBodyValue,
    LotMoney,
    bought_lots_value,
    good_body_value,
)
from coretrack.figures.money import Money, shown, whole
from coretrack.figures.plain_words import are
from coretrack.figures.yields import NONE_DECIDED, YieldRow

__all__ = [
    "BOUGHT_LOTS",
    "LEAST_DECIDED",
    "MISSED_SALE",
    "NEW_BODY",
    "ChargeAdvice",
    "ChargeInputs",
    "GoodBodyValue",
    "LotMoney",
    "bought_lots_value",
    "charge_advice",
    "floor_charge",
    "good_body_value",
    "make_whole",
    "value_of_core",
]

LEAST_DECIDED = 5
"""With fewer decided returned cores no charge is suggested (the shop's own habit)."""


@dataclass(frozen=True)
class ChargeInputs:
    """What the owner has set for a family; `None` means not known.

    `processing` is c per core put through, `scrap_recovery` s per scrapped core, `sourcing` t.
    `outside_value` is what a broker or scrap yard pays the customer (v_out; the broker's price
    where it is not set), `bother` what shipping the core costs him (h), `credit_chance` how sure
    he is to be credited (q_c, above 0 and at most 1). `open_market_price` buys a core that passes
    the visible criteria, `trader_bother` is what handing it in costs a trader. `missing_rates` are
    the steps' rates that are not set: they are not in `processing`.
    """

    processing: Money | None = None
    scrap_recovery: Money | None = None
    sourcing: Money = 0
    outside_value: Money | None = None
    bother: Money = 0
    credit_chance: Decimal = Decimal(1)
    broker_price: Money | None = None
    open_market_price: Money | None = None
    trader_bother: Money = 0
    new_body_price: Money | None = None
    charge_today: Money | None = None
    charge_since: date | None = None
    missing_rates: tuple[str, ...] = ()


@dataclass(frozen=True)
class ChargeAdvice:
    """One family's core-charge line. Money is `None` while unknown; `why` then says what lacks.

    `value_*` is V, what one more returned core is worth, at the low, middle and high yield;
    `make_whole_*` is V plus the cost of sourcing elsewhere.
    """

    family: str
    family_name: str
    decided: int
    good: int
    body_yield: float | None
    yield_low: float | None
    yield_high: float | None
    good_body: GoodBodyValue | None
    processing: Money | None
    scrap_recovery: Money | None
    sourcing: Money
    value: Money | None
    value_low: Money | None
    value_high: Money | None
    make_whole: Money | None
    make_whole_low: Money | None
    make_whole_high: Money | None
    floor: Money | None
    broker_price: Money | None
    ceiling: Money | None
    new_body_price: Money | None
    charge_today: Money | None
    charge_since: date | None
    cost_per_good_body: Money | None
    cost_low: Money | None
    cost_high: Money | None
    warnings: tuple[str, ...] = ()
    why: str | None = None
    received: int = 0


def value_of_core(
    body_yield: float | Fraction, good_body: Money, scrap: Money, processing: Money
) -> Money:
    """Return V = y G + (1 - y) s - c, rounded once at the end."""
    share = Fraction(body_yield)
    return whole(share * good_body + (1 - share) * scrap - processing)


def make_whole(value: Money, sourcing: Money) -> Money:
    """Return D* = V + t."""
    return value + sourcing


def floor_charge(
    outside_value: Money, bother: Money, credit_chance: Decimal | Fraction = Decimal(1)
) -> Money:
    """Return (v_out + h) / q_c, below which a customer has no reason to send the core.

    ValueError unless 0 < credit_chance <= 1.
    """
    chance = Fraction(credit_chance)
    if not 0 < chance <= 1:
        raise ValueError(f"the chance of being credited is above 0 and at most 1; {chance} is not")
    return whole(Fraction(outside_value + bother) / chance)


def charge_advice(
    family: str,
    family_name: str,
    yields: YieldRow,
    good_body: GoodBodyValue | None,
    inputs: ChargeInputs,
    cost: CostRow | None = None,
    tried_yield: Fraction | None = None,
) -> ChargeAdvice:
    """Return everything the core-charge page shows of a family; it advises and changes nothing.

    The range comes from the yield's interval. `yields` are the returns' own, `good_body` is from
    outside them. Figures that lack an input are `None` and `why` names what lacks. A `tried_yield`
    takes the place of the observed one: nobody has seen it, so it has no range. ValueError when it
    lies outside 0..1.
    """
    if tried_yield is not None and not 0 <= tried_yield <= 1:
        raise ValueError(f"a yield lies between 0 and 1; {tried_yield} does not")
    why = _lacking(yields, good_body, inputs, tried_yield)
    low, middle, high = _values(yields, good_body, inputs, tried_yield)
    outside = inputs.outside_value if inputs.outside_value is not None else inputs.broker_price
    floor = ceiling = None
    if outside is not None:
        floor = floor_charge(outside, inputs.bother, inputs.credit_chance)
    if inputs.open_market_price is not None:
        ceiling = inputs.open_market_price + inputs.trader_bother
    advice = ChargeAdvice(
        family=family,
        family_name=family_name,
        decided=yields.counts.decided,
        good=yields.counts.good,
        body_yield=yields.body_yield if tried_yield is None else float(tried_yield),
        yield_low=yields.interval.low if tried_yield is None else None,
        yield_high=yields.interval.high if tried_yield is None else None,
        good_body=good_body,
        processing=inputs.processing,
        scrap_recovery=inputs.scrap_recovery,
        sourcing=inputs.sourcing,
        value=middle,
        value_low=low,
        value_high=high,
        make_whole=_plus(middle, inputs.sourcing),
        make_whole_low=_plus(low, inputs.sourcing),
        make_whole_high=_plus(high, inputs.sourcing),
        floor=floor,
        broker_price=inputs.broker_price,
        ceiling=ceiling,
        new_body_price=inputs.new_body_price,
        charge_today=inputs.charge_today,
        charge_since=inputs.charge_since,
        cost_per_good_body=cost.cost_per_good_body if cost else None,
        cost_low=cost.cost_low if cost else None,
        cost_high=cost.cost_high if cost else None,
        why=why,
        received=yields.counts.received,
    )
    return _with_warnings(advice, yields, inputs)


def _lacking(
    yields: YieldRow,
    good_body: GoodBodyValue | None,
    inputs: ChargeInputs,
    tried_yield: Fraction | None,
) -> str | None:
    missing = []
    decided = yields.counts.decided
    if decided < LEAST_DECIDED and tried_yield is None:
        if decided:
            few = f"only {are(decided, 'returned core')} decided, and it takes {LEAST_DECIDED}"
        else:
            few = f"{yields.why or NONE_DECIDED}, and it takes {LEAST_DECIDED} returned ones"
        missing.append(few)
    if good_body is None:
        missing.append(
            "no value for a good body: enter a new body's price or the margin of a missed sale, or"
            " grade a bought lot"
        )
    if inputs.processing is None:
        missing.append("no processing cost per core: enter the rates for receiving to inspection")
    if inputs.scrap_recovery is None:
        missing.append("no scrap recovery: enter what a scrapped core brings, 0 if nothing")
    return "; ".join(missing) or None


def _values(
    yields: YieldRow,
    good_body: GoodBodyValue | None,
    inputs: ChargeInputs,
    tried_yield: Fraction | None,
) -> tuple[Money | None, Money | None, Money | None]:
    """Return V at the end of the interval where it is least, at the yield, and where it is most."""
    counts = yields.counts
    if good_body is None or inputs.processing is None or inputs.scrap_recovery is None:
        return None, None, None
    if tried_yield is not None:
        worth = value_of_core(
            tried_yield, good_body.amount, inputs.scrap_recovery, inputs.processing
        )
        return None, worth, None
    if (
        counts.decided < LEAST_DECIDED
        or yields.interval.low is None
        or yields.interval.high is None
    ):
        return None, None, None
    at_low, middle, at_high = (
        value_of_core(share, good_body.amount, inputs.scrap_recovery, inputs.processing)
        for share in (
            yields.interval.low,
            Fraction(counts.good, counts.decided),
            yields.interval.high,
        )
    )
    return min(at_low, middle, at_high), middle, max(at_low, middle, at_high)


def _plus(value: Money | None, sourcing: Money) -> Money | None:
    return None if value is None else make_whole(value, sourcing)


def _with_warnings(advice: ChargeAdvice, yields: YieldRow, inputs: ChargeInputs) -> ChargeAdvice:
    warnings = yields.warnings + _worth_warnings(advice) + _today_warnings(advice, inputs.bother)
    if advice.decided:
        warnings += missing_rates_warning(inputs.missing_rates)
    return replace(advice, warnings=warnings)


def _worth_warnings(advice: ChargeAdvice) -> tuple[str, ...]:
    """Say what is odd about the family, whatever the charge is today."""
    warnings = []
    if advice.value is not None and advice.value < 0:
        warnings.append(
            f"one more returned core loses {shown(-advice.value)}: its yield does not pay for its"
            " processing"
        )
    if advice.floor is not None and advice.ceiling is not None and advice.floor > advice.ceiling:
        warnings.append(
            f"the floor {shown(advice.floor)} lies above the ceiling {shown(advice.ceiling)}:"
            " no charge satisfies both"
        )
    return tuple(warnings)


def _today_warnings(advice: ChargeAdvice, bother: Money) -> tuple[str, ...]:
    """Hold today's charge against the range, the floor, the ceiling, the broker and a new part."""
    today = advice.charge_today
    if today is None:
        return ()
    warnings = []
    least, most = advice.make_whole_low, advice.make_whole_high
    if least is not None and most is not None and not least <= today <= most:
        side, effect = (
            ("below", "a core that does not come back costs the shop more than the charge brings")
            if today < least
            else ("above", "it is more than a core that does not come back costs the shop")
        )
        warnings.append(
            f"today's charge {shown(today)} is {side} the make-whole range {shown(least)} …"
            f" {shown(most)}: {effect}"
        )
    if advice.ceiling is not None and today > advice.ceiling:
        warnings.append(
            f"today's charge {shown(today)} is over the ceiling {shown(advice.ceiling)}: it pays to"
            " buy poor cores elsewhere and hand them in"
        )
    if advice.floor is not None and today < advice.floor:
        warnings.append(
            f"today's charge {shown(today)} is under the floor {shown(advice.floor)}: a customer"
            " has no reason to send the core"
        )
    if advice.broker_price is not None and today < advice.broker_price + bother:
        warnings.append(
            f"today's charge {shown(today)} is under what a broker pays with the bother of sending"
            f" it ({shown(advice.broker_price + bother)}): good cores go to brokers, poor ones come"
            " back"
        )
    if advice.new_body_price is not None and today > advice.new_body_price:
        warnings.append(
            f"today's charge {shown(today)} is more than a new body costs"
            f" ({shown(advice.new_body_price)})"
        )
    return tuple(warnings)
