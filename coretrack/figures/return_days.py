"""Days from a sale to the return of its core, with those not back yet counted as not yet known.

Kaplan and Meier's product: at each day with a return, the share still out is multiplied by
1 - returned / at risk. Its variance is Greenwood's, S² Σ d/(n (n - d)). Sources: E. L. Kaplan and
P. Meier, J. Am. Stat. Assoc. 53 (1958) 457; M. Greenwood, Reports on Public Health 33 (1926). The
interval is taken on the log(-log) scale, so that it stays within 0..1 (J. D. Kalbfleisch and
R. L. Prentice, The Statistical Analysis of Failure Time Data); the median's limits are where that
interval crosses one half (R. Brookmeyer and J. Crowley, Biometrics 38 (1982) 29).

Units of one sale count as if each came back by itself; where they come back together the interval
is too narrow.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from coretrack.figures.intervals import Interval, check_level, normal_quantile

LOG_LOG = "Greenwood, log(-log)"
PLAIN = "Greenwood, plain"

NO_SALE = "no sale with a core to come back yet"
NO_RETURN = "no core has come back yet"


@dataclass(frozen=True)
class Stay:
    """`units` sold together: back after `days`, or (`returned` false) still out after `days`.

    A core waived, forfeited or cancelled leaves on that day as not returned. Days below 0 count as
    day 0: some shops take the core before they sell the unit.
    """

    days: int
    returned: bool
    units: int = 1


@dataclass(frozen=True)
class DayStep:
    """A day with returns: units at risk that day, returned on it, and the share still out after.

    `still_out` and `standard_error` are 0..1; `interval` holds the share still out.
    """

    days: int
    at_risk: int
    returned: int
    still_out: float
    standard_error: float
    interval: Interval


@dataclass(frozen=True)
class ReturnDays:
    """The whole curve, days in order; `units` sold, `returned`, `open` still out.

    `median` is the day by which half are back, `None` with `why_no_median` while fewer are; its
    limits are `None` where the curve does not reach. `followed` is the longest stay seen, beyond
    which nothing is known.
    """

    units: int
    returned: int
    open: int
    steps: tuple[DayStep, ...]
    median: int | None
    median_low: int | None
    median_high: int | None
    followed: int | None
    why: str | None = None
    why_no_median: str | None = None


@dataclass(frozen=True)
class ReturnedBy:
    """The share of cores back by `days`, 0..1, with its interval; `None` with `why` if unknown."""

    days: int
    share: float | None
    interval: Interval
    at_risk: int
    why: str | None = None


def return_days(stays: Iterable[Stay], level: float = 0.95, method: str = LOG_LOG) -> ReturnDays:
    """Return the Kaplan-Meier curve of days to return.

    `method` is "Greenwood, log(-log)" or "Greenwood, plain" (clipped to 0..1). A unit still out on
    a day when others come back was at risk that day. No sale: no curve, with `why`; no return yet:
    a curve without a step, with `why`. ValueError for units below zero or another method.
    """
    check_level(level)
    if method not in (LOG_LOG, PLAIN):
        raise ValueError(f"the method is '{LOG_LOG}' or '{PLAIN}', not '{method}'")
    back: dict[int, int] = {}
    leaving: dict[int, int] = {}
    for stay in stays:
        if stay.units < 0:
            raise ValueError(f"a sale of {stay.units} units cannot be")
        day = max(0, stay.days)
        leaving[day] = leaving.get(day, 0) + stay.units
        if stay.returned:
            back[day] = back.get(day, 0) + stay.units
    units, returned = sum(leaving.values()), sum(back.values())
    if units == 0:
        return ReturnDays(0, 0, 0, (), None, None, None, None, NO_SALE, NO_SALE)
    followed = max(day for day, number in leaving.items() if number)
    if returned == 0:
        return ReturnDays(units, 0, units, (), None, None, None, followed, NO_RETURN, NO_RETURN)
    steps = _steps(units, leaving, back, level, method)
    median = _first_day(steps, [step.still_out for step in steps])
    why = None if median is not None else "fewer than half are back yet"
    return ReturnDays(
        units=units,
        returned=returned,
        open=units - returned,
        steps=steps,
        median=median,
        median_low=_first_day(steps, [step.interval.low for step in steps]),
        median_high=_first_day(steps, [step.interval.high for step in steps]),
        followed=followed,
        why_no_median=why,
    )


def returned_by(curve: ReturnDays, days: int, level: float = 0.95) -> ReturnedBy:
    """Return the share of cores back within `days` of the sale, from the curve.

    `level` must be the curve's own. Before the first return the share is 0 with no interval, since
    Greenwood's variance knows nothing there. Beyond the longest stay that was followed, nothing is
    known unless all came back: no figure, and `why` says so.
    """
    nothing = Interval(None, None, LOG_LOG, level, curve.why)
    if curve.units == 0 or curve.followed is None:
        return ReturnedBy(days, None, nothing, 0, curve.why)
    past = [step for step in curve.steps if step.days <= days]
    if days > curve.followed and not (past and past[-1].still_out == 0):
        why = f"no sale has been followed for more than {curve.followed} days"
        return ReturnedBy(days, None, Interval(None, None, LOG_LOG, level, why), 0, why)
    if not past:
        why = f"no core has come back within {days} days; how many may is not known"
        return ReturnedBy(days, 0.0, Interval(None, None, LOG_LOG, level, why), curve.units)
    last = past[-1]
    low, high = last.interval.low, last.interval.high
    bounds = Interval(
        None if high is None else 1 - high,
        None if low is None else 1 - low,
        last.interval.method,
        last.interval.level,
        last.interval.why,
    )
    return ReturnedBy(days, 1 - last.still_out, bounds, last.at_risk)


def product_interval(
    product: float, greenwood: float, level: float, method: str = LOG_LOG
) -> Interval:
    """Return the interval of a product of shares from its Greenwood sum Σ failed/(n (n - failed)).

    Also the interval of a rolled yield, which is such a product. A product of 0 or 1 has no width
    by this formula, which would feign certainty: no bounds, and `why` says so.
    """
    check_level(level)
    if not 0 < product < 1 or not math.isfinite(greenwood) or greenwood <= 0:
        return Interval(
            None, None, method, level, "none or all: this formula has no width for that"
        )
    z = normal_quantile((1 + level) / 2)
    if method == PLAIN:
        half = z * product * math.sqrt(greenwood)
        return Interval(max(0.0, product - half), min(1.0, product + half), method, level)
    spread = math.exp(z * math.sqrt(greenwood) / abs(math.log(product)))
    return Interval(product**spread, product ** (1 / spread), method, level)


def _steps(
    units: int, leaving: dict[int, int], back: dict[int, int], level: float, method: str
) -> tuple[DayStep, ...]:
    at_risk, product, greenwood = units, 1.0, 0.0
    steps = []
    for day in sorted(leaving):
        returned = back.get(day, 0)
        if returned:
            product *= (at_risk - returned) / at_risk
            left = at_risk - returned
            greenwood += returned / (at_risk * left) if left else math.inf
            error = product * math.sqrt(greenwood) if left else 0.0
            interval = product_interval(product, greenwood, level, method)
            steps.append(DayStep(day, at_risk, returned, product, error, interval))
        at_risk -= leaving[day]
    return tuple(steps)


def _first_day(steps: Sequence[DayStep], shares: Sequence[float | None]) -> int | None:
    """Return the first day on which the given share still out is one half or less."""
    for step, share in zip(steps, shares, strict=True):
        # 0.5 may come out of the products a hair above it.
        if (0.0 if step.still_out == 0 else share if share is not None else 1.0) <= 0.5 + 1e-12:
            return step.days
    return None
