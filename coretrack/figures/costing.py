"""Cost per good body from the ledger of what was really spent.

C = (spent - recovery) / good. With A the money put into each decided core and s what a scrapped
one brings in (recovery less disposal), that is C = s + (A - s) / y: linear in 1/y, so an interval
for the yield turns straight into one for the cost. The formula is derived from adding up all money
over all good bodies; the lot-to-lot interval is the ratio estimator's.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, fields
from decimal import Decimal
from fractions import Fraction
from math import floor

from coretrack.figures.dispersion import Batch
from coretrack.figures.intervals import Interval
from coretrack.figures.money import CENT, Money, allocate, shown, to_cents, whole
from coretrack.figures.ratios import METHOD as RATIO_METHOD
from coretrack.figures.ratios import ratio_estimate, t_quantile
from coretrack.figures.spoilage import split_scrap
from coretrack.figures.yields import YieldRow

LEAST_LOTS = 8
"""From this many lots on, the interval shows how lots differ in money and yield together."""

LEAST_EFFECTIVE = 4.0
"""Where few lots carry most of the good bodies, the ratio's standard error is too small."""

MOST_MISSING = Fraction(1, 10)
"""Lots that miss more than this share of the group's cores or money do not stand for it."""

LOST_TO_SCRAP = "cores that were scrapped (÷ yield)"

ONE_CORE = "one core"
SCRAPPED_CORES = "scrapped cores"


@dataclass(frozen=True)
class CostParts:
    """Money spent on decided cores, by what it was for; recovery is what scrap brought in."""

    price: Money = 0
    freight: Money = 0
    credit: Money = 0
    receive: Money = 0
    wash: Money = 0
    inspect: Money = 0
    rework: Money = 0
    reinspect: Money = 0
    disposal: Money = 0
    recovery: Money = 0

    @property
    def spent(self) -> Money:
        """All parts before recovery is taken off."""
        everything: Money = sum(getattr(self, f.name) for f in fields(self))
        return everything - self.recovery

    @property
    def net(self) -> Money:
        return self.spent - self.recovery


STEP_NAMES = {
    "price": "price",
    "freight": "freight",
    "credit": "core credit",
    "receive": "receive",
    "wash": "wash and teardown",
    "inspect": "inspect",
    "rework": "rework",
    "reinspect": "re-inspect",
    "disposal": "disposal",
    "recovery": "less scrap recovery",
}
"""What each part is called on the waterfall, in its order."""


@dataclass(frozen=True)
class Step:
    """One bar of the waterfall: whole cents, may be negative.

    `of` says whose money it is: `ONE_CORE`, by what it was for, or `SCRAPPED_CORES`, what went into
    the cores that were scrapped for each good body.
    """

    name: str
    amount: Money
    of: str


@dataclass(frozen=True)
class CostRow:
    """Cost of one group. Money fields are `None` while they are unknown, with `why`.

    `cost_per_core` is net money per decided core, so cost_per_core / yield = cost_per_good_body.
    `interval` bounds the cost per good body in ten-thousandths (whole counts; `cost_low` and
    `cost_high` are the same as money). The waterfall's first steps are what one core costs, its
    last one, equal to `scrap_share`, is the money that went into the cores scrapped for each good
    body. They are whole cents and add up to the cost per core and per good body as these are shown.
    `normal_scrap` + `abnormal_scrap` = `scrap_share`, both `None` without a standard yield.
    `method` names how the interval was made and `method_why` why that way.
    """

    group: str
    yields: YieldRow
    parts: CostParts
    cost_per_core: Money | None
    cost_per_good_body: Money | None
    interval: Interval
    scrap_share: Money | None
    normal_scrap: Money | None
    abnormal_scrap: Money | None
    waterfall: tuple[Step, ...]
    method: str
    warnings: tuple[str, ...] = ()
    why: str | None = None
    method_why: str = ""

    @property
    def cost_low(self) -> Money | None:
        return None if self.interval.low is None else int(self.interval.low)

    @property
    def cost_high(self) -> Money | None:
        return None if self.interval.high is None else int(self.interval.high)


def cost_at_yield(
    per_core: Money | Fraction, scrap: Money | Fraction, body_yield: Fraction
) -> Fraction:
    """Return s + (A - s) / y in exact ten-thousandths; ZeroDivisionError at a yield of zero."""
    return scrap + (Fraction(per_core) - scrap) / body_yield


