"""How the return rate answers to the core charge, from the shop's own matured sales.

r(D) = 1 / (1 + exp(-(D - D50)/σ)): D50 is the charge at which half the cores come back, σ how
gently the rate rises about it. Fitted by logistic regression on the charge, and only where matured
sales stand at two charges or more; the spread between charges widens it from three charges on.
A most-ever rate below 1 cannot be told from a few charges and is taken as 1.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

from coretrack.figures.charge_response import LogisticReturn
from coretrack.figures.dispersion import Batch, Dispersion, dispersion_test, spread_interval
from coretrack.figures.intervals import Interval, check_counts, check_level, wilson
from coretrack.figures.logistic import (
    LOGISTIC,
    CountAt,
    LogisticFit,
    logistic_fit,
    share_at,
    slope_interval,
    widened,
)
from coretrack.figures.money import UNIT, Money, shown
from coretrack.figures.plain_words import are, counted

NO_MATURED = "no sale is older than its return window yet"
LEAST_MATURED = 20
"""A charge with fewer matured units than this stays out of the fit (the shop's own habit)."""


@dataclass(frozen=True)
class SoldUnits:
    """`units` sold on `sold_on` at core charge `charge`, of which `returned` are back."""

    sold_on: date
    charge: Money
    units: int
    returned: int


@dataclass(frozen=True)
class MaturedRate:
    """Return rate r of matured sales only: those sold `window_days` ago or earlier, 0..1.

    `young` units are still within the window and count nowhere, `young_returned` of them are back
    already. `None` with `why` while nothing has matured. `spread_factor` is how many times months
    that differ widened the variance.
    """

    units: int
    returned: int
    rate: float | None
    interval: Interval
    young: int
    young_returned: int
    spread_factor: float = 1.0
    why: str | None = None


@dataclass(frozen=True)
class ChargeLevel:
    """Matured sales at one charge: `returned` of `units`, with a Wilson interval."""

    charge: Money
    units: int
    returned: int
    rate: float
    interval: Interval


@dataclass(frozen=True)
class ReturnResponse:
    """Return rate against charge. `half` is D50 and `scale` σ, money; `None` with `why` if unknown.

    `levels` are the charges with matured sales, lowest first. `slope` is in log odds per unit of
    currency. `clear`: the rate follows the charge by more than chance.
    """

    levels: tuple[ChargeLevel, ...]
    half: Money | None
    scale: Money | None
    slope: Interval
    fit: LogisticFit | None
    sentence: str
    why: str | None = None

    @property
    def clear(self) -> bool:
        """Whether the interval of the slope leaves out 0."""
        low, high = self.slope.low, self.slope.high
        return low is not None and high is not None and (low > 0 or high < 0)


@dataclass(frozen=True)
class RateAtCharge:
    """The return rate expected at `charge`, 0..1; `outside` of the charges it was learned from."""

    charge: Money
    rate: float | None
    interval: Interval
    outside: bool
    why: str | None = None


def matured_rate(
    sales: Sequence[SoldUnits], today: date, window_days: int, level: float = 0.95
) -> MaturedRate:
    """Return the share of matured units whose core is back.

    A sale has matured once its window is over: `window_days` days after the sale is still inside.
    Recent sales counted as unreturned would understate every shop that grows; a sale dated after
    `today` is young. ValueError for a window below 0 or more back than sold.
    """
    check_level(level)
    if window_days < 0:
        raise ValueError(f"a window of {window_days} days cannot be")
    old: list[SoldUnits] = []
    young: list[SoldUnits] = []
    for sale in sales:
        check_counts(sale.returned, sale.units)
        (old if (today - sale.sold_on).days > window_days else young).append(sale)
    units, returned = _sum(old)
    open_units, early = _sum(young)
    if units == 0:
        nothing = Interval(None, None, "Wilson", level, NO_MATURED)
        return MaturedRate(0, 0, None, nothing, open_units, early, why=NO_MATURED)
    months: dict[str, list[SoldUnits]] = {}
    for sale in old:
        months.setdefault(f"{sale.sold_on:%Y-%m}", []).append(sale)
    batches = [_batch(name, months[name]) for name in sorted(months)]
    found: Dispersion = dispersion_test(batches)
    interval = spread_interval(returned, units, batches, level, found)
    return MaturedRate(
        units, returned, returned / units, interval, open_units, early, found.widening
    )


def return_response(
    sales: Sequence[SoldUnits],
    today: date,
    window_days: int,
    level: float = 0.95,
    least: int = LEAST_MATURED,
) -> ReturnResponse:
    """Return how the return rate follows the charge, from matured sales.

    Charges with fewer than `least` matured units are left out of the fit but shown in `levels`.
    Fewer than two charges left, or a fit that cannot be made: `why`, and no D50.
    """
    check_level(level)
    by_charge: dict[Money, list[SoldUnits]] = {}
    for sale in sales:
        check_counts(sale.returned, sale.units)
        if sale.units and (today - sale.sold_on).days > window_days:
            by_charge.setdefault(sale.charge, []).append(sale)
    levels = tuple(_level(charge, by_charge[charge], level) for charge in sorted(by_charge))
    used = [one for one in levels if one.units >= least]
    if len(used) < 2:
        return _no_response(levels, level, _too_few(levels, used, least))
    points = [CountAt(one.charge / UNIT, one.units, one.returned) for one in used]
    fit = widened(logistic_fit(points))
    slope = slope_interval(fit, level)
    if fit.why is not None or fit.slope is None or fit.intercept is None:
        return _no_response(levels, level, fit.why or NO_MATURED)
    low, high = shown(used[0].charge), shown(used[-1].charge)
    if fit.slope <= 0:
        words = f"between {low} and {high} the return rate did not rise with the charge"
        return ReturnResponse(levels, None, None, slope, fit, words, words)
    half = round((fit.middle - fit.intercept / fit.slope) * UNIT)
    found = ReturnResponse(levels, half, round(UNIT / fit.slope), slope, fit, "")
    sure = "more than chance explains" if found.clear else "chance alone can explain it"
    words = f"between {low} and {high} the return rate rises with the charge; {sure}"
    return ReturnResponse(levels, half, found.scale, slope, fit, words)


def rate_at(response: ReturnResponse, charge: Money, level: float = 0.95) -> RateAtCharge:
    """Return the return rate expected at `charge`; beyond the charges seen it is marked outside."""
    if response.fit is None or response.half is None:
        nothing = Interval(None, None, LOGISTIC, level, response.why)
        return RateAtCharge(charge, None, nothing, True, response.why)
    found = share_at(response.fit, charge / UNIT, level)
    charges = [one.charge for one in response.levels]
    outside = not min(charges) <= charge <= max(charges)
    return RateAtCharge(charge, found.share, found.interval, outside)


def fitted_curve(response: ReturnResponse) -> LogisticReturn | None:
    """Return the fitted curve for `best_charge` and drawing; `None` where there is no fit."""
    if response.half is None or not response.scale:
        return None
    return LogisticReturn(1.0, response.half, response.scale)


def _level(charge: Money, sales: Sequence[SoldUnits], level: float) -> ChargeLevel:
    units, returned = _sum(sales)
    rate = returned / units  # only charges with units sold get here
    return ChargeLevel(charge, units, returned, rate, wilson(returned, units, level))


def _sum(sales: Sequence[SoldUnits]) -> tuple[int, int]:
    return sum(sale.units for sale in sales), sum(sale.returned for sale in sales)


def _batch(name: str, sales: Sequence[SoldUnits]) -> Batch:
    units, returned = _sum(sales)
    return Batch(name, units, returned)


def _too_few(levels: Sequence[ChargeLevel], used: Sequence[ChargeLevel], least: int) -> str:
    if not levels:
        return NO_MATURED
    if len(levels) == 1:
        only = (
            f"all {are(levels[0].units, 'matured unit')} at one charge, {shown(levels[0].charge)}"
        )
        return f"{only}: how returns follow the charge takes a second one"
    enough = "only one has" if used else "none has"
    return f"of {counted(len(levels), 'charge')} {enough} {least} matured units; it takes two"


def _no_response(levels: tuple[ChargeLevel, ...], level: float, why: str) -> ReturnResponse:
    nothing = Interval(None, None, LOGISTIC, level, why)
    return ReturnResponse(levels, None, None, nothing, None, why, why)
