"""The cheapest order of a plan's checks, from what first inspections found and how long they took.

A body counts at a check when the check was finished there, by the plan as it is now; it is lost
there when that alone scraps it. A check's time is that from the last reading before it to its own
last one, the middle one of all; longer pauses than `PAUSE` are interruptions and left out.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from fractions import Fraction
from itertools import groupby, pairwise
from statistics import median

from coretrack.errors import InvalidInput, NotFound
from coretrack.figures.check_order import CheckRecord, OrderAdvice, cheapest_order
from coretrack.figures.dates import shop_day
from coretrack.figures.judging import judge_check
from coretrack.figures.money import Money, whole
from coretrack.figures.numbers import NotANumber, parse_number
from coretrack.figures.observations import Observation
from coretrack.figures.plans import Check, Plan, plan_from_dict
from coretrack.figures.rates import RateBook
from coretrack.records import objects, plan_queries, queries
from coretrack.records.database import connection
from coretrack.records.plan_queries import FirstReading
from coretrack.records.times import from_text

PAUSE = timedelta(minutes=10)
CORES_COUNTED = 1_000
LONGEST_CHECK = 24 * 3600
_UNIT = 10_000


@dataclass(frozen=True)
class OrderView:
    """The advice for one family. `cores` first inspections are behind it; `hour` is an hour's
    labour today, `None` when no rate is set.
    """

    family: str
    cores: int
    advice: OrderAdvice
    hour: Money | None
    currency: str

    def cost(self, seconds: Fraction | None) -> Money | None:
        """Return what so many seconds of labour cost, `None` while either is not known."""
        if seconds is None or self.hour is None:
            return None
        return whole(seconds * self.hour / 3600)


def order_advice(family: str, told: Mapping[str, str], now: datetime) -> OrderView:
    """Return the cheapest order of a family's checks.

    `told` gives seconds by check where a person knows better than the history. NotFound without
    the family; InvalidInput names the check whose seconds are no number.
    """
    seconds = {check: _seconds(text, check) for check, text in told.items() if text.strip()}
    with connection():
        known = next((one for one in queries.families() if one.key == family), None)
        stored = objects.one("plan", f"{family}/{known.plan_version}") if known else None
        if known is None or stored is None:
            raise NotFound(f"There is no plan of a family '{family}'.")
        readings = plan_queries.first_readings(family, CORES_COUNTED)
        shop, rates = queries.shop(), RateBook.of(queries.rates())
    plan = plan_from_dict({**stored.definition, "version": stored.number})
    sittings = [
        list(group) for _, group in groupby(sorted(readings, key=_by_core), key=lambda r: r.tag)
    ]
    rate = rates.on("labour", shop_day(now, shop.time_zone if shop else "UTC"))
    return OrderView(
        family,
        len(sittings),
        cheapest_order(_records(plan, sittings, seconds)),
        None if rate is None else whole(Fraction(rate) * _UNIT),
        shop.currency if shop else "",
    )


def _by_core(reading: FirstReading) -> tuple[str, str]:
    return reading.tag, reading.read_at


def _records(
    plan: Plan, sittings: Sequence[Sequence[FirstReading]], told: Mapping[str, Fraction]
) -> list[CheckRecord]:
    times: dict[str, list[Fraction]] = {}
    for sitting in sittings:
        for code, taken in _times(sitting):
            times.setdefault(code, []).append(taken)
    records = []
    for check in plan.in_order():
        outcomes = [_outcome(check, sitting) for sitting in sittings]
        tried = sum(outcome != "missing" for outcome in outcomes)
        measured = times.get(check.code, [])
        known = told.get(check.code)
        records.append(
            CheckRecord(
                check.code,
                check.name,
                tried,
                outcomes.count("discard"),
                known if known is not None else (median(measured) if measured else None),
                0 if known is not None else len(measured),
            )
        )
    return records


def _outcome(check: Check, sitting: Sequence[FirstReading]) -> str:
    """Return what a check says of a body by today's plan; "missing" where it cannot say."""
    mine = [reading for reading in sitting if reading.check == check.code]
    values = tuple(reading.value for reading in mine if reading.value is not None)
    result = next((reading.result for reading in reversed(mine) if reading.result), "")
    try:
        return judge_check(check, Observation(check.code, values, result) if mine else None).outcome
    except ValueError:
        # An older plan asked for something else under this code.
        return "missing"


def _times(sitting: Sequence[FirstReading]) -> list[tuple[str, Fraction]]:
    """Return check and seconds for each check of a sitting but the first one."""
    last: dict[str, datetime] = {}
    for reading in sitting:
        last[reading.check] = from_text(reading.read_at)
    ends = sorted(last.items(), key=lambda item: item[1])
    return [
        (check, Fraction((end - before) / timedelta(seconds=1)).limit_denominator(1000))
        for (_, before), (check, end) in pairwise(ends)
        if timedelta(0) < end - before <= PAUSE
    ]


def _seconds(text: str, check: str) -> Fraction:
    try:
        value = Fraction(parse_number(text, comma_is_decimal=True))
    except NotANumber as error:
        raise InvalidInput(f"Seconds of {check}: {error}.", {check: str(error)}) from None
    if not 0 < value <= LONGEST_CHECK:
        wanted = f"the seconds for one body, such as 20; '{text}' cannot be right"
        raise InvalidInput(f"Seconds of {check}: {wanted}.", {check: wanted})
    return value