def expected_cost(per_core: Money, scrap: Money, a: float, b: float) -> Money | None:
    """Return the mean of C when the yield is Beta(a, b): s + (A - s)(a + b - 1) / (a - 1).

    It lies above the cost at the mean yield. `None` when a <= 1: the mean is then infinite.
    """
    if a <= 1:
        return None
    return whole(
        scrap + (Fraction(per_core) - scrap) * (Fraction(a) + Fraction(b) - 1) / (Fraction(a) - 1)
    )


def cost_row(
    yields: YieldRow,
    parts: CostParts,
    batches: Sequence[Batch] = (),
    standard_yield: Decimal | Fraction | None = None,
    missing_rates: Sequence[str] = (),
) -> CostRow:
    """Return what a good body of the group cost, how sure that is, and what it is made of.

    `parts` and the batches' costs are the money on decided cores only; `missing_rates` are the
    steps' rates that the shop has not set, so that their money is not in `parts`. With no decided
    core, or none good, the cost is `None` and `why` says so. Money is in ten-thousandths.
    """
    counts = yields.counts
    decided, good = counts.decided, counts.good
    warnings = yields.warnings + _spending_warnings(parts, decided, missing_rates)
    if decided == 0:
        nothing = Interval(None, None, yields.interval.method, yields.interval.level, yields.why)
        return _row_without_cost(yields, parts, None, nothing, warnings, yields.why)
    per_core = whole(Fraction(parts.net, decided))
    from_yield = _interval_from_yield(yields, parts)
    if good == 0:
        why = _none_good(decided, parts)
        return _row_without_cost(yields, parts, per_core, from_yield, warnings, why)
    cost = whole(Fraction(parts.net, good))
    interval, method_why = _choose_interval(cost, from_yield, yields, parts, batches)
    scrap_share = _cents(cost) - _cents(per_core)
    normal, abnormal = _scrap_split(scrap_share, yields, standard_yield)
    return CostRow(
        group=yields.group,
        yields=yields,
        parts=parts,
        cost_per_core=per_core,
        cost_per_good_body=cost,
        interval=interval,
        scrap_share=scrap_share,
        normal_scrap=normal,
        abnormal_scrap=abnormal,
        waterfall=_waterfall(cost, per_core, parts, decided),
        method=interval.method,
        warnings=warnings,
        method_why=method_why,
    )


def _row_without_cost(
    yields: YieldRow,
    parts: CostParts,
    per_core: Money | None,
    interval: Interval,
    warnings: tuple[str, ...],
    why: str | None,
) -> CostRow:
    return CostRow(
        group=yields.group,
        yields=yields,
        parts=parts,
        cost_per_core=per_core,
        cost_per_good_body=None,
        interval=interval,
        scrap_share=None,
        normal_scrap=None,
        abnormal_scrap=None,
        waterfall=(),
        method=interval.method,
        warnings=warnings,
        why=why,
    )


def per_core_and_scrap(yields: YieldRow, parts: CostParts) -> tuple[Fraction, Fraction]:
    """Return A, money per decided core before scrap, and s, net recovery per scrapped core.

    Both exact, in ten-thousandths. Where nothing was scrapped, s is unknown: it is taken as zero
    and what recovery and disposal there is stays in A. ZeroDivisionError with no decided core.
    """
    decided, scrapped = yields.counts.decided, yields.counts.scrapped
    if scrapped == 0:
        return Fraction(parts.net, decided), Fraction(0)
    spent = parts.spent - parts.disposal
    return Fraction(spent, decided), Fraction(parts.recovery - parts.disposal, scrapped)


def _interval_from_yield(yields: YieldRow, parts: CostParts) -> Interval:
    """Turn the yield's bounds into the cost's: low cost at high yield (the other way if s > A)."""
    given = yields.interval
    method = f"from the yield ({given.method})"
    if given.low is None or given.high is None:
        return Interval(None, None, method, given.level, given.why)
    per_core, scrap = per_core_and_scrap(yields, parts)
    ends = [whole(cost_at_yield(per_core, scrap, Fraction(given.high)))]
    if yields.counts.good:
        # The bounds of the yield are floats; a half rounded the other way must not leave C outside.
        ends.append(whole(Fraction(parts.net, yields.counts.good)))
    if given.low == 0:
        side = "upper" if per_core >= scrap else "lower"
        why = f"no {side} bound: a yield of zero cannot be ruled out yet"
        if per_core >= scrap:
            return Interval(min(ends), None, method, given.level, why)
        return Interval(None, max(ends), method, given.level, why)
    ends.append(whole(cost_at_yield(per_core, scrap, Fraction(given.low))))
    return Interval(min(ends), max(ends), method, given.level)


def _choose_interval(
    cost: Money, from_yield: Interval, yields: YieldRow, parts: CostParts, batches: Sequence[Batch]
) -> tuple[Interval, str]:
    """Return the interval to show and why it is made that way.

    The rule looks only at the lots, never at which interval is narrower: picking the narrower one
    would promise more than it holds.
    """
    used = [batch for batch in batches if batch.decided > 0]
    objection = _objection(used, yields, parts)
    if objection:
        return from_yield, objection
    estimate = ratio_estimate([batch.cost for batch in used], [batch.good for batch in used])
    if estimate.standard_error is None or estimate.effective is None:
        return from_yield, f"the yield's interval is used: {estimate.why}"
    if estimate.effective < LEAST_EFFECTIVE:
        why = "the yield's interval is used: a few lots hold most of the good bodies"
        return from_yield, why
    level = from_yield.level
    reach = t_quantile(estimate.lots - 1, (1 + level) / 2) * estimate.standard_error
    half = whole(Fraction(reach))
    interval = Interval(cost - half, cost + half, RATIO_METHOD, level)
    why = (
        f"{estimate.lots} lots have decided cores: the interval shows how lots differ in money and"
        " yield"
    )
    return interval, why


def _objection(used: Sequence[Batch], yields: YieldRow, parts: CostParts) -> str:
    """Return why the ratio over lots cannot be used, or nothing when it can."""
    if len(used) < LEAST_LOTS:
        lots = "lot has" if len(used) == 1 else "lots have"
        return (
            f"the yield's interval is used: {len(used)} {lots} decided cores, and it takes"
            f" {LEAST_LOTS} to see how lots differ"
        )
    covered = sum(batch.decided for batch in used)
    money = sum(batch.cost for batch in used)
    if _differs(covered, yields.counts.decided) or _differs(money, parts.net):
        return (
            "the yield's interval is used: cores or money of the lots differ by more than a tenth"
            " from the group's"
        )
    return ""


def _differs(part: int, whole_amount: int) -> bool:
    return abs(part - whole_amount) > MOST_MISSING * abs(whole_amount)


def _scrap_split(
    scrap_share: Money, yields: YieldRow, standard_yield: Decimal | Fraction | None
) -> tuple[Money | None, Money | None]:
    if standard_yield is None:
        return None, None
    normal, abnormal = split_scrap(yields.counts.good, yields.counts.scrapped, standard_yield)
    if normal + abnormal == 0:
        return 0, 0
    first, second = allocate(scrap_share, [normal, abnormal], CENT)
    return first, second


def _cents(amount: Money) -> Money:
    """Return `amount` as it is shown: to the cent, in ten-thousandths."""
    return int(to_cents(amount) * 100) * CENT


def _waterfall(cost: Money, per_core: Money, parts: CostParts, decided: int) -> tuple[Step, ...]:
    """Return one core's cost by what it was for, then the scrapped cores' money, in whole cents.

    By largest remainder, ties to the earlier part: rounding each part by itself would leave the
    shown steps a few cents off the shown sum.
    """
    spent = {name: getattr(parts, name) for name in STEP_NAMES}
    exact = {
        name: Fraction(-amount if name == "recovery" else amount, decided * CENT)
        for name, amount in spent.items()
        if amount
    }
    shares = {name: floor(amount) for name, amount in exact.items()}
    left = _cents(per_core) // CENT - sum(shares.values())
    order = sorted(shares, key=lambda name: shares[name] - exact[name])
    for name in order[:left]:
        shares[name] += 1
    steps = [Step(STEP_NAMES[name], share * CENT, ONE_CORE) for name, share in shares.items()]
    return (*steps, Step(LOST_TO_SCRAP, _cents(cost) - _cents(per_core), SCRAPPED_CORES))


def _none_good(decided: int, parts: CostParts) -> str:
    cores = (
        "the one decided core is not good"
        if decided == 1
        else f"none of {decided:,} decided cores is good"
    )
    return f"{cores}: {shown(parts.net)} spent and no body to carry it"


def missing_rates_warning(missing: Sequence[str]) -> tuple[str, ...]:
    """Return that these rates are not set, nothing when none is missing."""
    if not missing:
        return ()
    return (f"no rate is set for {', '.join(missing)}: these steps count as nothing",)


def _spending_warnings(
    parts: CostParts, decided: int, missing_rates: Sequence[str]
) -> tuple[str, ...]:
    if not decided:
        return ()
    warnings = missing_rates_warning(missing_rates)
    if parts.spent == 0:
        warnings += ("no money has been posted to these cores: enter prices, credits and rates",)
    return warnings
